//! Volumes of forms from their exact definition.
//!
//! Input: a [`Form`]. Output: mm³. Not for a whole part: its bodies overlap.
//!
//! - Turned: truncated cones (V = π·h/3·(r₀² + r₀·r₁ + r₁²), any handbook) and, for
//!   an arc in the profile, Pappus's second theorem on the circular segment between
//!   arc and chord (area × way of its centroid).
//! - Prism: ∫ A(across(z)) dz over the mitred area. A is a quadratic of the offset
//!   (A − P·d + C·d²) for contours with sharp line corners and tangent arcs, smooth
//!   for others; Gauss–Legendre with 12 points is exact for the former and beyond
//!   rounding for the latter (Abramowitz & Stegun, table 25.4).
//! - Groove: half cylinders along lines, half tori along arcs (Pappus), half a ball
//!   for the two ends together. The centre line must not bend tighter than the radius.

use super::form::{Form, ProfilePoint};
use crate::sketch::mitred_area;
use crate::sketch::{MitreError, Path, Point, Region, Segment, Vertex};
use std::f64::consts::PI;

/// Half of the 12 abscissae and weights on (−1, 1), symmetric (Abramowitz & Stegun 25.4).
const GAUSS: [(f64, f64); 6] = [
    (0.125_233_408_511_469, 0.249_147_045_813_403),
    (0.367_831_498_998_180, 0.233_492_536_538_355),
    (0.587_317_954_286_617, 0.203_167_426_723_066),
    (0.769_902_674_194_305, 0.160_078_328_543_346),
    (0.904_117_256_370_475, 0.106_939_325_995_318),
    (0.981_560_634_246_719, 0.047_175_336_386_512),
];

/// ∫₀¹ f by Gauss–Legendre, 12 points.
fn integrate(mut f: impl FnMut(f64) -> Result<f64, MitreError>) -> Result<f64, MitreError> {
    let mut sum = 0.0;
    for (x, w) in GAUSS {
        sum += w * (f(0.5 - 0.5 * x)? + f(0.5 + 0.5 * x)?);
    }
    Ok(0.5 * sum)
}

/// The segments of a wall profile in the (across, z) plane.
pub(super) fn segments(profile: &[ProfilePoint]) -> impl Iterator<Item = Segment> + '_ {
    profile.windows(2).map(|w| {
        Segment::between(
            Vertex::new(w[0].across, w[0].z, w[0].bulge),
            Point::new(w[1].across, w[1].z),
        )
    })
}

impl Form {
    /// Volume, mm³.
    ///
    /// # Errors
    /// A prism whose region does not survive its own profile.
    pub fn volume(&self) -> Result<f64, MitreError> {
        match self {
            Form::Prism { region, profile } => prism(region, profile),
            Form::Turned { profile, .. } => Ok(segments(profile).map(|s| turned(&s)).sum()),
            // Round the whole section: what lies under its inner walls is taken off again.
            Form::Revolved { section, .. } => Ok(section.segments().map(|s| turned(&s)).sum()),
            Form::Groove { path, radius, .. } => Ok(groove(path, *radius)),
            Form::Mesh { body } => Ok(body.volume()),
        }
    }
}

fn prism(region: &Region, profile: &[ProfilePoint]) -> Result<f64, MitreError> {
    let mut volume = 0.0;
    for s in segments(profile) {
        let (a, b) = (s.from(), s.to());
        volume += match s {
            Segment::Line { .. } => {
                let dz = b.y - a.y;
                if dz == 0.0 {
                    continue;
                }
                dz * integrate(|t| mitred_area(region, a.x + t * (b.x - a.x)))?
            }
            // dz/dt along the arc is the vertical part of its direction times its length.
            Segment::Arc { .. } => integrate(|t| {
                let rise = s.direction_at(t).y * s.length();
                Ok(rise * mitred_area(region, s.point_at(t).x)?)
            })?,
        };
    }
    Ok(volume)
}

/// Volume under one profile segment turned about the axis (across = radius).
fn turned(s: &Segment) -> f64 {
    let (a, b) = (s.from(), s.to());
    let cone = PI / 3.0 * (b.y - a.y) * (a.x * a.x + a.x * b.x + b.x * b.x);
    let Segment::Arc {
        centre,
        radius,
        sweep,
        ..
    } = *s
    else {
        return cone;
    };
    // First moment of the circular segment about the axis; an arc that turns left
    // while z rises lies farther out than its chord.
    let area = 0.5 * radius * radius * (sweep - sweep.sin());
    let middle = (s.point_at(0.5) - centre).x / radius;
    let reach = 2.0 / 3.0 * (radius * (0.5 * sweep).sin()).powi(3);
    cone + 2.0 * PI * (area * centre.x + reach * middle)
}

/// Half a round bar along the path. On an arc of radius R the half disc's centroid
/// runs at R (the half disc lies square to the plane of the path): Pappus.
fn groove(path: &Path, radius: f64) -> f64 {
    path.length() * 0.5 * PI * radius * radius + 2.0 / 3.0 * PI * radius.powi(3)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::Length;
    use crate::part::edge;
    use crate::sketch::shapes;
    use crate::spec::job::EdgeKind;

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-9 * b.abs().max(1.0), "{a} against {b}");
    }

    #[test]
    fn a_drafted_square_is_a_frustum_of_a_pyramid() {
        let region = Region::simple(shapes::rectangle(30.0, 20.0, [0.0; 4]).unwrap());
        let profile = edge::straight(0.0, 8.0, 0.0, 5.0, false);
        let d = 8.0 * 5f64.to_radians().tan();
        let form = Form::Prism { region, profile };
        // The prismatoid formula h/6·(A₁ + 4·Aₘ + A₂) (any handbook).
        let at = |d: f64| (30.0 - 2.0 * d) * (20.0 - 2.0 * d);
        near(
            form.volume().unwrap(),
            8.0 / 6.0 * (at(0.0) + 4.0 * at(0.5 * d) + at(d)),
        );
        // Similar faces: V = h/3·(A₁ + A₂ + √(A₁·A₂)) (Heron).
        let region = Region::simple(shapes::rectangle(30.0, 30.0, [0.0; 4]).unwrap());
        let profile = edge::straight(0.0, 8.0, 0.0, 5.0, false);
        let (a, b) = (30.0 * 30.0, (30.0 - 2.0 * d) * (30.0 - 2.0 * d));
        near(
            Form::Prism { region, profile }.volume().unwrap(),
            8.0 / 3.0 * (a + b + (a * b).sqrt()),
        );
    }

    #[test]
    fn a_rounded_disc_by_pappus_and_as_a_turned_body() {
        // Cylinder minus the ring between corner and quarter circle (Pappus).
        let (big, r, h) = (20.0, 3.0, 6.0);
        let region = Region::simple(shapes::circle(2.0 * big).unwrap());
        let top = Some(EdgeKind::Radius(Length::from_mm(r)));
        let profile = edge::wall(0.0, h, 0.0, None, top).unwrap();
        let spandrel = r * r * (1.0 - PI / 4.0);
        // The spandrel's centroid, inward from the cylinder: the square's (r/2) less the
        // quarter disc's (4r/3π from its centre; Beer & Johnston, table of centroids).
        let inward = (r * r * 0.5 * r - 0.25 * PI * r * r * (r - 4.0 * r / (3.0 * PI))) / spandrel;
        let expect = PI * big * big * h - spandrel * 2.0 * PI * (big - inward);
        let as_prism = Form::Prism {
            region,
            profile: profile.clone(),
        };
        near(as_prism.volume().unwrap(), expect);
        let profile = profile
            .iter()
            .map(|p| ProfilePoint {
                across: big - p.across,
                z: p.z,
                bulge: -p.bulge,
            })
            .collect();
        let as_turned = Form::Turned {
            at: Point::origin(),
            profile,
        };
        near(as_turned.volume().unwrap(), expect);
    }

    #[test]
    fn a_ball_a_cone_and_a_torus_ring() {
        // Half ball of radius 5 standing on its flat side: 2/3·π·r³.
        let half = Form::Turned {
            at: Point::origin(),
            profile: vec![
                ProfilePoint {
                    across: 5.0,
                    z: 0.0,
                    bulge: (PI / 8.0).tan(),
                },
                ProfilePoint::new(0.0, 5.0),
            ],
        };
        near(half.volume().unwrap(), 2.0 / 3.0 * PI * 125.0);
        // A groove of radius 2 round a full circle of radius 15 and back to its start:
        // half a torus (π²·R·r²) plus the two end quarters.
        let ring = Form::Groove {
            path: Path {
                vertices: vec![
                    Vertex::new(15.0, 0.0, 1.0),
                    Vertex::new(-15.0, 0.0, 1.0),
                    Vertex::new(15.0, 0.0, 0.0),
                ],
            },
            radius: 2.0,
            z: 0.0,
            below: true,
        };
        near(
            ring.volume().unwrap(),
            PI * PI * 15.0 * 4.0 + 2.0 / 3.0 * PI * 8.0,
        );
    }
}
