//! Units, transforms and view boxes: how an element lies on the page.

use super::{line_of, shape};
use crate::trace::MOST_STROKES;
use crate::trace::affine::Affine;
use crate::trace::error::TraceError;
use roxmltree::Node;
use std::str::FromStr;
use svgtypes::{LengthUnit, TransformListParser, ViewBox};

/// Millimetres of one unit where the page says, and the map to y upward.
pub(super) fn page(root: Node<'_, '_>) -> (Option<f64>, Affine) {
    let length = |name: &str| {
        let l = svgtypes::Length::from_str(root.attribute(name)?).ok()?;
        // CSS Values 4, section 6.2: absolute lengths.
        let mm = match l.unit {
            LengthUnit::Mm => 1.0,
            LengthUnit::Cm => 10.0,
            LengthUnit::In => 25.4,
            LengthUnit::Pt => 25.4 / 72.0,
            LengthUnit::Pc => 25.4 / 6.0,
            _ => return None,
        };
        Some(l.number * mm).filter(|v| *v > 0.0)
    };
    let (w, h) = (length("width"), length("height"));
    let up = Affine::scaling(1.0, -1.0);
    let Some(view) = view_box(root) else {
        // Without a view box the unit is the CSS pixel, 1/96 in.
        return (w.or(h).map(|_| 25.4 / 96.0), up);
    };
    let x = w.map(|w| w / view.w);
    let y = h.map(|h| h / view.h);
    let unit = match (x, y) {
        (Some(x), Some(y)) => Some(x.min(y)),
        (x, y) => x.or(y),
    };
    (unit, up)
}

/// The view box, if it has one with a size.
fn view_box(node: Node<'_, '_>) -> Option<ViewBox> {
    let view = ViewBox::from_str(node.attribute("viewBox")?).ok()?;
    let finite = [view.x, view.y, view.w, view.h]
        .iter()
        .all(|v| v.is_finite());
    (finite && view.w > 0.0 && view.h > 0.0).then_some(view)
}

pub(super) fn number(node: Node<'_, '_>, name: &str) -> f64 {
    shape::length(node, name).unwrap_or(0.0)
}

pub(super) fn transform(node: Node<'_, '_>) -> Result<Affine, TraceError> {
    let mut map = Affine::identity();
    let Some(text) = node.attribute("transform") else {
        return Ok(map);
    };
    for (i, token) in TransformListParser::from(text).enumerate() {
        use svgtypes::TransformListToken as T;
        let wrong = || {
            TraceError::new(
                "has a transform that cannot be read",
                "reset the transform of this shape",
            )
            .at_line(line_of(node))
        };
        let step = match token.map_err(|_| wrong())? {
            T::Matrix { a, b, c, d, e, f } => Affine::new(a, b, c, d, e, f),
            T::Translate { tx, ty } => Affine::translation(tx, ty),
            T::Scale { sx, sy } => Affine::scaling(sx, sy),
            T::Rotate { angle } => Affine::rotation_deg(angle),
            T::SkewX { angle } => Affine::new(1.0, 0.0, angle.to_radians().tan(), 1.0, 0.0, 0.0),
            T::SkewY { angle } => Affine::new(1.0, angle.to_radians().tan(), 0.0, 1.0, 0.0, 0.0),
        };
        if i > MOST_STROKES {
            return Err(wrong());
        }
        map = map.after(&step);
    }
    Ok(map)
}

/// The map from a nested `svg` or a symbol to what is around it (aspect kept, in the middle).
pub(super) fn viewport(node: Node<'_, '_>, used_by: Option<Node<'_, '_>>) -> Affine {
    let own = |name: &str| {
        used_by
            .and_then(|u| shape::length(u, name))
            .or_else(|| shape::length(node, name))
    };
    let shift = match used_by {
        Some(_) => Affine::identity(),
        None => Affine::translation(number(node, "x"), number(node, "y")),
    };
    let (Some(view), Some(w), Some(h)) = (view_box(node), own("width"), own("height")) else {
        return shift;
    };
    let s = (w / view.w).min(h / view.h);
    let middle = Affine::translation(0.5 * (w - s * view.w), 0.5 * (h - s * view.h));
    shift
        .after(&middle)
        .after(&Affine::scaling(s, s))
        .after(&Affine::translation(-view.x, -view.y))
}
