//! Where a part is filled above a point of the plan.
//!
//! Input: forms and x, y. Output: intervals of z, sorted, apart from each other.
//! Used for the local thickness. Exact for turned bodies and grooves. A prism's
//! wall is taken at its distance from the drawn contour: exact but beside a sharp
//! re-entrant corner (outward offset: a sharp outer corner), where a mitred wall and the
//! distance differ by up to 0.41 × the offset.

use super::form::{Form, ProfilePoint};
use super::interval::Interval;
use super::model::{PartModel, Role};
use super::volume::segments;
use crate::sketch::{Bounds, Contour, Point, Segment, Vicinity};
use std::borrow::Cow;

/// Stretches shorter than this, mm, are dropped.
const THIN: f64 = 1e-9;

impl Form {
    /// The heights at which the point (x, y) lies in the form.
    pub fn heights(&self, x: f64, y: f64) -> Vec<Interval> {
        let p = Point::new(x, y);
        match self {
            Form::Prism { region, profile } => {
                let d = region.distance_within(p, asked(profile));
                walled(profile, d, region.contains(p))
            }
            Form::Turned { at, profile } => {
                let r = (p - at).norm();
                crossings(profile, r, |across| across > r)
            }
            Form::Revolved { at, section } => chords(section, (p - at).norm()),
            Form::Mesh { body } => body.heights(x, y),
            Form::Groove {
                path,
                radius,
                z,
                below,
            } => {
                let d = path
                    .segments()
                    .map(|s| s.distance(p))
                    .fold(f64::INFINITY, f64::min);
                if d >= *radius {
                    return Vec::new();
                }
                let h = (radius * radius - d * d).sqrt();
                vec![if *below {
                    Interval {
                        low: z - h,
                        high: *z,
                    }
                } else {
                    Interval {
                        low: *z,
                        high: z + h,
                    }
                }]
            }
        }
    }
}

/// Farther from the edge than this, mm, a prism has the same heights everywhere: its wall does
/// not reach there.
fn asked(profile: &[ProfilePoint]) -> f64 {
    reach(profile) + 1e-3
}

/// The heights of a prism at a distance from its region's edge.
fn walled(profile: &[ProfilePoint], distance: f64, inside: bool) -> Vec<Interval> {
    let depth = if inside { distance } else { -distance };
    crossings(profile, depth, |across| across < depth)
}

/// The heights of a form for points near a place: many of them are asked for less.
#[derive(Debug, Clone)]
pub enum Nearby<'a> {
    /// The same at all of them.
    Same(Vec<Interval>),
    /// Near a prism's wall.
    Wall(Vicinity, &'a [ProfilePoint]),
    /// As the form itself tells.
    Own(&'a Form),
}

impl<'a> Nearby<'a> {
    /// Of a form, with a box around its plan, for points within `reach` mm of a place.
    pub fn new(form: &'a Form, plan: &Bounds, place: Point, reach: f64) -> Self {
        if !plan.grown(reach + 1e-6).contains(place) {
            return Self::Same(Vec::new());
        }
        let Form::Prism { region, profile } = form else {
            return Self::Own(form);
        };
        let most = asked(profile);
        let around = Vicinity::new(region, place, reach, most);
        if region.distance_within(place, most + reach + 1e-6) > most + reach {
            return Self::Same(walled(profile, most, around.contains(place)));
        }
        Self::Wall(around, profile)
    }
    /// The heights at a point no farther from the place than was said.
    pub fn heights(&self, x: f64, y: f64) -> Cow<'_, [Interval]> {
        let p = Point::new(x, y);
        match self {
            Self::Same(all) => Cow::Borrowed(all),
            Self::Wall(around, profile) => {
                Cow::Owned(walled(profile, around.distance(p), around.contains(p)))
            }
            Self::Own(form) => Cow::Owned(form.heights(x, y)),
        }
    }
}

/// No point of a profile is farther across than this, mm: an arc rises over its chord by half
/// of the chord times its bulge.
fn reach(profile: &[ProfilePoint]) -> f64 {
    let corners = profile.iter().map(|q| q.across.abs()).fold(0.0, f64::max);
    let rise = profile.windows(2).map(|w| {
        let chord = (w[1].across - w[0].across).hypot(w[1].z - w[0].z);
        0.5 * chord * w[0].bulge.abs()
    });
    corners + rise.fold(0.0, f64::max)
}

/// The stretches of z on which `inside(across(z))` holds; `level` is where it changes.
fn crossings(profile: &[ProfilePoint], level: f64, inside: impl Fn(f64) -> bool) -> Vec<Interval> {
    let mut found: Vec<Interval> = Vec::new();
    for s in segments(profile) {
        let mut cuts = [0.0, 1.0, 1.0, 1.0];
        for (cut, t) in cuts[1..]
            .iter_mut()
            .zip(fractions_at(&s, level).into_iter().flatten())
        {
            *cut = t;
        }
        cuts.sort_by(f64::total_cmp);
        for w in cuts.windows(2) {
            let (low, high) = (s.point_at(w[0]).y, s.point_at(w[1]).y);
            if high - low <= THIN || !inside(s.point_at(0.5 * (w[0] + w[1])).x) {
                continue;
            }
            match found.last_mut() {
                Some(last) if low - last.high <= THIN => last.high = high,
                _ => found.push(Interval { low, high }),
            }
        }
    }
    found
}

/// The stretches of height that a section has at distance `r` from the axis.
pub(crate) fn chords(section: &Contour, r: f64) -> Vec<Interval> {
    // A hair off a corner or an upright edge, so that every crossing is a clean one.
    let on_corner = |r: f64| section.vertices.iter().any(|v| (v.at.x - r).abs() < 1e-9);
    let mut r = r;
    while on_corner(r) {
        r += 1e-8;
    }
    let mut cuts: Vec<f64> = section
        .segments()
        .flat_map(|s| fractions_at(&s, r).map(|t| t.map(|t| s.point_at(t).y)))
        .flatten()
        .collect();
    cuts.sort_by(f64::total_cmp);
    cuts.chunks_exact(2)
        .map(|c| Interval {
            low: c[0],
            high: c[1],
        })
        .filter(|i| i.high - i.low > THIN)
        .collect()
}

/// Fractions of a profile segment at which it passes `across` = `level`.
fn fractions_at(s: &Segment, level: f64) -> [Option<f64>; 2] {
    match *s {
        Segment::Line { from, to } => {
            let t = (level - from.x) / (to.x - from.x);
            [(t > 0.0 && t < 1.0).then_some(t), None]
        }
        Segment::Arc { centre, radius, .. } => {
            let c = level - centre.x;
            if c.abs() >= radius {
                return [None; 2];
            }
            let h = (radius * radius - c * c).sqrt();
            [-h, h].map(|h| {
                let p = Point::new(level, centre.y + h);
                (s.distance(p) < 1e-9).then(|| s.closest(p))
            })
        }
    }
}

impl PartModel {
    /// The heights filled with plastic above and below (x, y), sorted.
    pub fn height_range(&self, x: f64, y: f64) -> Vec<Interval> {
        let mut filled: Vec<Interval> = Vec::new();
        for body in &self.bodies {
            let heights = body.form.heights(x, y);
            if heights.is_empty() {
                continue;
            }
            match body.role {
                Role::Add => filled = joined(filled, &heights),
                Role::Remove => {
                    for h in heights {
                        filled = without(&filled, h);
                    }
                }
            }
        }
        filled
    }
    /// Plastic above and below (x, y), mm: the sum of all stretches.
    pub fn local_thickness(&self, x: f64, y: f64) -> f64 {
        self.height_range(x, y).iter().map(|i| i.high - i.low).sum()
    }
}

/// Both sets of stretches together.
pub(crate) fn joined(mut a: Vec<Interval>, b: &[Interval]) -> Vec<Interval> {
    a.extend_from_slice(b);
    a.sort_by(|p, q| p.low.total_cmp(&q.low));
    let mut out: Vec<Interval> = Vec::new();
    for i in a {
        match out.last_mut() {
            Some(last) if i.low - last.high <= THIN => last.high = last.high.max(i.high),
            _ => out.push(i),
        }
    }
    out
}

/// The stretches with one taken away.
pub(crate) fn without(a: &[Interval], hole: Interval) -> Vec<Interval> {
    a.iter()
        .flat_map(|i| {
            [
                Interval {
                    low: i.low,
                    high: i.high.min(hole.low),
                },
                Interval {
                    low: i.low.max(hole.high),
                    high: i.high,
                },
            ]
        })
        .filter(|i| i.high - i.low > THIN)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sketch::{Path, Region, shapes};

    #[test]
    fn a_turned_cup_profile_and_a_groove() {
        let cone = Form::Turned {
            at: Point::new(1.0, 0.0),
            profile: vec![ProfilePoint::new(10.0, 0.0), ProfilePoint::new(0.0, 10.0)],
        };
        let h = cone.heights(5.0, 3.0);
        assert!(h.len() == 1 && h[0].low == 0.0 && (h[0].high - 5.0).abs() < 1e-12);
        let groove = Form::Groove {
            path: Path::line(Point::new(-9.0, 0.0), Point::new(9.0, 0.0)),
            radius: 5.0,
            z: 2.0,
            below: true,
        };
        let h = groove.heights(0.0, 3.0);
        assert!((h[0].low + 2.0).abs() < 1e-12 && h[0].high == 2.0);
        assert!(groove.heights(0.0, 5.0).is_empty());
    }

    #[test]
    fn heights_near_a_place_are_those_of_the_form() {
        let profile = vec![
            ProfilePoint::new(0.5, -2.0),
            ProfilePoint::new(0.0, 0.0),
            ProfilePoint::new(1.0, 2.0),
        ];
        let ring = Region {
            outer: shapes::circle(20.0).unwrap(),
            holes: vec![shapes::rectangle(8.0, 5.0, [1.0; 4]).unwrap()],
        };
        let forms = [
            Form::Prism {
                region: ring,
                profile: profile.clone(),
            },
            Form::Turned {
                at: Point::new(1.0, 0.0),
                profile: vec![ProfilePoint::new(9.0, 0.0), ProfilePoint::new(4.0, 3.0)],
            },
        ];
        let mut same = 0;
        for (form, k) in forms.iter().flat_map(|f| (0..900).map(move |k| (f, k))) {
            let place = Point::new(f64::from(k % 30) - 14.3, f64::from(k / 30) - 14.7);
            let near = Nearby::new(form, &form.extent().plan, place, 0.8);
            same += usize::from(matches!(near, Nearby::Same(_)));
            for (dx, dy) in [(0.0, 0.0), (0.79, 0.0), (-0.5, 0.5), (0.1, -0.75)] {
                let (x, y) = (place.x + dx, place.y + dy);
                assert_eq!(&*near.heights(x, y), form.heights(x, y), "{x} {y}");
            }
        }
        assert!(same > 900, "{same}");
    }

    #[test]
    fn heights_integrate_to_the_volume() {
        // A plain midpoint sum over the plan against the exact volume: a chamfered disc.
        let disc = Form::Prism {
            region: Region::simple(shapes::circle(20.0).unwrap()),
            profile: vec![
                ProfilePoint::new(0.5, -2.0),
                ProfilePoint::new(0.0, 0.0),
                ProfilePoint::new(1.0, 2.0),
            ],
        };
        let n = 400;
        let step = 22.0 / f64::from(n);
        let mut sum = 0.0;
        for i in 0..n {
            for j in 0..n {
                let at = |k: i32| (f64::from(k) + 0.5) * step - 11.0;
                for h in disc.heights(at(i), at(j)) {
                    sum += (h.high - h.low) * step * step;
                }
            }
        }
        let exact = disc.volume().unwrap();
        assert!((sum - exact).abs() < 1e-3 * exact, "{sum} against {exact}");
    }
}
