//! Forms and features as lean watertight meshes, every triangle tagged with its exact surface.
//!
//! Input: [`Form`]s and plate features. Output: [`TaggedMesh`]es. Vertices lie on
//! their surfaces exactly (to rounding); chords stay within the tolerance.

pub(crate) mod arc;
mod clip;
pub(crate) mod cutter;
pub(crate) mod facets;
pub(crate) mod groove;
pub mod hole;
pub(crate) mod outline;
pub(crate) mod profile;
pub(crate) mod revolved;
pub(crate) mod turned;
pub(crate) mod wall;

pub(crate) use clip::Clip;
pub use hole::hole_profile;

use super::boolean::join_or_unite;
use super::error::SolidError;
use super::mesh::TaggedMesh;
use super::tolerance::{MAX_TRIANGLES, Tolerance};
use crate::part::{Form, ProfilePoint};
use cutter::overshoot;
use outline::Outline;
use profile::{Levels, Piece};

/// The mesh of a form.
///
/// # Errors
/// Numbers that do not describe a body: an offset that turns part of the outline
/// inside out, a profile that runs downwards or reaches the axis.
pub fn form_mesh(form: &Form, tolerance: &Tolerance) -> Result<TaggedMesh, SolidError> {
    join_or_unite(form_meshes(form, None, tolerance)?)
}

/// The mesh of a form, in pieces to be united (a groove with sharp bends has several),
/// none when `clip` leaves nothing.
pub(crate) fn form_meshes(
    form: &Form,
    clip: Option<&Clip>,
    tolerance: &Tolerance,
) -> Result<Vec<TaggedMesh>, SolidError> {
    let clipped = |profile: Vec<ProfilePoint>| -> Option<Vec<ProfilePoint>> {
        let Some(c) = clip else {
            return Some(profile);
        };
        let mut kept = profile::clip(&profile, c.z, c.keep_above)?;
        let end = if c.keep_above {
            kept.first().map(|p| p.z)
        } else {
            kept.last().map(|p| p.z)
        }?;
        if (end - c.z).abs() < 1e-7 {
            overshoot(&mut kept, !c.keep_above, c.beyond);
        }
        Some(kept)
    };
    match form {
        Form::Prism { region, profile } => {
            let Some(profile) = clipped(profile.clone()) else {
                return Ok(Vec::new());
            };
            let (least, most) = range(&profile);
            let outlines = region
                .contours()
                .map(|c| Outline::new(c, least, most, tolerance))
                .collect::<Result<Vec<_>, _>>()?;
            Ok(vec![from_outlines(&outlines, &profile, tolerance)?])
        }
        Form::Turned { at, profile } => match clipped(profile.clone()) {
            Some(profile) => Ok(vec![turned::build(*at, &profile, tolerance)?]),
            None => Ok(Vec::new()),
        },
        Form::Revolved { at, section } => revolved::clipped(section, clip)?
            .iter()
            .map(|s| revolved::build(*at, s, tolerance))
            .collect(),
        Form::Mesh { body } => {
            facets::build(body, clip, tolerance).map(|m| m.into_iter().collect())
        }
        Form::Groove {
            path,
            radius,
            z,
            below,
        } => {
            let Some(profile) = clipped(groove::profile(*radius, *z, *below)) else {
                return Ok(Vec::new());
            };
            groove::outlines(path, *radius, tolerance)?
                .iter()
                .map(|o| from_outlines(std::slice::from_ref(o), &profile, tolerance))
                .collect()
        }
    }
}

fn range(profile: &[ProfilePoint]) -> (f64, f64) {
    // A round piece can reach beyond its ends by at most its sagitta.
    profile.iter().fold((0.0, 0.0), |(a, b): (f64, f64), p| {
        (a.min(p.across), b.max(p.across))
    })
}

/// Outlines moved along a profile, with as many levels as curved corner edges need.
pub(crate) fn from_outlines(
    outlines: &[Outline],
    profile: &[ProfilePoint],
    tolerance: &Tolerance,
) -> Result<TaggedMesh, SolidError> {
    let mut least = 1;
    let curved = outlines.iter().any(Outline::has_curved_mitre);
    let mitred = outlines.iter().any(Outline::has_mitre);
    let levels = loop {
        let levels = profile::levels(profile, tolerance, least)?;
        let check =
            curved || (mitred && levels.pieces.iter().any(|p| matches!(p, Piece::Arc { .. })));
        if !check || least >= 64 || corner_error(outlines, &levels)? <= tolerance.chord {
            break levels;
        }
        least *= 2;
    };
    let vertices: usize = outlines
        .iter()
        .flat_map(|o| o.walls.iter().map(|w| w.fractions.len()))
        .sum();
    let count = 2 * vertices * levels.points.len();
    if count > MAX_TRIANGLES {
        return Err(SolidError::TooLarge {
            what: "a shaped wall".into(),
            count,
            limit: MAX_TRIANGLES,
        });
    }
    wall::build(outlines, &levels)
}

/// Largest distance between a corner edge's chord and the corner half-way between two levels.
fn corner_error(outlines: &[Outline], levels: &Levels) -> Result<f64, SolidError> {
    let mut worst: f64 = 0.0;
    for (k, piece) in levels.of.iter().enumerate() {
        let (a, b) = (levels.points[k], levels.points[k + 1]);
        let middle = match levels.pieces[*piece] {
            Piece::Straight { .. } => a + (b - a) * 0.5,
            Piece::Arc { centre, radius } => {
                let m = (a - centre) + (b - centre);
                centre + m.normalize() * radius
            }
        };
        let lift = middle - (a + (b - a) * 0.5);
        for outline in outlines {
            let (low, mid, high) = (
                outline.corners(a.x)?,
                outline.corners(middle.x)?,
                outline.corners(b.x)?,
            );
            for i in 0..low.len() {
                let flat = (mid[i] - (low[i] + (high[i] - low[i]) * 0.5)).norm();
                worst = worst.max(flat.hypot(lift.y));
            }
        }
    }
    Ok(worst)
}
