//! The cheapest design that meets the brief: several choices settled and built, then fewer and cheaper ones looked for.

use crate::api::{OptionKind, Phase, ProposeOptions};
use crate::attempt::{Made, Outcome, Start, Wish};
use crate::attempted::{attempt, one_of_several};
use crate::error::{BriefProblem, ProposeError};
use crate::make::Maker;
use crate::measure::Missed;
use crate::reporter::Reporter;
use crate::types::{Choice, KnownGains, LevelBand, Likeness};
use loamline_design::Effort;
use loamline_model::document::Matching;

/// Choices made before giving up, after the first ones missed.
const ATTEMPTS: usize = 4;
/// Between the seeds of choices settled one after another.
const FINALS_APART: u64 = 0x51F1;
/// A design whose choice costs no more than this times the cheapest one that missed is as good as that can get.
const NOT_WORTH_IT: f64 = 1.05;
/// Times that a cheaper design of fewer loudspeakers is looked for, each only after the one before was found.
const FEWER: usize = 4;
/// Bands a little wider than the choice keeps to, dB: a cheaper choice that misses by so little may meet the brief once it
/// is settled, equalised and trimmed.
const WIDER_DB: [f64; 2] = [0.6, 1.2];

/// The cheapest design found, and the bound.
pub(crate) fn least_cost(
    maker: &Maker<'_>,
    likeness: Likeness,
    options: &ProposeOptions,
    reporter: &Reporter<'_>,
) -> Result<(Outcome, Option<f64>), ProposeError> {
    let kind = match likeness {
        Likeness::Any if maker.matching == Matching::Alike => OptionKind::LeastCostMixed,
        _ => OptionKind::LeastCost,
    };
    let mut found: Option<Outcome> = None;
    let mut proven = None;
    // Why a choice could not be built: its lines or amplifiers cannot be, those of others may.
    let mut unbuilt: Option<Vec<BriefProblem>> = None;
    // More work means more tries, each with a seed of its own and of a few choices; the cheapest design stands.
    for k in 0..maker.tries(options) {
        if k > 0 && reporter.time_is_up() {
            break;
        }
        let effort = Effort { seed: options.seed.wrapping_add(k), ..maker.effort(options) };
        reporter.tell(|t| {
            t.phase = Phase::Choosing;
            t.option = Some(kind);
            if k == 0 && kind == OptionKind::LeastCost {
                // Costs and bounds of a brief that was tried before say nothing of this one.
                (t.best_cost, t.bound) = (None, None);
            }
        });
        let band = maker.band_of(1.0, likeness, options.seed)?;
        let with_bound = k == 0 && likeness == maker.wished();
        let chosen = maker.choose(
            likeness,
            (&band, &maker.fixed),
            (effort, KnownGains::Nothing),
            reporter,
            with_bound,
        );
        let (choices, bound) = chosen?;
        proven = bound.or(proven);
        let mut wish = Wish {
            kind,
            likeness,
            part: 1.0,
            effort,
            gains: None,
            about: None,
            start: Start::Nothing,
            missed: None,
            attempts: 1,
            below: None,
            always: false,
            first: found.is_none(),
        };
        // What the cheapest choice missed, and what it was chosen to cost.
        let mut narrower: Option<(f64, Missed)> = None;
        let mut finals = maker.finals(choices, options);
        let wider =
            if k == 0 { in_wider_bands(maker, likeness, effort, &finals, reporter)? } else { Vec::new() };
        let wide = 0..wider.len();
        finals.splice(0..0, wider);
        let last = finals.len().saturating_sub(1);
        for (i, choice) in finals.into_iter().enumerate() {
            if found.is_some() && reporter.time_is_up() {
                break;
            }
            // What costs more as chosen costs more as built; what leaves less to be wished may be worth it.
            let met = found.as_ref().and_then(Outcome::met_choice);
            let worse =
                |m: &Choice| choice.cost >= 0.98 * m.cost && choice.answer.wished >= m.answer.wished - 1e-6;
            if likeness == Likeness::Rows && met.is_some_and(worse) {
                continue;
            }
            wish.gains = Some(choice.gains.clone());
            let cost = choice.cost;
            wish.start = Start::Choice(choice);
            wish.always = i == last && found.as_ref().is_none_or(Outcome::is_nothing);
            wish.effort.seed = effort.seed.wrapping_add(i as u64 * FINALS_APART);
            let outcome = match attempt(maker, &wish, reporter) {
                Err(ProposeError::Brief(why)) if why.iter().all(BriefProblem::of_one_design) => {
                    unbuilt = unbuilt.or(Some(why));
                    continue;
                }
                attempted => attempted?,
            };
            if let Outcome::Unmet { choice, missed: Some(missed), .. } = &outcome
                && choice.meets
                && !wide.contains(&i)
                && narrower.is_none()
            {
                narrower = Some((cost, missed.clone()));
            }
            found = Some(better(found, outcome));
            let met = found.as_ref().and_then(Outcome::choice_cost);
            narrower = narrower.filter(|n| met.is_none_or(|cost| cost > NOT_WORTH_IT * n.0));
            wish.first = false;
            wish.below = found.as_ref().and_then(Outcome::price);
        }
        // What cannot be chosen at all is found by no other seed.
        if matches!(&found, Some(Outcome::Unmet { choice, .. }) if !choice.meets) {
            break;
        }
        // The cheapest is not as good as it was chosen to be: narrower, where it missed, as long as that may be cheaper.
        if let Some((_, missed)) = narrower.take().filter(|_| !reporter.time_is_up()) {
            let gains = wish.gains.clone().filter(|_| likeness != Likeness::Rows);
            let wish = Wish {
                start: Start::Nothing,
                missed: Some(&missed),
                attempts: ATTEMPTS,
                effort,
                about: wish.gains.clone(),
                gains,
                ..wish
            };
            match attempt(maker, &wish, reporter) {
                Err(ProposeError::Brief(why)) if why.iter().all(BriefProblem::of_one_design) => {}
                attempted => found = Some(better(found, attempted?)),
            }
        }
    }
    let nothing = || ProposeError::Brief(unbuilt.unwrap_or_else(|| vec![BriefProblem::NothingTried]));
    let found = match found.ok_or_else(nothing)? {
        Outcome::Met(least) => {
            let least = match likeness {
                Likeness::Rows => *least,
                Likeness::OneModel | Likeness::Any => with_fewer(maker, options, *least, reporter)?,
            };
            proven = bound_of(maker, &least, proven)?;
            maker.tell_bound(reporter, proven);
            Outcome::Met(Box::new(maker.without_spare(least, false, reporter)?))
        }
        unmet => unmet,
    };
    Ok((found, proven))
}

/// What is tried to get a cheaper design than the one there is.
fn cheaper<'a>(least: &Made, choice: Choice, effort: Effort) -> Wish<'a> {
    Wish {
        kind: OptionKind::LeastCost,
        likeness: least.likeness,
        part: 1.0,
        effort,
        gains: Some(choice.gains.clone()),
        about: None,
        start: Start::Choice(choice),
        missed: None,
        attempts: 1,
        below: Some(least.figures.price),
        always: false,
        first: false,
    }
}

/// Cheaper choices of rows that keep to bands a little wider, the likeliest to meet the brief first.
fn in_wider_bands(
    maker: &Maker<'_>,
    likeness: Likeness,
    effort: Effort,
    choices: &[Choice],
    reporter: &Reporter<'_>,
) -> Result<Vec<Choice>, BriefProblem> {
    let mut cheaper: Vec<Choice> = Vec::new();
    if likeness != Likeness::Rows {
        return Ok(cheaper);
    }
    let dearest = choices.first().filter(|c| c.meets).map_or(f64::INFINITY, |c| c.cost);
    for wider_db in WIDER_DB {
        let band = wider(maker, wider_db);
        let how = (effort, choices.first().map_or(KnownGains::Nothing, |c| KnownGains::About(&c.gains)));
        let (found, _) = maker.choose(likeness, (&band, &maker.fixed), how, reporter, false)?;
        let least = cheaper.last().map_or(dearest, |c| c.cost);
        cheaper.extend(found.into_iter().next().filter(|c| c.meets && c.cost < 0.99 * least));
    }
    Ok(cheaper)
}

/// The brief's band a little wider.
fn wider(maker: &Maker<'_>, by_db: f64) -> LevelBand {
    let mut band = maker.band(1.0);
    band.half_db.iter_mut().for_each(|h| *h += by_db);
    band
}

/// What is proven of a design: where it was chosen in a wider band, what is proven of that, at its own gains.
fn bound_of(maker: &Maker<'_>, least: &Made, proven: Option<f64>) -> Result<Option<f64>, BriefProblem> {
    let cost = least.choice.cost;
    if least.likeness != Likeness::Rows || proven.is_none_or(|bound| bound <= cost) {
        return Ok(proven);
    }
    for wider_db in WIDER_DB {
        let bound = maker.rows_bound((&wider(maker, wider_db), &maker.fixed), &least.choice.gains)?;
        if bound <= cost {
            return Ok(Some(bound));
        }
    }
    Ok(None)
}

/// A cheaper design of fewer loudspeakers, if there is one: they play at other gains, at which more of them were never
/// looked for.
fn with_fewer(
    maker: &Maker<'_>,
    options: &ProposeOptions,
    mut least: Made,
    reporter: &Reporter<'_>,
) -> Result<Made, ProposeError> {
    let kept = maker.fixed.poses.len() + maker.fixed.subwoofers;
    for _ in 0..FEWER {
        let fewer = least.poses.len().saturating_sub(1);
        if fewer == 0 || reporter.time_is_up() {
            break;
        }
        let effort = maker.effort(options);
        let band = maker.band_of(1.0, least.likeness, options.seed)?;
        let band = LevelBand { at_most: kept + fewer, ..band };
        let how = (effort, KnownGains::Nothing);
        let (choices, _) = maker.choose(least.likeness, (&band, &maker.fixed), how, reporter, false)?;
        let saves = |c: &Choice| c.meets && c.cost < least.choice.cost;
        let Some(choice) = choices.into_iter().next().filter(saves) else { break };
        let wish = cheaper(&least, choice, effort);
        match one_of_several(attempt(maker, &wish, reporter))? {
            Some(made) if made.worth() < least.worth() => least = made,
            _ => break,
        }
    }
    Ok(least)
}

/// The better of two outcomes: one that meets the brief before one that does not, then the cheaper, or the nearer.
fn better(before: Option<Outcome>, next: Outcome) -> Outcome {
    match (before, next) {
        (Some(Outcome::Met(a)), Outcome::Met(b)) if b.worth() < a.worth() => Outcome::Met(b),
        (Some(Outcome::Unmet { .. }) | None, next @ Outcome::Met(_)) | (None, next) => next,
        (
            Some(Outcome::Unmet { choice, missed, nearest: before }),
            Outcome::Unmet { nearest: Some(next), .. },
        ) => {
            let nearer = before.as_ref().is_none_or(|b| next.missed.worse_by() < b.missed.worse_by());
            Outcome::Unmet { choice, missed, nearest: if nearer { Some(next) } else { before } }
        }
        (Some(before), _) => before,
    }
}
