//! A body as small cubes.
//!
//! Input: a closed body of triangles, a pitch. Output: the cubes whose centre is in the body.
//! Does not know how thick the body is.

use crate::part::imported::MeshBody;
use nalgebra::Point3;
use rayon::prelude::*;

/// No cube.
pub(super) const NONE: u32 = u32::MAX;
/// Most cubes of the box: refused before memory is spent.
const MOST: f64 = 2e7;

/// The cubes of a body, by rising z, then y, then x.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Voxels {
    /// Cubes along x, y and z, with an empty rim of one.
    pub size: [usize; 3],
    /// Lower corner of the rim, mm.
    pub low: Point3<f64>,
    /// Side of a cube, mm.
    pub pitch: f64,
    /// Number of each place of the box, [`NONE`] outside the body.
    at: Vec<u32>,
    /// Place in the box of each cube.
    places: Vec<u32>,
}

impl Voxels {
    /// `None` when the box has too many cubes or none is in the body.
    pub(super) fn new(body: &MeshBody, pitch: f64) -> Option<Self> {
        let (low, high) = body.bounds();
        let size = [0, 1, 2].map(|a| ((high[a] - low[a]) / pitch - 1e-9).ceil().max(1.0) + 2.0);
        let all = size[0] * size[1] * size[2];
        if !(pitch > 0.0 && all.is_finite() && all <= MOST) {
            return None;
        }
        let size = size.map(|s| s as usize);
        let [nx, ny, nz] = size;
        // The box is centred on the body.
        let low = Point3::from(
            0.5 * (low.coords + high.coords)
                - 0.5 * pitch * nalgebra::Vector3::new(nx as f64, ny as f64, nz as f64),
        );
        let columns: Vec<Vec<[usize; 2]>> = (0..nx * ny)
            .into_par_iter()
            .map(|k| {
                // A hair off, so that no line runs along an edge of a mesh drawn on a raster.
                let x = low.x + ((k % nx) as f64 + 0.500_007) * pitch;
                let y = low.y + ((k / nx) as f64 + 0.500_003) * pitch;
                let layer = |z: f64| ((z - low.z) / pitch - 0.5).ceil().max(0.0) as usize;
                let spans = body.heights(x, y).into_iter();
                spans
                    .map(|i| [layer(i.low), layer(i.high).min(nz)])
                    .collect()
            })
            .collect();
        let mut at = vec![NONE; nx * ny * nz];
        for (k, spans) in columns.iter().enumerate() {
            for z in spans.iter().flat_map(|s| s[0]..s[1]) {
                at[z * nx * ny + k] = 0;
            }
        }
        let mut places = Vec::new();
        for (place, id) in at.iter_mut().enumerate() {
            if *id != NONE {
                *id = places.len() as u32;
                places.push(place as u32);
            }
        }
        (!places.is_empty()).then_some(Self {
            size,
            low,
            pitch,
            at,
            places,
        })
    }

    /// How many.
    pub(super) fn len(&self) -> usize {
        self.places.len()
    }

    /// Column, row and layer of a cube.
    pub(super) fn place(&self, cube: usize) -> [usize; 3] {
        let [nx, ny, _] = self.size;
        let k = self.places[cube] as usize;
        [k % nx, k / nx % ny, k / (nx * ny)]
    }

    /// The cube at a column, row and layer.
    pub(super) fn cube(&self, [x, y, z]: [usize; 3]) -> Option<u32> {
        let id = self.at[(z * self.size[1] + y) * self.size[0] + x];
        (id != NONE).then_some(id)
    }

    /// Middle of a cube, mm.
    pub(super) fn centre(&self, cube: usize) -> Point3<f64> {
        let [x, y, z] = self.place(cube).map(|i| (i as f64 + 0.5) * self.pitch);
        Point3::new(self.low.x + x, self.low.y + y, self.low.z + z)
    }

    /// Neighbours of a cube: low and high along x, y and z; [`NONE`] outside.
    pub(super) fn near(&self, cube: usize) -> [u32; 6] {
        let [nx, ny, _] = self.size;
        let k = self.places[cube] as usize;
        [k - 1, k + 1, k - nx, k + nx, k - nx * ny, k + nx * ny].map(|n| self.at[n])
    }

    /// The place of the box that a point lies in.
    pub(super) fn place_of(&self, p: &Point3<f64>) -> Option<[usize; 3]> {
        let i = (p - self.low) / self.pitch;
        let inside = (0..3).all(|a| i[a] >= 0.0 && i[a] < self.size[a] as f64);
        inside.then(|| [0, 1, 2].map(|a| i[a] as usize))
    }
}
