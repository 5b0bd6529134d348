//! Binary STL, written by `stl_io`, read back and checked.
//!
//! Input: a sound [`TaggedMesh`]. Output: the bytes. STL holds 32-bit numbers: rounding can
//! make two vertices one. Triangles that collapse by it are left out on both sides of the
//! collapse, and what is in the file is proved closed and of the same volume.

use crate::solid::TaggedMesh;
use std::collections::{BTreeMap, BTreeSet};
use std::io::Cursor;

/// Why no STL file can be written.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StlError {
    /// There is nothing to write.
    #[error("the solid is empty")]
    Empty,
    /// Rounded to 32 bits it is not closed any more.
    #[error(
        "rounded to the 32-bit numbers of an STL file the solid is not closed: {0} edges do not have two faces (walls thinner than 0.00001 mm, or touching along a line)"
    )]
    Open(usize),
    /// The file read back differs from what was written.
    #[error("the STL file read back differs: {0}")]
    Differs(String),
}

/// Vertices as STL rounds them, and the triangles that are left.
struct Rounded {
    vertices: Vec<[f32; 3]>,
    triangles: Vec<[u32; 3]>,
}

/// The file's bytes.
///
/// # Errors
/// An empty solid; one that rounding opens; a file that does not read back as written.
pub fn stl(mesh: &TaggedMesh) -> Result<Vec<u8>, StlError> {
    let rounded = round(mesh);
    if rounded.triangles.is_empty() {
        return Err(StlError::Empty);
    }
    let triangles: Vec<stl_io::Triangle> = rounded
        .triangles
        .iter()
        .map(|t| facet(t.map(|i| rounded.vertices[i as usize])))
        .collect();
    let mut bytes = Vec::with_capacity(84 + 50 * triangles.len());
    stl_io::write_stl(&mut bytes, triangles.iter())
        .map_err(|e| StlError::Differs(e.to_string()))?;
    check(&bytes, &rounded, mesh)?;
    Ok(bytes)
}

/// How many edges do not have two faces once the numbers are rounded to 32 bits.
pub fn open_edges(mesh: &TaggedMesh) -> usize {
    open(round(mesh).triangles.iter().map(|t| t.map(|i| i as usize)))
}

/// How many edges do not have one face on either side.
fn open(triangles: impl Iterator<Item = [usize; 3]>) -> usize {
    odd_edges(triangles).len()
}

/// Edges that do not have one face on either side.
fn odd_edges(triangles: impl Iterator<Item = [usize; 3]>) -> Vec<(usize, usize)> {
    let mut edges: Vec<(usize, usize, bool)> = triangles
        .flat_map(|t| [0, 1, 2].map(|k| (t[k], t[(k + 1) % 3])))
        .map(|(a, b)| (a.min(b), a.max(b), a < b))
        .collect();
    edges.sort_unstable();
    edges
        .chunk_by(|p, q| (p.0, p.1) == (q.0, q.1))
        .filter(|g| g.len() != 2 || g[0].2 == g[1].2)
        .map(|g| (g[0].0, g[0].1))
        .collect()
}

fn facet(corners: [[f32; 3]; 3]) -> stl_io::Triangle {
    let at = |k: usize| nalgebra::Vector3::from(corners[k].map(f64::from));
    let normal = (at(1) - at(0)).cross(&(at(2) - at(0)));
    let normal = normal.try_normalize(0.0).unwrap_or_default();
    stl_io::Triangle {
        normal: stl_io::Vector([normal.x as f32, normal.y as f32, normal.z as f32]),
        vertices: corners.map(stl_io::Vector),
    }
}

/// How often vertices that must not become one are told apart.
const ROUNDS: usize = 4;

/// Rounds, makes equal vertices one, and drops what has collapsed. Where that would open the
/// surface or let it touch itself, the vertices that fell together keep a step of the numbers
/// between them.
fn round(mesh: &TaggedMesh) -> Rounded {
    let mut apart = BTreeSet::new();
    let mut rounded = round_apart(mesh, &apart).0;
    for _ in 0..ROUNDS {
        let (now, id) = round_apart(mesh, &apart);
        rounded = now;
        let odd = odd_edges(rounded.triangles.iter().map(|t| t.map(|i| i as usize)));
        if odd.is_empty() {
            break;
        }
        let ends: BTreeSet<usize> = odd.into_iter().flat_map(|(a, b)| [a, b]).collect();
        let mut times = vec![0; rounded.vertices.len()];
        id.iter().for_each(|i| times[*i as usize] += 1);
        let fell = (0..id.len()).filter(|k| {
            let i = id[*k] as usize;
            times[i] > 1 && ends.contains(&i)
        });
        let before = apart.len();
        apart.extend(fell);
        if apart.len() == before {
            break;
        }
    }
    rounded
}

/// Rounds; the vertices that are `apart` become one with no other. Also the number of each
/// vertex's rounded one.
fn round_apart(mesh: &TaggedMesh, apart: &BTreeSet<usize>) -> (Rounded, Vec<u32>) {
    // Minus zero is zero: readers compare bits.
    let near = |p: &crate::solid::surface::Point3| [p.x, p.y, p.z].map(|c| c as f32 + 0.0);
    let mut ids: BTreeMap<[u32; 3], u32> = BTreeMap::new();
    let mut vertices: Vec<[f32; 3]> = Vec::new();
    let taken: BTreeSet<[u32; 3]> = if apart.is_empty() {
        BTreeSet::new()
    } else {
        mesh.points
            .iter()
            .map(|p| near(p).map(f32::to_bits))
            .collect()
    };
    let mut own: BTreeSet<[u32; 3]> = BTreeSet::new();
    let id: Vec<u32> = mesh
        .points
        .iter()
        .enumerate()
        .map(|(k, p)| {
            let mut v = near(p);
            if apart.contains(&k) {
                // The first of them keeps its place.
                if own.contains(&v.map(f32::to_bits)) {
                    let free = |v: &[f32; 3]| {
                        let bits = v.map(f32::to_bits);
                        !own.contains(&bits) && !taken.contains(&bits)
                    };
                    v = steps_away(v).find(free).unwrap_or(v);
                }
                own.insert(v.map(f32::to_bits));
            }
            *ids.entry(v.map(f32::to_bits)).or_insert_with(|| {
                vertices.push(v);
                vertices.len() as u32 - 1
            })
        })
        .collect();
    let mut triangles: Vec<[u32; 3]> = mesh
        .triangles
        .iter()
        .map(|t| t.map(|i| id[i as usize]))
        .filter(|t| t[0] != t[1] && t[1] != t[2] && t[2] != t[0])
        .collect();
    cancel(&mut triangles);
    let rounded = Rounded {
        vertices,
        triangles,
    };
    (rounded, id)
}

/// Places one and two steps of 32-bit numbers away along the axes.
fn steps_away(v: [f32; 3]) -> impl Iterator<Item = [f32; 3]> {
    (1..=2).flat_map(move |steps| {
        (0..6).map(move |k| {
            let mut w = v;
            for _ in 0..steps {
                let c = w[k / 2];
                w[k / 2] = if k % 2 == 0 {
                    c.next_up()
                } else {
                    c.next_down()
                };
            }
            w.map(|c| c + 0.0)
        })
    })
}

/// Two triangles over the same corners that face opposite ways are nothing: both go.
fn cancel(triangles: &mut Vec<[u32; 3]>) {
    let sorted = |t: &[u32; 3]| {
        let mut s = *t;
        s.sort_unstable();
        s
    };
    // +1 when an even permutation of the sorted corners.
    let hand = |t: &[u32; 3]| {
        let s = sorted(t);
        let k = t.iter().position(|&i| i == s[0]).unwrap_or(0);
        if t[(k + 1) % 3] == s[1] { 1i32 } else { -1 }
    };
    let mut balance: BTreeMap<[u32; 3], (i32, i32)> = BTreeMap::new();
    for t in triangles.iter() {
        let b = balance.entry(sorted(t)).or_default();
        if hand(t) > 0 { b.0 += 1 } else { b.1 += 1 }
    }
    if balance.values().all(|b| b.0 == 0 || b.1 == 0) {
        return;
    }
    for b in balance.values_mut() {
        let both = b.0.min(b.1);
        *b = (both, both);
    }
    triangles.retain(|t| {
        let Some(b) = balance.get_mut(&sorted(t)) else {
            return true;
        };
        let left = if hand(t) > 0 { &mut b.0 } else { &mut b.1 };
        if *left > 0 {
            *left -= 1;
            return false;
        }
        true
    });
}

/// Reads the bytes back and proves them closed and of the mesh's volume.
fn check(bytes: &[u8], rounded: &Rounded, mesh: &TaggedMesh) -> Result<(), StlError> {
    let read =
        stl_io::read_stl(&mut Cursor::new(bytes)).map_err(|e| StlError::Differs(e.to_string()))?;
    if read.faces.len() != rounded.triangles.len() {
        return Err(StlError::Differs(format!(
            "{} triangles instead of {}",
            read.faces.len(),
            rounded.triangles.len()
        )));
    }
    let open = open(read.faces.iter().map(|f| f.vertices));
    if open > 0 {
        return Err(StlError::Open(open));
    }
    let at = |i: usize| nalgebra::Vector3::from(read.vertices[i].0.map(f64::from));
    let origin = at(0);
    let (mut volume, mut area) = (0.0, 0.0);
    for f in &read.faces {
        let [a, b, c] = f.vertices.map(|i| at(i) - origin);
        volume += a.dot(&b.cross(&c)) / 6.0;
        area += 0.5 * (b - a).cross(&(c - a)).norm();
    }
    let whole = mesh.volume();
    // One part in a million, or every face moved by the rounding of its largest coordinate
    // (half a unit in the 24th binary place), whichever is more.
    let reach = mesh
        .points
        .iter()
        .fold(0.0, |m: f64, p| m.max(p.coords.amax()));
    let within = (1e-6 * whole.abs()).max(area * reach * 2f64.powi(-24));
    if (volume - whole).abs() > within {
        return Err(StlError::Differs(format!(
            "its volume is {volume:.6} mm³ instead of {whole:.6} mm³"
        )));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;
    use crate::solid::surface::Point3;
    use crate::solid::{Tolerance, plate_solid};

    #[test]
    fn the_sample_plates_survive_rounding() {
        for plate in sample::design().plates {
            let mesh = plate_solid(&plate, &Tolerance::default()).expect("a plate");
            let bytes = stl(&mesh).expect("a file");
            // Format: 80 bytes, a count, 50 bytes each (3D Systems' StereoLithography interface
            // specification, 1989; from memory).
            let count = u32::from_le_bytes([bytes[80], bytes[81], bytes[82], bytes[83]]) as usize;
            assert_eq!(bytes.len(), 84 + 50 * count);
            assert_eq!(stl(&mesh).expect("again"), bytes);
        }
    }

    #[test]
    fn a_corner_cut_smaller_than_a_32_bit_step_collapses_on_both_sides() {
        // A tetrahedron at x = 1000 whose corner is cut 1e-6 mm from its tip.
        let far = Point3::new(1000.0, 0.0, 0.0);
        let p = |x: f64, y: f64, z: f64| far + nalgebra::Vector3::new(x, y, z);
        let e = 1e-6;
        let mesh = TaggedMesh {
            points: vec![
                p(0.0, 0.0, 0.0),
                p(10.0, 0.0, 0.0),
                p(0.0, 10.0, 0.0),
                p(e, 0.0, 10.0),
                p(-e, 0.0, 10.0),
            ],
            // The tip is an edge 3–4.
            triangles: vec![
                [0, 2, 1],
                [1, 2, 3],
                [2, 4, 3],
                [0, 4, 2],
                [0, 1, 3],
                [0, 3, 4],
            ],
            tags: vec![0; 6],
            surfaces: vec![],
        };
        let bytes = stl(&mesh).expect("a file");
        assert_eq!(bytes.len(), 84 + 50 * 4);
    }

    #[test]
    fn an_open_sheet_is_refused() {
        let mesh = TaggedMesh {
            points: vec![
                Point3::new(0.0, 0.0, 0.0),
                Point3::new(1.0, 0.0, 0.0),
                Point3::new(0.0, 1.0, 0.0),
            ],
            triangles: vec![[0, 1, 2]],
            tags: vec![0],
            surfaces: vec![],
        };
        assert_eq!(stl(&mesh), Err(StlError::Open(3)));
        assert_eq!(stl(&TaggedMesh::default()), Err(StlError::Empty));
    }
}
