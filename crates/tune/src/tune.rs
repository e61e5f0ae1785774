//! Works out the processing of every channel of a job that drives a load.

use crate::error::TuningError;
use crate::fed::{Fed, about_channel};
use crate::neighbours::limits_in_work;
use crate::report::Tuned;
use crate::{protection, shape, write};
use loamline_adapt::Sound;
use loamline_faults::{Place, Tolerances};
use loamline_model::Job;
use loamline_model::document::Area;
use loamline_processing::{LineInWork, WorkChannel, order_of_work, settings_table};
use loamline_study::{Finding, Study, channel_findings, channel_plan, even_findings, worst_first};
use loamline_terms::{LINE_METER_HZ, METER_FREQUENCIES_HZ, say};
use std::sync::Arc;

/// Works out the processing of every channel that drives a load.
///
/// # Errors
/// When the sound cannot be predicted, or nothing is connected.
pub fn tune(study: &Study) -> Result<Tuned, TuningError> {
    let lines = study.lines();
    let heard = study.heard();
    let job = study.job();
    let scene = study.sound();
    let sound = scene.as_ref().as_ref().map_err(Clone::clone)?;
    let Some(levels) = &heard.levels else { return Err(TuningError::NothingHeard) };
    let standing = channel_findings(job);
    let mut findings = Vec::new();
    let mut fed = protection::protect(job, &lines, sound, &mut findings);
    if fed.is_empty() {
        return Err(TuningError::NothingConnected);
    }
    let shaped = shape::shape(job, sound, levels, &mut fed, &mut findings)?;
    let structure = study.sources();
    // The gain that follows from sources and leads goes with the design's own, decibel for decibel.
    let from_input = |f: &Fed<'_>, gain_db: f64| {
        let now = structure.channels.get(f.view.id)?.gain_db?;
        Some(now + gain_db - f.view.channel.gain_db)
    };
    for f in &mut fed {
        f.tuned.settings = settings_table(&f.tuned.plan, from_input(f, f.tuned.plan.chain.gain_db));
        for p in f.tuned.plan.problems() {
            findings.push(Finding::new(
                p.severity(),
                about_channel(f.view.id),
                say!(
                    "Channel {channel}, with the new settings: {reason}.",
                    channel = f.view.id,
                    reason = p.told()
                ),
            ));
        }
    }
    for (id, area) in &shaped.areas {
        let Some(wanted) = job.document().areas.get(id) else { continue };
        // By its id: settings are kept for all revisions that differ in words alone.
        let nameless = Area { name: String::new(), ..wanted.clone() };
        // Settings are no remedy for what these settings leave open.
        findings.extend(even_findings(id, &nameless, &area.after).into_iter().map(|mut f| {
            f.remedy = None;
            f
        }));
    }
    worst_first(&mut findings);
    let mut channels_in_work = work(study, sound, &shaped, &fed);
    for (c, f) in channels_in_work.iter_mut().zip(&fed) {
        c.from_input_db = from_input(f, c.plan.chain.gain_db);
    }
    let limits = limits_in_work(job);
    let order = order_of_work(&channels_in_work, &limits);
    for (c, f) in channels_in_work.iter_mut().zip(&fed) {
        if let Ok(written) = channel_plan(job, &f.view) {
            c.from_input_db = from_input(f, written.chain.gain_db);
            c.plan = written;
        }
    }
    let order_as_written = order_of_work(&channels_in_work, &limits);
    let edit = write::edit(&fed);
    let channels = fed.into_iter().map(|f| (f.view.id.to_owned(), f.tuned)).collect();
    Ok(Tuned {
        channels,
        areas: shaped.areas,
        delays: shaped.delays,
        neighbours: shaped.neighbours,
        order,
        order_as_written,
        standing,
        findings,
        edit,
    })
}

/// The processing of a job, worked out once for all revisions that differ in words alone.
pub fn tuned(study: &Study) -> Arc<Result<Tuned, TuningError>> {
    let kept = study.derived(tune);
    let d = study.job().document();
    let area = |id: &str| d.areas.get(id).map_or("", |a| &a.name);
    let neighbour = |id: &str| d.neighbours.get(id).map_or("", |n| &n.name);
    match &*kept {
        Ok(t) => {
            let same = t.areas.iter().all(|(id, a)| a.name == area(id))
                && t.neighbours.iter().all(|n| n.name == neighbour(&n.neighbour));
            if same {
                return kept;
            }
            let mut named = t.clone();
            named.areas.iter_mut().for_each(|(id, a)| a.name = area(id).to_owned());
            named.neighbours.iter_mut().for_each(|n| n.name = neighbour(&n.neighbour).to_owned());
            Arc::new(Ok(named))
        }
        Err(_) => kept,
    }
}

/// A loudspeaker is looked for in the areas where it is this close to the loudest level it gives anywhere, dB.
const HEARD_WITHIN_DB: f64 = 6.0;
/// A channel this far below the loudest in an area does not play there, dB: it adds less than a twentieth of a decibel.
const PLAYS_WITHIN_DB: f64 = 20.0;

fn work(study: &Study, sound: &Sound, shaped: &shape::Shaped, fed: &[Fed<'_>]) -> Vec<WorkChannel> {
    let job = study.job();
    // What every page says a line in order reads: nothing else is accepted here.
    let expected = study.expected(&METER_FREQUENCIES_HZ, &Tolerances::default());
    let at_rack = |line: &str| {
        let line = expected.as_ref().as_ref().ok()?.get(line)?;
        line.readings
            .iter()
            .find(|r| r.place == Place::Rack && (r.frequency_hz / LINE_METER_HZ - 1.0).abs() < 1e-9)
    };
    let lines = study.lines();
    let each = fed.iter().enumerate().map(|(index, f)| {
        let first = f.view.lines.iter().find_map(|l| job.line(l));
        let engine = first.as_ref().map(|l| loamline_adapt::channel(&f.view, l.supply));
        let driven = first.as_ref().and_then(|l| Some((l.supply, lines.lines.get(l.id)?.drive_v)));
        let in_work = f.view.lines.iter().filter_map(|id| {
            let reading = at_rack(id)?;
            Some(LineInWork {
                id: (*id).to_owned(),
                number: job.document().lines.get_index_of(*id).map_or(0, |i| i as u32 + 1),
                expected_impedance_ohm: reading.ohm?,
                meter_frequency_hz: reading.frequency_hz,
                accepted_ohm: (reading.low_ohm?, reading.high_ohm?),
                areas: shaped.heard_in(&on_line(job, sound, id), HEARD_WITHIN_DB),
            })
        });
        WorkChannel {
            plan: f.tuned.plan.clone(),
            amplifier: f.view.channel.amplifier.clone(),
            from_input_db: None,
            lowest_load_ohm: engine.as_ref().map_or(f.view.model.minimum_load_ohm, |e| e.min_load_ohm),
            line_voltage_v: driven.map_or(f.view.model.maximum_v, |(supply, drive_v)| {
                protection::highest_output_v(&f.view, supply, drive_v)
            }),
            lines: in_work.collect(),
            plays_in: shaped.plays_in(index, PLAYS_WITHIN_DB),
        }
    });
    each.collect()
}

/// Places of a line's loudspeakers among the scene's sources.
fn on_line(job: &Job, sound: &Sound, line: &str) -> Vec<usize> {
    let tags: Vec<&str> = job.loudspeakers_of_line(line).iter().map(|l| l.id).collect();
    sound.sources.iter().enumerate().filter(|(_, s)| tags.contains(&s.as_str())).map(|(i, _)| i).collect()
}
