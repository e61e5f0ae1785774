//! The multipliers of the Lagrangian: a price on each row of the problem.

use super::problem::Problem;

/// Prices on the rows; 0 or more.
#[derive(Debug, Clone)]
pub(super) struct Multipliers {
    /// By point.
    pub floor: Vec<f64>,
    /// By point.
    pub ceiling: Vec<f64>,
    pub caps: Vec<f64>,
    pub count: f64,
}

impl Multipliers {
    /// Nothing has a price.
    pub fn none(problem: &Problem) -> Self {
        let n = problem.points();
        Self { floor: vec![0.0; n], ceiling: vec![0.0; n], caps: vec![0.0; problem.caps.len()], count: 0.0 }
    }

    pub fn moved(&self, along: &Self, by: f64) -> Self {
        let v = |a: &[f64], d: &[f64]| a.iter().zip(d).map(|(a, d)| (a + by * d).max(0.0)).collect();
        Self {
            floor: v(&self.floor, &along.floor),
            ceiling: v(&self.ceiling, &along.ceiling),
            caps: v(&self.caps, &along.caps),
            count: (self.count + by * along.count).max(0.0),
        }
    }

    pub fn square(&self) -> f64 {
        let s = |v: &[f64]| v.iter().map(|x| x * x).sum::<f64>();
        s(&self.floor) + s(&self.ceiling) + s(&self.caps) + self.count * self.count
    }
}
