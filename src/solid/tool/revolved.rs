//! A body of revolution of a closed section: cups, wheels, rings.
//!
//! Input: the axis and a section in (radius, height), counter-clockwise. Output: a
//! watertight mesh; every triangle names its plane, cylinder, cone, torus or sphere.

use super::arc::{fractions, on_circle};
use super::clip::Clip;
use super::turned::{directions, ring};
use super::wall::{quad, revolved, revolved_arc};
use crate::sketch::{Contour, Point, Region, Segment, Vertex};
use crate::solid::cdt::halve;
use crate::solid::error::SolidError;
use crate::solid::mesh::TaggedMesh;
use crate::solid::surface::{Surface, Vector3};
use crate::solid::tolerance::{MAX_TRIANGLES, Tolerance};

/// Nearer to the axis than this, mm, a point lies on it.
const ON_AXIS: f64 = 1e-9;
/// Nearer to the clipping plane than this, mm, a point lies on it.
const ON_PLANE: f64 = 1e-7;

/// The sections left by a clip; edges on its plane are moved across it by `beyond`.
pub(crate) fn clipped(section: &Contour, clip: Option<&Clip>) -> Result<Vec<Contour>, SolidError> {
    let Some(c) = clip else {
        return Ok(vec![section.clone()]);
    };
    let b = section.bounds();
    let sign = if c.keep_above { 1.0 } else { -1.0 };
    // Heights above the plane, on the side that is kept.
    let (low, high) = if c.keep_above {
        (b.min.y - c.z, b.max.y - c.z)
    } else {
        (c.z - b.max.y, c.z - b.min.y)
    };
    if high <= ON_PLANE {
        return Ok(Vec::new());
    }
    let kept = if low >= -ON_PLANE {
        vec![section.clone()]
    } else {
        let half = Contour::new(vec![
            Vertex::new(-1.0, c.z, 0.0),
            Vertex::new(b.max.x + 1.0, c.z, 0.0),
            Vertex::new(b.max.x + 1.0, c.z + sign * (high + 1.0), 0.0),
            Vertex::new(-1.0, c.z + sign * (high + 1.0), 0.0),
        ])
        .counter_clockwise();
        Region::simple(section.clone())
            .intersection(&Region::simple(half))
            .map_err(|e| SolidError::Form(e.to_string()))?
            .into_iter()
            .map(|r| r.outer)
            .collect()
    };
    Ok(kept
        .iter()
        .map(|s| across(s, c.z, -sign * c.beyond))
        .collect())
}

/// The section with each edge on height `z` moved by `by`, its ends joined straight down.
fn across(section: &Contour, z: f64, by: f64) -> Contour {
    if by == 0.0 {
        return section.clone();
    }
    let on = |p: Point| (p.y - z).abs() < ON_PLANE;
    let mut vertices = Vec::new();
    for s in section.segments() {
        let v = s.vertex();
        vertices.push(v);
        if on(s.from()) && on(s.to()) && (s.to() - s.from()).norm() > ON_PLANE {
            vertices.push(Vertex::new(s.from().x, z + by, 0.0));
            vertices.push(Vertex::new(s.to().x, z + by, 0.0));
        }
    }
    Contour::new(vertices)
}

/// The closed body.
pub(crate) fn build(
    at: Point,
    section: &Contour,
    tolerance: &Tolerance,
) -> Result<TaggedMesh, SolidError> {
    let finite = |v: &Vertex| v.at.x.is_finite() && v.at.y.is_finite() && v.bulge.is_finite();
    if section.vertices.len() < 2 || !section.vertices.iter().all(finite) {
        return Err(SolidError::Form("a section has no area".into()));
    }
    if section.bounds().min.x < -ON_AXIS {
        return Err(SolidError::Form("a section crosses its axis".into()));
    }
    let directions = directions(section.bounds().max.x, tolerance);
    let mut mesh = TaggedMesh::default();
    // Points along the section, each with the surface of the piece that follows.
    let mut chain: Vec<(Point, Option<u32>)> = Vec::new();
    for s in section.segments() {
        let (from, to) = (s.from(), s.to());
        if (to - from).norm() < 1e-9 {
            continue;
        }
        if from.x < ON_AXIS && to.x < ON_AXIS {
            chain.push((from, None));
            continue;
        }
        mesh.surfaces.push(match s {
            Segment::Line { from, to } => revolved(at, from, to),
            Segment::Arc { centre, radius, .. } => revolved_arc(at, centre, radius),
        });
        let tag = Some(mesh.surfaces.len() as u32 - 1);
        match s {
            Segment::Line { .. } => chain.push((from, tag)),
            Segment::Arc {
                centre,
                radius,
                sweep,
                ..
            } => {
                let start = (from.y - centre.y).atan2(from.x - centre.x);
                for f in fractions(start, sweep, radius, tolerance) {
                    let p = if f == 0.0 {
                        from
                    } else {
                        on_circle(centre, radius, start + sweep * f)
                    };
                    chain.push((p, tag));
                }
            }
        }
    }
    let count = 2 * directions.len() * chain.len();
    if count > MAX_TRIANGLES {
        return Err(SolidError::TooLarge {
            what: "a turned body".into(),
            count,
            limit: MAX_TRIANGLES,
        });
    }
    let rings: Vec<Vec<u32>> = chain
        .iter()
        .map(|(p, _)| ring(&mut mesh, at, p, &directions))
        .collect();
    let n = chain.len();
    for k in 0..n {
        let (Some(tag), next) = (chain[k].1, (k + 1) % n) else {
            continue;
        };
        let (a, b) = (&rings[k], &rings[next]);
        let level = (chain[k].0.y - chain[next].0.y).abs() < 1e-9;
        if level {
            // Which way the flat face looks: to the right of the way along the section.
            let up = chain[next].0.x < chain[k].0.x;
            let normal = if up { Vector3::z() } else { -Vector3::z() };
            mesh.surfaces[tag as usize] = Surface::Plane {
                normal,
                distance: normal.z * chain[k].0.y,
            };
            if a.len() == 1 || b.len() == 1 {
                let whole = if a.len() == 1 { b } else { a };
                for t in halve(whole) {
                    mesh.triangles.push(if up { t } else { [t[0], t[2], t[1]] });
                    mesh.tags.push(tag);
                }
                continue;
            }
        }
        for i in 0..directions.len() {
            let j = (i + 1) % directions.len();
            let pick = |ring: &[u32], i: usize| ring[i % ring.len()];
            quad(
                &mut mesh,
                [pick(a, i), pick(a, j), pick(b, j), pick(b, i)],
                tag,
            );
        }
    }
    mesh.drop_unused();
    Ok(mesh)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::part::Form;
    use crate::solid::audit::audit;

    fn section(points: &[(f64, f64, f64)]) -> Contour {
        Contour::new(points.iter().map(|p| Vertex::new(p.0, p.1, p.2)).collect())
    }

    #[test]
    fn cups_rings_and_domes_close_and_hold_pappus() {
        let tolerance = Tolerance::with_chord(1e-3);
        let quarter = std::f64::consts::FRAC_PI_8.tan();
        // A cup with a round foot, a ring with a round rim, a dome, a cone with its tip on the axis.
        let all = [
            section(&[
                (0.0, 18.0, 0.0),
                (18.0, 18.0, -quarter),
                (20.0, 16.0, 0.0),
                (20.0, 0.0, 0.0),
                (22.0, 0.0, 0.0),
                (22.0, 16.0, quarter),
                (18.0, 20.0, 0.0),
                (0.0, 20.0, 0.0),
            ]),
            section(&[
                (10.0, -3.0, 0.0),
                (14.0, -3.0, 1.0),
                (14.0, 3.0, 0.0),
                (10.0, 3.0, 0.0),
            ]),
            section(&[(0.0, 0.0, 0.0), (8.0, 0.0, quarter), (0.0, 8.0, 0.0)]),
            section(&[(0.0, 0.0, 0.0), (8.0, 0.0, 0.0), (0.0, 5.0, 0.0)]),
        ];
        for s in all {
            let mesh = build(Point::new(3.0, -1.0), &s, &tolerance).expect("a body");
            let report = audit(&mesh, &tolerance).expect("sound");
            // Pappus: 2π times the first moment of the section.
            let pappus = std::f64::consts::TAU * s.moment().x;
            let form = Form::Revolved {
                at: Point::origin(),
                section: s.clone(),
            };
            let exact = form.volume().expect("a volume");
            assert!((exact - pappus).abs() < 1e-9 * pappus, "{exact} {pappus}");
            assert!(
                (report.volume - exact).abs() < 2e-3 * exact,
                "{} {exact}",
                report.volume
            );
        }
    }

    #[test]
    fn two_clipped_halves_are_the_whole() {
        let s = section(&[
            (5.0, -6.0, 0.0),
            (9.0, -4.0, 1.0),
            (9.0, 6.0, 0.0),
            (5.0, 4.0, 0.0),
        ]);
        let tolerance = Tolerance::with_chord(1e-3);
        let volume = |keep_above| {
            let clip = Clip {
                z: 1.0,
                keep_above,
                beyond: 0.0,
            };
            let all = clipped(&s, Some(&clip)).expect("sections");
            let at = Point::origin();
            all.iter()
                .map(|c| build(at, c, &tolerance).expect("a body").volume())
                .sum::<f64>()
        };
        let whole = build(Point::origin(), &s, &tolerance)
            .expect("a body")
            .volume();
        let sum = volume(true) + volume(false);
        assert!((sum - whole).abs() < 1e-4 * whole, "{sum} {whole}");
    }
}
