//! A solid as an STL file has it, with the edges that a drawing shows.
//!
//! Input: the bytes. Output: corners joined where they are equal, triangles, edges at which two
//! faces meet at an angle.

use std::collections::BTreeMap;
use std::io::Cursor;

/// Faces that meet at less than this are one, degrees: chords of a curve lie flatter.
const FLAT: f64 = 20.0;

/// Why bytes are no solid.
#[derive(Debug, thiserror::Error)]
pub enum ShapeError {
    /// They are no STL file.
    #[error(transparent)]
    Stl(#[from] std::io::Error),
    /// It has more corners than can be numbered.
    #[error(transparent)]
    Many(#[from] std::num::TryFromIntError),
}

/// A solid.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Shape {
    /// Corners, mm.
    pub points: Vec<[f64; 3]>,
    /// Three corners each.
    pub triangles: Vec<[u32; 3]>,
    /// Two corners each.
    pub edges: Vec<(u32, u32)>,
}

impl Shape {
    /// From the bytes of an STL file.
    ///
    /// # Errors
    /// What the file lacks.
    pub fn read(stl: &[u8]) -> Result<Self, ShapeError> {
        let mesh = stl_io::read_stl(&mut Cursor::new(stl))?;
        let points: Vec<[f64; 3]> = mesh.vertices.iter().map(|v| v.0.map(f64::from)).collect();
        let index = |i: usize| u32::try_from(i);
        let triangles: Result<Vec<[u32; 3]>, std::num::TryFromIntError> = mesh
            .faces
            .iter()
            .map(|f| {
                Ok([
                    index(f.vertices[0])?,
                    index(f.vertices[1])?,
                    index(f.vertices[2])?,
                ])
            })
            .collect();
        let triangles = triangles?;
        let edges = edges(&points, &triangles);
        Ok(Self {
            points,
            triangles,
            edges,
        })
    }
}

fn edges(points: &[[f64; 3]], triangles: &[[u32; 3]]) -> Vec<(u32, u32)> {
    let normal = |t: &[u32; 3]| {
        let [a, b, c] = t.map(|i| nalgebra::Vector3::from(points[i as usize]));
        (b - a).cross(&(c - a)).try_normalize(0.0)
    };
    let mut sides: BTreeMap<(u32, u32), Vec<usize>> = BTreeMap::new();
    for (i, t) in triangles.iter().enumerate() {
        for (a, b) in [(t[0], t[1]), (t[1], t[2]), (t[2], t[0])] {
            sides.entry((a.min(b), a.max(b))).or_default().push(i);
        }
    }
    let least = FLAT.to_radians().cos();
    let sharp = |faces: &[usize]| match faces {
        [a, b] => match (normal(&triangles[*a]), normal(&triangles[*b])) {
            (Some(a), Some(b)) => a.dot(&b) < least,
            // A triangle without height lies in its neighbour.
            _ => false,
        },
        _ => true,
    };
    let drawn = sides.iter().filter(|(_, faces)| sharp(faces));
    drawn.map(|(edge, _)| *edge).collect()
}
