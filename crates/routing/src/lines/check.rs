//! Everything that is wrong with a line problem, in one go.

use super::problem::{LineProblem, LossLimit};
use crate::ground::{GroundMap, RunEnd, Stand};
use crate::path::RouteError;
use std::collections::BTreeSet;
use thiserror::Error;

/// One thing wrong with a line problem.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum LineProblemError {
    /// A place or a way.
    #[error(transparent)]
    Route(#[from] RouteError),
    /// A number out of range.
    #[error("{who}: {what} is {value}; it must be {must}")]
    OutOfRange {
        /// Whose number.
        who: String,
        /// Which number, with its unit.
        what: &'static str,
        /// The value given.
        value: f64,
        /// What is allowed.
        must: &'static str,
    },
    /// The same name twice, or one name for a line and a loudspeaker.
    #[error("{id} is used twice as a name of a line or loudspeaker")]
    Duplicate {
        /// The name.
        id: String,
    },
    /// A name nothing has.
    #[error("{who} names {id}, and there is no such line or loudspeaker")]
    Unknown {
        /// Where the name stands.
        who: String,
        /// The name.
        id: String,
    },
    /// Nothing to feed from.
    #[error("there is no line to hang {loudspeakers} loudspeakers on: add a channel or a stub-out")]
    NoFeeds {
        /// How many loudspeakers there are.
        loudspeakers: usize,
    },
}

/// All problems of a line problem.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{}", self.0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
pub struct LinesError(pub Vec<LineProblemError>);

impl LinesError {
    /// Whether a way is missing, and nothing else is wrong.
    pub(super) fn is_of_a_way(&self) -> bool {
        let of_a_way = |e: &LineProblemError| matches!(e, LineProblemError::Route(RouteError::NoWay { .. }));
        self.0.iter().all(of_a_way)
    }
}

/// Places of feeds and terminals on the map, if everything is in order.
pub(super) fn check(
    ground: &GroundMap,
    p: &LineProblem,
    limit: Option<LossLimit>,
) -> Result<Vec<Stand>, LinesError> {
    let wrong = problems(ground, p, limit);
    if !wrong.is_empty() {
        return Err(LinesError(wrong));
    }
    let stand = |place: &RunEnd| {
        ground.stand(place).map_err(|e| LinesError(vec![LineProblemError::Route(RouteError::RunEnd(e))]))
    };
    places(p).iter().map(stand).collect()
}

/// Everything that is wrong before a way is looked for.
pub(super) fn problems(
    ground: &GroundMap,
    p: &LineProblem,
    limit: Option<LossLimit>,
) -> Vec<LineProblemError> {
    let mut wrong = Vec::new();
    numbers(p, limit, &mut wrong);
    names(p, &mut wrong);
    if p.feeds.is_empty() && !p.terminals.is_empty() {
        wrong.push(LineProblemError::NoFeeds { loudspeakers: p.terminals.len() });
    }
    let places = places(p);
    let misplaced = places.iter().filter_map(|place| ground.check_place(place).err());
    wrong.extend(misplaced.map(|e| LineProblemError::Route(RouteError::RunEnd(e))));
    for run in &p.fixed {
        for (i, &at) in run.via.iter().enumerate() {
            let name = format!("point {} of the fixed run {}-{}", i + 1, run.from, run.to);
            if let Err(e) = ground.check_place(&RunEnd { name, at }) {
                wrong.push(RouteError::RunEnd(e).into());
            }
        }
    }
    wrong
}

/// Feeds first, then terminals, named as a person would.
pub(super) fn places(p: &LineProblem) -> Vec<RunEnd> {
    let feeds = p.feeds.iter().map(|f| RunEnd { name: format!("the start of line {}", f.id), at: f.at });
    let terminals = p.terminals.iter().map(|t| RunEnd { name: format!("loudspeaker {}", t.id), at: t.at });
    feeds.chain(terminals).collect()
}

fn numbers(p: &LineProblem, limit: Option<LossLimit>, wrong: &mut Vec<LineProblemError>) {
    let mut need = |ok: bool, who: &str, what, value, must| {
        if !ok {
            wrong.push(LineProblemError::OutOfRange { who: who.to_owned(), what, value, must });
        }
    };
    let not_negative = |v: f64| v.is_finite() && v >= 0.0;
    let price = p.cable.price_per_m;
    need(not_negative(price), "the cable", "price per metre", price, "0 or more");
    let diameter = p.cable.outside_diameter_mm;
    need(diameter.is_finite() && diameter > 0.0, "the cable", "outside diameter (mm)", diameter, "above 0");
    let loops = p.lengths.service_loop_m;
    need(not_negative(loops), "every run", "service loop (m)", loops, "0 or more");
    let waste = p.lengths.waste_fraction;
    need((0.0..=1.0).contains(&waste), "every run", "waste share", waste, "0 to 1");
    need(not_negative(p.joint_price), "every run", "price of its ends", p.joint_price, "0 or more");
    need(not_negative(p.box_price), "every box", "price", p.box_price, "0 or more");
    need(p.home_runs >= 1, "every line", "cables leaving its start", p.home_runs as f64, "1 or more");
    if let Some(limit) = limit {
        let db = limit.limit_db;
        need(db.is_finite() && db > 0.0, "every line", "loss limit (dB)", db, "above 0");
    }
    for t in &p.terminals {
        need(not_negative(t.watts), &t.id, "power (W)", t.watts, "0 or more");
        need(t.rise_m.is_finite(), &t.id, "height of its joint (m)", t.rise_m, "a number");
    }
    for f in &p.feeds {
        need(f.max_w.is_finite() && f.max_w > 0.0, &f.id, "power it can carry (W)", f.max_w, "above 0");
        need(f.rise_m.is_finite(), &f.id, "height of its start (m)", f.rise_m, "a number");
        need(not_negative(f.opening_price), &f.id, "price of using it", f.opening_price, "0 or more");
        need(
            not_negative(f.before_ohm),
            &f.id,
            "loop resistance before its start (ohm)",
            f.before_ohm,
            "0 or more",
        );
        if let Some(s) = &f.stub_out {
            need(not_negative(s.loop_ohm), &s.id, "loop resistance (ohm)", s.loop_ohm, "0 or more");
            need(not_negative(s.tail_m), &s.id, "cable sticking out (m)", s.tail_m, "0 or more");
        }
    }
}

fn names(p: &LineProblem, wrong: &mut Vec<LineProblemError>) {
    let mut seen = BTreeSet::new();
    for id in p.feeds.iter().map(|f| &f.id).chain(p.terminals.iter().map(|t| &t.id)) {
        if !seen.insert(id) {
            wrong.push(LineProblemError::Duplicate { id: id.clone() });
        }
    }
    for t in &p.terminals {
        if let Some(line) = &t.line
            && !p.feeds.iter().any(|f| f.id == *line)
        {
            let who = format!("loudspeaker {}", t.id);
            wrong.push(LineProblemError::Unknown { who, id: line.clone() });
        }
    }
    for run in &p.fixed {
        for id in [&run.from, &run.to] {
            if !seen.contains(id) {
                let who = format!("the fixed run {}-{}", run.from, run.to);
                wrong.push(LineProblemError::Unknown { who, id: id.clone() });
            }
        }
    }
}
