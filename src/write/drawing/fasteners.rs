//! Screws, nuts, washers and dowels as bodies, for the tool pulled apart.
//!
//! Input: a design, and how far each plate is moved up. Output: one mesh, the axes, and where
//! each item of the parts list stands. Sizes: the designation in the list of hardware, heads by
//! ISO 4762, nuts by ISO 4032, washers by ISO 7089. No threads, no sockets.

use crate::data::fasteners::{self, hexagon_nuts, of, washers};
use crate::design::{Design, Hardware, Plate, Purpose, Shape};
use crate::part::{Form, ProfilePoint};
use crate::sketch::{Point, Region, shapes};
use crate::solid::form_mesh;
use crate::solid::surface::Point3;
use crate::solid::{TaggedMesh, Tolerance};

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

/// Thread or diameter, and length: "M8" and 60 of `… ISO 4762 - M8 x 60 - 8.8`.
fn size(h: &Hardware) -> Option<(&str, f64)> {
    let (thread, rest) = h.designation.split(" - ").nth(1)?.split_once(" x ")?;
    Some((thread.split(' ').next()?, rest.trim().parse().ok()?))
}

/// Length of the longest dowel, mm; 0 without.
pub(super) fn longest_dowel(design: &Design) -> f64 {
    let all = design.hardware.iter().filter(|h| is(h, "ISO 2338"));
    all.filter_map(|h| Some(size(h)?.1)).fold(0.0, f64::max)
}

fn is(h: &Hardware, standard: &str) -> bool {
    h.designation.contains(standard)
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

/// How far below a plate a point is hidden by it from the front right corner, mm: the eye's ray
/// rises as much as it runs in x and in −y.
fn hidden(plate: &Plate, at: Point) -> f64 {
    let b = plate.outline.bounds();
    (b.max.x - at.x).min(at.y - b.min.y)
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
    for (i, h) in design.hardware.iter().enumerate() {
        let item = design.plates.len() + i + 1;
        let core = h.purpose.contains("core");
        if is(h, "ISO 4762") && (core || h.purpose.contains("clamp the halves")) {
            let purpose = if core {
                Purpose::CoreScrew
            } else {
                Purpose::Bolt
            };
            let Some((thread, length)) = size(h) else {
                continue;
            };
            let (Some(head), Some(metric)) = (
                fasteners::socket_head(thread),
                fasteners::metric_thread(thread),
            ) else {
                continue;
            };
            for at in holes(last, purpose) {
                // A screw in the middle of the plate hangs so low that the plate does not hide it.
                let clear = if core {
                    CLEAR.max(hidden(last, at) + CLEAR)
                } else {
                    CLEAR
                };
                let (tip, z) = (bottom - clear, bottom - clear - length);
                let profile = [
                    (0.5 * head.head_dia_mm, z - head.head_height_mm),
                    (0.5 * head.head_dia_mm, z),
                    (0.5 * metric.major_dia_mm, z),
                    (0.5 * metric.major_dia_mm, tip),
                ];
                let middle = z - 0.5 * head.head_height_mm;
                out.add(item, &[at], middle, |at| turned(at, &profile));
                out.axis(at, tip, bottom);
            }
        } else if is(h, "ISO 2338") {
            let (Some((dia, length)), true) = (size(h), stack.len() > 1) else {
                continue;
            };
            let Ok(dia) = dia.parse::<f64>() else {
                continue;
            };
            let (above, up) = stack[stack.len() - 2];
            let (low, high) = (last.z_high + last_up, above.z_low + up);
            let middle = 0.5 * (low + high);
            let (from, to) = (middle - 0.5 * length, middle + 0.5 * length);
            let profile = [(0.5 * dia, from), (0.5 * dia, to)];
            let places = holes(last, Purpose::Dowel);
            out.add(item, &places, middle, |at| turned(at, &profile));
            for at in &places {
                out.axis(*at, low, from);
                out.axis(*at, to, high);
            }
        } else if is(h, "ISO 4032") {
            let thread = h.designation.split(" - ").nth(1).unwrap_or_default();
            let Some(nut) = of(hexagon_nuts(), thread) else {
                continue;
            };
            let profile = [0.0, nut.height_mm].map(|dz| ProfilePoint::new(0.0, top + CLEAR + dz));
            let places = holes(last, Purpose::Bolt);
            let middle = top + CLEAR + 0.5 * nut.height_mm;
            out.add(item, &places, middle, |at| {
                let hexagon =
                    shapes::polygon(6, nut.flats_mm * 2.0 / 3f64.sqrt(), 0.0, 0.0).ok()?;
                Some(Form::Prism {
                    region: Region::simple(hexagon.translated(at.coords)),
                    profile: profile.to_vec(),
                })
            });
            for at in &places {
                out.axis(*at, top, top + CLEAR);
            }
        } else if is(h, "ISO 7089") {
            let name = h.designation.split(" - ").nth(1).unwrap_or_default();
            let Some(washer) = of(washers(), &format!("M{name}")) else {
                continue;
            };
            let places = holes(last, Purpose::Bolt);
            for z in [bottom - 0.5 * CLEAR, top + 0.5 * CLEAR] {
                let r = 0.5 * washer.outside_mm;
                let profile = [(r, z), (r, z + washer.thickness_mm)];
                out.add(item, &places, z, |at| turned(at, &profile));
            }
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

fn turned(at: Point, profile: &[(f64, f64)]) -> Option<Form> {
    let profile = profile.iter().map(|(r, z)| ProfilePoint::new(*r, *z));
    Some(Form::Turned {
        at,
        profile: profile.collect(),
    })
}

impl Pieces {
    fn add(&mut self, item: usize, places: &[Point], z: f64, form: impl Fn(Point) -> Option<Form>) {
        for at in places {
            let mesh = form(*at).and_then(|f| form_mesh(&f, &Tolerance::with_chord(CHORD)).ok());
            let Some(mesh) = mesh else { continue };
            self.mesh.append(&mesh);
            let at = Point3::new(at.x, at.y, z);
            match self.items.iter_mut().find(|i| i.0 == item) {
                Some(i) => i.1.push(at),
                None => self.items.push((item, vec![at])),
            }
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
    use crate::design::sample;

    #[test]
    fn each_screw_and_dowel_stands_below_its_hole_in_its_true_size() {
        let mut design = sample::design();
        let hardware = |count, designation: &str, purpose: &str| Hardware {
            count,
            designation: designation.into(),
            purpose: purpose.into(),
        };
        let screws = holes(&design.plates[1], Purpose::Bolt).len();
        let pins = holes(&design.plates[1], Purpose::Dowel).len();
        assert!(screws > 1 && pins > 1);
        design.hardware = vec![
            hardware(
                screws,
                "Hexagon socket head cap screw ISO 4762 - M8 x 30 - 8.8",
                "clamp the halves",
            ),
            hardware(pins, "Dowel pin ISO 2338 - 6 m6 x 24 - St", "line up"),
        ];
        assert_eq!(longest_dowel(&design), 24.0);
        let p = pieces(&design, &[(0, 50.0), (1, -50.0)]);
        let count = |item: usize| p.items.iter().find(|i| i.0 == item).map(|i| i.1.len());
        assert_eq!((count(3), count(4)), (Some(screws), Some(pins)));
        // ISO 4762 M8: head 13 × 8. Volume of all, by hand, less than the chord error lets go.
        let pi = std::f64::consts::PI;
        let screw = pi / 4.0 * (13.0 * 13.0 * 8.0 + 8.0 * 8.0 * 30.0);
        let pin = pi / 4.0 * 6.0 * 6.0 * 24.0;
        let want = screws as f64 * screw + pins as f64 * pin;
        assert!((p.mesh.volume() / want - 1.0).abs() < 0.05);
        let (low, _) = p.mesh.bounds().expect("a body");
        let bottom = design.plates[1].z_low - 50.0;
        assert!((low.z - (bottom - CLEAR - 30.0 - 8.0)).abs() < 1e-9);
    }
}
