//! Where the copies of a repeated hole or feature stand.
//!
//! Input: the written `repeat`, the place of the entry, the part's outline. Output: [`Copy`]s that
//! move a region into place; regions of copies that meet are one.

use crate::base::shown;
use crate::base::units::{decimals, number};
use crate::base::{Diagnostic, Given};
use crate::sketch::{Contour, FillRule, Point, Region, Shape, Vector, covered, rotate, shapes};
use crate::spec::job::Repeat;

/// Most regions of one entry with all its copies.
const MOST_REGIONS: usize = 1000;

/// One copy: the region turned about a point, then moved.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Copy {
    about: Point,
    turned: f64,
    shift: Vector,
}

impl Copy {
    fn moved(shift: Vector) -> Self {
        Self {
            about: Point::origin(),
            turned: 0.0,
            shift,
        }
    }
    /// A region of the entry, where this copy has it.
    fn place(&self, region: &Region) -> Region {
        if self.turned == 0.0 {
            return if self.shift == Vector::zeros() {
                region.clone()
            } else {
                region.translated(self.shift)
            };
        }
        region
            .translated(-self.about.coords)
            .rotated(self.turned)
            .translated(self.about.coords + self.shift)
    }
}

/// The copies of an entry that stands at `at`; the first one is the entry itself, except along
/// the outline.
///
/// # Errors
/// `part-repeat`: copies on one place, no outline to follow, too little room for the inset.
fn copies(
    given: &Given<Repeat>,
    at: Point,
    outline: Option<&Contour>,
) -> Result<Vec<Copy>, Box<Diagnostic>> {
    let fault = |span, message: String, label: &str, remedy: String| {
        Err(Box::new(Diagnostic::new(
            "part-repeat",
            span,
            message,
            label,
            remedy,
        )))
    };
    let point = match &given.value {
        Repeat::Row { step, .. } | Repeat::Grid { step, .. } => Some(step),
        Repeat::Circle { about, .. } => about.as_ref(),
        Repeat::Outline { .. } => None,
    };
    if let Some(p) = point.filter(|p| !super::check::near(p.value)) {
        return Err(Box::new(super::check::far_away("part-repeat", p.span)));
    }
    match &given.value {
        Repeat::Row { count, step } => {
            let step_by = step.value.coords;
            if step_by.norm() == 0.0 && count.value > 1 {
                return fault(
                    step.span,
                    "all copies of the row would stand on one place".to_owned(),
                    "no distance",
                    "give the distance from one copy to the next, for example step = [8, 0]"
                        .to_owned(),
                );
            }
            Ok((0..count.value)
                .map(|i| Copy::moved(step_by * f64::from(i)))
                .collect())
        }
        Repeat::Grid {
            columns,
            rows,
            step,
        } => {
            let d = step.value;
            if (d.x == 0.0 && columns.value > 1) || (d.y == 0.0 && rows.value > 1) {
                return fault(
                    step.span,
                    "copies of the grid would stand on one place".to_owned(),
                    "no distance",
                    "give the distance of the columns and of the rows, for example step = [8, 6]"
                        .to_owned(),
                );
            }
            Ok((0..rows.value)
                .flat_map(|r| (0..columns.value).map(move |c| (c, r)))
                .map(|(c, r)| Copy::moved(Vector::new(d.x * f64::from(c), d.y * f64::from(r))))
                .collect())
        }
        Repeat::Circle {
            count,
            about,
            step_angle,
            upright,
        } => {
            let n = f64::from(count.value);
            let about = about.as_ref().map_or(Point::origin(), |p| p.value);
            let (step, whole) = match step_angle {
                Some(a) => (a.value.degrees(), a.span),
                None => (360.0 / n, given.span),
            };
            let turn = step.abs() * (n - 1.0);
            if count.value > 1 && (step == 0.0 || turn > 360.0 - 1e-9) {
                return fault(
                    whole,
                    format!(
                        "{} copies, {} deg from one to the next, come to lie on each other",
                        count.value,
                        number(step)
                    ),
                    "more than one turn",
                    format!(
                        "use at most {} deg, or leave it out",
                        decimals(360.0 / n, 2)
                    ),
                );
            }
            let arm = at - about;
            Ok((0..count.value)
                .map(|i| {
                    let turned = step * f64::from(i);
                    if *upright {
                        let to = rotate(Point::from(arm), turned).coords;
                        return Copy::moved(to - arm);
                    }
                    Copy {
                        about,
                        turned,
                        shift: Vector::zeros(),
                    }
                })
                .collect())
        }
        Repeat::Outline {
            count,
            inset,
            upright,
        } => {
            let Some(outline) = outline else {
                return fault(
                    given.span,
                    "there is no outline to stand along".to_owned(),
                    "along the outline",
                    "only a plate part has an outline; use along = \"circle\" on a turned part"
                        .to_owned(),
                );
            };
            let d = inset.value.mm();
            if !(0.0..=shapes::LARGEST).contains(&d) {
                return fault(
                    inset.span,
                    format!("the inset is {}", shown::size(d)),
                    "out of range",
                    "give a distance of 0 or more, in millimetres".to_owned(),
                );
            }
            let inner = Region::simple(outline.clone()).offset(-d);
            let [line] = &inner[..] else {
                let found = match inner.len() {
                    0 => "nothing is left".to_owned(),
                    n => format!("it falls into {n} pieces"),
                };
                return fault(
                    inset.span,
                    format!("{} inside the outline {found}", shown::size(d)),
                    "too far inside",
                    "use a smaller inset".to_owned(),
                );
            };
            Ok(along(&line.outer, count.value)
                .into_iter()
                .map(|(p, direction)| Copy {
                    about: at,
                    // Right of the way round is outward: there a copy has its upper side.
                    turned: if *upright {
                        0.0
                    } else {
                        (-direction).y.atan2((-direction).x).to_degrees()
                    },
                    shift: p - at,
                })
                .collect())
        }
    }
}

/// `count` places evenly along a closed line, with its direction there. The first lies where the
/// ray along +x from the middle of its box leaves it, so that the drawing's start does not matter.
fn along(line: &Contour, count: u32) -> Vec<(Point, Vector)> {
    let segments: Vec<_> = line.segments().collect();
    let total: f64 = segments.iter().map(|s| s.length()).sum();
    let middle = line.bounds().centre();
    let start = (0..720)
        .flat_map(|i| {
            // Nearest to the ray, of the points of a fine walk around.
            let s = total * f64::from(i) / 720.0;
            walk(&segments, s).map(|(p, _)| (s, p))
        })
        .min_by(|a, b| {
            let off = |p: Point| (p - middle).y.atan2((p - middle).x).abs();
            off(a.1).total_cmp(&off(b.1))
        })
        .map_or(0.0, |(s, _)| s);
    (0..count)
        .filter_map(|i| {
            walk(
                &segments,
                (start + total * f64::from(i) / f64::from(count)) % total,
            )
        })
        .collect()
}

fn walk(segments: &[crate::sketch::Segment], mut s: f64) -> Option<(Point, Vector)> {
    for g in segments {
        let l = g.length();
        if s <= l && l > 0.0 {
            return Some((g.point_at(s / l), g.direction_at(s / l)));
        }
        s -= l;
    }
    segments.last().map(|g| (g.to(), g.direction_at(1.0)))
}

/// The regions of an entry in place with all their copies.
///
/// # Errors
/// As [`copies`] and [`repeated`].
pub(super) fn all(
    regions: Vec<Region>,
    repeat: Option<&Given<Repeat>>,
    at: Point,
    outline: Option<&Contour>,
) -> Result<Vec<Region>, Box<Diagnostic>> {
    match repeat {
        None => Ok(regions),
        Some(given) => repeated(&regions, &copies(given, at, outline)?, given),
    }
}

/// The regions of all copies; those that meet are one region.
///
/// # Errors
/// `part-repeat`: too many of them.
fn repeated(
    regions: &[Region],
    copies: &[Copy],
    given: &Given<Repeat>,
) -> Result<Vec<Region>, Box<Diagnostic>> {
    let count = regions.len() * copies.len();
    if count > MOST_REGIONS {
        return Err(Box::new(Diagnostic::new(
            "part-repeat",
            given.span,
            format!("{count} separate shapes; at most {MOST_REGIONS} can be made of one entry"),
            "too many copies",
            "use fewer copies, or larger ones further apart",
        )));
    }
    let sets: Vec<Vec<Region>> = (copies.iter())
        .map(|c| regions.iter().map(|r| c.place(r)).collect())
        .collect();
    let meets = sets.iter().enumerate().any(|(i, a)| {
        sets[..i].iter().any(|b| {
            a.iter()
                .any(|r| b.iter().any(|s| super::check::meet_in_plan(r, s)))
        })
    });
    if !meets {
        return Ok(sets.into_iter().flatten().collect());
    }
    let shapes: Vec<Shape> = (sets.iter().flatten())
        .map(|r| Shape {
            loops: r.contours().cloned().collect(),
            rule: FillRule::NonZero,
            erases: false,
        })
        .collect();
    covered(&shapes).map_err(|_| {
        Box::new(Diagnostic::new(
            "part-repeat",
            given.span,
            "neighbouring copies touch in a way that cannot be told apart",
            "copies that touch",
            "let them overlap clearly, or keep them apart",
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::{Angle, Length};

    fn mm(v: f64) -> Given<Length> {
        Given::of(Length::from_mm(v))
    }

    fn middles(repeat: Repeat, at: Point, outline: Option<&Contour>) -> Vec<Point> {
        let given = Given::of(repeat);
        let dot = Region::simple(shapes::circle(1.0).unwrap()).translated(at.coords);
        let copies = copies(&given, at, outline).unwrap();
        let all = repeated(&[dot], &copies, &given).unwrap();
        all.iter().map(|r| r.bounds().centre()).collect()
    }

    #[test]
    fn rows_grids_and_circles_by_hand() {
        let near = |a: &[Point], b: &[(f64, f64)]| {
            assert_eq!(a.len(), b.len(), "{a:?}");
            for (p, q) in a.iter().zip(b) {
                assert!((p - Point::new(q.0, q.1)).norm() < 1e-9, "{p} for {q:?}");
            }
        };
        let row = Repeat::Row {
            count: Given::of(3),
            step: Given::of(Point::new(4.0, -1.0)),
        };
        near(
            &middles(row, Point::new(1.0, 2.0), None),
            &[(1.0, 2.0), (5.0, 1.0), (9.0, 0.0)],
        );
        let grid = Repeat::Grid {
            columns: Given::of(2),
            rows: Given::of(2),
            step: Given::of(Point::new(3.0, 5.0)),
        };
        near(
            &middles(grid, Point::origin(), None),
            &[(0.0, 0.0), (3.0, 0.0), (0.0, 5.0), (3.0, 5.0)],
        );
        for upright in [false, true] {
            let circle = Repeat::Circle {
                count: Given::of(4),
                about: Some(Given::of(Point::new(1.0, 0.0))),
                step_angle: None,
                upright,
            };
            near(
                &middles(circle, Point::new(6.0, 0.0), None),
                &[(6.0, 0.0), (1.0, 5.0), (-4.0, 0.0), (1.0, -5.0)],
            );
        }
    }

    #[test]
    fn copies_along_an_outline_stand_evenly_and_face_outward() {
        let plate = shapes::rectangle(40.0, 20.0, [0.0; 4]).unwrap();
        let given = Given::of(Repeat::Outline {
            count: Given::of(4),
            inset: mm(2.0),
            upright: false,
        });
        // A dot above (0, 0): on each copy it lies further out than the copy's own place.
        let dot = Region::simple(shapes::circle(0.4).unwrap()).translated(Vector::new(0.0, 0.5));
        let copies = copies(&given, Point::origin(), Some(&plate)).unwrap();
        let all = repeated(&[dot], &copies, &given).unwrap();
        // The line 2 mm inside is 36 × 16 with sharp corners: 104 mm round; from its point on +x,
        // a quarter round (26 mm) leads to (0, 8).
        for (r, want) in all
            .iter()
            .zip([(18.5, 0.0), (0.0, 8.5), (-18.5, 0.0), (0.0, -8.5)])
        {
            let c = r.bounds().centre();
            assert!(
                (c - Point::new(want.0, want.1)).norm() < 0.3,
                "{c} for {want:?}"
            );
        }
    }

    #[test]
    fn copies_that_meet_are_one() {
        let given = Given::of(Repeat::Circle {
            count: Given::of(5),
            about: None,
            step_angle: None,
            upright: false,
        });
        let petal = Region::simple(shapes::circle(10.0).unwrap()).translated(Vector::new(4.0, 0.0));
        let copies = copies(&given, Point::new(4.0, 0.0), None).unwrap();
        let all = repeated(&[petal], &copies, &given).unwrap();
        assert_eq!((all.len(), all[0].holes.len()), (1, 0));
    }

    #[test]
    fn what_cannot_be_repeated_says_why() {
        let why = |repeat: Repeat, outline: Option<&Contour>| {
            copies(&Given::of(repeat), Point::origin(), outline)
                .unwrap_err()
                .message
        };
        let row = Repeat::Row {
            count: Given::of(3),
            step: Given::of(Point::origin()),
        };
        assert!(why(row, None).contains("one place"));
        let circle = Repeat::Circle {
            count: Given::of(5),
            about: None,
            step_angle: Some(Given::of(Angle::from_degrees(90.0))),
            upright: false,
        };
        assert!(why(circle, None).contains("on each other"));
        let far = |inset: f64| Repeat::Outline {
            count: Given::of(5),
            inset: mm(inset),
            upright: false,
        };
        assert!(why(far(1.0), None).contains("no outline"));
        let disc = shapes::circle(20.0).unwrap();
        assert!(why(far(11.0), Some(&disc)).contains("nothing is left"));
    }
}
