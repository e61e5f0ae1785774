//! What is to be joined and under which limits.

use super::loss::LossModel;
use crate::lengths::LengthRules;
use crate::path::Opened;
use loamline_geometry::Point2;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Where a line may branch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Mode {
    /// From loudspeaker to loudspeaker: one cable in, one cable out.
    #[default]
    Chain,
    /// Several cables may leave a loudspeaker's joint.
    Branching,
    /// As branching, and a line may also branch in boxes placed in ground that allows joints and can be reached.
    Tree,
}

/// A loudspeaker to be joined.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Terminal {
    /// Its name, unique.
    pub id: String,
    /// Where it stands, in plan.
    pub at: Point2,
    /// Height of its joint above ground, metres (negative below); the cable climbs it.
    #[serde(default)]
    pub rise_m: f64,
    /// Power it takes from the line, watts, 0 or more.
    pub watts: f64,
    /// The line it must hang on; any line where absent.
    #[serde(default)]
    pub line: Option<String>,
}

/// Cable that is there already and is picked up at its end instead of laying new.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StubOut {
    /// Its name; lines on different conductors of one cable share it.
    pub id: String,
    /// Conductors in the cable; each line takes two.
    pub conductors: u32,
    /// Loop resistance from the amplifier to the stub's end, ohm.
    pub loop_ohm: f64,
    /// How much cable sticks out of the ground, metres.
    pub tail_m: f64,
}

/// A place where a line can start: a channel's output at a rack, or a pair of a stub-out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Feed {
    /// The line's name, unique.
    pub id: String,
    /// Where the cable starts, in plan.
    pub at: Point2,
    /// Height of the terminals above ground, metres; the cable climbs it.
    #[serde(default)]
    pub rise_m: f64,
    /// Sum of taps it can carry, watts, headroom already taken off; above 0.
    pub max_w: f64,
    /// Price of using it at all, 0 or more.
    #[serde(default)]
    pub opening_price: f64,
    /// Loop resistance of new cable between the rack or stub-out and its start, ohm, 0 or more: that of a trunk it comes
    /// through.
    #[serde(default)]
    pub before_ohm: f64,
    /// The stub-out it starts at; absent at a rack.
    #[serde(default)]
    pub stub_out: Option<StubOut>,
}

/// Cable used for all lines of a problem.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LineCable {
    /// Price per metre, 0 or more.
    pub price_per_m: f64,
    /// Outside diameter, millimetres, above 0.
    pub outside_diameter_mm: f64,
}

/// A run the person has decided.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FixedRun {
    /// A line's feed (by the line's name) or a loudspeaker.
    pub from: String,
    /// A loudspeaker.
    pub to: String,
    /// Points it passes, in order; the way between them is found. Empty: only who is joined is fixed.
    #[serde(default)]
    pub via: Vec<Point2>,
}

/// Loudspeakers to join to feeds at least installed cost.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LineProblem {
    /// Where lines may branch.
    #[serde(default)]
    pub mode: Mode,
    /// The loudspeakers.
    pub terminals: Vec<Terminal>,
    /// The lines that may be used.
    pub feeds: Vec<Feed>,
    /// The cable.
    pub cable: LineCable,
    /// Allowances on every run.
    #[serde(default)]
    pub lengths: LengthRules,
    /// Price of making off both ends of a run, 0 or more.
    #[serde(default)]
    pub joint_price: f64,
    /// Price of a branch box, 0 or more.
    #[serde(default)]
    pub box_price: f64,
    /// Cables that may leave a feed in chain mode, 1 or more.
    #[serde(default = "one")]
    pub home_runs: usize,
    /// Runs that must be as they are; the rest is solved around them.
    #[serde(default)]
    pub fixed: Vec<FixedRun>,
    /// What is open already, for other cable: a run that follows it pays no laying, or no hole, there.
    #[serde(default)]
    pub open: Opened,
    /// Time spent searching: 1 quick, 100 usual, 1000 patient. Time grows in proportion.
    #[serde(default = "usual")]
    pub effort: usize,
}

fn one() -> usize {
    1
}

fn usual() -> usize {
    100
}

/// Vertex of every name.
pub(super) fn index(problem: &LineProblem) -> BTreeMap<String, usize> {
    let ids = problem.feeds.iter().map(|f| &f.id).chain(problem.terminals.iter().map(|t| &t.id));
    ids.enumerate().map(|(i, id)| (id.clone(), i)).collect()
}

/// How much a line may lose.
#[derive(Clone, Copy)]
pub struct LossLimit<'a> {
    /// Works out the loss.
    pub model: &'a dyn LossModel,
    /// Most that the worst loudspeaker may lose, dB, above 0.
    pub limit_db: f64,
}

impl std::fmt::Debug for LossLimit<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("LossLimit").field("limit_db", &self.limit_db).finish_non_exhaustive()
    }
}
