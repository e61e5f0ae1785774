//! What a proposal is asked for, what is told while it is made, and what comes out.

use indexmap::IndexMap;
use loamline_limits::{PROPOSAL_CLOCK_PER_WORK_S, PROPOSAL_CLOCK_S, PROPOSAL_WORK_S, PROPOSALS_S};
use loamline_model::Edit;
use loamline_quotation::{BillItem, PriceBook};
use loamline_study::Finding;
use loamline_terms::{InLanguage, PlacedMeasure, Sentence, Told, say};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::time::Duration;

/// A way of weighing cost against evenness and level.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum OptionKind {
    /// Meets the brief at least cost, the loudspeakers of an area matching as the brief wishes.
    LeastCost,
    /// As even as half of the way in money from the least to the most even buys.
    Balanced,
    /// As even as the budget allows.
    MostEven,
    /// As loud as budget, neighbours, evenness and equipment allow.
    Loudest,
    /// Meets the brief at least cost with any models side by side: what matching costs is the difference.
    LeastCostMixed,
}

impl OptionKind {
    /// All, in the order they are offered in.
    pub const ALL: [Self; 5] =
        [Self::LeastCost, Self::Balanced, Self::MostEven, Self::Loudest, Self::LeastCostMixed];

    /// The word for it, as typed.
    pub const fn word(self) -> &'static str {
        match self {
            Self::LeastCost => "least-cost",
            Self::Balanced => "balanced",
            Self::MostEven => "most-even",
            Self::Loudest => "loudest",
            Self::LeastCostMixed => "least-cost-mixed",
        }
    }

    /// The word for it within a sentence, before "design".
    pub(crate) fn told(self) -> Sentence {
        match self {
            Self::LeastCost => say!("least-cost"),
            Self::Balanced => say!("balanced"),
            Self::MostEven => say!("most-even"),
            Self::Loudest => say!("loudest"),
            Self::LeastCostMixed => say!("least-cost-mixed"),
        }
    }
}

/// How a proposal is made.
#[derive(Debug, Clone, PartialEq)]
pub struct ProposeOptions {
    /// Options wanted.
    pub wanted: Vec<OptionKind>,
    /// Work allowed for all of them together, as the seconds that two usual cores take for it (0.5 to 600); absent, what
    /// suits the size of the site: 20 s for a garden, two minutes for a large park. There is always one design, however little
    /// is allowed. It is reckoned from the steps of the search, never by the clock, so that the answer depends on this and
    /// on the seed alone.
    pub work_s: Option<f64>,
    /// Seed of the search.
    pub seed: u64,
    /// A person's own prices, margin and tax: what is not in it is priced by the catalogue.
    pub prices: PriceBook,
}

impl ProposeOptions {
    /// By the clock a proposal ends after this, whatever is done: far beyond what any site took on a slow machine, so that the
    /// answer does not hang on the clock. The work is counted in steps, and steps on a site that nobody thought of may take
    /// long.
    pub fn most(&self) -> Duration {
        let work_s = self.work_s.unwrap_or(120.0).clamp(0.0, PROPOSAL_WORK_S.number as f64);
        let s = PROPOSAL_CLOCK_S.number as f64 + PROPOSAL_CLOCK_PER_WORK_S.number as f64 * work_s;
        Duration::from_secs_f64(s.min(PROPOSALS_S.number as f64))
    }
}

impl Default for ProposeOptions {
    fn default() -> Self {
        Self { wanted: OptionKind::ALL.to_vec(), work_s: None, seed: 1, prices: PriceBook::default() }
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
    /// Which changes would meet a brief that cannot be met.
    Relaxing,
    /// Over.
    Done,
}

impl Phase {
    /// In words, for whoever waits.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Candidates => "Looking for places",
            Self::Choosing => "Choosing loudspeakers",
            Self::Refining => "Settling places and aims",
            Self::Building => "Wiring and routing",
            Self::Checking => "Checking",
            Self::Relaxing => "Trying changes that meet the brief",
            Self::Done => "Done",
        }
    }
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
    /// Price of the cheapest design so far that meets the brief, quoted as offers are; absent while none is built. What a choice
    /// is reckoned to cost meanwhile is not told.
    pub best_cost: Option<f64>,
    /// Proven of loudspeakers with their share of cable and amplifiers: no choice among the candidates that meets the brief on
    /// the points looked at, at the gains looked at, costs less, tax included. Absent before there is a design, and never above
    /// `best_cost`.
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
    /// Why the brief cannot be met, when no option meets it; the options then are the designs that come nearest.
    pub failure: Option<Failure>,
    /// What was asked for and not made, and why.
    pub notes: Vec<Told>,
    /// Places looked at.
    pub places: usize,
    /// Ways of using them looked at: model, aim and tap.
    pub candidates: usize,
    /// Proven lower bound of what [`Proposed::choice_cost`] of the cheapest option can be at the gains that were looked at,
    /// tax included. Absent where no option meets the brief, and where one costs less at other gains.
    pub bound: Option<f64>,
    /// Whether the search was left before it was done: the option then is the best whole design made by then, and `unmet` says
    /// what of the brief it does not meet. Absent where the search came to its end.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub unfinished: bool,
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
    /// What of the brief it does not meet; empty for a design that meets it.
    pub unmet: Vec<UnmetWish>,
    /// Whether the loudspeakers of each area are alike.
    pub matching: String,
    /// Loudspeakers proposed for each area, by their tags, subwoofers left out.
    pub served: IndexMap<String, Vec<String>>,
    /// Why it is as it is, in sentences: rows and models of each area, what it plays louder, what was given up.
    pub notes: Vec<Told>,
    /// Share of draws in which it keeps nine tenths of every area within its band, 0 to 1, when sensitivities, aims, places
    /// and the ground are not quite what was reckoned with; absent where it was not worked out.
    pub robust_share: Option<f64>,
    /// What each loudspeaker is for.
    pub reasons: Vec<Reason>,
    /// Lines that were measured or worked on and that it replaces: nothing of that is lost, see [`Replaced`].
    pub replaces: Vec<Replaced>,
    /// What wants attention in the finished design.
    pub findings: Vec<Finding>,
    /// What it takes: `figures.price` is the quotation of this bill.
    pub bill: Vec<BillItem>,
    /// The edit that writes it into the job; without operations where the job has the design already.
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
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
    /// The same in the languages that say it otherwise, by their names; none where none does.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub spoken: BTreeMap<String, InLanguage>,
}

/// What a design gives and takes.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = DesignFigures))]
pub struct Figures {
    /// What the client pays, tax included: the total of the quotation, to the cent.
    pub price: f64,
    /// The same before tax.
    pub net: f64,
    /// Tax, as the quotation has it.
    pub tax: f64,
    /// What rounding to the smallest amount paid adds to both, or takes from them.
    pub rounding: f64,
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
    /// Slit, trench and lifted paving, metres: what cables share counts once.
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
    /// Bass less mid band, dB.
    pub bass_over_mid_db: f64,
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
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
    /// The same in the languages that say it otherwise, by their names; none where none does.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub spoken: BTreeMap<String, InLanguage>,
}

/// A wish of the brief that a design does not meet.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct UnmetWish {
    /// What it is of: an area, a neighbour, the budget.
    pub constraint: Constraint,
    /// By how much it is missed: a share for an area, dB for a level, money for a budget, a number for loudspeakers.
    pub by: f64,
    /// The same as a sentence.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
    /// The measures in the sentence, for an app that shows them in other units; none where it has none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub measures: Vec<PlacedMeasure>,
    /// The same in the languages that say it otherwise, by their names; none where none does.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub spoken: BTreeMap<String, InLanguage>,
}

impl UnmetWish {
    /// A wish that is missed by so much, in a sentence.
    pub(crate) fn new(constraint: Constraint, by: f64, sentence: impl Into<Sentence>) -> Self {
        let Told { sentence, measures, spoken } = Told::from(sentence);
        Self { constraint, by, sentence, measures, spoken }
    }
}

/// A change of the brief or the site that was tried, and with which a design meets it.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Change {
    /// What it is, as a sentence.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
    /// The same in the languages that say it otherwise, by their names; none where none does.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub spoken: BTreeMap<String, InLanguage>,
    /// Price of the design found with it, tax included.
    pub price: f64,
    /// The edit that makes it so.
    pub edit: Edit,
}

impl Change {
    /// A change in a sentence, with the price of the design found with it.
    pub(crate) fn new(sentence: impl Into<Sentence>, price: f64, edit: Edit) -> Self {
        let Told { sentence, spoken, .. } = Told::from(sentence);
        Self { sentence, spoken, price, edit }
    }
}

/// Why no design meets the brief, and the nearest brief that one meets.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Failure {
    /// What stands in the way: a neighbour, the budget, the number, an area.
    pub constraint: Constraint,
    /// What stands in the way, with the numbers.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
    /// The same in the languages that say it otherwise, by their names; none where none does.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub spoken: BTreeMap<String, InLanguage>,
    /// What would be met instead, the first of `changes`; absent when nothing near was found.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>))]
    pub nearest: Option<Sentence>,
    /// The edit of the brief that makes it so.
    pub relax: Option<Edit>,
    /// Changes with each of which a design meets the brief, cheapest first: all were tried.
    pub changes: Vec<Change>,
}

impl Failure {
    /// What stands in the way, in a sentence, before any change was tried.
    pub(crate) fn new(constraint: Constraint, sentence: impl Into<Sentence>) -> Self {
        let Told { sentence, spoken, .. } = Told::from(sentence);
        Self { constraint, sentence, spoken, nearest: None, relax: None, changes: Vec::new() }
    }
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
    /// Checks of the finished design that the search found no way past.
    Checks,
}
