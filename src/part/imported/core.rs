//! What each plate does with a hollow part: the space that the A plate leaves, the metal that
//! stands on the B plate.
//!
//! Input: a body, z = 0 on the parting plane, and the faces that hook. Output: closed bodies
//! between the plane and the faces above it that look up (the cavity in A with all its hollows),
//! or that look down (the cores on B). Their difference is the part above the plane.

use super::body::MeshBody;
use super::cut::{Piece, keep, open_edges};
use super::plane::{lines_cross, stands_sound};
use super::shadow::{Rim, TooFine};
use super::undercut::UPRIGHT;
use crate::base::groups::Groups;
use crate::sketch::Region;
use crate::trace::mesh::Point3;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Lower hollows, mm, are facets or roundings at the plane: no core.
const LOW: f64 = 0.05;

/// Nearer to the outline in plan than this, mm, is at it: as far as outlines are simplified.
const AT_RIM: f64 = 0.01;

/// How a triangle stands to the pull.
#[derive(Clone, Copy, PartialEq)]
enum Look {
    Up,
    Down,
    Upright,
}

/// The cores and the cavity in A that goes with them; `None` when no hollow needs a core, or
/// when a body that hooks has none.
///
/// # Errors
/// Words for why they cannot be formed.
pub fn cores(
    body: &MeshBody,
    hidden: &[(u32, f64)],
) -> Result<Option<(MeshBody, MeshBody)>, TooFine> {
    let hidden: BTreeSet<u32> = hidden.iter().map(|h| h.0).collect();
    let look = |k: u32| {
        let n = body.normal(k);
        if n.z.abs() <= UPRIGHT * n.norm() {
            Look::Upright
        } else if n.z > 0.0 {
            Look::Up
        } else {
            Look::Down
        }
    };
    let above: Vec<(u32, Look)> = (0..body.triangles().len() as u32)
        .filter(|k| {
            let [a, b, c] = body.corners(*k);
            a.z.max(b.z).max(c.z) > 1e-6 && !hidden.contains(k)
        })
        .map(|k| (k, look(k)))
        .collect();
    if above.iter().all(|a| a.1 != Look::Down) {
        return Ok(None);
    }
    let (with_up, with_down) = walls_of(body, &above);
    let faces = |wanted: Look, walls: &[u32]| -> Piece {
        let mut all: Vec<u32> = above
            .iter()
            .filter(|a| a.1 == wanted)
            .map(|a| a.0)
            .collect();
        all.extend(walls);
        all.sort_unstable();
        let triangles = all.iter().map(|&k| body.triangles()[k as usize]);
        keep(body.points(), triangles, 0.0, true)
    };
    let mut down = faces(Look::Down, &with_down);
    down.triangles = groups(&down.triangles)
        .into_iter()
        .filter(|g| {
            let high = |t: &[u32; 3]| t.iter().any(|i| down.points[*i as usize].z > LOW);
            g.iter().any(high) && !at_the_rim(&down.points, g, body.outline())
        })
        .flatten()
        .collect();
    if down.triangles.is_empty() {
        return Ok(None);
    }
    let core = column(&down, false)?;
    let cavity = column(&faces(Look::Up, &with_up), true)?;
    let (Some(core), Some(cavity)) = (core, cavity) else {
        return Ok(None);
    };
    // Where a body hooks, what is left of its faces may not bound anything.
    let sound = |b: &MeshBody| {
        closed(b.triangles()) && (hidden.is_empty() || stands_sound(b.points(), b.triangles()))
    };
    Ok((sound(&core) && sound(&cavity)).then_some((core, cavity)))
}

/// Whether every edge is run along once each way.
fn closed(triangles: &[[u32; 3]]) -> bool {
    let mut sides: Vec<(u32, u32)> = triangles
        .iter()
        .flat_map(|t| [0, 1, 2].map(|k| (t[k], t[(k + 1) % 3])))
        .collect();
    sides.sort_unstable();
    sides.windows(2).all(|w| w[0] != w[1]) && open_edges(triangles).is_empty()
}

/// Upright walls that belong to the faces looking up, and to those looking down: walls that
/// touch both belong to neither.
fn walls_of(body: &MeshBody, above: &[(u32, Look)]) -> (Vec<u32>, Vec<u32>) {
    let walls: Vec<u32> = above
        .iter()
        .filter(|a| a.1 == Look::Upright)
        .map(|a| a.0)
        .collect();
    let mut patches = Groups::new(walls.len());
    let mut at_edge: BTreeMap<(u32, u32), usize> = BTreeMap::new();
    let edges = |k: u32| {
        let t = body.triangles()[k as usize];
        [0, 1, 2].map(|j| (t[j].min(t[(j + 1) % 3]), t[j].max(t[(j + 1) % 3])))
    };
    for (n, &k) in walls.iter().enumerate() {
        for e in edges(k) {
            patches.join(n, *at_edge.entry(e).or_insert(n));
        }
    }
    // Bit 1: touches a face that looks up, bit 2: one that looks down.
    let mut touches = vec![0u8; walls.len()];
    for &(k, look) in above.iter().filter(|a| a.1 != Look::Upright) {
        for e in edges(k) {
            if let Some(&n) = at_edge.get(&e) {
                touches[patches.find(n)] |= if look == Look::Up { 1 } else { 2 };
            }
        }
    }
    let mut out = (Vec::new(), Vec::new());
    for (n, &k) in walls.iter().enumerate() {
        match touches[patches.find(n)] {
            1 => out.0.push(k),
            2 => out.1.push(k),
            _ => {}
        }
    }
    out
}

/// Triangles that hang together over edges.
fn groups(triangles: &[[u32; 3]]) -> Vec<Vec<[u32; 3]>> {
    let mut patches = Groups::new(triangles.len());
    let mut at_edge: BTreeMap<(u32, u32), usize> = BTreeMap::new();
    for (k, t) in triangles.iter().enumerate() {
        for j in 0..3 {
            let (a, b) = (t[j], t[(j + 1) % 3]);
            patches.join(k, *at_edge.entry((a.min(b), a.max(b))).or_insert(k));
        }
    }
    patches
        .into_groups()
        .into_iter()
        .map(|g| g.into_iter().map(|k| triangles[k]).collect())
        .collect()
}

/// Whether faces that look down hang out over the rim of the part: metal of B beside the part
/// would be no core in a hollow, and stand where gates and vents are.
fn at_the_rim(points: &[Point3], faces: &[[u32; 3]], outline: &[Region]) -> bool {
    open_edges(faces).iter().any(|e| {
        let [a, b] = e.map(|i| points[i as usize]);
        let middle = nalgebra::center(&a, &b);
        // On the plane the part's own wall may end at its rim.
        middle.z > LOW
            && outline
                .iter()
                .any(|r| r.outer.distance(middle.xy()) < AT_RIM)
    })
}

/// Everything between the plane and a piece of surface above it; `None` where pieces of that
/// surface lie above one another, as they do where a body hooks: the column would pass through
/// itself.
fn column(piece: &Piece, up: bool) -> Result<Option<MeshBody>, TooFine> {
    let tops: Vec<[u32; 3]> = piece
        .triangles
        .iter()
        .map(|t| if up { *t } else { [t[0], t[2], t[1]] })
        .collect();
    // One foot for all corners above one another.
    let mut points = piece.points.clone();
    let key = |p: &Point3| ((p.x + 0.0).to_bits(), (p.y + 0.0).to_bits());
    let mut feet: BTreeMap<(u64, u64), u32> = BTreeMap::new();
    for (i, p) in piece.points.iter().enumerate() {
        if p.z == 0.0 {
            feet.entry(key(p)).or_insert(i as u32);
        }
    }
    let foot: Vec<u32> = piece
        .points
        .iter()
        .map(|p| {
            *feet.entry(key(p)).or_insert_with(|| {
                points.push(Point3::new(p.x, p.y, 0.0));
                points.len() as u32 - 1
            })
        })
        .collect();
    let mut triangles = tops.clone();
    triangles.extend(tops.iter().map(|t| {
        let f = t.map(|i| foot[i as usize]);
        [f[0], f[2], f[1]]
    }));
    // Where one edge ends above another that runs back, the wall between the two stands.
    let mut by_feet: BTreeMap<[u32; 2], Vec<[u32; 2]>> = BTreeMap::new();
    let open = open_edges(&tops);
    if lies_double(&points, &foot, &tops, &open) {
        return Ok(None);
    }
    for &e in &open {
        by_feet
            .entry(e.map(|i| foot[i as usize]))
            .or_default()
            .push(e);
    }
    let mut all: Vec<[u32; 2]> = by_feet.keys().copied().collect();
    all.retain(|[c, d]| c != d);
    for [c, d] in all {
        let Some(mine) = by_feet.remove(&[c, d]) else {
            continue;
        };
        let mut others = by_feet.remove(&[d, c]).unwrap_or_default();
        let mut lone = Vec::new();
        for [a, b] in mine {
            match others.pop() {
                Some([e, f]) => triangles.extend([[b, a, f], [b, f, e]]),
                None => lone.push(([a, b], [c, d])),
            }
        }
        lone.extend(others.into_iter().map(|e| (e, [d, c])));
        for ([a, b], [c, d]) in lone {
            triangles.extend([[b, a, c], [b, c, d]]);
        }
    }
    triangles.retain(|t| t[0] != t[1] && t[1] != t[2] && t[2] != t[0]);
    let outline = Rim::new(&piece.points, &open)?.regions(0.0);
    Ok(Some(MeshBody::new(points, Arc::new(triangles), outline)))
}

/// Whether triangles lie above one another in plan: lines of their common border cross there, or
/// they cover more than is inside that border.
fn lies_double(points: &[Point3], foot: &[u32], tops: &[[u32; 3]], open: &[[u32; 2]]) -> bool {
    let at = |i: u32| points[i as usize].xy();
    let mut border: Vec<[u32; 2]> = open.iter().map(|e| e.map(|i| foot[i as usize])).collect();
    border.sort_unstable();
    // What runs there and back is no border.
    let all = border.clone();
    border.retain(|[c, d]| c != d && all.binary_search(&[*d, *c]).is_err());
    if lines_cross(&border, &at) {
        return true;
    }
    let twice = |t: &[u32; 3]| {
        let [a, b, c] = t.map(|i| at(foot[i as usize]));
        (b - a).perp(&(c - a))
    };
    let covered: f64 = tops.iter().map(|t| twice(t).abs()).sum();
    let inside: f64 = border
        .iter()
        .map(|[c, d]| at(*c).coords.perp(&at(*d).coords))
        .sum();
    // Walls that lean by rounding are told from sheets by their size.
    covered - inside.abs() > 1e-4 * covered
}
