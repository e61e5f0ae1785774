//! Findings of what was measured: readings that are not good, and what visits name and cannot be found.

use crate::finding::{Finding, Severity, Subject};
use crate::judged::JudgedReading;
use crate::measured::Measured;
use crate::meter::joint_at;
use crate::names::neighbour_within;
use loamline_faults::{Grade, Says};
use loamline_model::Job;

/// Findings of readings that stand and are not good, the worst first, and of what visits name and cannot be found.
#[must_use]
pub fn judged_findings(job: &Job, all: &[JudgedReading]) -> Vec<Finding> {
    let mut found: Vec<Finding> = Vec::new();
    let mut worst: Vec<&JudgedReading> = all.iter().filter(|r| r.stands() && r.in_doubt()).collect();
    let rank = |r: &JudgedReading| match r.says {
        Some(Says::Short) => 0,
        Some(Says::Open) => 1,
        _ => 2,
    };
    worst.sort_by_key(|r| (std::cmp::Reverse(r.grade), rank(r)));
    for one in worst {
        let severity = match (one.grade, one.says) {
            (Some(Grade::Bad), Some(Says::Short | Says::Open)) => Severity::Error,
            (Some(Grade::Bad), _) => Severity::Warning,
            // No line in order leaks so: the limit is none that chance passes.
            (Some(Grade::Doubtful), _) if one.measured == Measured::Leakage => Severity::Warning,
            _ => Severity::Note,
        };
        let mut command = None;
        let locate = || format!("loamline locate JOB --line {} --visit {}", one.line, one.visit);
        let mend = match (one.measured, one.grade) {
            (Measured::Loop(_), Some(Grade::Doubtful)) if one.stage.is_some() => {
                command = Some(locate());
                "Tick off the runs that are laid; if the line is whole, find what is wrong with it."
                    .to_owned()
            }
            (Measured::Leakage, _) => "Open its joints, dry and seal them, then read it again.".to_owned(),
            (_, Some(Grade::Doubtful)) => "Read it again: one good line in twenty reads so.".to_owned(),
            _ => {
                command = Some(locate());
                "Find it before an amplifier is connected; what explains the readings says what to measure next."
                    .to_owned()
            }
        };
        let finding =
            Finding::new(severity, Subject::new("lines", &one.line), one.sentence.clone()).mend(mend);
        found.push(match command {
            Some(command) => finding.command(command),
            None => finding,
        });
    }
    found.extend(lost(job));
    found
}

/// `; did you mean "A"?`
fn nearest<'a>(name: &str, of: impl Iterator<Item = &'a String>) -> String {
    let near = loamline_model::closest(name, of.map(String::as_str));
    near.map_or_else(String::new, |near| format!("; did you mean \"{near}\"?"))
}

/// What visits name that is not there, neither in the job nor in what the visit kept.
fn lost(job: &Job) -> Vec<Finding> {
    let d = job.document();
    let mut found = Vec::new();
    for (id, visit) in &d.visits {
        let mut say = |severity: Severity, what: String, missing: String| {
            let about = Subject::new("visits", id);
            let sentence = format!("Visit {id}: {what} names {missing}");
            found.push(Finding::new(severity, about, sentence).mend("Name what it was taken of."));
        };
        let there = |at: &str| job.node(at).is_some();
        for (key, r) in visit.readings.iter().filter(|(key, _)| visit.kept_of_reading(key).is_none()) {
            let what = format!("reading {key}");
            let Some(line) = d.lines.get(&r.line) else {
                let near = nearest(&r.line, d.lines.keys());
                say(Severity::Warning, what, format!("line \"{}\", which there is none of{near}.", r.line));
                continue;
            };
            let Some(at) = joint_at(job, r.at.as_deref()) else { continue };
            let at = at.as_str();
            let joins = line.runs.values().any(|run| run.from == at || run.to == at)
                || d.loudspeakers.get(at).is_some_and(|l| l.line.as_ref() == Some(&r.line));
            if !there(at) {
                let near = nearest(at, d.loudspeakers.keys().chain(d.joints.keys()));
                say(Severity::Warning, what, format!("\"{at}\", which there is none of{near}."));
            } else if !joins && !d.stubs.contains_key(at) {
                say(Severity::Warning, what, format!("{at}, which is not on line {}.", r.line));
            }
        }
        for (key, l) in &visit.levels {
            let what = format!("level {key}");
            let named = l.neighbour.as_deref().map(|n| (n, d.neighbours.get(n)));
            if let Some(area) = l.area.as_ref().filter(|a| !d.areas.contains_key(*a)) {
                let near = nearest(area, d.areas.keys());
                say(Severity::Note, what, format!("area \"{area}\", which there is none of{near}."));
            } else if let Some((neighbour, None)) = named {
                let near = nearest(neighbour, d.neighbours.keys());
                say(
                    Severity::Note,
                    what,
                    format!("neighbour \"{neighbour}\", which there is none of{near}."),
                );
            } else if let (Some((neighbour, Some(there))), Some(floor)) = (named, &l.floor)
                && !there.floors.contains_key(floor)
            {
                let near = nearest(floor, there.floors.keys());
                let missing = format!(
                    "floor \"{floor}\" of {}, which there is none of{near}.",
                    neighbour_within(neighbour, there, None)
                );
                say(Severity::Note, what, missing);
            }
        }
        for (key, done) in visit.done.iter().filter(|(key, _)| visit.kept_of_done(key).is_none()) {
            let what = format!("tick {key}");
            if let (Some(line), Some(run)) = (&done.line, &done.run)
                && d.lines.get(line).is_none_or(|l| !l.runs.contains_key(run))
            {
                say(Severity::Note, what, format!("run {run} of line {line}, which there is none of."));
            } else if let Some(at) = done.at.as_deref().filter(|at| !there(at)) {
                say(Severity::Note, what, format!("\"{at}\", which there is none of."));
            }
        }
        for (key, photo) in visit.photos.iter().filter(|(key, _)| visit.kept_of_photo(key).is_none()) {
            if let Some(at) = photo.at.as_deref().filter(|at| !there(at)) {
                say(Severity::Note, format!("photo {key}"), format!("\"{at}\", which there is none of."));
            }
        }
    }
    found
}
