//! What holds a body in the mold when the halves part along z.
//!
//! Input: a body, z along the pull. Output: faces hidden from their half by other parts of the
//! body (undercuts), and where the parting plane may lie. Vertical lines are cast through
//! a raster and through every triangle that the raster misses: a triangle's area counts by
//! the share of its lines that are hidden. Walls leaning less than [`UPRIGHT`] count as upright.

use super::body::MeshBody;
use crate::base::groups::Groups;
use nalgebra::Vector3;
use std::collections::BTreeMap;

/// Sine of the lean below which a wall is upright: 0.05°, 0.01 mm over 12 mm; the rounding of
/// a mesh file's 32-bit numbers leans short walls by less.
pub(super) const UPRIGHT: f64 = 8.7e-4;
/// Lines along the longer side of the raster.
const FINE: usize = 512;
/// The same for comparing directions.
const COARSE: usize = 160;
/// The raster starts off any round number, so that lines miss edges.
const OFF: f64 = 0.370_719;

/// One line along the pull: the lowest and the highest plastic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ray {
    /// Column and row of the raster.
    pub at: [usize; 2],
    /// Lowest plastic, mm.
    pub low: f64,
    /// Highest plastic, mm.
    pub high: f64,
}

/// What the raster says.
#[derive(Debug, Clone, Default)]
pub struct Survey {
    /// Distance of the lines, mm.
    pub pitch: f64,
    /// Columns and rows.
    pub size: [usize; 2],
    /// Lines that meet plastic, row by row.
    pub rays: Vec<Ray>,
    /// Hidden area of each triangle that has some, mm².
    pub hidden: Vec<(u32, f64)>,
}

impl Survey {
    /// Hidden area, mm².
    pub fn hidden_area(&self) -> f64 {
        self.hidden.iter().map(|h| h.1).sum()
    }
    /// Area in plan, mm².
    pub fn shadow(&self) -> f64 {
        self.rays.len() as f64 * self.pitch * self.pitch
    }
}

/// Looks along the pull. `quick`: a coarse raster, and no lines of their own for small triangles.
pub(super) fn survey(body: &MeshBody, quick: bool) -> Survey {
    let (low, high) = body.bounds();
    let (w, h) = (high.x - low.x, high.y - low.y);
    let side = if quick { COARSE } else { FINE };
    let pitch = (w.max(h) / side as f64).max(1e-9);
    let size = [(w / pitch).ceil() as usize, (h / pitch).ceil() as usize];
    let count = body.triangles().len();
    // Lines through each triangle, and how many of them are hidden.
    let mut lines = vec![[0u32; 2]; count];
    let mut rays = Vec::new();
    let mut all = Vec::new();
    for row in 0..size[1] {
        for column in 0..size[0] {
            let x = low.x + (column as f64 + OFF) * pitch;
            let y = low.y + (row as f64 + OFF) * pitch;
            body.crossings(x, y, &mut all);
            let (Some(first), Some(last)) = (all.first(), all.last()) else {
                continue;
            };
            rays.push(Ray {
                at: [column, row],
                low: first.z,
                high: last.z,
            });
            let end = all.len() - 1;
            for (k, c) in all.iter().enumerate() {
                let seen = if c.up { k == end } else { k == 0 };
                let l = &mut lines[c.triangle as usize];
                l[0] += 1;
                l[1] += u32::from(!seen);
            }
        }
    }
    let mut hidden = Vec::new();
    for (t, l) in (0..count as u32).zip(&mut lines) {
        let n = body.normal(t);
        let area = 0.5 * n.norm();
        if n.z.abs() <= UPRIGHT * 2.0 * area {
            continue;
        }
        if l[0] == 0 && !quick {
            let [a, b, c] = body.corners(t);
            let m = (a.coords + b.coords + c.coords) / 3.0;
            body.crossings(m.x, m.y, &mut all);
            if let Some(k) = all.iter().position(|c| c.triangle == t) {
                let seen = if all[k].up {
                    k + 1 == all.len()
                } else {
                    k == 0
                };
                *l = [1, u32::from(!seen)];
            }
        }
        if l[1] > 0 {
            hidden.push((t, area * f64::from(l[1]) / f64::from(l[0])));
        }
    }
    Survey {
        pitch,
        size,
        rays,
        hidden,
    }
}

/// A connected place of some faces.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Its area, mm².
    pub area: f64,
    /// Its middle, mm.
    pub at: Vector3<f64>,
    /// How far it reaches along the pull, mm.
    pub tall: f64,
    /// Its faces.
    pub triangles: Vec<u32>,
}

/// Faces (with their areas) that hang together, largest place first.
pub fn spots(body: &MeshBody, faces: &[(u32, f64)]) -> Vec<Spot> {
    let mut places = Groups::new(faces.len());
    let mut at_vertex: BTreeMap<u32, usize> = BTreeMap::new();
    for (k, (t, _)) in faces.iter().enumerate() {
        for v in body.triangles()[*t as usize] {
            places.join(k, *at_vertex.entry(v).or_insert(k));
        }
    }
    let mut out: Vec<Spot> = places
        .into_groups()
        .into_iter()
        .map(|place| {
            let (mut area, mut sum) = (0.0, Vector3::zeros());
            let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
            for &k in &place {
                let (t, own) = faces[k];
                let corners = body.corners(t);
                area += own;
                for p in corners {
                    sum += p.coords * (own / 3.0);
                    (low, high) = (low.min(p.z), high.max(p.z));
                }
            }
            Spot {
                area,
                at: sum / area,
                tall: high - low,
                triangles: place.iter().map(|&k| faces[k].0).collect(),
            }
        })
        .collect();
    out.sort_by(|a, b| b.area.total_cmp(&a.area));
    out
}
