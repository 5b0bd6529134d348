//! Where a cap around the tip of a torus is cut open.
//!
//! Input: an exact solid. Output: for each cap around the point where a torus meets its axis, the
//! vertex of its rim from which a seam runs to that point without meeting another loop of the
//! face, or the rim again; where the rim has none, one of its edges is divided. Does not add the
//! seam itself: only who writes the face needs it.

use super::error::BrepError;
use super::frame::wrapped;
use super::model::{Brep, Edge, EdgeUse, Face};
use crate::solid::surface::Point3;
use std::f64::consts::{PI, TAU};

/// Pieces that an edge is looked at in.
const PIECES: usize = 64;
/// Least turn between a seam and what it must not meet, radians.
const CLEAR: f64 = 1e-3;

/// Finds the seams of all caps.
pub(super) fn seams(brep: &mut Brep) -> Result<(), BrepError> {
    for f in 0..brep.faces.len() {
        if brep.faces[f].apex_angle().is_some() {
            let vertex = seam(brep, f)?;
            brep.faces[f].seam = Some(vertex);
        }
    }
    Ok(())
}

fn seam(brep: &mut Brep, f: usize) -> Result<usize, BrepError> {
    let face = &brep.faces[f];
    let others = face.loops.iter().filter(|l| l.winding == 0);
    let mut taken: Vec<[f64; 2]> = others
        .filter_map(|l| covered(&turns(brep, face, &l.uses)))
        .collect();
    let rim: Vec<EdgeUse> = (face.loops.iter().filter(|l| l.winding != 0))
        .flat_map(|l| l.uses.iter().copied())
        .collect();
    taken.extend(met_again(&turns(brep, face, &rim)));
    let at = |u: &EdgeUse| brep.ends(*u)[0];
    let clear = |v: usize| room(&taken, turn(face, &brep.vertices[v]));
    let best = rim
        .iter()
        .map(at)
        .max_by(|a, b| clear(*a).total_cmp(&clear(*b)));
    if let Some(v) = best.filter(|v| clear(*v) > CLEAR) {
        return Ok(v);
    }
    // The middle of the widest gap between the other loops.
    taken.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let after = |k: usize| match taken.get(k + 1) {
        Some(next) => next[0],
        None => taken[0][0] + TAU,
    };
    let reached = taken.iter().scan(f64::NEG_INFINITY, |most, t| {
        *most = most.max(t[1]);
        Some(*most)
    });
    let gaps = reached.enumerate().map(|(k, end)| (end, after(k)));
    let widest = gaps.max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)));
    let here = face.frame.origin;
    let unclear = || BrepError::unclear("no way leads from a face's rim to its axis", here);
    let (from, to) = widest
        .filter(|g| g.1 - g.0 > 4.0 * CLEAR)
        .ok_or_else(unclear)?;
    let goal = 0.5 * (from + to);
    let (edge, t) = rim
        .iter()
        .find_map(|u| Some((u.edge, passes(&brep.edges[u.edge], face, goal)?)))
        .ok_or_else(unclear)?;
    Ok(divide(brep, edge, t))
}

/// Turn of a point about a face's axis, radians.
fn turn(face: &Face, p: &Point3) -> f64 {
    face.parameters(face.frame.local(p)).0
}

/// Turns along a loop, without jumps.
fn turns(brep: &Brep, face: &Face, uses: &[EdgeUse]) -> Vec<f64> {
    let mut all: Vec<f64> = Vec::new();
    for u in uses {
        let edge = &brep.edges[u.edge];
        let [a, b] = edge.range;
        // Where one edge ends the next begins.
        for i in usize::from(!all.is_empty())..=PIECES {
            let share = i as f64 / PIECES as f64;
            let share = if u.forward { share } else { 1.0 - share };
            let now = turn(face, &edge.curve.point(a + (b - a) * share));
            let before = all.last().copied().unwrap_or(now);
            all.push(before + wrapped(now - before));
        }
    }
    all
}

/// From where to where they go; the first within a turn from 0.
fn covered(turns: &[f64]) -> Option<[f64; 2]> {
    let low = turns.iter().copied().min_by(f64::total_cmp)?;
    let high = turns.iter().copied().max_by(f64::total_cmp)?;
    Some(from_first_turn([low, high]))
}

/// The same turns, counted from one within the first turn from 0.
fn from_first_turn([low, high]: [f64; 2]) -> [f64; 2] {
    let whole = TAU * (low / TAU).floor();
    [low - whole, high - whole]
}

/// Where a rim once around the axis is met more than once: where it comes back on its way, or stays
/// at one turn.
fn met_again(turns: &[f64]) -> Vec<[f64; 2]> {
    let mut once = turns.to_vec();
    if once.first() > once.last() {
        once.reverse();
    }
    // What lies behind on the second time around: all of the first is known then.
    let mut most = once.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut taken: Vec<[f64; 2]> = Vec::new();
    let mut back = false;
    for t in once.iter().skip(1).map(|t| t + TAU) {
        match taken.last_mut().filter(|_| back) {
            _ if t > most => (most, back) = (t, false),
            Some([low, _]) => *low = low.min(t),
            None => {
                taken.push([t, most]);
                back = true;
            }
        }
    }
    taken.into_iter().map(from_first_turn).collect()
}

/// How far a turn is from all that is taken, radians; below 0 within it.
fn room(taken: &[[f64; 2]], at: f64) -> f64 {
    let of = |[from, to]: &[f64; 2]| {
        let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
        wrapped(at - middle).abs() - half
    };
    taken.iter().map(of).fold(PI, f64::min)
}

/// Where an edge passes a turn, as its parameter.
fn passes(edge: &Edge, face: &Face, goal: f64) -> Option<f64> {
    let [a, b] = edge.range;
    let off = |t: f64| wrapped(turn(face, &edge.curve.point(t)) - goal);
    let at = |i: usize| a + (b - a) * i as f64 / PIECES as f64;
    let piece = (0..PIECES).find(|i| {
        let (x, y) = (off(at(*i)), off(at(i + 1)));
        x * y <= 0.0 && (x - y).abs() < 1.0
    })?;
    let (mut low, mut high) = (at(piece), at(piece + 1));
    let side = off(low) > 0.0;
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if (off(middle) > 0.0) == side {
            low = middle;
        } else {
            high = middle;
        }
    }
    let t = 0.5 * (low + high);
    (t > a && t < b).then_some(t)
}

/// Divides an edge in all its uses; the new vertex.
fn divide(brep: &mut Brep, edge: usize, t: f64) -> usize {
    let (vertex, rest) = (brep.vertices.len(), brep.edges.len());
    let whole = brep.edges[edge].clone();
    brep.vertices.push(whole.curve.point(t));
    let ([a, b], [from, to]) = (whole.range, whole.ends);
    let part = |range, ends| Edge {
        range,
        ends,
        ..whole.clone()
    };
    brep.edges.push(part([t, b], [vertex, to]));
    brep.edges[edge] = part([a, t], [from, vertex]);
    for l in brep.faces.iter_mut().flat_map(|f| &mut f.loops) {
        let both = |u: &EdgeUse| {
            let EdgeUse { edge: e, forward } = *u;
            let [one, two] = [edge, rest].map(|edge| EdgeUse { edge, forward });
            match (e == edge, forward) {
                (false, _) => vec![*u],
                (true, true) => vec![one, two],
                (true, false) => vec![two, one],
            }
        };
        l.uses = l.uses.iter().flat_map(both).collect();
    }
    vertex
}
