//! Which of n things belong together, pair by pair (union–find).
//!
//! Input: pairs. Output: the groups. A group is known by its lowest member.

use std::collections::BTreeMap;

/// Things 0 to n − 1 in groups; each alone at first.
#[derive(Debug, Clone)]
pub struct Groups(Vec<usize>);

impl Groups {
    /// `n` things, each in a group of its own.
    pub fn new(n: usize) -> Self {
        Self((0..n).collect())
    }

    /// The lowest member of a thing's group.
    pub fn find(&mut self, mut i: usize) -> usize {
        while self.0[i] != i {
            self.0[i] = self.0[self.0[i]];
            i = self.0[i];
        }
        i
    }

    /// Makes the groups of two things one.
    pub fn join(&mut self, i: usize, j: usize) {
        let (a, b) = (self.find(i), self.find(j));
        self.0[a.max(b)] = a.min(b);
    }

    /// The members of every group, each list rising; the groups by their lowest member.
    pub fn into_groups(mut self) -> Vec<Vec<usize>> {
        let mut out: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for i in 0..self.0.len() {
            out.entry(self.find(i)).or_default().push(i);
        }
        out.into_values().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_are_listed_by_their_lowest_member() {
        let mut groups = Groups::new(6);
        groups.join(5, 4);
        groups.join(4, 1);
        groups.join(3, 0);
        groups.join(1, 5);
        assert_eq!((groups.find(5), groups.find(3), groups.find(2)), (1, 0, 2));
        assert_eq!(groups.into_groups(), [vec![0, 3], vec![1, 4, 5], vec![2]]);
    }
}
