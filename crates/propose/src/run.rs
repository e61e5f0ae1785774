//! Offers for a brief: the cheapest design, evener and louder ones; or the one that comes nearest, and what would meet it.

use crate::api::{Constraint, OptionKind, Phase, Proposal, ProposeOptions, Proposed, Watch};
use crate::attempt::{Made, Outcome, Start, Wish};
use crate::attempted::{attempt, one_of_several};
use crate::budget::budget;
use crate::build::without_unpinned;
use crate::changes::changes;
use crate::error::ProposeError;
use crate::failure;
use crate::in_districts::in_districts;
use crate::least::least_cost;
use crate::loudest::{Loud, loudest};
use crate::make::Maker;
use crate::pick::{Designs, pick};
use crate::reporter::Reporter;
use crate::so_far::SoFar;
use crate::stands::stands;
use crate::types::Likeness;
use crate::written::as_written;
use loamline_limits::lent;
use loamline_model::JobFile;
use loamline_terms::{Told, say};

/// Choices made for each evener design before giving up.
const ATTEMPTS: usize = 2;
/// Widths of the band that evener designs are made for, as parts of the brief's: first by settling the cheapest design
/// again for evenness alone, then by choices of their own. A part that cannot be met ends the list.
const TUNED: f64 = 0.6;
const EVENER: [f64; 2] = [0.75, 0.55];
/// How many times as dear as the cheapest design an evener one may be: for more, nobody takes what is hardly heard.
const EVENER_COSTS: f64 = 2.0;
/// Part of the effort that goes into each evener choice: the working gain is known by then.
const EVENER_EFFORT: f64 = 0.5;
/// Parts of the work allowed that are done when the cheapest design, the evener ones, the loudest and the mixed one are made.
const UNTIL: [f64; 4] = [0.5, 0.7, 0.85, 1.0];
/// The same where rows do not meet the brief: when one model for each area has been tried, and when any have.
const UNTIL_OTHERS: [f64; 2] = [0.75, 1.0];
/// Work that goes into the first design whatever is allowed, as a part of the usual: what is stopped before is no design. Where
/// rows do not meet the brief, as many times that until each of the others was tried.
const FIRST: f64 = 0.3;
const FIRST_OTHERS: [f64; 2] = [2.0, 3.0];
/// Work that goes beyond for changes of a brief that cannot be met, as a part of that allowed.
const CHANGES: f64 = 1.0;
/// Cores that work is reckoned for.
const CORES: f64 = 1.7;

/// Designs for the brief of a job: everything that is not pinned is proposed anew. See the module's head.
///
/// Costs about the work allowed; up to twice that when the brief cannot be met and changes that meet it are tried.
///
/// # Errors
/// [`ProposeError`] when the brief lacks something, or the watcher ended it. A brief that cannot be met is no error:
/// the answer then says why, beside the design that comes nearest.
pub fn propose(file: &JobFile, options: &ProposeOptions, watch: Watch<'_>) -> Result<Proposal, ProposeError> {
    propose_keeping(file, options, watch, &SoFar::default())
}

/// The same, with the best whole design kept in `so_far` for when the search has to be left. A site that is designed district by
/// district has no whole design before its last.
///
/// # Errors
/// As [`propose`].
pub fn propose_keeping(
    file: &JobFile,
    options: &ProposeOptions,
    watch: Watch<'_>,
    so_far: &SoFar,
) -> Result<Proposal, ProposeError> {
    let reporter = Reporter::new(watch).keeping(so_far);
    let proposal = match in_districts(file, options, &reporter, &of_district)? {
        Some(proposal) => proposal,
        None => offers(file, options, &reporter, true)?,
    };
    reporter.tell(|t| {
        t.phase = Phase::Done;
        t.done = 1.0;
    });
    Ok(proposal)
}

/// What is offered for one district of a site: there are many, and the cheapest design of each is looked for no farther.
fn of_district(
    file: &JobFile,
    options: &ProposeOptions,
    reporter: &Reporter<'_>,
) -> Result<Proposal, ProposeError> {
    offers(file, options, reporter, wants_evener(options))
}

/// Whether an offer is wanted that is evener than the cheapest.
fn wants_evener(options: &ProposeOptions) -> bool {
    options.wanted.iter().any(|k| matches!(k, OptionKind::Balanced | OptionKind::MostEven))
}

/// The offers. Evener designs are made whatever is wanted, unless `with_evener` is false: one of them may be cheaper than the
/// cheapest that was looked for, and an offer is the same whether it is asked for alone or among all.
fn offers(
    file: &JobFile,
    options: &ProposeOptions,
    reporter: &Reporter<'_>,
    with_evener: bool,
) -> Result<Proposal, ProposeError> {
    let (pinned_only, clear) = without_unpinned(file)?;
    let maker = Maker::new(&pinned_only, clear, &options.prices)?;
    let mut proposal = Proposal {
        currency: file.job().document().about.currency.clone(),
        options: Vec::new(),
        failure: None,
        notes: Vec::new(),
        places: maker.spots.len(),
        candidates: 0,
        bound: None,
        unfinished: false,
    };
    if let Some(standing) = stands(file, &maker, &options.wanted)? {
        proposal.options.push(standing);
        return Ok(proposal);
    }
    let all_s = CORES * options.work_s.unwrap_or_else(|| maker.usual_s());
    let options = &ProposeOptions { work_s: Some(all_s / CORES), ..options.clone() };
    let first_s = CORES * FIRST * maker.usual_s();
    reporter.until((UNTIL[0] * all_s).max(first_s));
    let (least, bound) = least_cost(&maker, maker.wished(), options, reporter)?;
    let mut designs = Designs { wanted: options.wanted.clone(), ..Designs::default() };
    let mut unmet: Option<failure::Unmet> = None;
    let mut nearest: Vec<Made> = Vec::new();
    match least {
        Outcome::Met(made) => designs.front.push(*made),
        Outcome::Unmet { choice, missed, nearest: near } => {
            nearest.extend(near.map(|n| *n));
            // Rows cannot do it: one model for each area, or any, may. Bass that no subwoofer reaches is reached by no other
            // choice either.
            let rows = maker.wished() == Likeness::Rows && maker.subs.short.is_empty();
            let others = UNTIL_OTHERS.into_iter().zip(FIRST_OTHERS);
            for ((part, times), likeness) in others.zip([Likeness::OneModel, Likeness::Any]) {
                reporter.until((part * all_s).max(times * first_s));
                if !rows || !designs.front.is_empty() || reporter.time_is_up() && !nearest.is_empty() {
                    break;
                }
                match least_cost(&maker, likeness, options, reporter)?.0 {
                    Outcome::Met(made) => designs.front.push(*made),
                    Outcome::Unmet { nearest: near, .. } => nearest.extend(near.map(|n| *n)),
                }
            }
            if designs.front.is_empty() {
                unmet = Some(failure::Unmet::of(&maker, *choice, missed));
            }
        }
    }
    let budget = budget(file);
    if let Some(cheapest) = designs.front.first() {
        if budget.is_some_and(|b| cheapest.figures.price > b) {
            unmet = Some(failure::Unmet::budget(&maker, cheapest.figures.price));
            nearest.append(&mut designs.front);
        } else {
            let left_s = UNTIL[0] * all_s - reporter.spent();
            let how = (budget, reporter, [all_s, left_s]);
            more(file, &maker, options, (&mut designs, with_evener), how)?;
        }
    }
    let (places, candidates) = maker.looked_at();
    (proposal.places, proposal.candidates) = (places, candidates);
    proposal.notes = designs.notes.clone();
    if let Some(mut unmet) = unmet {
        // The nearest comes, marked.
        nearest.sort_by(|a, b| {
            let key = |m: &Made| (m.missed.worse_by(), m.figures.price);
            key(a).partial_cmp(&key(b)).unwrap_or(std::cmp::Ordering::Equal)
        });
        designs.front = nearest.into_iter().take(1).collect();
        designs.unmet = true;
        proposal.options = pick(&maker, designs, budget)?;
        also_over_budget(&mut unmet, proposal.options.first());
        reporter.tell(|t| t.phase = Phase::Relaxing);
        let allowed_s = CHANGES * all_s.max(first_s);
        let trying = reporter.beside().keeping_nothing();
        proposal.failure = Some(changes((file, &maker), options, (&trying, allowed_s), unmet)?);
    } else {
        proposal.options = pick(&maker, designs, budget)?;
        let first = proposal.options.first();
        proposal.bound = bound.filter(|b| first.is_some_and(|o| *b <= o.choice_cost.min(o.figures.price)));
    }
    for option in &mut proposal.options {
        as_written(file, option, &options.prices)?;
    }
    Ok(proposal)
}

/// What stands in the way, with the budget where that does too.
fn also_over_budget(unmet: &mut failure::Unmet, nearest: Option<&Proposed>) {
    let wishes = nearest.map(|n| n.unmet.as_slice()).unwrap_or_default();
    let over = wishes.iter().find(|wish| wish.constraint == Constraint::Budget);
    if let Some(over) = over.filter(|_| unmet.constraint != Constraint::Budget) {
        unmet.sentence = say!(
            "{why} The nearest design is also {over}",
            why = std::mem::take(&mut unmet.sentence),
            over = over.sentence.clone()
        );
    }
}

/// The other designs beside the cheapest, as far as the work allowed goes: evener ones, and the loudest and the mixed one where
/// they are wanted, side by side. Each side has its part of the work and half of what the first design left of its own; what
/// that took beyond its part is not taken from them.
fn more(
    file: &JobFile,
    maker: &Maker<'_>,
    options: &ProposeOptions,
    (designs, with_evener): (&mut Designs, bool),
    (budget, reporter, [all_s, left_s]): (Option<f64>, &Reporter<'_>, [f64; 2]),
) -> Result<(), ProposeError> {
    let Some(first) = designs.front.first() else { return Ok(()) };
    let (one, other) = (reporter.beside(), reporter.beside().keeping_nothing());
    let part_s = |part: usize| (UNTIL[part] - UNTIL[part - 1]) * all_s;
    let half_s = 0.5 * left_s.max(0.0);
    one.until(part_s(1) + half_s);
    let leave = lent();
    let evener = || {
        leave.lend(|| {
            if with_evener { evener(maker, options, first, &one) } else { Ok((Vec::new(), Vec::new())) }
        })
    };
    let louder = || {
        leave.lend(|| {
            louder_and_mixed(file, maker, options, (first, budget), (&other, [part_s(2), half_s, part_s(3)]))
        })
    };
    let (evener, louder) = rayon::join(evener, louder);
    let ((front, mut notes), (loudest, mixed, others)) = (evener?, louder?);
    reporter.spend(one.spent() + other.spent());
    notes.extend(others);
    designs.front.extend(front);
    (designs.loudest, designs.mixed) = (loudest, mixed);
    designs.notes.extend(notes);
    Ok(())
}

/// The loudest design and the mixed one, with what was not made of them.
type LouderAndMixed = (Option<Loud>, Option<Made>, Vec<Told>);

/// The loudest design, and then the cheapest mixed one.
fn louder_and_mixed(
    file: &JobFile,
    maker: &Maker<'_>,
    options: &ProposeOptions,
    (first, budget): (&Made, Option<f64>),
    (reporter, [loudest_s, left_s, mixed_s]): (&Reporter<'_>, [f64; 3]),
) -> Result<LouderAndMixed, ProposeError> {
    let wants = |kind: OptionKind| options.wanted.contains(&kind);
    let mut notes = Vec::new();
    let mut not_made = |kind: OptionKind| {
        notes.push(say!("The {kind} design was not made in the time allowed.", kind = kind.told()).into());
    };
    let mut louder = None;
    reporter.until(loudest_s + left_s);
    if wants(OptionKind::Loudest) {
        if reporter.time_is_up() {
            not_made(OptionKind::Loudest);
        } else {
            louder = loudest(file, maker, options, (first, budget), reporter)?;
        }
    }
    let mut cheaper = None;
    reporter.until(loudest_s + left_s + mixed_s);
    if wants(OptionKind::LeastCostMixed) && first.likeness != Likeness::Any {
        if reporter.time_is_up() {
            not_made(OptionKind::LeastCostMixed);
        } else {
            cheaper = mixed(maker, options, first, reporter)?;
        }
    }
    Ok((louder, cheaper, notes))
}

/// The cheapest design whose loudspeakers stand and are driven each for itself, of any models.
fn mixed(
    maker: &Maker<'_>,
    options: &ProposeOptions,
    first: &Made,
    reporter: &Reporter<'_>,
) -> Result<Option<Made>, ProposeError> {
    // One to an area, where rows met the brief, was not looked at yet. On large sites any models are often too many to look
    // at in the work allowed: they come last there.
    let mut ways = vec![Likeness::Any];
    if first.likeness == Likeness::Rows {
        ways.insert(usize::from(!maker.is_large()), Likeness::OneModel);
    }
    for likeness in ways {
        if reporter.time_is_up() {
            break;
        }
        if let Outcome::Met(made) = least_cost(maker, likeness, options, reporter)?.0
            && made.figures.price < first.figures.price
        {
            return Ok(Some(*made));
        }
    }
    Ok(None)
}

/// Designs evener than the cheapest, and what was not tried.
fn evener(
    maker: &Maker<'_>,
    options: &ProposeOptions,
    first: &Made,
    reporter: &Reporter<'_>,
) -> Result<(Vec<Made>, Vec<Told>), ProposeError> {
    let (mut found, mut notes) = (Vec::new(), Vec::new());
    let (likeness, least_price) = (first.likeness, first.figures.price);
    let mut effort = maker.effort(options);
    effort.draws = (EVENER_EFFORT * effort.draws as f64) as usize;
    let parts = std::iter::once((TUNED, true)).chain(EVENER.map(|p| (p, false)));
    let gains = Some(first.choice.gains.clone());
    for (k, (part, tuned)) in parts.enumerate() {
        if reporter.time_is_up() {
            if wants_evener(options) {
                notes.push("Fewer evener designs were tried than usual: the time allowed was up.".into());
            }
            break;
        }
        let wish = Wish {
            kind: if part > EVENER[1] { OptionKind::Balanced } else { OptionKind::MostEven },
            likeness,
            part,
            effort,
            // Rows are quickly chosen at gains of their own.
            gains: gains.clone().filter(|_| likeness != Likeness::Rows),
            about: gains.clone(),
            missed: None,
            below: Some(EVENER_COSTS * least_price),
            start: if tuned { Start::Made(first) } else { Start::Nothing },
            attempts: if tuned { 1 } else { ATTEMPTS },
            always: false,
            first: false,
        };
        let worth_it = |m: &Made| wish.below.is_none_or(|most| m.figures.price <= most);
        if let Some(one) = one_of_several(attempt(maker, &wish, reporter))?.filter(worth_it) {
            found.push(maker.without_spare(one, true, reporter)?);
        } else if !tuned {
            // Narrower still would fail too.
            break;
        }
        reporter.tell(|t| t.done = (k + 2) as f64 / (EVENER.len() + 4) as f64);
    }
    Ok((found, notes))
}
