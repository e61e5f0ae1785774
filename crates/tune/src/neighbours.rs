//! What the neighbours allow: the levels of every channel at every place of theirs, as ceilings the gains must keep.
//!
//! Levels are worked out once, with the new filters and every gain at zero; a gain then moves all that a channel gives
//! alike. By night the whole system is turned down as the brief says, so of day and night the stricter one counts.

use crate::fed::Fed;
use crate::report::NeighbourTuned;
use loamline_acoustics::{LimitQuantity, SILENCE_DB, Scene, db_from_energy, energy_from_db};
use loamline_adapt::{Sound, floor_of_receiver};
use loamline_model::Job;
use loamline_processing::{Ceiling, LimitInWork};
use loamline_study::{AskedLimit, When, asked_limits, neighbour_place, neighbours};

/// Places of the 63 Hz octave among those of the method.
const OCTAVE_63_HZ: usize = 0;

/// A limit at one place of a neighbour.
pub(crate) struct Limit {
    neighbour: String,
    name: String,
    floor: Option<String>,
    by_night: bool,
    quantity: LimitQuantity,
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
            let when = if by_night { When::Night } else { When::Day }.said(&d.brief);
            let what = if octave { " at 63 Hz" } else { "" };
            for (receiver, r) in levels.receivers.iter().enumerate() {
                let floor = floor_of_receiver(n, receiver);
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
                    floor: floor.map(str::to_owned),
                    by_night,
                    quantity: if octave { LimitQuantity::Octave63Hz } else { LimitQuantity::TotalDba },
                    limit_db,
                    down_db,
                    ceiling: Ceiling {
                        name: format!("neighbour {} {when}{what}", neighbour_place(id, floor)),
                        highest_db: limit_db + down_db - margin_db,
                        from_channel_db: fed.iter().map(of).collect(),
                    },
                });
            }
        }
    }
    limits
}

/// The limits of the brief as a crew measures against them.
pub(crate) fn limits_in_work(job: &Job) -> Vec<LimitInWork> {
    let asked = asked_limits(job).into_iter();
    let limit = |l: AskedLimit<'_>| LimitInWork {
        place: neighbour_place(l.neighbour, l.floor),
        when: l.when.said(&job.document().brief),
        limit_db: l.limit_db,
        octave_63_hz: l.octave_63_hz,
        turned_down_db: l.turned_down_db,
    };
    asked.map(limit).collect()
}

/// Every neighbour and quantity with these gains, at the worst place of each floor.
pub(crate) fn with_gains(limits: &[Limit], gain_db: &[f64]) -> Vec<NeighbourTuned> {
    let mut all: Vec<NeighbourTuned> = Vec::new();
    for l in limits {
        let level_db = l.ceiling.highest_db + l.ceiling.over_db(gain_db) - l.down_db;
        let same = |t: &&mut NeighbourTuned| {
            t.neighbour == l.neighbour && t.floor == l.floor && t.quantity == l.quantity
        };
        match all.iter_mut().find(same) {
            Some(t) => t.level_db = t.level_db.max(level_db),
            None => all.push(NeighbourTuned {
                neighbour: l.neighbour.clone(),
                name: l.name.clone(),
                floor: l.floor.clone(),
                by_night: l.by_night,
                quantity: l.quantity,
                level_db,
                limit_db: l.limit_db,
            }),
        }
    }
    all
}
