//! The built-in tables as texts: one line per table registers it everywhere.
//!
//! Input: the CSV files beside this module. Output: text by id, and the list of
//! ids with titles for `table`. Does not parse.

/// One built-in file: id, title, text.
pub(super) struct Entry {
    pub id: &'static str,
    pub title: &'static str,
    pub text: &'static str,
}

macro_rules! entries {
    ($($id:literal: $title:literal,)*) => {
        /// Every built-in file, in the order of the trade.
        pub(super) const ENTRIES: &[Entry] = &[$(Entry {
            id: $id,
            title: $title,
            text: include_str!(concat!("tables/", $id, ".csv")),
        },)*];
    };
}

entries! {
    "pipe-threads-g": "G pipe threads, ISO 228-1 (parallel, seal on a face)",
    "pipe-threads-g-tolerances": "Tolerances of G pipe threads, ISO 228-1",
    "pipe-threads-iso7": "R, Rp and Rc pipe threads, ISO 7-1 (seal in the thread)",
    "pipe-threads-npt": "NPT pipe threads, ASME B1.20.1",
    "pipe-tap-drills": "Tap drills of pipe threads by family",
    "pipe-walls": "Pipe and tube walls by nominal size",
    "pipe-hexagons": "Usual hexagons of pipe plugs (measure yours)",
    "copper-rings": "Copper sealing rings for G stud ends, DIN 7603",
    "g-ports": "Ports with a G thread that seal on their face, ISO 1179-1 and DIN 3852-2",
    "ring-torques": "Tightening moments of G stud ends on a copper ring",
    "thread-reliefs": "Reliefs behind internal (C, D) and external (A, B) threads by pitch, DIN 76-1",
    "metric-threads": "Coarse metric threads, ISO 724",
    "unc-threads": "Coarse unified threads, ASME B1.1",
    "clearance-holes": "Clearance holes, ISO 273 and ASME B18.2.8",
    "socket-heads": "Hexagon socket head cap screws, ISO 4762 and ASME B18.3",
    "counterbores": "Counterbores for ISO 4762 and ASME B18.3 heads",
    "countersinks": "Countersinks for ISO 10642 and ASME B18.3 flat heads",
    "bearing-faces": "Bearing diameters under screw heads",
    "washers": "Plain washers, ISO 7089 and ASME B18.21.1",
    "hexagon-nuts": "Hexagon nuts, ISO 4032 and ASME B18.2.2",
    "hexagon-heads": "Hexagon heads, ISO 4017 and ASME B18.2.1",
    "wing-nuts": "Wing nuts, DIN 315",
    "proof-loads": "Proof loads of screws, ISO 898-1, ISO 3506-1 and ASTM A574",
    "tightening": "Preload and tightening torque",
    "thread-friction": "Friction of threads by their state, VDI 2230",
    "head-pressures": "Limiting pressure under screw heads, VDI 2230",
    "thread-engagement": "Thread engagement by class and metal",
    "dowel-pins": "Dowel pins m6 and their holes, ISO 2338",
    "inch-dowels": "Dowel pins in inches and their holes, ASME B18.8.2",
    "iso286-grades": "Standard tolerances, ISO 286-1",
    "iso286-limits": "Limits of holes and shafts, ISO 286-2",
    "iso2768": "General tolerances, ISO 2768-1",
    "iso9013": "Tolerances of thermal cutting, ISO 9013",
    "jobber-drills": "Jobber drills, DIN 338",
    "inch-drills": "Drills by fraction, number and letter, ASME B94.11M",
    "end-mills": "End mills, DIN 844 and DIN 6527",
    "inch-end-mills": "End mills in inches, ASME B94.19",
    "cutting-data": "Cutting speeds and feeds",
    "cutting-factors": "Corrections of the cutting speed",
    "cutting-formulae": "Formulae of cutting",
    "tool-rules": "Rules for drills, mills and reamers",
    "materials": "Plate materials",
    "materials-more": "Plate materials: further properties",
    "hot-strength": "Yield stress left in aluminium after long heating",
    "plate-stock": "Usual plate thicknesses, and widths of bars",
    "plate-masses": "Mass of plate per area and thickness",
    "profile-cutting": "Laser, plasma and waterjet cutting",
    "welding-sealing": "Welding and sealing",
    "plastics": "Plastics: properties and processing",
    "plastics-grades": "Plastics: melt flow rates of easy, typical and hard grades, ISO 1133",
    "plastics-power-law": "Plastics: power-law viscosity",
    "plastics-cross-wlf": "Plastics: Cross-WLF viscosity",
    "plastics-carreau": "Plastics: Carreau viscosity",
    "plastics-pvt": "Plastics: volume of the melt by temperature and pressure (Tait)",
    "melt-conditions": "Contact, friction and heat where nobody knows them well",
    "hand-force": "What a hand can do at a lever",
}

/// The text of a built-in table.
pub(super) fn text(id: &str) -> &'static str {
    ENTRIES
        .iter()
        .find(|e| e.id == id)
        .map(|e| e.text)
        .expect("every id asked for is registered above: a test reads every table")
}
