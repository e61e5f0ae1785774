//! Options for a brief: the cheapest design, evener ones, or what stands in the way.

use crate::api::{OptionKind, Phase, Proposal, ProposeOptions, Watch};
use crate::attempt::{Made, Outcome, Start, Wish};
use crate::build::without_unpinned;
use crate::error::{BriefProblem, ProposeError};
use crate::failure;
use crate::make::Maker;
use crate::pick::pick;
use crate::replaces::say_what_is_replaced;
use crate::reporter::Reporter;
use loamline_design::Effort;
use loamline_model::JobFile;

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
    let reporter = Reporter::new(watch);
    let proposal = run(file, options, &reporter)?;
    match proposal {
        Ran::Done(p) => {
            reporter.tell(|t| {
                t.phase = Phase::Done;
                t.done = 1.0;
            });
            Ok(*p)
        }
        Ran::Unmet { proposal, maker_outcome } => {
            reporter.tell(|t| t.phase = Phase::Relaxing);
            let failure = failure::explain(file, options, &reporter, *maker_outcome, &|changed, quiet| {
                Ok(matches!(run(changed, quiet, &reporter)?, Ran::Done(_)))
            })?;
            reporter.tell(|t| {
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

fn run(file: &JobFile, options: &ProposeOptions, reporter: &Reporter<'_>) -> Result<Ran, ProposeError> {
    let only_least = options.wanted.iter().all(|k| *k == OptionKind::LeastCost);
    let even = options.wanted.iter().all(|k| *k == OptionKind::MostEven) && !options.wanted.is_empty();
    let (pinned_only, clear) = without_unpinned(file)?;
    let maker = Maker::new(&pinned_only, clear, even)?;
    let mut proposal = Proposal {
        currency: file.job().document().about.currency.clone(),
        options: Vec::new(),
        failure: None,
        places: maker.spots.len(),
        candidates: maker.pool.poses.iter().map(|p| maker.site.models[p.model].taps_w.len()).sum(),
        bound: 0.0,
    };
    let (least, bound) = least_cost(&maker, options, reporter)?;
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
                evener(&maker, options, &mut made, reporter)?;
            }
            proposal.options = pick(&options.wanted, made, budget)?;
            for option in &mut proposal.options {
                say_what_is_replaced(file, option)?;
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
    reporter: &Reporter<'_>,
) -> Result<(Outcome, f64), ProposeError> {
    let mut found: Option<Outcome> = None;
    let mut proven = 0.0;
    // More work means more tries, each with a seed of its own and of a few choices; the cheapest design stands.
    for k in 0..maker.tries(options) {
        let effort = Effort { seed: options.seed.wrapping_add(k), ..maker.effort(options) };
        reporter.tell(|t| {
            t.phase = Phase::Choosing;
            t.option = Some(OptionKind::LeastCost);
        });
        let band = maker.band(1.0);
        let chosen = maker.choose((&band, &maker.fixed), (effort, None), reporter, k == 0);
        let (choices, bound) = chosen?;
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
            found = Some(better(found, attempt(maker, &wish, reporter)?));
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
            found = Some(better(found, attempt(maker, &wish, reporter)?));
        }
    }
    let found = found.ok_or(BriefProblem::NothingTried)?;
    Ok((found, proven))
}

/// Adds evener designs to the cheapest.
fn evener(
    maker: &Maker<'_>,
    options: &ProposeOptions,
    made: &mut Vec<Made>,
    reporter: &Reporter<'_>,
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
        if let Outcome::Met(one) = attempt(maker, &wish, reporter)? {
            made.push(*one);
        } else if !tuned {
            // Narrower still would fail too.
            break;
        }
        reporter.tell(|t| t.done = (k + 2) as f64 / (EVENER.len() + 2) as f64);
    }
    Ok(())
}

fn attempt(maker: &Maker<'_>, wish: &Wish<'_>, reporter: &Reporter<'_>) -> Result<Outcome, ProposeError> {
    let made = maker.attempt(wish, reporter)?;
    if reporter.stopped() { Err(ProposeError::Cancelled) } else { Ok(made) }
}

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
