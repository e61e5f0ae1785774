//! What is wrong with zones and phases: things that are in none, zones with nothing in them, lines that are built before what
//! feeds them.

use crate::finding::{Finding, Severity, Subject};
use crate::names::{area_within, named};
use loamline_model::Job;
use loamline_terms::{Sentence, each_of, say, template};

/// Findings about zones and phases; none for a job without any.
pub(crate) fn part_findings(job: &Job) -> Vec<Finding> {
    let mut found: Vec<Finding> = in_no_zone(job).into_iter().collect();
    found.extend(empty_zones(job));
    found.extend(too_early(job));
    found
}

fn in_no_zone(job: &Job) -> Option<Finding> {
    let d = job.document();
    if d.zones.is_empty() {
        return None;
    }
    let areas = d.areas.iter().filter(|(_, a)| a.zone.is_none()).map(|(id, area)| area_within(id, area));
    let racks = d.racks.iter().filter(|(_, r)| r.zone.is_none()).map(|(id, _)| say!("rack {id}", id = id));
    let lines = d
        .lines
        .keys()
        .filter(|id| d.owner_of_line(id).zone.is_none())
        .map(|id| say!("line {line}", line = id));
    let all: Vec<Sentence> = areas.chain(racks).chain(lines).collect();
    let what = match all.len() {
        0 => return None,
        1 => say!(
            "{thing} is in no zone: the papers and the bill of no zone have them.",
            thing = each_of(all).capitalised()
        ),
        _ => say!(
            "{things} are in no zone: the papers and the bill of no zone have them.",
            things = each_of(all).capitalised()
        ),
    };
    let mend = say!("Say which zone they belong to.");
    Some(Finding::new(Severity::Note, Subject::new("zones", ""), what).mend(mend))
}

fn empty_zones(job: &Job) -> Vec<Finding> {
    let d = job.document();
    let told = |(id, zone): (&String, &loamline_model::document::Zone)| {
        let what = say!(
            "{zone} has no listening area, no rack and no line.",
            zone = named(&zone.name, template!("Zone {id}"), id)
        );
        Finding::new(Severity::Note, Subject::new("zones", id), what)
            .mend(say!("Say of areas, racks or lines that they belong to it, or take it out."))
    };
    d.zones.iter().filter(|(id, _)| !d.zone_has_any(id)).map(told).collect()
}

/// Lines whose amplifier comes in a later phase.
fn too_early(job: &Job) -> Vec<Finding> {
    let d = job.document();
    let name = |phase: Option<&str>| {
        let known = phase.and_then(|id| d.phases.get_key_value(id));
        known.map_or_else(|| say!("the beginning"), |(id, p)| named(&p.name, template!("phase {id}"), id))
    };
    let one = |(id, line): (&String, &loamline_model::document::Line)| {
        let channel = d.channels.get(line.channel.as_ref()?)?;
        let built = d.owner_of_line(id).phase;
        let fed = d.owner_of_amplifier(&channel.amplifier).phase;
        (d.turn_of_phase(fed) > d.turn_of_phase(built)).then(|| {
            let what = say!(
                "Line {line} is built in {built}, and amplifier {amplifier} that feeds it comes in {fed}: until then it cannot be \
                 heard.",
                line = id,
                built = name(built),
                amplifier = &channel.amplifier,
                fed = name(fed)
            );
            Finding::new(Severity::Error, Subject::new("lines", id), what)
                .mend(say!("Put the amplifier in earlier, or build the line later."))
        })
    };
    d.lines.iter().filter_map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    fn told(zones: &str) -> Vec<(Severity, String)> {
        let text = format!(
            "format = 1\n[job]\nname = \"Parts\"\n[racks.R1]\nposition = [0, 0]\n[amplifiers.P1]\nmodel = \"line-4x280\"\n\
             rack = \"R1\"\nphase = \"late\"\n[channels.C1]\namplifier = \"P1\"\noutput = 1\n[lines.A]\nchannel = \"C1\"\n\
             cable = \"burial-2x2.5mm2\"\nphase = \"early\"\n[phases.early]\nname = \"This year\"\n[phases.late]\n{zones}"
        );
        let job = read_job(&SourceFile::new("job.toml", text), &[]).unwrap();
        part_findings(&job).into_iter().map(|f| (f.severity, f.sentence.to_string())).collect()
    }

    #[test]
    fn a_line_that_comes_before_its_amplifier_is_an_error() {
        let found = told("");
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].0, Severity::Error);
        assert!(
            found[0].1.contains("Line A is built in This year") && found[0].1.contains("phase late"),
            "{found:?}"
        );
    }

    #[test]
    fn what_is_in_no_zone_is_told_once_and_so_is_a_zone_with_nothing_in_it() {
        let found = told("[zones.pool]\nname = \"Pool\"\n");
        let notes: Vec<&str> = found.iter().filter(|f| f.0 == Severity::Note).map(|f| f.1.as_str()).collect();
        assert_eq!(
            notes,
            [
                "Rack R1 and line A are in no zone: the papers and the bill of no zone have them.",
                "Pool has no listening area, no rack and no line."
            ]
        );
    }
}
