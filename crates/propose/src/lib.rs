#![doc = include_str!("../README.md")]
//!
//! Method. Energies are linear in tap power, so the choice of places, models, aims and taps is a
//! covering problem on plain numbers (`loamline_design`), with a proven bound. Then:
//!
//! 1. `places`, `models`, `candidates`, `site`: where loudspeakers may go, which, and what each would give. Subwoofers
//!    come first (`bass`), by the coherent search, for areas that ask a bass level.
//! 2. Loudspeakers alike, as briefs wish unless they say otherwise: `guides` are lines along which rows may stand
//!    (`back_to_back` those between two areas, where two share a stake), `rows` what stands evenly on them, `mirror` over which
//!    lines an area and its ground are mirrored, `columns` whole rows of one model for an area, `alike` chooses one column for
//!    each area, `settle_rows` moves rows as rows on the full field. Or mixed: `choose`, the covering problem of single
//!    loudspeakers, and `refine`, positions, aims and taps one by one. Between the two, where rows do not meet the brief: one
//!    model for each area (`one_model`), each loudspeaker for itself. All at the working gains that suit the taps best, one for
//!    each programme (`gains`). That programmes keep apart, that what is mirrored has mirrored rows, and that loudspeakers of
//!    neighbouring areas do not crowd each other are wishes in it, each with a price.
//! 3. `attempt`: the order of choosing, settling, building and judging, with what may be done in all (`attempt/machine`);
//!    `least`, `loudest` and `run` make the offers, those beside the cheapest side by side, each with work of its own (`work`,
//!    `reporter`); `stands` says that nothing is missing.
//! 4. `wire`, `build`: channels and amplifiers, the routes by the routing engine, cable sizes by the solved lines,
//!    processing and gains by the tuning; for several choices, as what the ways of the cable cost shows only here.
//!    What that leaves to be mended within the brief (`avoidable`) is mended where it can be (`mend`).
//! 5. `spare`, `written`: what the brief is met without is left out; the price is the quotation of the job as the design
//!    would be written into it.
//! 6. `measure`: the finished job held against the brief by the engines that also serve `predict`, `lines` and
//!    `check`. Areas that miss are settled again, alone and on the levels that the built design showed point by point, then
//!    chosen again with a narrower band; of what cannot be met the nearest design comes, with what it does not
//!    meet (`unmet`) and changes that were tried (`failure`, `over_limits`, `changes`), of each kind the nearest that does (`farther`).
//!
//! Sites of many areas are designed district by district: `districts` says which areas belong together and shares the
//! neighbours' allowance out, `in_districts` designs each as a job of its own, and wires, routes and settles the whole once.
//!
//! The same brief, work and seed give the same answer on any number of cores: work is counted in steps, never by the
//! clock. What is proven and what is not: the bound holds for the candidates and points looked at, at the working
//! gains; the refinement and the routing are searches without a proof.

mod alike;
mod api;
mod attempt;
mod attempted;
mod avoidable;
mod back_to_back;
mod bass;
mod budget;
mod build;
mod candidates;
mod changes;
mod choose;
mod columns;
mod districts;
mod edits;
mod energies;
mod error;
#[cfg(test)]
mod exhaustive;
mod export;
mod failure;
mod farther;
mod gains;
mod grid;
mod guides;
mod in_districts;
mod least;
mod loudest;
mod make;
mod measure;
mod mend;
mod mirror;
mod models;
mod one_model;
mod outline;
mod over_limits;
mod pick;
mod places;
mod price;
mod refine;
mod reporter;
mod robust;
mod rows;
mod run;
mod settle_rows;
mod site;
mod spacing;
mod spare;
mod stands;
mod thumb_rule;
mod types;
mod unmet;
mod ways;
mod why;
mod wire;
mod work;
mod written;

pub use api::{
    Change, Constraint, Failure, Figures, OptionKind, Phase, Proposal, ProposeOptions, ProposeProgress,
    Proposed, ProposedArea, Reason, Replaced, UnmetWish, Watch,
};
pub use error::{BriefProblem, BriefProblems, ProposeError};
pub use export::{covering_problem, rows_problem};
pub use run::propose;
pub use thumb_rule::rule_of_thumb;
