//! What a sweep should sound like at a place: the prediction an acoustic proof is held against.
//!
//! The sweep goes in where the programme does, into the channels of the loudspeakers that are to play, with the settings
//! that stand in the job. The field's band levels are those of the programme; taking the programme's own band levels off
//! and the sweep's level on leaves what a steady sine of that level gives, averaged over each band.

use crate::error::{StudyError, Unknown};
use crate::study::Study;
use loamline_acoustics::{BandValues, Points, SILENCE_DB, Source, probe};
use loamline_adapt::loudspeakers_of_channel;
use loamline_geometry::{Point2, Point3};
use loamline_model::Job;
use serde::Serialize;

/// A sweep, where it is recorded and what plays it.
#[derive(Debug, Clone, PartialEq)]
pub struct SweepAsked {
    /// The place: `x,y` in metres, or the id of an area (its middle) or of a mark.
    pub at: SweepPlace,
    /// Height of the microphone above the ground, metres; none for the ears' height of the area, or 1.6 m.
    pub height_m: Option<f64>,
    /// Tags of the loudspeakers that play; empty for all those of `channels`.
    pub loudspeakers: Vec<String>,
    /// Ids of the channels that play; empty for all.
    pub channels: Vec<String>,
    /// Level of the sweep, dB re full scale.
    pub level_dbfs: f64,
}

/// A place on the plan.
#[derive(Debug, Clone, PartialEq)]
pub enum SweepPlace {
    /// By its distances from the datum.
    Point(Point2),
    /// The middle of an area, or a mark, by its id.
    Named(String),
}

/// What the sweep should give there.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SweepPredicted {
    /// The place of the microphone.
    pub at: Point3,
    /// Tags of the loudspeakers that play.
    pub loudspeakers: Vec<String>,
    /// Level of a steady sine of the sweep's level per third octave, 20 Hz to 20 kHz, dB re 20 uPa.
    pub band_levels_db: Vec<f64>,
    /// The loudspeaker whose sound should come first.
    pub first: String,
    /// When it should come, after the signal goes in, s: its way through the air and its channel's delay.
    pub arrival_s: f64,
    /// Its way through the air, metres.
    pub distance_m: f64,
    /// Whether its polarity is turned in the job.
    pub reversed: bool,
    /// Speed of sound, m/s.
    pub speed_of_sound_m_s: f64,
}

/// Height of a microphone where no area gives one, metres: the ears of somebody standing.
const STANDING_M: f64 = 1.6;
/// A loudspeaker this much quieter than the loudest is not the one whose arrival is found, dB: as the analysis takes it.
const FIRST_WITHIN_DB: f64 = 10.0;

/// What a sweep should give at a place.
///
/// # Errors
/// When the place, a loudspeaker or a channel is none, nothing of it sounds, or the sound cannot be predicted.
pub fn sweep_at(study: &Study, asked: &SweepAsked) -> Result<SweepPredicted, StudyError> {
    let sound = study.sound();
    let sound = sound.as_ref().as_ref().map_err(Clone::clone)?;
    let job = study.job();
    let (plan, height_m) = place(job, asked)?;
    let tags = playing(job, asked)?;
    let mut sources: Vec<Source> = Vec::new();
    let mut names = Vec::new();
    for (i, tag) in sound.sources.iter().enumerate().filter(|(_, t)| tags.contains(t)) {
        let Some(source) = sound.scene.source(i) else { continue };
        names.push(tag.clone());
        sources.push(source.clone());
    }
    // One sweep feeds them all, whatever they play otherwise.
    let Some(programme) = sources.first().map(|s| s.programme) else {
        return Err(StudyError::NoneSounds { tags });
    };
    sources.iter_mut().for_each(|s| s.programme = programme);
    let scene = sound.scene.with_sources(sources)?;
    let at = job.above_ground(plan, height_m);
    Points::new(&scene, vec![at])?;
    let heard = probe(&scene, at)?;
    if heard.indoors {
        return Err(StudyError::Indoors);
    }
    let own: BandValues = sound.played[programme].band_levels_re_full_scale_db();
    let loudest = heard.sources.iter().map(|s| s.level_dba).fold(SILENCE_DB, f64::max);
    let first = heard
        .sources
        .iter()
        .filter(|s| s.level_dba > loudest - FIRST_WITHIN_DB)
        .min_by(|a, b| a.arrival_s.total_cmp(&b.arrival_s))
        .ok_or(StudyError::NothingHeard)?;
    let source = scene.source(first.source).ok_or(StudyError::NothingHeard)?;
    let speed_of_sound_m_s = sound.scene.sound_speed_m_per_s();
    Ok(SweepPredicted {
        at: heard.point,
        band_levels_db: heard
            .band_levels_db
            .iter()
            .zip(own)
            .map(|(l, programme)| l - programme + asked.level_dbfs)
            .collect(),
        first: names[first.source].clone(),
        arrival_s: first.arrival_s,
        distance_m: (first.arrival_s - source.delay_s) * speed_of_sound_m_s,
        reversed: source.reversed,
        loudspeakers: names,
        speed_of_sound_m_s,
    })
}

/// The place in plan and the microphone's height above the ground.
fn place(job: &Job, asked: &SweepAsked) -> Result<(Point2, f64), StudyError> {
    let d = job.document();
    match &asked.at {
        SweepPlace::Point(p) => Ok((*p, asked.height_m.unwrap_or(STANDING_M))),
        SweepPlace::Named(id) => {
            if let Some(area) = d.areas.get(id) {
                let middle = area.outline.centroid();
                if !area.outline.contains(middle) {
                    return Err(StudyError::MiddleOutside { area: id.clone() });
                }
                return Ok((middle, asked.height_m.unwrap_or(area.ear_m())));
            }
            let mark = d.marks.get(id).ok_or_else(|| {
                Unknown::new("area or mark", id, d.areas.keys().chain(d.marks.keys()).map(String::as_str))
            })?;
            Ok((mark.position, asked.height_m.unwrap_or(STANDING_M)))
        }
    }
}

/// Tags of the loudspeakers that play.
fn playing(job: &Job, asked: &SweepAsked) -> Result<Vec<String>, StudyError> {
    for tag in &asked.loudspeakers {
        if job.loudspeaker(tag).is_none() {
            return Err(Unknown::new("loudspeaker", tag, job.loudspeakers().map(|l| l.id)).into());
        }
    }
    let mut on_channels = Vec::new();
    for id in &asked.channels {
        let view = job
            .channel(id)
            .ok_or_else(|| Unknown::new("channel", id, job.document().channels.keys().map(String::as_str)))?;
        on_channels.extend(loudspeakers_of_channel(job, &view).into_iter().map(|l| l.id.to_owned()));
    }
    let all = || job.loudspeakers().map(|l| l.id.to_owned()).collect();
    Ok(match (asked.channels.is_empty(), asked.loudspeakers.is_empty()) {
        (true, true) => all(),
        (true, false) => asked.loudspeakers.clone(),
        (false, true) => on_channels,
        (false, false) => {
            on_channels.retain(|t| asked.loudspeakers.contains(t));
            on_channels
        }
    })
}
