//! What is to be left spare for later, held against what is left: outputs, power, room in sleeves, room in racks.

use crate::ducts::ducts;
use crate::finding::{Finding, Severity, Subject};
use crate::lines::LinesReport;
use crate::names::tagged;
use loamline_adapt::LaidRun;
use loamline_model::Job;
use loamline_model::document::{Amplifier, Rack};
use loamline_terms::{say, template};

/// Shares nearer than this to what is asked for are as asked for.
const ROUNDING: f64 = 1e-9;

/// Findings about what is not left spare; none where nothing is asked for.
pub(crate) fn spare_findings(job: &Job, runs: &[LaidRun], lines: &LinesReport) -> Vec<Finding> {
    // A rack that a later phase brings is held against what is asked for once it is there.
    let racks = job.document().racks.iter().filter(|(id, _)| job.brings_rack(id));
    let mut found: Vec<Finding> = racks.flat_map(|(id, r)| of_rack(job, id, r)).collect();
    found.extend(of_channels(job, lines));
    found.extend(of_ducts(job, runs));
    found
}

fn of_rack(job: &Job, id: &str, rack: &Rack) -> Vec<Finding> {
    let d = job.document();
    let asked = d.spare_of(d.owner_of_rack(id).zone);
    let name = tagged(&rack.name, template!("Rack {id}"), id);
    let own = || d.amplifiers.iter().filter(move |(_, a)| a.rack == id);
    let model = |a: &Amplifier| job.catalogue().amplifiers.get(&a.model);
    let mut found = Vec::new();
    if let Some(asked) = asked.channels {
        let all: u32 = own().filter_map(|(_, a)| model(a)).map(|m| m.channels).sum();
        let in_rack = |amplifier: &String| d.amplifiers.get(amplifier).is_some_and(|a| a.rack == id);
        let taken = d.channels.values().filter(|c| in_rack(&c.amplifier));
        let used: u32 = taken.map(|c| if c.bridged { 2 } else { 1 }).sum();
        let free = all.saturating_sub(used);
        if free < asked {
            let what = say!(
                "{rack} has {free} of {all} outputs to spare, at least {asked} must stay free.",
                rack = name.clone(),
                free = free.to_string(),
                all = all.to_string(),
                asked = asked.to_string()
            );
            found.push(
                Finding::new(Severity::Warning, Subject::new("racks", id), what)
                    .mend(say!("Add an amplifier, or one with more outputs.")),
            );
        }
    }
    if let (Some(asked), Some(all)) = (asked.units, rack.units) {
        let used: u32 = own().filter_map(|(_, a)| model(a)).map(|m| m.rack_units).sum();
        let free = all.saturating_sub(used);
        if free < asked {
            let what = say!(
                "{rack} has {free} of {all} height units to spare once its amplifiers are in, at least {asked} must stay free.",
                rack = name,
                free = free.to_string(),
                all = all.to_string(),
                asked = asked.to_string()
            );
            found.push(
                Finding::new(Severity::Warning, Subject::new("racks", id), what)
                    .mend(say!("Take a higher rack.")),
            );
        }
    }
    found
}

fn of_channels(job: &Job, lines: &LinesReport) -> Vec<Finding> {
    let d = job.document();
    let one = |(id, used): (&String, &loamline_electrics::ChannelUse)| {
        let asked = d.spare_of(d.owner_of_channel(id).zone).power?;
        let left = 1.0 - used.used_fraction / used.allowed_fraction;
        (left < asked - ROUNDING).then(|| {
            let what = say!(
                "Channel {channel} leaves {left} % of what it may carry, at least {asked} % must stay free.",
                channel = id,
                left = loamline_terms::fixed(100.0 * left.max(0.0), 0),
                asked = loamline_terms::fixed(100.0 * asked, 0)
            );
            Finding::new(Severity::Warning, Subject::new("channels", id), what)
                .mend(say!("Lower taps, move a line to another channel, or take a larger amplifier."))
        })
    };
    lines.channels.iter().filter_map(one).collect()
}

fn of_ducts(job: &Job, runs: &[LaidRun]) -> Vec<Finding> {
    let d = job.document();
    let mut found = Vec::new();
    let asked = d.brief.spare.ducts.is_some() || d.zones.values().any(|z| z.spare.ducts.is_some());
    if !asked {
        return found;
    }
    for (id, used) in ducts(job, runs) {
        // Of several zones whose lines lie in it, the one that asks for most.
        let asks = used.lines.iter().filter_map(|line| d.spare_of(d.owner_of_line(line).zone).ducts);
        let Some(asked) = asks.reduce(f64::max) else { continue };
        let free = 1.0 - used.fill_fraction;
        if free < asked - ROUNDING {
            let name = d.sleeves.get(&id).map_or("", |s| s.name.as_str());
            let what = say!(
                "{sleeve} has {free} % of its inside to spare, at least {asked} % must stay empty.",
                sleeve = tagged(name, template!("Sleeve {id}"), &id),
                free = loamline_terms::fixed(100.0 * free.max(0.0), 0),
                asked = loamline_terms::fixed(100.0 * asked, 0)
            );
            found.push(
                Finding::new(Severity::Warning, Subject::new("sleeves", id), what)
                    .mend(say!("Use thinner cable, or lay another sleeve beside it.")),
            );
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use crate::Study;
    use loamline_model::{SourceFile, read_job};

    /// One amplifier of four outputs and its height in a rack of `units`, a line of one 10 W tap on 280 W through a sleeve.
    fn told(spare: &str, units: u32) -> Vec<String> {
        let text = format!(
            r#"
format = 1
[job]
name = "Spare"
[brief]
load_share = "10 %"
[brief.spare]
{spare}
[racks.R1]
position = [0, 0]
units = {units}
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
high_pass = {{ kind = "butterworth", order = 4, corner = "80 Hz" }}
[sleeves.D1]
line = [[2, 0], [6, 0]]
inside_diameter = "25 mm"
[loudspeakers.L1]
model = "stake-110-wide"
position = [8, 0]
tap = "10 W"
line = "A"
[lines.A]
channel = "C1"
cable = "burial-2x2.5mm2"
runs = {{ A-1 = {{ from = "R1", to = "L1", via = [[2, 0], [6, 0]], sleeves = ["D1"] }} }}
"#
        );
        let study = Study::new(read_job(&SourceFile::new("job.toml", text), &[]).unwrap());
        let all = super::spare_findings(study.job(), &study.runs(), &study.lines());
        all.into_iter().map(|f| f.sentence.to_string()).collect()
    }

    #[test]
    fn nothing_is_asked_for_where_nothing_is_said() {
        assert!(told("", 1).is_empty());
    }

    #[test]
    fn outputs_and_height_units_are_counted() {
        assert!(told("channels = 3", 10).is_empty());
        assert_eq!(
            told("channels = 4", 10),
            ["Rack R1 has 3 of 4 outputs to spare, at least 4 must stay free."]
        );
        let told = told("units = 6", 6);
        assert!(told.len() == 1 && told[0].contains("of 6 height units"), "{told:?}");
    }

    #[test]
    fn power_is_held_against_what_a_channel_may_carry() {
        // 10 W of 280 W, of which a tenth may be used: 10 of 28 W, so that 64 % of it are left.
        assert!(told("power = \"60 %\"", 1).is_empty());
        assert_eq!(
            told("power = \"70 %\"", 1),
            ["Channel C1 leaves 64 % of what it may carry, at least 70 % must stay free."]
        );
    }

    #[test]
    fn a_sleeve_that_leaves_too_little_is_told() {
        assert!(told("ducts = \"10 %\"", 1).is_empty());
        let told = told("ducts = \"90 %\"", 1);
        assert!(told.len() == 1 && told[0].starts_with("Sleeve D1 has "), "{told:?}");
    }
}
