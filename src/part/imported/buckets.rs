//! Triangles, or other numbered things, sorted into cells: two passes, one to count and one to fill.
//!
//! Input: which cells each touches. Output: the things of each cell, rising.

/// Things by cell.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Buckets {
    /// Where each cell's things begin in `lists`, and the end.
    starts: Vec<u32>,
    lists: Vec<u32>,
}

impl Buckets {
    /// `touches(thing, with)` calls `with` for every cell of a thing.
    pub fn new(things: u32, cells: usize, touches: impl Fn(u32, &mut dyn FnMut(usize))) -> Self {
        let mut starts = vec![0u32; cells + 1];
        for t in 0..things {
            touches(t, &mut |k| starts[k + 1] += 1);
        }
        for k in 1..=cells {
            starts[k] += starts[k - 1];
        }
        let mut next = starts.clone();
        let mut lists = vec![0u32; starts[cells] as usize];
        for t in 0..things {
            touches(t, &mut |k| {
                lists[next[k] as usize] = t;
                next[k] += 1;
            });
        }
        Self { starts, lists }
    }

    /// The things of a cell.
    pub fn of(&self, cell: usize) -> &[u32] {
        &self.lists[self.starts[cell] as usize..self.starts[cell + 1] as usize]
    }

    /// The things of all cells, cell by cell.
    pub fn all(&self) -> &[u32] {
        &self.lists
    }
}
