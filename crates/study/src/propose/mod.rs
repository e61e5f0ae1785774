//! A whole design from the brief: places, models, aims and taps; lines, amplifiers, ways of the cable, processing;
//! priced, checked by the real engines, given back as one edit.
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
mod export;
mod failure;
mod gains;
mod gives;
mod grid;
mod make;
mod measure;
mod models;
mod pick;
mod places;
mod price;
mod refine;
mod replaces;
mod site;
mod teller;
mod thumb;
mod trim;
mod wire;

pub use api::{
    AreaFigures, Constraint, Failure, Figures, OptionKind, Phase, Proposal, ProposeError, ProposeOptions,
    ProposeProgress, Proposed, Reason, Replaced, Watch,
};
pub use export::covering_problem;
pub(crate) use places::on_lawn_edge;
pub use thumb::rule_of_thumb;

use attempt::{Made, Outcome, Start, Wish};
use loamline_design::Effort;
use loamline_model::JobFile;
use make::{Maker, bare};
use pick::pick;
use replaces::say_what_is_replaced;
use teller::Teller;

/// Choices made for the least cost before giving up, after the first ones missed, and for each evener design.
const ATTEMPTS: (usize, usize) = (4, 2);
/// Between the seeds of choices settled one after another.
const FINALS_APART: u64 = 0x51F1;
/// Widths of the band that evener designs are made for, as parts of the brief's: first by settling the cheapest design
/// again for evenness alone, then by choices of their own. A part that cannot be met ends the list.
const TUNED: f64 = 0.6;
const EVENER: [f64; 2] = [0.75, 0.55];
/// Part of the effort that goes into each evener choice: the working gain is known by then.
const EVENER_EFFORT: f64 = 0.5;

/// Designs that meet the brief of a job: everything that is not pinned is proposed anew. See the module's head.
///
/// Costs about `work_s` for each design (four when an option other than the least cost is wanted); several times that
/// when the brief cannot be met and the nearest that can is looked for.
///
/// # Errors
/// [`ProposeError`] when the brief lacks something, or the watcher ended it. A brief that cannot be met is no error:
/// the answer then says why.
pub fn propose(file: &JobFile, options: &ProposeOptions, watch: Watch<'_>) -> Result<Proposal, ProposeError> {
    let teller = Teller::new(watch);
    let proposal = run(file, options, &teller)?;
    match proposal {
        Ran::Done(p) => {
            teller.tell(|t| {
                t.phase = Phase::Done;
                t.done = 1.0;
            });
            Ok(*p)
        }
        Ran::Unmet { proposal, maker_outcome } => {
            teller.tell(|t| t.phase = Phase::Relaxing);
            let failure = failure::explain(file, options, &teller, *maker_outcome)?;
            teller.tell(|t| {
                t.phase = Phase::Done;
                t.done = 1.0;
            });
            Ok(Proposal { failure: Some(failure), ..*proposal })
        }
    }
}

/// What came of one brief.
enum Ran {
    Done(Box<Proposal>),
    Unmet { proposal: Box<Proposal>, maker_outcome: Box<failure::Unmet> },
}

fn run(file: &JobFile, options: &ProposeOptions, teller: &Teller<'_>) -> Result<Ran, ProposeError> {
    let only_least = options.wanted.iter().all(|k| *k == OptionKind::LeastCost);
    let even = options.wanted.iter().all(|k| *k == OptionKind::MostEven) && !options.wanted.is_empty();
    let (bare, clear) = bare(file).map_err(ProposeError::Brief)?;
    let maker = Maker::new(&bare, clear, even).map_err(ProposeError::Brief)?;
    let mut proposal = Proposal {
        currency: file.job().document().about.currency.clone(),
        options: Vec::new(),
        failure: None,
        places: maker.spots.len(),
        candidates: maker.pool.poses.iter().map(|p| maker.site.models[p.model].taps_w.len()).sum(),
        bound: 0.0,
    };
    let (least, bound) = least_cost(&maker, options, teller)?;
    proposal.bound = bound;
    let budget = budget(file);
    let unmet = match least {
        Outcome::Unmet { choice, missed } => failure::Unmet::of(&maker, *choice, missed, None),
        Outcome::Met(m) if budget.is_some_and(|b| m.figures.price > b) => {
            failure::Unmet::budget(&maker, m.figures.price)
        }
        Outcome::Met(least) => {
            let mut made = vec![*least];
            if !only_least {
                evener(&maker, options, &mut made, teller)?;
            }
            proposal.options =
                pick(&options.wanted, made, budget).map_err(|e| ProposeError::Brief(vec![e]))?;
            for option in &mut proposal.options {
                say_what_is_replaced(file, option).map_err(|e| ProposeError::Brief(vec![e]))?;
            }
            return Ok(Ran::Done(Box::new(proposal)));
        }
    };
    Ok(Ran::Unmet { proposal: Box::new(proposal), maker_outcome: Box::new(unmet) })
}

/// The cheapest design found, and the bound.
fn least_cost(
    maker: &Maker<'_>,
    options: &ProposeOptions,
    teller: &Teller<'_>,
) -> Result<(Outcome, f64), ProposeError> {
    let mut found: Option<Outcome> = None;
    let mut proven = 0.0;
    // More work means more tries, each with a seed of its own and of a few choices; the cheapest design stands.
    for k in 0..maker.tries(options) {
        let effort = Effort { seed: options.seed.wrapping_add(k), ..maker.effort(options) };
        teller.tell(|t| {
            t.phase = Phase::Choosing;
            t.option = Some(OptionKind::LeastCost);
        });
        let band = maker.band(1.0);
        let chosen = maker.choose((&band, &maker.fixed), (effort, None), teller, k == 0);
        let (choices, bound) = chosen.map_err(|e| ProposeError::Brief(vec![e]))?;
        proven = bound.unwrap_or(proven);
        let mut wish = Wish {
            kind: OptionKind::LeastCost,
            part: 1.0,
            effort,
            gains: None,
            start: Start::Nothing,
            missed: None,
            attempts: 1,
            below: None,
            first: found.is_none(),
        };
        for (i, choice) in maker.finals(choices, options).into_iter().enumerate() {
            wish.gains = Some(choice.gains.clone());
            wish.start = Start::Choice(choice);
            wish.effort.seed = effort.seed.wrapping_add(i as u64 * FINALS_APART);
            found = Some(better(found, attempt(maker, &wish, teller)?));
            wish.first = false;
            wish.below = found.as_ref().and_then(Outcome::price);
        }
        // None is as good as it was chosen to be: narrower, where they missed.
        if let Some(Outcome::Unmet { choice, missed: Some(missed) }) = &found
            && choice.meets
        {
            let missed = missed.clone();
            let wish =
                Wish { start: Start::Nothing, missed: Some(&missed), attempts: ATTEMPTS.0, effort, ..wish };
            found = Some(better(found, attempt(maker, &wish, teller)?));
        }
    }
    let found = found.ok_or_else(|| ProposeError::Brief(vec!["Nothing was tried.".into()]))?;
    Ok((found, proven))
}

/// Adds evener designs to the cheapest.
fn evener(
    maker: &Maker<'_>,
    options: &ProposeOptions,
    made: &mut Vec<Made>,
    teller: &Teller<'_>,
) -> Result<(), ProposeError> {
    let mut effort = maker.effort(options);
    effort.draws = (EVENER_EFFORT * effort.draws as f64) as usize;
    let parts = std::iter::once((TUNED, true)).chain(EVENER.map(|p| (p, false)));
    let gains = made.first().map(|m| m.choice.gains.clone());
    for (k, (part, tuned)) in parts.enumerate() {
        let wish = Wish {
            kind: if part > EVENER[1] { OptionKind::Balanced } else { OptionKind::MostEven },
            part,
            effort,
            gains: gains.clone(),
            missed: None,
            below: None,
            start: made.first().filter(|_| tuned).map_or(Start::Nothing, Start::Made),
            attempts: if tuned { 1 } else { ATTEMPTS.1 },
            first: false,
        };
        if let Outcome::Met(one) = attempt(maker, &wish, teller)? {
            made.push(*one);
        } else if !tuned {
            // Narrower still would fail too.
            break;
        }
        teller.tell(|t| t.done = (k + 2) as f64 / (EVENER.len() + 2) as f64);
    }
    Ok(())
}

fn attempt(maker: &Maker<'_>, wish: &Wish<'_>, teller: &Teller<'_>) -> Result<Outcome, ProposeError> {
    let made = maker.attempt(wish, teller).map_err(|e| ProposeError::Brief(vec![e]))?;
    if teller.stopped() { Err(ProposeError::Cancelled) } else { Ok(made) }
}

/// Seconds' work of one try on a usual garden.
pub(crate) const TRY_S: f64 = 5.0;

/// The better of two outcomes: one that meets the brief before one that does not, then the cheaper.
fn better(before: Option<Outcome>, next: Outcome) -> Outcome {
    match (before, next) {
        (Some(Outcome::Met(a)), Outcome::Met(b)) if b.figures.price < a.figures.price => Outcome::Met(b),
        (Some(Outcome::Unmet { .. }) | None, next @ Outcome::Met(_)) | (None, next) => next,
        (Some(before), _) => before,
    }
}

/// The budget of a job, tax included.
fn budget(file: &JobFile) -> Option<f64> {
    use rust_decimal::prelude::ToPrimitive as _;
    file.job().document().brief.budget.and_then(|b| b.to_f64())
}
