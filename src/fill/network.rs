//! The melt's way as cells joined by links: what the fill computation runs on.
//!
//! Input: cells and links from a plan and its channels, or built by
//! hand. Output: a [`Network`] with its neighbour lists. SI units except `at` (mm).
//! Does not know parts or plates.

/// Layers over the half gap, graded towards the wall.
pub const LAYERS: usize = 10;

/// Where a cell lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Place {
    /// Sprue.
    Sprue,
    /// Runner.
    Runner,
    /// Gate.
    Gate,
    /// Cavity, by its index.
    Cavity(u16),
}

/// A piece of the flow way.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// Volume, m³.
    pub volume: f64,
    /// Half of the local gap (slit) or the radius (round), m.
    pub half_gap: f64,
    /// 0 = slit, 1 = round, between for compact ducts.
    pub shape: f64,
    /// Where it lies.
    pub place: Place,
    /// Centre, mold coordinates, mm.
    pub at: [f64; 3],
    /// Area seen along the mold's opening direction, m² (separating force).
    pub plan_area: f64,
    /// Air can leave here (parting line at the edge, or a vent).
    pub vented: bool,
}

/// An opening between two cells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Link {
    /// The two cells.
    pub ends: [u32; 2],
    /// Flow area on either side, m² (the same for a plain face).
    pub area: [f64; 2],
    /// Distance from cell centre to the face, m.
    pub reach: [f64; 2],
    /// Direction as seen by each end: 2·axis + (0 = low side, 1 = high side); axis 0 to 2. Or
    /// [`FREE`].
    pub slot: [u8; 2],
}

/// A link that its end sees in the direction of the other cell: for cells of any shape.
pub const FREE: u8 = 6;

/// Where the melt comes in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inlet {
    /// First cell.
    pub cell: u32,
    /// Flow area, m².
    pub area: f64,
    /// Distance from the opening to the cell's centre, m.
    pub reach: f64,
    /// Direction as in [`Link::slot`].
    pub slot: u8,
}

/// Cells, links and the way in.
#[derive(Debug, Clone, PartialEq)]
pub struct Network {
    /// The cells.
    pub cells: Vec<Cell>,
    /// The links.
    pub links: Vec<Link>,
    /// Where the melt comes in.
    pub inlet: Inlet,
    /// What is asked for most, close together: the cells of each link, the volume of each cell.
    ends: Vec<[u32; 2]>,
    volumes: Vec<f64>,
    starts: Vec<u32>,
    near: Vec<(u32, u32)>,
}

/// Why cells and links make no network.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NetworkError {
    /// Nothing to fill.
    #[error("the flow way has no cells: the cavity has no volume")]
    Empty,
    /// A number is not usable.
    #[error("cell {0} of the flow way has no usable volume, gap or shape")]
    BadCell(usize),
    /// A link is not usable.
    #[error("link {0} of the flow way has no usable area, reach or ends")]
    BadLink(usize),
}

impl Network {
    /// Checks every number and builds the neighbour lists.
    pub fn new(cells: Vec<Cell>, links: Vec<Link>, inlet: Inlet) -> Result<Self, NetworkError> {
        let n = cells.len();
        let good = |x: f64| x.is_finite() && x > 0.0;
        if n == 0 || inlet.cell as usize >= n || !good(inlet.area) || !good(inlet.reach) {
            return Err(NetworkError::Empty);
        }
        for (i, c) in cells.iter().enumerate() {
            if !good(c.volume) || !good(c.half_gap) || !(0.0..=1.0).contains(&c.shape) {
                return Err(NetworkError::BadCell(i));
            }
        }
        let mut starts = vec![0u32; n + 1];
        for (i, l) in links.iter().enumerate() {
            let ends_ok = l.ends[0] != l.ends[1] && l.ends.iter().all(|e| (*e as usize) < n);
            let numbers_ok = l.area.iter().chain(&l.reach).all(|x| good(*x));
            if !ends_ok || !numbers_ok || l.slot.iter().any(|s| *s > FREE) {
                return Err(NetworkError::BadLink(i));
            }
            starts[l.ends[0] as usize + 1] += 1;
            starts[l.ends[1] as usize + 1] += 1;
        }
        for i in 0..n {
            starts[i + 1] += starts[i];
        }
        let mut next = starts.clone();
        let mut near = vec![(0u32, 0u32); 2 * links.len()];
        for (k, l) in links.iter().enumerate() {
            for side in 0..2 {
                let from = l.ends[side] as usize;
                near[next[from] as usize] = (l.ends[1 - side], k as u32);
                next[from] += 1;
            }
        }
        Ok(Self {
            ends: links.iter().map(|l| l.ends).collect(),
            volumes: cells.iter().map(|c| c.volume).collect(),
            cells,
            links,
            inlet,
            starts,
            near,
        })
    }

    /// The two cells of a link.
    #[inline]
    pub(crate) fn ends(&self, link: usize) -> [usize; 2] {
        self.ends[link].map(|e| e as usize)
    }

    /// Volume of each cell, m³.
    pub(crate) fn volumes(&self) -> &[f64] {
        &self.volumes
    }

    /// Direction in which an end of a link sees it (unit length, towards the other cell): along
    /// the end's own axes, or along the mold's when the slot is [`FREE`].
    pub fn toward(&self, link: usize, side: usize) -> [f64; 3] {
        let l = &self.links[link];
        let slot = l.slot[side];
        let mut way = [0.0; 3];
        if slot == FREE {
            let [from, to] = [side, 1 - side].map(|s| self.cells[l.ends[s] as usize].at);
            let d: [f64; 3] = std::array::from_fn(|a| to[a] - from[a]);
            let length = d.iter().map(|x| x * x).sum::<f64>().sqrt().max(1e-12);
            way = d.map(|x| x / length);
        } else {
            way[usize::from(slot / 2)] = if slot & 1 == 1 { 1.0 } else { -1.0 };
        }
        way
    }

    /// Neighbours of a cell: (cell, link), in the order the links were given.
    pub fn near(&self, cell: usize) -> &[(u32, u32)] {
        &self.near[self.starts[cell] as usize..self.starts[cell + 1] as usize]
    }

    /// Total volume, m³.
    pub fn volume(&self) -> f64 {
        self.cells.iter().map(|c| c.volume).sum()
    }

    /// Volume of the cavities alone, m³.
    pub fn cavity_volume(&self) -> f64 {
        self.cells
            .iter()
            .filter(|c| matches!(c.place, Place::Cavity(_)))
            .map(|c| c.volume)
            .sum()
    }

    /// Area seen along the opening direction, m².
    pub fn plan_area(&self) -> f64 {
        self.cells.iter().map(|c| c.plan_area).sum()
    }

    /// Cells that melt from the inlet can get to, nearest first (counted in links).
    pub fn reached(&self) -> Vec<u32> {
        let mut seen = vec![false; self.cells.len()];
        let mut reached = vec![self.inlet.cell];
        seen[self.inlet.cell as usize] = true;
        let mut next = 0;
        while next < reached.len() {
            let i = reached[next] as usize;
            next += 1;
            for &(j, _) in self.near(i) {
                if !std::mem::replace(&mut seen[j as usize], true) {
                    reached.push(j);
                }
            }
        }
        reached
    }

    /// These cells alone and the links between them, numbered in the order given: a fill is
    /// computed fastest in that of [`Network::reached`], because what the melt wets together then
    /// lies together in memory. The inlet's cell must be among them, and none twice.
    ///
    /// # Errors
    /// The inlet's cell is missing.
    pub fn of(&self, cells: &[u32]) -> Result<Self, NetworkError> {
        let mut new = vec![None; self.cells.len()];
        for (k, i) in cells.iter().enumerate() {
            new[*i as usize] = Some(k as u32);
        }
        let mut links: Vec<Link> = self
            .links
            .iter()
            .filter_map(|l| {
                let [a, b] = l.ends.map(|e| new[e as usize]);
                Some(Link {
                    ends: [a?, b?],
                    ..*l
                })
            })
            .collect();
        links.sort_by_key(|l| (l.ends[0].max(l.ends[1]), l.ends[0].min(l.ends[1])));
        let cell = new[self.inlet.cell as usize].ok_or(NetworkError::Empty)?;
        let cells = cells.iter().map(|i| self.cells[*i as usize].clone());
        Self::new(cells.collect(), links, Inlet { cell, ..self.inlet })
    }
}

/// A straight duct of equal cells, the first at the inlet: for checks and for feed pieces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Duct {
    /// Length, m.
    pub length: f64,
    /// Flow area, m².
    pub area: f64,
    /// Half gap or radius, m.
    pub half_gap: f64,
    /// 0 slit, 1 round.
    pub shape: f64,
    /// Number of cells.
    pub cells: usize,
}

impl Duct {
    /// The duct as a network of cavity cells along x.
    pub fn network(self) -> Result<Network, NetworkError> {
        let dx = self.length / self.cells.max(1) as f64;
        let cells = (0..self.cells)
            .map(|i| Cell {
                volume: self.area * dx,
                half_gap: self.half_gap,
                shape: self.shape,
                place: Place::Cavity(0),
                at: [(i as f64 + 0.5) * dx * 1e3, 0.0, 0.0],
                plan_area: self.area / (2.0 * self.half_gap) * dx,
                vented: i + 1 == self.cells,
            })
            .collect();
        let links = (1..self.cells)
            .map(|i| Link {
                ends: [i as u32 - 1, i as u32],
                area: [self.area; 2],
                reach: [0.5 * dx; 2],
                slot: [1, 0],
            })
            .collect();
        let inlet = Inlet {
            cell: 0,
            area: self.area,
            reach: 0.5 * dx,
            slot: 0,
        };
        Network::new(cells, links, inlet)
    }
}
