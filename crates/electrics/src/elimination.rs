//! The order in which joints are eliminated, found once per layout.
//!
//! Star-mesh transformation: a joint k with branches y_kj and admittance to ground g_k is replaced, with
//! S = g_k + sum y_kj, by g_j += y_kj g_k / S and y_ij += y_ik y_kj / S. This is Gaussian elimination of the nodal
//! matrix written without subtractions (the diagonal is kept as its row sum), so a milliohm of cable before a kilohm
//! of load loses no digits. Leaves go first, then the joint with the fewest branches (minimum degree, ties by index):
//! on a tree no branch is ever added and the work is linear; a mesh fills in only where its loops are.

use std::collections::BTreeSet;

/// One joint's turn.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Step {
    /// The joint eliminated.
    pub(crate) node: usize,
    /// Its branches: `neighbours[first..first + count]`.
    pub(crate) first: usize,
    /// Number of branches.
    pub(crate) count: usize,
    /// Its fill: the next `count (count - 1) / 2` entries of `fill`, pairs (0,1), (0,2), (1,2), (0,3) ...
    pub(crate) first_fill: usize,
}

/// A complete plan with its root left over.
#[derive(Debug, Clone)]
pub(crate) struct Elimination {
    pub(crate) steps: Vec<Step>,
    /// (neighbour, branch slot).
    pub(crate) neighbours: Vec<(usize, usize)>,
    /// Branch slots that receive y_ik y_kj / S.
    pub(crate) fill: Vec<usize>,
    /// Number of branch slots, given ones first.
    pub(crate) slots: usize,
}

impl Elimination {
    /// Plans the elimination of all joints but `root` for branches between joints (`ends[slot]`, no two alike and
    /// none from a joint to itself). The graph must hang together.
    pub(crate) fn plan(nodes: usize, root: usize, ends: &[(usize, usize)]) -> Self {
        let mut adjacent: Vec<Vec<(usize, usize)>> = vec![Vec::new(); nodes];
        for (slot, &(a, b)) in ends.iter().enumerate() {
            adjacent[a].push((b, slot));
            adjacent[b].push((a, slot));
        }
        let mut plan = Self {
            steps: Vec::with_capacity(nodes.saturating_sub(1)),
            neighbours: Vec::with_capacity(ends.len()),
            fill: Vec::new(),
            slots: ends.len(),
        };
        let mut gone = vec![false; nodes];
        plan.peel_leaves(root, &adjacent, &mut gone);
        plan.eliminate_core(root, &mut adjacent, &gone);
        plan
    }

    /// Takes joints with one branch left, again and again; linear in joints.
    fn peel_leaves(&mut self, root: usize, adjacent: &[Vec<(usize, usize)>], gone: &mut [bool]) {
        let mut degree: Vec<usize> = adjacent.iter().map(Vec::len).collect();
        let mut leaves: Vec<usize> = (0..adjacent.len()).filter(|&k| k != root && degree[k] == 1).collect();
        while let Some(node) = leaves.pop() {
            gone[node] = true;
            let first = self.neighbours.len();
            if let Some(&(next, slot)) = adjacent[node].iter().find(|(next, _)| !gone[*next]) {
                self.neighbours.push((next, slot));
                degree[next] -= 1;
                if next != root && degree[next] == 1 {
                    leaves.push(next);
                }
            }
            self.steps.push(Step { node, first, count: 1, first_fill: self.fill.len() });
        }
    }

    fn eliminate_core(&mut self, root: usize, adjacent: &mut [Vec<(usize, usize)>], gone: &[bool]) {
        let mut queue = BTreeSet::new();
        for node in (0..adjacent.len()).filter(|&node| !gone[node]) {
            adjacent[node].retain(|(next, _)| !gone[*next]);
            if node != root {
                queue.insert((adjacent[node].len(), node));
            }
        }
        while let Some((_, node)) = queue.pop_first() {
            let around = std::mem::take(&mut adjacent[node]);
            let (first, first_fill) = (self.neighbours.len(), self.fill.len());
            for &(a, _) in &around {
                queue.remove(&(adjacent[a].len(), a));
                adjacent[a].retain(|(next, _)| *next != node);
            }
            for (j, &(b, _)) in around.iter().enumerate() {
                for &(a, _) in &around[..j] {
                    let slot = adjacent[a].iter().find(|(next, _)| *next == b).map(|&(_, slot)| slot);
                    let slot = slot.unwrap_or_else(|| {
                        let slot = self.slots;
                        self.slots += 1;
                        adjacent[a].push((b, slot));
                        adjacent[b].push((a, slot));
                        slot
                    });
                    self.fill.push(slot);
                }
            }
            for &(a, _) in around.iter().filter(|(a, _)| *a != root) {
                queue.insert((adjacent[a].len(), a));
            }
            self.steps.push(Step { node, first, count: around.len(), first_fill });
            self.neighbours.extend(around);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tree_fills_nothing_in() {
        let ends: Vec<_> = (1..500).map(|k: usize| ((k * 7919) % k, k)).collect();
        let plan = Elimination::plan(500, 0, &ends);
        assert_eq!(plan.steps.len(), 499);
        assert!(plan.fill.is_empty() && plan.slots == 499 && plan.steps.iter().all(|step| step.count == 1));
    }

    #[test]
    fn a_ring_fills_in_little() {
        let ends: Vec<_> = (0..100).map(|k| (k, (k + 1) % 100)).collect();
        let plan = Elimination::plan(100, 0, &ends);
        assert_eq!(plan.steps.len(), 99);
        assert!(plan.slots <= 200);
    }
}
