//! What is wrong between the sources and the amplifiers' inputs.

use crate::finding::{Finding, Severity, Subject};
use indexmap::IndexMap;
use loamline_adapt::{AddedLead, leads, leads_of_channel};
use loamline_model::document::{Lead, LeadSide, Source, SourceKind, SourceOutput, SourceSignal};
use loamline_model::{ChannelView, Job};
use loamline_processing::{GainStructure, SourceGain};
use loamline_terms::{Measure, Sentence, all_of, say};

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

fn finding(severity: Severity, table: &'static str, id: &str, what: Sentence, mend: Sentence) -> Finding {
    Finding::new(severity, Subject::new(table, id), what).mend(mend)
}

fn of_lead(job: &Job, l: &AddedLead<'_>) -> Vec<Finding> {
    let mut found = Vec::new();
    let (id, lead) = (l.id, l.lead);
    if !l.fits() {
        let input = input_words(lead);
        let (what, mend) = if l.source.is_optical() {
            (
                say!(
                    "The light guide of lead {lead} goes to {input}, which takes a voltage: nothing is heard.",
                    lead = id,
                    input = input
                ),
                say!("Take it to an optical input, or put a converter between and enter that as the source."),
            )
        } else {
            (
                say!(
                    "Lead {lead} brings a voltage to {input}, which takes light: nothing is heard.",
                    lead = id,
                    input = input
                ),
                say!("Take it to an input that is not optical."),
            )
        };
        found.push(finding(Severity::Error, "leads", id, what, mend));
    }
    let joins = lead.side == LeadSide::Both && l.source.signal == SourceSignal::Stereo;
    if joins && !l.source.is_optical() {
        let what = say!(
            "Lead {lead} joins the left and the right output of source {source}: they drive each other, which can break both.",
            lead = id,
            source = &lead.source
        );
        let mend = say!(
            "Give each side a lead and an input of its own and let the channel add both. Where there is one input only, a resistor \
             of 10 kohm in each side joins them safely (common practice, no source)."
        );
        found.push(finding(Severity::Error, "leads", id, what, mend));
    }
    let unbalanced = l.source.output == SourceOutput::Unbalanced || !l.inputs.balanced;
    if let Some(length_m) = lead.length_m.filter(|m| *m > LONGEST_UNBALANCED_M)
        && unbalanced
        && !l.source.is_optical()
    {
        let what = say!(
            "Lead {lead} is {length} long and unbalanced; beyond {most} it picks up hum (common practice, no source).",
            lead = id,
            length = Measure::Length(length_m),
            most = Measure::RoundLength(LONGEST_UNBALANCED_M)
        );
        let mend = say!(
            "Move the source nearer to the amplifier, or put a balancing transformer at the source's end."
        );
        found.push(finding(Severity::Warning, "leads", id, what, mend));
    }
    let added = job
        .channels()
        .any(|c| c.channel.amplifier == lead.amplifier && c.channel.inputs.contains(&lead.input));
    if !added {
        let what =
            say!("Lead {lead} ends at {input}, which no channel adds.", lead = id, input = input_words(lead));
        let mend = say!("Let a channel add this input, or take the lead out.");
        found.push(finding(Severity::Note, "leads", id, what, mend));
    }
    found
}

/// Where a lead ends, within a sentence.
fn input_words(lead: &Lead) -> Sentence {
    say!(
        "input {input} of amplifier {amplifier}",
        input = lead.input.to_string(),
        amplifier = &lead.amplifier
    )
}

/// A lead between racks says by which link it comes, where the job has any, and by one that joins these two.
fn of_link(job: &Job, l: &AddedLead<'_>) -> Option<Finding> {
    let d = job.document();
    let (from, to) = (l.source.rack.as_str(), d.amplifiers.get(&l.lead.amplifier)?.rack.as_str());
    let (what, mend) = match l.lead.link.as_ref().and_then(|id| d.links.get_key_value(id)) {
        Some((id, link)) if link.from != from || link.to != to => (
            say!(
                "Lead {lead} leads from rack {from} to rack {to}, and link {link} it comes through from {one} to {other}.",
                lead = l.id,
                from = from,
                to = to,
                link = id,
                one = &link.from,
                other = &link.to
            ),
            say!("Choose the link that joins these racks."),
        ),
        None if from != to && !d.links.is_empty() => (
            say!(
                "Lead {lead} leads from rack {from} to rack {to}, and nothing says through which link.",
                lead = l.id,
                from = from,
                to = to
            ),
            say!("Choose its link: its delay is taken into the channels."),
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
    let what = say!(
        "Channel {channel} gets the sides of source {source} {apart} ms apart: their links have different delays, and what is alike \
         on both cancels.",
        channel = c.id,
        source = *source,
        apart = loamline_terms::fixed(1000.0 * apart_s(all), 1)
    );
    let mend = say!("Bring both sides through one link.");
    Some(finding(Severity::Warning, "channels", c.id, what, mend))
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
        let what = say!(
            "Paging station {source} has no priority on channel {channel}: whoever calls is heard under what plays.",
            source = *id,
            channel = c.id
        );
        let mend = say!("Give it a priority of 1 or more.");
        return Some(finding(Severity::Warning, "sources", id, what, mend));
    }
    let highest = sources.iter().map(|(_, s)| s.priority).max().filter(|p| *p > 0)?;
    let first: Vec<&str> = sources.iter().filter(|(_, s)| s.priority == highest).map(|(id, _)| *id).collect();
    (first.len() > 1).then(|| {
        let what = say!(
            "{sources} have the same priority {priority} on channel {channel}: neither goes before the other.",
            sources = all_of(&first),
            priority = highest.to_string(),
            channel = c.id
        );
        let mend = say!("Give the more urgent one a higher priority, or see that nobody uses them at once.");
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
            LeadSide::Left => (say!("left"), say!("right")),
            LeadSide::Right => (say!("right"), say!("left")),
            LeadSide::Both => continue,
        };
        let other = job.channels().find(|o| {
            o.id != c.id
                && o.programme_id == c.programme_id
                && one_sided(job, o).iter().any(|(s, of)| *s == source && *of != side)
        });
        let elsewhere = match other {
            None => Sentence::default(),
            Some(o) => say!(
                " Channel {channel} plays the {side} side: nobody outdoors sits between the two.",
                channel = o.id,
                side = lacks.clone()
            ),
        };
        let what = say!(
            "Channel {channel} gets the {has} side of source {source} alone: what is on the {lacks} is missing there.{elsewhere}",
            channel = c.id,
            has = has,
            source = source,
            lacks = lacks,
            elsewhere = elsewhere
        );
        let mend = say!("Bring both sides to inputs of its amplifier and let the channel add them.");
        found.push(finding(Severity::Warning, "channels", c.id, what, mend));
    }
    let led: Vec<u32> = leads_of_channel(job, c).iter().map(|l| l.lead.input).collect();
    for input in c.channel.inputs.iter().filter(|i| !led.contains(i)) {
        let what = say!(
            "Channel {channel} adds input {input}, where no lead ends.",
            channel = c.id,
            input = input.to_string()
        );
        let mend = say!("Add the lead, or take the input out.");
        found.push(finding(Severity::Note, "channels", c.id, what, mend));
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
                let what = say!(
                    "Lead {lead} overloads input {input}: {arrives} V arrives, and it takes {takes} V without clipping, {less} dB less.",
                    lead = &stage.lead,
                    input = stage.input.to_string(),
                    arrives = loamline_terms::fixed(highest_v, 2),
                    takes = loamline_terms::fixed(inputs.map_or(0.0, |i| i.greatest_v), 2),
                    less = loamline_terms::fixed(-headroom_db, 1)
                );
                let mend = say!("Turn the source down, or put an attenuator of that much in the lead.");
                found.push(finding(Severity::Warning, "leads", &stage.lead, what, mend));
            }
        }
    }
    if g.clipping_margin_db < 0.0 && !g.sources.is_empty() {
        let what = say!(
            "Channel {channel} cuts peaks off: {wanted} V is wanted of {most} V, {over} dB too much where both sides are alike.",
            channel = id,
            wanted = loamline_terms::fixed(g.peak_v, 1),
            most = loamline_terms::fixed(g.most_output_v * std::f64::consts::SQRT_2, 1),
            over = loamline_terms::fixed(-g.clipping_margin_db, 1)
        );
        let mend = say!("Lower the channel's gain, or raise the taps of its loudspeakers and then lower it.");
        found.push(finding(Severity::Warning, "channels", id, what, mend));
    }
    if let Some(noise_dba) = g.noise_dba.filter(|n| *n > quiet_dba) {
        let what = say!(
            "Channel {channel} hisses: {noise} dBA at the nearest listener, at most {quiet} dBA on a quiet night.",
            channel = id,
            noise = loamline_terms::fixed(noise_dba, 1),
            quiet = loamline_terms::fixed(quiet_dba, 1)
        );
        let mend = say!(
            "Take more level from the source and less gain in the amplifier, or a source with less noise."
        );
        found.push(finding(Severity::Warning, "channels", id, what, mend));
    }
    found
}

fn out_of_reach(id: &str, s: &SourceGain, (lowest_db, highest_db): (f64, f64)) -> Option<Finding> {
    let needed_db = s.needed_gain_db;
    let signed = |decibels: f64| format!("{decibels:+.1}");
    let (what, mend) = if needed_db > highest_db {
        (
            say!(
                "Source {source} is too weak for channel {channel}: {needed} dB of gain is needed, and at most {most} dB can be set.",
                source = &s.source,
                channel = id,
                needed = signed(needed_db),
                most = signed(highest_db)
            ),
            say!("Turn the source up, or put a preamplifier between."),
        )
    } else if needed_db < lowest_db {
        (
            say!(
                "Source {source} is too strong for channel {channel}: {needed} dB of gain is needed, and no less than {least} dB can \
                 be set.",
                source = &s.source,
                channel = id,
                needed = signed(needed_db),
                least = signed(lowest_db)
            ),
            say!("Turn the source down, or put an attenuator in its leads."),
        )
    } else {
        return None;
    };
    Some(finding(Severity::Warning, "channels", id, what, mend))
}
