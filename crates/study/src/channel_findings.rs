//! Findings about channels: what stands in the job and leaves its loudspeakers unprotected.

use crate::finding::{Finding, Remedy, Severity, Subject};
use loamline_adapt::{FilterError, filters_of, loudspeakers_of_channel, role};
use loamline_model::{ChannelView, Job};
use loamline_processing::{Chain, ChannelPlan, LimiterThreshold, PEAK_OVER_RMS, limiter_times, peak_behind};
use loamline_terms::say;

/// What the settings that stand in the job leave open on every channel that drives a load: no high-pass, no limiter, a
/// subwoofer without a low-pass, filters that contradict each other.
pub fn channel_findings(job: &Job) -> Vec<Finding> {
    job.channels().flat_map(|c| of_channel(job, &c)).collect()
}

/// The settings of a channel that stand in the job.
///
/// # Errors
/// A setting no filter can have.
pub fn channel_plan(job: &Job, c: &ChannelView<'_>) -> Result<ChannelPlan, FilterError> {
    let set = c.channel;
    let chain =
        Chain { gain_db: set.gain_db, delay_s: set.delay_s, polarity: set.polarity, ..filters_of(set)? };
    // Transformers stand no more than the peak of a sine at the lowest voltage of the lines.
    let line_v = c.lines.iter().filter_map(|l| job.line(l)?.supply.line_v()).reduce(f64::min);
    let limiter = set.limiter.as_ref().map(|l| LimiterThreshold {
        v_rms: l.rms_v,
        v_peak: l.peak_v.unwrap_or_else(|| peak_behind(line_v, PEAK_OVER_RMS * l.rms_v)),
    });
    let mut plan = ChannelPlan {
        id: c.id.to_owned(),
        role: role(job, c),
        chain,
        limiter,
        times: None,
        drives_load: !loudspeakers_of_channel(job, c).is_empty(),
    };
    // Attack and release follow from where the high-pass stands.
    let lowest_hz = plan.high_pass_hz().filter(|_| plan.limiter.is_some());
    plan.times = lowest_hz.and_then(|hz| limiter_times(hz).ok());
    Ok(plan)
}

fn of_channel(job: &Job, c: &ChannelView<'_>) -> Vec<Finding> {
    let about = || Subject::new("channels", c.id);
    let plan = match channel_plan(job, c) {
        Ok(plan) => plan,
        Err(why) => {
            return vec![Finding::new(
                Severity::Error,
                about(),
                say!("Channel {channel}: {reason}.", channel = c.id, reason = why.to_string()),
            )];
        }
    };
    plan.problems()
        .iter()
        .map(|p| {
            let what = say!("Channel {channel}: {reason}.", channel = c.id, reason = p.told());
            Finding::new(p.severity(), about(), what)
                .mend(say!("Work the settings out and take them over."))
                .command("loamline tune JOB --write")
                .by(Remedy::Processing)
        })
        .collect()
}
