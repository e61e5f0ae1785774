//! Findings of channels that cannot feed what hangs on them: two supplies at once, an amplifier without the outputs or the
//! processing asked of it.

use crate::finding::{Finding, Severity, Subject};
use loamline_model::document::Supply;
use loamline_model::{ChannelView, Choice as _, Job, LineView};
use loamline_terms::{Sentence, all_of, each_of, say};

pub(crate) fn channel_supply_findings(job: &Job) -> Vec<Finding> {
    let mut found = Vec::new();
    for c in job.channels() {
        let lines: Vec<LineView<'_>> = c.lines.iter().filter_map(|l| job.line(l)).collect();
        found.extend(two_supplies(&c, &lines));
        found.extend(no_such_output(&c, &lines));
    }
    found.extend(no_processing(job));
    found
}

fn error(channel: &str, sentence: Sentence, mend: Sentence) -> Finding {
    Finding::new(Severity::Error, Subject::new("channels", channel), sentence).mend(mend)
}

/// A channel has one voltage: a loudspeaker straight on a line voltage would burn.
fn two_supplies(c: &ChannelView<'_>, lines: &[LineView<'_>]) -> Option<Finding> {
    let first = lines.first()?;
    if lines.iter().all(|l| l.supply == first.supply) {
        return None;
    }
    let each = lines.iter().map(|l| say!("line {line} at {supply}", line = l.id, supply = l.supply.word()));
    let sentence = say!(
        "Channel {channel} feeds {lines}: a channel has one voltage, and what is not made for it burns.",
        channel = c.id,
        lines = each_of(each)
    );
    Some(error(c.id, sentence, say!("Put lines of different supplies on channels of their own.")))
}

/// An amplifier for constant-voltage lines alone has no rated output for low impedance.
fn no_such_output(c: &ChannelView<'_>, lines: &[LineView<'_>]) -> Option<Finding> {
    let rated = [c.model.power_8ohm_w, c.model.power_4ohm_w, c.model.power_2ohm_w];
    if rated.iter().any(Option::is_some) {
        return None;
    }
    let low: Vec<&str> = lines.iter().filter(|l| l.supply == Supply::LowImpedance).map(|l| l.id).collect();
    (!low.is_empty()).then(|| {
        let sentence = say!(
            "Channel {channel} feeds {lines} at low impedance, and its amplifier {amplifier} is rated for constant-voltage lines \
             alone.",
            channel = c.id,
            lines = each_of(low.iter().map(|l| say!("line {line}", line = *l))),
            amplifier = &c.channel.amplifier
        );
        error(c.id, sentence, say!("Take an amplifier rated into 8, 4 or 2 ohm for it."))
    })
}

/// Filters and limiters that an amplifier without processing is asked to hold.
fn no_processing(job: &Job) -> Vec<Finding> {
    let d = job.document();
    let asks = |c: &ChannelView<'_>| {
        let set = c.channel;
        set.high_pass.is_some()
            || set.low_pass.is_some()
            || set.limiter.is_some()
            || !set.equaliser.is_empty()
            || set.delay_s > 0.0
    };
    let one = |(id, _): (&String, _)| {
        let own = job.channels().filter(|c| c.channel.amplifier == *id && !c.model.processing && asks(c));
        let own: Vec<&str> = own.map(|c| c.id).collect();
        if own.is_empty() {
            return None;
        }
        let sentence = say!(
            "Amplifier {amplifier} has no processing of its own: the settings of {channels} cannot be loaded into it.",
            amplifier = id,
            channels = all_of(&own)
        );
        let mend = say!("Put a processor before it that holds them, or take an amplifier with processing.");
        Some(Finding::new(Severity::Warning, Subject::new("amplifiers", id), sentence).mend(mend))
    };
    d.amplifiers.iter().filter_map(one).collect()
}
