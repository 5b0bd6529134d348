//! Sharp inner corners rounded to the radius that a cutter leaves anyway.
//!
//! Input: a contour, the side on which the cutter runs, its radius. Output: the contour
//! with an arc tangent to both neighbours in each corner that is sharp for the cutter, the
//! places, and the corners whose edges are too short for that. Arcs that are too tight
//! stay as they are: see [`super::corner`].

use super::contour::{Contour, Point, Segment};
use super::corner::CutterSide;
use super::fillet::{Drawn, round_corners};
use super::segment::turn;

/// A turn of less than this, radians, is no corner (0.06°).
const SMOOTH: f64 = 1e-3;
/// Corners that cannot be rounded before the rest is left as it is.
const MOST_TRIES: usize = 200;

/// A contour with rounded corners.
#[derive(Debug, Clone, PartialEq)]
pub struct Rounded {
    /// The contour.
    pub contour: Contour,
    /// Corners that were rounded.
    pub places: Vec<Point>,
    /// Corners that stay sharp.
    pub left: Vec<Point>,
}

/// Rounds the corners of a contour that are inner ones for a cutter on `side`.
pub fn rounded(contour: &Contour, side: CutterSide, radius: f64) -> Rounded {
    let sign = match side {
        CutterSide::Left => 1.0,
        CutterSide::Right => -1.0,
    };
    let segments: Vec<Segment> = contour.segments().collect();
    let n = segments.len();
    let mut drawn: Vec<Drawn> = segments
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let next = &segments[(i + 1) % n];
            let sharp = sign * turn(s.direction_at(1.0), next.direction_at(0.0)) > SMOOTH;
            Drawn {
                segment: *s,
                step: i,
                fillet: if sharp { radius } else { 0.0 },
            }
        })
        .collect();
    let mut left = Vec::new();
    let corner = |i: usize| segments[i].to();
    for _ in 0..MOST_TRIES {
        match round_corners(&drawn) {
            Ok(c) if c.is_simple() => {
                let places = (0..n).filter(|i| drawn[*i].fillet > 0.0).map(corner);
                return Rounded {
                    places: places.collect(),
                    contour: c,
                    left,
                };
            }
            Ok(_) => break,
            Err(e) => match e
                .step()
                .filter(|i| drawn.get(*i).is_some_and(|d| d.fillet > 0.0))
            {
                Some(i) => {
                    drawn[i].fillet = 0.0;
                    left.push(corner(i));
                }
                None => break,
            },
        }
    }
    left.extend((0..n).filter(|i| drawn[*i].fillet > 0.0).map(corner));
    Rounded {
        contour: contour.clone(),
        places: Vec::new(),
        left,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Vertex, shapes};
    use std::f64::consts::PI;

    #[test]
    fn a_square_inside_and_outside() {
        let c = shapes::rectangle(20.0, 20.0, [0.0; 4]).unwrap();
        let inside = rounded(&c, CutterSide::Left, 3.0);
        assert_eq!((inside.places.len(), inside.left.len()), (4, 0));
        // Each corner loses r²(1 − π/4).
        let lost = 400.0 - inside.contour.signed_area();
        assert!((lost - 36.0 * (1.0 - PI / 4.0)).abs() < 1e-9);
        let outside = rounded(&c, CutterSide::Right, 3.0);
        assert_eq!((outside.contour, outside.places.len()), (c, 0));
    }

    #[test]
    fn a_corner_beside_a_short_edge_stays_and_is_named() {
        // A step of 0.5 mm: its inner corner fits no radius of 3 mm.
        let at = |x, y| Vertex::new(x, y, 0.0);
        let c = Contour::new(vec![
            at(0.0, 0.0),
            at(20.0, 0.0),
            at(20.0, 10.0),
            at(10.0, 10.0),
            at(10.0, 10.5),
            at(0.0, 10.5),
        ]);
        let r = rounded(&c, CutterSide::Left, 3.0);
        assert_eq!((r.places.len(), r.left), (4, vec![Point::new(10.0, 10.5)]));
        assert!(
            r.contour
                .tightest_corner(CutterSide::Left, 0.0)
                .unwrap()
                .radius
                < 1e-9
        );
    }
}
