//! Edges without length.
//!
//! Input: a [`Brep`] whose vertices are exact. Output: the same without edges shorter than what
//! other programs tell apart. The mesh had two corners near each other where three surfaces
//! meet; exactly they are one.

use super::model::Brep;

/// Ends nearer than this are one point, mm: the usual confusion of exchange formats.
const SAME: f64 = 1e-7;

/// Takes the edges without length out and joins their ends; leaves the solid as it is where a
/// loop would lose its last edges or an edge would close on itself.
pub(super) fn collapse(brep: &mut Brep) {
    let short: Vec<bool> = brep
        .edges
        .iter()
        .map(|e| {
            let [a, b] = e.ends.map(|v| brep.vertices[v]);
            let middle = e.curve.point(0.5 * (e.range[0] + e.range[1]));
            !e.is_closed() && (b - a).norm() < SAME && (middle - a).norm() < 10.0 * SAME
        })
        .collect();
    if !short.contains(&true) {
        return;
    }
    let mut joined: Vec<usize> = (0..brep.vertices.len()).collect();
    for (e, _) in brep.edges.iter().zip(&short).filter(|(_, s)| **s) {
        let [a, b] = e.ends.map(|v| joined[v]);
        let (keep, gone) = (a.min(b), a.max(b));
        for j in &mut joined {
            if *j == gone {
                *j = keep;
            }
        }
    }
    let mut left = brep.edges.iter().zip(&short).filter(|(_, s)| !**s);
    let closes = left.any(|(e, _)| !e.is_closed() && joined[e.ends[0]] == joined[e.ends[1]]);
    let empty = (brep.faces.iter().flat_map(|f| &f.loops))
        .any(|l| l.uses.iter().filter(|u| !short[u.edge]).count() < 2 && l.uses.len() > 1);
    if closes || empty {
        return;
    }
    // New numbers of the vertices and edges that stay.
    let number = |stays: &dyn Fn(usize) -> bool, count: usize| -> Vec<usize> {
        let mut next = 0;
        (0..count)
            .map(|i| {
                let now = next;
                next += usize::from(stays(i));
                now
            })
            .collect()
    };
    let vertex = number(&|i| joined[i] == i, joined.len());
    let edge = number(&|i| !short[i], short.len());
    let mut i = 0;
    brep.vertices.retain(|_| {
        i += 1;
        joined[i - 1] == i - 1
    });
    let mut i = 0;
    brep.edges.retain(|_| {
        i += 1;
        !short[i - 1]
    });
    for e in &mut brep.edges {
        e.ends = e.ends.map(|v| vertex[joined[v]]);
    }
    for l in brep.faces.iter_mut().flat_map(|f| &mut f.loops) {
        l.uses.retain(|u| !short[u.edge]);
        for u in &mut l.uses {
            u.edge = edge[u.edge];
        }
    }
}
