//! Which runs of a net are priced: those between all vertices, or those that a line could have.
//!
//! Where every loudspeaker has its line, no run leads from one line to another's loudspeakers. A search from a place then ends
//! once the others of its line are reached, and what it costs does not grow with the site.

use super::problem::{LineProblem, index};
use crate::ground::Stand;

/// Runs to be priced.
pub(super) enum Wanted {
    /// Between all vertices.
    All,
    /// Between the vertices of each part: vertices ascending, every vertex in one part.
    Parts(Vec<Vec<usize>>),
}

impl Wanted {
    /// Of a problem: lines that no loudspeaker could change between are parts of their own.
    pub fn of_lines(problem: &LineProblem) -> Self {
        let (m, n) = (problem.feeds.len(), problem.terminals.len());
        let index = index(problem);
        let mut joined = Joined::new(m + n);
        for (t, terminal) in (m..).zip(&problem.terminals) {
            match terminal.line.as_ref().and_then(|line| index.get(line)) {
                Some(&feed) => joined.join(feed, t),
                None => (0..m).for_each(|feed| joined.join(feed, t)),
            }
        }
        for run in &problem.fixed {
            if let (Some(&a), Some(&b)) = (index.get(&run.from), index.get(&run.to)) {
                joined.join(a, b);
            }
        }
        Self::Parts(joined.parts())
    }

    /// Vertices that prices from a vertex are asked of. The way back costs the same but where an end is indoors: only what
    /// comes from inside may pass the building.
    pub fn reached_from(&self, vertex: usize, stands: &[Stand]) -> Vec<usize> {
        match self {
            Self::All => (0..stands.len()).filter(|&other| other != vertex).collect(),
            Self::Parts(parts) => {
                let indoors = stands[vertex].inside.is_some();
                let part = parts.iter().find(|part| part.binary_search(&vertex).is_ok());
                let others = part.into_iter().flatten().copied();
                others.filter(|&other| other > vertex || (indoors && other != vertex)).collect()
            }
        }
    }
}

/// Numbers that are joined into sets.
pub(super) struct Joined(Vec<usize>);

impl Joined {
    /// So many, each alone.
    pub fn new(count: usize) -> Self {
        Self((0..count).collect())
    }

    /// The least number of a set.
    pub fn first(&self, mut number: usize) -> usize {
        while self.0[number] != number {
            number = self.0[number];
        }
        number
    }

    /// Makes one set of those of two numbers.
    pub fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.first(a), self.first(b));
        self.0[a.max(b)] = a.min(b);
    }

    /// The sets, each ascending, in the order of their least numbers.
    pub fn parts(&self) -> Vec<Vec<usize>> {
        let mut parts: Vec<Vec<usize>> = vec![Vec::new(); self.0.len()];
        (0..self.0.len()).for_each(|number| parts[self.first(number)].push(number));
        parts.retain(|part| !part.is_empty());
        parts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_joined_by_way_of_others_is_one_set() {
        let mut joined = Joined::new(6);
        joined.join(4, 2);
        joined.join(5, 1);
        joined.join(2, 5);
        assert_eq!(joined.parts(), [vec![0], vec![1, 2, 4, 5], vec![3]]);
    }
}
