//! From loose triangles to one closed body, or the numbers of what is wrong.
//!
//! Input: points and triangles in millimetres. Output: a closed, outward body and what was
//! mended. Only small faults are: a hole of more than three edges is left to its author.

use super::bridge::bridge;
use super::edges::{count, sides};
use super::orient::{Shell, orient};
use super::weld::{drop_idle, weld};
use super::{Mended, Point3, TraceError, place};
use platewright_base::shown::{self, Kind};

/// A loose shell of less than this share of the body's volume is a crumb.
const CRUMB: f64 = 1e-5;

type Body = (Vec<Point3>, Vec<[u32; 3]>);

/// Mends; `tolerance` is the widest crack that is closed, mm.
pub(super) fn mend(
    points: Vec<Point3>,
    mut triangles: Vec<[u32; 3]>,
    tolerance: f64,
) -> Result<(Body, Mended), TraceError> {
    let mut mended = Mended::default();
    let given = triangles.len();
    let mut points = {
        let loose = points;
        weld(&loose, &mut triangles)
    };
    let size = points
        .iter()
        .skip(1)
        .fold((points[0], points[0]), |(a, b), p| (a.inf(p), b.sup(p)));
    let size = (size.1 - size.0).max();
    drop_idle(&points, &mut triangles, size, &mut mended);
    bridge(&mut points, &mut triangles, tolerance, size, &mut mended);
    let all = sides(&triangles);
    let found = count(&points, &all);
    if found.open > 0 || found.crowded > 0 {
        let mut faults = Vec::new();
        if found.open > 0 {
            faults.push(format!(
                "{} open edges, the first at {} {}",
                found.open,
                found.first_open,
                Kind::Length.unit()
            ));
        }
        if found.crowded > 0 {
            faults.push(format!(
                "{} edges with more than two triangles, the first at {} {}",
                found.crowded,
                found.first_crowded,
                Kind::Length.unit()
            ));
        }
        return Err(TraceError::new(
            format!(
                "is no closed body: {} ({given} triangles; cracks up to {} were closed)",
                faults.join("; "),
                shown::size(tolerance)
            ),
            "repair it in the modelling program (make it one solid), export it again; for wider cracks part.mesh.mend = \"0.1 mm\"",
        ));
    }
    let shells = orient(&points, &mut triangles, &all, &mut mended).map_err(|one| {
        let p = points[triangles[one.0 as usize][0] as usize];
        TraceError::new(
            format!(
                "has a surface of one side only (a twisted band), near {} {}",
                place(&p),
                Kind::Length.unit()
            ),
            "repair it in the modelling program, export it again",
        )
    })?;
    drop(all);
    let triangles = one_shell(shells, &triangles, &mut mended)?;
    let mut triangles = triangles;
    let points = weld(&points, &mut triangles);
    Ok(((points, triangles), mended))
}

/// The triangles of the one body; crumbs are dropped.
fn one_shell(
    mut shells: Vec<Shell>,
    triangles: &[[u32; 3]],
    mended: &mut Mended,
) -> Result<Vec<[u32; 3]>, TraceError> {
    shells.sort_by(|a, b| {
        b.volume
            .total_cmp(&a.volume)
            .then(a.triangles.cmp(&b.triangles))
    });
    let none = || TraceError::new("encloses no volume", "export a solid body");
    let body = shells.first().ok_or_else(none)?;
    let side = (body.high - body.low).max();
    if body.volume <= 1e-9 * side.powi(3) {
        return Err(none());
    }
    let pieces = shells
        .iter()
        .filter(|s| s.volume >= CRUMB * body.volume)
        .count();
    mended.crumbs = shells.len() - pieces;
    if let Some(second) = shells.get(1)
        && pieces > 1
    {
        let within = (0..3).all(|k| body.low[k] <= second.low[k] && second.high[k] <= body.high[k]);
        let (hint, remedy) = if within {
            (
                " inside the first one's box",
                "a closed hollow cannot be molded: open it, or split the part; bodies that overlap are united in the modelling program",
            )
        } else {
            (
                "",
                "export one part; bodies that overlap are united in the modelling program; mold.cavities makes several of one",
            )
        };
        return Err(TraceError::new(
            format!(
                "consists of {pieces} separate closed surfaces, not one: {}, and {}{hint} from {} to {} {}",
                shown::quantity(Kind::SmallVolume, body.volume, 1),
                shown::quantity(Kind::SmallVolume, second.volume, 1),
                place(&second.low),
                place(&second.high),
                Kind::Length.unit()
            ),
            remedy,
        ));
    }
    Ok(body
        .triangles
        .iter()
        .map(|&k| triangles[k as usize])
        .collect())
}
