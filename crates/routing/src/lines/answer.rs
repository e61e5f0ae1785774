//! The answer: lines, runs, quantities, and what the crew must be told.

use crate::fill::Fill;
use crate::ground::Method;
use crate::lengths::RunLength;
use crate::path::Path;
use loamline_geometry::Point2;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use thiserror::Error;

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
}

impl RoutedLines {
    /// Whether these lines are to be preferred: fewer errors first, then the price.
    pub(super) fn is_better_than(&self, other: &Self) -> bool {
        let errors = |l: &Self| l.findings.iter().filter(|f| f.is_error()).count();
        (errors(self), self.totals.price) < (errors(other), other.totals.price - 1e-6)
    }
}

/// Something about the lines that a person must know.
#[derive(Debug, Clone, PartialEq, Error, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case", tag = "finding")]
pub enum LineFinding {
    /// A run crosses a buried service.
    #[error("the run {from}-{to} crosses {service} {}: dig {hand_dig_m:.2} m by hand there", times(*crossings))]
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
    #[error(
        "the run {from}-{to} comes within {distance_m:.2} m of {service}, which asks for {clearance_m:.2} m, over {within_m:.2} m of its way: move its ends or its way"
    )]
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
    #[error(
        "sleeve {sleeve} would be {:.0} % full with {cables} cables and the limit is {:.0} %: the run {from}-{to} {}",
        fill_fraction * 100.0, limit_fraction * 100.0, detour(*detour_price)
    )]
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
    #[error(
        "stub-out {stub_out} sticks out {tail_m:.2} m; its joint needs {needed_m:.2} m: put the joint lower or splice an end on"
    )]
    StubTooShort {
        /// The stub-out.
        stub_out: String,
        /// Cable there is, metres.
        tail_m: f64,
        /// Cable needed: rise and service loop, metres.
        needed_m: f64,
    },
    /// More lines use a stub-out than it has pairs for.
    #[error("stub-out {stub_out} has {conductors} conductors; the lines {} need {needed}", lines.join(", "))]
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
    #[error(
        "line {line} loses {loss_db:.2} dB at its worst loudspeaker; the limit is {limit_db:.2} dB: use thicker cable, another feed or lower taps"
    )]
    LossOverLimit {
        /// The line.
        line: String,
        /// Loss, dB.
        loss_db: f64,
        /// The limit, dB.
        limit_db: f64,
    },
    /// No feed has the power left for a loudspeaker.
    #[error(
        "loudspeaker {terminal} takes {watts} W and no line it may hang on has more than {room_w:.1} W left"
    )]
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
    #[error(
        "the fixed run {from}-{to} could not be kept: with the other fixed runs it makes a ring, a branch this mode does not allow, or joins two lines"
    )]
    FixedRunDropped {
        /// Start of the run.
        from: String,
        /// End of the run.
        to: String,
    },
}

fn times(count: usize) -> String {
    match count {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    }
}

fn detour(price: Option<f64>) -> String {
    match price {
        Some(more) => format!("goes another way, {more:.2} dearer; a further sleeve may pay"),
        None => "has no other way; lay a further sleeve".to_owned(),
    }
}

impl LineFinding {
    /// Whether the lines must not be built like this; the rest is advice for the crew.
    pub fn is_error(&self) -> bool {
        !matches!(self, Self::HandDig { .. } | Self::FillOverLimit { detour_price: Some(_), .. })
    }
}
