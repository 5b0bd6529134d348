//! What shape a closed outline has, as a drawing names it: a circle, a ring, a rectangle, a slot.
//!
//! Input: a region in the coordinates of a face. Output: its [`Figure`], where it lies and how
//! it is turned; and its words. What is none of these is given point by point, or, with many
//! points, left to the cut file.

use crate::base::shown;
use crate::sketch::{Contour, Point, Region, Segment, Vertex};

/// Sizes and directions nearer than this are one, mm (and radians).
const SAME: f64 = 1e-4;
/// More points than these are not listed on paper.
const LISTED: usize = 16;

/// A shape with a name.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Figure {
    /// A circle.
    Circle { dia: f64 },
    /// What lies between two circles about one centre.
    Ring { outer: f64, inner: f64 },
    /// A rectangle; corners of this radius (0 = sharp).
    Rectangle {
        length: f64,
        width: f64,
        radius: f64,
    },
    /// A slot with two round ends, length over all.
    Slot { length: f64, width: f64 },
    /// A slot with one round end: it stands at that end's centre; length from there.
    Tongue { length: f64, width: f64 },
    /// Any other, given by its points.
    Points(Region),
    /// Any other with too many points for paper.
    Drawn(Region),
}

/// A figure on a face.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Placed {
    /// The shape.
    pub figure: Figure,
    /// Its middle (a tongue: the middle of its round end).
    pub at: Point,
    /// Direction of its length from X, counter-clockwise, degrees.
    pub angle_deg: f64,
}

/// Names the shape of a region.
pub(super) fn recognise(region: &Region) -> Placed {
    let level = |figure, at| Placed {
        figure,
        at,
        angle_deg: 0.0,
    };
    if let Some((at, radius)) = circle(&region.outer) {
        let dia = 2.0 * radius;
        match region.holes.as_slice() {
            [] => return level(Figure::Circle { dia }, at),
            [hole] => {
                if let Some((_, r)) = circle(hole).filter(|(c, _)| (c - at).norm() < SAME) {
                    let (outer, inner) = (dia, 2.0 * r);
                    return level(Figure::Ring { outer, inner }, at);
                }
            }
            _ => {}
        }
    }
    let bar = (region.holes.is_empty()).then(|| bar(&region.outer));
    bar.flatten().unwrap_or_else(|| {
        let points: usize = region.contours().map(|c| c.vertices.len()).sum();
        let region = region.clone();
        let at = region.bounds().centre();
        match points <= LISTED {
            true => level(Figure::Points(region), at),
            false => level(Figure::Drawn(region), at),
        }
    })
}

/// Centre and radius of a contour that is one circle.
pub(super) fn circle(contour: &Contour) -> Option<(Point, f64)> {
    contour.as_circle(SAME)
}

/// Rectangles, slots and tongues: lines in two directions, equal arcs between them, and the area
/// that such a shape has.
fn bar(contour: &Contour) -> Option<Placed> {
    let contour = contour.clone().counter_clockwise();
    let (mut lines, mut arcs) = (Vec::new(), Vec::new());
    for s in contour.segments() {
        match s {
            Segment::Line { from, to } => lines.push(to - from),
            Segment::Arc {
                centre,
                radius,
                sweep,
                ..
            } => arcs.push((centre, radius, sweep)),
        }
    }
    let way = *lines.iter().max_by(|a, b| a.norm().total_cmp(&b.norm()))?;
    let along = way.normalize();
    let square = |l: &nalgebra::Vector2<f64>| {
        let l = l.normalize();
        l.dot(&along).abs() < SAME || l.perp(&along).abs() < SAME
    };
    let radius = arcs.first().map_or(0.0, |a| a.1);
    let alike = |a: &(Point, f64, f64)| (a.1 - radius).abs() < SAME && a.2 > 0.0;
    if !lines.iter().all(square) || !arcs.iter().all(alike) {
        return None;
    }
    let angle = along.y.atan2(along.x).to_degrees();
    let b = contour.rotated(-angle).bounds();
    let (length, width) = (b.width(), b.height());
    let whole = length * width;
    let half = |a: &(Point, f64, f64)| (a.2 - std::f64::consts::PI).abs() < SAME;
    let round_ends = 0.5 * (4.0 - std::f64::consts::PI) * radius * radius;
    let area = contour.signed_area();
    let is = |expected: f64| (area - expected).abs() < 1e-6 * whole.max(1.0) + SAME * SAME;
    let at = crate::sketch::rotate(b.centre(), angle);
    let upright = |a: f64| a.rem_euclid(180.0);
    match (lines.len(), arcs.len()) {
        (4, 0 | 4) if is(whole - 2.0 * round_ends) => {
            let turn = upright(angle);
            let level = turn.rem_euclid(90.0).min(90.0 - turn.rem_euclid(90.0)) < 1e-4;
            let across = level && (turn - 90.0).abs() < 1.0;
            let (length, width) = if across {
                (width, length)
            } else {
                (length, width)
            };
            Some(Placed {
                figure: Figure::Rectangle {
                    length,
                    width,
                    radius,
                },
                at,
                angle_deg: if level { 0.0 } else { turn },
            })
        }
        (2, 2) if arcs.iter().all(half) && is(whole - 2.0 * round_ends) => Some(Placed {
            figure: Figure::Slot { length, width },
            at,
            angle_deg: upright(angle),
        }),
        (3, 1) if half(&arcs[0]) && is(whole - round_ends) => {
            let end = arcs[0].0;
            let away = at - end;
            Some(Placed {
                figure: Figure::Tongue {
                    length: length - radius,
                    width,
                },
                at: end,
                angle_deg: away.y.atan2(away.x).to_degrees().rem_euclid(360.0),
            })
        }
        _ => None,
    }
}

/// A size as on a drawing.
pub(super) fn size(mm: f64) -> String {
    shown::bare_length(mm, 2)
}

impl Placed {
    /// The shape in words. `file` is where the outline is to be had when it is not listed.
    pub(super) fn words(&self, file: &str) -> String {
        match &self.figure {
            Figure::Circle { dia } => format!("ø{}", size(*dia)),
            Figure::Ring { outer, inner } => {
                format!("ring ø{} / ø{}", size(*outer), size(*inner))
            }
            Figure::Rectangle {
                length,
                width,
                radius,
            } => {
                let corners = match *radius < SAME {
                    true => String::new(),
                    false => format!(", corners R{}", size(*radius)),
                };
                format!("{} × {}{corners}", size(*length), size(*width))
            }
            Figure::Slot { length, width } => {
                format!("slot {} × {}", size(*length), size(*width))
            }
            Figure::Tongue { length, width } => format!(
                "{} wide, end here round, {} long",
                size(*width),
                size(*length)
            ),
            Figure::Points(region) => {
                let mut all = region.contours().map(contour_words);
                let outer = all.next().unwrap_or_default();
                let holes = all.map(|h| format!(" less {h}"));
                format!("X;Y {outer}{}", holes.collect::<String>())
            }
            Figure::Drawn(region) => {
                let b = region.bounds();
                format!(
                    "outline of {file}, {} × {}",
                    size(b.width()),
                    size(b.height())
                )
            }
        }
    }
    /// True for what turns when it is laid another way.
    pub(super) fn turned(&self) -> bool {
        self.angle_deg.min(360.0 - self.angle_deg) > 0.005
    }
}

/// A contour point by point, counter-clockwise: `R4` before a point is an arc to it that bends
/// outward, `R-4` one that bends inward.
fn contour_words(contour: &Contour) -> String {
    points_words(&contour.clone().counter_clockwise().vertices, true, 1.0)
}

/// Points with arcs between them. `closed`: the last runs to the first. `across` stretches the
/// first coordinate (2 for diameters).
pub(super) fn points_words(vertices: &[Vertex], closed: bool, across: f64) -> String {
    let point = |v: &Vertex| format!("{};{}", size(across * v.at.x), size(v.at.y));
    let mut out: Vec<String> = vertices.first().map(point).into_iter().collect();
    for (i, v) in vertices.iter().enumerate() {
        let last = i + 1 == vertices.len();
        if last && (!closed || v.bulge == 0.0) {
            break;
        }
        let next = &vertices[(i + 1) % vertices.len()];
        if let Segment::Arc { radius, .. } = Segment::between(*v, next.at) {
            let sign = if v.bulge < 0.0 { "-" } else { "" };
            out.push(format!("R{sign}{}", size(radius)));
        }
        out.push(point(next));
    }
    out.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sketch::shapes;

    fn named(contour: Contour) -> Placed {
        recognise(&Region::simple(contour))
    }

    #[test]
    fn shapes_are_named_wherever_they_lie_and_however_they_are_turned() {
        let by = nalgebra::Vector2::new(12.0, -7.5);
        for angle in [0.0, 17.0, 90.0, 133.0] {
            let turned = |c: Contour| c.rotated(angle).translated(by);
            let words = |c: Contour| named(turned(c)).words("plate.dxf");
            assert_eq!(words(shapes::circle(8.0).unwrap()), "ø8");
            let slot = named(turned(shapes::slot(20.0, 6.0, 0.0).unwrap()));
            assert_eq!(slot.words(""), "slot 20 × 6");
            assert!((slot.angle_deg - angle).abs() < 1e-6);
            assert!((slot.at - Point::new(12.0, -7.5)).norm() < 1e-9);
            let r = words(shapes::rectangle(20.0, 16.0, [4.0; 4]).unwrap());
            let want = if angle == 90.0 {
                "16 × 20"
            } else {
                "20 × 16"
            };
            assert_eq!(r, format!("{want}, corners R4"));
        }
    }

    #[test]
    fn a_tongue_stands_at_its_round_end() {
        let v = Vertex::new;
        let c = Contour::new(vec![
            v(5.0, -3.0, 0.0),
            v(30.0, -3.0, 0.0),
            v(30.0, 3.0, 0.0),
            v(5.0, 3.0, 1.0),
        ]);
        let t = named(c.rotated(200.0));
        assert_eq!(t.words(""), "6 wide, end here round, 25 long");
        assert!((t.angle_deg - 200.0).abs() < 1e-6, "{t:?}");
        assert!((t.at - crate::sketch::rotate(Point::new(5.0, 0.0), 200.0)).norm() < 1e-9);
    }

    #[test]
    fn what_has_no_name_is_listed() {
        let v = Vertex::new;
        let c = Contour::new(vec![
            v(0.0, 0.0, 0.0),
            v(10.0, 0.0, 0.0),
            v(10.0, 4.0, 0.414_213_562_4),
            v(6.0, 8.0, 0.0),
        ]);
        assert_eq!(named(c).words(""), "X;Y 0;0 10;0 10;4 R4 6;8");
    }
}
