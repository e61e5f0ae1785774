//! Limits at the neighbours: is a level below, above, or too near to tell.

use super::contribution::{ReceiverLevel, SourceContribution};
use super::in_step::in_step_db;
use crate::level::{db_from_energy, energy_from_db, sum_db};
use loamline_geometry::{Point2, polyline_length};
use loamline_terms::A_OCTAVES_DB;
use serde::{Deserialize, Serialize};
use std::f64::consts::SQRT_2;

/// A limit at a neighbour, for one part of the day. Use one for the day and one for the night, each with the levels
/// of that part.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct NeighbourLimit {
    /// A-weighted limit, dBA; `None` where there is none.
    pub total_dba: Option<f64>,
    /// Limit of the 63 Hz octave, dB; `None` where there is none.
    pub octave_63_hz_db: Option<f64>,
    /// Whether the worst case counts, loudspeakers on one programme in step in the low octaves; else energy, as ISO 9613-2
    /// has it.
    #[serde(default)]
    pub worst_in_step: bool,
}

/// What a limit is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum LimitQuantity {
    /// A-weighted level.
    TotalDba,
    /// Level of the 63 Hz octave.
    Octave63Hz,
}

/// How a level stands to its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Below by the standard uncertainty or more.
    Fine,
    /// Below or at the limit, but by less than the standard uncertainty.
    WithinUncertainty,
    /// Above.
    Exceeds,
}

/// A level held against a limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Judgement {
    /// Place of the receiver in the list, from 0.
    pub receiver: usize,
    /// What is limited.
    pub quantity: LimitQuantity,
    /// Predicted level that is held against the limit, dBA or dB.
    pub level_db: f64,
    /// Sources added in energy, as ISO 9613-2 has it, dBA or dB.
    pub energy_db: f64,
    /// At worst, sources on one programme in step in the low octaves, dBA or dB; the same as `energy_db` for one source.
    pub in_step_db: f64,
    /// What reflections from all faces add to `energy_db`, dB.
    pub reflected_db: f64,
    /// Limit, dBA or dB.
    pub limit_db: f64,
    /// Limit less level, dB; negative above the limit.
    pub margin_db: f64,
    /// Standard uncertainty of the level, +- dB.
    pub standard_uncertainty_db: f64,
    /// The answer.
    pub verdict: Verdict,
    /// Chance that the true level is above the limit, 0 to 1, for normally distributed errors.
    pub chance_above: f64,
    /// Place in the scene of the source that gives most of it, from 0.
    pub loudest_source: usize,
    /// What that source gives alone, dBA or dB.
    pub loudest_source_db: f64,
    /// The level with that source silent, dBA or dB.
    pub without_loudest_db: f64,
}

/// Holds the levels at a neighbour's receivers (a point, or points along a boundary line) against a limit: for each
/// limited quantity the receiver with the least margin, the first of equals. Empty for no receivers or no limits.
pub fn judge(levels: &[ReceiverLevel], limit: &NeighbourLimit) -> Vec<Judgement> {
    let quantities =
        [(LimitQuantity::TotalDba, limit.total_dba), (LimitQuantity::Octave63Hz, limit.octave_63_hz_db)];
    quantities
        .into_iter()
        .filter_map(|(quantity, limit_db)| {
            let limit_db = limit_db.filter(|l| l.is_finite())?;
            levels
                .iter()
                .enumerate()
                .filter_map(|(receiver, level)| {
                    judge_one(receiver, level, quantity, (limit_db, limit.worst_in_step))
                })
                .min_by(|a, b| a.margin_db.total_cmp(&b.margin_db))
        })
        .collect()
}

/// Octave of 63 Hz among those of the method.
const OCTAVE_63_HZ: usize = 0;

impl LimitQuantity {
    /// The octave that is limited; `None` for the A-weighted level.
    pub fn octave(self) -> Option<usize> {
        match self {
            Self::TotalDba => None,
            Self::Octave63Hz => Some(OCTAVE_63_HZ),
        }
    }
}

/// Level of some of the sources together, dBA or dB.
fn together<'c>(
    sources: impl Iterator<Item = &'c SourceContribution> + Clone,
    quantity: LimitQuantity,
    in_step_octaves: usize,
) -> f64 {
    let octave = |b: usize| {
        let levels = sources.clone().map(|c| (c.programme, c.levels.bands_db[b]));
        if b < in_step_octaves { in_step_db(levels) } else { sum_db(levels.map(|l| l.1)) }
    };
    match quantity.octave() {
        Some(b) => octave(b),
        None => {
            let energies = A_OCTAVES_DB.iter().enumerate().map(|(b, a)| energy_from_db(octave(b) + a));
            db_from_energy(energies.sum())
        }
    }
}

fn judge_one(
    receiver: usize,
    level: &ReceiverLevel,
    quantity: LimitQuantity,
    (limit_db, worst): (f64, bool),
) -> Option<Judgement> {
    let octave = quantity.octave();
    let (energy_db, loudest) = (level.levels.level(octave), level.loudest(octave)?);
    let in_step_db = octave.map_or(level.in_step_dba, |b| level.in_step_bands_db[b]);
    let alone_db = loudest.levels.level(octave);
    let others = level.contributions.iter().filter(|c| c.source != loudest.source);
    let level_db = if worst { in_step_db } else { energy_db };
    let margin_db = limit_db - level_db;
    let u = level.standard_uncertainty_db;
    Some(Judgement {
        receiver,
        quantity,
        level_db,
        energy_db,
        in_step_db,
        reflected_db: level.all_reflected_db(quantity.octave()),
        limit_db,
        margin_db,
        standard_uncertainty_db: u,
        verdict: if margin_db < 0.0 {
            Verdict::Exceeds
        } else if margin_db < u {
            Verdict::WithinUncertainty
        } else {
            Verdict::Fine
        },
        chance_above: 0.5 * libm::erfc(margin_db / (u * SQRT_2)),
        loudest_source: loudest.source,
        loudest_source_db: alone_db,
        without_loudest_db: together(others, quantity, if worst { level.in_step_octaves } else { 0 }),
    })
}

/// Points along a line in plan, both ends among them, evenly spaced at no more than `spacing_m` (at least 0.01 m;
/// a spacing that is not a positive number counts as one step for the whole line). A line without length gives its
/// one point; no points give none.
pub fn sample_line(line: &[Point2], spacing_m: f64) -> Vec<Point2> {
    let Some(&first) = line.first() else { return Vec::new() };
    let total = polyline_length(line);
    if !(total.is_finite() && total > 0.0) {
        return vec![first];
    }
    let spacing = if spacing_m.is_finite() && spacing_m > 0.0 { spacing_m.max(0.01) } else { total };
    let steps = (total / spacing).ceil().max(1.0) as usize;
    let mut points = Vec::with_capacity(steps + 1);
    let (mut leg, mut before) = (0, 0.0);
    for k in 0..=steps {
        let place = total * k as f64 / steps as f64;
        while leg + 2 < line.len() && before + line[leg].distance(line[leg + 1]) < place {
            before += line[leg].distance(line[leg + 1]);
            leg += 1;
        }
        let length = line[leg].distance(line[leg + 1]);
        let t = if length > 0.0 { ((place - before) / length).clamp(0.0, 1.0) } else { 0.0 };
        points.push(line[leg].lerp(line[leg + 1], t));
    }
    points
}
