//! The flow at one moment: which cells take part, their pressures, flows and mobilities.
//!
//! Input: which cells are full, their temperature profiles, the drive. Output: flow through
//! every link, pressure of every full cell, flow and pressure at the inlet.
//! Does not advance time; the solution itself is in [`solve`].

use super::fill::{Drive, FillOptions, Melt};
use super::haul::Haul;
use super::heat::{self, Wall};
use super::mobility::{CellFlow, ShapeTable, Stream};
use super::multigrid::Multigrid;
use super::network::{FREE, LAYERS, Network, Place};
use super::pressure::System;

mod solve;

/// What the inlet sees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct InletState {
    /// Flow, m³/s.
    pub flow: f64,
    /// Pressure, Pa.
    pub pressure: f64,
}

#[cfg(test)]
thread_local! {
    /// Share of its flow that one link loses: for tests of the ledger.
    pub(super) static LEAK: std::cell::Cell<f64> = const { std::cell::Cell::new(0.0) };
}

/// Smallest pressure gradient that a mobility is computed for, Pa/m: stagnant corners.
const LEAST_GRADIENT: f64 = 1e3;

/// Coarse levels of a network, by the conductances of a melt that is the same everywhere.
fn coarse_levels(net: &Network) -> Multigrid {
    let links = net.links.iter().map(|l| {
        let [a, b] = [0, 1].map(|side| {
            let gap = net.cells[l.ends[side] as usize].half_gap;
            l.reach[side] / (l.area[side] * gap * gap)
        });
        (l.ends, 1.0 / (a + b))
    });
    Multigrid::new(places(net), links.collect())
}

/// Where each cell lies, counted in steps from cell to cell.
fn places(net: &Network) -> Vec<[i32; 3]> {
    let mut place = vec![None; net.cells.len()];
    let mut seen: Vec<usize> = Vec::with_capacity(place.len());
    for start in 0..place.len() {
        if place[start].is_some() {
            continue;
        }
        place[start] = Some([0; 3]);
        seen.push(start);
        let mut next = seen.len() - 1;
        while next < seen.len() {
            let i = seen[next];
            next += 1;
            let here = place[i].unwrap_or_default();
            for &(j, l) in net.near(i) {
                let side = usize::from(net.links[l as usize].ends[1] as usize == i);
                let way = net.toward(l as usize, side);
                let there = &mut place[j as usize];
                if there.is_none() {
                    *there = Some(std::array::from_fn(|a| here[a] + way[a].round() as i32));
                    seen.push(j as usize);
                }
            }
        }
    }
    place.into_iter().map(Option::unwrap_or_default).collect()
}

/// State of all cells and links during a fill.
#[derive(Debug)]
pub(crate) struct FlowState<'a> {
    /// The network.
    pub net: &'a Network,
    melt: &'a Melt,
    wall: &'a Wall,
    drive: &'a Drive,
    options: &'a FillOptions,
    /// Tables by shape.
    pub table: Vec<ShapeTable>,
    /// Which table a cell uses.
    pub table_of: Vec<u16>,
    /// Fill of a cell.
    pub filled: Vec<f64>,
    /// Layer temperatures, °C.
    pub temperature: Vec<[f64; LAYERS]>,
    /// Layer enthalpies above 0 °C, J/kg; and that of the mixing cup.
    pub enthalpy: Vec<[f64; LAYERS]>,
    pub mixed: Vec<f64>,
    /// What melt was carried where since the last heat step.
    pub haul: Haul,
    /// How the flow of a cell is shared among its layers, as of the last heat step.
    pub stream: Vec<Stream>,
    /// Flow law per cell.
    pub cell_flow: Vec<CellFlow>,
    /// ln of the pressure gradient.
    pub ln_l: Vec<f64>,
    /// ln of the mean speed.
    pub ln_u: Vec<f64>,
    ln_k: Vec<f64>,
    /// As of the round before, and how many rounds this flow has taken.
    ln_k_before: Vec<f64>,
    round: usize,
    k: Vec<f64>,
    /// Cell is in `full`.
    in_full: Vec<bool>,
    /// Full cells in the order they filled.
    pub full: Vec<u32>,
    /// Full cells by falling pressure.
    pub downstream: Vec<u32>,
    /// Cells being filled.
    pub front: Vec<u32>,
    /// Cell is in `front`.
    pub in_front: Vec<bool>,
    /// Cell holds trapped air and takes no more melt.
    pub closed: Vec<bool>,
    /// Air pressure ahead of the front per cell, Pa above the atmosphere.
    pub air: Vec<f64>,
    /// Full and front cells, ascending.
    wet: Vec<u32>,
    /// Links with melt on one side at least, ascending.
    active: Vec<u32>,
    is_active: Vec<bool>,
    /// Directions of each link, as its ends see them.
    slots: Vec<[u8; 2]>,
    /// Cell is in a cavity.
    in_cavity: Vec<bool>,
    /// Reach over area of each link's sides: the resistance of a mobility of 1, 1/m.
    resistance: Vec<[f64; 2]>,
    conductance: Vec<f64>,
    /// Links into closed-in air that pushes harder than the melt behind them.
    shut: Vec<bool>,
    /// Front cells with such a link.
    has_shut: Vec<bool>,
    /// Melt that flows into the cell stays there (front) or gets on (full cells).
    takes: Vec<bool>,
    pressure: Vec<f64>,
    flow: Vec<f64>,
    /// What the flow of a cell was corrected by at most to add up, m³/s.
    pub corrected: f64,
    /// Flow at the inlet, m³/s.
    pub inlet_flow: f64,
    /// The front counts as it lies; else every cell of it as half full, as it is on the whole.
    pub as_it_lies: bool,
    pressure_mode: bool,
    /// The inlet's pressure while the push is the limit, Pa.
    at_inlet: f64,
    system: System,
    slot_flow: Vec<[f64; 6]>,
    /// Sum of the areas of the links that are active, m², and 1 over it (0 where there is none).
    slot_area: Vec<[f64; 6]>,
    per_area: Vec<[f64; 6]>,
    /// Direction of each link from its first end, where an end sees it free; else empty.
    way: Vec<[f64; 3]>,
    /// Speed times volume of cells with free links: Σ flow · way to the face, m⁴/s.
    carried: Vec<[f64; 3]>,
    next_l: Vec<f64>,
    /// Picard and CG iterations so far.
    pub iterations: (usize, usize),
}

impl<'a> FlowState<'a> {
    /// An empty network with melt at the door.
    pub(crate) fn new(
        net: &'a Network,
        melt: &'a Melt,
        wall: &'a Wall,
        drive: &'a Drive,
        options: &'a FillOptions,
    ) -> Self {
        let n = net.cells.len();
        let mut table: Vec<ShapeTable> = Vec::new();
        let table_of = net
            .cells
            .iter()
            .map(|c| {
                // Shapes within 0.02 share a table.
                let shape = (c.shape * 50.0).round() / 50.0;
                let at = table.iter().position(|t| t.shape == shape);
                at.unwrap_or_else(|| {
                    table.push(ShapeTable::new(shape, &melt.rheology));
                    table.len() - 1
                }) as u16
            })
            .collect();
        let mut state = Self {
            net,
            melt,
            wall,
            drive,
            options,
            table,
            table_of,
            filled: vec![0.0; n],
            temperature: vec![[melt.temperature; LAYERS]; n],
            enthalpy: vec![[0.0; LAYERS]; n],
            mixed: vec![0.0; n],
            haul: Haul::new(net),
            stream: Vec::new(),
            cell_flow: vec![CellFlow::default(); n],
            ln_l: vec![f64::NAN; n],
            ln_u: vec![f64::NEG_INFINITY; n],
            ln_k: vec![0.0; n],
            ln_k_before: vec![0.0; n],
            round: 0,
            k: vec![0.0; n],
            in_full: vec![false; n],
            full: Vec::new(),
            downstream: Vec::new(),
            front: Vec::new(),
            in_front: vec![false; n],
            closed: vec![false; n],
            air: vec![0.0; n],
            wet: Vec::new(),
            active: Vec::new(),
            is_active: vec![false; net.links.len()],
            slots: net.links.iter().map(|l| l.slot).collect(),
            in_cavity: net
                .cells
                .iter()
                .map(|c| matches!(c.place, Place::Cavity(_)))
                .collect(),
            resistance: net
                .links
                .iter()
                .map(|l| [l.reach[0] / l.area[0], l.reach[1] / l.area[1]])
                .collect(),
            conductance: vec![0.0; net.links.len()],
            shut: vec![false; net.links.len()],
            has_shut: vec![false; n],
            takes: vec![false; n],
            corrected: 0.0,
            pressure: vec![0.0; n],
            flow: vec![0.0; net.links.len()],
            inlet_flow: 0.0,
            as_it_lies: false,
            pressure_mode: false,
            at_inlet: drive.pressure,
            system: System::new(net.links.iter().map(|l| l.ends), coarse_levels(net)),
            slot_flow: vec![[0.0; 6]; n],
            slot_area: vec![[0.0; 6]; n],
            per_area: vec![[0.0; 6]; n],
            way: Vec::new(),
            carried: Vec::new(),
            next_l: Vec::new(),
            iterations: (0, 0),
        };
        state.stream = (0..n)
            .map(|i| Stream::new(&state.table[state.table_of[i] as usize], &[1.0; LAYERS]))
            .collect();
        state.open(net.inlet.cell, net.inlet.slot, net.inlet.area);
        if net.links.iter().any(|l| l.slot.contains(&FREE)) {
            state.carried = vec![[0.0; 3]; n];
            let free = |l: usize| (0..2).find(|s| net.links[l].slot[*s] == FREE);
            let way = |l| match free(l) {
                Some(0) => net.toward(l, 0),
                Some(_) => net.toward(l, 1).map(|x| -x),
                None => [0.0; 3],
            };
            state.way = (0..net.links.len()).map(way).collect();
        }
        let start = (drive.pressure / 0.05).max(LEAST_GRADIENT).ln();
        state.wet(
            net.inlet.cell,
            start,
            melt.thermal.enthalpy(melt.temperature),
        );
        state
    }

    /// The melt reaches a cell with this enthalpy, J/kg: the cell joins the front.
    pub(crate) fn wet(&mut self, cell: u32, ln_l: f64, enthalpy: f64) {
        let i = cell as usize;
        if self.in_front[i] || self.in_full[i] || self.closed[i] {
            return;
        }
        self.in_front[i] = true;
        self.front.push(cell);
        self.temperature[i] = [self.melt.thermal.temperature(enthalpy); LAYERS];
        self.enthalpy[i] = [enthalpy; LAYERS];
        self.mixed[i] = enthalpy;
        self.ln_l[i] = ln_l;
        self.prepare(i);
        let table = &self.table[self.table_of[i] as usize];
        let (u, _) = self.cell_flow[i].ln_speed(&self.melt.rheology, table, ln_l);
        self.ln_u[i] = u;
        self.ln_k[i] = u - ln_l;
    }

    /// A cell is full: it becomes an unknown, its neighbours join the front.
    /// The caller takes it out of `front`.
    pub(crate) fn mark_full(&mut self, cell: u32) {
        let i = cell as usize;
        if std::mem::replace(&mut self.in_full[i], true) {
            return;
        }
        self.filled[i] = 1.0;
        self.in_front[i] = false;
        let net = self.net;
        let before = net.near(i).iter().map(|(j, _)| *j as usize);
        let before = before.filter(|j| self.in_full[*j]);
        let guess = before.fold(0.0_f64, |g, j| g.max(0.3 * self.system.x[j]));
        self.system.join(i, guess);
        self.full.push(cell);
        self.downstream.push(cell);
        for &(j, l) in net.near(i) {
            if !std::mem::replace(&mut self.is_active[l as usize], true) {
                let link = &net.links[l as usize];
                for side in 0..2 {
                    if link.slot[side] != FREE {
                        self.open(link.ends[side], link.slot[side], link.area[side]);
                    }
                }
            }
            let (ln_l, h) = (self.ln_l[i], self.mixed[i]);
            self.wet(j, ln_l, h);
        }
    }

    /// Melt can pass one more opening of a cell, m².
    fn open(&mut self, cell: u32, slot: u8, area: f64) {
        let (i, s) = (cell as usize, usize::from(slot));
        self.slot_area[i][s] += area;
        self.per_area[i][s] = 1.0 / self.slot_area[i][s];
    }

    /// Largest pressure at the inlet, Pa: where nothing flows.
    pub(crate) fn pressure_limit(&self) -> f64 {
        self.drive.pressure
    }

    /// Whether the push, not the flow, is at its limit.
    pub(crate) fn at_limit(&self) -> bool {
        self.pressure_mode
    }

    /// True when the cell is full.
    pub(crate) fn is_full(&self, cell: usize) -> bool {
        self.in_full[cell]
    }

    /// The pressure that a cell has in the flow: melt's, or that of the air ahead of the front.
    pub(crate) fn pressure_at(&self, cell: usize) -> f64 {
        if self.in_full[cell] {
            self.system.x[cell]
        } else {
            self.air[cell]
        }
    }

    /// Links with melt on one side at least.
    pub(crate) fn active_links(&self) -> &[u32] {
        &self.active
    }

    /// Takes a cell with trapped air out of the flow.
    pub(crate) fn close(&mut self, cell: usize) {
        self.closed[cell] = true;
        self.in_front[cell] = false;
        self.takes[cell] = false;
    }

    fn prepare(&mut self, i: usize) {
        let c = &self.net.cells[i];
        let table = &self.table[self.table_of[i] as usize];
        let t = &self.temperature[i];
        let surface = if self.options.isothermal {
            t[LAYERS - 1]
        } else {
            let thermal = &self.melt.thermal;
            heat::surface(thermal, self.wall, table, c.half_gap, t[LAYERS - 1])
        };
        self.cell_flow[i].prepare(&self.melt.rheology, table, c.half_gap, t, surface);
    }

    /// Prepares the flow laws of all wet cells after a heat step, keeping their gradient.
    pub(crate) fn prepare_all(&mut self) {
        self.arrange();
        for k in 0..self.wet.len() {
            let i = self.wet[k] as usize;
            self.prepare(i);
            let table = &self.table[self.table_of[i] as usize];
            let (u, _) = self.cell_flow[i].ln_speed(&self.melt.rheology, table, self.ln_l[i]);
            self.ln_u[i] = u;
            self.ln_k[i] = u - self.ln_l[i];
        }
    }

    /// Orders cells and links by their place in memory.
    fn arrange(&mut self) {
        let melt = (0..self.in_full.len()).filter(|&i| self.in_front[i] || self.in_full[i]);
        self.wet.clear();
        self.wet.extend(melt.map(|i| i as u32));
        let joined = self.is_active.iter().enumerate().filter(|l| *l.1);
        self.active.clear();
        self.active.extend(joined.map(|l| l.0 as u32));
    }

    /// The flow as it is carries melt for `step` seconds.
    pub(crate) fn carry(&mut self, step: f64) {
        self.haul.let_in += self.inlet_flow * step;
        for &l in &self.active {
            self.haul.pass(l as usize, self.flow[l as usize] * step);
        }
    }

    /// Flow through a link from its first end to its second, m³/s.
    pub(crate) fn flow_along(&self, link: usize) -> f64 {
        self.flow[link]
    }

    /// Flow into a cell through a link, m³/s.
    #[inline]
    pub(crate) fn flow_into(&self, cell: usize, link: usize) -> f64 {
        if self.net.ends(link)[1] == cell {
            self.flow[link]
        } else {
            -self.flow[link]
        }
    }

    /// Flow into a front cell, m³/s, ≥ 0.
    pub(crate) fn inflow(&self, cell: usize) -> f64 {
        let mut q = 0.0;
        if self.net.inlet.cell as usize == cell {
            q += self.inlet_flow;
        }
        for &(_, l) in self.net.near(cell) {
            q += self.flow_into(cell, l as usize).max(0.0);
        }
        q
    }

    /// Direction in which melt enters a cell: sum of the speeds through its faces, m/s.
    pub(crate) fn heading(&self, cell: usize) -> [f64; 3] {
        let mut v = [0.0; 3];
        let mut add = |slot: u8, speed: f64| {
            v[usize::from(slot / 2)] += if slot & 1 == 0 { speed } else { -speed };
        };
        let inlet = &self.net.inlet;
        if inlet.cell as usize == cell {
            add(inlet.slot, self.inlet_flow / inlet.area);
        }
        for &(_, l) in self.net.near(cell) {
            let q = self.flow_into(cell, l as usize).max(0.0);
            if q > 0.0 {
                let link = &self.net.links[l as usize];
                let side = usize::from(link.ends[1] as usize == cell);
                let toward = self.net.toward(l as usize, side);
                for (v, t) in v.iter_mut().zip(toward) {
                    *v -= q / link.area[side] * t;
                }
            }
        }
        v
    }

    /// Flow into all front cells, m³/s.
    pub(crate) fn front_inflow(&self) -> f64 {
        self.front.iter().map(|c| self.inflow(*c as usize)).sum()
    }

    /// Volume of melt in the network, m³.
    pub(crate) fn filled_volume(&self) -> f64 {
        let cells = self.net.volumes().iter().zip(&self.filled);
        cells.map(|(v, f)| v * f).sum()
    }

    /// Volume still empty that melt can get to, m³.
    pub(crate) fn room(&self) -> f64 {
        let cells = self.net.volumes().iter().zip(&self.filled);
        cells
            .zip(&self.closed)
            .filter(|c| !c.1)
            .map(|((v, f), _)| v * (1.0 - f))
            .sum()
    }

    /// Force that parts the mold, N.
    pub(crate) fn parting_force(&self) -> f64 {
        let cells = self.full.iter().map(|c| *c as usize);
        cells
            .map(|i| self.system.x[i].max(0.0) * self.net.cells[i].plan_area)
            .sum()
    }

    /// Pressure of a full cell, Pa (0 elsewhere).
    pub(crate) fn cell_pressure(&self, cell: usize) -> f64 {
        if self.in_full[cell] {
            self.system.x[cell].max(0.0)
        } else {
            0.0
        }
    }

    /// Pressure of every cell, Pa.
    pub(crate) fn cell_pressures(&self) -> Vec<f64> {
        (0..self.in_full.len())
            .map(|i| self.cell_pressure(i))
            .collect()
    }

    /// Frozen fraction of every cell that melt has reached.
    pub(crate) fn frozen(&self) -> Vec<f64> {
        (0..self.filled.len())
            .map(|i| {
                if self.filled[i] > 0.0 {
                    1.0 - self.cell_flow[i].flowing
                } else {
                    0.0
                }
            })
            .collect()
    }

    /// Orders `downstream` by falling pressure.
    fn sort_downstream(&mut self) {
        let x = &self.system.x;
        self.downstream.sort_by(|a, b| {
            let (pa, pb) = (x[*a as usize], x[*b as usize]);
            pb.total_cmp(&pa).then(a.cmp(b))
        });
    }
}
