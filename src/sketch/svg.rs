//! Outlines as SVG: path data with true arcs, and a small picture of a fault.

use super::bounds::Bounds;
use super::contour::{Contour, Point, Region, Segment};
use platewright_base::units::decimals;
use std::fmt::Write;

/// SVG path data of a contour (`M … L … A … Z`), millimetres, y upward as in the
/// drawing; flip with `transform="scale(1,-1)"`. Four decimals.
pub fn path_data(contour: &Contour) -> String {
    let mut d = String::new();
    let n = |v: f64| decimals(v, 4);
    for (i, s) in contour.segments().enumerate() {
        if i == 0 {
            let _ = write!(d, "M{} {}", n(s.from().x), n(s.from().y));
        }
        let to = s.to();
        let _ = match s {
            Segment::Line { .. } => write!(d, "L{} {}", n(to.x), n(to.y)),
            // Never a large arc (|bulge| ≤ 1); sweep flag 1 turns from +x to +y.
            Segment::Arc { radius, sweep, .. } => write!(
                d,
                "A{r} {r} 0 0 {} {} {}",
                u8::from(sweep > 0.0),
                n(to.x),
                n(to.y),
                r = n(radius)
            ),
        };
    }
    d.push('Z');
    d
}

/// SVG path data of a region; holes run the other way, so both fill rules show them.
pub fn region_path_data(region: &Region) -> String {
    region.contours().map(path_data).collect()
}

/// A small picture of an outline with the places where it crosses itself ringed.
pub fn crossing_picture(contour: &Contour, points: &[Point]) -> String {
    fault_picture(std::slice::from_ref(contour), &[], points)
}

/// A small picture of closed contours and open lines, with some places ringed.
pub fn fault_picture(closed: &[Contour], open: &[Contour], points: &[Point]) -> String {
    let mut b = closed
        .iter()
        .chain(open)
        .fold(Bounds::default(), |b, c| b.union(&c.bounds()));
    for p in points {
        b.include(*p);
    }
    if b.is_empty() {
        b = Bounds::of_points([Point::origin()]);
    }
    let size = b.width().max(b.height()).max(1e-3);
    let b = b.grown(0.08 * size);
    let n = |v: f64| decimals(v, 4);
    let filled: String = closed.iter().map(path_data).collect();
    let lines: String = open
        .iter()
        .map(|c| {
            path_data(c)
                .split('Z')
                .next()
                .unwrap_or_default()
                .to_owned()
        })
        .collect();
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"240\" height=\"{}\" viewBox=\"{} {} {} {}\">\
         <g transform=\"scale(1,-1)\" fill=\"none\" stroke-width=\"{}\">\
         <path d=\"{filled}\" stroke=\"#333\" fill=\"#eee\" fill-rule=\"evenodd\"/>",
        decimals(240.0 * b.height() / b.width(), 0),
        n(b.min.x),
        n(-b.max.y),
        n(b.width()),
        n(b.height()),
        n(size / 120.0),
    );
    if !lines.is_empty() {
        let _ = write!(svg, "<path d=\"{lines}\" stroke=\"#333\"/>");
    }
    for p in points {
        let _ = write!(
            svg,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" stroke=\"#c00\"/>",
            n(p.x),
            n(p.y),
            n(size / 30.0)
        );
    }
    svg.push_str("</g></svg>\n");
    svg
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Vertex, shapes};

    #[test]
    fn a_slot_has_two_arcs() {
        let d = path_data(&shapes::slot(20.0, 6.0, 0.0).unwrap());
        assert_eq!(d, "M-7 -3L7 -3A3 3 0 0 1 7 3L-7 3A3 3 0 0 1 -7 -3Z");
    }

    #[test]
    fn the_crossing_is_ringed() {
        let c = Contour::new(vec![
            Vertex::new(0.0, 0.0, 0.0),
            Vertex::new(10.0, 10.0, 0.0),
            Vertex::new(10.0, 0.0, 0.0),
            Vertex::new(0.0, 10.0, 0.0),
        ]);
        let svg = crossing_picture(&c, &c.self_crossings()[0].points);
        assert!(svg.contains("<circle cx=\"5\" cy=\"5\"") && svg.ends_with("</svg>\n"));
    }
}
