//! The proof that the sheet makes the part (promise P7).
//!
//! Input: a plate, its operations with their motions, its audited solid. Output: how much metal
//! each operation takes, or what is wrong: metal cut that the solid keeps, metal left that the
//! sheet does not name, an operation that takes nothing. Two height fields, one from either face;
//! a difference counts where it is wider than the distance of two places.

mod bores;
mod field;

pub use bores::Misfit;
pub use field::{Coarse, Field, Grid, PITCH};

use super::motion::Motion;
use super::operation::{Made, PlatePlan, ShopPlan};
use super::order::out_of_order;
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::design::{Design, Face, Plate, Shape, Side};
use crate::sketch::{Bounds, Point};
use crate::solid::TaggedMesh;
use rayon::prelude::*;

/// Heights that agree within this are the same, mm: a quarter of the shallowest vent.
const SAME: f32 = 0.005;
/// A difference smaller than this is none, mm²: six places.
const LEAST: f64 = 0.06;

/// What is wrong with a sheet.
#[derive(Debug, Clone, PartialEq)]
pub enum Wrong {
    /// Metal is cut that the solid keeps.
    Gouge(Place),
    /// Metal is left that the solid has not and the sheet does not name.
    Rest(Place),
    /// An operation that should take metal takes none; its number and words.
    Idle(usize, String),
    /// A bore is not as wide as the solid's.
    Bore(Misfit),
    /// An operation before one that it needs, or missing; words.
    Order(String),
}

/// Where metal differs.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// Where, mold coordinates, mm.
    pub at: Point,
    /// The face it is seen from.
    pub face: Face,
    /// Most height between the two, mm.
    pub height: f64,
    /// Over what area, mm².
    pub area: f64,
    /// Number and words of the operation that cuts there first, where one cuts too much.
    pub by: Option<(usize, String)>,
}

impl Place {
    /// Metal that stays here on a free shape, where the levels of the sheet leave it.
    pub fn left_on(&self, plate: &Plate) -> Finding {
        Finding::new(
            Level::Warn,
            Code::CornerLeft,
            plate.name.as_str(),
            format!(
                "{}: the levels of the machining sheet leave up to {} over {} at X {} Y {} (from the sprue's axis)",
                plate.name,
                shown::length(self.height, 2),
                shown::quantity(shown::Kind::Area, self.area, 2),
                shown::bare_length(self.at.x, 2),
                shown::bare_length(self.at.y, 2)
            ),
            "a free shape is only followed by lines with a ball end mill; levels leave steps and bridges on it",
            format!(
                "mill the shape by CNC from {}.stl, ball end mill for the last pass, and measure this place",
                plate.name
            ),
        )
    }
}

impl Wrong {
    /// What is wrong with the sheet of a plate that is not to be made as it stands.
    pub fn of_stopped(&self, plate: &str) -> Finding {
        Finding::new(
            Level::Stop,
            Code::SheetUnproved,
            plate,
            format!("{plate}: the machining sheet does not make this plate: {self}"),
            "a cutter comes from above: what lies under metal that stays is out of its way",
            "settle the other `stop`s first",
        )
    }
}

impl std::fmt::Display for Wrong {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let place = |p: &Place| {
            format!(
                "up to {} over {} at X {} Y {}, from the {:?} face",
                shown::length(p.height, 3),
                shown::quantity(shown::Kind::Area, p.area, 2),
                shown::bare_length(p.at.x, 2),
                shown::bare_length(p.at.y, 2),
                p.face
            )
        };
        match self {
            Wrong::Gouge(p) => {
                let by =
                    p.by.as_ref()
                        .map(|(n, what)| format!("operation {n} ({what}) "));
                let by = by.unwrap_or_default();
                write!(f, "{by}cuts what the solid keeps, {}", place(p))
            }
            Wrong::Rest(p) => write!(f, "leaves what the solid has not, {}", place(p)),
            Wrong::Idle(n, what) => write!(f, "operation {n} ({what}) takes no metal"),
            Wrong::Bore(m) => write!(
                f,
                "operation {} cuts ø{} at X {} Y {}, the solid has ø{}",
                m.number,
                shown::bare_length(m.cut, 3),
                shown::bare_length(m.at.x, 2),
                shown::bare_length(m.at.y, 2),
                shown::bare_length(m.solid, 3)
            ),
            Wrong::Order(what) => f.write_str(what),
        }
    }
}

/// What the operations of a plate take away.
#[derive(Debug, Clone)]
pub struct Removal {
    /// The work piece after all of them.
    pub field: Field,
    /// Number of each operation that moves a tool and the volume it takes, mm³.
    pub taken: Vec<(usize, f64)>,
}

/// What a plate is cut from: a box in plan, and its lower and upper height.
pub fn stock_box(plate: &Plate, plan: &PlatePlan) -> (Bounds, [f64; 2]) {
    let high = plate.z_high + plate.standing();
    (around(plate), [plate.z_low - plan.over, high])
}

/// The plan box that is looked at: a core is wider than the spigot that is its outline.
fn around(plate: &Plate) -> Bounds {
    let cores = plate.features.iter().filter_map(|f| match &f.shape {
        Shape::Core(i) if plate.side == Side::Core => Some(i),
        _ => None,
    });
    let forms = cores.flat_map(|i| &i.bodies);
    let plans = forms.map(|(_, form)| form.extent().plan);
    plans
        .fold(plate.outline.bounds(), |a, b| a.union(&b))
        .grown(1.0)
}

fn grid(plate: &Plate) -> Grid {
    Grid::over(&around(plate))
}

/// What a plate is cut from, as a field.
pub(super) fn stock_of(plate: &Plate, plan: &PlatePlan) -> Field {
    let (_, [low, high]) = stock_box(plate, plan);
    Field::block(grid(plate), low, high)
}

/// Carries out the operations of a plate on its stock.
pub fn simulate(plate: &Plate, plan: &PlatePlan) -> Removal {
    let mut field = stock_of(plate, plan);
    let mut taken = Vec::new();
    for o in plan.operations.iter().filter(|o| !o.motions.is_empty()) {
        let z = plate.z(o.face);
        let volume = o.motions.iter().map(|m| field.cut(m, o.face, z)).sum();
        taken.push((o.number, volume));
    }
    Removal { field, taken }
}

/// The work piece when a set-up is done, as seen on the face that lay up: for pictures.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkPiece {
    /// The set-up's number.
    pub setup: usize,
    /// Middle of the first place, mold coordinates, and the distance of places, mm.
    pub first: Point,
    /// Distance of places, mm.
    pub pitch: f64,
    /// Places along x and y.
    pub size: (usize, usize),
    /// Row by row how far below the plate's face metal is met, mm (above it: negative); none
    /// where it is open right through.
    pub depths: Vec<Option<f32>>,
}

/// The work piece after each set-up, by places so far apart, mm.
pub fn after_setups(plate: &Plate, plan: &PlatePlan, pitch: f64) -> Vec<WorkPiece> {
    let (plan_box, [low, high]) = stock_box(plate, plan);
    let grid = Grid::of_pitch(&plan_box, pitch);
    let mut field = Field::block(grid, low, high);
    let mut done = plan.operations.iter().peekable();
    let mut out = Vec::new();
    for s in &plan.setups {
        while let Some(o) = done.next_if(|o| o.setup <= s.number) {
            for m in &o.motions {
                field.cut(m, o.face, plate.z(o.face));
            }
        }
        let face = match s.face {
            Face::High => plate.z_high,
            Face::Low => -plate.z_low,
        };
        let depth = |k: usize| Some(face as f32 - field.from(s.face, k)).filter(|d| d.is_finite());
        out.push(WorkPiece {
            setup: s.number,
            first: grid.at(0, 0),
            pitch: grid.pitch,
            size: (grid.nx, grid.ny),
            depths: (0..grid.nx * grid.ny).map(depth).collect(),
        });
    }
    out
}

/// A solid, ready to prove sheets by.
#[derive(Debug)]
pub struct Proof<'a> {
    plate: &'a Plate,
    solid: &'a TaggedMesh,
    want: Field,
    chord: f32,
}

impl<'a> Proof<'a> {
    /// The audited solid of a plate; `chord`: how far its chords lie from their arcs, mm.
    pub fn of(plate: &'a Plate, solid: &'a TaggedMesh, chord: f64) -> Self {
        Self {
            plate,
            solid,
            want: Field::of_mesh(grid(plate), solid),
            chord: chord as f32,
        }
    }
    /// All that is wrong with a sheet.
    pub fn wrong(&self, plan: &PlatePlan) -> Vec<Wrong> {
        let made = simulate(self.plate, plan);
        let mut wrong = self.differs(&made.field, plan);
        for w in &mut wrong {
            if let Wrong::Gouge(place) = w {
                place.by = self.culprit(plan, place);
            }
        }
        wrong.extend(self.too_near(plan));
        for (number, volume) in &made.taken {
            let known = plan.operations.iter().find(|o| o.number == *number);
            if let Some(o) = known.filter(|_| *volume <= 0.0) {
                wrong.push(Wrong::Idle(o.number, o.what.clone()));
            }
        }
        let misfits = bores::misfits(plan, self.solid);
        wrong.extend(misfits.into_iter().map(Wrong::Bore));
        let order = out_of_order(plan)
            .into_iter()
            .chain(unmade(self.plate, plan));
        wrong.extend(order.map(Wrong::Order));
        wrong
    }
    /// Metal of a work piece that another way than the sheet's motions has made, against the solid.
    pub fn differs(&self, made: &Field, plan: &PlatePlan) -> Vec<Wrong> {
        let mut wrong = Vec::new();
        let allowed = allowed(made.grid, plan);
        for face in [Face::High, Face::Low] {
            let off = judged(made, &self.want, face, |k, beside| {
                let rest = (below(beside.highest, beside.made) - allowed[k].max(self.soft(beside)))
                    .max(0.0);
                match self.gouged(beside) {
                    0.0 => rest,
                    gouge => -gouge,
                }
            });
            wrong.extend(worst(made.grid, &off, -1.0, face).map(Wrong::Gouge));
            wrong.extend(worst(made.grid, &off, 1.0, face).map(Wrong::Rest));
        }
        wrong
    }
    /// Where chords stand for arcs, heights may differ by so much, mm.
    fn soft(&self, beside: &Beside) -> f32 {
        if beside.curved { self.chord } else { 0.0 }
    }
    /// How far a place is cut too deep, mm.
    fn gouged(&self, beside: &Beside) -> f32 {
        (below(beside.made, beside.lowest) - self.soft(beside)).max(0.0)
    }
    /// The operation that first cuts below the solid at a place.
    fn culprit(&self, plan: &PlatePlan, place: &Place) -> Option<(usize, String)> {
        let mut field = stock_of(self.plate, plan);
        let k = field.grid.nearest(place.at);
        let over = |field: &Field| {
            let m = field.from(place.face, k);
            let beside = field.grid.around(k).map(|n| self.want.from(place.face, n));
            m < beside.fold(f32::INFINITY, f32::min) - SAME
        };
        plan.operations.iter().find_map(|o| {
            let z = self.plate.z(o.face);
            for m in &o.motions {
                field.cut(m, o.face, z);
            }
            over(&field).then(|| (o.number, o.what.clone()))
        })
    }
    /// Passes that keep off the finished shape do: widened and deepened by what they leave they
    /// still cut nothing that the solid keeps.
    fn too_near(&self, plan: &PlatePlan) -> Option<Wrong> {
        let mut field = stock_of(self.plate, plan);
        let mut any = false;
        for o in plan.operations.iter().filter(|o| o.allowance > 0.0) {
            let z = self.plate.z(o.face);
            for m in &o.motions {
                field.cut(&m.grown(o.allowance, Plate::inward(o.face)), o.face, z);
                any = true;
            }
        }
        if !any {
            return None;
        }
        [Face::High, Face::Low].into_iter().find_map(|face| {
            let off = judged(&field, &self.want, face, |_, beside| -self.gouged(beside));
            worst(field.grid, &off, -1.0, face).map(Wrong::Gouge)
        })
    }
}

/// Steps that no operation finishes: a reamer takes less than two places are apart, and a tap
/// nothing, so their metal does not tell.
fn unmade(plate: &Plate, plan: &PlatePlan) -> Vec<String> {
    let mut out = Vec::new();
    for f in &plate.features {
        let steps = match &f.shape {
            Shape::Hole(h) => h.steps.len(),
            _ => 1,
        };
        for step in 0..steps {
            let done = |m: &Made| m.tag == f.tag && m.step == step;
            if !plan.operations.iter().any(|o| o.makes.iter().any(done)) {
                out.push(format!("no operation makes step {} of {}", step + 1, f.tag));
            }
        }
    }
    out
}

/// How high metal may stand over the solid at each place, mm: what the sheet names.
fn allowed(grid: Grid, plan: &PlatePlan) -> Vec<f32> {
    let mut allowed = vec![0.0f32; grid.nx * grid.ny];
    for r in plan.operations.iter().flat_map(|o| &o.rests) {
        for (j, a, b) in grid.inside(&r.area) {
            for v in &mut allowed[j * grid.nx + a..j * grid.nx + b] {
                *v = v.max(r.height as f32);
            }
        }
    }
    allowed
}

/// A place that is made otherwise than the solid, and the solid around it.
struct Beside {
    /// Height that is made, mm.
    made: f32,
    /// Lowest and highest of the solid there and beside it, mm.
    lowest: f32,
    highest: f32,
    /// Some of it lies on chords.
    curved: bool,
}

/// Places that differ by more than [`SAME`], in order, each with what `by` says of it, mm.
fn judged(
    made: &Field,
    want: &Field,
    face: Face,
    by: impl Fn(usize, &Beside) -> f32 + Sync,
) -> Vec<(usize, f32)> {
    let one = |k: usize| -> Option<(usize, f32)> {
        // Most places agree; only where they do not do the places beside them matter.
        let (m, w) = (made.from(face, k), want.from(face, k));
        if m == w || (m - w).abs() <= SAME {
            return None;
        }
        let mut beside = Beside {
            made: m,
            lowest: f32::INFINITY,
            highest: f32::NEG_INFINITY,
            curved: false,
        };
        for n in made.grid.around(k) {
            let w = want.from(face, n);
            beside.lowest = beside.lowest.min(w);
            beside.highest = beside.highest.max(w);
            beside.curved |= want.curved(face, n);
        }
        let by = by(k, &beside);
        (by.abs() > SAME).then_some((k, by))
    };
    (0..made.high.len())
        .into_par_iter()
        .filter_map(one)
        .collect()
}

/// How far a lies below b, mm; a hole right through counts as 1 m.
fn below(a: f32, b: f32) -> f32 {
    if a == b { 0.0 } else { (b - a).min(1000.0) }
}

/// The deepest place of the largest of the differences of one sign (places in order, each with its
/// height); none when all are small.
fn worst(grid: Grid, off: &[(usize, f32)], sign: f32, face: Face) -> Option<Place> {
    let mut open = vec![0.0f32; if off.is_empty() { 0 } else { grid.nx * grid.ny }];
    for (k, by) in off.iter().filter(|(_, by)| sign * by > 0.0) {
        open[*k] = sign * by;
    }
    let mut found: Option<Place> = None;
    for &(start, _) in off {
        let height = std::mem::take(&mut open[start]);
        if height <= 0.0 {
            continue;
        }
        let (mut stack, mut count, mut deepest) = (vec![start], 0usize, (start, height));
        while let Some(k) = stack.pop() {
            count += 1;
            for n in grid.around(k) {
                let height = std::mem::take(&mut open[n]);
                if height > 0.0 {
                    if height > deepest.1 {
                        deepest = (n, height);
                    }
                    stack.push(n);
                }
            }
        }
        let area = count as f64 * grid.pitch * grid.pitch;
        if area >= LEAST && found.as_ref().is_none_or(|p| area > p.area) {
            found = Some(Place {
                at: grid.at(deepest.0 % grid.nx, deepest.0 / grid.nx),
                face,
                height: f64::from(deepest.1),
                area,
                by: None,
            });
        }
    }
    found
}

/// Whether a plate's making is proved by heights: not what is bought, and not a core that is no
/// body of revolution alone.
pub fn by_heights(plate: &Plate, sheet: &PlatePlan) -> bool {
    let turned = || {
        let above = sheet.operations.iter().filter(|o| o.face == Face::High);
        let mut motions = above.flat_map(|o| &o.motions);
        motions.any(|m| matches!(m, Motion::Bore { .. }))
    };
    match plate.side {
        Side::Pin => false,
        Side::Core => turned(),
        _ => true,
    }
}

/// Proves the sheets of all plates; what is wrong, with the plate's name.
pub fn prove_all(
    design: &Design,
    plan: &ShopPlan,
    solids: &[(String, TaggedMesh)],
    chord: f64,
) -> Vec<(String, Wrong)> {
    let plates: Vec<(&Plate, &PlatePlan)> = design.plates.iter().zip(&plan.plates).collect();
    let of = |(plate, sheet): &(&Plate, &PlatePlan)| -> Vec<(String, Wrong)> {
        let solid = solids.iter().find(|s| s.0 == plate.name);
        let Some((_, solid)) = solid.filter(|_| by_heights(plate, sheet)) else {
            return Vec::new();
        };
        let wrong = Proof::of(plate, solid, chord).wrong(sheet);
        wrong.into_iter().map(|w| (plate.name.clone(), w)).collect()
    };
    plates.par_iter().map(of).collect::<Vec<_>>().concat()
}

#[cfg(test)]
mod tests;
