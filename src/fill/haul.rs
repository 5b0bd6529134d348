//! What melt was carried where since heat was last computed.
//!
//! Input: the flows of the steps, what the front handed on. Output: volumes through every link, in
//! an order in which every cell comes after those that feed it. Knows no heat.

use super::network::Network;

/// Volumes since heat was last computed, m³.
#[derive(Debug)]
pub(crate) struct Haul {
    /// Through each link, from its first end to its second.
    through: Vec<f64>,
    /// Through the inlet.
    pub let_in: f64,
    /// What a front cell had no neighbour for, and what it got of that from others.
    pub gave: Vec<f64>,
    pub got: Vec<f64>,
    /// Melt in each cell when heat was last computed.
    pub held: Vec<f64>,
    /// Links into a cell that it still waits for.
    waits: Vec<u32>,
    order: Vec<u32>,
}

impl Haul {
    /// Nothing carried, nothing held.
    pub(crate) fn new(net: &Network) -> Self {
        let n = net.cells.len();
        Self {
            through: vec![0.0; net.links.len()],
            let_in: 0.0,
            gave: vec![0.0; n],
            got: vec![0.0; n],
            held: vec![0.0; n],
            waits: vec![0; n],
            order: Vec::with_capacity(n),
        }
    }

    /// A volume goes through a link from its first end to its second (or back, below 0).
    pub(crate) fn pass(&mut self, link: usize, volume: f64) {
        self.through[link] += volume;
    }

    /// A volume goes through a link out of one of its ends.
    pub(crate) fn pass_from(&mut self, net: &Network, cell: usize, link: usize, volume: f64) {
        let first = net.ends(link)[0] == cell;
        self.through[link] += if first { volume } else { -volume };
    }

    /// What came into a cell through a link; below 0: what went out.
    pub(crate) fn came_into(&self, net: &Network, cell: usize, link: usize) -> f64 {
        if net.ends(link)[1] == cell {
            self.through[link]
        } else {
            -self.through[link]
        }
    }

    /// Heat is computed: every cell holds what it holds now (share of its volume).
    pub(crate) fn settle(&mut self, net: &Network, filled: &[f64]) {
        self.through.fill(0.0);
        self.gave.fill(0.0);
        self.got.fill(0.0);
        self.let_in = 0.0;
        for ((held, v), f) in self.held.iter_mut().zip(net.volumes()).zip(filled) {
            *held = f * v;
        }
    }

    /// All cells, each after those that feed it. Flows of one moment run down the pressure; of
    /// several together some may run in a ring: that much is taken out of each link of the
    /// ring, which leaves what every cell gains as it is.
    pub(crate) fn order(&mut self, net: &Network) -> Vec<u32> {
        let n = net.cells.len();
        self.waits.fill(0);
        for (link, volume) in self.through.iter().enumerate() {
            if *volume != 0.0 {
                self.waits[net.ends(link)[usize::from(*volume > 0.0)]] += 1;
            }
        }
        let mut order = std::mem::take(&mut self.order);
        order.clear();
        order.extend((0..n as u32).filter(|i| self.waits[*i as usize] == 0));
        let (mut next, mut seeking) = (0, 0);
        while next < n {
            if next == order.len() {
                while self.waits[seeking] == 0 {
                    seeking += 1;
                }
                self.open_ring(net, seeking, &mut order);
                continue;
            }
            let i = order[next] as usize;
            next += 1;
            for &(j, l) in net.near(i) {
                if self.came_into(net, j as usize, l as usize) > 0.0 {
                    self.release(j, &mut order);
                }
            }
        }
        order
    }

    /// Gives the order's memory back.
    pub(crate) fn keep(&mut self, order: Vec<u32>) {
        self.order = order;
    }

    fn release(&mut self, cell: u32, order: &mut Vec<u32>) {
        let waits = &mut self.waits[cell as usize];
        *waits -= 1;
        if *waits == 0 {
            order.push(cell);
        }
    }

    /// Upstream from a cell that waits, only to cells that wait too, some cell comes again.
    fn open_ring(&mut self, net: &Network, from: usize, order: &mut Vec<u32>) {
        let mut way: Vec<(usize, usize)> = Vec::new();
        let mut at = from;
        let start = loop {
            let up = net.near(at).iter().find(|(j, l)| {
                self.waits[*j as usize] > 0 && self.came_into(net, at, *l as usize) > 0.0
            });
            // What waits has a feeder that waits.
            let Some(&(j, l)) = up else { return };
            way.push((at, l as usize));
            at = j as usize;
            if let Some(k) = way.iter().position(|w| w.0 == at) {
                break k;
            }
        };
        let ring = &way[start..];
        let volumes = ring.iter().map(|(cell, l)| self.came_into(net, *cell, *l));
        let least = volumes.fold(f64::INFINITY, f64::min);
        for &(cell, l) in ring {
            if self.came_into(net, cell, l) <= least {
                self.through[l] = 0.0;
                self.release(cell as u32, order);
            } else {
                let back = self.came_into(net, cell, l) - least;
                self.through[l] = self.through[l].signum() * back;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::{Cell, FREE, Inlet, Link, Place};

    #[test]
    fn a_ring_is_opened_and_every_cell_comes_after_its_feeders() {
        let cell = Cell {
            volume: 1.0,
            half_gap: 1.0,
            shape: 0.0,
            place: Place::Cavity(0),
            at: [0.0; 3],
            plan_area: 1.0,
            vented: true,
        };
        let ends = [[0, 1], [1, 2], [3, 2], [3, 1], [2, 4]];
        let links = ends.map(|ends| Link {
            ends,
            area: [1.0; 2],
            reach: [1.0; 2],
            slot: [FREE; 2],
        });
        let inlet = Inlet {
            cell: 0,
            area: 1.0,
            reach: 1.0,
            slot: 0,
        };
        let net = Network::new(vec![cell; 5], links.to_vec(), inlet).unwrap();
        let mut haul = Haul::new(&net);
        // 0 → 1 → 2 → 4 and 2 → 3 → 1: of the ring 1, 2, 3 as much as its least link carries.
        for (l, v) in [5.0, 7.0, -3.0, 2.0, 4.0].into_iter().enumerate() {
            haul.pass(l, v);
        }
        let gain = |h: &Haul| -> Vec<f64> {
            (0..5)
                .map(|i| {
                    net.near(i)
                        .iter()
                        .map(|(_, l)| h.came_into(&net, i, *l as usize))
                        .sum()
                })
                .collect()
        };
        let before = gain(&haul);
        let order = haul.order(&net);
        assert_eq!(gain(&haul), before);
        assert_eq!(haul.through, vec![5.0, 5.0, -1.0, 0.0, 4.0]);
        assert_eq!(order.len(), 5);
        let place = |c: u32| order.iter().position(|o| *o == c).unwrap();
        for (a, b) in [(0, 1), (1, 2), (2, 3), (2, 4)] {
            assert!(place(a) < place(b), "{order:?}");
        }
    }
}
