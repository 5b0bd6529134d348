//! What a plate is cut from, and what is done to it as a whole: squaring, its outline, the weld and
//! the facing after it, a core's bar and spigot.
//!
//! Input: a plate on the bench. Output: operations, the metal that the stock has over.

use super::area::Area;
use super::bench::{Bench, add};
use super::conditions;
use super::motion::Motion;
use super::operation::{Kind, Measure, Operation};
use super::view::face_name;
use super::{mill, turn};
use crate::base::shown;
use crate::data::material;
use crate::data::materials::Group;
use crate::design::{Face, Impression, Plate, Shape, Side};
use crate::sketch::{Region, Segment, shapes};

/// Handling of each side of a block that is squared: turn, clamp, measure, minutes (common
/// practice, no source).
const PER_SIDE: f64 = 6.0;
/// A bandsaw's or power hacksaw's mm² in a minute, in steel and in light metal (common practice,
/// no source).
const SAWN_STEEL: f64 = 400.0;
const SAWN_LIGHT: f64 = 1500.0;
/// End mill for squaring where none is at hand, mm.
const SQUARING_MILL: f64 = 12.0;
/// Metal for facing after a weld, mm (common practice, no source).
const WELD_OVER: f64 = 0.5;
/// Tacking, checking, welding in runs, cooling, minutes (common practice, no source).
const WELDING: f64 = 60.0;
/// Over the diameter of a disc on each side of its blank, mm.
const ROUND_OVER: f64 = 1.0;
/// A plate that one person does not lift alone, kg (common practice; local rules come first).
const HEAVY: f64 = 20.0;

impl Bench<'_> {
    pub(super) fn stock(&mut self) {
        let b = self.plate.outline.bounds();
        let high = self.plate.thickness() + self.plate.standing() + self.over();
        let t = shown::size(high);
        let known = material(&self.plate.material);
        let metal = known.map_or(self.plate.material.clone(), |m| m.name.clone());
        if let Some(blank) = bar_of(self.plate) {
            return self.bar(&metal, &blank);
        }
        let back = face_name(
            self.plate,
            match self.plate.reference {
                Face::Low => Face::High,
                Face::High => Face::Low,
            },
        );
        let over = match self.over() > 0.0 {
            true => format!(
                " ({} of it for facing after the weld)",
                shown::size(self.over())
            ),
            false => String::new(),
        };
        let what = match round_outline(&self.plate.outline) {
            Some(dia) => format!(
                "{metal}: saw a blank that holds ø{}, face both sides to {t}{over} (or profile-cut from the DXF); number the plate on the {back}",
                shown::bare_size((dia + 2.0 * ROUND_OVER).ceil())
            ),
            None => format!(
                "{metal}: saw, square and face to {} × {} × {t}{over} (or profile-cut from the DXF); \
                 number the plate on the {back}; choose the datum corner and mark it",
                shown::bare_size(b.width()),
                shown::bare_size(b.height()),
            ),
        };
        let mut o = self.operation(Kind::Stock, self.plate.reference, what);
        o.setup = 1;
        o.tool = "saw, file, square".into();
        self.squaring(&mut o, b.width(), b.height(), high);
        o.caution = "sharp edges and hot chips".into();
        let kilograms = known.map_or(0.0, |m| m.density * b.width() * b.height() * high * 1e-9);
        if kilograms > HEAVY {
            add(
                &mut o.caution,
                &format!(
                    "{}: two people or a hoist",
                    shown::quantity(shown::Kind::Mass, kilograms.round(), 4)
                ),
            );
        }
        o.measure.push(Measure::from(format!("thickness {t}")));
        o.measure
            .push("both faces flat and parallel: no light under a straight edge".into());
        o.motions.push(Motion::Outline {
            keep: Area::of_bounds(&b),
        });
        self.operations.push(o);
        self.outline();
    }

    /// The outline, where it is no rectangle.
    fn outline(&mut self) {
        let outline = &self.plate.outline;
        let b = outline.bounds();
        let keep = self.levels.outline().clone();
        if (b.width() * b.height() - keep.area()).abs() < 1e-6 * keep.area() {
            return;
        }
        let round = round_outline(outline);
        let what = match round {
            Some(dia) => format!(
                "turn the outline to ø{} on the faceplate or in the chuck",
                shown::bare_size(dia)
            ),
            None => {
                let radii = corner_radii(outline);
                match radii.is_empty() {
                    true => "saw and mill the outline to the DXF".to_owned(),
                    false => format!("round the corners of the outline: R {}", radii.join(", ")),
                }
            }
        };
        let kind = if round.is_some() {
            Kind::Turn
        } else {
            Kind::Stock
        };
        let mut o = self.operation(kind, self.plate.reference, what);
        o.setup = 1;
        o.tool = match round {
            Some(_) => "turning tool; on a mill: a rotary table".into(),
            None => "file to a radius gauge, or an end mill".into(),
        };
        if let Some(dia) = round {
            self.set(
                &mut o,
                conditions::turning(&self.plate.material, dia, self.workshop),
            );
            o.measure.push(Measure::from(format!(
                "ø{} over the edge",
                shown::bare_size(dia)
            )));
        }
        o.minutes = 20.0;
        o.motions.push(Motion::Outline { keep });
        self.operations.push(o);
    }

    /// Metal that is left on the lower face until the weld on the upper one has cooled, mm.
    pub(super) fn over(&self) -> f64 {
        match self.welded {
            Some(_) => WELD_OVER,
            None => 0.0,
        }
    }

    /// Time to saw a block on four sides and mill its six faces, with handling for each side.
    fn squaring(&self, o: &mut Operation, width: f64, height: f64, thick: f64) {
        let sides = 2.0 * (width + height) * thick;
        let skin = 2.0 * width * height;
        let group = material(&self.plate.material).map(|m| m.group);
        let sawn = match group {
            Some(Group::MildSteel | Group::CastIron) => SAWN_STEEL,
            _ => SAWN_LIGHT,
        };
        let mut facing = self.operation(Kind::Stock, o.face, String::new());
        self.facing(&mut facing, sides + skin);
        o.cutting = sides / sawn + facing.cutting;
        o.minutes = o.cutting + 6.0 * PER_SIDE;
    }

    /// Speeds, feed and time of the largest end mill over an area in light passes; its diameter, mm.
    fn facing(&self, o: &mut Operation, area: f64) -> f64 {
        let largest = self.workshop.end_mill(f64::INFINITY);
        let dia = largest.unwrap_or(SQUARING_MILL);
        let metal = &self.plate.material;
        self.set(o, conditions::milling(metal, dia, false, self.workshop));
        mill::time(o, area / (0.75 * dia));
        dia
    }

    /// The fitting is welded on; what it is set on is cut before.
    pub(super) fn weld(&mut self, face: Face) {
        let Some(fitting) = self.welded else { return };
        let what = format!(
            "weld the nozzle's fitting on as the assembly's steps say: leg {} all round; let it cool in air",
            shown::size(fitting.leg)
        );
        let mut o = self.operation(Kind::Weld, face, what);
        o.tool = "welding set, square, clamps".into();
        o.minutes = WELDING;
        o.caution =
            "by someone trained for it; no zinc near arc or flame; shield, gloves, air".into();
        self.operations.push(o);
    }

    /// What the weld has drawn is faced before anything true is cut.
    pub(super) fn reface(&mut self, face: Face) {
        let what = format!(
            "face the {} after the weld: {} off, to {}",
            face_name(self.plate, face),
            shown::size(WELD_OVER),
            shown::size(self.plate.thickness())
        );
        let mut o = self.operation(Kind::Face, face, what);
        let mill = self.facing(&mut o, self.levels.outline().area());
        o.tool = format!("end mill ø{}", shown::tool_size(mill));
        o.coolant = self.coolant();
        o.passes =
            "one light pass, or the lathe's faceplate; no mill: file and lap on a plate".into();
        o.measure
            .push("flat: no light under a straight edge".into());
        o.motions.push(Motion::Clear {
            centres: Area::of_bounds(&self.plate.outline.bounds().grown(1.0)),
            z: self.plate.z(face),
            radius: 0.0,
        });
        self.operations.push(o);
    }

    /// A core's spigot, turned first: the core is held on it.
    pub(super) fn spigot(&mut self, face: Face) {
        let (dia, long) = (self.plate.outline.bounds().width(), self.plate.thickness());
        let what = format!(
            "face the end; turn the spigot ø{} h6, {} long, its shoulder square",
            shown::bare_length(dia, 3),
            shown::size(long)
        );
        let mut o = self.operation(Kind::Turn, face, what);
        o.tool = "turning tool, facing tool".into();
        o.passes = format!("{} rough, {} last", shown::size(0.5), shown::size(0.1));
        o.coolant = self.coolant();
        let blank = core_of(self.plate).map_or(dia, |i| turn::blank(i).0);
        self.turned(&mut o, dia, 0.5 * (blank - dia), long);
        o.caution = "nothing loose near the chuck; no gloves; chips by hook, not by hand".into();
        o.measure.push(Measure::from(format!(
            "spigot ø{} h6 × {}",
            shown::bare_length(dia, 3),
            shown::size(long)
        )));
        let (end, shoulder) = (self.plate.z(face), self.plate.z(self.plate.reference));
        o.motions.push(Motion::Bore {
            at: self.plate.outline.bounds().centre(),
            section: vec![
                [0.0, end],
                [0.5 * dia, end],
                [0.5 * dia, shoulder],
                [dia + blank, shoulder],
            ],
        });
        self.operations.push(o);
    }

    /// The bar that a turned piece is made from.
    fn bar(&mut self, metal: &str, blank: &Bar) {
        let what = format!(
            "{metal}: saw a {} to {}",
            blank.words(),
            shown::size(blank.length),
        );
        let mut o = self.operation(Kind::Stock, self.plate.reference, what);
        o.setup = 1;
        o.tool = "saw".into();
        o.minutes = 10.0;
        o.caution = "sharp edges and hot chips".into();
        if let Section::Hexagon(_) | Section::Drawn(_) = blank.section {
            let keep = match shapes::circle(self.plate.outline.bounds().width()) {
                Ok(circle) if self.flats().is_some() => Area::of_region(&Region::simple(circle)),
                _ => self.levels.outline().clone(),
            };
            o.motions.push(Motion::Outline { keep });
        }
        self.operations.push(o);
    }

    /// Width across two flats that are milled on a round bar, mm.
    fn flats(&self) -> Option<f64> {
        let outline = &self.plate.outline;
        let flat = self.plate.side == Side::Reducer && outline.outer.vertices.len() == 4;
        flat.then(|| outline.bounds().height())
    }

    /// The flats for a spanner, milled last.
    pub(super) fn spanner_flats(&mut self, face: Face) {
        let Some(across) = self.flats() else { return };
        let what = format!(
            "mill two flats {} across, opposite each other, along the body",
            shown::size(across)
        );
        let mut o = self.operation(Kind::Finish, face, what);
        let mill = self.facing(&mut o, 2.0 * across * self.plate.thickness());
        o.tool = format!(
            "end mill ø{}; no mill: file to a gauge",
            shown::bare_size(mill)
        );
        o.coolant = self.coolant();
        o.measure.push(Measure::from(format!(
            "{} across the flats",
            shown::size(across)
        )));
        o.motions.push(Motion::Outline {
            keep: self.levels.outline().clone(),
        });
        self.operations.push(o);
    }

    /// The end of a bar is faced; the second one to length.
    pub(super) fn face_end(&mut self, face: Face, second: bool) {
        let what = match second {
            true => format!(
                "face the {} to {} over all",
                face_name(self.plate, face),
                shown::size(self.plate.thickness())
            ),
            false => format!(
                "face the {}: about {} off, all round clean",
                face_name(self.plate, face),
                shown::size(1.0)
            ),
        };
        let mut o = self.operation(Kind::Face, face, what);
        o.tool = "facing tool".into();
        o.coolant = self.coolant();
        let b = self.plate.outline.bounds();
        self.turned(&mut o, b.width(), 1.0, 0.5 * b.width());
        if second {
            o.measure.push(Measure::from(format!(
                "{} over all",
                shown::size(self.plate.thickness())
            )));
        }
        o.caution = "nothing loose near the chuck; no gloves; chips by hook, not by hand".into();
        self.operations.push(o);
    }
}

/// Diameter of an outline that is one circle, mm.
fn round_outline(outline: &Region) -> Option<f64> {
    let b = outline.bounds();
    let dia = b.width();
    let circle = 0.25 * std::f64::consts::PI * dia * dia;
    let same = (b.height() - dia).abs() < 1e-6 && (outline.area() - circle).abs() < 1e-6 * circle;
    (same && outline.holes.is_empty()).then_some(dia)
}

/// Radii of an outline's corners in words, each once.
fn corner_radii(outline: &Region) -> Vec<String> {
    let mut radii: Vec<String> = (outline.outer.segments())
        .filter_map(|s| match s {
            Segment::Arc { radius, .. } => Some(shown::bare_length(radius, 2)),
            Segment::Line { .. } => None,
        })
        .collect();
    radii.sort();
    radii.dedup();
    radii
}

/// Section of a bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Section {
    /// Round, at least so wide, mm: all of it is turned.
    Round(f64),
    /// Round, of this drawn diameter, mm.
    Drawn(f64),
    /// Hexagon, width across flats, mm.
    Hexagon(f64),
}

/// What a turned piece is made from.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// Its section.
    pub section: Section,
    /// Sawn length, mm.
    pub length: f64,
}

impl Bar {
    /// "round bar ø40".
    pub fn short(&self) -> String {
        match self.section {
            Section::Round(dia) | Section::Drawn(dia) => {
                format!("round bar ø{}", shown::bare_size(dia))
            }
            Section::Hexagon(flats) => format!("hexagon bar {}", shown::bare_size(flats)),
        }
    }
    /// "round bar of at least ø40".
    pub fn words(&self) -> String {
        match self.section {
            Section::Round(dia) => format!("round bar of at least ø{}", shown::bare_size(dia)),
            Section::Drawn(dia) => format!("bright round bar ø{}", shown::bare_size(dia)),
            Section::Hexagon(flats) => format!("hexagon bar, {} across flats,", shown::size(flats)),
        }
    }
}

/// The bar that a core or a reducer is turned from; `None` for a plate.
pub fn bar_of(plate: &Plate) -> Option<Bar> {
    let b = plate.outline.bounds();
    match plate.side {
        Side::Core => {
            let (dia, over) = turn::blank(core_of(plate)?);
            Some(Bar {
                section: Section::Round(dia.max(b.width()).ceil()),
                length: (over + plate.thickness()).ceil(),
            })
        }
        Side::Reducer => Some(Bar {
            section: match plate.outline.outer.vertices.len() {
                6 => Section::Hexagon(b.height()),
                _ => Section::Drawn(b.width()),
            },
            // A millimetre for facing at either end.
            length: (plate.thickness() + 2.0).ceil(),
        }),
        _ => None,
    }
}

/// The core that stands on a plate.
fn core_of(plate: &Plate) -> Option<&Impression> {
    plate.features.iter().find_map(|f| match &f.shape {
        Shape::Core(i) => Some(i),
        _ => None,
    })
}
