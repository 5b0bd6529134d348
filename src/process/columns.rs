//! The plastic above and below any plan point of a part.
//!
//! Input: a [`PartModel`] and its scale (1 + shrinkage). Output: [`Column`]s for the grid.
//! Walls that lean inward are followed by the distance from the outline: at inner corners
//! of a leaning wall this rounds where the cutter mitres, by far less than a cell.

use super::plan_grid::Column;
use crate::part::{Form, PartModel, ProfilePoint, Role};
use crate::sketch::bounds::Bounds;
use crate::sketch::{Contour, Path, Point};

/// A part made ready for many plan points.
#[derive(Debug, Clone)]
pub struct PartColumns {
    bodies: Vec<(Role, Body)>,
    scale: f64,
    bounds: Bounds,
}

#[derive(Debug, Clone)]
enum Body {
    Prism {
        bounds: Bounds,
        /// Outer contour first.
        contours: Vec<(Bounds, Contour)>,
        profile: Vec<ProfilePoint>,
        /// Largest distance inward, mm; 0 for a straight wall.
        inward: f64,
        /// Largest distance outward, mm.
        outward: f64,
    },
    Turned {
        at: Point,
        profile: Vec<ProfilePoint>,
        radius: f64,
    },
    Groove {
        bounds: Bounds,
        path: Path,
        radius: f64,
        z: f64,
        below: bool,
    },
}

type Spans = Vec<(f64, f64)>;

impl PartColumns {
    /// Prepares a part; `scale` turns part sizes into cavity sizes.
    pub fn new(part: &PartModel, scale: f64) -> Self {
        let mut all = Bounds::of_points([]);
        let bodies = part
            .bodies
            .iter()
            .map(|b| {
                let body = Body::new(&b.form);
                if b.role == Role::Add {
                    all = all.union(&body.bounds());
                }
                (b.role, body)
            })
            .collect();
        Self {
            bodies,
            scale,
            bounds: all,
        }
    }

    /// Box of the scaled part: lower left and upper right corner, mm; `None` without plastic.
    pub fn bounds(&self) -> Option<([f64; 2], [f64; 2])> {
        let b = &self.bounds;
        (!b.is_empty()).then(|| {
            (
                [b.min.x * self.scale, b.min.y * self.scale],
                [b.max.x * self.scale, b.max.y * self.scale],
            )
        })
    }

    /// Filled stretches of z at a plan point of the scaled part, rising, mm.
    pub fn spans(&self, x: f64, y: f64) -> Spans {
        let p = Point::new(x / self.scale, y / self.scale);
        let mut spans: Spans = Vec::new();
        for (role, body) in &self.bodies {
            let own = body.spans(p);
            if own.is_empty() {
                continue;
            }
            match role {
                Role::Add => spans = union(spans, &own),
                Role::Remove => spans = without(&spans, &own),
            }
        }
        for s in &mut spans {
            s.0 *= self.scale;
            s.1 *= self.scale;
        }
        spans
    }

    /// The column at a plan point of the scaled part.
    pub fn column(&self, x: f64, y: f64) -> Column {
        let spans = self.spans(x, y);
        match (spans.first(), spans.last()) {
            (Some(first), Some(last)) => Column {
                thickness: spans.iter().map(|s| s.1 - s.0).sum(),
                low: first.0,
                high: last.1,
            },
            _ => Column::default(),
        }
    }
}

impl Body {
    fn new(form: &Form) -> Self {
        match form {
            Form::Prism { region, profile } => {
                let profile = straightened(profile);
                let across = |f: fn(f64, f64) -> f64| profile.iter().map(|p| p.across).fold(0.0, f);
                let (inward, outward) = (across(f64::max), -across(f64::min));
                Body::Prism {
                    bounds: region.bounds().grown(outward),
                    contours: region.contours().map(|c| (c.bounds(), c.clone())).collect(),
                    profile,
                    inward,
                    outward,
                }
            }
            Form::Turned { at, profile } => {
                let profile = straightened(profile);
                Body::Turned {
                    at: *at,
                    radius: profile.iter().map(|p| p.across).fold(0.0, f64::max),
                    profile,
                }
            }
            Form::Groove {
                path,
                radius,
                z,
                below,
            } => Body::Groove {
                bounds: path.bounds().grown(*radius),
                path: path.clone(),
                radius: *radius,
                z: *z,
                below: *below,
            },
        }
    }

    fn bounds(&self) -> Bounds {
        match self {
            Body::Prism { bounds, .. } | Body::Groove { bounds, .. } => *bounds,
            Body::Turned { at, radius, .. } => Bounds::of_points([*at]).grown(*radius),
        }
    }

    fn spans(&self, p: Point) -> Spans {
        match self {
            Body::Prism {
                bounds,
                contours,
                profile,
                inward,
                outward,
            } => {
                if !bounds.contains(p) {
                    return Vec::new();
                }
                let reach = inward.max(*outward);
                let inside = |c: &(Bounds, Contour)| c.0.contains(p) && c.1.contains(p);
                let mut holds = contours.first().is_some_and(inside);
                holds &= !contours.iter().skip(1).any(inside);
                if !holds && *outward <= 0.0 {
                    return Vec::new();
                }
                // Only points near an edge need their distance from it.
                let edge = if reach > 0.0 {
                    contours
                        .iter()
                        .filter(|c| c.0.grown(reach).contains(p))
                        .map(|c| c.1.distance(p))
                        .fold(f64::INFINITY, f64::min)
                } else {
                    f64::INFINITY
                };
                let depth = if holds { edge } else { -edge };
                within(profile, |across| depth - across)
            }
            Body::Turned {
                at,
                profile,
                radius,
            } => {
                let r = (p - at).norm();
                if r >= *radius {
                    return Vec::new();
                }
                within(profile, |across| across - r)
            }
            Body::Groove {
                bounds,
                path,
                radius,
                z,
                below,
            } => {
                if !bounds.contains(p) {
                    return Vec::new();
                }
                let away = path
                    .segments()
                    .map(|s| s.distance(p))
                    .fold(f64::INFINITY, f64::min);
                if away >= *radius {
                    return Vec::new();
                }
                let h = (radius * radius - away * away).sqrt();
                vec![if *below { (z - h, *z) } else { (*z, z + h) }]
            }
        }
    }
}

/// Arcs of a profile as chords of at most 11.25° (radius error below 0.5 %).
fn straightened(profile: &[ProfilePoint]) -> Vec<ProfilePoint> {
    let mut out = Vec::with_capacity(profile.len());
    for (i, p) in profile.iter().enumerate() {
        out.push(ProfilePoint::new(p.across, p.z));
        let Some(next) = profile.get(i + 1) else {
            continue;
        };
        if p.bulge == 0.0 {
            continue;
        }
        let path = Path {
            vertices: vec![
                crate::sketch::Vertex::new(p.across, p.z, p.bulge),
                crate::sketch::Vertex::new(next.across, next.z, 0.0),
            ],
        };
        for s in path.segments() {
            let chords = if p.bulge.abs() > 0.42 { 16 } else { 8 };
            for k in 1..chords {
                let q = s.point_at(k as f64 / chords as f64);
                out.push(ProfilePoint::new(q.x, q.y));
            }
        }
    }
    out
}

/// Stretches of z where `room(across(z))` ≥ 0.
fn within(profile: &[ProfilePoint], room: impl Fn(f64) -> f64) -> Spans {
    let mut spans: Spans = Vec::new();
    let mut push = |a: f64, b: f64| {
        if b > a {
            match spans.last_mut() {
                Some(last) if a <= last.1 + 1e-12 => last.1 = last.1.max(b),
                _ => spans.push((a, b)),
            }
        }
    };
    for w in profile.windows(2) {
        let (f0, f1) = (room(w[0].across), room(w[1].across));
        let (z0, z1) = (w[0].z, w[1].z);
        let cross = || z0 + (z1 - z0) * f0 / (f0 - f1);
        match (f0 >= 0.0, f1 >= 0.0) {
            (true, true) => push(z0, z1),
            (true, false) => push(z0, cross()),
            (false, true) => push(cross(), z1),
            (false, false) => {}
        }
    }
    spans
}

fn union(mut a: Spans, b: &[(f64, f64)]) -> Spans {
    a.extend_from_slice(b);
    a.sort_by(|x, y| x.0.total_cmp(&y.0));
    let mut out: Spans = Vec::with_capacity(a.len());
    for s in a {
        match out.last_mut() {
            Some(last) if s.0 <= last.1 + 1e-9 => last.1 = last.1.max(s.1),
            _ => out.push(s),
        }
    }
    out
}

fn without(a: &[(f64, f64)], b: &[(f64, f64)]) -> Spans {
    let mut out: Spans = Vec::with_capacity(a.len() + 1);
    for &(low, high) in a {
        let mut at = low;
        for &(c, d) in b {
            if d <= at || c >= high {
                continue;
            }
            if c > at {
                out.push((at, c));
            }
            at = at.max(d);
        }
        if high > at + 1e-12 {
            out.push((at, high));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::part::PartBody;
    use crate::process::plan_grid::{GridSpec, PlanGrid};
    use crate::sketch::{Region, Vertex};
    use std::f64::consts::PI;

    fn circle(x: f64, y: f64, r: f64) -> Region {
        Region::simple(Contour::new(vec![
            Vertex::new(x + r, y, 1.0),
            Vertex::new(x - r, y, 1.0),
        ]))
    }

    fn body(role: Role, form: Form) -> PartBody {
        PartBody {
            label: "body".into(),
            role,
            form,
            key: "part".into(),
        }
    }

    fn drafted() -> PartModel {
        // A drafted disk of 40 mm with a pocket of 10 mm, 1 mm deep, from the top.
        PartModel {
            bodies: vec![
                body(
                    Role::Add,
                    Form::Prism {
                        region: circle(0.0, 0.0, 20.0),
                        profile: vec![ProfilePoint::new(0.5, -3.0), ProfilePoint::new(0.0, 0.0)],
                    },
                ),
                body(
                    Role::Remove,
                    Form::Prism {
                        region: circle(5.0, 0.0, 5.0),
                        profile: vec![ProfilePoint::new(0.0, -1.0), ProfilePoint::new(0.0, 1.0)],
                    },
                ),
            ],
        }
    }

    #[test]
    fn columns_follow_draft_and_pockets() {
        let c = PartColumns::new(&drafted(), 1.0);
        assert!((c.column(-10.0, 0.0).thickness - 3.0).abs() < 1e-9);
        assert!((c.column(5.0, 1.0).thickness - 2.0).abs() < 1e-9);
        assert!((c.column(5.0, 1.0).high + 1.0).abs() < 1e-9);
        // 0.25 mm inside the edge the drafted wall (0.5 mm over 3 mm) leaves half.
        assert!((c.column(-19.75, 0.0).thickness - 1.5).abs() < 1e-6);
        assert_eq!(c.column(-20.1, 0.0).thickness, 0.0);
    }

    #[test]
    fn the_grid_holds_the_exact_volume() {
        let c = PartColumns::new(&drafted(), 1.016);
        let (min, max) = c.bounds().unwrap();
        let grid = PlanGrid::new(
            &|x, y| c.column(x, y),
            &GridSpec {
                min,
                max,
                pitch: 0.8,
                cavity: 0,
            },
        )
        .unwrap();
        let cone = PI * 3.0 / 3.0 * (400.0 + 20.0 * 19.5 + 19.5 * 19.5);
        let exact = (cone - PI * 25.0) * 1.016_f64.powi(3) * 1e-9;
        let volume: f64 = grid.cells.iter().map(|c| c.volume).sum();
        assert!((volume / exact - 1.0).abs() < 2e-3, "{}", volume / exact);
    }

    #[test]
    fn a_turned_ball_has_its_chords() {
        let part = PartModel {
            bodies: vec![body(
                Role::Add,
                Form::Turned {
                    at: Point::new(1.0, 2.0),
                    profile: vec![
                        ProfilePoint {
                            across: 0.0,
                            z: -5.0,
                            bulge: 1.0,
                        },
                        ProfilePoint::new(0.0, 5.0),
                    ],
                },
            )],
        };
        let c = PartColumns::new(&part, 1.0);
        let t = c.column(1.0 + 3.0, 2.0).thickness;
        assert!((t - 8.0).abs() < 0.1, "{t}");
    }

    #[test]
    fn spans_are_joined_and_cut() {
        let a = union(vec![(0.0, 1.0)], &[(1.0, 2.0), (5.0, 6.0)]);
        assert_eq!(a, vec![(0.0, 2.0), (5.0, 6.0)]);
        assert_eq!(
            without(&a, &[(0.5, 1.0), (1.5, 5.5)]),
            vec![(0.0, 0.5), (1.0, 1.5), (5.5, 6.0)]
        );
    }
}
