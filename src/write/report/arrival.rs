//! When the melt arrives, for the 3-D view: a grid that the script lays over every cavity.
//!
//! Input: the fill's map. Output: JSON; a byte a place, row by row from below: 0 = no plastic,
//! 1 to 254 = a share of the fill, 255 = not filled. The walls stand a little outside the
//! grid's middle points: each place without plastic takes the time of its neighbours twice.

use super::Report;
use super::mesh::base64;
use crate::process::report::FillMap;
use serde_json::json;

/// Places that the times reach beyond the plastic.
const BEYOND: usize = 2;

/// The grid as JSON; `null` when there is no fill.
pub(super) fn json(report: &Report<'_>) -> String {
    let map = report.process.fill.as_ref().map(|f| &f.map);
    let Some((map, bytes, last)) = map.and_then(|m| bytes(m).map(|(b, last)| (m, b, last))) else {
        return "null".into();
    };
    let cavities: Vec<[f64; 4]> = report
        .design
        .cavities
        .iter()
        .map(|c| {
            let (sin, cos) = c.angle_deg.to_radians().sin_cos();
            [c.at.x, c.at.y, cos, sin]
        })
        .collect();
    json!({
        "size": map.size,
        "origin": map.origin,
        "pitch": map.pitch,
        "last": last,
        "times": base64(&bytes),
        "cavities": cavities,
    })
    .to_string()
}

/// The bytes, and the last time, s; `None` when nothing was filled.
fn bytes(map: &FillMap) -> Option<(Vec<u8>, f64)> {
    let [nx, ny] = map.size;
    let last = f64::from(map.time.iter().flatten().fold(0.0_f32, |m, t| m.max(*t)));
    if nx == 0 || ny == 0 || map.time.len() != nx * ny || last <= 0.0 {
        return None;
    }
    let mut grid: Vec<u8> = map
        .time
        .iter()
        .map(|t| match t {
            None => 0,
            Some(t) if *t < 0.0 => 255,
            // In range by the choice of `last`.
            Some(t) => 1 + (f64::from(*t) / last * 253.0).round() as u8,
        })
        .collect();
    for _ in 0..BEYOND {
        let before = grid.clone();
        for (k, value) in grid.iter_mut().enumerate().filter(|(_, v)| **v == 0) {
            let (i, j) = (k % nx, k / nx);
            let near = [
                (i > 0).then(|| before[k - 1]),
                (i + 1 < nx).then(|| before[k + 1]),
                (j > 0).then(|| before[k - nx]),
                (j + 1 < ny).then(|| before[k + nx]),
            ];
            *value = near.into_iter().flatten().max().unwrap_or(0);
        }
    }
    Some((grid, last))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_become_bytes_and_reach_a_little_outside() {
        let map = FillMap {
            size: [6, 1],
            time: vec![None, Some(0.0), Some(2.0), None, None, None],
            ..FillMap::default()
        };
        assert_eq!(bytes(&map), Some((vec![1, 1, 254, 254, 254, 0], 2.0)));
        let unfilled = FillMap {
            size: [2, 1],
            time: vec![Some(1.0), Some(-1.0)],
            ..FillMap::default()
        };
        assert_eq!(bytes(&unfilled), Some((vec![254, 255], 1.0)));
        assert_eq!(bytes(&FillMap::default()), None);
    }
}
