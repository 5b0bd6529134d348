//! `[reducer]`: a turned adaptor with two ends, between nozzle and mold.
//!
//! Input: its tables. Output: the typed section. Decides nothing.

use super::key::{Case, Kind, REQUIRED, Rule, Variants, count, length, quantity};
use super::place::Place;
use super::section::section;
use super::stock::{PLATE_MATERIALS, SCREWS};
use super::value::{Value, Word, words};
use crate::base::Opt;
use crate::base::dimension::Dimension;
use crate::base::{Angle, Given, Length};
use crate::data::PipeThread;
use serde::Serialize;
use toml::Spanned;
use toml::de::DeValue;

/// Which of a pair of threads an end has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum Gender {
    /// The thread is inside.
    #[default]
    Female,
    /// The thread is outside.
    Male,
}
words!(Gender { "female" => Gender::Female, "male" => Gender::Male });

/// What the outside between the ends is made as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum Grip {
    /// Hexagon bar.
    #[default]
    Hexagon,
    /// Round bar with two flats for an open spanner.
    Flats,
    /// Round bar with two holes in a face for a pin spanner.
    Round,
}
words!(Grip { "hexagon" => Grip::Hexagon, "flats" => Grip::Flats, "round" => Grip::Round });

section! {
    /// `[reducer]`
    pub struct ReducerSection, "reducer", "A turned piece between the nozzle and another thread: bush, reducer or extension. [nozzle] describes its end at the nozzle.";
    rules NO_RULES;
    /// Which of the pair it has at the nozzle's end: female (the nozzle screws into it), male (it screws into the machine's socket).
    inlet: Gender = Kind::Word(<Gender as Word>::NAMES), "female", "\"male\"";
    /// The other end, towards the mold.
    outlet: Outlet = Kind::Table(OutletKeys::SECTION), "none: a reducer job needs it", "{ end = \"male\", thread = \"G 3/4\" }";
    /// Outside between the ends: hexagon (hexagon bar), flats (round bar, two flats), round (two holes for a pin spanner).
    grip: Grip = Kind::Word(<Grip as Word>::NAMES), "hexagon", "\"flats\"";
    /// Width across the hexagon or the two flats.
    across_flats: Length = length(8.0, 120.0), "the next bar that leaves 5 mm of metal around the threads and carries the rings", "36";
    /// Diameter of the round bar (grip flats or round).
    diameter: Length = length(8.0, 150.0), "the next bar that leaves 5 mm of metal around the threads and carries the rings", "40";
    /// Length over all.
    length: Length = length(10.0, 400.0), "as short as its ends, the metal between them and the spanner allow", "60";
    /// Bore at the nozzle's end.
    bore: Length = length(1.0, 60.0), "0.4 to 0.8 mm more than nozzle.orifice, up to the next half millimetre", "6";
    /// Bore at the mold's end; no smaller than the other.
    bore_end: Length = length(1.0, 60.0), "half a millimetre more than the bore where the way is longer than five bores", "7";
    /// Metal: S235, S275, A36, 1018 (steel), 5083, 6061, 6082, 7075 (aluminium).
    material: String = Kind::Material(PLATE_MATERIALS), "S235", "\"S275\"";
    /// Mass of the mold that hangs on it.
    carries: f64 = quantity(Dimension::Mass, 0.0, 200.0), "5 kg; weigh yours", "8";
    /// Distance of that mold's middle from the reducer's face.
    carried_at: Length = length(0.0, 500.0), "40 mm; measure yours", "30";
}

const NO_RULES: &[Rule] = &[];

/// The end towards the mold.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "lowercase", tag = "end")]
pub enum Outlet {
    /// The thread is inside: a nozzle or nipple screws into it.
    Female {
        /// The thread of the hole.
        thread: Given<PipeThread>,
    },
    /// The thread is outside: it screws into a hole.
    Male {
        /// The thread of that hole.
        thread: Given<PipeThread>,
    },
    /// A cone that is pressed into a seat.
    Cone {
        /// Included angle, degrees.
        angle: Given<Angle>,
        /// Diameter at its front.
        diameter: Given<Length>,
    },
    /// A round nose that is pressed into a seat.
    Sphere {
        /// Radius.
        radius: Given<Length>,
    },
    /// A plain cylinder that enters a register.
    Spigot {
        /// Diameter.
        diameter: Given<Length>,
        /// Length.
        length: Opt<Length>,
    },
    /// A disc with screw holes, its spigot in the mold's register.
    Flange {
        /// Diameter of the bolt circle.
        circle: Given<Length>,
        /// Number of screws.
        count: Opt<u32>,
        /// Their size.
        size: Opt<String>,
        /// Diameter of the spigot.
        diameter: Given<Length>,
        /// Its length.
        length: Opt<Length>,
    },
}

/// The kinds of outlet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum OutletKind {
    /// Thread inside.
    Female,
    /// Thread outside.
    Male,
    /// Conical nose.
    Cone,
    /// Round nose.
    Sphere,
    /// Plain cylinder.
    Spigot,
    /// Disc with screws.
    Flange,
}
words!(OutletKind {
    "female" => OutletKind::Female,
    "male" => OutletKind::Male,
    "cone" => OutletKind::Cone,
    "sphere" => OutletKind::Sphere,
    "spigot" => OutletKind::Spigot,
    "flange" => OutletKind::Flange,
});

section! {
    /// The keys of an outlet.
    pub struct OutletKeys, "reducer.outlet", "How the end towards the mold is made.";
    variants Variants {
        selector: "end",
        cases: &[
            Case { word: "female", needs: &["thread"], may: &[], rules: NO_RULES },
            Case { word: "male", needs: &["thread"], may: &[], rules: NO_RULES },
            Case { word: "cone", needs: &["angle", "diameter"], may: &[], rules: NO_RULES },
            Case { word: "sphere", needs: &["radius"], may: &[], rules: NO_RULES },
            Case { word: "spigot", needs: &["diameter"], may: &["length"], rules: NO_RULES },
            Case { word: "flange", needs: &["circle", "diameter"], may: &["count", "size", "length"], rules: NO_RULES },
        ],
    };
    /// female, male (threads), cone, sphere (noses that are pressed on), spigot or flange.
    end: OutletKind = Kind::Word(<OutletKind as Word>::NAMES), REQUIRED, "\"male\"";
    /// Thread of the hole of the pair, as in nozzle.thread: a male end "Rc 3/4" is R 3/4 and goes into Rc 3/4.
    thread: PipeThread = Kind::PipeThread, "", "\"G 3/4\"";
    /// Included angle of the cone.
    angle: Angle = quantity(Dimension::Angle, 20.0, 150.0), "", "60";
    /// Diameter of the cone's front, or of the spigot.
    diameter: Length = length(3.0, 120.0), "", "12";
    /// Radius of the round nose.
    radius: Length = length(3.0, 60.0), "", "11";
    /// Length of the spigot.
    length: Length = length(1.0, 60.0), "a spigot 10 mm, that of a flange 4 mm", "8";
    /// Diameter of the bolt circle.
    circle: Length = length(15.0, 200.0), "", "60";
    /// Number of screws.
    count: u32 = count(2, 12), "4", "4";
    /// Screw size, M3 to M16.
    size: String = Kind::Screw(SCREWS), "M8", "\"M6\"";
}

impl Value for Outlet {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let table = at.table(value, OutletKeys::SECTION)?;
        let keys = OutletKeys::read(&table);
        Some(match keys.end?.value {
            OutletKind::Female => Outlet::Female {
                thread: keys.thread?,
            },
            OutletKind::Male => Outlet::Male {
                thread: keys.thread?,
            },
            OutletKind::Cone => Outlet::Cone {
                angle: keys.angle?,
                diameter: keys.diameter?,
            },
            OutletKind::Sphere => Outlet::Sphere {
                radius: keys.radius?,
            },
            OutletKind::Spigot => Outlet::Spigot {
                diameter: keys.diameter?,
                length: keys.length,
            },
            OutletKind::Flange => Outlet::Flange {
                circle: keys.circle?,
                count: keys.count,
                size: keys.size,
                diameter: keys.diameter?,
                length: keys.length,
            },
        })
    }
}
