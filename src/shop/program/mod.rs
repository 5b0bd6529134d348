//! Paths of the tools of a numerically controlled mill, from the motions that prove the sheet.
//!
//! Input: a plate, its operations with their motions, the machine. Output: for each set-up the
//! paths in the order of the sheet, in the coordinates of that set-up (X and Y as on the sheet, Z
//! up from the face). Writes no text: `write/programs` does; reads none: [`read`] does.

mod arcs;
mod path;
mod planned;
pub mod proof;
pub mod read;

pub use path::{Go, Stroke};

use super::motion::Motion;
use super::operation::{Kind, Operation, PlatePlan};
use super::removal::{by_heights, stock_of};
use super::spindle::Machine;
use super::view::FaceView;
use crate::design::{Face, Plate, Side};
use crate::spec::job::{MillSection, ToolKind};

/// Fast moves come down as near as this to the stock, mm (common practice, no source).
pub const NEAR: f64 = 2.0;
/// Speeds and feed of a machine of which nothing is said, 1/min and mm/min (a usual small machine:
/// common practice, no source).
const SPINDLE: [f64; 2] = [100.0, 3000.0];
const FEED: f64 = 1000.0;
const CLEARANCE: f64 = 25.0;

/// What is decided of the machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Mill<'a> {
    /// What the file says.
    pub section: &'a MillSection,
    /// Slowest and fastest speed, 1/min.
    pub spindle: [f64; 2],
    /// Fastest feed, mm/min.
    pub feed: f64,
    /// Height of fast moves across above the stock, mm.
    pub clearance: f64,
    /// Travel along X, Y and Z, mm; infinite where nothing is said.
    pub travel: [f64; 3],
    /// Longest that it may run at a stretch, min; infinite where nothing is said.
    pub longest_run: f64,
}

impl<'a> Mill<'a> {
    /// The machine of the file; `fastest`: of the shop's spindles, 1/min.
    pub fn of(section: &'a MillSection, fastest: Option<f64>) -> Self {
        let mm = |l: &crate::base::Opt<crate::base::Length>| l.as_ref().map(|l| l.value.mm());
        let least = section.spindle_min.as_ref().map_or(SPINDLE[0], |s| s.value);
        let most = section.spindle_max.as_ref().map(|s| s.value);
        let most = most.or(fastest).unwrap_or(SPINDLE[1]);
        let far = f64::INFINITY;
        Self {
            section,
            spindle: [least.min(most), most],
            feed: mm(&section.feed_max).unwrap_or(FEED),
            clearance: mm(&section.clearance).unwrap_or(CLEARANCE),
            travel: [&section.travel_x, &section.travel_y, &section.travel_z]
                .map(|t| mm(t).unwrap_or(far)),
            longest_run: (section.longest_run.as_ref()).map_or(far, |t| t.value.seconds() / 60.0),
        }
    }
    /// A speed within the spindle's range, and the feed that goes with it.
    fn turn(&self, rpm: f64, feed: f64) -> (f64, f64) {
        let n = rpm.clamp(self.spindle[0], self.spindle[1]).round();
        let n = n.clamp(self.spindle[0], self.spindle[1]);
        (
            n,
            (feed * (n / rpm).min(1.0)).min(self.feed).round().max(1.0),
        )
    }
}

/// The shape of a tool that turns, seen from its tip.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Height above the tip by rising radius, mm.
    Profile(Vec<[f64; 2]>),
    /// A ball of this radius, mm.
    Ball(f64),
}

impl Shape {
    /// Radius, mm.
    pub fn radius(&self) -> f64 {
        match self {
            Shape::Profile(p) => p.last().map_or(0.0, |p| p[0]),
            Shape::Ball(r) => *r,
        }
    }
    /// True for a flat end.
    pub fn is_flat(&self) -> bool {
        matches!(self, Shape::Profile(p) if p.iter().all(|p| p[1] == 0.0))
    }
    /// How high above its tip it begins at a radius, mm.
    pub fn height(&self, radius: f64) -> Option<f64> {
        match self {
            Shape::Profile(p) => super::motion::at_radius(p, radius),
            Shape::Ball(r) => (radius <= *r).then(|| r - (r * r - radius * radius).max(0.0).sqrt()),
        }
    }
    /// The larger of two that are the same as far as both go.
    fn with(self, other: Self) -> Option<Self> {
        let (a, b) = match self.radius() < other.radius() {
            true => (other, self),
            false => (self, other),
        };
        let (Shape::Profile(p), Shape::Profile(q)) = (&a, &b) else {
            return (a == b).then_some(a);
        };
        let same = |s: &Shape, of: &[[f64; 2]]| {
            let end = b.radius();
            of.iter()
                .filter(|p| p[0] < end - 1e-9)
                .all(|p| s.height(p[0]).is_none_or(|h| (h - p[1]).abs() < 1e-3))
        };
        let fits = same(&a, q) && same(&b, p);
        fits.then_some(a)
    }
}

/// A tool with its number in the machine's table.
#[derive(Debug, Clone, PartialEq)]
pub struct Tool {
    /// After T.
    pub number: u32,
    /// What it is.
    pub kind: ToolKind,
    /// As the sheet calls it.
    pub name: String,
    /// Diameter, mm.
    pub dia: f64,
    /// Shape.
    pub shape: Shape,
}

/// What one operation does.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Number on the sheet.
    pub operation: usize,
    /// Its words.
    pub what: String,
    /// Its tool's number.
    pub tool: u32,
    /// Speed, 1/min.
    pub rpm: f64,
    /// Its way.
    pub way: Vec<Go>,
}

impl Cut {
    /// Minutes that its feeds take, in a set-up whose fast moves go at these heights, mm.
    pub fn minutes(&self, near: f64, clear: f64) -> f64 {
        let mut at = [0.0, 0.0, clear];
        let mut minutes = 0.0;
        for go in &self.way {
            minutes += go.minutes(at);
            at = match *go {
                Go::Over([x, y]) => [x, y, near],
                Go::Line { to, .. } => to,
                Go::Arc { to, .. } => [to[0], to[1], at[2]],
                Go::Hole { at: [x, y], .. } => [x, y, clear],
            };
        }
        minutes
    }
}

/// The paths of one set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Paths {
    /// Name of the plate.
    pub plate: String,
    /// Number of the set-up.
    pub setup: usize,
    /// The face that looks up.
    pub face: Face,
    /// Name of that face.
    pub name: &'static str,
    /// How X and Y are read.
    pub note: &'static str,
    /// Height of the stock's top above the face, mm.
    pub top: f64,
    /// Height of fast moves across, mm.
    pub clear: f64,
    /// Tools in the order of use.
    pub tools: Vec<Tool>,
    /// Operations in order.
    pub cuts: Vec<Cut>,
}

/// The coordinates of a set-up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lying {
    view: FaceView,
    face_z: f64,
}

impl Lying {
    /// A plate with a face up.
    pub fn of(plate: &Plate, face: Face) -> Self {
        Self {
            view: FaceView::on(plate, face),
            face_z: plate.z(face),
        }
    }
    /// The face.
    pub fn face(&self) -> Face {
        self.view.face
    }
    /// +1 where up in the set-up is up in the mold.
    fn up(&self) -> f64 {
        if self.view.mirrored() { -1.0 } else { 1.0 }
    }
    /// A place of the mold in the set-up.
    pub fn seen(&self, p: [f64; 2]) -> [f64; 2] {
        let q = self.view.point(crate::sketch::Point::new(p[0], p[1]));
        [q.x, q.y]
    }
    /// A height of the mold in the set-up.
    pub fn height(&self, z: f64) -> f64 {
        (z - self.face_z) * self.up()
    }
    /// A point of the set-up in the mold.
    pub fn mold(&self, p: [f64; 3]) -> [f64; 3] {
        let d = self.view.datum;
        [
            d.x + self.up() * p[0],
            d.y + p[1],
            self.face_z + self.up() * p[2],
        ]
    }
}

/// What a tool of an operation is; none of what is no tool of a mill.
fn kind_of(o: &Operation) -> Option<ToolKind> {
    if o.machine == Some(Machine::Lathe) {
        return None;
    }
    Some(match o.kind {
        _ if o.led.is_some() => ToolKind::EndMill,
        Kind::Spot => ToolKind::SpotDrill,
        Kind::Pilot | Kind::Drill => ToolKind::Drill,
        Kind::Ream | Kind::PipeReam | Kind::TaperReam => ToolKind::Reamer,
        Kind::Countersink => ToolKind::Countersink,
        Kind::Counterbore => ToolKind::Counterbore,
        Kind::Groove => ToolKind::BallEndMill,
        Kind::Rough | Kind::Finish | Kind::Rest | Kind::Engrave | Kind::Vent => ToolKind::EndMill,
        _ => return None,
    })
}

/// The shape of an operation's tool; none where the mill does not do it.
fn shape_of(o: &Operation) -> Option<Shape> {
    o.rpm.zip(o.feed)?;
    kind_of(o)?;
    let one = |m: &Motion| -> Option<Shape> {
        match m {
            Motion::Clear { radius, .. } if *radius > 0.0 => {
                Some(Shape::Profile(vec![[0.0, 0.0], [*radius, 0.0]]))
            }
            Motion::Ball { radius, .. } => Some(Shape::Ball(*radius)),
            Motion::Axis { shape, .. } => {
                let deepest = deepest(shape);
                if let Some(dia) = o.led {
                    // A flat bottom, wider than the cutter.
                    let flat = shape.iter().all(|p| p[1] == deepest);
                    let wider = shape.last().is_some_and(|p| p[0] > 0.5 * dia);
                    let end = Shape::Profile(vec![[0.0, 0.0], [0.5 * dia, 0.0]]);
                    return (flat && wider).then_some(end);
                }
                Some(Shape::Profile(
                    shape.iter().map(|p| [p[0], deepest - p[1]]).collect(),
                ))
            }
            _ => None,
        }
    };
    let mut shapes = o.motions.iter().map(one);
    let first = shapes.next()??;
    shapes.try_fold(first, |a, b| a.with(b?))
}

fn deepest(shape: &[[f64; 2]]) -> f64 {
    shape.iter().map(|p| p[1]).fold(0.0, f64::max)
}

/// Tools of the machine, numbered once for all plates.
#[derive(Debug, Default)]
struct Rack {
    tools: Vec<Tool>,
}

impl Rack {
    fn number(&mut self, mill: &Mill<'_>, o: &Operation, kind: ToolKind, shape: &Shape) -> u32 {
        let dia = 2.0 * shape.radius();
        let known = self
            .tools
            .iter_mut()
            .find(|t| t.kind == kind && t.name == o.tool);
        if let Some(t) = known
            && let Some(both) = t.shape.clone().with(shape.clone())
        {
            t.shape = both;
            return t.number;
        }
        let listed = mill.section.tool.iter().flat_map(|t| &t.value);
        let number = |t: &crate::spec::job::ToolSection| t.number.as_ref().map_or(0, |n| n.value);
        let taken: Vec<u32> = (listed.clone().map(number))
            .chain(self.tools.iter().map(|t| t.number))
            .collect();
        let same = listed.filter(|t| {
            let size = t.diameter.as_ref().map_or(0.0, |d| d.value.mm());
            t.kind.as_ref().is_some_and(|k| k.value == kind) && (size - dia).abs() < 5e-3
        });
        let free = |n: &u32| !self.tools.iter().any(|t| t.number == *n);
        let chosen = same.map(number).find(|n| free(n));
        let number = chosen.unwrap_or_else(|| (1..).find(|n| !taken.contains(n)).unwrap_or(1));
        self.tools.push(Tool {
            number,
            kind,
            name: o.tool.clone(),
            dia,
            shape: shape.clone(),
        });
        number
    }
}

/// Operations that a mill's program does, by number.
pub fn programmed(plate: &Plate, plan: &PlatePlan) -> Vec<usize> {
    let flat = !matches!(plate.side, Side::Core | Side::Reducer | Side::Pin);
    let all = plan
        .operations
        .iter()
        .filter(|_| flat && by_heights(plate, plan));
    all.filter(|o| o.setup > 0 && !o.motions.is_empty() && shape_of(o).is_some())
        .map(|o| o.number)
        .collect()
}

/// The paths of all set-ups of all plates.
pub fn paths(plates: &[(&Plate, &PlatePlan)], mill: &Mill<'_>) -> Vec<Paths> {
    let mut rack = Rack::default();
    // Numbers first, in the order of the sheet, so that plates can be planned beside each other.
    let mut numbers: Vec<Vec<(usize, u32)>> = Vec::new();
    for (plate, plan) in plates {
        let done = programmed(plate, plan);
        let ops = plan.operations.iter().filter(|o| done.contains(&o.number));
        numbers.push(
            ops.filter_map(|o| {
                let (kind, shape) = kind_of(o).zip(shape_of(o))?;
                Some((o.number, rack.number(mill, o, kind, &shape)))
            })
            .collect(),
        );
    }
    use rayon::prelude::*;
    let units = crate::base::System::current();
    let each: Vec<Vec<Paths>> = (plates.par_iter().zip(&numbers))
        .map(|((plate, plan), numbers)| {
            units.within(|| of_plate(plate, plan, mill, numbers, &rack.tools))
        })
        .collect();
    each.concat()
}

fn of_plate(
    plate: &Plate,
    plan: &PlatePlan,
    mill: &Mill<'_>,
    numbers: &[(usize, u32)],
    tools: &[Tool],
) -> Vec<Paths> {
    if numbers.is_empty() {
        return Vec::new();
    }
    let mut field = stock_of(plate, plan);
    let mut done = plan.operations.iter().peekable();
    let mut out = Vec::new();
    for s in &plan.setups {
        let lying = Lying::of(plate, s.face);
        let mut cuts: Vec<Cut> = Vec::new();
        let top = field.top(s.face).map_or(0.0, |z| lying.height(z));
        let clear = top + mill.clearance;
        while let Some(o) = done.next_if(|o| o.setup <= s.number) {
            let number = numbers
                .iter()
                .find(|n| n.0 == o.number && o.setup == s.number);
            let tool = number.and_then(|n| tools.iter().find(|t| t.number == n.1));
            if let Some((tool, (rpm, feed))) = tool.zip(o.rpm.zip(o.feed)) {
                let (rpm, feed) = mill.turn(rpm, feed);
                let bench = path::Bench {
                    lying,
                    top,
                    feed,
                    kind: o.kind,
                    led: o.led.is_some(),
                    shape: &tool.shape,
                };
                cuts.push(Cut {
                    operation: o.number,
                    what: o.what.clone(),
                    tool: tool.number,
                    rpm,
                    way: bench.way(&o.motions, &mut field),
                });
            }
            for m in &o.motions {
                field.cut(m, o.face, plate.z(o.face));
            }
        }
        cuts.retain(|c| !c.way.is_empty());
        if cuts.is_empty() {
            continue;
        }
        let mut used: Vec<Tool> = Vec::new();
        for c in &cuts {
            let tool = tools.iter().find(|t| t.number == c.tool);
            if let Some(t) = tool.filter(|t| !used.iter().any(|u| u.number == t.number)) {
                used.push(t.clone());
            }
        }
        out.push(Paths {
            plate: plate.name.clone(),
            setup: s.number,
            face: s.face,
            name: s.name,
            note: s.note,
            top,
            clear,
            tools: used,
            cuts,
        });
    }
    out
}
