//! How a plate lies on the machine: the face that looks up, and the coordinates read there.
//!
//! Input: a plate and one of its faces. Output: points and contours as seen from
//! that face, X to the right, Y up, zero at the plate's datum.
//! Does not decide which face a feature is cut from.
//!
//! **The convention, printed on every sheet.** The plate is turned over sideways,
//! like a page (about the Y axis). The zero point stays the *same corner of the
//! same piece of metal*, so that an error of the stock's width cannot move the
//! holes of one plate against those of the other. Seen from the upper face the
//! datum corner stands at the lower left and X counts positive; seen from the
//! lower face the same corner stands at the lower right and X counts negative,
//! to the left. Y is the same in both views.

use crate::design::{Face, Plate};
use crate::sketch::{Contour, Path, Point, Region, Vertex};

/// The coordinates of one face of a plate lying on the machine table, this face up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaceView {
    /// The face looking at the machinist.
    pub face: Face,
    /// Zero point, mold coordinates, mm.
    pub datum: Point,
}

impl FaceView {
    /// The view on a face of a plate.
    pub fn on(plate: &Plate, face: Face) -> Self {
        Self {
            face,
            datum: plate.datum,
        }
    }
    /// The view on the reference face: the one that drawings and DXF files show.
    pub fn of(plate: &Plate) -> Self {
        Self::on(plate, plate.reference)
    }
    /// True when X runs against the mold's x (the lower face seen from below).
    pub fn mirrored(&self) -> bool {
        self.face == Face::Low
    }
    /// A point as read from this face, mm from the datum.
    pub fn point(&self, p: Point) -> Point {
        let d = p - self.datum;
        // `0.0 -` instead of a minus sign: never "-0".
        Point::new(if self.mirrored() { 0.0 - d.x } else { d.x }, d.y)
    }
    /// A contour as seen from this face; its sense (counter-clockwise or not) is kept.
    pub fn contour(&self, c: &Contour) -> Contour {
        let n = c.vertices.len();
        if !self.mirrored() {
            return Contour::new(self.vertices(&c.vertices));
        }
        // Mirroring turns the sense round; running backwards turns it back. Then each
        // segment keeps its bulge: the two sign changes cancel.
        Contour::new(
            (0..n)
                .map(|i| Vertex {
                    at: self.point(c.vertices[(n - i) % n].at),
                    bulge: c.vertices[(n - i + n - 1) % n].bulge,
                })
                .collect(),
        )
    }
    /// An open path as seen from this face, in its own direction.
    pub fn path(&self, p: &Path) -> Path {
        Path {
            vertices: self.vertices(&p.vertices),
        }
    }
    /// A region as seen from this face.
    pub fn region(&self, r: &Region) -> Region {
        Region {
            outer: self.contour(&r.outer),
            holes: r.holes.iter().map(|h| self.contour(h)).collect(),
        }
    }
    fn vertices(&self, v: &[Vertex]) -> Vec<Vertex> {
        let s = if self.mirrored() { -1.0 } else { 1.0 };
        v.iter()
            .map(|v| Vertex {
                at: self.point(v.at),
                bulge: v.bulge * s,
            })
            .collect()
    }
    /// What stands on the sheet beside coordinates read in this view.
    pub fn note(&self) -> &'static str {
        match self.face {
            Face::High => "seen from the upper face: X to the right, Y up, from the datum",
            Face::Low => {
                "seen from the lower face (plate turned over sideways): the datum is the same \
                 corner of the metal, now at the right, so X counts negative to the left; \
                 Y up as before"
            }
        }
    }
}

/// Name of a face for people: what it looks at.
pub fn face_name(plate: &Plate, face: Face) -> &'static str {
    use crate::design::Side;
    match (plate.side, face == plate.reference, face) {
        (Side::Adaptor, _, Face::High) => "nozzle face",
        (Side::Adaptor, _, Face::Low) => "back face",
        (Side::Reducer, _, Face::High) => "nozzle end",
        (Side::Reducer, _, Face::Low) => "mold end",
        (Side::Core, true, _) => "core end",
        (Side::Sheet | Side::Island | Side::Pin, true, _) => "nozzle-side face",
        (Side::Sheet | Side::Island | Side::Pin, false, _) => "back face",
        (_, true, _) => "parting face",
        (Side::A, false, _) => "nozzle face",
        (Side::B, false, _) => "back face",
        (Side::Core, false, _) => "spigot end",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;
    use crate::sketch::Segment;

    #[test]
    fn the_same_hole_has_opposite_x_on_the_two_faces() {
        let a = sample::plate_a();
        let p = Point::new(48.0, 5.0);
        let up = FaceView::on(&a, Face::High).point(p);
        let down = FaceView::on(&a, Face::Low).point(p);
        assert_eq!((up.x, up.y), (108.0, 65.0));
        assert_eq!((down.x, down.y), (-108.0, 65.0));
        assert!(
            FaceView::on(&a, Face::Low)
                .point(a.datum)
                .x
                .is_sign_positive()
        );
    }

    #[test]
    fn a_mirrored_contour_keeps_area_sense_and_centres() {
        let r = sample::rounded(60.0, 3.0);
        let a = sample::plate_a();
        let view = FaceView::on(&a, Face::Low);
        let m = view.contour(&r.outer);
        assert!((m.signed_area() - r.outer.signed_area()).abs() < 1e-9);
        let mut before: Vec<(i64, i64)> = centres(&r.outer, |p| view.point(p));
        let mut after = centres(&m, |p| p);
        before.sort();
        after.sort();
        assert_eq!(before, after);
        assert_eq!(before.len(), 4);
    }

    fn centres(c: &Contour, f: impl Fn(Point) -> Point) -> Vec<(i64, i64)> {
        c.segments()
            .filter_map(|s| match s {
                Segment::Arc { centre, .. } => {
                    let p = f(centre);
                    Some(((p.x * 1e6).round() as i64, (p.y * 1e6).round() as i64))
                }
                Segment::Line { .. } => None,
            })
            .collect()
    }
}
