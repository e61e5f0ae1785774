//! Findings about channels: what stands in the job and leaves its loudspeakers unprotected.

use crate::finding::{Finding, Remedy, Severity, Subject};
use crate::sound::filters_of;
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::{ChannelView, Job, PlacedLoudspeaker};
use loamline_processing::{ChannelPlan, ChannelRole, LimiterThreshold};
use std::f64::consts::SQRT_2;

/// What the settings that stand in the job leave open on every channel that drives a load: no high-pass, no limiter, a
/// subwoofer without a low-pass, filters that contradict each other.
pub(crate) fn channel_findings(job: &Job) -> Vec<Finding> {
    job.channels().flat_map(|c| of_channel(job, &c)).collect()
}

fn of_channel(job: &Job, c: &ChannelView<'_>) -> Vec<Finding> {
    let about = || Subject::new("channels", c.id);
    let chain = match filters_of(c.channel) {
        Ok(chain) => chain,
        Err(why) => {
            return vec![Finding::new(Severity::Error, about(), format!("Channel {}: {why}.", c.id))];
        }
    };
    let limiter = c
        .channel
        .limiter
        .as_ref()
        .map(|l| LimiterThreshold { v_rms: l.rms_v, v_peak: l.peak_v.unwrap_or(SQRT_2 * l.rms_v) });
    let plan = ChannelPlan {
        id: c.id.to_owned(),
        role: role(job, c),
        chain,
        limiter,
        times: None,
        drives_load: !loudspeakers(job, c).is_empty(),
    };
    plan.problems()
        .iter()
        .map(|p| {
            Finding::new(p.severity(), about(), format!("Channel {}: {p}.", c.id))
                .mend("Work the settings out and take them over: loamline tune JOB --write.")
                .by(Remedy::Processing)
        })
        .collect()
}

/// Every loudspeaker on a channel.
pub(crate) fn loudspeakers<'j>(job: &'j Job, c: &ChannelView<'j>) -> Vec<PlacedLoudspeaker<'j>> {
    c.lines.iter().flat_map(|l| job.loudspeakers_of_line(l)).collect()
}

/// What a channel drives: subwoofers when nothing else is on it.
pub(crate) fn role(job: &Job, c: &ChannelView<'_>) -> ChannelRole {
    let all = loudspeakers(job, c);
    let bass = |l: &PlacedLoudspeaker<'_>| l.model.kind == LoudspeakerKind::Subwoofer;
    if !all.is_empty() && all.iter().all(bass) { ChannelRole::Subwoofers } else { ChannelRole::Mains }
}
