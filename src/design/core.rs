//! The core that stands on the B plate: turned from the plate, or a piece of its own.
//!
//! Input: the molded part. Output: [`Core`], later the features of the B plate and, for a
//! bolted core, a further plate: a spigot with the core standing on it.

use super::bought;
use super::bought_item::{Hardware, Item, Use};
use super::feature::{Impression, Purpose, Shape};
use super::hardware::{longest, screw_lengths};
use super::hole::{Depth, Hole, HoleStep};
use super::layout::Cavities;
use super::planner::{PRACTICE, Planner, span_of, up_to};
use super::plate::Plate;
use super::plate::push;
use super::side::{Face, Side};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::data::Thread;
use crate::data::fasteners::{self, Series};
use crate::part::{Form, Molded, PartBody};
use crate::sketch::{Point, Region, shapes};
use crate::spec::job::{CoreStyle, MoldSection};

/// Below this height, mm, a core is cheaper cut from the plate than bolted on.
const LOW: f64 = 8.0;
/// Metal left around the spigot's screw, times the screw's diameter.
const AROUND_SCREW: f64 = 2.0;

/// How the core is made.
pub(super) enum Core {
    /// The part needs none.
    None,
    /// One piece with the B plate.
    Turned {
        /// Height above the parting face, mm.
        height: f64,
    },
    /// A piece of its own.
    Bolted(Bolted),
}

/// A core with a spigot and one screw.
pub(super) struct Bolted {
    height: f64,
    /// Spigot diameter, mm.
    spigot: f64,
    /// Its length: depth of the seat in the B plate, mm.
    length: f64,
    screw: &'static str,
}

impl Core {
    /// What it takes of the B plate's thickness, mm.
    pub(super) fn depth(&self) -> f64 {
        match self {
            Core::Bolted(b) => b.length,
            _ => 0.0,
        }
    }
    /// What has to stay of the B plate under that, mm: the screw's head and metal that it presses
    /// on, half the screw's diameter (common practice, no source).
    pub(super) fn web(&self) -> f64 {
        match self {
            Core::Bolted(b) => b.head() + 0.5 * b.dia(),
            _ => 0.0,
        }
    }
}

/// Radius of the core's foot on the parting face when it is one full disc, mm.
fn foot(core: &[PartBody]) -> Option<f64> {
    let [only] = core else {
        // Pins and letters on it change nothing below; the first body decides.
        let (first, rest) = core.split_first()?;
        if rest.iter().any(|b| matches!(b.form, Form::Revolved { .. })) {
            return None;
        }
        return foot(std::slice::from_ref(first));
    };
    let Form::Revolved { section, .. } = &only.form else {
        return None;
    };
    let on_face: Vec<f64> = section
        .vertices
        .iter()
        .filter(|v| v.at.y.abs() < 1e-6)
        .map(|v| v.at.x)
        .collect();
    let inner = on_face.iter().copied().fold(f64::INFINITY, f64::min);
    (inner < 1e-6).then(|| on_face.iter().copied().fold(0.0, f64::max))
}

/// Shortest and longest screw that holds a core, mm.
const SCREW_LENGTHS: (f64, f64) = (8.0, 51.0);

/// The largest screw, of 8, 6, 5 or 4 mm or next to them, that a spigot of this diameter holds.
fn screw_in(spigot: f64, series: Series) -> Option<&'static str> {
    let sizes = [8.0, 6.0, 5.0, 4.0].map(|dia| series.nearest(dia));
    let held = sizes
        .iter()
        .find(|t| (1.0 + AROUND_SCREW) * t.major_dia_mm <= spigot)?;
    Some(&held.thread)
}

/// Decides the core.
pub(super) fn decide(p: &mut Planner, made: &Molded, scale: f64) -> Core {
    let grid = p.grid();
    let height = made
        .core
        .iter()
        .map(|b| b.form.extent().high * scale)
        .fold(0.0, f64::max);
    let given = p.job.mold.core.clone();
    if height <= 1e-9 {
        if let Some(g) = given {
            p.refuse(
                "no-core",
                Some(g.span),
                "this part needs no core on the B plate",
                "nothing to make this way",
                "take `core` out",
            );
        }
        return Core::None;
    }
    let foot = foot(&made.core).map(|r| r * scale);
    // Whole millimetres, a shoulder of 2 mm all round that rests on the parting face.
    let spigot = foot.map_or(0.0, |r| (2.0 * r - 4.0).floor().min(40.0));
    let screw = screw_in(spigot, p.series());
    let style = p.decisions.decide(
        MoldSection::core,
        given.as_ref(),
        |s| match s {
            CoreStyle::Turned => "turned".to_owned(),
            CoreStyle::Bolted => "bolted".to_owned(),
        },
        || {
            let style = if height > LOW && screw.is_some() {
                CoreStyle::Bolted
            } else {
                CoreStyle::Turned
            };
            (
                style,
                Rule::new(
                    format!("a piece of its own above {} where its spigot holds a screw: little metal to cut away, and it can be polished and replaced; else in one piece with the plate", shown::size(LOW)),
                    PRACTICE,
                )
                .with("core height", shown::size(height))
                .with("foot", foot.map_or("not a full disc".to_owned(), |r| format!("ø{}", shown::size(2.0 * r))))
                .changes_with("mold.core"),
            )
        },
    );
    if style == CoreStyle::Turned {
        return Core::Turned { height };
    }
    let Some(screw) = screw else {
        p.refuse(
            "core-too-small",
            span_of(given.as_ref()),
            format!(
                "the core's foot ({}) leaves no room for a spigot with a screw",
                foot.map_or("not a full disc".to_owned(), |r| format!(
                    "ø{}",
                    shown::bare_size(2.0 * r)
                ))
            ),
            "cannot be bolted on",
            "core = \"turned\"",
        );
        return Core::None;
    };
    let (dia, pitch) =
        fasteners::screw_thread(screw).map_or((6.0, 1.0), |t| (t.major_dia_mm, t.pitch_mm));
    // Thread, run-out, drill point, a millimetre of metal.
    let length = up_to(1.5 * dia + 2.0 * pitch + 0.3 * dia + 1.0, grid(1.0));
    p.decisions.record(
        "mold.core_spigot",
        format!("ø{}, {} long, {screw}", shown::size(spigot), shown::size(length)),
        Rule::new(
            format!("shoulder of {} all round on the parting face; largest of M8, M6, M5, M4 with its own diameter of metal around; 1.5 × diameter of thread", shown::size(2.0)),
            PRACTICE,
        )
        .changes_with("mold.core, the core's diameter"),
    );
    Core::Bolted(Bolted {
        height,
        spigot,
        length,
        screw,
    })
}

/// Puts the cores on (or into) the B plate; bolted ones are returned as plates.
pub(super) fn place(
    p: &mut Planner,
    core: &Core,
    made: &Molded,
    cavities: &Cavities,
    b: &mut Plate,
) -> Vec<Plate> {
    let mut plates = Vec::new();
    for (k, place) in cavities.placements.iter().enumerate() {
        let impression = |height: f64| Shape::Core(Impression::of(&made.core, place, height, 1e6));
        match core {
            Core::None => {}
            Core::Turned { height } => push(b, Purpose::Core, Face::High, impression(*height)),
            Core::Bolted(bolted) => {
                let one = cavities.placements.len() == 1;
                let (name, title) = if one {
                    ("core".to_owned(), "Core".to_owned())
                } else {
                    (format!("core-{}", k + 1), format!("Core {}", k + 1))
                };
                seat(b, bolted, place.at);
                if let Some(plate) =
                    bolted.plate(b, place.at, name, title, impression(bolted.height))
                {
                    plates.push(plate);
                }
            }
        }
    }
    if let (Core::Bolted(bolted), false) = (core, plates.is_empty()) {
        let web = b.thickness() - bolted.length;
        p.decisions.record(
            "mold.core_screw",
            format!(
                "{} × {}",
                bolted.screw,
                shown::size(bolted.screw_length(web))
            ),
            Rule::new(
                "web under the spigot less the head's counterbore, plus the thread",
                "geometry",
            )
            .with("web", shown::size(web)),
        );
    }
    plates
}

/// Bore and screw hole in the B plate.
fn seat(b: &mut Plate, bolted: &Bolted, at: Point) {
    let Ok(circle) = shapes::circle(bolted.spigot) else {
        return;
    };
    push(
        b,
        Purpose::CoreSeat,
        Face::High,
        Shape::Pocket {
            region: Region::simple(circle.translated(at.coords)),
            depth: bolted.length,
            draft_deg: 0.0,
            cutter: (0.4 * bolted.spigot).min(12.0),
        },
    );
    let clearance = fasteners::clearance_hole(bolted.screw).map_or(6.6, |c| c.medium_mm);
    let bore = fasteners::counterbore(bolted.screw).map_or((11.0, 6.8), |c| (c.dia_mm, c.depth_mm));
    push(
        b,
        Purpose::CoreScrew,
        Face::Low,
        Shape::Hole(Hole {
            at,
            steps: HoleStep::sunk(clearance, bore).to_vec(),
        }),
    );
}

impl Bolted {
    /// The screw's diameter, mm.
    fn dia(&self) -> f64 {
        fasteners::screw_thread(self.screw).map_or(6.0, |t| t.major_dia_mm)
    }
    /// How deep its head is sunk, mm.
    fn head(&self) -> f64 {
        fasteners::counterbore(self.screw).map_or(6.8, |c| c.depth_mm)
    }
    /// Standard length of the screw, mm.
    fn screw_length(&self, web: f64) -> f64 {
        let want = web - self.head() + 1.5 * self.dia();
        let lengths = screw_lengths(self.screw, SCREW_LENGTHS);
        longest(&lengths, want).unwrap_or(lengths[0])
    }
    /// What is bought for it.
    pub(super) fn hardware(&self, b: &Plate, places: &[Point]) -> Hardware {
        let length = self.screw_length(b.thickness() - self.length);
        let sunk = self.head();
        Hardware {
            count: places.len(),
            item: Item::CapScrew {
                thread: self.screw.to_owned(),
                length,
                class: fasteners::usual_class(self.screw).into(),
            },
            purpose: Use::HoldCore {
                torque: super::bolts::pasted_torque(self.screw, &b.material),
            },
            keys: "mold.core",
            bodies: bought::screws(self.screw, places, b.z_low + sunk, length),
        }
    }
    /// The core as a plate: its spigot, a tapped hole from below, the core on top.
    fn plate(
        &self,
        b: &Plate,
        at: Point,
        name: String,
        title: String,
        core: Shape,
    ) -> Option<Plate> {
        let thread = fasteners::screw_thread(self.screw)?;
        let outline = Region::simple(shapes::circle(self.spigot).ok()?.translated(at.coords));
        let deep = self.length - 1.0 - 0.3 * thread.tap_drill_mm;
        let mut plate = Plate {
            side: Side::Core,
            name,
            title,
            material: b.material.clone(),
            outline,
            z_low: -self.length,
            z_high: 0.0,
            datum: at,
            reference: Face::High,
            features: Vec::new(),
        };
        push(&mut plate, Purpose::Core, Face::High, core);
        push(
            &mut plate,
            Purpose::CoreScrew,
            Face::Low,
            Shape::Hole(Hole {
                at,
                steps: vec![
                    HoleStep::Drill {
                        dia: thread.tap_drill_mm,
                        depth: Depth::Blind(deep),
                        point_deg: 118.0,
                    },
                    HoleStep::Tap {
                        thread: Thread::Screw(thread),
                        major: thread.major_dia_mm,
                        pitch: thread.pitch_mm,
                        depth: Depth::Blind(deep - thread.pitch_mm),
                    },
                ],
            }),
        );
        Some(plate)
    }
}
