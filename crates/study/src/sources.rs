//! From the sources to the loudspeakers: the gain structure of every channel, and what is wrong on the way.

use crate::finding::{Finding, worst_first};
use crate::lines::LinesReport;
use crate::source_findings::source_findings;
use indexmap::IndexMap;
use loamline_adapt::{Sound, SoundErrors, feeding_sources};
use loamline_model::{ChannelView, Job};
use loamline_processing::{GainAsked, GainStructure, gain_structure};
use loamline_terms::MID;
use serde::Serialize;
use std::f64::consts::SQRT_2;
use std::sync::Arc;

/// The gain structure of a job.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SourcesReport {
    /// Channels that drive a load and say which inputs they add, by id.
    pub channels: IndexMap<String, GainStructure>,
    /// Level that the noise at the nearest listener must stay below, dBA.
    pub quiet_night_dba: f64,
    /// What wants attention.
    pub findings: Vec<Finding>,
}

/// The gain structure of a job.
pub(crate) fn sources(
    job: &Job,
    lines: &LinesReport,
    scene: impl FnOnce() -> Arc<Result<Sound, SoundErrors>>,
) -> SourcesReport {
    let quiet_night_dba = job.document().brief.quiet_night_dba;
    // Nobody who states no source pays for the scene.
    let stated = job.document().channels.values().any(|c| !c.inputs.is_empty());
    let scene = stated.then(scene);
    let sound = scene.as_ref().and_then(|s| s.as_ref().as_ref().ok());
    let mut channels = IndexMap::new();
    for c in job.channels().filter(|c| !c.channel.inputs.is_empty()) {
        let Some(line) = c.lines.iter().find_map(|line| lines.lines.get(*line)) else { continue };
        let volts_stated = c.lines.iter().any(|l| job.line(l).is_some_and(|l| l.supply.line_v().is_some()));
        let bridged = c.channel.bridged;
        let asked = GainAsked {
            sources: feeding_sources(job, &c),
            full_output_v: line.full_scale_v,
            most_output_v: line.drive_v,
            // On low impedance full scale is that of the pair already.
            together: if bridged && volts_stated { 2.0 } else { 1.0 },
            below_full_scale_db: c.channel.gain_db,
            crest_factor_db: job.programme(c.programme_id).crest_factor_db,
            // The noises of two outputs differ: they add by energy.
            amplifier_noise_v: c.model.noise_v.map(|v| if bridged { v * SQRT_2 } else { v }),
            full_scale_db: sound.and_then(|s| nearest_db(job, s, &c)),
        };
        channels.insert(c.id.to_owned(), gain_structure(&asked));
    }
    let mut findings = source_findings(job, &channels);
    worst_first(&mut findings);
    SourcesReport { channels, quiet_night_dba, findings }
}

/// Level of a full-scale sine of the middle bands at the nearest listener, in front of the loudest loudspeaker of a
/// channel, dB.
fn nearest_db(job: &Job, sound: &Sound, c: &ChannelView<'_>) -> Option<f64> {
    let near_db = -20.0 * job.document().brief.nearest_listener_m.log10();
    let on = |tag: &str| {
        let line = job.document().loudspeakers.get(tag).and_then(|l| l.line.as_deref());
        line.is_some_and(|line| c.lines.contains(&line))
    };
    let levels = sound.sources.iter().enumerate().filter(|(_, tag)| on(tag)).filter_map(|(i, _)| {
        let source = sound.scene.source(i)?;
        Some(source.full_scale_db + MID.mean(&source.response_db) + near_db)
    });
    levels.reduce(f64::max)
}
