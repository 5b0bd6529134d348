//! Makes all triangles of a closed mesh face outward, shell by shell.
//!
//! Input: a mesh whose every edge has two triangles. Output: its shells with their volumes.

use super::edges::{Side, by_edge};
use super::{Mended, Point3};

/// A connected piece of surface.
#[derive(Debug)]
pub(super) struct Shell {
    /// Its triangles.
    pub triangles: Vec<u32>,
    /// Volume inside, mm³, ≥ 0.
    pub volume: f64,
    /// Box.
    pub low: Point3,
    /// Box.
    pub high: Point3,
}

/// A surface of one side only (a band with a half twist); its triangle.
pub(super) struct OneSided(pub u32);

/// Turns triangles round until neighbours agree and each shell encloses a positive volume.
pub(super) fn orient(
    points: &[Point3],
    triangles: &mut [[u32; 3]],
    sides: &[Side],
    mended: &mut Mended,
) -> Result<Vec<Shell>, OneSided> {
    let n = triangles.len();
    // Up to three neighbours, each with whether it runs the same way along the edge.
    let mut beside: Vec<[(u32, bool); 3]> = vec![[(u32::MAX, false); 3]; n];
    let mut fill = vec![0u8; n];
    for edge in by_edge(sides) {
        if let [a, b] = edge {
            let clash = a.forward == b.forward;
            for (s, o) in [(a, b), (b, a)] {
                let k = s.triangle as usize;
                beside[k][usize::from(fill[k]).min(2)] = (o.triangle, clash);
                fill[k] += 1;
            }
        }
    }
    // 0 unknown, 1 as given, 2 turned
    let mut state = vec![0u8; n];
    let mut shells = Vec::new();
    for start in 0..n as u32 {
        if state[start as usize] != 0 {
            continue;
        }
        state[start as usize] = 1;
        let mut shell = vec![start];
        let mut k = 0;
        while let Some(&t) = shell.get(k) {
            k += 1;
            let own = state[t as usize];
            for &(o, clash) in beside[t as usize].iter().filter(|b| b.0 != u32::MAX) {
                let wanted = if clash { 3 - own } else { own };
                match state[o as usize] {
                    0 => {
                        state[o as usize] = wanted;
                        shell.push(o);
                    }
                    s if s != wanted => return Err(OneSided(o)),
                    _ => {}
                }
            }
        }
        shells.push(finish(points, triangles, &state, shell, mended));
    }
    Ok(shells)
}

fn finish(
    points: &[Point3],
    triangles: &mut [[u32; 3]],
    state: &[u8],
    mut shell: Vec<u32>,
    mended: &mut Mended,
) -> Shell {
    shell.sort_unstable();
    let first = points[triangles[shell[0] as usize][0] as usize];
    let (mut low, mut high) = (first, first);
    let mut volume = 0.0;
    for &k in &shell {
        let [a, b, c] = triangles[k as usize].map(|i| points[i as usize]);
        for p in [a, b, c] {
            (low, high) = (low.inf(&p), high.sup(&p));
        }
        let v = (a - first).dot(&(b - first).cross(&(c - first))) / 6.0;
        volume += if state[k as usize] == 2 { -v } else { v };
    }
    let wrong = if volume < 0.0 { 1 } else { 2 };
    let turned = shell
        .iter()
        .filter(|&&k| state[k as usize] == wrong)
        .count();
    for &k in &shell {
        if state[k as usize] == wrong {
            triangles[k as usize].swap(1, 2);
        }
    }
    if turned == shell.len() {
        mended.inside_out = true;
    } else {
        mended.turned += turned;
    }
    Shell {
        triangles: shell,
        volume: volume.abs(),
        low,
        high,
    }
}
