//! The spigot of an adaptor plate: a round shoulder on its back that enters a hole behind it.

use super::feature::{Purpose, Shape};
use super::planner::{PRACTICE, Planner, up_to};
use super::plate::Plate;
use super::plate::push;
use super::side::Face;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::sketch::{Contour, Point, Region, shapes};
use crate::spec::job::AdaptorSection;

/// Wall of a spigot around a hole that runs through it, mm (common practice, no source).
const SPIGOT_WALL: f64 = 1.5;

/// Diameter and height of the spigot, if there is one. `within`: diameter of the thread that
/// runs through it, mm; 0 when none does.
pub(super) fn decide(
    p: &mut Planner,
    places: &[Point],
    hole_radius: f64,
    within: f64,
) -> Option<(f64, f64)> {
    let grid = p.grid();
    let spec = p.job.adaptor.clone();
    let given = spec.spigot_diameter.as_ref()?;
    let dia = p.length(AdaptorSection::spigot_diameter, Some(given), || {
        (given.value.mm(), Rule::default())
    });
    let height = p.length(
        AdaptorSection::spigot_height,
        spec.spigot_height.as_ref(),
        || {
            (
                4.0,
                Rule::new(
                    format!("{}: enters before the screws do", shown::size(4.0)),
                    PRACTICE,
                )
                .changes_with("adaptor.spigot_height"),
            )
        },
    );
    let room = places
        .iter()
        .map(|q| q.coords.norm())
        .fold(f64::INFINITY, f64::min)
        - hole_radius;
    if dia / 2.0 > room - 1.0 {
        p.refuse(
            "spigot-too-large",
            Some(given.span),
            format!(
                "a spigot of {} runs into the screw holes, which begin {} from the axis",
                shown::size(dia),
                shown::size(room)
            ),
            "too large",
            format!("at most {}", shown::size((2.0 * (room - 1.0)).floor())),
        );
    }
    let bore = spec.bore.as_ref().map_or(within, |b| b.value.mm());
    let least = bore + 2.0 * SPIGOT_WALL;
    if dia < least {
        p.refuse(
            "spigot-too-small",
            Some(given.span),
            format!(
                "a spigot of {} has no wall around the hole of {} through it",
                shown::size(dia),
                shown::size(bore)
            ),
            "too small",
            format!("at least {}", shown::size(up_to(least, grid(0.5)))),
        );
    }
    Some((dia, height))
}

/// The spigot must stand on the plate: a circle that leaves the outline would be no round
/// shoulder.
pub(super) fn on_plate(p: &mut Planner, dia: f64, outline: &Contour) {
    let Ok(circle) = shapes::circle(dia) else {
        return;
    };
    if !outline.encloses(&circle) {
        let room = 2.0 * outline.distance(Point::origin());
        p.refuse(
            "spigot-too-large",
            super::planner::span_of(p.job.adaptor.spigot_diameter.as_ref()),
            format!(
                "a spigot of {} reaches beyond the plate, which is {} wide around the axis",
                shown::size(dia),
                shown::size((100.0 * room).floor() / 100.0)
            ),
            "wider than the plate",
            "a smaller adaptor.spigot_diameter, or a wider adaptor.outline",
        );
    }
}

/// Cuts the back face down around the spigot; the cut runs over the plate's edge.
pub(super) fn shoulder(plate: &mut Plate, dia: f64, height: f64) {
    let over = 5.0;
    let b = plate.outline.bounds().grown(over);
    let Ok(spigot) = shapes::circle(dia) else {
        return;
    };
    let outer = Contour::new(
        [
            (b.min.x, b.min.y),
            (b.max.x, b.min.y),
            (b.max.x, b.max.y),
            (b.min.x, b.max.y),
        ]
        .map(|(x, y)| crate::sketch::Vertex::new(x, y, 0.0))
        .to_vec(),
    );
    push(
        plate,
        Purpose::Register,
        Face::Low,
        Shape::Pocket {
            region: Region {
                outer,
                holes: vec![spigot.clockwise()],
            },
            depth: height,
            draft_deg: 0.0,
            cutter: 16.0,
        },
    );
}
