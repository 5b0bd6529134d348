//! Paths and the basic shapes of SVG as chains of strokes.

use super::{line_of, path};
use crate::trace::MOST_STROKES;
use crate::trace::affine::{Affine, unit_arc, unit_circle};
use crate::trace::error::TraceError;
use crate::trace::sheet::Chain;
use platewright_sketch::Point;
use platewright_sketch::Stroke;
use roxmltree::Node;
use std::f64::consts::FRAC_PI_2;
use std::str::FromStr;
use svgtypes::{LengthUnit, PointsParser};

/// A length in user units; absolute units by CSS Values 4, section 6.2 (1 px = 1/96 in).
pub(super) fn length(node: Node<'_, '_>, name: &str) -> Option<f64> {
    let l = svgtypes::Length::from_str(node.attribute(name)?.trim()).ok()?;
    let unit = match l.unit {
        LengthUnit::None | LengthUnit::Px => 1.0,
        LengthUnit::In => 96.0,
        LengthUnit::Cm => 96.0 / 2.54,
        LengthUnit::Mm => 96.0 / 25.4,
        LengthUnit::Pt => 96.0 / 72.0,
        LengthUnit::Pc => 16.0,
        LengthUnit::Em | LengthUnit::Ex | LengthUnit::Percent => return None,
    };
    Some(l.number * unit)
}

/// The chains of a shape, in its own coordinates; `None` for an element that is no shape.
pub(super) fn chains(node: Node<'_, '_>) -> Result<Option<Vec<Chain>>, TraceError> {
    let at = |name: &str| length(node, name).unwrap_or(0.0);
    let one = |strokes: Vec<Stroke>| Ok(Some(vec![Chain { strokes }]));
    match node.tag_name().name() {
        "path" => {
            let data = node.attribute("d").unwrap_or("");
            path::chains(data, MOST_STROKES).map(Some).map_err(|e| {
                TraceError::new(
                    format!("has path data that cannot be read: {e}"),
                    "export the drawing again",
                )
                .at_line(line_of(node))
            })
        }
        "rect" => one(rectangle(node)),
        "circle" | "ellipse" => {
            let (rx, ry) = match node.tag_name().name() {
                "circle" => (at("r"), at("r")),
                _ => {
                    // One radius alone stands for both (SVG 2, auto).
                    let (x, y) = (length(node, "rx"), length(node, "ry"));
                    (x.or(y).unwrap_or(0.0), y.or(x).unwrap_or(0.0))
                }
            };
            if !(rx > 0.0 && ry > 0.0) {
                return Ok(Some(Vec::new()));
            }
            one(unit_circle(&Affine::new(
                rx,
                0.0,
                0.0,
                ry,
                at("cx"),
                at("cy"),
            )))
        }
        "line" => one(vec![Stroke::Line(
            Point::new(at("x1"), at("y1")),
            Point::new(at("x2"), at("y2")),
        )]),
        name @ ("polygon" | "polyline") => {
            let text = node.attribute("points").unwrap_or("");
            let mut points: Vec<Point> = PointsParser::from(text)
                .take(MOST_STROKES + 1)
                .map(|(x, y)| Point::new(x, y))
                .collect();
            points.dedup();
            if name == "polygon" && points.len() > 2 {
                points.push(points[0]);
            }
            one(points
                .windows(2)
                .filter(|w| w[0] != w[1])
                .map(|w| Stroke::Line(w[0], w[1]))
                .collect())
        }
        _ => Ok(None),
    }
}

fn rectangle(node: Node<'_, '_>) -> Vec<Stroke> {
    let at = |name: &str| length(node, name).unwrap_or(0.0);
    let (x, y, w, h) = (at("x"), at("y"), at("width"), at("height"));
    if !(w > 0.0 && h > 0.0) {
        return Vec::new();
    }
    let (rx, ry) = (length(node, "rx"), length(node, "ry"));
    let rx_given = rx.or(ry).unwrap_or(0.0).clamp(0.0, 0.5 * w);
    let ry_given = ry.or(rx).unwrap_or(0.0).clamp(0.0, 0.5 * h);
    let corner = |px: f64, py: f64| Point::new(px, py);
    if rx_given == 0.0 || ry_given == 0.0 {
        let c = [
            corner(x, y),
            corner(x + w, y),
            corner(x + w, y + h),
            corner(x, y + h),
        ];
        return (0..4).map(|i| Stroke::Line(c[i], c[(i + 1) % 4])).collect();
    }
    // From the upper left corner's arc on, clockwise on the screen (y downward).
    let (l, r, t, b) = (
        x + rx_given,
        x + w - rx_given,
        y + ry_given,
        y + h - ry_given,
    );
    let centres = [(l, t), (r, t), (r, b), (l, b)];
    let mut all: Vec<Stroke> = Vec::new();
    for (i, (cx, cy)) in centres.into_iter().enumerate() {
        let map = Affine::new(rx_given, 0.0, 0.0, ry_given, cx, cy);
        let arc = unit_arc((2 + i) as f64 * FRAC_PI_2, FRAC_PI_2, &map);
        if let Some(end) = all.last().map(|s| s.ends().1) {
            all.push(Stroke::Line(end, arc[0].ends().0));
        }
        all.extend(arc);
    }
    let (start, end) = (all[0].ends().0, all[all.len() - 1].ends().1);
    all.push(Stroke::Line(end, start));
    all
}
