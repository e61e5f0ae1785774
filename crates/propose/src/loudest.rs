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
/// Levels below the one that the choice allows that are tried until a whole design confirms one.
const CONFIRM: u32 = 3;

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
    let (mut meets, mut fails) = (0u32, MOST_DB.min(room_db.floor().max(0.0) as u32) + 1);
    while fails - meets > 1 && !reporter.stopped() {
        let middle = meets.midpoint(fails);
        if can(middle)? { meets = middle } else { fails = middle }
    }
    for db in (1..=meets).rev().take(CONFIRM as usize) {
        if reporter.time_is_up() {
            break;
        }
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
        if let Some(made) = made.filter(|m| m.figures.price <= most_price) {
            let notes = notes(file, &made, (f64::from(db), most_price, budget.is_some()));
            return Ok(Some(Loud { made, targets: raised, notes }));
        }
    }
    Ok(None)
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

/// What it plays, and what stands in the way of more.
fn notes(file: &JobFile, made: &Made, (raised_db, most_price, is_budget): (f64, f64, bool)) -> Vec<Told> {
    let currency = &file.job().document().about.currency;
    let margin = file.job().document().brief.neighbour_margin_db;
    let close = made.figures.neighbour_margin_db.is_some_and(|m| m < margin + 1.0);
    let most = estimate(currency, most_price);
    let why = if close {
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
            raised = format!("{raised_db:.0}"),
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
}
