//! A small picture of where a body hooks: plan, front and side, hooking faces in red.
//!
//! Input: a body and its survey. Output: SVG text.

use super::body::MeshBody;
use super::undercut::Survey;
use crate::base::units::decimals;
use crate::sketch::Bounds;
use crate::sketch::region_path_data;
use crate::trace::mesh::Point3;
use std::fmt::Write as _;

/// Most faces drawn in one view: the largest.
const MOST: usize = 3000;

/// The picture.
pub fn hooks(body: &MeshBody, survey: &Survey) -> String {
    let (low, high) = body.bounds();
    let size = high - low;
    let gap = 0.12 * size.max();
    let mut faces: Vec<(u32, f64)> = survey.hidden.clone();
    faces.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    faces.truncate(MOST);
    let red = |flat: &dyn Fn(&Point3) -> (f64, f64)| {
        let mut d = String::new();
        for (t, _) in &faces {
            for (k, p) in body.corners(*t).iter().enumerate() {
                let (x, y) = flat(p);
                let _ = write!(
                    d,
                    "{}{} {}",
                    if k == 0 { 'M' } else { 'L' },
                    decimals(x, 3),
                    decimals(y, 3)
                );
            }
            d.push('Z');
        }
        d
    };
    // Plan above, front below it, side to the right of the front; y of the drawing points up.
    let down = low.y - gap - high.z;
    let right = high.x + gap - low.y;
    let plan: String = body.outline().iter().map(region_path_data).collect();
    let front = silhouette(survey, 0, low.x, 0.0, down);
    let side = silhouette(survey, 1, low.y, right, down);
    let reds =
        red(&|p| (p.x, p.y)) + &red(&|p| (p.x, p.z + down)) + &red(&|p| (p.y + right, p.z + down));
    let line = decimals(0.004 * size.max(), 4);
    let (x0, x1) = (low.x - gap, high.y + right + gap);
    let (y0, y1) = (low.z + down - gap, high.y + gap);
    let b = Bounds::of_points([
        crate::sketch::Point::new(x0, y0),
        crate::sketch::Point::new(x1, y1),
    ]);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"{} {} {} {}\" width=\"640\"><g transform=\"scale(1,-1)\" stroke=\"#444\" stroke-width=\"{line}\"><path d=\"{plan}\" fill=\"#ddd\" fill-rule=\"evenodd\"/><path d=\"{front}{side}\" fill=\"#ddd\"/><path d=\"{reds}\" fill=\"#d22\" stroke=\"#d22\"/><path d=\"M{} {d}H{}M{} {d}H{}\" stroke-dasharray=\"{line} {line}\"/></g></svg>\n",
        decimals(b.min.x, 3),
        decimals(-b.max.y, 3),
        decimals(b.width(), 3),
        decimals(b.height(), 3),
        decimals(low.x - 0.5 * gap, 3),
        decimals(high.x + 0.5 * gap, 3),
        decimals(low.y + right - 0.5 * gap, 3),
        decimals(high.y + right + 0.5 * gap, 3),
        d = decimals(down, 3),
    )
}

/// Lowest and highest plastic along one axis of the plan, as a closed path.
fn silhouette(survey: &Survey, axis: usize, from: f64, right: f64, up: f64) -> String {
    let mut ends = vec![(f64::INFINITY, f64::NEG_INFINITY); survey.size[axis]];
    for r in &survey.rays {
        let e = &mut ends[r.at[axis]];
        *e = (e.0.min(r.low), e.1.max(r.high));
    }
    let at = |k: usize| from + (k as f64 + 0.5) * survey.pitch + right;
    let filled: Vec<usize> = (0..ends.len()).filter(|&k| ends[k].0.is_finite()).collect();
    let mut d = String::new();
    let upper = filled.iter().map(|&k| (at(k), ends[k].1));
    let lower = filled.iter().rev().map(|&k| (at(k), ends[k].0));
    for (k, (x, z)) in upper.chain(lower).enumerate() {
        let letter = if k == 0 { 'M' } else { 'L' };
        let _ = write!(d, "{letter}{} {}", decimals(x, 3), decimals(z + up, 3));
    }
    if !d.is_empty() {
        d.push('Z');
    }
    d
}
