//! What a proposal is asked for, what is told while it is made, and what comes out.

use indexmap::IndexMap;
use loamline_model::Edit;
use loamline_study::Finding;
use serde::{Deserialize, Serialize};

/// A way of weighing cost against evenness.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum OptionKind {
    /// Meets the brief at least cost.
    LeastCost,
    /// As even as half of the way in money from the least to the most even buys.
    Balanced,
    /// As even as the budget allows.
    MostEven,
}

impl OptionKind {
    /// All, cheapest first.
    pub const ALL: [Self; 3] = [Self::LeastCost, Self::Balanced, Self::MostEven];

    /// The word for it, as typed.
    pub const fn word(self) -> &'static str {
        match self {
            Self::LeastCost => "least-cost",
            Self::Balanced => "balanced",
            Self::MostEven => "most-even",
        }
    }
}

/// How a proposal is made.
#[derive(Debug, Clone, PartialEq)]
pub struct ProposeOptions {
    /// Options wanted; each costs about as much work as the first.
    pub wanted: Vec<OptionKind>,
    /// Work allowed, as the seconds that two usual cores take for a usual garden (0.5 to 600); a large site takes a
    /// few times as long. It is counted in steps of the
    /// search, never by the clock, so that the answer depends on this and on the seed alone.
    pub work_s: f64,
    /// Seed of the search.
    pub seed: u64,
}

impl Default for ProposeOptions {
    fn default() -> Self {
        Self { wanted: OptionKind::ALL.to_vec(), work_s: 5.0, seed: 1 }
    }
}

/// What is being done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Phase {
    /// Where loudspeakers may stand, and what each would give.
    Candidates,
    /// Which of them to take.
    Choosing,
    /// Positions, aims and taps, on the full field.
    Refining,
    /// Lines, amplifiers, ways of the cable, processing.
    Building,
    /// The finished design held against the brief.
    Checking,
    /// Why the brief cannot be met and which can.
    Relaxing,
    /// Over.
    Done,
}

/// A sign of life, with how good the answer is so far.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ProposeProgress {
    /// What is being done.
    pub phase: Phase,
    /// For which option; absent before the first.
    pub option: Option<OptionKind>,
    /// Share of all work done, 0 to 1.
    pub done: f64,
    /// Price of the cheapest design so far that meets the brief, tax included: estimated while choosing, quoted once
    /// a design is built.
    pub best_cost: Option<f64>,
    /// Proven: no choice among the candidates that meets the brief on the points looked at costs less, tax included.
    pub bound: Option<f64>,
}

/// Hears of progress, from several threads; `false` ends the work with [`ProposeError::Cancelled`](crate::ProposeError::Cancelled).
pub type Watch<'w> = &'w (dyn Fn(&ProposeProgress) -> bool + Sync);

/// Designs that meet the brief, or why none does.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Proposal {
    /// Currency of all amounts.
    pub currency: String,
    /// Options that were asked for, cheapest first; two kinds that come to the same design stand together.
    pub options: Vec<Proposed>,
    /// Why the brief cannot be met, when no option meets it.
    pub failure: Option<Failure>,
    /// Places looked at.
    pub places: usize,
    /// Ways of using them looked at: model, aim and tap.
    pub candidates: usize,
    /// Proven lower bound of what [`Proposed::choice_cost`] of the least-cost option can be, tax included.
    pub bound: f64,
}

/// A whole design.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Proposed {
    /// Which options it is the answer to.
    pub kinds: Vec<OptionKind>,
    /// What it gives and takes.
    pub figures: Figures,
    /// Price of loudspeakers, their mounting, their share of cable and amplification, as the search saw it, tax included.
    pub choice_cost: f64,
    /// What each loudspeaker is for.
    pub reasons: Vec<Reason>,
    /// Lines that were measured or worked on and that it replaces: nothing of that is lost, see [`Replaced`].
    pub replaces: Vec<Replaced>,
    /// What wants attention in the finished design.
    pub findings: Vec<Finding>,
    /// The edit that writes it into the job.
    pub edit: Edit,
}

/// A line that a design replaces or takes away although something was measured or done on it. The visits keep their
/// readings, ticks and photos, with the line as it was.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Replaced {
    /// The line.
    pub line: String,
    /// Visits at which something was measured or done on it.
    pub visits: Vec<String>,
    /// Readings that were taken of it.
    pub readings: usize,
    /// Things ticked off on it.
    pub done: usize,
    /// Photos of it.
    pub photos: usize,
    /// The same as a sentence.
    pub sentence: String,
}

/// What a design gives and takes.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = DesignFigures))]
pub struct Figures {
    /// What the client pays, tax included.
    pub price: f64,
    /// The same before tax.
    pub net: f64,
    /// Areas by id.
    pub areas: IndexMap<String, ProposedArea>,
    /// Smallest share of an area within its band, 0 to 1.
    pub worst_share_within: f64,
    /// Largest spread of an area, dB.
    pub worst_spread_db: f64,
    /// Smallest margin below a limit at a neighbour, dB; absent without neighbours.
    pub neighbour_margin_db: Option<f64>,
    /// Loudest a person can stand in, dBA.
    pub loudest_dba: Option<f64>,
    /// Loudspeakers, subwoofers left out.
    pub loudspeakers: usize,
    /// Subwoofers.
    pub subwoofers: usize,
    /// Amplifiers.
    pub amplifiers: usize,
    /// Sum of taps, watts; of power at full drive on low impedance.
    pub watts: f64,
    /// Cable to cut, metres.
    pub cable_m: f64,
    /// Slit, trench and lifted paving, metres.
    pub digging_m: f64,
}

/// An area in a design.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = DesignAreaFigures))]
pub struct ProposedArea {
    /// Level wanted, dBA.
    pub target_dba: f64,
    /// Mean level, dBA.
    pub mean_dba: f64,
    /// Share within the band, 0 to 1.
    pub share_within: f64,
    /// 90th less 10th percentile, dB.
    pub spread_db: f64,
    /// Bass over the mid band, dB.
    pub bass_db: f64,
    /// Bass wanted, dB.
    pub bass_wanted_db: Option<f64>,
}

/// What a loudspeaker is for: what would be lost without it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Reason {
    /// Its tag.
    pub loudspeaker: String,
    /// Area that loses most.
    pub area: String,
    /// Share of that area that would leave its band, 0 to 1.
    pub share_lost: f64,
    /// Most that a place there would lose, dB.
    pub most_lost_db: f64,
    /// The same as a sentence.
    pub sentence: String,
}

/// Why no design meets the brief, and the nearest brief that one meets.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Failure {
    /// What stands in the way: a neighbour, the budget, the number, an area.
    pub constraint: Constraint,
    /// What stands in the way, with the numbers.
    pub sentence: String,
    /// What would be met instead; absent when nothing near was found.
    pub nearest: Option<String>,
    /// The edit of the brief that makes it so.
    pub relax: Option<Edit>,
}

/// A part of the brief that stands in the way.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(tag = "kind", content = "id", rename_all = "kebab-case")]
pub enum Constraint {
    /// A neighbour's limit.
    Neighbour(String),
    /// An area that cannot be filled evenly from where loudspeakers may stand.
    Area(String),
    /// The budget.
    Budget,
    /// The number of loudspeakers allowed.
    AtMost,
}
