#![doc = include_str!("../README.md")]

mod cover;

pub use cover::{
    Answer, Area, Bound, Candidate, Cap, Effort, Problem, ProblemError, Progress, Supply, Unmet, lower_bound,
    solve, solve_several,
};
