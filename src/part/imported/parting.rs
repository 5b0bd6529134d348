//! Where the parting plane may lie.
//!
//! Input: a body without undercuts, seen along the pull. Output: the heights at which neither
//! plate has to reach through the plane beside the part, and where a hollow becomes a core on B.
//!
//! Above the plane only the A plate and cores on B stand, below it only the B plate: plastic
//! whose upper side lies below the plane would need metal of A there; plastic whose lower
//! side lies above it stands on metal of B: a core when it is a hollow, closed all round.

use super::undercut::{Ray, Survey};

/// Heights closer than this, mm, are the same.
const SAME: f64 = 1e-4;
/// A facet or a fillet may lie on the wrong side by this much, mm, before it counts.
const SLACK: f64 = 0.02;
/// A place on the wrong side holds the part from so many lines of the raster on, along and across:
/// 0.6 mm on a part of 100 mm.
const WIDE: usize = 3;
/// Heights that are tried.
const MOST: usize = 240;

/// What a parting plane costs, mm² in plan.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Cost {
    /// Metal of the A plate would have to reach through the plane.
    pub from_a: f64,
    /// Metal of the B plate would have to stand beside the part.
    pub beside: f64,
    /// Hollows that become cores on B.
    pub hollow: f64,
}

/// A plane and what it costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parting {
    /// Height, mm.
    pub z: f64,
    /// What it costs.
    pub cost: Cost,
    /// Lowest and highest plane that cost no more (hollows not counted), mm.
    pub range: (f64, f64),
    /// What of the cost is wide enough to hold the part.
    pub wide: Cost,
}

/// The cost of a plane.
pub(super) fn cost(survey: &Survey, z: f64) -> Cost {
    let cell = survey.pitch * survey.pitch;
    let area = |n: usize| n as f64 * cell;
    let raised = survey.rays.iter().filter(|r| r.low > z + SLACK).count();
    let beside = outside(survey, z).len();
    Cost {
        from_a: area(sunk(survey, z).len()),
        beside: area(beside),
        hollow: area(raised - beside),
    }
}

/// The same of what is wide enough to hold the part: places at least [`WIDE`] lines wide and long.
/// What is narrower comes of the raster, or of the chords of a round rim.
pub(super) fn wide(survey: &Survey, z: f64) -> Cost {
    let cell = survey.pitch * survey.pitch;
    let area = |places: Vec<usize>| opened(survey, &places) as f64 * cell;
    Cost {
        from_a: area(sunk(survey, z)),
        beside: area(outside(survey, z)),
        hollow: 0.0,
    }
}

/// Columns of the grid: a border of free cells all round.
fn width(survey: &Survey) -> usize {
    survey.size[0] + 2
}

fn place(survey: &Survey, r: &Ray) -> usize {
    (r.at[1] + 1) * width(survey) + r.at[0] + 1
}

/// Lines whose plastic ends below the plane.
fn sunk(survey: &Survey, z: f64) -> Vec<usize> {
    let all = survey.rays.iter().filter(|r| r.high < z - SLACK);
    all.map(|r| place(survey, r)).collect()
}

/// How many of these places lie in a square of them, [`WIDE`] along each side.
fn opened(survey: &Survey, places: &[usize]) -> usize {
    if places.len() < WIDE * WIDE {
        return 0;
    }
    let width = width(survey);
    let mut run = vec![0u8; width * (survey.size[1] + 2)];
    for &k in places {
        run[k] = 1;
    }
    // A square by its corner farthest from the first row and column.
    let full = |k: usize| {
        (0..WIDE).all(|y| (0..WIDE).all(|x| k >= y * width + x && run[k - y * width - x] == 1))
    };
    let corners: Vec<usize> = places.iter().copied().filter(|&k| full(k)).collect();
    let mut kept = vec![false; run.len()];
    for k in corners {
        for y in 0..WIDE {
            for x in 0..WIDE {
                kept[k - y * width - x] = true;
            }
        }
    }
    kept.iter().filter(|k| **k).count()
}

/// The raised lines that hang together with the outside of the part in plan.
fn outside(survey: &Survey, z: f64) -> Vec<usize> {
    if survey.rays.iter().all(|r| r.low <= z + SLACK) {
        return Vec::new();
    }
    let (width, h) = (width(survey), survey.size[1]);
    // 0 free, 1 plastic on the plane, 2 raised.
    let mut kind = vec![0u8; width * (h + 2)];
    for r in &survey.rays {
        kind[place(survey, r)] = if r.low > z + SLACK { 2 } else { 1 };
    }
    // Free cells that the border reaches (through holes are reached by no one).
    let mut seen = vec![false; kind.len()];
    let mut stack = vec![0usize];
    seen[0] = true;
    let mut found = Vec::new();
    while let Some(k) = stack.pop() {
        if kind[k] == 2 {
            found.push(k);
        }
        let (x, y) = (k % width, k / width);
        let mut go = |x: usize, y: usize| {
            let n = y * width + x;
            if !seen[n] && kind[n] != 1 {
                seen[n] = true;
                stack.push(n);
            }
        };
        if x > 0 {
            go(x - 1, y);
        }
        if y > 0 {
            go(x, y - 1);
        }
        if x + 1 < width {
            go(x + 1, y);
        }
        if y < h + 1 {
            go(x, y + 1);
        }
    }
    found
}

/// Heights worth trying: the ends of the body, flat faces, corners on the rim.
fn heights(survey: &Survey, rim: &[f64]) -> Vec<f64> {
    let mut all: Vec<f64> = survey.rays.iter().flat_map(|r| [r.low, r.high]).collect();
    all.sort_by(f64::total_cmp);
    let (Some(&low), Some(&high)) = (all.first(), all.last()) else {
        return Vec::new();
    };
    // Flat faces: heights that come again and again.
    let mut flats: Vec<(usize, f64)> = all
        .chunk_by(|a, b| b - a < SAME)
        .map(|c| (c.len(), c[c.len() / 2]))
        .filter(|c| c.0 > survey.size[0].max(survey.size[1]) / 8)
        .collect();
    flats.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.total_cmp(&b.1)));
    let mut out = vec![low, high];
    out.extend(flats.iter().take(MOST / 4).map(|f| f.1));
    // The widest place of a rounded part: corners on the rim of its shadow.
    let mut rims = rim.to_vec();
    rims.sort_by(f64::total_cmp);
    rims.dedup_by(|a, b| (*a - *b).abs() < SAME);
    let step = (rims.len() / (MOST / 2)).max(1);
    out.extend(rims.iter().step_by(step));
    let n = MOST / 4;
    out.extend((1..n).map(|k| low + (high - low) * k as f64 / n as f64));
    out.sort_by(f64::total_cmp);
    out.dedup_by(|a, b| (*a - *b).abs() < SAME);
    out
}

/// The best plane: no metal of A through it, none of B beside the part, as little as possible;
/// of several heights the upper end, or the lower one where that turns a deep hollow into a
/// core that stands free. `rim`: heights of corners on the rim of the shadow.
pub(super) fn best(survey: &Survey, rim: &[f64]) -> Option<Parting> {
    let tried: Vec<(f64, Cost)> = heights(survey, rim)
        .into_iter()
        .map(|z| (z, cost(survey, z)))
        .collect();
    let wrong = |c: &Cost| c.from_a + c.beside;
    let least = tried
        .iter()
        .map(|t| wrong(&t.1))
        .fold(f64::INFINITY, f64::min);
    // A raster counts to a few of its cells along the rim.
    let slack = 1e-4 * survey.shadow() + 2.0 * survey.pitch * survey.pitch;
    let good: Vec<&(f64, Cost)> = tried
        .iter()
        .filter(|t| wrong(&t.1) <= least + slack)
        .collect();
    // Of those, the planes with the least that is no matter of the raster.
    let good: Vec<(&(f64, Cost), f64)> = good
        .into_iter()
        .map(|t| (t, wrong(&wide(survey, t.0))))
        .collect();
    let least = good.iter().map(|t| t.1).fold(f64::INFINITY, f64::min);
    let good: Vec<&(f64, Cost)> = good
        .into_iter()
        .filter(|t| t.1 <= least)
        .map(|t| t.0)
        .collect();
    let (first, last) = (good.first()?, good.last()?);
    let (low, high) = ends(survey);
    // A hollow deeper than half the part.
    let deep = survey
        .rays
        .iter()
        .filter(|r| r.low > first.0 + 0.5 * (high - low))
        .count();
    let core = first.1.hollow > 0.0 && first.1.hollow >= last.1.hollow;
    let hollow = core && deep as f64 > 0.02 * survey.rays.len() as f64;
    let chosen = if hollow { first } else { last };
    Some(Parting {
        z: chosen.0,
        cost: chosen.1,
        range: (first.0, last.0),
        wide: wide(survey, chosen.0),
    })
}

/// Lowest and highest plastic of all lines, mm.
fn ends(survey: &Survey) -> (f64, f64) {
    survey
        .rays
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), r| {
            (a.min(r.low), b.max(r.high))
        })
}
