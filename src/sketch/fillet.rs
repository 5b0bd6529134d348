//! Rounded corners of a free path.
//!
//! Input: drawn segments, each with the radius of the corner at its end. Output:
//! the contour with an arc tangent to both neighbours at each rounded corner.
//! Between lines in closed form, else by meeting the neighbours' carriers moved by the radius.

use super::carrier::Carrier;
use super::contour::{Contour, Segment, Vertex};
use super::freeform::{FreePathError, SAME};
use super::segment::turn;
use std::f64::consts::PI;

/// A segment, the step it came from, and the corner radius at its end.
pub(super) struct Drawn {
    pub segment: Segment,
    pub step: usize,
    pub fillet: f64,
}

/// A corner's fillet: where it leaves the first segment (fraction), where it
/// joins the second, and its bulge.
struct Fillet {
    leaves: f64,
    joins: f64,
    bulge: f64,
}

fn fillet(a: &Drawn, b: &Segment) -> Result<Option<Fillet>, FreePathError> {
    let radius = a.fillet;
    let nowhere = FreePathError::FilletNowhere {
        step: a.step,
        radius,
    };
    let corner = a.segment.to();
    let angle = turn(a.segment.direction_at(1.0), b.direction_at(0.0));
    if radius == 0.0 || angle.abs() < 1e-7 {
        return Ok(None);
    }
    if angle.abs() > PI - 1e-6 {
        return Err(nowhere);
    }
    if let (Segment::Line { .. }, Segment::Line { .. }) = (&a.segment, b) {
        let used = radius * (0.5 * angle.abs()).tan();
        return Ok(Some(Fillet {
            leaves: 1.0 - used / a.segment.length(),
            joins: used / b.length(),
            bulge: (0.25 * angle).tan(),
        }));
    }
    let shift = radius * angle.signum();
    let centre = a
        .segment
        .shifted_left(shift)
        .zip(b.shifted_left(shift))
        .and_then(|(s, t)| Carrier::of(&s).zip(Carrier::of(&t)))
        .and_then(|(s, t)| s.meet(&t))
        .and_then(|m| {
            m.into_iter()
                .min_by(|p, q| (p - corner).norm().total_cmp(&(q - corner).norm()))
        })
        .ok_or(nowhere.clone())?;
    let (leaves, joins) = (a.segment.closest(centre), b.closest(centre));
    let (p, q) = (
        a.segment.point_at(leaves) - centre,
        b.point_at(joins) - centre,
    );
    if (p.norm() - radius).abs() > SAME || (q.norm() - radius).abs() > SAME {
        return Err(nowhere);
    }
    Ok(Some(Fillet {
        leaves,
        joins,
        bulge: (0.25 * turn(p, q)).tan(),
    }))
}

/// The closed contour of drawn segments with their corners rounded.
pub(super) fn round_corners(drawn: &[Drawn]) -> Result<Contour, FreePathError> {
    let n = drawn.len();
    let corners = (0..n)
        .map(|i| fillet(&drawn[i], &drawn[(i + 1) % n].segment))
        .collect::<Result<Vec<_>, _>>()?;
    let mut vertices = Vec::with_capacity(2 * n);
    for i in 0..n {
        let d = &drawn[i];
        let begin = corners[(i + n - 1) % n].as_ref().map_or(0.0, |c| c.joins);
        let end = corners[i].as_ref().map_or(1.0, |c| c.leaves);
        let length = d.segment.length();
        if end - begin < -1e-9 {
            let at_end = &drawn[if corners[i].is_some() {
                i
            } else {
                (i + n - 1) % n
            }];
            return Err(FreePathError::Fillet {
                step: at_end.step,
                radius: at_end.fillet,
                needs: (begin + 1.0 - end) * length,
                length,
            });
        }
        if (end - begin) * length > SAME {
            vertices.push(d.segment.piece(begin, end).vertex());
        }
        if let Some(c) = &corners[i] {
            vertices.push(Vertex {
                at: d.segment.point_at(end),
                bulge: c.bulge,
            });
        }
    }
    Ok(Contour::new(vertices))
}
