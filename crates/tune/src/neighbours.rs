//! What the neighbours allow: the levels of every channel at every place of theirs, as ceilings the gains must keep.
//!
//! Levels are worked out once, with the new filters and every gain at zero; a gain then moves all that a channel gives
//! alike. By night the whole system is turned down as the brief says, so of day and night the stricter one counts.

use crate::fed::Fed;
use crate::report::NeighbourTuned;
use loamline_acoustics::{SILENCE_DB, Scene, db_from_energy, energy_from_db};
use loamline_adapt::Sound;
use loamline_model::Job;
use loamline_processing::Ceiling;
use loamline_study::neighbours;

/// Places of the 63 Hz octave among those of the method.
const OCTAVE_63_HZ: usize = 0;

/// A limit at one place of a neighbour.
pub(crate) struct Limit {
    neighbour: String,
    name: String,
    by_night: bool,
    octave: bool,
    limit_db: f64,
    /// What the brief turns the system down by when this limit holds, dB.
    down_db: f64,
    /// The limit as the gains see it: the margin asked taken off.
    pub ceiling: Ceiling,
}

/// The limits of all neighbours; `scene` has the new filters and every gain at zero.
pub(crate) fn limits(job: &Job, sound: &Sound, scene: &Scene, fed: &[Fed<'_>]) -> Vec<Limit> {
    let d = job.document();
    if d.neighbours.is_empty() {
        return Vec::new();
    }
    let (margin_db, turn_down_db) = (d.brief.neighbour_margin_db, d.brief.night_turn_down_db);
    let (all, _) = neighbours(job, &Sound { scene: scene.clone(), ..sound.clone() });
    let mut limits = Vec::new();
    for (id, levels) in &all {
        let Some(n) = d.neighbours.get(id) else { continue };
        let octave_by_night = n.night_63hz_db.or(n.day_63hz_db);
        let asked = [
            (false, Some(n.day_dba), Some(n.night_dba.unwrap_or(n.day_dba))),
            (true, n.day_63hz_db.or(octave_by_night.map(|l| l + turn_down_db)), octave_by_night),
        ];
        for (octave, day, night) in asked {
            let (Some(day), Some(night)) = (day, night) else { continue };
            let by_night = night + turn_down_db < day;
            let (limit_db, down_db) = if by_night { (night, turn_down_db) } else { (day, 0.0) };
            let (when, what) =
                (if by_night { "by night" } else { "by day" }, if octave { " at 63 Hz" } else { "" });
            for r in &levels.receivers {
                let of = |f: &Fed<'_>| {
                    let own = r.contributions.iter().filter(|c| f.sources.contains(&c.source));
                    let energy: f64 = own
                        .map(|c| energy_from_db(if octave { c.bands_db[OCTAVE_63_HZ] } else { c.total_dba }))
                        .sum();
                    if energy > 0.0 { db_from_energy(energy) } else { SILENCE_DB }
                };
                limits.push(Limit {
                    neighbour: id.clone(),
                    name: levels.name.clone(),
                    by_night,
                    octave,
                    limit_db,
                    down_db,
                    ceiling: Ceiling {
                        name: format!("neighbour {id} {when}{what}"),
                        highest_db: limit_db + down_db - margin_db,
                        from_channel_db: fed.iter().map(of).collect(),
                    },
                });
            }
        }
    }
    limits
}

/// Every neighbour and quantity with these gains, at the worst place of each.
pub(crate) fn with_gains(limits: &[Limit], gain_db: &[f64]) -> Vec<NeighbourTuned> {
    let mut all: Vec<NeighbourTuned> = Vec::new();
    for l in limits {
        let level_db = l.ceiling.highest_db + l.ceiling.over_db(gain_db) - l.down_db;
        match all.iter_mut().find(|t| t.neighbour == l.neighbour && t.octave_63_hz == l.octave) {
            Some(t) => t.level_db = t.level_db.max(level_db),
            None => all.push(NeighbourTuned {
                neighbour: l.neighbour.clone(),
                name: l.name.clone(),
                by_night: l.by_night,
                octave_63_hz: l.octave,
                level_db,
                limit_db: l.limit_db,
            }),
        }
    }
    all
}
