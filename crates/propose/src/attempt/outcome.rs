//! What a design is to be, and what came of it.

use crate::api::{Figures, OptionKind};
use crate::build::Built;
use crate::measure::{Kept, Missed};
use crate::types::{Choice, Gains, Likeness, Pose};
use loamline_design::Effort;
use loamline_geometry::Point2;
use std::collections::BTreeMap;

/// A place that was written to the centimetre is this near to where it was meant, metres.
const SAME_PLACE_M: f64 = 0.01;

/// What a design is to be.
pub(crate) struct Wish<'a> {
    pub kind: OptionKind,
    /// How alike the loudspeakers of an area are to be.
    pub likeness: Likeness,
    /// Part of the brief's band that is designed for: smaller is evener.
    pub part: f64,
    pub effort: Effort,
    /// Working gains, where they are known, and what they are near where they are not.
    pub gains: Option<Gains>,
    pub about: Option<Gains>,
    /// What to start from.
    pub start: Start<'a>,
    /// What a design before missed: the band is narrower there.
    pub missed: Option<&'a Missed>,
    /// Choices made before giving up, each narrower where the last one missed.
    pub attempts: usize,
    /// Price from which on it is not worth finishing, tax included.
    pub below: Option<f64>,
    /// Whether there has to be a design, however far from the brief it is.
    pub always: bool,
    /// Whether it is the first: what was told before were estimates without the ways of the cable.
    pub first: bool,
}

/// What a design is made from.
pub(crate) enum Start<'a> {
    /// Loudspeakers yet to choose.
    Nothing,
    /// A choice to settle.
    Choice(Choice),
    /// A design to settle again.
    Made(&'a Made),
}

/// What came of an attempt.
pub(crate) enum Outcome {
    Met(Box<Made>),
    Unmet { choice: Box<Choice>, missed: Option<Missed>, nearest: Option<Box<Made>> },
}

impl Outcome {
    /// The choice that a design which meets the brief was made from.
    pub fn met_choice(&self) -> Option<&Choice> {
        match self {
            Self::Met(made) => Some(&made.choice),
            Self::Unmet { .. } => None,
        }
    }

    /// What the loudspeakers of a design that meets the brief cost as chosen, tax included.
    pub fn choice_cost(&self) -> Option<f64> {
        self.met_choice().map(|c| c.cost)
    }

    /// Whether no design came of it at all.
    pub const fn is_nothing(&self) -> bool {
        matches!(self, Self::Unmet { nearest: None, .. })
    }

    /// Price of a design that meets the brief, tax included.
    pub fn price(&self) -> Option<f64> {
        match self {
            Self::Met(made) => Some(made.figures.price),
            Self::Unmet { .. } => None,
        }
    }
}

/// A design.
pub(crate) struct Made {
    pub built: Built,
    pub figures: Figures,
    /// What it misses of the brief; nothing for one that meets it.
    pub missed: Missed,
    pub likeness: Likeness,
    pub choice: Choice,
    /// Share of draws in which it keeps its promise though things vary a little, 0 to 1.
    pub robust_share: f64,
    /// What wishes that it does not meet are worth, in money: areas that could be mirrored and are not, loudspeakers too near others.
    pub wished: f64,
    /// Its loudspeakers as settled, subwoofers left out.
    pub poses: Vec<Pose>,
    /// Its subwoofers.
    pub subs: Vec<Pose>,
    /// Whether areas have gains of their own where channels are left.
    pub own_gains: bool,
    /// Loudspeakers without which nothing seems to leave its band, by tag, and why they stay.
    pub kept: BTreeMap<String, Kept>,
}

/// What a design that always keeps its promise is worth more than one that never does, as a part of its price.
const ROBUST: f64 = 0.06;

impl Made {
    /// Price with what it risks and what it leaves to be wished, for comparing designs that meet the brief.
    pub fn worth(&self) -> f64 {
        self.figures.price * (1.0 + ROBUST * (1.0 - self.robust_share)) + self.wished
    }

    /// Tag of the loudspeaker of a model at a place.
    pub fn tag_of(&self, model: &str, at: Point2) -> Option<String> {
        let here = |l: &loamline_model::PlacedLoudspeaker<'_>| {
            l.placed.model == model && l.placed.position.distance(at) <= SAME_PLACE_M
        };
        self.built.study.job().loudspeakers().find(here).map(|l| l.id.to_owned())
    }
}
