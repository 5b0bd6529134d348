//! One square of the plan cut exactly: integrals of the columns over it.
//!
//! Input: columns, a square. Output: [`Raw`]. Does not join cells.

use super::NearColumns;

const GAUSS3: [(f64, f64); 3] = [
    (0.112_701_665_379_258, 5.0 / 18.0),
    (0.5, 8.0 / 18.0),
    (0.887_298_334_620_742, 5.0 / 18.0),
];

/// One raw cell before joining.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Raw {
    pub volume: f64,
    pub area: f64,
    pub low: f64,
    pub high: f64,
    /// Open area to the next cell in x and in y, mm².
    pub open: [f64; 2],
}

/// Volume, plan area, heights and open faces of the square with lower left corner `at`.
pub(super) fn cut(columns: &NearColumns<'_>, at: [f64; 2], d: f64) -> Raw {
    let mut raw = Raw {
        low: f64::MAX,
        high: f64::MIN,
        ..Raw::default()
    };
    let mut strips = |n: usize| {
        let (mut volume, mut area) = (0.0, 0.0);
        for s in 0..n {
            for (g, w) in GAUSS3 {
                let x = at[0] + d * (s as f64 + g) / n as f64;
                let line = along(columns, [x, at[1]], [x, at[1] + d]);
                volume += w / n as f64 * d * line.area;
                area += w / n as f64 * d * line.length;
                raw.low = raw.low.min(line.low);
                raw.high = raw.high.max(line.high);
            }
        }
        (volume, area)
    };
    let (mut volume, mut area) = strips(1);
    if area > 0.0 && area < (1.0 - 1e-9) * d * d {
        (volume, area) = strips(4);
    }
    (raw.volume, raw.area) = (volume, area);
    raw.open = [
        along(columns, [at[0] + d, at[1]], [at[0] + d, at[1] + d]).area,
        along(columns, [at[0], at[1] + d], [at[0] + d, at[1] + d]).area,
    ];
    raw
}

/// Integral of the thickness along a line.
#[derive(Debug, Clone, Copy)]
struct Line {
    area: f64,
    length: f64,
    low: f64,
    high: f64,
}

/// Pieces a line is sampled in; edges of the plastic between samples are found by bisection.
const PIECES: usize = 4;

fn along(columns: &NearColumns<'_>, from: [f64; 2], to: [f64; 2]) -> Line {
    let span = (to[0] - from[0]).hypot(to[1] - from[1]);
    let at = |t: f64| {
        columns(
            from[0] + t * (to[0] - from[0]),
            from[1] + t * (to[1] - from[1]),
        )
    };
    let mut line = Line {
        area: 0.0,
        length: 0.0,
        low: f64::MAX,
        high: f64::MIN,
    };
    let h = 1.0 / PIECES as f64;
    // Sampling starts a hair inside, so that an edge on a grid line belongs to one side.
    let mut before = at(1e-9);
    for k in 0..PIECES {
        let (t0, t1) = (k as f64 * h, (k + 1) as f64 * h);
        let after = at(if k + 1 == PIECES { 1.0 - 1e-9 } else { t1 });
        let (mut a, mut b) = (t0, t1);
        match (before.thickness > 0.0, after.thickness > 0.0) {
            (false, false) => {
                before = after;
                continue;
            }
            (true, true) => {}
            (enter, _) => {
                let (mut inside, mut outside) = if enter { (t0, t1) } else { (t1, t0) };
                for _ in 0..26 {
                    let middle = 0.5 * (inside + outside);
                    if at(middle).thickness > 0.0 {
                        inside = middle;
                    } else {
                        outside = middle;
                    }
                }
                (a, b) = if enter { (t0, inside) } else { (inside, t1) };
            }
        }
        let middle = at(0.5 * (a + b));
        let (first, last) = (
            if before.thickness > 0.0 {
                before
            } else {
                middle
            },
            if after.thickness > 0.0 { after } else { middle },
        );
        let mean = (first.thickness + 4.0 * middle.thickness + last.thickness) / 6.0;
        line.area += mean * (b - a) * span;
        line.length += (b - a) * span;
        if middle.thickness > 0.0 {
            line.low = line.low.min(middle.low);
            line.high = line.high.max(middle.high);
        }
        before = after;
    }
    line
}
