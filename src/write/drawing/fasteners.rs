//! Bought pieces pulled out along their axes, for the exploded picture.
//!
//! Input: a design (each piece has a body where it sits in the closed mold), and how far each
//! plate is moved up. Output: one mesh, the axes, and where each item of the parts list stands.

use crate::design::{Design, Hardware, Item, Plate, Purpose, Shape, Use};
use crate::part::Form;
use crate::sketch::Point;
use crate::solid::surface::Point3;
use crate::solid::{TaggedMesh, Tolerance, form_mesh};

/// Between a screw and the plate it goes into, mm; a washer lies in the middle.
const CLEAR: f64 = 14.0;
/// Chord error of the small bodies, mm: a picture.
const CHORD: f64 = 0.1;

/// The small parts of the picture.
#[derive(Default)]
pub(super) struct Pieces {
    pub mesh: TaggedMesh,
    /// Axes in the open, as pairs of ends.
    pub axes: Vec<(Point3, Point3)>,
    /// Item of the parts list, and where each of its pieces stands.
    pub items: Vec<(usize, Vec<Point3>)>,
}

fn is_pin(h: &Hardware) -> bool {
    matches!(h.item, Item::Pin { .. })
}

/// A piece as it sits in the closed mold.
struct Piece {
    mesh: TaggedMesh,
    at: Point,
    radius: f64,
    low: f64,
    high: f64,
}

impl Piece {
    fn of(form: &Form) -> Option<Self> {
        let mesh = form_mesh(form, &Tolerance::with_chord(CHORD)).ok()?;
        let (low, high) = mesh.bounds()?;
        Some(Self {
            at: Point::new(0.5 * (low.x + high.x), 0.5 * (low.y + high.y)),
            radius: 0.5 * (high.x - low.x),
            low: low.z,
            high: high.z,
            mesh,
        })
    }
}

/// Length of the longest dowel, mm; 0 without.
pub(super) fn longest_dowel(design: &Design) -> f64 {
    let all = design.hardware.iter().filter(|h| is_pin(h));
    all.flat_map(|h| &h.bodies)
        .map(Form::extent)
        .map(|e| e.high - e.low)
        .fold(0.0, f64::max)
}

/// How far below a plate a point is hidden by it from the front right corner, mm: the eye's ray
/// rises as much as it runs in x and in −y.
fn hidden(plate: &Plate, at: Point) -> f64 {
    let b = plate.outline.bounds();
    (b.max.x - at.x).min(at.y - b.min.y)
}

/// How far below the plate a piece must begin that is not to be drawn over the screws which
/// hang in front of it, mm: seen alike, a way of 2 in y − x is one of 1 in z.
fn below_screws(screws: &[&Piece], core: &Piece) -> f64 {
    let along = |p: Point| 0.5 * (p.y - p.x);
    let across = |p: Point| (p.x + p.y) / std::f64::consts::SQRT_2;
    screws
        .iter()
        .filter(|s| (across(s.at) - across(core.at)).abs() < s.radius + core.radius)
        .filter(|s| along(s.at) <= along(core.at))
        .map(|s| CLEAR + s.high - s.low + along(core.at) - along(s.at) + 0.5 * CLEAR)
        .fold(0.0, f64::max)
}

/// The pieces; `bodies` are indices of plates from the top down, each with its shift, mm.
pub(super) fn pieces(design: &Design, bodies: &[(usize, f64)]) -> Pieces {
    let mut out = Pieces::default();
    let stack: Vec<(&Plate, f64)> = bodies
        .iter()
        .filter_map(|(i, up)| Some((design.plates.get(*i)?, *up)))
        .filter(|(p, _)| p.side.stacked())
        .collect();
    let (Some((first, first_up)), Some((last, last_up))) = (stack.first(), stack.last()) else {
        return out;
    };
    let (top, bottom) = (first.z_high + first_up, last.z_low + last_up);
    let holds_core = |h: &Hardware| matches!(h.purpose, Use::HoldCore { .. });
    let hangs = |p: &Piece| p.low < last.z_low + 0.5 * last.thickness();
    let all: Vec<(&Hardware, Vec<Piece>)> = design
        .hardware
        .iter()
        .map(|h| (h, h.bodies.iter().filter_map(Piece::of).collect()))
        .collect();
    let clamps: Vec<&Piece> = all
        .iter()
        .filter(|(h, _)| matches!(h.item, Item::CapScrew { .. }) && !holds_core(h))
        .flat_map(|(_, pieces)| pieces)
        .filter(|p| hangs(p))
        .collect();
    for (i, (h, pieces)) in all.iter().enumerate() {
        let item = design.plates.len() + i + 1;
        let washer = matches!(h.item, Item::Washer { .. });
        for piece in pieces {
            let (at, length) = (piece.at, piece.high - piece.low);
            // The lowest joint that a dowel crosses.
            let joint = stack
                .windows(2)
                .rev()
                .filter(|_| is_pin(h))
                .find(|w| piece.low < w[0].0.z_low - 1e-6 && piece.high > w[0].0.z_low + 1e-6);
            let from = if let Some(w) = joint {
                let (low, high) = (w[1].0.z_high + w[1].1, w[0].0.z_low + w[0].1);
                let from = 0.5 * (low + high - length);
                out.axis(at, low, from);
                out.axis(at, from + length, high);
                from
            } else if hangs(piece) && !matches!(h.item, Item::Nut { .. }) {
                // A screw in the middle of the plate hangs so low that the plate does not hide it.
                let clear = match (washer, holds_core(h)) {
                    (true, _) => 0.5 * CLEAR,
                    (false, true) => (CLEAR + hidden(last, at)).max(below_screws(&clamps, piece)),
                    (false, false) => CLEAR,
                };
                if !washer {
                    out.axis(at, bottom - clear, bottom);
                }
                bottom - clear - length
            } else {
                let clear = if washer { 0.5 * CLEAR } else { CLEAR };
                if !washer {
                    out.axis(at, top, top + clear);
                }
                top + clear
            };
            out.add(item, piece, from);
        }
    }
    for pair in stack.windows(2) {
        let ((upper, up), (lower, down)) = (pair[0], pair[1]);
        let (low, high) = (lower.z_high + down, upper.z_low + up);
        for at in holes(lower, Purpose::Bolt) {
            out.axis(at, low, high);
        }
        // In the lowest gap the dowels stand on their axes.
        if !std::ptr::eq(lower, *last) {
            for at in holes(lower, Purpose::Dowel) {
                out.axis(at, low, high);
            }
        }
    }
    out
}

/// Places of the holes of one purpose.
fn holes(plate: &Plate, purpose: Purpose) -> Vec<Point> {
    let of = plate.features.iter().filter(|f| f.purpose == purpose);
    of.filter_map(|f| match &f.shape {
        Shape::Hole(h) => Some(h.at),
        _ => None,
    })
    .collect()
}

impl Pieces {
    /// A piece with its lowest point at a height.
    fn add(&mut self, item: usize, piece: &Piece, from: f64) {
        let mut mesh = piece.mesh.clone();
        for p in &mut mesh.points {
            p.z += from - piece.low;
        }
        self.mesh.append(&mesh);
        // The number points at the lower end: the head of a screw.
        let z = from + (0.5 * (piece.high - piece.low)).min(4.0);
        let at = Point3::new(piece.at.x, piece.at.y, z);
        match self.items.iter_mut().find(|i| i.0 == item) {
            Some(i) => i.1.push(at),
            None => self.items.push((item, vec![at])),
        }
    }
    fn axis(&mut self, at: Point, from: f64, to: f64) {
        let point = |z: f64| Point3::new(at.x, at.y, z);
        self.axes.push((point(from), point(to)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::{self, Hints};

    #[test]
    fn each_screw_and_dowel_stands_on_its_axis_in_its_true_size() {
        let text = "[part]\nthickness = 4\noutline = { shape = \"circle\", diameter = 90 }\n";
        let job = crate::spec::read(text).expect("a job");
        let design = design::design(&job, "x", &Hints::default()).expect("a design");
        let p = pieces(&design, &[(0, 50.0), (1, -50.0)]);
        let of = |words: &str| {
            let i = design
                .hardware
                .iter()
                .position(|h| h.item.to_string().contains(words))
                .expect("in the list");
            let item = p.items.iter().find(|k| k.0 == design.plates.len() + i + 1);
            (&design.hardware[i], item.expect("in the picture"))
        };
        let b = &design.plates[1];
        let bottom = b.z_low - 50.0;
        for (words, purpose) in [("ISO 4762", Purpose::Bolt), ("ISO 2338", Purpose::Dowel)] {
            let (h, (_, places)) = of(words);
            assert_eq!(places.len(), h.count);
            let holes = holes(b, purpose);
            for at in places {
                let on_axis = holes
                    .iter()
                    .any(|q| (q - Point::new(at.x, at.y)).norm() < 1e-6);
                assert!(on_axis, "{at:?}");
                // Screws below everything, dowels between the plates.
                assert_eq!(at.z < bottom, purpose == Purpose::Bolt);
            }
        }
        let want: f64 = design
            .hardware
            .iter()
            .flat_map(|h| &h.bodies)
            .filter_map(Piece::of)
            .map(|p| p.mesh.volume())
            .sum();
        assert!((p.mesh.volume() / want - 1.0).abs() < 1e-9 && want > 1000.0);
        assert!(longest_dowel(&design) > 10.0);
    }
}
