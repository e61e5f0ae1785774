//! What every stage of a proposal speaks of: areas, limits, loudspeakers as proposed, and choices of them.

use loamline_acoustics::energy_from_db;
use loamline_design::Answer;
use loamline_geometry::Point2;
use loamline_model::document::{Area, Matching, Supply};
use std::ops::Range;

/// Gain below full drive that a working gain keeps: room for the equaliser, for air drier than usual and for a line
/// that loses a little, dB (common practice, no source).
pub(crate) const RESERVE_DB: f64 = 5.0;
/// Share of an area that must lie within its band.
pub(crate) const SHARE_WITHIN: f64 = 0.95;
/// Seconds' work of one try on a usual garden.
pub(crate) const TRY_S: f64 = 5.0;

/// A listening area as the search sees it.
pub(crate) struct Zone<'j> {
    pub id: &'j str,
    pub area: &'j Area,
    /// Place of its programme among the job's.
    pub programme: usize,
    /// How what plays there is fed.
    pub supply: Supply,
    /// The gain its taps were chosen for, in half decibels, where areas were designed apart: those of different gains share no
    /// channel.
    pub chosen_at: i64,
}

/// In what unit the amplification of a whole site is counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum AmplificationUnit {
    /// Every line is of constant voltage.
    Watts,
    /// Every line is of low impedance.
    Siemens,
    /// Some of each: conductance counts for so many watts of tap. Whatever the figure, amplifiers that feed all feed at
    /// least so much of the sum, so that a bound on their price holds.
    Both { watts_per_siemens: f64 },
}

/// A limit: at a point of a neighbour, or on other programmes in an area.
#[derive(Clone)]
pub(crate) struct Limit {
    /// Neighbour, or area.
    pub id: String,
    /// The neighbour's floor, where it has several.
    pub floor: Option<String>,
    /// Whether it is a neighbour's.
    pub neighbour: bool,
    /// Whether it is the limit of the 63 Hz octave.
    pub octave_63: bool,
    /// Whether the night, with the system turned down, is what limits.
    pub night: bool,
    /// The limit that stands in the brief, dB or dBA.
    pub stated_db: f64,
    /// Energy allowed by day, margin taken off.
    pub energy: f64,
    pub(crate) receiver: usize,
}

/// A loudspeaker as proposed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pose {
    /// Place among the models offered.
    pub model: usize,
    pub at: Point2,
    /// Height above the ground where it is not the usual one, metres.
    pub height_m: Option<f64>,
    /// On a wall: bearing away from its face, degrees.
    pub out_deg: Option<f64>,
    pub bearing_deg: f64,
    pub pitch_deg: f64,
    /// Area it serves.
    pub zone: usize,
    pub tap_w: f64,
    /// Wired the other way round.
    pub reversed: bool,
}

/// What a loudspeaker gives at 1 W of tap and no gain.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Row {
    /// A-weighted energy at every point, re the target there.
    pub points: Vec<f32>,
    /// Share of every limit.
    pub limits: Vec<f32>,
}

/// How alike the loudspeakers of an area are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Likeness {
    /// One model on one tap, evenly in rows.
    Rows,
    /// One model; each stands, and is driven, for itself.
    OneModel,
    /// Any models side by side.
    Any,
}

impl Likeness {
    /// What the brief wishes of it that it keeps to.
    pub fn matching(self) -> Matching {
        match self {
            Self::Rows | Self::OneModel => Matching::Alike,
            Self::Any => Matching::Mixed,
        }
    }
}

/// How narrow the band is, per area, and how many points may lie outside it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LevelBand {
    /// Half the width of the band, dB, by area.
    pub half_db: Vec<f64>,
    /// How far below its target an area is to play, dB, by area: 0 but where a nearer brief is looked for.
    pub lower_db: Vec<f64>,
    /// How much higher an area plays once its channels are equalised and its gains set, by what a design built before
    /// showed, dB.
    pub finished_db: Vec<f64>,
    /// The same at every point of the fine grid, from a design built of almost the same loudspeakers; empty before one was.
    pub finished_at_db: Vec<f64>,
    /// Areas that are not looked at.
    pub ignored: Vec<bool>,
    /// The only model of each area; any where there is none.
    pub model: Vec<Option<usize>>,
    /// Share of points that may lie outside.
    pub outside: f64,
    /// Margin kept below every limit beside the one the brief asks, dB.
    pub limits_db: f64,
    /// Most loudspeakers in all, pinned ones and subwoofers included.
    pub at_most: usize,
}

impl LevelBand {
    /// How much higher a point of the fine grid plays once the system is finished than the energies say, dB.
    pub fn finished_at(&self, zone: usize, point: usize) -> f64 {
        self.finished_at_db.get(point).copied().unwrap_or(self.finished_db[zone])
    }
}

/// Loudspeakers chosen, with their taps.
#[derive(Debug, Clone)]
pub(crate) struct Choice {
    pub poses: Vec<Pose>,
    /// Which of them stand in a row; none where each was chosen for itself.
    pub rows: Vec<Range<usize>>,
    pub gains: Gains,
    pub cost: f64,
    pub meets: bool,
    pub answer: Answer,
}

/// Working gains, by area.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Gains(pub Vec<f64>);

impl Gains {
    /// Gain of the channel a loudspeaker is on, dB re full drive.
    pub fn of_db(&self, pose: &Pose) -> f64 {
        self.0.get(pose.zone).copied().unwrap_or(-RESERVE_DB)
    }

    /// The same as energy.
    pub fn of(&self, pose: &Pose) -> f64 {
        energy_from_db(self.of_db(pose))
    }
}

/// What is known of the working gains before loudspeakers are chosen.
#[derive(Debug, Clone, Copy)]
pub(crate) enum KnownGains<'g> {
    /// Nothing: all that can be are looked at.
    Nothing,
    /// They are near these: those of a design for almost the same brief.
    About(&'g Gains),
    /// They are these.
    Exactly(&'g Gains),
}

/// Subwoofers proposed, with their share of every limit as they are driven.
#[derive(Debug, Clone, Default)]
pub(crate) struct Subwoofers {
    pub poses: Vec<Pose>,
    pub limits: Vec<f64>,
    /// Areas whose bass cannot be reached, with the level that can, dB over the mid band.
    pub short: Vec<(usize, f64)>,
}
