//! A choice of candidates as it is answered, and which of two is better.

use super::problem::Area;
use super::state::State;
use serde::Serialize;

/// What stands in the way of a choice.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Unmet {
    /// Points outside the band beyond those that may be, by area.
    pub areas: Vec<usize>,
    /// Share by which each cap is overrun; 0 when met, and for wishes.
    pub caps: Vec<f64>,
    /// How many candidates too many are taken.
    pub too_many: usize,
}

/// A choice of candidates.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// Candidates taken, ascending.
    pub taken: Vec<usize>,
    /// Cost with amplification, in money.
    pub cost: f64,
    /// What wishes that are not met are worth, in money; no part of the cost.
    pub wished: f64,
    /// Whether everything is met.
    pub meets: bool,
    /// What is not.
    pub unmet: Unmet,
}

/// Whether the first of two is the better: one that meets everything, then the cheaper or the one that misses less.
pub(super) fn better(a: &Answer, b: &Answer) -> bool {
    let missed =
        |x: &Answer| x.unmet.areas.iter().sum::<usize>() as f64 + 10.0 * x.unmet.caps.iter().sum::<f64>();
    match (a.meets, b.meets) {
        (true, false) => true,
        (false, true) => false,
        (true, true) => a.cost + a.wished < b.cost + b.wished - 1e-9,
        (false, false) => missed(a) < missed(b) - 1e-12,
    }
}

/// The choice that a search stands at, with what it does not meet.
pub(super) fn answer(state: &State<'_>) -> Answer {
    let p = state.problem;
    let outside = |a: &Area| {
        let out = state.energy[a.points.clone()].iter().filter(|&&e| e < a.floor || e > a.ceiling).count();
        out.saturating_sub(a.may_miss)
    };
    // The tolerances match those of the misses: a billionth of a cap or of a band is rounding, not a fault.
    let slack =
        |a: &Area| Area { floor: a.floor * (1.0 - 1e-9), ceiling: a.ceiling * (1.0 + 1e-9), ..a.clone() };
    let unmet = Unmet {
        areas: p.areas.iter().map(|a| outside(&slack(a))).collect(),
        caps: state.overruns(),
        too_many: state.count.saturating_sub(p.at_most),
    };
    let meets =
        unmet.too_many == 0 && unmet.areas.iter().all(|&n| n == 0) && unmet.caps.iter().all(|&c| c <= 0.0);
    let mut taken: Vec<usize> = state.taken.iter().flatten().copied().collect();
    taken.sort_unstable();
    let cost = state.cost();
    Answer { taken, cost, wished: state.wished(), meets: meets && cost.is_finite(), unmet }
}
