#![doc = include_str!("../README.md")]
//!
//! Method (handbook chapter 10). Energies are linear in tap power, so the choice of places, models, aims and taps is a
//! covering problem on plain numbers (`loamline_design`), with a proven bound. Then:
//!
//! 1. `places`, `models`, `candidates`, `site`: where loudspeakers may go, which, and what each would give. Subwoofers
//!    come first (`bass`), by the coherent search, for areas that ask a bass level.
//! 2. `choose`: the covering problem at the working gains that suit the taps best, one for each programme (`gains`). That
//!    programmes keep apart is a wish in it, with a price.
//! 3. `refine`: positions, aims and taps on the full field, every path followed; then a cheaper choice among those.
//! 4. `wire`, `build`, `trim`: channels and amplifiers, the routes by the routing engine, cable sizes by the solved
//!    lines, processing by the tuning, gains so that areas lie on their levels; for several choices, as what the ways of
//!    the cable cost shows only here.
//! 5. `measure`: the finished job held against the brief by the engines that also serve `predict`, `lines` and
//!    `check`. What misses is tried again with a narrower band; what cannot be met is told by `failure`.
//!
//! The same brief, work and seed give the same answer on any number of cores: work is counted in steps, never by the
//! clock. What is proven and what is not: the bound holds for the candidates and points looked at, at the working
//! gains; the refinement and the routing are searches without a proof.

mod api;
mod attempt;
mod bass;
mod build;
mod candidates;
mod choose;
mod energies;
mod error;
mod export;
mod failure;
mod gains;
mod grid;
mod make;
mod measure;
mod models;
mod pick;
mod places;
mod price;
mod refine;
mod replaces;
mod reporter;
mod run;
mod site;
mod thumb_rule;
mod trim;
mod types;
mod wire;

pub use api::{
    Constraint, Failure, Figures, OptionKind, Phase, Proposal, ProposeOptions, ProposeProgress, Proposed,
    ProposedArea, Reason, Replaced, Watch,
};
pub use error::{BriefProblem, BriefProblems, ProposeError};
pub use export::covering_problem;
pub use run::propose;
pub use thumb_rule::rule_of_thumb;
