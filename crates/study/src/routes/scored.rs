//! A solution held against another: its faults, then what it comes to.

use super::draw::{Drawn, draw};
use super::solution::Solution;
use crate::finding::Severity;
use crate::needs::installed_cost;
use crate::site_findings::site_findings;
use loamline_adapt::laid_runs;
use loamline_model::Job;

/// A solution with what it comes to.
pub(super) struct Scored {
    /// It.
    pub solution: Solution,
    /// Written into the job.
    pub drawn: Drawn,
    /// Errors and warnings.
    faults: (usize, usize),
    /// Everything that depends on the ways of the cable, in the job's currency.
    pub cost: f64,
}

impl Scored {
    /// Draws a solution and looks at it; `None` where it does not hold together.
    pub fn of(job: &Job, solution: Solution) -> Option<Self> {
        let drawn = draw(job, &solution);
        let laid = drawn.job.as_ref()?;
        let runs = laid_runs(laid);
        let found = site_findings(laid, &runs);
        let count = |s: Severity| found.iter().filter(|f| f.severity == s).count();
        let groups = solution.groups.iter().chain(&solution.trunks);
        let told = groups.flat_map(|g| &g.routed.findings).filter(|f| f.is_error()).count();
        let faults = (count(Severity::Error) + told, count(Severity::Warning));
        let cost = installed_cost(laid, &runs);
        Some(Self { solution, drawn, faults, cost })
    }

    /// The same of some lines, drawn in a job in which the others have no runs: to hold two solutions against each other that
    /// differ in these lines only.
    pub fn of_lines(job: &Job, solution: Solution, lines: &[&str]) -> Option<Self> {
        let part = Self::of(job, solution.only(lines))?;
        Some(Self { solution, ..part })
    }

    /// Whether it is to be preferred: fewer faults first, then the cost by more than what amounts are rounded to.
    pub fn is_better_than(&self, other: &Self) -> bool {
        self.faults < other.faults || (self.faults == other.faults && self.cost < other.cost - 0.005)
    }
}
