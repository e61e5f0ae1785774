//! A whole design from the brief: places, models, aims and taps; lines, amplifiers, ways of the cable, processing;
//! priced, checked by the real engines, given back as one edit.
//!
//! Method (handbook chapter 10). Energies are linear in tap power, so the choice of places, models, aims and taps is a
//! covering problem on plain numbers (`loamline_design`), with a proven bound. Then:
//!
//! 1. `places`, `models`, `candidates`, `site`: where loudspeakers may go, which, and what each would give. Subwoofers
//!    come first (`bass`), by the coherent search, for areas that ask a bass level.
//! 2. `choose`: the covering problem at the working gain that suits the taps best.
//! 3. `refine`: positions, aims and taps on the full field, every path followed; then a cheaper choice among those.
//! 4. `wire`, `build`, `trim`: channels and amplifiers, the routes by the routing engine, cable sizes by the solved
//!    lines, processing by the tuning, gains so that areas lie on their levels.
//! 5. `measure`: the finished job held against the brief by the engines that also serve `predict`, `lines` and
//!    `check`. What misses is tried again with a narrower band; what cannot be met is told by `failure`.
//!
//! The same brief, work and seed give the same answer on any number of cores: work is counted in steps, never by the
//! clock. What is proven and what is not: the bound holds for the candidates and points looked at, at the working
//! gain; the refinement and the routing are searches without a proof.

mod api;
mod bass;
mod build;
mod candidates;
mod choose;
mod failure;
mod gives;
mod grid;
mod make;
mod measure;
mod models;
mod places;
mod price;
mod refine;
mod site;
mod thumb;
mod trim;
mod wire;

pub use api::{
    AreaFigures, Constraint, Failure, Figures, OptionKind, Phase, Proposal, ProposeError, ProposeOptions,
    ProposeProgress, Proposed, Reason, Watch,
};
pub(crate) use places::on_lawn_edge;
pub use thumb::rule_of_thumb;

use loamline_model::JobFile;
use make::{Made, Maker, Outcome, Teller, bare};
use measure::reasons;

/// Widths of the band designed for, as parts of the brief's: the first is the brief itself, the others are evener.
const PARTS: [f64; 4] = [1.0, 0.8, 0.65, 0.5];

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
    let brief = |e: String| ProposeError::Brief(vec![e]);
    let mut made: Vec<Made> = Vec::new();
    let mut proven = 0.0;
    let parts: &[f64] = if only_least { &PARTS[..1] } else { &PARTS };
    let budget = budget(file);
    let mut unmet = None;
    for (k, part) in parts.iter().enumerate() {
        let kind = if k == 0 { OptionKind::LeastCost } else { OptionKind::MostEven };
        let (mut outcome, bound) = maker.attempt(*part, options, kind, teller).map_err(brief)?;
        proven = bound.unwrap_or(proven);
        // More work means more tries, each with a seed of its own; the cheapest design stands.
        for again in 1..tries(options) {
            if teller.stopped() {
                return Err(ProposeError::Cancelled);
            }
            let other = ProposeOptions { seed: options.seed.wrapping_add(again), ..options.clone() };
            let (next, _) = maker.attempt(*part, &other, kind, teller).map_err(brief)?;
            outcome = cheaper(outcome, next);
        }
        if teller.stopped() {
            return Err(ProposeError::Cancelled);
        }
        match outcome {
            Outcome::Met(one) => made.push(*one),
            Outcome::Unmet { choice, missed } if k == 0 => {
                unmet = Some(failure::Unmet::of(&maker, choice, missed, None));
                break;
            }
            // Narrower still would fail too.
            Outcome::Unmet { .. } => break,
        }
        teller.tell(|t| t.done = (k + 1) as f64 / parts.len() as f64);
        let least = made.first().map_or(0.0, |m| m.figures.price);
        if budget.is_some_and(|b| least > b) {
            unmet = Some(failure::Unmet::budget(&maker, least));
            break;
        }
    }
    let mut proposal = Proposal {
        currency: file.job().document().about.currency.clone(),
        options: Vec::new(),
        failure: None,
        places: maker.spots.len(),
        candidates: maker.pool.poses.iter().map(|p| maker.site.models[p.model].taps_w.len()).sum(),
        bound: proven,
    };
    if let Some(u) = unmet {
        return Ok(Ran::Unmet { proposal: Box::new(proposal), maker_outcome: Box::new(u) });
    }
    proposal.options = pick(&options.wanted, made, budget).map_err(brief)?;
    Ok(Ran::Done(Box::new(proposal)))
}

/// Seconds' work of one try.
pub(crate) const TRY_S: f64 = 5.0;

fn tries(options: &ProposeOptions) -> u64 {
    (options.work_s / TRY_S).floor().clamp(1.0, 120.0) as u64
}

/// The cheaper of two designs; one that meets the brief before one that does not.
fn cheaper(a: Outcome, b: Outcome) -> Outcome {
    match (&a, &b) {
        (Outcome::Met(x), Outcome::Met(y)) if y.figures.price < x.figures.price => b,
        (Outcome::Unmet { .. }, Outcome::Met(_)) => b,
        _ => a,
    }
}

/// The budget of a job, tax included.
fn budget(file: &JobFile) -> Option<f64> {
    use rust_decimal::prelude::ToPrimitive as _;
    file.job().document().brief.budget.and_then(|b| b.to_f64())
}

/// Gives each kind of option its design. The designs made do not depend on the budget, which only bars some: more
/// budget can therefore never give a worse plan.
fn pick(wanted: &[OptionKind], made: Vec<Made>, budget: Option<f64>) -> Result<Vec<Proposed>, String> {
    let affordable: Vec<Made> =
        made.into_iter().filter(|m| budget.is_none_or(|b| m.figures.price <= b)).collect();
    let price = |m: &Made| m.figures.price;
    let spread = |m: &Made| m.figures.worst_spread_db;
    let best = |of: &dyn Fn(&Made) -> (f64, f64), among: &dyn Fn(&Made) -> bool| {
        let all = (0..affordable.len()).filter(|i| among(&affordable[*i]));
        all.min_by(|a, b| {
            of(&affordable[*a]).partial_cmp(&of(&affordable[*b])).unwrap_or(std::cmp::Ordering::Equal)
        })
    };
    let least = best(&|m| (price(m), spread(m)), &|_| true);
    let even = best(&|m| (spread(m), price(m)), &|_| true);
    let half = match (least, even) {
        (Some(l), Some(e)) => 0.5 * (price(&affordable[l]) + price(&affordable[e])),
        _ => f64::INFINITY,
    };
    let balanced = best(&|m| (spread(m), price(m)), &|m| price(m) <= half + 1e-6);
    let mut kinds: Vec<Vec<OptionKind>> = vec![Vec::new(); affordable.len()];
    for kind in wanted {
        let at = match kind {
            OptionKind::LeastCost => least,
            OptionKind::Balanced => balanced,
            OptionKind::MostEven => even,
        };
        if let Some(i) = at.filter(|i| !kinds[*i].contains(kind)) {
            kinds[i].push(*kind);
        }
    }
    let mut out = Vec::new();
    for (mut m, kinds) in affordable.into_iter().zip(kinds).filter(|(_, k)| !k.is_empty()) {
        out.push(Proposed {
            kinds,
            reasons: reasons(&mut m.built)?,
            findings: m.built.study.findings(),
            figures: m.figures,
            choice_cost: m.choice_cost,
            edit: m.built.edit,
        });
    }
    out.sort_by(|a, b| a.figures.price.total_cmp(&b.figures.price));
    Ok(out)
}
