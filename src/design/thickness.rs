//! How thick the plates must be.

use super::bolts::Bolts;
use super::nozzle::Seat;
use super::planner::{Planner, span_of, up_to};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::data::{Material, materials};
use crate::spec::job::{BoltStyle, MoldSection};
use std::f64::consts::PI;

/// Most that a plate may bow under the cavity, mm: about twice a usual vent depth, where
/// flash begins at a few MPa (common practice, no source; the plate computation checks it).
const BOW: f64 = 0.05;

/// What the load needs: thickness of a round plate simply supported on a circle through
/// the screws, under the melt's force spread over it, that bows by no more than [`BOW`].
///
/// w = q a⁴ (5+ν) / (64 (1+ν) D), D = E t³ / (12 (1−ν²)). Source: Timoshenko, Theory of
/// Plates and Shells; Civil Engineering Handbook 47.73 for the clamped case.
fn by_bending(force: f64, radius: f64, m: &Material) -> f64 {
    let q = force / (PI * radius * radius);
    let nu = m.poisson;
    let stiffness = q * radius.powi(4) * (5.0 + nu) / (64.0 * (1.0 + nu) * BOW);
    (12.0 * (1.0 - nu * nu) * stiffness / m.youngs_modulus).cbrt()
}

/// Metal that stays under a runner or a well, mm (common practice, no source).
pub(super) const UNDER: f64 = 2.0;

/// The two thicknesses, mm: A plate, B plate. `depth_b`: how deep cavities go into the B plate,
/// how deep the seats of its cores, and what has to stay under these; `channels`: how deep runners
/// and well go into each.
#[allow(clippy::too_many_arguments)]
pub(super) fn decide(
    p: &mut Planner,
    material: &Material,
    force: f64,
    span: f64,
    depth_a: f64,
    (depth_b, seats, web): (f64, f64, f64),
    channels: (f64, f64),
    seat: &Seat,
    bolts: &Bolts,
) -> (f64, f64) {
    let grid = p.grid();
    let bending = by_bending(force, span / 2.0, material);
    let (cavities_b, depth_b) = (depth_b, depth_b.max(seats));
    let sold = p.job.sold();
    let stock = |t: f64| {
        materials::plate_stock(material, sold)
            .and_then(|s| s.at_least(t))
            .unwrap_or_else(|| up_to(t, grid(5.0)))
    };
    let rule = |name: &str, depth: f64| {
        Rule::new(
            format!("next stock thickness above: cavity depth + bending thickness; nozzle seat + {}; screw engagement or head", shown::size(6.0)),
            format!("Timoshenko, round plate simply supported, uniform load; bow limit {}: common practice, no source", shown::size(0.05)),
        )
        .with("separating force", shown::quantity(shown::Kind::Force, force, 0))
        .with("span between screws", shown::length(span, 1))
        .with("bending thickness", shown::length(bending, 2))
        .with("cavity depth", shown::size(depth))
        .changes_with(format!("mold.{name}, mold.material, machine.pressure, bolts.count"))
    };
    let mold = p.job.mold.clone();
    let tapped = bolts.style == BoltStyle::Tapped;
    let engagement = if tapped { bolts.engagement } else { 0.0 };
    // What has to have room in either plate, whatever bends.
    let least_a = (seat.deepest + 6.0 + depth_a)
        .max(depth_a + 6.0)
        .max(channels.0 + UNDER)
        .max(engagement);
    let a = p.length(MoldSection::thickness_a, mold.thickness_a.as_ref(), || {
        (
            stock(least_a.max(depth_a + bending)),
            rule("thickness_a", depth_a)
                .with("nozzle seat depth", shown::size(seat.depth))
                .with("screw engagement", shown::size(engagement)),
        )
    });
    let head = if tapped {
        bolts.counterbore.1 + bolts.dia
    } else {
        0.0
    };
    let least_b = head
        .max(cavities_b + 6.0)
        .max(seats + web.max(6.0))
        .max(channels.1 + UNDER);
    let b = p.length(MoldSection::thickness_b, mold.thickness_b.as_ref(), || {
        (
            stock(least_b.max(depth_b + bending)),
            rule("thickness_b", depth_b)
                .with("screw head and web", shown::size(head))
                .with("under the cores' seats", shown::size(web))
                .with("runner and well", shown::length(channels.1, 2)),
        )
    });
    // Under a core's seat its screw must hold; elsewhere two millimetres are the least.
    let keep_b = (seats + web).max(cavities_b + 2.0) - depth_b;
    for (key, t, (depth, keep), least, given) in [
        (
            "mold.thickness_a",
            a,
            (depth_a, 2.0),
            least_a,
            mold.thickness_a.as_ref(),
        ),
        (
            "mold.thickness_b",
            b,
            (depth_b, keep_b),
            least_b,
            mold.thickness_b.as_ref(),
        ),
    ] {
        let floor = t - depth;
        // A value of the file may leave less than is usual, one that was chosen may not.
        if floor < keep - 1e-9 || (given.is_none() && t < least - 1e-9) {
            p.refuse(
                "plate-too-thin",
                span_of(given),
                if floor > 0.0 {
                    format!(
                        "{key} of {} leaves {} under what goes {} deep; {} have to stay",
                        shown::size(t),
                        shown::size(floor),
                        shown::size(depth),
                        shown::size(keep)
                    )
                } else {
                    format!(
                        "{key} of {} is less than its cavity is deep, {}",
                        shown::size(t),
                        shown::size(depth)
                    )
                },
                "too thin",
                format!("at least {}", shown::size(stock(least.max(depth + keep)))),
            );
        }
    }
    if a < seat.deepest + depth_a + 2.0 {
        p.refuse(
            "plate-too-thin-for-nozzle",
            span_of(mold.thickness_a.as_ref()),
            format!(
                "an A plate of {} is too thin for a nozzle seat {} deep and a sprue below it",
                shown::size(a),
                shown::size(seat.deepest)
            ),
            "too thin for the nozzle",
            format!(
                "at least {}",
                shown::size(stock(seat.deepest + depth_a + 6.0))
            ),
        );
    }
    (a, b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bending_thickness_inverts_the_plate_formula() {
        // Timoshenko: simply supported round plate, uniform load.
        let m = materials::material("6082").unwrap();
        let (force, a) = (29_000.0, 55.0);
        let t = by_bending(force, a, m);
        let q = force / (PI * a * a);
        let d = m.youngs_modulus * t.powi(3) / (12.0 * (1.0 - m.poisson.powi(2)));
        let w = q * a.powi(4) * (5.0 + m.poisson) / (64.0 * (1.0 + m.poisson) * d);
        assert!((w - BOW).abs() < 1e-12);
    }
}
