//! A solid as text for the 3-D view.
//!
//! Input: a mesh. Output: positions as 16-bit steps of a box, indices of triangles and of
//! feature edges, each as base64 of little-endian numbers. A position is off by at most
//! half a step in each direction: 1/131070 of the solid's longest side.

use crate::solid::TaggedMesh;
use crate::write::drawing::edges::sharp_edges;
use serde::Serialize;

/// One solid, ready for JSON.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct PackedMesh {
    /// Lower corner of the box, mm.
    pub origin: [f64; 3],
    /// One step, mm.
    pub step: f64,
    /// Three 16-bit numbers a point.
    pub points: String,
    /// Bytes of one index: 2 or 4.
    pub width: u8,
    /// Three indices a triangle.
    pub triangles: String,
    /// Two indices an edge between two surfaces.
    pub edges: String,
}

/// Packs a mesh; the triangles in the order of `order`.
pub(super) fn pack(mesh: &TaggedMesh, order: &[usize]) -> PackedMesh {
    let triangles = order.iter().map(|t| mesh.triangles[*t]);
    let points = mesh
        .points
        .iter()
        .map(|p| [p.x, p.y, p.z])
        .collect::<Vec<_>>();
    pack_plain(&points, triangles, &sharp_edges(mesh))
}

/// Packs points, triangles and the edges that are drawn.
pub(super) fn pack_plain(
    all: &[[f64; 3]],
    triangles: impl Iterator<Item = [u32; 3]>,
    edges: &[(u32, u32)],
) -> PackedMesh {
    let mut low = [f64::INFINITY; 3];
    let mut high = [f64::NEG_INFINITY; 3];
    for p in all {
        for k in 0..3 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    let longest = (0..3).map(|k| high[k] - low[k]).fold(0.0, f64::max);
    let step = if longest > 0.0 {
        longest / 65535.0
    } else {
        1.0
    };
    if all.is_empty() {
        low = [0.0; 3];
    }
    let mut points = Vec::with_capacity(all.len() * 6);
    for p in all {
        for k in 0..3 {
            // In range by the choice of the step; `as` saturates.
            let q = ((p[k] - low[k]) / step).round() as u16;
            points.extend(q.to_le_bytes());
        }
    }
    let width = width_of(all.len());
    PackedMesh {
        origin: low,
        step,
        points: base64(&points),
        width,
        triangles: indices(triangles.flatten(), width),
        edges: indices(edges.iter().flat_map(|(a, b)| [*a, *b]), width),
    }
}

/// Bytes of one index into the points of a mesh.
pub(super) fn width(mesh: &TaggedMesh) -> u8 {
    width_of(mesh.points.len())
}

fn width_of(points: usize) -> u8 {
    if points <= 65536 { 2 } else { 4 }
}

/// Indices as base64 of little-endian numbers of so many bytes.
pub(super) fn indices(all: impl Iterator<Item = u32>, width: u8) -> String {
    let bytes: Vec<u8> = all
        .flat_map(|i| i.to_le_bytes().into_iter().take(usize::from(width)))
        .collect();
    base64(&bytes)
}

/// RFC 4648, section 4, with padding.
pub fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for group in bytes.chunks(3) {
        let word = group
            .iter()
            .enumerate()
            .fold(0_u32, |w, (i, b)| w | u32::from(*b) << (16 - 8 * i));
        for k in 0..4 {
            if k <= group.len() {
                out.push(char::from(LETTERS[(word >> (18 - 6 * k) & 63) as usize]));
            } else {
                out.push('=');
            }
        }
    }
    out
}
