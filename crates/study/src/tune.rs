//! Processing for every channel of a job that drives a load, and what it does in the areas.
//!
//! `protection` chooses what keeps drivers and transformers whole, `shape` evens out the predicted sound with `gains`
//! within what the `neighbours` allow, `write` turns the result into an edit of the job, `reasons` says how each setting
//! came about.

mod gains;
mod neighbours;
mod protection;
mod reasons;
mod shape;
mod write;

pub use neighbours::NeighbourTuned;
pub use reasons::SettingReason;

use crate::channel_findings::{channel_findings, severity};
use crate::finding::{Finding, Subject, worst_first};
use crate::lines::LinesReport;
use crate::sound::Sound;
use crate::study::Study;
use indexmap::IndexMap;
use loamline_acoustics::AreaStatistics;
use loamline_model::document::Polarity as Wired;
use loamline_model::{ChannelView, Edit, Job};
use loamline_processing::{
    AreaDelayReport, ChannelPlan, ChannelRole, HighPassChoice, LimiterCost, LineInWork, OrderOfWork,
    Polarity, SettingRow, WorkChannel, order_of_work, settings_table,
};
use serde::Serialize;
use std::sync::Arc;

/// Processing for a whole job.
#[derive(Debug, Clone, Serialize)]
pub struct Tuned {
    /// Channels that drive a load, by id.
    pub channels: IndexMap<String, ChannelTuned>,
    /// Areas by id, before and after.
    pub areas: IndexMap<String, AreaTuned>,
    /// Per area: where delays help and where not to bother.
    pub delays: Vec<AreaDelayReport>,
    /// Neighbours with the new settings; empty when the job has none.
    pub neighbours: Vec<NeighbourTuned>,
    /// The order of work at the rack.
    pub order: Vec<OrderOfWork>,
    /// What the settings that stand in the job leave unprotected: gone once the new ones are written.
    pub standing: Vec<Finding>,
    /// What the new settings leave open.
    pub findings: Vec<Finding>,
    /// The edit that writes the settings into the job.
    pub edit: Edit,
}

/// Processing for one channel.
#[derive(Debug, Clone, Serialize)]
pub struct ChannelTuned {
    /// Everything to set.
    pub plan: ChannelPlan,
    /// Why the high-pass stands where it does; absent when nothing behind the channel could be protected.
    pub high_pass: Option<HighPassChoice>,
    /// Corner shared between mains and subwoofers of one programme, Hz.
    pub crossover_hz: Option<f64>,
    /// Tags of the loudspeakers that set the RMS and the peak threshold.
    pub weakest: Option<(String, String)>,
    /// What the limiter takes away when the programme's peaks reach the amplifier's highest voltage.
    pub limiter_cost: Option<LimiterCost>,
    /// RMS deviation from the wanted response before and after the equaliser, dB; absent when none was fitted.
    pub equalised_rms_db: Option<(f64, f64)>,
    /// What is typed in, in the order it is entered.
    pub settings: Vec<SettingRow>,
}

/// An area before and after.
#[derive(Debug, Clone, Serialize)]
pub struct AreaTuned {
    /// Its name.
    pub name: String,
    /// Level wanted, dBA.
    pub target_dba: f64,
    /// With the settings that stand in the job.
    pub before: AreaStatistics,
    /// With the new settings.
    pub after: AreaStatistics,
    /// RMS deviation of the area's mean response from the programme's spectrum, with the bass asked, under the settings
    /// that stand, dB.
    pub uneven_before_db: f64,
    /// The same with the new settings, dB.
    pub uneven_after_db: f64,
}

/// A channel being tuned, with what it drives.
pub(crate) struct Fed<'j> {
    pub view: ChannelView<'j>,
    pub tuned: ChannelTuned,
    /// Places of its loudspeakers among the scene's sources.
    pub sources: Vec<usize>,
    /// Highest gain at which the limiter stays out of the way, dB.
    pub highest_gain_db: f64,
}

/// Works out the processing of every channel that drives a load.
///
/// # Errors
/// A sentence when the sound cannot be predicted or nothing is connected.
pub fn tune(study: &Study) -> Result<Tuned, String> {
    let lines = study.lines();
    let heard = study.heard();
    let job = study.job();
    let (Some(sound), Some(levels)) = (&heard.sound, &heard.levels) else {
        let why: Vec<&str> = heard.findings.iter().map(|f| f.sentence.as_str()).collect();
        return Err(why.join(" "));
    };
    let standing = channel_findings(job);
    let mut findings = Vec::new();
    let mut fed = protection::protect(job, &lines, sound, &mut findings);
    if fed.is_empty() {
        return Err(
            "no channel drives a loudspeaker yet: put loudspeakers on a line and the line on a channel"
                .into(),
        );
    }
    let shaped = shape::shape(job, sound, levels, &mut fed, &mut findings)?;
    for f in &mut fed {
        f.tuned.settings = settings_table(&f.tuned.plan);
        for p in f.tuned.plan.problems() {
            findings.push(Finding::new(
                severity(&p),
                channel(f.view.id),
                format!("Channel {}, with the new settings: {p}.", f.view.id),
            ));
        }
    }
    worst_first(&mut findings);
    let order = order_of_work(&work(job, &lines, sound, &shaped, &fed));
    let edit = write::edit(&fed);
    let channels = fed.into_iter().map(|f| (f.view.id.to_owned(), f.tuned)).collect();
    Ok(Tuned {
        channels,
        areas: shaped.areas,
        delays: shaped.delays,
        neighbours: shaped.neighbours,
        order,
        standing,
        findings,
        edit,
    })
}

/// The processing of a job, worked out once for all revisions that differ in words alone.
pub fn tuned(study: &Study) -> Arc<Result<Tuned, String>> {
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

fn channel(id: &str) -> Subject {
    Subject::new("channels", id)
}

/// A reading of impedance within this part of the expected one is taken as right (common practice, no source).
const METER_TOLERANCE: f64 = 0.2;
/// Frequency impedance meters for loudspeaker lines measure at, Hz.
const METER_HZ: f64 = 1000.0;
/// A loudspeaker is looked for in the areas where it is this close to the loudest level it gives anywhere, dB.
const HEARD_WITHIN_DB: f64 = 6.0;
/// Channels this close to the loudest in an area are brought up together there, dB.
const LEADS_WITHIN_DB: f64 = 3.0;

fn work(
    job: &Job,
    lines: &LinesReport,
    sound: &Sound,
    shaped: &shape::Shaped,
    fed: &[Fed<'_>],
) -> Vec<WorkChannel> {
    let each = fed.iter().enumerate().map(|(index, f)| {
        let first = f.view.lines.iter().find_map(|l| job.line(l));
        let engine = first
            .as_ref()
            .map(|l| crate::electrical::channel(&f.view, &job.loudspeakers_of_line(l.id), l.supply));
        let in_work = f.view.lines.iter().filter_map(|id| {
            let solved = lines.lines.get(*id)?;
            let at = solved.frequencies_hz.iter().position(|hz| (hz / METER_HZ - 1.0).abs() < 0.05)?;
            let ohm = *solved.impedance_ohm.get(at)?;
            Some(LineInWork {
                id: (*id).to_owned(),
                expected_impedance_ohm: ohm,
                meter_frequency_hz: METER_HZ,
                accepted_ohm: (ohm * (1.0 - METER_TOLERANCE), ohm * (1.0 + METER_TOLERANCE)),
                insulation_mohm: loamline_faults::LEAKAGE_MOHM,
                areas: shaped.heard_in(&on_line(job, sound, id), HEARD_WITHIN_DB),
            })
        });
        WorkChannel {
            plan: f.tuned.plan.clone(),
            amplifier: f.view.channel.amplifier.clone(),
            lowest_load_ohm: engine.as_ref().map_or(f.view.model.minimum_load_ohm, |e| e.min_load_ohm),
            line_voltage_v: engine.map_or(f.view.model.maximum_v, |e| e.max_voltage_v),
            lines: in_work.collect(),
            wanted_dba: shaped.led_by(index, LEADS_WITHIN_DB),
        }
    });
    each.collect()
}

/// Places of a line's loudspeakers among the scene's sources.
fn on_line(job: &Job, sound: &Sound, line: &str) -> Vec<usize> {
    let tags: Vec<&str> = job.loudspeakers_of_line(line).iter().map(|l| l.id).collect();
    sound.sources.iter().enumerate().filter(|(_, s)| tags.contains(&s.as_str())).map(|(i, _)| i).collect()
}

/// The polarity of a channel in the document's words and in the engine's.
const fn wired(p: Polarity) -> Wired {
    match p {
        Polarity::Normal => Wired::Normal,
        Polarity::Inverted => Wired::Reversed,
    }
}

/// Whether a channel drives subwoofers.
fn is_bass(f: &Fed<'_>) -> bool {
    f.tuned.plan.role == ChannelRole::Subwoofers
}
