//! The loudest design: every target raised by as much as budget, neighbours, evenness and equipment allow.

use crate::api::{OptionKind, Phase, ProposeOptions};
use crate::attempt::{Made, Start, Wish};
use crate::attempted::{attempt, one_of_several};
use crate::build::without_unpinned;
use crate::error::{BriefProblem, ProposeError};
use crate::make::Maker;
use crate::reporter::Reporter;
use crate::types::{Gains, KnownGains, RESERVE_DB};
use loamline_model::{Edit, JobFile, Operation};
use loamline_quotation::estimate;
use loamline_terms::pointer::escape;
use loamline_terms::{Told, say};
use serde_json::json;

/// Most that targets are raised, dB, and highest target, dBA: louder than that is no listening level.
const MOST_DB: u32 = 15;
const HIGHEST_DBA: f64 = 100.0;
/// Without a budget, as loud as so much more money buys: as a part of the cheapest design's price.
const DEARER: f64 = 1.5;
/// Taps come in steps of about this, dB: what fills an area at one level fills it so much higher on the next taps, whatever
/// may be found in between.
const TAPS_APART_DB: u32 = 3;
/// Whole designs made, at most, to confirm one of the levels that a choice allows.
const CONFIRM: usize = 5;

/// A design louder than the brief asks.
pub(crate) struct Loud {
    pub made: Made,
    /// The edit of the brief that goes with it.
    pub targets: Edit,
    /// What keeps it from being louder, and the headroom it plays with.
    pub notes: Vec<Told>,
}

/// The loudest design found; none when none louder than the brief was.
pub(crate) fn loudest(
    file: &JobFile,
    maker: &Maker<'_>,
    options: &ProposeOptions,
    (least, budget): (&Made, Option<f64>),
    reporter: &Reporter<'_>,
) -> Result<Option<Loud>, ProposeError> {
    reporter.tell(|t| {
        t.phase = Phase::Choosing;
        t.option = Some(OptionKind::Loudest);
    });
    let most_price = budget.unwrap_or(DEARER * least.figures.price);
    let beside = least.figures.price - least.choice.cost;
    let effort = maker.effort(options);
    let targets = maker.site.zones.iter().map(|z| z.area.target_dba);
    let room_db = HIGHEST_DBA - targets.fold(f64::NEG_INFINITY, f64::max);
    let louder_gains = |db: f64| Gains(least.choice.gains.0.iter().map(|g| g + db).collect());
    let can = |db: u32| -> Result<bool, BriefProblem> {
        let mut band = maker.band_of(1.0, least.likeness, options.seed)?;
        band.lower_db.fill(-f64::from(db));
        let gains = louder_gains(f64::from(db));
        let how = (effort, KnownGains::About(&gains));
        let found = maker.choose(least.likeness, (&band, &maker.fixed), how, reporter, false)?.0;
        Ok(found.first().is_some_and(|c| c.meets && c.cost + beside <= most_price))
    };
    let most_db = MOST_DB.min(room_db.floor().max(0.0) as u32);
    let chosen_db = highest_chosen(most_db, || reporter.stopped(), can)?;
    let design = |db: u32| -> Result<Option<Loud>, ProposeError> {
        let raised = raise(file, f64::from(db));
        let mut louder = file.clone();
        louder.apply(&raised).map_err(BriefProblem::from)?;
        let (pinned_only, clear) = without_unpinned(&louder)?;
        let there = maker.raised((&pinned_only, clear), f64::from(db), &options.prices)?;
        let wish = Wish {
            kind: OptionKind::Loudest,
            likeness: least.likeness,
            part: 1.0,
            effort,
            gains: None,
            about: Some(louder_gains(f64::from(db))),
            start: Start::Nothing,
            missed: None,
            attempts: 2,
            below: Some(most_price),
            always: false,
            first: false,
        };
        let made = one_of_several(attempt(&there, &wish, reporter))?;
        Ok(made.filter(|m| m.figures.price <= most_price).map(|made| {
            let all = db == most_db;
            let notes = notes(file, &made, (f64::from(db), all), (most_price, budget.is_some()));
            Loud { made, targets: raised, notes }
        }))
    };
    highest_made(chosen_db, || reporter.time_is_up(), design)
}

/// The most decibels up to a number that a choice allows: first in steps of taps, then in between.
fn highest_chosen<E>(
    most_db: u32,
    stopped: impl Fn() -> bool,
    can: impl Fn(u32) -> Result<bool, E>,
) -> Result<u32, E> {
    let (mut meets, mut fails) = (0, most_db / TAPS_APART_DB + 1);
    while fails - meets > 1 && !stopped() {
        let middle = meets.midpoint(fails);
        if can(TAPS_APART_DB * middle)? { meets = middle } else { fails = middle }
    }
    let meets_db = TAPS_APART_DB * meets;
    for db in (meets_db + 1..(meets_db + TAPS_APART_DB).min(most_db + 1)).rev() {
        if stopped() {
            break;
        }
        if can(db)? {
            return Ok(db);
        }
    }
    Ok(meets_db)
}

/// The highest level of those that a choice allows which a whole design confirms: down in ever longer steps until one does, then
/// between that and the lowest that did not.
fn highest_made<T, E>(
    chosen_db: u32,
    over: impl Fn() -> bool,
    design: impl Fn(u32) -> Result<Option<T>, E>,
) -> Result<Option<T>, E> {
    let (mut met, mut fails, mut down) = (None, chosen_db + 1, 1);
    let mut next_db = chosen_db;
    for _ in 0..CONFIRM {
        if next_db == 0 || over() {
            break;
        }
        let meets_db = match design(next_db)? {
            Some(made) => {
                met = Some((next_db, made));
                next_db
            }
            None => {
                fails = next_db;
                met.as_ref().map_or(0, |(db, _)| *db)
            }
        };
        next_db = if met.is_none() {
            let lower = next_db.saturating_sub(down);
            down *= 2;
            // The last one there is, before none.
            if lower == 0 && next_db > 1 { 1 } else { lower }
        } else if fails - meets_db > 1 {
            meets_db.midpoint(fails)
        } else {
            0
        };
    }
    Ok(met.map(|(_, made)| made))
}

/// Every target raised.
fn raise(file: &JobFile, by_db: f64) -> Edit {
    let areas = file.job().document().areas.iter();
    let one = |(id, area): (&String, &loamline_model::document::Area)| Operation::Add {
        path: format!("/areas/{}/target", escape(id)),
        value: json!(area.target_dba + by_db),
        before: None,
    };
    Edit { operations: areas.map(one).collect() }
}

/// What it plays, and what stands in the way of more; `all` where no more was looked for.
fn notes(
    file: &JobFile,
    made: &Made,
    (raised_db, all): (f64, bool),
    (most_price, is_budget): (f64, bool),
) -> Vec<Told> {
    let currency = &file.job().document().about.currency;
    let margin = file.job().document().brief.neighbour_margin_db;
    let close = made.figures.neighbour_margin_db.is_some_and(|m| m < margin + 1.0);
    let most = estimate(currency, most_price);
    let why = if all {
        say!("nothing; louder still is not looked for")
    } else if close {
        say!("the neighbours' limits")
    } else if made.figures.price > 0.93 * most_price {
        if is_budget {
            say!("the budget of {most}", most = most)
        } else {
            say!("half as much money again as the cheapest design of {most}", most = most)
        }
    } else {
        say!("evenness and the power of the equipment")
    };
    let notes = [
        say!(
            "Plays {raised} dB louder than the brief asks in every area; accepting it raises the targets by so much. What keeps it \
             from more: {why}.",
            raised = loamline_terms::fixed(raised_db, 0),
            why = why
        ),
        say!(
            "Channels keep {reserve} dB below full drive for music's peaks and the equaliser.",
            reserve = format!("{RESERVE_DB:.0}")
        ),
    ];
    notes.map(Told::from).to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, shipped_catalogue};

    #[test]
    fn every_target_is_raised_by_as_much() {
        let text = include_str!("../../../examples/guesthouse-garden/job.toml");
        let file =
            JobFile::from_text(&SourceFile::new("job.toml", text), shipped_catalogue().unwrap()).unwrap();
        let louder = file.preview(&raise(&file, 3.0)).unwrap();
        for (id, area) in &file.job().document().areas {
            assert_eq!(louder.document().areas[id].target_dba, area.target_dba + 3.0);
        }
    }

    /// Whether levels are met: those of a table, looked up.
    fn of<const N: usize>(met: [u32; N]) -> impl Fn(u32) -> Result<bool, String> {
        move |db| Ok(met.contains(&db))
    }

    /// A row of few loudspeakers fills the lawn on its taps and on each next one, 3 dB higher; between them it takes more than
    /// the money buys. Halving all levels, 8, 4, 2, 1, found none of them.
    #[test]
    fn levels_between_the_taps_do_not_hide_those_on_them() {
        let go_on = || false;
        assert_eq!(highest_chosen(15, go_on, of([3, 6, 9])), Ok(9));
        assert_eq!(highest_chosen(15, go_on, of([1, 2, 3, 4, 5, 6, 7])), Ok(7));
        assert_eq!(highest_chosen(15, go_on, of([1, 2])), Ok(2));
        assert_eq!(highest_chosen(15, go_on, of([])), Ok(0));
        let all: [u32; 15] = std::array::from_fn(|k| k as u32 + 1);
        for most_db in 0..=15 {
            assert_eq!(
                highest_chosen(most_db, go_on, of(all)),
                Ok(most_db),
                "no more than that is asked for"
            );
        }
    }

    #[test]
    fn a_whole_design_is_found_far_below_what_a_choice_allows() {
        // For every highest level that a design can have under one that a choice allows.
        for chosen_db in 0..=15_u32 {
            for possible_db in 0..=chosen_db {
                let tried = std::cell::Cell::new(0);
                let design = |db: u32| -> Result<Option<u32>, String> {
                    tried.set(tried.get() + 1);
                    Ok((db <= possible_db).then_some(db))
                };
                let found = highest_made(chosen_db, || false, design).unwrap();
                assert!(tried.get() <= CONFIRM);
                assert_eq!(found.is_some(), possible_db > 0, "{possible_db} under {chosen_db}");
                if chosen_db - possible_db <= 3 {
                    assert_eq!(found.unwrap_or(0), possible_db, "{possible_db} under {chosen_db}");
                }
            }
        }
        let never = |_: u32| -> Result<Option<u32>, String> { Ok(None) };
        assert_eq!(highest_made(9, || true, never), Ok(None));
    }
}
