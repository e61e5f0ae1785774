//! Gains of the channels of a built design: every area on its level with as much of it as possible within the band, the
//! subwoofers on the bass asked.

use crate::error::BriefProblem;
use crate::types::SHARE_WITHIN;
use indexmap::IndexMap;
use loamline_acoustics::{Points, Weighting, energy_from_db, energy_matrix};
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::{Edit, Operation};
use loamline_study::Study;
use loamline_tune::Tuned;
use serde_json::json;

/// Step of a gain, dB: what any equipment has.
const STEP_DB: f64 = 0.5;
/// Weight of the share outside the band beside the mean square deviation, dB2.
const OUTSIDE: f64 = 60.0;
/// Weight of the share outside the band beyond what the brief allows, less a little: an area that misses its brief counts
/// for more than one that is a little less even.
const SHORT: f64 = 600.0;
const SPARE: f64 = 0.005;
/// Weight of an overrun limit at a neighbour, per dB.
const OVERRUN: f64 = 3000.0;
/// A gain is not changed by more than this at once, dB.
const MOST_DB: f64 = 12.0;

/// One area's points: energy of each channel re the target.
struct AreaEnergies {
    within_db: f64,
    /// [channel][point]
    energy: Vec<Vec<f64>>,
}

/// Better gains, as an edit; empty when they stand well.
pub(crate) fn trim(study: &Study, tuned: &Tuned) -> Result<Edit, BriefProblem> {
    let heard = study.heard();
    let (Some(sound), Some(levels)) = (&heard.sound, &heard.levels) else {
        return Err(BriefProblem::NothingHeard);
    };
    let job = study.job();
    let d = job.document();
    let channels: Vec<&String> = d.channels.keys().collect();
    let of_source: Vec<Option<usize>> = sound
        .sources
        .iter()
        .map(|tag| {
            let line = d.loudspeakers.get(tag)?.line.as_ref()?;
            let channel = d.lines.get(line)?.channel.as_ref()?;
            channels.iter().position(|c| *c == channel)
        })
        .collect();
    let bass: Vec<bool> = channels
        .iter()
        .map(|c| {
            let all: Vec<_> = d.lines.iter().filter(|(_, l)| l.channel.as_ref() == Some(*c)).collect();
            let mut members = all.iter().flat_map(|(id, _)| job.loudspeakers_of_line(id)).peekable();
            members.peek().is_some() && members.all(|l| l.model.kind == LoudspeakerKind::Subwoofer)
        })
        .collect();
    let a = Weighting::A.band_gains_db().map(energy_from_db);
    let mut areas = Vec::new();
    for area in levels.areas.values() {
        let places =
            area.points.iter().step_by(area.points.len().div_ceil(160).max(1)).map(|p| p.0).collect();
        let points = Points::new(&sound.scene, places)?;
        let matrix = energy_matrix(&sound.scene, &points)?;
        let target = energy_from_db(area.target_dba);
        let mut energy = vec![vec![0.0; points.len()]; channels.len()];
        for (s, channel) in of_source.iter().enumerate() {
            let Some(c) = channel else { continue };
            for (p, sum) in energy[*c].iter_mut().enumerate() {
                let row = matrix.band_energies(p, s);
                *sum += row.iter().zip(&a).map(|(e, g)| f64::from(*e) * g).sum::<f64>() / target;
            }
        }
        areas.push(AreaEnergies { within_db: area.within_db, energy });
    }
    let limits = limits(study, &heard.neighbours, &of_source, channels.len());
    let job = study.job();
    let d = job.document();
    let highest: Vec<f64> = channels
        .iter()
        .map(|c| {
            let cost = tuned.channels.get(*c).and_then(|t| t.limiter_cost);
            let top = (-cost.map_or(0.0, |x| x.reduction_db) / STEP_DB).floor() * STEP_DB;
            (top - d.channels.get(*c).map_or(0.0, |x| x.gain_db)).max(0.0)
        })
        .collect();
    let mut change = vec![0.0; channels.len()];
    let mut now = penalty(&areas, &limits, &change);
    for step in [4.0 * STEP_DB, 2.0 * STEP_DB, STEP_DB, STEP_DB] {
        for _ in 0..6 {
            let before = now;
            for c in (0..channels.len()).filter(|c| !bass[*c]) {
                for by in [step, -step] {
                    let old = change[c];
                    change[c] = (old + by).clamp(-MOST_DB, highest[c].min(MOST_DB));
                    let then = penalty(&areas, &limits, &change);
                    if then < now - 1e-9 { now = then } else { change[c] = old }
                }
            }
            if now >= before - 1e-9 {
                break;
            }
        }
    }
    // The bass follows what is asked; what the mains change, it changes with them.
    let asked: Vec<f64> = levels
        .areas
        .iter()
        .filter_map(|(id, area)| Some(d.areas.get(id)?.bass_db? - area.statistics.bass_over_mid_db))
        .collect();
    let mains: Vec<f64> = (0..channels.len()).filter(|c| !bass[*c]).map(|c| change[c]).collect();
    if !asked.is_empty() && !mains.is_empty() {
        let by =
            asked.iter().sum::<f64>() / asked.len() as f64 + mains.iter().sum::<f64>() / mains.len() as f64;
        for c in (0..channels.len()).filter(|c| bass[*c]) {
            change[c] = ((by / STEP_DB).round() * STEP_DB).clamp(-MOST_DB, highest[c].min(MOST_DB));
        }
    }
    let operations = channels.iter().zip(&change).filter(|(_, by)| **by != 0.0).map(|(c, by)| {
        let gain = d.channels.get(*c).map_or(0.0, |x| x.gain_db) + by;
        Operation::Add { path: format!("/channels/{c}/gain"), value: json!(gain), before: None }
    });
    Ok(Edit { operations: operations.collect() })
}

/// Per limit and channel: share of the energy allowed, by day with the margin asked.
fn limits(
    study: &Study,
    neighbours: &IndexMap<String, loamline_study::NeighbourLevels>,
    of_source: &[Option<usize>],
    channels: usize,
) -> Vec<Vec<f64>> {
    let d = study.job().document();
    let (margin, down) = (d.brief.neighbour_margin_db, d.brief.night_turn_down_db);
    let mut out = Vec::new();
    for (id, levels) in neighbours {
        let Some(n) = d.neighbours.get(id) else { continue };
        let dba = n.day_dba.min(n.night_dba.unwrap_or(n.day_dba) + down) - margin;
        let day = n.day_63hz_db.unwrap_or(f64::INFINITY);
        let octave = day.min(n.night_63hz_db.map_or(day, |l| l) + down) - margin;
        for r in &levels.receivers {
            let mut shares = vec![vec![0.0; channels]; 2];
            for x in &r.contributions {
                let Some(c) = of_source.get(x.source).copied().flatten() else { continue };
                shares[0][c] += energy_from_db(x.total_dba - dba);
                if octave.is_finite() {
                    shares[1][c] += energy_from_db(x.bands_db[0] - octave);
                }
            }
            out.extend(shares);
        }
    }
    out
}

fn penalty(areas: &[AreaEnergies], limits: &[Vec<f64>], change: &[f64]) -> f64 {
    let gains: Vec<f64> = change.iter().map(|c| energy_from_db(*c)).collect();
    let mut total = 0.0;
    for a in areas {
        let n = a.energy.first().map_or(0, Vec::len);
        let (mut square, mut outside) = (0.0, 0.0);
        for p in 0..n {
            let e: f64 = a.energy.iter().zip(&gains).map(|(row, g)| row[p] * g).sum();
            let off = (10.0 * e.max(1e-12).log10()).abs();
            square += off * off;
            outside += ((off - a.within_db + 0.2) / 0.4).clamp(0.0, 1.0);
        }
        let n = n.max(1) as f64;
        let outside = outside / n;
        total += square / n + OUTSIDE * outside + SHORT * (outside - 1.0 + SHARE_WITHIN + SPARE).max(0.0);
    }
    let over = |l: &Vec<f64>| {
        let used: f64 = l.iter().zip(&gains).map(|(s, g)| s * g).sum();
        if used > 1.0 { 10.0 * used.log10() } else { 0.0 }
    };
    total + limits.iter().map(|l| OVERRUN * over(l)).sum::<f64>()
}
