//! What is wrong between the sources and the amplifiers' inputs.

use crate::finding::{Finding, Severity, Subject};
use indexmap::IndexMap;
use loamline_adapt::{AddedLead, leads, leads_of_channel};
use loamline_model::document::{LeadSide, Source, SourceKind, SourceOutput, SourceSignal};
use loamline_model::{ChannelView, Job};
use loamline_processing::{GainStructure, SourceGain};
use loamline_terms::{Measure, Sentence, listed};

/// An unbalanced lead picks up hum and loses treble beyond this, m (common practice, no source).
const LONGEST_UNBALANCED_M: f64 = 5.0;

/// Everything wrong between sources and inputs, channels in the order of the document.
pub(crate) fn source_findings(job: &Job, channels: &IndexMap<String, GainStructure>) -> Vec<Finding> {
    let mut found: Vec<Finding> = leads(job).flat_map(|l| of_lead(job, &l)).collect();
    for c in job.channels() {
        found.extend(of_channel(job, &c));
        found.extend(in_step(job, &c));
        found.extend(who_goes_before(job, &c));
    }
    found.extend(leads(job).filter_map(|l| of_link(job, &l)));
    let quiet_dba = job.document().brief.quiet_night_dba;
    for (id, g) in channels {
        found.extend(levels(job, id, g, quiet_dba));
    }
    found
}

fn finding(
    severity: Severity,
    table: &'static str,
    id: &str,
    what: impl Into<Sentence>,
    mend: &str,
) -> Finding {
    Finding::new(severity, Subject::new(table, id), what).mend(mend)
}

fn of_lead(job: &Job, l: &AddedLead<'_>) -> Vec<Finding> {
    let mut found = Vec::new();
    let (id, lead) = (l.id, l.lead);
    if !l.fits() {
        let to = format!("input {} of amplifier {}", lead.input, lead.amplifier);
        let (what, mend) = if l.source.is_optical() {
            (
                format!(
                    "The light guide of lead {id} goes to {to}, which takes a voltage: nothing is heard."
                ),
                "Take it to an optical input, or put a converter between and enter that as the source.",
            )
        } else {
            (
                format!("Lead {id} brings a voltage to {to}, which takes light: nothing is heard."),
                "Take it to an input that is not optical.",
            )
        };
        found.push(finding(Severity::Error, "leads", id, what, mend));
    }
    let joins = lead.side == LeadSide::Both && l.source.signal == SourceSignal::Stereo;
    if joins && !l.source.is_optical() {
        let what = format!(
            "Lead {id} joins the left and the right output of source {}: they drive each other, which can break both.",
            lead.source
        );
        let mend = "Give each side a lead and an input of its own and let the channel add both. Where there is one input only, a resistor of 10 kohm in each side joins them safely (common practice, no source).";
        found.push(finding(Severity::Error, "leads", id, what, mend));
    }
    let unbalanced = l.source.output == SourceOutput::Unbalanced || !l.inputs.balanced;
    if let Some(length_m) = lead.length_m.filter(|m| *m > LONGEST_UNBALANCED_M)
        && unbalanced
        && !l.source.is_optical()
    {
        let what = Sentence::from(format!("Lead {id} is "))
            + Measure::Length(length_m)
            + " long and unbalanced; beyond "
            + Measure::RoundLength(LONGEST_UNBALANCED_M)
            + " it picks up hum (common practice, no source).";
        let mend =
            "Move the source nearer to the amplifier, or put a balancing transformer at the source's end.";
        found.push(finding(Severity::Warning, "leads", id, what, mend));
    }
    let added = job
        .channels()
        .any(|c| c.channel.amplifier == lead.amplifier && c.channel.inputs.contains(&lead.input));
    if !added {
        let what = format!(
            "Lead {id} ends at input {} of amplifier {}, which no channel adds.",
            lead.input, lead.amplifier
        );
        found.push(finding(
            Severity::Note,
            "leads",
            id,
            what,
            "Let a channel add this input, or take the lead out.",
        ));
    }
    found
}

/// A lead between racks says by which link it comes, where the job has any, and by one that joins these two.
fn of_link(job: &Job, l: &AddedLead<'_>) -> Option<Finding> {
    let d = job.document();
    let (from, to) = (l.source.rack.as_str(), d.amplifiers.get(&l.lead.amplifier)?.rack.as_str());
    let (what, mend) = match l.lead.link.as_ref().and_then(|id| d.links.get_key_value(id)) {
        Some((id, link)) if link.from != from || link.to != to => (
            format!(
                "Lead {} leads from rack {from} to rack {to}, and link {id} it comes through from {} to {}.",
                l.id, link.from, link.to
            ),
            "Choose the link that joins these racks.",
        ),
        None if from != to && !d.links.is_empty() => (
            format!(
                "Lead {} leads from rack {from} to rack {to}, and nothing says through which link.",
                l.id
            ),
            "Choose its link: its delay is taken into the channels.",
        ),
        _ => return None,
    };
    Some(finding(Severity::Warning, "leads", l.id, what, mend))
}

/// Sides and sources that reach a channel at different times, ms apart, are heard as a smear or cancel each other.
const OUT_OF_STEP_S: f64 = 1e-4;

/// Leads of one source to one channel through links of different delays.
fn in_step(job: &Job, c: &ChannelView<'_>) -> Option<Finding> {
    let d = job.document();
    let mut late: IndexMap<&str, Vec<f64>> = IndexMap::new();
    for (_, lead) in d.leads_of_channel(c.channel) {
        let delay_s = lead.link.as_ref().and_then(|id| d.links.get(id)).map_or(0.0, |link| link.delay_s);
        late.entry(lead.source.as_str()).or_default().push(delay_s);
    }
    let apart_s = |all: &[f64]| {
        let fold = |f: fn(f64, f64) -> f64, start: f64| all.iter().copied().fold(start, f);
        fold(f64::max, 0.0) - fold(f64::min, f64::INFINITY)
    };
    let (source, all) = late.iter().find(|(_, all)| apart_s(all) > OUT_OF_STEP_S)?;
    let what = format!(
        "Channel {} gets the sides of source {source} {:.1} ms apart: their links have different delays, and what is alike on both cancels.",
        c.id,
        1000.0 * apart_s(all)
    );
    Some(finding(Severity::Warning, "channels", c.id, what, "Bring both sides through one link."))
}

/// Whether it is plain which source of a channel goes before the others.
fn who_goes_before(job: &Job, c: &ChannelView<'_>) -> Option<Finding> {
    let d = job.document();
    let mut sources: Vec<(&str, &Source)> = Vec::new();
    for (_, lead) in d.leads_of_channel(c.channel) {
        let Some((id, source)) = d.sources.get_key_value(&lead.source) else { continue };
        if !sources.iter().any(|(known, _)| known == id) {
            sources.push((id, source));
        }
    }
    if sources.len() < 2 {
        return None;
    }
    let pages = |s: &Source| s.kind == SourceKind::PagingStation;
    if let Some((id, _)) = sources.iter().find(|(_, s)| pages(s) && s.priority == 0) {
        let what = format!(
            "Paging station {id} has no priority on channel {}: whoever calls is heard under what plays.",
            c.id
        );
        return Some(finding(Severity::Warning, "sources", id, what, "Give it a priority of 1 or more."));
    }
    let highest = sources.iter().map(|(_, s)| s.priority).max().filter(|p| *p > 0)?;
    let first: Vec<&str> = sources.iter().filter(|(_, s)| s.priority == highest).map(|(id, _)| *id).collect();
    (first.len() > 1).then(|| {
        let what = format!(
            "{} have the same priority {highest} on channel {}: neither goes before the other.",
            listed(&first),
            c.id
        );
        let mend = "Give the more urgent one a higher priority, or see that nobody uses them at once.";
        finding(Severity::Note, "channels", c.id, what, mend)
    })
}

/// Sides of each stereo source a channel gets, by source; light brings both.
fn one_sided<'j>(job: &'j Job, c: &ChannelView<'j>) -> Vec<(&'j str, LeadSide)> {
    let mut sides: IndexMap<&str, Vec<LeadSide>> = IndexMap::new();
    for l in leads_of_channel(job, c).iter().filter(|l| l.fits()) {
        if l.source.signal == SourceSignal::Stereo {
            sides.entry(l.lead.source.as_str()).or_default().push(l.lead.side);
        }
    }
    let one = |(source, sides): (&'j str, Vec<LeadSide>)| {
        let first = *sides.first()?;
        (first != LeadSide::Both && sides.iter().all(|s| *s == first)).then_some((source, first))
    };
    sides.into_iter().filter_map(one).collect()
}

fn of_channel(job: &Job, c: &ChannelView<'_>) -> Vec<Finding> {
    let mut found = Vec::new();
    for (source, side) in one_sided(job, c) {
        let (has, lacks) = match side {
            LeadSide::Left => ("left", "right"),
            LeadSide::Right => ("right", "left"),
            LeadSide::Both => continue,
        };
        let other = job.channels().find(|o| {
            o.id != c.id
                && o.programme_id == c.programme_id
                && one_sided(job, o).iter().any(|(s, of)| *s == source && *of != side)
        });
        let elsewhere = other.map_or_else(String::new, |o| {
            format!(" Channel {} plays the {lacks} side: nobody outdoors sits between the two.", o.id)
        });
        let what = format!(
            "Channel {} gets the {has} side of source {source} alone: what is on the {lacks} is missing there.{elsewhere}",
            c.id
        );
        let mend = "Bring both sides to inputs of its amplifier and let the channel add them.";
        found.push(finding(Severity::Warning, "channels", c.id, what, mend));
    }
    let led: Vec<u32> = leads_of_channel(job, c).iter().map(|l| l.lead.input).collect();
    for input in c.channel.inputs.iter().filter(|i| !led.contains(i)) {
        let what = format!("Channel {} adds input {input}, where no lead ends.", c.id);
        found.push(finding(Severity::Note, "channels", c.id, what, "Add the lead, or take the input out."));
    }
    found
}

fn levels(job: &Job, id: &str, g: &GainStructure, quiet_dba: f64) -> Vec<Finding> {
    let mut found = Vec::new();
    let inputs = job.channel(id).and_then(|c| c.model.inputs.as_ref());
    for s in &g.sources {
        if let Some(i) = inputs {
            found.extend(out_of_reach(id, s, (i.lowest_gain_db, i.highest_gain_db)));
        }
        for stage in &s.inputs {
            let (Some(highest_v), Some(headroom_db)) = (stage.highest_v, stage.headroom_db) else { continue };
            // An input that several channels add is told once.
            let first = job.channels().find(|c| {
                job.channel(id).is_some_and(|own| own.channel.amplifier == c.channel.amplifier)
                    && c.channel.inputs.contains(&stage.input)
            });
            if headroom_db < 0.0 && first.is_some_and(|c| c.id == id) {
                let what = format!(
                    "Lead {} overloads input {}: {highest_v:.2} V arrives, and it takes {:.2} V without clipping, {:.1} dB less.",
                    stage.lead,
                    stage.input,
                    inputs.map_or(0.0, |i| i.greatest_v),
                    -headroom_db
                );
                let mend = "Turn the source down, or put an attenuator of that much in the lead.";
                found.push(finding(Severity::Warning, "leads", &stage.lead, what, mend));
            }
        }
    }
    if g.clipping_margin_db < 0.0 && !g.sources.is_empty() {
        let what = format!(
            "Channel {id} cuts peaks off: {:.1} V is wanted of {:.1} V, {:.1} dB too much where both sides are alike.",
            g.peak_v,
            g.most_output_v * std::f64::consts::SQRT_2,
            -g.clipping_margin_db
        );
        let mend = "Lower the channel's gain, or raise the taps of its loudspeakers and then lower it.";
        found.push(finding(Severity::Warning, "channels", id, what, mend));
    }
    if let Some(noise_dba) = g.noise_dba.filter(|n| *n > quiet_dba) {
        let what = format!(
            "Channel {id} hisses: {noise_dba:.1} dBA at the nearest listener, at most {quiet_dba:.1} dBA on a quiet night."
        );
        let mend =
            "Take more level from the source and less gain in the amplifier, or a source with less noise.";
        found.push(finding(Severity::Warning, "channels", id, what, mend));
    }
    found
}

fn out_of_reach(id: &str, s: &SourceGain, (lowest_db, highest_db): (f64, f64)) -> Option<Finding> {
    let needed = s.needed_gain_db;
    let (what, mend) = if needed > highest_db {
        (
            format!(
                "Source {} is too weak for channel {id}: {needed:+.1} dB of gain is needed, and at most {highest_db:+.1} dB can be set.",
                s.source
            ),
            "Turn the source up, or put a preamplifier between.",
        )
    } else if needed < lowest_db {
        (
            format!(
                "Source {} is too strong for channel {id}: {needed:+.1} dB of gain is needed, and no less than {lowest_db:+.1} dB can be set.",
                s.source
            ),
            "Turn the source down, or put an attenuator in its leads.",
        )
    } else {
        return None;
    };
    Some(finding(Severity::Warning, "channels", id, what, mend))
}
