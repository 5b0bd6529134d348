//! What has to be bought for a design: pieces with a standard designation, and what each is for.
//!
//! Input: sizes and loads that were decided. Output: [`Hardware`]; its words are made here, when
//! somebody reads it. Does not choose what is bought.

use super::joint::WeldedFitting;
use crate::base::shown;
use crate::base::units::number;
use crate::data::fasteners::{self, Series};
use crate::data::fits;
use crate::data::pipe_fit::OutsideThread;
use crate::part::Form;
use crate::spec::job::Lubrication;
use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

/// A piece that is sold.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// Hexagon socket head cap screw, ISO 4762 or ASME B18.3.
    CapScrew {
        /// Thread: "M8".
        thread: String,
        /// Length, mm.
        length: f64,
        /// Property class: "8.8".
        class: String,
    },
    /// The same of a flange whose other side is not known.
    FlangeScrew {
        /// Thread.
        thread: String,
        /// Property class.
        class: String,
    },
    /// A screw through an adaptor plate into what is behind it.
    AdaptorScrew {
        /// Thread.
        thread: String,
    },
    /// A screw of the nozzle's flange.
    NozzleFlangeScrew {
        /// Thread.
        thread: String,
        /// How much longer it is than the flange is thick under its head, mm.
        beyond: f64,
    },
    /// Hexagon nut, ISO 4032 or ASME B18.2.2.
    Nut {
        /// Thread.
        thread: String,
        /// Class: "8".
        class: String,
    },
    /// Plain washer, ISO 7089 or ASME B18.21.1.
    Washer {
        /// Thread of its screw.
        thread: String,
        /// Hardness, HV.
        hardness: u32,
        /// It lies in the counterbore, under a sunk head.
        sunk: bool,
    },
    /// Dowel pin, ISO 2338 or ASME B18.8.2.
    Pin {
        /// Class: "m6".
        class: &'static str,
        /// Diameter, mm.
        dia: f64,
        /// Length, mm.
        length: f64,
    },
    /// Retaining compound for pins.
    Compound,
    /// Copper ring, DIN 7603.
    CopperRing {
        /// Inside diameter, mm.
        inside: f64,
        /// Outside diameter, mm.
        outside: f64,
        /// Thickness, mm.
        thickness: f64,
    },
    /// A pipe fitting that is welded on.
    Fitting(WeldedFitting),
}

/// Which collar a ring lies under.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Collar {
    /// The nozzle's.
    Nozzle,
    /// Of a turned adaptor's stud, in the machine's socket.
    Inlet,
    /// Of a turned adaptor's stud, on the mold.
    Outlet,
    /// Of what screws into a turned adaptor's outlet.
    Guest,
}

/// What a bought piece is for. Torques are of screws with paste on their threads, N·m, where one
/// is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Use {
    /// Screws that clamp the halves.
    Clamp {
        /// Torque, N·m.
        torque: f64,
        /// State of the threads.
        lubrication: Lubrication,
    },
    /// Washers under sunk heads.
    SpreadPressure,
    /// Nuts of the clamping screws.
    OnScrews,
    /// Washers under heads and nuts.
    UnderHeadsAndNuts,
    /// Dowels between the halves.
    Align {
        /// Fixed with compound, not pressed.
        glued: bool,
    },
    /// Compound that fixes the dowels.
    FixDowels,
    /// Screw of an island.
    HoldIsland {
        /// Torque, N·m.
        torque: Option<f64>,
    },
    /// Pins of an island.
    PlaceIsland,
    /// Screw of a core.
    HoldCore {
        /// Torque, N·m.
        torque: Option<f64>,
    },
    /// Jack screws.
    Jack,
    /// Screws of a turned adaptor's flange.
    HoldFlange {
        /// Torque, N·m.
        torque: Option<f64>,
    },
    /// Screws of an adaptor plate.
    FixAdaptor {
        /// Torque, N·m.
        torque: Option<f64>,
    },
    /// Screws of the nozzle's flange.
    HoldNozzleFlange,
    /// Ring under a collar.
    Seal(Collar),
    /// Fitting that takes the nozzle.
    JoinNozzle {
        /// Leg of the weld, mm.
        leg: f64,
    },
}

/// Something bought.
#[derive(Debug, Clone, PartialEq)]
pub struct Hardware {
    /// How many.
    pub count: usize,
    /// The piece.
    pub item: Item,
    /// What it is for.
    pub purpose: Use,
    /// Beginning of the keys of the decisions behind it: `bolts.`.
    pub keys: &'static str,
    /// Each piece where it sits in the closed mold, drawn plainly (threads at their nominal
    /// size); none where its place is not the mold's to say.
    pub bodies: Vec<Form>,
}

impl Serialize for Hardware {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut s = to.serialize_struct("Hardware", 3)?;
        s.serialize_field("count", &self.count)?;
        s.serialize_field("designation", &self.item.to_string())?;
        s.serialize_field("purpose", &self.purpose.to_string())?;
        s.end()
    }
}

/// The designation of a list of things to buy.
impl std::fmt::Display for Item {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Item::CapScrew {
                thread,
                length,
                class,
            } => write!(
                f,
                "Hexagon socket head cap screw {} - {} x {} - {class}",
                fasteners::cap_screws(thread),
                fasteners::designation(thread),
                sold_length(thread, *length)
            ),
            Item::FlangeScrew { thread, class } => write!(
                f,
                "Socket head screw {} {} - {class}, length to suit the mold behind the flange",
                fasteners::cap_screws(thread),
                fasteners::designation(thread)
            ),
            Item::AdaptorScrew { thread } => write!(
                f,
                "Screw {}, length to suit the machine or mold behind the plate",
                fasteners::designation(thread)
            ),
            Item::NozzleFlangeScrew { thread, beyond } => write!(
                f,
                "Screw {} - {}, {} longer than the flange is thick under its head",
                fasteners::designation(thread),
                fasteners::usual_class(thread),
                shown::size(*beyond)
            ),
            Item::Nut { thread, class } => {
                let standard = match fasteners::series_of(thread) {
                    Series::Metric => "ISO 4032",
                    Series::Unc => "ASME B18.2.2",
                };
                let thread = fasteners::designation(thread);
                write!(f, "Hexagon nut {standard} - {thread} - {class}")
            }
            Item::Washer {
                thread,
                hardness,
                sunk,
            } => {
                let name = if *sunk { "Washer" } else { "Plain washer" };
                let (standard, size) = match fasteners::series_of(thread) {
                    Series::Metric => ("ISO 7089", thread.trim_start_matches('M')),
                    Series::Unc => {
                        let size = thread.split_once('-').map_or(thread.as_str(), |t| t.0);
                        ("ASME B18.21.1 type A narrow", size)
                    }
                };
                write!(f, "{name} {standard} - {size} - {hardness} HV")
            }
            Item::Pin { class, dia, length } => {
                write!(f, "Dowel pin {}", pin_size(class, *dia, *length))
            }
            Item::Compound => write!(
                f,
                "Retaining compound for cylindrical fits, to {}",
                shown::quantity(shown::Kind::Temperature, 150.0, 0)
            ),
            Item::CopperRing {
                inside,
                outside,
                thickness,
            } => write!(
                f,
                "Copper ring DIN 7603 form A - {} x {} x {} - annealed",
                number(*inside),
                number(*outside),
                number(*thickness)
            ),
            Item::Fitting(fitting) => fitting_words(fitting, f),
        }
    }
}

/// A screw's length as it is sold: millimetres, or inches and their fractions.
fn sold_length(thread: &str, length: f64) -> String {
    match fasteners::series_of(thread) {
        Series::Metric => number(length),
        Series::Unc => inches(length),
    }
}

/// Inches with their fraction, else with three decimals.
fn inches(mm: f64) -> String {
    shown::inch_fraction(mm).unwrap_or_else(|| format!("{:.3}", mm / shown::INCH))
}

/// Designation of a dowel pin without the word for it: ISO ones in mm, ASME ones in inches.
pub fn pin_size(class: &str, dia: f64, length: f64) -> String {
    if class == fits::INCH_PIN {
        return format!("ASME B18.8.2 - {} x {}", inches(dia), inches(length));
    }
    format!(
        "ISO 2338 - {} {class} x {} - St",
        number(dia),
        number(length)
    )
}

fn fitting_words(w: &WeldedFitting, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
    let name = if w.external {
        OutsideThread::mate_of(&w.thread).designation()
    } else {
        w.thread.designation()
    };
    write!(f, "Plain steel {} {name} (not galvanised), ", w.fitting)?;
    if w.hexagon {
        write!(f, "{} across flats", shown::size(w.width))?;
    } else {
        write!(f, "diameter {}", shown::size(w.width))?;
    }
    let length = shown::size(w.length);
    write!(f, ", end faced flat, {length} long after facing")?;
    match w.bore {
        Some(b) => write!(f, ", bored {}", shown::size(b)),
        None => Ok(()),
    }
}

/// The remark of a list of things to buy.
impl std::fmt::Display for Use {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (what, torque) = match self {
            Use::Clamp {
                torque,
                lubrication,
            } => {
                return write!(
                    f,
                    "clamp the halves, {}, threads: {}",
                    shown::quantity(shown::Kind::Torque, (torque * 10.0).round() / 10.0, 4),
                    lubrication.word()
                );
            }
            Use::SpreadPressure => (
                "under the sunk heads: spread their pressure on the plate",
                None,
            ),
            Use::OnScrews => (
                "on the screws; wing nuts DIN 315 only for low pressure",
                None,
            ),
            Use::UnderHeadsAndNuts => ("under heads and nuts", None),
            Use::Align { glued } => {
                let how = match glued {
                    true => "fixed with retaining compound in",
                    false => "pressed into",
                };
                return write!(
                    f,
                    "line up the halves: {how} the B plate, sliding in the A plate; one with two flats"
                );
            }
            Use::FixDowels => (
                "fixes the dowels in the B plate: both parts free of grease",
                None,
            ),
            Use::HoldIsland { torque } => ("holds an island on the B plate", *torque),
            Use::PlaceIsland => (
                "keeps an island in its place: pressed into the B plate",
                None,
            ),
            Use::HoldCore { torque } => ("holds the core on the B plate", *torque),
            Use::Jack => (
                "jack the plates apart, half a turn each in turn; end turned or filed round; out before closing",
                None,
            ),
            Use::HoldFlange { torque } => ("hold the flange", *torque),
            Use::FixAdaptor { torque } => ("fix the adaptor plate", *torque),
            Use::HoldNozzleFlange => ("hold the nozzle flange on the mold", None),
            Use::Seal(collar) => {
                let what = match collar {
                    Collar::Nozzle => "the nozzle's collar",
                    Collar::Inlet => "the collar in the machine's socket",
                    Collar::Outlet => "the collar on the mold's face",
                    Collar::Guest => "the collar of what screws into the outlet",
                };
                return write!(
                    f,
                    "seals {what}; a new or annealed one each time it has been opened"
                );
            }
            Use::JoinNozzle { leg } => {
                return write!(
                    f,
                    "nozzle joint, welded all round, leg {}",
                    shown::size(*leg)
                );
            }
        };
        f.write_str(what)?;
        match torque {
            Some(t) => write!(
                f,
                ", {}, threads: paste",
                shown::quantity(shown::Kind::Torque, t, 1)
            ),
            None => Ok(()),
        }
    }
}
