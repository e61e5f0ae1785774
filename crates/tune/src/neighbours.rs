//! What the neighbours allow: the levels of every channel at every place of theirs, as ceilings the gains must keep.
//!
//! Where the brief asks for the worst case, the low octaves of what is on one programme add in step, channel by channel.
//!
//! Levels are worked out once, with the new filters and every gain at zero; a gain then moves all that a channel gives
//! alike. By night the whole system is turned down as the brief says, so of day and night the stricter one counts.

use crate::fed::Fed;
use crate::report::NeighbourTuned;
use loamline_acoustics::{
    LimitQuantity, ReceiverLevel, SILENCE_DB, Scene, SourceContribution, db_from_energy, energy_from_db,
    in_step_db,
};
use loamline_adapt::{Sound, floor_of_receiver};
use loamline_model::Job;
use loamline_model::document::InStep;
use loamline_processing::{Ceiling, LimitInWork};
use loamline_study::{AskedLimit, When, asked_limits, neighbour_place, neighbours};
use loamline_terms::A_OCTAVES_DB;
use std::collections::BTreeSet;

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
    let worst = d.brief.neighbour_in_step == InStep::Worst;
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
                let heard = Heard { r, octave, in_step: if worst { r.in_step_octaves } else { 0 } };
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
                        from_channel_db: fed.iter().map(|f| heard.in_energy_db(f)).collect(),
                        in_step_db: heard.in_step_rows_db(fed),
                    },
                });
            }
        }
    }
    limits
}

/// What a place of a neighbour's hears, as a limit counts it.
struct Heard<'r> {
    r: &'r ReceiverLevel,
    /// Whether the 63 Hz octave is limited; else LAeq.
    octave: bool,
    /// How many octaves, from 63 Hz, are in step.
    in_step: usize,
}

impl Heard<'_> {
    /// The octaves that count, with their weight, dB.
    fn octaves(&self) -> impl Iterator<Item = (usize, f64)> + use<> {
        let octave = self.octave;
        let weight = move |(b, a): (usize, f64)| {
            if octave { (b == OCTAVE_63_HZ).then_some((b, 0.0)) } else { Some((b, a)) }
        };
        A_OCTAVES_DB.into_iter().enumerate().filter_map(weight)
    }

    fn of<'f>(&'f self, fed: &'f Fed<'_>) -> impl Iterator<Item = &'f SourceContribution> {
        self.r.contributions.iter().filter(|c| fed.sources.contains(&c.source))
    }

    /// What a channel gives that adds in energy, dB.
    fn in_energy_db(&self, fed: &Fed<'_>) -> f64 {
        let bands = self.octaves().filter(|(b, _)| *b >= self.in_step);
        let energy: f64 = bands
            .flat_map(|(b, a)| self.of(fed).map(move |c| energy_from_db(c.levels.bands_db[b] + a)))
            .sum();
        if energy > 0.0 { db_from_energy(energy).max(SILENCE_DB) } else { SILENCE_DB }
    }

    /// What the channels give that adds in step: a row for each programme and octave.
    fn in_step_rows_db(&self, fed: &[Fed<'_>]) -> Vec<Vec<f64>> {
        let programmes: BTreeSet<Option<usize>> = self.r.contributions.iter().map(|c| c.programme).collect();
        let bands: Vec<(usize, f64)> = self.octaves().filter(|(b, _)| *b < self.in_step).collect();
        let mut rows = Vec::new();
        for programme in programmes {
            for &(b, a) in &bands {
                let of = |f: &Fed<'_>| {
                    let own = self.of(f).filter(|c| c.programme == programme);
                    in_step_db(own.map(|c| (c.programme, c.levels.bands_db[b] + a))).max(SILENCE_DB)
                };
                rows.push(fed.iter().map(of).collect());
            }
        }
        rows
    }
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
