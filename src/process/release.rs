//! Does the part come out: sprue taper, grip of the part on cores, wall draft.
//!
//! Input: shrinkage, stiffness, cores. Output: forces in newtons. Estimates: friction and
//! the stiffness of a warm part are guesses, said openly; the order of magnitude counts.

use super::columns::PartColumns;
use crate::part::{Form, PartModel, Role};
use crate::sketch::Contour;
use serde::Serialize;

/// Friction of a warm plastic on milled metal (common practice, no source; 0.2 to 0.5).
pub const FRICTION: f64 = 0.35;
/// Stiffness of a part just cool enough to take out, against room temperature
/// (common practice, no source).
pub const WARM_STIFFNESS: f64 = 0.3;
/// Share of the shrinkage that has happened by then (common practice, no source).
pub const SHRUNK: f64 = 0.5;

/// A metal core that the part shrinks on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Core {
    /// Perimeter, mm.
    pub perimeter: f64,
    /// Height in contact, mm.
    pub height: f64,
    /// Wall draft, degrees.
    pub draft: f64,
}

/// The release estimate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReleaseReport {
    /// Cores found: holes and pockets of the part.
    pub cores: usize,
    /// Force to pull the part off its cores, N (low and high with friction 0.2 to 0.5).
    pub force: [f64; 2],
    /// Taper of the sprue, included angle, degrees.
    pub sprue_taper: f64,
    /// Smallest draft of the part's walls, degrees.
    pub least_draft: f64,
}

/// Finds holes and pockets of a part that stand as metal in the mold.
pub fn cores(part: &PartModel, scale: f64) -> Vec<Core> {
    let mut found = Vec::new();
    let mut add = |contour: &Contour, form: &Form| {
        let Form::Prism { profile, .. } = form else {
            return;
        };
        let (Some(first), Some(last)) = (profile.first(), profile.last()) else {
            return;
        };
        let b = contour.bounds();
        // Height that the part really has around the core.
        let columns = PartColumns::new(part, 1.0);
        let around = [
            (b.min.x - 0.3, b.centre().y),
            (b.max.x + 0.3, b.centre().y),
            (b.centre().x, b.min.y - 0.3),
            (b.centre().x, b.max.y + 0.3),
        ];
        let height = around
            .iter()
            .map(|(x, y)| {
                let c = columns.column(*x, *y);
                (c.high.min(last.z) - c.low.max(first.z)).max(0.0)
            })
            .fold(0.0, f64::max);
        if height > 0.05 {
            found.push(Core {
                perimeter: contour.segments().map(|s| s.length()).sum::<f64>() * scale,
                height: height * scale,
                draft: draft_of(form),
            });
        }
    };
    let mut turned = Vec::new();
    for body in &part.bodies {
        if let Form::Revolved { section, .. } = &body.form {
            turned.extend(inner_walls(section, scale));
        }
        if let Form::Prism { region, .. } = &body.form {
            match body.role {
                Role::Add => region.holes.iter().for_each(|h| add(h, &body.form)),
                Role::Remove => add(&region.outer, &body.form),
            }
        }
    }
    found.extend(turned);
    found
}

/// Walls of a turned part that look at the axis: metal stands inside them.
fn inner_walls(section: &Contour, scale: f64) -> Vec<Core> {
    section
        .segments()
        .map(|s| (s.from(), s.to()))
        .filter(|(a, b)| a.y - b.y > 0.3 && a.x.max(b.x) > 1e-6)
        .map(|(a, b)| Core {
            perimeter: std::f64::consts::PI * (a.x + b.x) * scale,
            height: (a.y - b.y) * scale,
            draft: ((b.x - a.x) / (b.y - a.y)).abs().atan().to_degrees(),
        })
        .collect()
}

/// Smallest lean of a body's walls against the pull, degrees; 90 without walls.
fn draft_of(form: &Form) -> f64 {
    let (Form::Prism { profile, .. } | Form::Turned { profile, .. }) = form else {
        return 90.0;
    };
    profile
        .windows(2)
        .filter(|w| (w[1].z - w[0].z).abs() > 1e-6 && w[0].bulge == 0.0)
        .map(|w| {
            let (across, up) = (w[1].across - w[0].across, w[1].z - w[0].z);
            (across / up).abs().atan().to_degrees()
        })
        .fold(90.0, f64::min)
}

/// Pull that frees a ring of plastic from a core, N.
///
/// Hoop force E ε s per unit height of a ring of width s; resultant on the core 2π E ε s h;
/// release force (μ cos φ − sin φ) times that (from memory; same form as the ejection-force
/// formula of mold design handbooks). `wall` mm, `young` MPa at room temperature.
pub fn grip(core: &Core, wall: f64, young: f64, shrinkage: f64, friction: f64) -> f64 {
    let hoop = WARM_STIFFNESS * young * SHRUNK * shrinkage * wall * core.height;
    let phi = core.draft.to_radians();
    2.0 * std::f64::consts::PI * hoop * (friction * phi.cos() - phi.sin()).max(0.0)
}

/// The release estimate of a part. `wall` is the typical wall, mm; `young` MPa.
pub fn release(
    part: &PartModel,
    scale: f64,
    wall: f64,
    young: f64,
    sprue: (f64, f64, f64),
) -> ReleaseReport {
    let cores = cores(part, scale);
    let sum = |friction: f64| -> f64 {
        cores
            .iter()
            .map(|c| {
                // The ring that grips is no wider than the core is far across.
                let wide = wall.min(c.perimeter / std::f64::consts::PI);
                grip(c, wide, young, scale - 1.0, friction)
            })
            .sum()
    };
    let (small, large, length) = sprue;
    ReleaseReport {
        cores: cores.len(),
        force: [sum(0.2), sum(0.5)],
        sprue_taper: 2.0
            * ((large - small) / (2.0 * length.max(1e-9)))
                .atan()
                .to_degrees(),
        least_draft: part
            .bodies
            .iter()
            .filter_map(|b| match &b.form {
                Form::Prism { .. } => Some(draft_of(&b.form)),
                Form::Revolved { section, .. } => Some(crate::part::turned::walls(section).draft.0),
                _ => None,
            })
            .fold(90.0, f64::min),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::part::{PartBody, ProfilePoint};
    use crate::sketch::{Region, Vertex};

    fn circle(r: f64) -> Contour {
        Contour::new(vec![Vertex::new(r, 0.0, 1.0), Vertex::new(-r, 0.0, 1.0)])
    }

    #[test]
    fn a_ring_grips_its_core_and_draft_lets_it_go() {
        let hole = Contour::new(vec![
            Vertex::new(5.0, 0.0, -1.0),
            Vertex::new(-5.0, 0.0, -1.0),
        ]);
        let part = PartModel::of(vec![PartBody {
            of: crate::part::BodyOf::Outline,
            role: Role::Add,
            form: Form::Prism {
                region: Region {
                    outer: circle(20.0),
                    holes: vec![hole],
                },
                profile: vec![ProfilePoint::new(0.0, -4.0), ProfilePoint::new(0.0, 0.0)],
            },
        }]);
        let found = cores(&part, 1.0);
        assert_eq!(found.len(), 1);
        assert!((found[0].perimeter - 10.0 * std::f64::consts::PI).abs() < 1e-9);
        assert!((found[0].height - 4.0).abs() < 1e-9);
        let straight = grip(&found[0], 3.0, 1500.0, 0.016, 0.35);
        // 2π · 0.3·1500 · 0.5·0.016 · 3 · 4 · 0.35 = 95 N.
        assert!((straight - 95.0).abs() < 1.0, "{straight}");
        // Steeper than the friction angle the part falls off.
        let leaning = Core {
            draft: 25.0,
            ..found[0].clone()
        };
        assert_eq!(grip(&leaning, 3.0, 1500.0, 0.016, 0.35), 0.0);
    }
}
