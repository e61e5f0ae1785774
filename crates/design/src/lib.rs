//! Proposes a design: places, models, aims and taps that meet the brief at least cost, with a proven bound.

mod cover;

pub use cover::{
    Answer, Area, Bound, Candidate, Cap, Demand, Effort, Problem, ProblemError, Progress, Supply, Unmet,
    lower_bound, solve, solve_several,
};
