//! Ready shapes: circle, rectangle, slot, regular polygon, star, ring, keyhole, comb.
//!
//! Input: dimensions in millimetres and degrees. Output: a counter-clockwise
//! [`Contour`] about (0, 0). Free paths are in [`super::freeform`].

use super::contour::{Contour, Vertex};
use super::freeform::{Step, free_path};
use platewright_base::shown;
use std::f64::consts::{PI, TAU};

/// Largest size of any shape, mm. A limit against slips of the pen, not of the algorithms.
pub const LARGEST: f64 = 5000.0;
/// Smallest size of any shape, mm.
pub const SMALLEST: f64 = 0.01;
/// Most sides of a regular polygon.
pub const MOST_SIDES: u32 = 360;

/// Why a shape cannot be drawn.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ShapeError {
    /// A size that is not a sensible length.
    #[error("{what} is {}, it must lie between {} and {}", shown::size(*.value), shown::bare_size(SMALLEST), shown::size(LARGEST))]
    Size {
        /// Which size.
        what: &'static str,
        /// Its value, mm.
        value: f64,
    },
    /// Corner radii that do not fit an edge.
    #[error("corner radius {} needs {} of edge, the {edge} is {}", radii(*.first, *.second), shown::size(*.needs), shown::size(*.length))]
    CornerRadius {
        /// Radius at one end of the edge, mm.
        first: f64,
        /// Radius at the other end, mm.
        second: f64,
        /// Edge used up by both, mm.
        needs: f64,
        /// Which edge.
        edge: &'static str,
        /// Its length, mm.
        length: f64,
    },
    /// A negative corner radius.
    #[error("corner radius is {}, it must be 0 or more", shown::size(*.0))]
    NegativeRadius(f64),
    /// A slot that is wider than long.
    #[error("slot length over all {} must be greater than its width {}", shown::size(*.length), shown::size(*.width))]
    SlotTooShort {
        /// Length over all, mm.
        length: f64,
        /// Width, mm.
        width: f64,
    },
    /// A number of sides out of range.
    #[error("a polygon has 3 to {MOST_SIDES} sides, not {0}")]
    Sides(u32),
    /// An angle that is no number.
    #[error("angle is {0} degrees, it must be a finite number")]
    Angle(f64),
    /// A size that leaves nothing beside another.
    #[error("{what} {} must be less than {}, {than}", shown::size(*.value), shown::size(*.limit))]
    TooLarge {
        /// Which size.
        what: &'static str,
        /// Its value, mm.
        value: f64,
        /// What it must stay below, mm.
        limit: f64,
        /// What that is.
        than: &'static str,
    },
}

fn radii(a: f64, b: f64) -> String {
    if a == b {
        shown::size(a)
    } else {
        format!("{} + {}", shown::bare_size(a), shown::size(b))
    }
}

fn size(what: &'static str, value: f64) -> Result<f64, ShapeError> {
    if value.is_finite() && (SMALLEST..=LARGEST).contains(&value) {
        Ok(value)
    } else {
        Err(ShapeError::Size { what, value })
    }
}

/// A circle as two half circles.
///
/// # Errors
/// [`ShapeError::Size`].
pub fn circle(diameter: f64) -> Result<Contour, ShapeError> {
    let r = 0.5 * size("diameter", diameter)?;
    Ok(Contour::new(vec![
        Vertex::new(r, 0.0, 1.0),
        Vertex::new(-r, 0.0, 1.0),
    ]))
}

/// A rectangle with corner radii in the order lower left, lower right, upper
/// right, upper left; 0 = sharp.
///
/// # Errors
/// Sizes out of range, radii that do not fit an edge.
pub fn rectangle(width: f64, height: f64, corner_radius: [f64; 4]) -> Result<Contour, ShapeError> {
    let (w, h) = (size("width", width)?, size("height", height)?);
    for r in corner_radius {
        if !(r.is_finite() && r >= 0.0) {
            return Err(ShapeError::NegativeRadius(r));
        }
    }
    let edges = ["lower edge", "right edge", "upper edge", "left edge"];
    for (i, edge) in edges.into_iter().enumerate() {
        let (first, second) = (corner_radius[i], corner_radius[(i + 1) % 4]);
        let length = if i % 2 == 0 { w } else { h };
        if first + second > length * (1.0 + 1e-12) {
            return Err(ShapeError::CornerRadius {
                first,
                second,
                needs: first + second,
                edge,
                length,
            });
        }
    }
    let corner = [
        (-0.5 * w, -0.5 * h),
        (0.5 * w, -0.5 * h),
        (0.5 * w, 0.5 * h),
        (-0.5 * w, 0.5 * h),
    ];
    // Directions of the edges that start at each corner.
    let along = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)];
    let quarter = (PI / 8.0).tan();
    let mut vertices = Vec::with_capacity(8);
    for i in 0..4 {
        let ((x, y), r) = (corner[i], corner_radius[i]);
        let (into, out) = (along[(i + 3) % 4], along[i]);
        if r > 0.0 {
            vertices.push(Vertex::new(x - into.0 * r, y - into.1 * r, quarter));
        }
        vertices.push(Vertex::new(x + out.0 * r, y + out.1 * r, 0.0));
    }
    Ok(Contour::new(drop_repeats(vertices)))
}

/// Merges vertices that fall on the next one (two radii using up a whole edge).
fn drop_repeats(vertices: Vec<Vertex>) -> Vec<Vertex> {
    let n = vertices.len();
    (0..n)
        .filter(|i| {
            let (a, b) = (vertices[*i], vertices[(i + 1) % n]);
            a.bulge != 0.0 || (b.at - a.at).norm() > 1e-9
        })
        .map(|i| vertices[i])
        .collect()
}

/// A slot with half-round ends: `length` over all along x, turned by `angle_deg`.
///
/// # Errors
/// Sizes out of range, a slot that is not longer than wide.
pub fn slot(length: f64, width: f64, angle_deg: f64) -> Result<Contour, ShapeError> {
    let (l, w) = (size("length", length)?, size("width", width)?);
    if !angle_deg.is_finite() {
        return Err(ShapeError::Angle(angle_deg));
    }
    if l <= w {
        return Err(ShapeError::SlotTooShort {
            length: l,
            width: w,
        });
    }
    let (half, r) = (0.5 * (l - w), 0.5 * w);
    Ok(Contour::new(vec![
        Vertex::new(-half, -r, 0.0),
        Vertex::new(half, -r, 1.0),
        Vertex::new(half, r, 0.0),
        Vertex::new(-half, r, 1.0),
    ])
    .rotated(angle_deg))
}

/// A regular polygon with one side at the bottom, in a circle of `diameter`,
/// corners rounded with `corner_radius`, turned by `angle_deg`.
///
/// # Errors
/// Sides or sizes out of range, a radius that does not fit the sides.
pub fn polygon(
    sides: u32,
    diameter: f64,
    corner_radius: f64,
    angle_deg: f64,
) -> Result<Contour, ShapeError> {
    let r = 0.5 * size("diameter", diameter)?;
    if !(3..=MOST_SIDES).contains(&sides) {
        return Err(ShapeError::Sides(sides));
    }
    if !(corner_radius.is_finite() && corner_radius >= 0.0) {
        return Err(ShapeError::NegativeRadius(corner_radius));
    }
    if !angle_deg.is_finite() {
        return Err(ShapeError::Angle(angle_deg));
    }
    let step = TAU / f64::from(sides);
    let side = 2.0 * r * (0.5 * step).sin();
    let used = corner_radius * (0.5 * step).tan();
    if 2.0 * used > side * (1.0 + 1e-12) {
        return Err(ShapeError::CornerRadius {
            first: corner_radius,
            second: corner_radius,
            needs: 2.0 * used,
            edge: "side",
            length: side,
        });
    }
    let first = -0.5 * PI - 0.5 * step;
    let bulge = (0.25 * step).tan();
    let mut vertices = Vec::new();
    for i in 0..sides {
        let a = first + step * f64::from(i);
        let corner = nalgebra::Vector2::new(a.cos(), a.sin()) * r;
        if corner_radius == 0.0 {
            vertices.push(Vertex::new(corner.x, corner.y, 0.0));
            continue;
        }
        let edge = |a: f64| nalgebra::Vector2::new(-a.sin(), a.cos());
        let p = corner - edge(a - 0.5 * step) * used;
        let q = corner + edge(a + 0.5 * step) * used;
        vertices.push(Vertex::new(p.x, p.y, bulge));
        vertices.push(Vertex::new(q.x, q.y, 0.0));
    }
    Ok(Contour::new(drop_repeats(vertices)).rotated(angle_deg))
}

/// `what` must stay below `limit`, which is `than`.
fn below(what: &'static str, value: f64, limit: f64, than: &'static str) -> Result<(), ShapeError> {
    if value < limit {
        return Ok(());
    }
    Err(ShapeError::TooLarge {
        what,
        value,
        limit,
        than,
    })
}

/// Lines from corner to corner, each corner rounded by its radius.
fn rounded_corners(
    corners: &[(super::Point, f64)],
    edge: &'static str,
) -> Result<Contour, ShapeError> {
    let steps: Vec<Step> = (corners.iter())
        .map(|&(to, fillet)| Step::Line { to, fillet })
        .collect();
    let start = corners.last().map_or(super::Point::origin(), |c| c.0);
    free_path(start, &steps).map_err(|e| match e {
        super::freeform::FreePathError::Fillet {
            radius,
            needs,
            length,
            ..
        } => ShapeError::CornerRadius {
            first: radius,
            second: radius,
            needs,
            edge,
            length,
        },
        _ => ShapeError::NegativeRadius(corners.iter().map(|c| c.1).fold(0.0, f64::min)),
    })
}

/// A star: `points` tips on the circle `diameter`, the corners between them on
/// `inner_diameter`, all rounded by `corner_radius`; one tip points up.
///
/// # Errors
/// Sizes, numbers or radii out of range.
pub fn star(
    points: u32,
    diameter: f64,
    inner_diameter: f64,
    corner_radius: f64,
    angle_deg: f64,
) -> Result<Contour, ShapeError> {
    if !(3..=MOST_SIDES).contains(&points) {
        return Err(ShapeError::Sides(points));
    }
    let (outer, inner) = (
        size("diameter", diameter)?,
        size("inner diameter", inner_diameter)?,
    );
    below("inner diameter", inner, outer, "the diameter over the tips")?;
    if !angle_deg.is_finite() {
        return Err(ShapeError::Angle(angle_deg));
    }
    if !(corner_radius.is_finite() && corner_radius >= 0.0) {
        return Err(ShapeError::NegativeRadius(corner_radius));
    }
    let step = PI / f64::from(points);
    let corners: Vec<_> = (0..2 * points)
        .map(|i| {
            let r = 0.5 * if i % 2 == 0 { outer } else { inner };
            let a = 0.5 * PI + step * f64::from(i);
            (super::Point::new(r * a.cos(), r * a.sin()), corner_radius)
        })
        .collect();
    Ok(rounded_corners(&corners, "side of a point")?.rotated(angle_deg))
}

/// A ring about (0, 0).
///
/// # Errors
/// Sizes out of range, an inner diameter that is not the smaller one.
pub fn ring(diameter: f64, inner_diameter: f64) -> Result<super::Region, ShapeError> {
    let outer = circle(diameter)?;
    let inner = size("inner diameter", inner_diameter)?;
    below("inner diameter", inner, diameter, "the outer diameter")?;
    Ok(super::Region {
        outer,
        holes: vec![circle(inner)?.clockwise()],
    })
}

/// A keyhole: a round head about (0, 0) and a slot upward from it with a round end, `length`
/// over both. A screw head passes the one, its shank stays in the other.
///
/// # Errors
/// Sizes out of range, a slot as wide as the head, a length that leaves no slot.
pub fn keyhole(
    diameter: f64,
    width: f64,
    length: f64,
    angle_deg: f64,
) -> Result<Contour, ShapeError> {
    let (d, w, l) = (
        size("diameter", diameter)?,
        size("width", width)?,
        size("length", length)?,
    );
    below("width", w, d, "the diameter of the head")?;
    if !angle_deg.is_finite() {
        return Err(ShapeError::Angle(angle_deg));
    }
    let (r, half) = (0.5 * d, 0.5 * w);
    let neck = (r * r - half * half).sqrt();
    let end = l - r - half;
    if end <= neck {
        return Err(ShapeError::SlotTooShort {
            length: l,
            width: neck + r + half,
        });
    }
    let round = 2.0 * PI - 2.0 * (half / r).asin();
    Ok(Contour::new(vec![
        Vertex::new(half, neck, 0.0),
        Vertex::new(half, end, 1.0),
        Vertex::new(-half, end, 0.0),
        // Two arcs: none longer than a half circle.
        Vertex::new(-half, neck, (round / 8.0).tan()),
        Vertex::new(0.0, -r, (round / 8.0).tan()),
    ])
    .rotated(angle_deg))
}

/// The sizes of a comb, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comb {
    /// Over all, in x.
    pub width: f64,
    /// Over all, in y.
    pub height: f64,
    /// Number of teeth; the outer ones end flush with the back.
    pub teeth: u32,
    /// Width of a tooth; its tip is round.
    pub tooth_width: f64,
    /// Length of a tooth.
    pub tooth_length: f64,
    /// Radius of the upper corners.
    pub corner_radius: f64,
}

impl Comb {
    /// Width of the gap between two teeth, mm.
    pub fn gap(&self) -> f64 {
        let n = f64::from(self.teeth);
        (self.width - n * self.tooth_width) / (n - 1.0)
    }
    /// The outline about the middle of its box, teeth downward.
    ///
    /// # Errors
    /// Sizes out of range, teeth that leave no gap or no back.
    pub fn outline(&self) -> Result<Contour, ShapeError> {
        let (w, h) = (size("width", self.width)?, size("height", self.height)?);
        if !(2..=MOST_SIDES).contains(&self.teeth) {
            return Err(ShapeError::Sides(self.teeth));
        }
        let (t, l) = (
            size("tooth width", self.tooth_width)?,
            size("tooth length", self.tooth_length)?,
        );
        below("tooth length", l, h, "the height over all")?;
        let room = w / f64::from(self.teeth);
        below(
            "tooth width",
            t,
            room,
            "an equal share of the width, which leaves no gaps",
        )?;
        below("half the tooth width", 0.5 * t, l, "the length of a tooth")?;
        let r = self.corner_radius;
        if !(r.is_finite() && r >= 0.0) {
            return Err(ShapeError::NegativeRadius(r));
        }
        let most = (0.5 * w).min(h - l);
        if r > most {
            return Err(ShapeError::CornerRadius {
                first: r,
                second: r,
                needs: r,
                edge: "back",
                length: most,
            });
        }
        let (top, root, foot) = (0.5 * h, l - 0.5 * h, 0.5 * (t - h));
        let quarter = (PI / 8.0).tan();
        let mut vertices = Vec::new();
        for i in 0..self.teeth {
            let x = -0.5 * w + f64::from(i) * (t + self.gap());
            if i > 0 {
                vertices.push(Vertex::new(x, root, 0.0));
            }
            vertices.push(Vertex::new(x, foot, 1.0));
            vertices.push(Vertex::new(x + t, foot, 0.0));
            if i + 1 < self.teeth {
                vertices.push(Vertex::new(x + t, root, 0.0));
            }
        }
        if r > 0.0 {
            vertices.push(Vertex::new(0.5 * w, top - r, quarter));
            vertices.push(Vertex::new(0.5 * w - r, top, 0.0));
            vertices.push(Vertex::new(r - 0.5 * w, top, quarter));
            vertices.push(Vertex::new(-0.5 * w, top - r, 0.0));
        } else {
            vertices.push(Vertex::new(0.5 * w, top, 0.0));
            vertices.push(Vertex::new(-0.5 * w, top, 0.0));
        }
        Ok(Contour::new(drop_repeats(vertices)))
    }
}

/// A straight bar with half-round ends of `width` from `from` to `to` (a rib).
///
/// # Errors
/// A width or distance out of range.
pub fn bar(
    from: super::Point,
    to: super::Point,
    width: f64,
) -> Result<Contour, super::freeform::FreePathError> {
    let d = to - from;
    let Some(along) = d.try_normalize(1e-9) else {
        return Err(super::freeform::FreePathError::NoLength { step: 0, at: to });
    };
    let n = super::segment::left(along) * (0.5 * width);
    free_path(
        from - n,
        &[
            Step::line(to - n),
            Step::Bulge {
                to: to + n,
                bulge: 1.0,
            },
            Step::line(from + n),
            Step::Bulge {
                to: from - n,
                bulge: 1.0,
            },
        ],
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn areas_by_hand() {
        // Rectangle with radius r at each corner: w·h − (4 − π)·r².
        let c = rectangle(30.0, 20.0, [3.0; 4]).unwrap();
        assert!((c.signed_area() - (600.0 - (4.0 - PI) * 9.0)).abs() < 1e-10);
        // Slot: rectangle plus circle.
        let c = slot(30.0, 10.0, 33.0).unwrap();
        assert!((c.signed_area() - (200.0 + 25.0 * PI)).abs() < 1e-10);
        // Hexagon across corners 20: 3√3/2·R².
        let c = polygon(6, 20.0, 0.0, 0.0).unwrap();
        assert!((c.signed_area() - 1.5 * 3f64.sqrt() * 100.0).abs() < 1e-10);
        // Rounding a corner of interior angle 120° removes r²·(tan 30°·… ): n·r²·(tan(π/n) − π/n).
        let c = polygon(6, 20.0, 2.0, 10.0).unwrap();
        let cut = 6.0 * 4.0 * ((PI / 6.0).tan() - PI / 6.0);
        assert!((c.signed_area() - (1.5 * 3f64.sqrt() * 100.0 - cut)).abs() < 1e-10);
    }

    #[test]
    fn areas_of_stars_rings_keyholes_and_combs_by_hand() {
        // A star of n points: n·R·r·sin(π/n).
        let c = star(5, 40.0, 18.0, 0.0, 12.0).unwrap();
        assert!((c.signed_area() - 5.0 * 20.0 * 9.0 * (PI / 5.0).sin()).abs() < 1e-9);
        let rounded = star(5, 40.0, 18.0, 1.0, 0.0).unwrap();
        assert!(rounded.is_simple() && rounded.signed_area() < c.signed_area() + 5.0);
        let r = ring(30.0, 20.0).unwrap();
        assert!((r.area() - 125.0 * PI).abs() < 1e-9);
        // A keyhole: circle, half circle at the end, slot less the cap of the head that it covers.
        let (d, w, l): (f64, f64, f64) = (10.0, 4.0, 15.0);
        let neck = (25.0f64 - 4.0).sqrt();
        let cap = 25.0 * (0.4f64).asin() - 2.0 * neck;
        let want = 25.0 * PI + 2.0 * PI + w * (l - 5.0 - 2.0 - neck) - cap;
        let c = keyhole(d, w, l, 0.0).unwrap();
        assert!((c.signed_area() - want).abs() < 1e-9 && c.is_simple());
        assert!((c.bounds().height() - l).abs() < 1e-9);
        let comb = Comb {
            width: 100.0,
            height: 35.0,
            teeth: 21,
            tooth_width: 2.5,
            tooth_length: 22.0,
            corner_radius: 6.0,
        };
        let c = comb.outline().unwrap();
        let tooth = 2.5 * (22.0 - 1.25) + 0.5 * PI * 1.25 * 1.25;
        let want = 100.0 * 13.0 - 2.0 * (1.0 - 0.25 * PI) * 36.0 + 21.0 * tooth;
        assert!((c.signed_area() - want).abs() < 1e-9 && c.is_simple());
        assert!((comb.gap() - (100.0 - 52.5) / 20.0).abs() < 1e-12);
    }

    #[test]
    fn shapes_that_leave_nothing_are_refused() {
        assert!(star(5, 20.0, 20.0, 0.0, 0.0).is_err() && star(5, 20.0, 8.0, 9.0, 0.0).is_err());
        assert!(ring(20.0, 20.0).is_err() && keyhole(8.0, 8.0, 20.0, 0.0).is_err());
        assert!(keyhole(8.0, 4.0, 9.0, 0.0).is_err());
        let comb = Comb {
            width: 50.0,
            height: 30.0,
            teeth: 20,
            tooth_width: 2.5,
            tooth_length: 20.0,
            corner_radius: 0.0,
        };
        assert!(comb.outline().is_err());
        assert!(Comb { teeth: 1, ..comb }.outline().is_err());
    }

    #[test]
    fn full_radii_leave_no_empty_edges() {
        let c = rectangle(10.0, 10.0, [5.0; 4]).unwrap();
        assert_eq!(c.vertices.len(), 4);
        assert!((c.signed_area() - 25.0 * PI).abs() < 1e-10);
    }

    #[test]
    fn errors_carry_their_numbers() {
        let e = rectangle(12.0, 30.0, [8.0; 4]).unwrap_err().to_string();
        assert_eq!(
            e,
            "corner radius 8 mm needs 16 mm of edge, the lower edge is 12 mm"
        );
        assert!(circle(f64::NAN).is_err() && circle(-1.0).is_err() && circle(1e9).is_err());
        assert!(polygon(2, 10.0, 0.0, 0.0).is_err() && slot(5.0, 6.0, 0.0).is_err());
    }
}
