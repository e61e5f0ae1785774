//! Limits at the neighbours: is a level below, above, or too near to tell.

use super::levels::ReceiverLevel;
use loamline_geometry::{Point2, polyline_length};
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
    /// Predicted level, dBA or dB.
    pub level_db: f64,
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
                .filter_map(|(receiver, level)| judge_one(receiver, level, quantity, limit_db))
                .min_by(|a, b| a.margin_db.total_cmp(&b.margin_db))
        })
        .collect()
}

fn judge_one(
    receiver: usize,
    level: &ReceiverLevel,
    quantity: LimitQuantity,
    limit_db: f64,
) -> Option<Judgement> {
    let (level_db, loudest, of): (_, _, fn(&super::SourceContribution) -> f64) = match quantity {
        LimitQuantity::TotalDba => (level.total_dba, level.loudest()?, |c| c.total_dba),
        LimitQuantity::Octave63Hz => (level.bands_db[0], level.loudest_at_63_hz()?, |c| c.bands_db[0]),
    };
    let others = level.contributions.iter().filter(|c| c.source != loudest.source).map(of);
    let margin_db = limit_db - level_db;
    let u = level.standard_uncertainty_db;
    Some(Judgement {
        receiver,
        quantity,
        level_db,
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
        loudest_source_db: of(loudest),
        without_loudest_db: crate::level::sum_db(others),
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
