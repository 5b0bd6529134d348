//! The cautions that stand on every sheet.

use crate::base::{System, shown};

/// Subject and text. Common workshop knowledge; local codes and licensed practice come first.
pub(in crate::write) fn cautions() -> [(&'static str, String); 8] {
    let hot = shown::quantity(shown::Kind::Temperature, 200.0, 0);
    let heavy = shown::quantity(shown::Kind::Mass, 20.0, 0);
    let pressure = match System::current() {
        System::Metric => "several MPa",
        System::Inch => "several hundred psi",
    };
    [
    (
        "Hot melt under pressure",
        format!(
            "Melt is hotter than {hot} and under {pressure}: it sprays from a leak and sticks to skin. \
         Face shield, heat-proof gloves, long sleeves; nobody in line with the nozzle or the parting plane. \
         Check screws and nozzle seat before every run; release the lever before opening. Burns: cool with \
         water, leave the plastic on the skin, see a doctor."
        ),
    ),
    (
        "Fumes",
        "Exhaust at the machine or work outdoors: the fume of PP holds formaldehyde, acrolein and acetone, of PS \
         styrene, of ABS styrene and phenol (HSE sheet 13), more of it the hotter. Never melt PVC or unknown plastic; \
         never mix unknown scrap.".to_owned(),
    ),
    (
        "Machines",
        "Clamp the plate, never hold it by hand. Glasses on; gloves, sleeves, hair and strings away from \
         anything that turns. Stop the spindle before measuring, clearing chips or changing tools.".to_owned(),
    ),
    (
        "Welding and galvanised fittings",
        "Zinc makes fever-giving fumes: better an uncoated fitting. Else it comes off before welding: ground with a \
         mask, or in acid with goggles and acid-proof gloves and no flame near. Weld in the open or under extraction. Preheat and let cool slowly as the metal asks. Weld only if you are trained; pressure-bearing \
         welds belong to licensed practice.".to_owned(),
    ),
    (
        "Lifting",
        format!("Two people or a hoist for what weighs over {heavy}; edges are sharp, plates pinch fingers."),
    ),
    (
        "Hot metal",
        "The metal of mold and adaptor gets hot enough to burn: gloves. Open a mold as its steps say, with bars or jack screws, \
         never with fingers. \
         A frozen nozzle is under pressure: let it off, stand behind a shield and never in line, heat from outside \
         in steps, never drill it hot.".to_owned(),
    ),
    (
        "Fire",
        "Keep an extinguisher for solids and grease at hand; oily rags and aluminium or magnesium swarf burn.".to_owned(),
    ),
    (
        "Whose rules",
        "The numbers here come from tables and rules with the sources named; they are no proof of strength. \
         Local codes, the machine's manual and licensed practice come first.".to_owned(),
    ),
]
}
