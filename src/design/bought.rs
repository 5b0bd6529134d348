//! Bought pieces as plain bodies where they sit in the closed mold.
//!
//! Input: a size of the standards' tables, places, heights. Output: one [`Form`] a piece for
//! looking at: threads at their nominal size, no drive, no chamfers. Cuts nothing.

use crate::data::fasteners;
use crate::part::{Form, ProfilePoint};
use crate::sketch::{Contour, Point, Region, shapes};

/// Socket head screws from below: the head ends at `seat`, the shank stands above it.
pub(super) fn screws(thread: &str, places: &[Point], seat: f64, length: f64) -> Vec<Form> {
    let (Some(size), Some(head)) = (
        fasteners::screw_thread(thread),
        fasteners::socket_head(thread),
    ) else {
        return Vec::new();
    };
    let profile = stepped(&[
        (0.5 * head.head_dia_mm, seat - head.head_height_mm, seat),
        (0.5 * size.major_dia_mm, seat, seat + length),
    ]);
    turned(places, &profile)
}

/// Pins from `low` upwards.
pub(super) fn pins(dia: f64, places: &[Point], low: f64, length: f64) -> Vec<Form> {
    turned(places, &stepped(&[(0.5 * dia, low, low + length)]))
}

/// Hexagon nuts from `low` upwards.
pub(super) fn nuts(thread: &str, places: &[Point], low: f64) -> Vec<Form> {
    let (Some(size), Some(nut)) = (
        fasteners::screw_thread(thread),
        fasteners::of(fasteners::hexagon_nuts(), thread),
    ) else {
        return Vec::new();
    };
    // Across corners = 2/√3 × across flats.
    let corners = nut.flats_mm * 2.0 / 3.0_f64.sqrt();
    let outer = shapes::polygon(6, corners, 0.0, 0.0);
    rings(outer, size.major_dia_mm, places, low, nut.height_mm)
}

/// Plain washers from `low` upwards.
pub(super) fn washers(thread: &str, places: &[Point], low: f64) -> Vec<Form> {
    let Some(w) = fasteners::of(fasteners::washers(), thread) else {
        return Vec::new();
    };
    let outer = shapes::circle(w.outside_mm);
    rings(outer, w.inside_mm, places, low, w.thickness_mm)
}

/// Cylinders on one another: radius, from, to.
fn stepped(steps: &[(f64, f64, f64)]) -> Vec<ProfilePoint> {
    steps
        .iter()
        .flat_map(|&(r, low, high)| [ProfilePoint::new(r, low), ProfilePoint::new(r, high)])
        .collect()
}

fn turned(places: &[Point], profile: &[ProfilePoint]) -> Vec<Form> {
    places
        .iter()
        .map(|at| Form::Turned {
            at: *at,
            profile: profile.to_vec(),
        })
        .collect()
}

fn rings(
    outer: Result<Contour, shapes::ShapeError>,
    hole: f64,
    places: &[Point],
    low: f64,
    height: f64,
) -> Vec<Form> {
    let (Ok(outer), Ok(hole)) = (outer, shapes::circle(hole)) else {
        return Vec::new();
    };
    let place = |at: &Point| Form::Prism {
        region: Region {
            outer: outer.clone().translated(at.coords),
            holes: vec![hole.clone().clockwise().translated(at.coords)],
        },
        profile: vec![
            ProfilePoint::new(0.0, low),
            ProfilePoint::new(0.0, low + height),
        ],
    };
    places.iter().map(place).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn bodies_have_the_sizes_of_the_standards() {
        let at = [Point::new(10.0, -4.0)];
        let volume = |forms: &[Form]| -> f64 {
            let one = |f: &Form| f.volume().expect("a body");
            forms.iter().map(one).sum()
        };
        let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-6 * b, "{a} {b}");
        // ISO 4762, M8: head 13 × 8 mm.
        let screw = screws("M8", &at, -6.0, 30.0);
        close(volume(&screw), PI * (6.5 * 6.5 * 8.0 + 4.0 * 4.0 * 30.0));
        let extent = screw[0].extent();
        assert_eq!((extent.low, extent.high), (-14.0, 24.0));
        // ISO 4032, M8: 13 mm across flats, 6.8 mm high; area of a hexagon = √3/2 × flats².
        let hexagon = 0.5 * 3.0_f64.sqrt() * 13.0 * 13.0;
        close(volume(&nuts("M8", &at, 0.0)), (hexagon - PI * 16.0) * 6.8);
        // ISO 7089, M8: 8.4 × 16 × 1.6.
        close(
            volume(&washers("M8", &at, 0.0)),
            PI * (64.0 - 4.2 * 4.2) * 1.6,
        );
        assert!(screws("M7", &at, 0.0, 10.0).is_empty());
    }
}
