//! Corner care: inner corners are rounded for the cutter when the file asks for it.
//!
//! Input: `part.round`, the end mills at hand, what `part` rounded. Output: the radius, and
//! findings with a picture that rings each corner.

use super::checks::end_mills;
use super::planner::{PRACTICE, Planner};
use crate::base::Length;
use crate::base::decision::Rule;
use crate::base::finding::Level;
use crate::base::shown;
use crate::base::{Code, Finding};
use crate::part::rounding::Rounding;
use crate::sketch::{Contour, Point, fault_picture};
use crate::spec::job::PartSection;
use crate::spec::part::PartKeys;

/// A corner this much larger than the cutter lets it run through instead of dwelling.
const LARGER: f64 = 1.1;

/// The radius that every inner corner gets at least, mm; 0 when corners stay as drawn.
pub(super) fn radius(p: &mut Planner, part: &PartSection) -> f64 {
    let round = p.yes_no(PartKeys::round, part.round.as_ref(), || {
        (
            true,
            Rule::new(
                "inner corners get the radius that the smallest cutter leaves in them anyway",
                PRACTICE,
            )
            .changes_with("part.round = false, for a mold whose corners are filed or eroded"),
        )
    });
    if !round {
        return 0.0;
    }
    let Some(smallest) = end_mills(p).first().copied() else {
        return 0.0;
    };
    let radius = (LARGER * smallest / 2.0 * 100.0).ceil() / 100.0;
    p.decisions.record(
        "part.corner_radius",
        Length::from_mm(radius).to_string(),
        Rule::new(
            "1.1 × the radius of the smallest end mill at hand, so that it runs through the corner",
            PRACTICE,
        )
        .with("smallest end mill", shown::size(smallest))
        .changes_with("part.round, shop.end_mills"),
    );
    radius
}

/// Says what was rounded and what could not be, with a picture.
pub(super) fn report(p: &mut Planner, rounded: &[Rounding]) {
    if rounded.is_empty() {
        return;
    }
    let contours: Vec<Contour> = rounded.iter().map(|r| r.contour.clone()).collect();
    let picture = |of: &dyn Fn(&Rounding) -> &Vec<Point>| {
        let places: Vec<Point> = rounded.iter().flat_map(|r| of(r).clone()).collect();
        fault_picture(&contours, &[], &places)
    };
    let list = |of: &dyn Fn(&Rounding) -> &Vec<Point>| {
        // Contours of one body are said together.
        let mut counted: Vec<(&str, String, usize)> = Vec::new();
        for r in rounded.iter().filter(|r| !of(r).is_empty()) {
            let radius = shown::length(r.radius, 2);
            let n = of(r).len();
            match counted
                .iter_mut()
                .find(|c| (c.0, &c.1) == (&*r.label, &radius))
            {
                Some(c) => c.2 += n,
                None => counted.push((&r.label, radius, n)),
            }
        }
        let words = counted
            .iter()
            .map(|(label, radius, n)| format!("{n} of {label} (radius {radius})"));
        words.collect::<Vec<_>>().join(", ")
    };
    let (done, left) = (list(&|r| &r.places), list(&|r| &r.left));
    if !done.is_empty() {
        p.findings.push(
            Finding::new(
                Level::Note,
                Code::CornersRounded,
                "part.round",
                format!("inner corners rounded for the cutter: {done}"),
                "a round cutter leaves its own radius in every inner corner; the walls lean, so the radius is a little larger where the part is drawn",
                "corners-rounded.svg rings them; a smaller end mill in shop.end_mills leaves sharper corners",
            )
            .with_picture(picture(&|r| &r.places)),
        );
    }
    if !left.is_empty() {
        p.findings.push(
            Finding::new(
                Level::Warn,
                Code::CornersLeftSharp,
                "part.round",
                format!("inner corners beside edges too short for the radius stay sharp: {left}"),
                "an arc tangent to both edges does not fit between their ends",
                "corners-left-sharp.svg rings them; change the drawing there, or use a smaller end mill",
            )
            .with_picture(picture(&|r| &r.left)),
        );
    }
}
