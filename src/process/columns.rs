//! The plastic above and below any plan point of a part, ready for many points.
//!
//! Input: a [`PartModel`] and its scale (1 + shrinkage). Output: [`Column`]s for the grid.
//! The heights themselves come from `part`; here only the bodies near a point are asked.

use super::plan_grid::{Column, NearColumns, Plastic};
use crate::part::height::{Nearby, joined, without};
use crate::part::{Form, Interval, PartModel, Role};
use crate::sketch::{Bounds, Point};

/// A part made ready for many plan points.
#[derive(Debug, Clone)]
pub struct PartColumns<'a> {
    bodies: Vec<(Role, &'a Form, Bounds)>,
    scale: f64,
    bounds: Bounds,
}

impl<'a> PartColumns<'a> {
    /// Prepares a part; `scale` turns part sizes into cavity sizes.
    pub fn new(part: &'a PartModel, scale: f64) -> Self {
        let mut all = Bounds::of_points([]);
        let bodies = part
            .bodies
            .iter()
            .map(|b| {
                let around = b.form.extent().plan;
                if b.role == Role::Add {
                    all = all.union(&around);
                }
                (b.role, &b.form, around)
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

    /// The column at a plan point of the scaled part.
    pub fn column(&self, x: f64, y: f64) -> Column {
        let p = Point::new(x / self.scale, y / self.scale);
        let near = |(_, _, around): &&(Role, &Form, Bounds)| around.contains(p);
        let bodies = self.bodies.iter().filter(near);
        let heights = bodies.map(|(role, form, _)| (*role, form.heights(p.x, p.y)));
        filled(heights, self.scale)
    }
}

/// The column that bodies leave whose heights are added and taken away in order.
fn filled<H: AsRef<[Interval]>>(bodies: impl Iterator<Item = (Role, H)>, scale: f64) -> Column {
    let mut filled: Vec<Interval> = Vec::new();
    for (role, own) in bodies {
        let own = own.as_ref();
        match role {
            Role::Add if own.is_empty() => {}
            Role::Add if filled.is_empty() => filled = own.to_vec(),
            Role::Add => filled = joined(filled, own),
            Role::Remove => {
                for hole in own {
                    filled = without(&filled, *hole);
                }
            }
        }
    }
    match (filled.first(), filled.last()) {
        (Some(first), Some(last)) => Column {
            thickness: scale * filled.iter().map(|i| i.high - i.low).sum::<f64>(),
            low: scale * first.low,
            high: scale * last.high,
        },
        _ => Column::default(),
    }
}

impl Plastic for PartColumns<'_> {
    fn column(&self, x: f64, y: f64) -> Column {
        self.column(x, y)
    }
    fn near(&self, at: [f64; 2], reach: f64) -> NearColumns<'_> {
        let (scale, place) = (self.scale, Point::new(at[0], at[1]) / self.scale);
        let mut bodies: Vec<(Role, Nearby<'_>)> = Vec::new();
        for (role, form, plan) in &self.bodies {
            match Nearby::new(form, plan, place, reach / scale) {
                Nearby::Same(none) if none.is_empty() => {}
                heights => bodies.push((*role, heights)),
            }
        }
        let even = bodies.iter().all(|(_, n)| matches!(n, Nearby::Same(_)));
        let column = move |x: f64, y: f64| {
            let (x, y) = (x / scale, y / scale);
            filled(bodies.iter().map(|(r, n)| (*r, n.heights(x, y))), scale)
        };
        if even {
            let everywhere = column(at[0], at[1]);
            return Box::new(move |_, _| everywhere);
        }
        Box::new(column)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::part::{PartBody, ProfilePoint};
    use crate::process::plan_grid::{GridSpec, PlanGrid};
    use crate::sketch::{Contour, Region, Vertex};
    use std::f64::consts::PI;

    fn circle(x: f64, y: f64, r: f64) -> Region {
        Region::simple(Contour::new(vec![
            Vertex::new(x + r, y, 1.0),
            Vertex::new(x - r, y, 1.0),
        ]))
    }

    fn body(role: Role, form: Form) -> PartBody {
        PartBody {
            of: crate::part::BodyOf::Outline,
            role,
            form,
        }
    }

    fn drafted() -> PartModel {
        // A drafted disk of 40 mm with a pocket of 10 mm, 1 mm deep, from the top.
        PartModel::of(vec![
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
        ])
    }

    #[test]
    fn columns_follow_draft_and_pockets() {
        let part = drafted();
        let c = PartColumns::new(&part, 1.0);
        assert!((c.column(-10.0, 0.0).thickness - 3.0).abs() < 1e-9);
        assert!((c.column(5.0, 1.0).thickness - 2.0).abs() < 1e-9);
        assert!((c.column(5.0, 1.0).high + 1.0).abs() < 1e-9);
        // 0.25 mm inside the edge the drafted wall (0.5 mm over 3 mm) leaves half.
        assert!((c.column(-19.75, 0.0).thickness - 1.5).abs() < 1e-6);
        assert_eq!(c.column(-20.1, 0.0).thickness, 0.0);
    }

    #[test]
    fn the_grid_holds_the_exact_volume() {
        let part = drafted();
        let c = PartColumns::new(&part, 1.016);
        let (min, max) = c.bounds().unwrap();
        let grid = PlanGrid::new(
            &c,
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
        let part = PartModel::of(vec![body(
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
        )]);
        let c = PartColumns::new(&part, 1.0);
        let t = c.column(1.0 + 3.0, 2.0).thickness;
        assert!((t - 8.0).abs() < 0.1, "{t}");
    }
}
