//! Faces and edges as the triangles show them: groups of one surface, chains between groups.
//!
//! Input: a closed tagged mesh. Output: groups with their loops of chains.
//! Knows nothing of exact curves.

use super::error::BrepError;
use super::frame::{Frame, parameters};
use super::project::gradient;
use crate::solid::mesh::TaggedMesh;
use crate::solid::surface::Surface;
use std::f64::consts::TAU;

/// The mesh's faces and edges.
#[derive(Debug, Default)]
pub(super) struct Topology {
    /// Groups of connected triangles on one surface.
    pub groups: Vec<Group>,
    /// Chains of mesh edges between two groups.
    pub chains: Vec<Chain>,
    /// Vertices − edges + triangles.
    pub euler: i64,
    /// Area of the triangles on curved surfaces, mm².
    pub curved_area: f64,
}

/// A face of the mesh.
#[derive(Debug)]
pub(super) struct Group {
    /// Its surface.
    pub surface: Surface,
    /// True when outside is on the side of the surface's own normal.
    pub same_sense: bool,
    /// Torus: the middle of its tube angles; else 0.
    pub branch: f64,
    /// Loops with the group on the left: (chain, along it).
    pub loops: Vec<Vec<(usize, bool)>>,
}

/// An edge of the mesh.
#[derive(Debug)]
pub(super) struct Chain {
    /// The group on the left, and on the right.
    pub groups: [usize; 2],
    /// Mesh vertices; in a closed chain the first is repeated at the end.
    pub vertices: Vec<u32>,
    /// True when no corner lies on it.
    pub closed: bool,
}

/// Twin of each half-edge; half-edge 3t+k runs from corner k of triangle t to the next.
fn twins(mesh: &TaggedMesh) -> Result<Vec<u32>, BrepError> {
    let n = mesh.points.len();
    let ends = |h: usize| {
        let t = mesh.triangles[h / 3];
        (t[h % 3], t[(h + 1) % 3])
    };
    let halves = 3 * mesh.triangles.len();
    let mut start = vec![0u32; n + 1];
    for h in 0..halves {
        let (a, b) = ends(h);
        if a as usize >= n || b as usize >= n || a == b {
            return Err(BrepError::Mesh("a triangle names no proper vertex".into()));
        }
        start[a as usize + 1] += 1;
    }
    for i in 0..n {
        start[i + 1] += start[i];
    }
    let mut fill = start.clone();
    let mut bucket = vec![(0u32, 0u32); halves];
    for h in 0..halves {
        let (a, b) = ends(h);
        bucket[fill[a as usize] as usize] = (b, h as u32);
        fill[a as usize] += 1;
    }
    for i in 0..n {
        bucket[start[i] as usize..start[i + 1] as usize].sort_unstable();
    }
    let mut twin = vec![0u32; halves];
    for (h, slot) in twin.iter_mut().enumerate() {
        let (a, b) = ends(h);
        let out = &bucket[start[b as usize] as usize..start[b as usize + 1] as usize];
        let i = out.partition_point(|(head, _)| *head < a);
        let hit = out.get(i).filter(|x| x.0 == a);
        let twice = out.get(i + 1).is_some_and(|x| x.0 == a);
        match hit {
            Some(x) if !twice => *slot = x.1,
            _ => {
                return Err(BrepError::Mesh(
                    "an edge is not shared by two triangles".into(),
                ));
            }
        }
    }
    Ok(twin)
}

/// Connected triangles of one surface: group per triangle, and the number of groups.
fn flood(mesh: &TaggedMesh, twin: &[u32], tag: &[u32]) -> (Vec<u32>, usize) {
    let mut group = vec![u32::MAX; mesh.triangles.len()];
    let mut count = 0;
    let mut open = Vec::new();
    for seed in 0..group.len() {
        if group[seed] != u32::MAX {
            continue;
        }
        group[seed] = count;
        open.push(seed);
        while let Some(t) = open.pop() {
            for k in 0..3 {
                let next = twin[3 * t + k] as usize / 3;
                if group[next] == u32::MAX && tag[next] == tag[t] {
                    group[next] = count;
                    open.push(next);
                }
            }
        }
        count += 1;
    }
    (group, count as usize)
}

/// Numbers the groups by surface and least border vertex, so that the result
/// depends on the faces and not on how they are divided into triangles.
fn in_order(mesh: &TaggedMesh, twin: &[u32], count: usize, group: &mut [u32]) {
    let mut key = vec![(u32::MAX, u32::MAX, 0u32); count];
    for (h, t) in twin.iter().enumerate() {
        let g = group[h / 3];
        let k = &mut key[g as usize];
        k.0 = mesh.tags[h / 3];
        k.2 = g;
        if group[*t as usize / 3] != g {
            k.1 = k.1.min(mesh.triangles[h / 3][h % 3]);
        }
    }
    key.sort_unstable();
    let mut rank = vec![0u32; count];
    for (i, k) in key.iter().enumerate() {
        rank[k.2 as usize] = i as u32;
    }
    for g in group {
        *g = rank[*g as usize];
    }
}

/// Finds groups and chains of a mesh that lists each surface once. `split` names further mesh vertices that end a chain.
pub(super) fn trace(mesh: &TaggedMesh, split: &[u32]) -> Result<Topology, BrepError> {
    if mesh.tags.len() != mesh.triangles.len() || mesh.triangles.is_empty() {
        return Err(BrepError::Mesh(
            "no triangles, or not one surface for each".into(),
        ));
    }
    let twin = twins(mesh)?;
    let (mut group, count) = flood(mesh, &twin, &mesh.tags);
    in_order(mesh, &twin, count, &mut group);
    one_shell(mesh, &twin)?;
    let mut out = Topology::default();
    out.groups = sense(mesh, &group, count, &mut out.curved_area);
    let mut seen = vec![false; mesh.points.len()];
    for t in mesh.triangles.iter().flatten() {
        seen[*t as usize] = true;
    }
    let vertices = seen.iter().filter(|s| **s).count() as i64;
    out.euler = vertices - twin.len() as i64 / 2 + mesh.triangles.len() as i64;
    walk(mesh, &twin, &group, split, &mut out);
    Ok(out)
}

/// Surface and side of each group; adds up the curved area.
fn sense(mesh: &TaggedMesh, group: &[u32], count: usize, curved: &mut f64) -> Vec<Group> {
    let mut sum = vec![0.0; count];
    let mut surface = vec![0u32; count];
    let mut tubes: Vec<Vec<f64>> = vec![Vec::new(); count];
    for (t, tri) in mesh.triangles.iter().enumerate() {
        let [a, b, c] = tri.map(|i| mesh.points[i as usize]);
        let normal = (b - a).cross(&(c - a)) * 0.5;
        let s = &mesh.surfaces[mesh.tags[t] as usize];
        let middle = nalgebra::center(&nalgebra::center(&a, &b), &c);
        let g = group[t] as usize;
        sum[g] += normal.dot(&gradient(s, &middle));
        surface[g] = mesh.tags[t];
        if matches!(s, Surface::Torus { .. }) {
            let frame = Frame::of(s);
            tubes[g].extend([a, b, c].map(|p| parameters(s, frame.local(&p)).1));
        }
        if !matches!(s, Surface::Plane { .. }) {
            *curved += normal.norm();
        }
    }
    (0..count)
        .map(|g| Group {
            surface: mesh.surfaces[surface[g] as usize],
            same_sense: sum[g] > 0.0,
            branch: middle_angle(&mut tubes[g]),
            loops: Vec::new(),
        })
        .collect()
}

/// Middle of the arc left over by the largest gap between angles.
fn middle_angle(angles: &mut [f64]) -> f64 {
    angles.sort_by(f64::total_cmp);
    let (Some(first), Some(last)) = (angles.first(), angles.last()) else {
        return 0.0;
    };
    let mut best = (first + TAU - last, *first, *last);
    for w in angles.windows(2) {
        if w[1] - w[0] > best.0 {
            best = (w[1] - w[0], w[1], w[0] + TAU);
        }
    }
    0.5 * (best.1 + best.2)
}

/// Refuses meshes of several shells.
fn one_shell(mesh: &TaggedMesh, twin: &[u32]) -> Result<(), BrepError> {
    let all = vec![0; mesh.triangles.len()];
    match flood(mesh, twin, &all).1 {
        1 => Ok(()),
        n => Err(BrepError::Shells(n)),
    }
}

/// Walks the boundaries of all groups and cuts them into chains.
fn walk(mesh: &TaggedMesh, twin: &[u32], group: &[u32], split: &[u32], out: &mut Topology) {
    let halves = twin.len();
    let tail = |h: usize| mesh.triangles[h / 3][h % 3];
    let head = |h: usize| mesh.triangles[h / 3][(h + 1) % 3];
    let next = |h: usize| 3 * (h / 3) + (h + 1) % 3;
    let side = |h: usize| group[h / 3];
    let other = |h: usize| group[twin[h] as usize / 3];
    let border = |h: usize| side(h) != other(h);
    let mut degree = vec![0u32; mesh.points.len()];
    for h in (0..halves).filter(|h| border(*h)) {
        degree[tail(h) as usize] += 1;
    }
    for v in split {
        degree[*v as usize] = 3;
    }
    let corner = |v: u32| degree[v as usize] != 2;
    // Next border half-edge around the head, inside the same group.
    let follow = |h: usize| {
        let mut n = next(h);
        while !border(n) {
            n = next(twin[n] as usize);
        }
        n
    };
    let mut chain_of = vec![usize::MAX; halves];
    let mut seen = vec![false; halves];
    let mut seeds: Vec<usize> = (0..halves).filter(|h| border(*h)).collect();
    seeds.sort_unstable_by_key(|h| (side(*h), tail(*h), head(*h)));
    for seed in seeds {
        if seen[seed] {
            continue;
        }
        let mut cycle = vec![seed];
        seen[seed] = true;
        let mut h = follow(seed);
        while h != seed {
            seen[h] = true;
            cycle.push(h);
            h = follow(h);
        }
        let first = cycle.iter().position(|h| corner(tail(*h)));
        let closed = first.is_none();
        cycle.rotate_left(first.unwrap_or(0));
        let mut uses = Vec::new();
        let mut i = 0;
        while i < cycle.len() {
            let mut j = i + 1;
            while j < cycle.len() && (closed || !corner(tail(cycle[j]))) {
                j += 1;
            }
            let piece = &cycle[i..j];
            let known = chain_of[twin[piece[0]] as usize];
            if known != usize::MAX {
                uses.push((known, false));
            } else {
                let id = out.chains.len();
                for h in piece {
                    chain_of[*h] = id;
                }
                let mut vertices: Vec<u32> = piece.iter().map(|h| tail(*h)).collect();
                vertices.push(head(piece[piece.len() - 1]));
                out.chains.push(Chain {
                    groups: [side(piece[0]) as usize, other(piece[0]) as usize],
                    vertices,
                    closed,
                });
                uses.push((id, true));
            }
            i = j;
        }
        out.groups[side(seed) as usize].loops.push(uses);
    }
}
