//! The answer: lines, runs, quantities, and what the crew must be told.

use super::told;
use crate::fill::Fill;
use crate::ground::Method;
use crate::lengths::RunLength;
use crate::path::{Opened, Path};
use loamline_geometry::Point2;
use loamline_terms::{Sentence, say};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;

/// One length of cable.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RoutedRun {
    /// Feed, loudspeaker or box it comes from.
    pub from: String,
    /// Loudspeaker or box it goes to.
    pub to: String,
    /// Whether the person decided it.
    pub fixed: bool,
    /// Its way.
    pub path: Path,
    /// Its length, and what to order.
    pub length: RunLength,
    /// Laying, cable and both ends.
    pub price: f64,
    /// What it opens.
    #[serde(skip)]
    pub opened: Opened,
}

impl RoutedRun {
    /// What lies open where it is laid: what it opens, and the ground that others have opened for it.
    pub fn open_beside(&self) -> Opened {
        let followed = self.path.waypoints.windows(2).filter(|w| w[1].method == Method::SharedTrench);
        let mut all = self.opened.clone();
        all.ground.extend(followed.map(|w| [w[0].at, w[1].at]));
        all
    }
}

/// A branch box.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BranchBox {
    /// Its name, unique in the answer: "box-1", "box-2"...
    pub id: String,
    /// Where it goes.
    pub at: Point2,
}

/// One line: a tree of runs from its feed outwards.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RoutedLine {
    /// The feed's name.
    pub id: String,
    /// Runs, each after the run that feeds it.
    pub runs: Vec<RoutedRun>,
    /// Branch boxes.
    pub boxes: Vec<BranchBox>,
    /// Sum of taps, watts.
    pub load_w: f64,
    /// Loss at its worst loudspeaker by the model given, dB; absent without a model.
    pub loss_db: Option<f64>,
    /// Its share of the quantities.
    #[serde(skip)]
    pub totals: Totals,
}

/// A sleeve with what goes through it in the end.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SleeveUse {
    /// The sleeve.
    pub sleeve: String,
    /// Runs drawn through it, as "from-to".
    pub runs: Vec<String>,
    /// How full it is with everything in it.
    pub fill: Fill,
}

/// Quantities over all lines.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Totals {
    /// Cable to order, metres.
    pub order_m: f64,
    /// Metres of way by method; ground that several runs share counts once, under the method first used there.
    pub by_method_m: BTreeMap<Method, f64>,
    /// Metres dug by hand.
    pub hand_dig_m: f64,
    /// Laying, without cable.
    pub laying_price: f64,
    /// Cable, waste included.
    pub cable_price: f64,
    /// Ends made off, boxes and feeds opened.
    pub joints_price: f64,
    /// Everything.
    pub price: f64,
}

/// Lines that join the loudspeakers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RoutedLines {
    /// Lines in use, in the order of the feeds.
    pub lines: Vec<RoutedLine>,
    /// Sleeves in use.
    pub sleeves: Vec<SleeveUse>,
    /// Quantities.
    pub totals: Totals,
    /// What the crew or the person must know; empty when all is well.
    pub findings: Vec<LineFinding>,
    /// What it took to find them.
    #[serde(skip)]
    pub work: Work,
}

/// Work of a search, counted: the same on every machine and any number of threads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Work {
    /// Points of the ground whose price was settled, over all searches.
    pub settled: u64,
    /// Runs that were priced, both directions.
    pub pairs: u64,
}

impl Work {
    /// Takes in more work.
    pub fn add(&mut self, more: &Self) {
        self.settled += more.settled;
        self.pairs += more.pairs;
    }
}

impl Totals {
    /// Takes in what more comes to.
    pub fn add(&mut self, more: &Self) {
        self.order_m += more.order_m;
        self.hand_dig_m += more.hand_dig_m;
        self.laying_price += more.laying_price;
        self.cable_price += more.cable_price;
        self.joints_price += more.joints_price;
        self.price += more.price;
        for (method, m) in &more.by_method_m {
            *self.by_method_m.entry(*method).or_default() += m;
        }
    }
}

impl RoutedLines {
    /// What all runs open, free for others that take the same way.
    pub fn opened(&self) -> Opened {
        let mut all = Opened::default();
        self.lines.iter().flat_map(|l| &l.runs).for_each(|r| all.extend(&r.opened));
        all
    }

    /// Takes a line out, with its share of the quantities and what is told of its runs. How full a sleeve is stays as it was.
    pub fn take_out(&mut self, line: &str) -> Option<RoutedLine> {
        let at = self.lines.iter().position(|l| l.id == line)?;
        let out = self.lines.remove(at);
        self.findings.retain(|f| !f.is_of(&out));
        let names: Vec<String> = out.runs.iter().map(|r| format!("{}-{}", r.from, r.to)).collect();
        self.sleeves.iter_mut().for_each(|s| s.runs.retain(|r| !names.contains(r)));
        self.sleeves.retain(|s| !s.runs.is_empty());
        self.totals = Totals::default();
        self.lines.iter().for_each(|l| self.totals.add(&l.totals));
        Some(out)
    }

    /// Whether these lines are to be preferred: fewer errors first, then the price.
    pub(super) fn is_better_than(&self, other: &Self) -> bool {
        let errors = |l: &Self| l.findings.iter().filter(|f| f.is_error()).count();
        (errors(self), self.totals.price) < (errors(other), other.totals.price - 1e-6)
    }
}

/// Something about the lines that a person must know.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case", tag = "finding")]
pub enum LineFinding {
    /// A run crosses a buried service.
    HandDig {
        /// Start of the run.
        from: String,
        /// End of the run.
        to: String,
        /// The service.
        service: String,
        /// How often it is crossed.
        crossings: usize,
        /// Metres within the clearance.
        hand_dig_m: f64,
    },
    /// A run comes closer to a buried service than its clearance, other than to cross it.
    ServiceTooClose {
        /// Start of the run.
        from: String,
        /// End of the run.
        to: String,
        /// The service.
        service: String,
        /// Least distance, metres.
        distance_m: f64,
        /// Clearance asked for, metres.
        clearance_m: f64,
        /// Metres within it.
        within_m: f64,
    },
    /// A sleeve has no room for a run: the run goes another way, or, where there is none, through it
    /// nevertheless.
    FillOverLimit {
        /// The sleeve.
        sleeve: String,
        /// Start of the run.
        from: String,
        /// End of the run.
        to: String,
        /// Cables in it, old and new.
        cables: usize,
        /// How full, fraction of its cross-section.
        fill_fraction: f64,
        /// The limit.
        limit_fraction: f64,
        /// What the other way costs more, cable and laying; `None` where there is no other way.
        detour_price: Option<f64>,
    },
    /// A stub-out's tail does not reach into a joint.
    StubTooShort {
        /// The stub-out.
        stub_out: String,
        /// Cable there is, metres.
        tail_m: f64,
        /// Cable needed: rise and service loop, metres.
        needed_m: f64,
    },
    /// More lines use a stub-out than it has pairs for.
    StubTooFewConductors {
        /// The stub-out.
        stub_out: String,
        /// Conductors it has.
        conductors: u32,
        /// Conductors needed.
        needed: u32,
        /// The lines.
        lines: Vec<String>,
    },
    /// A line loses more than allowed.
    LossOverLimit {
        /// The line.
        line: String,
        /// Loss, dB.
        loss_db: f64,
        /// The limit, dB.
        limit_db: f64,
    },
    /// No feed has the power left for a loudspeaker.
    NoPowerLeft {
        /// The loudspeaker.
        terminal: String,
        /// What it takes, watts.
        watts: f64,
        /// The most any allowed line has left, watts.
        room_w: f64,
    },
    /// A run the person fixed could not be kept: it would make a ring, branch where that is not allowed, or join
    /// two lines.
    FixedRunDropped {
        /// Start of the run.
        from: String,
        /// End of the run.
        to: String,
    },
}

impl fmt::Display for LineFinding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.told())
    }
}

impl LineFinding {
    /// The same in words, its lengths as numbers, to be said in any language; a run goes by its ends.
    #[must_use]
    pub fn told(&self) -> Sentence {
        let (from, to) = self.run().unwrap_or_default();
        self.told_of(&format!("{from}-{to}"))
    }

    /// The two ends of the run it is about; `None` where it is about no single run.
    pub fn run(&self) -> Option<(&str, &str)> {
        match self {
            Self::HandDig { from, to, .. }
            | Self::ServiceTooClose { from, to, .. }
            | Self::FillOverLimit { from, to, .. }
            | Self::FixedRunDropped { from, to } => Some((from.as_str(), to.as_str())),
            Self::LossOverLimit { .. }
            | Self::StubTooShort { .. }
            | Self::StubTooFewConductors { .. }
            | Self::NoPowerLeft { .. } => None,
        }
    }

    /// The same for whoever knows its run by a tag.
    #[must_use]
    pub fn told_of(&self, run: &str) -> Sentence {
        match self {
            Self::HandDig { service, crossings, hand_dig_m, .. } => {
                told::hand_dig(run, service, *crossings, *hand_dig_m)
            }
            Self::ServiceTooClose { service, distance_m, clearance_m, within_m, .. } => {
                told::too_close(run, service, (*distance_m, *clearance_m, *within_m))
            }
            Self::FillOverLimit { sleeve, cables, fill_fraction, limit_fraction, detour_price, .. } => {
                told::too_full(sleeve, run, (*cables, *fill_fraction, *limit_fraction), *detour_price)
            }
            Self::StubTooShort { stub_out, tail_m, needed_m } => {
                told::too_short(stub_out, *tail_m, *needed_m)
            }
            Self::StubTooFewConductors { stub_out, conductors, needed, lines } => say!(
                "stub-out {stub} has {conductors} conductors; the lines {lines} need {needed}",
                stub = stub_out,
                conductors = conductors.to_string(),
                lines = lines.join(", "),
                needed = needed.to_string()
            ),
            Self::LossOverLimit { line, loss_db, limit_db } => say!(
                "line {line} loses {loss} dB at its worst loudspeaker; the limit is {limit} dB: use thicker cable, another feed or \
                 lower taps",
                line = line,
                loss = loamline_terms::fixed(loss_db, 2),
                limit = loamline_terms::fixed(limit_db, 2)
            ),
            Self::NoPowerLeft { terminal, watts, room_w } => say!(
                "loudspeaker {loudspeaker} takes {watts} W and no line it may hang on has more than {room} W left",
                loudspeaker = terminal,
                watts = watts.to_string(),
                room = loamline_terms::fixed(room_w, 1)
            ),
            Self::FixedRunDropped { .. } => say!(
                "the fixed run {run} could not be kept: with the other fixed runs it makes a ring, a branch this mode does not \
                 allow, or joins two lines",
                run = run
            ),
        }
    }

    /// Whether it is of a line or one of its runs.
    fn is_of(&self, line: &RoutedLine) -> bool {
        match (self.run(), self) {
            (Some((from, to)), _) => line.runs.iter().any(|r| r.from == from && r.to == to),
            (None, Self::LossOverLimit { line: id, .. }) => *id == line.id,
            (None, _) => false,
        }
    }

    /// Whether the lines must not be built like this; the rest is advice for the crew.
    pub fn is_error(&self) -> bool {
        !matches!(self, Self::HandDig { .. } | Self::FillOverLimit { detour_price: Some(_), .. })
    }
}
