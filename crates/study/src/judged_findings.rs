//! Findings of what was measured: readings that are not good, and what visits name and cannot be found.

use crate::finding::{Finding, Severity, Subject};
use crate::judged::JudgedReading;
use crate::measured::Measured;
use crate::meter::joint_at;
use crate::names::{neighbour_within, visit_words};
use loamline_faults::{Grade, Says};
use loamline_model::Job;
use loamline_model::document::Visit;
use loamline_terms::{Sentence, say};

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
        // A line that all its readings together call bad is no note, whatever this one says alone.
        let together = one.blamed.as_ref().map(|b| b.grade);
        let severity = match (one.grade.max(together), one.says) {
            (Some(Grade::Bad), Some(Says::Short | Says::Open)) if one.grade == Some(Grade::Bad) => {
                Severity::Error
            }
            (Some(Grade::Bad), _) => Severity::Warning,
            // No line in order leaks so: the limit is none that chance passes.
            (Some(Grade::Doubtful), _) if one.measured == Measured::Leakage => Severity::Warning,
            _ => Severity::Note,
        };
        let mut command = None;
        let locate = || format!("loamline locate JOB --line {} --visit {}", one.line, one.visit);
        let mend = match (one.measured, one.grade) {
            // Of what was changed since nothing is known until it is read; a tap does not stop a leak.
            (Measured::Loop(_), _) if one.since.is_some() => {
                say!("Read it again: {since}.", since = one.since.clone().unwrap_or_default())
            }
            (Measured::Loop(_), Some(Grade::Doubtful)) if one.stage.is_some() => {
                command = Some(locate());
                say!("Tick off the runs that are laid; if the line is whole, find what is wrong with it.")
            }
            (Measured::Leakage, _) => say!("Open its joints, dry and seal them, then read it again."),
            // What explains the readings is no chance of a good line.
            (_, Some(Grade::Doubtful)) if one.blamed.as_ref().is_some_and(|b| !b.healthy) => {
                command = Some(locate());
                say!(
                    "Read it again; if it reads so again, find what is told here before an amplifier is connected."
                )
            }
            (_, Some(Grade::Doubtful)) => say!("Read it again: one good line in twenty reads so."),
            _ => {
                command = Some(locate());
                say!(
                    "Find it before an amplifier is connected; what explains the readings says what to measure next."
                )
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
fn nearest<'a>(name: &str, of: impl Iterator<Item = &'a String>) -> Sentence {
    let near = loamline_model::closest(name, of.map(String::as_str));
    near.map_or_else(Sentence::default, |near| say!("; did you mean \"{near}\"?", near = near))
}

/// `"X", which there is none of; did you mean "Y"?`
fn none_of(what: Sentence, near: Sentence) -> Sentence {
    say!("{what}, which there is none of{near}.", what = what, near = near)
}

/// A name as it was written, in quotation marks.
fn quoted(name: &str) -> Sentence {
    format!("\"{name}\"").into()
}

/// What visits name that is not there, neither in the job nor in what the visit kept.
fn lost(job: &Job) -> Vec<Finding> {
    let mut found = Vec::new();
    for (id, visit) in &job.document().visits {
        let lost = lost_readings(job, visit).into_iter().chain(lost_levels(job, visit));
        let named = visit_words(id, &visit.date).capitalised();
        for (severity, what, missing) in lost.chain(lost_ticks_and_photos(job, visit)) {
            let sentence = say!(
                "{visit}: {what} names {missing}",
                visit = named.clone(),
                what = what,
                missing = missing
            );
            let about = Subject::new("visits", id);
            found.push(Finding::new(severity, about, sentence).mend(say!("Name what it was taken of.")));
        }
    }
    found
}

/// How much it matters, what names something, and what that is.
type Lost = (Severity, Sentence, Sentence);

fn lost_readings(job: &Job, visit: &Visit) -> Vec<Lost> {
    let d = job.document();
    let mut found = Vec::new();
    for (key, r) in visit.readings.iter().filter(|(key, _)| visit.kept_of_reading(key).is_none()) {
        let mut warn = |missing: Sentence| {
            found.push((Severity::Warning, say!("reading {key}", key = key), missing));
        };
        let Some(line) = d.lines.get(&r.line) else {
            let what = say!("line \"{line}\"", line = &r.line);
            warn(none_of(what, nearest(&r.line, d.lines.keys())));
            continue;
        };
        let Some(at) = joint_at(job, r.at.as_deref()) else { continue };
        let at = at.as_str();
        let joins = line.runs.values().any(|run| run.from == at || run.to == at)
            || d.loudspeakers.get(at).is_some_and(|l| l.line.as_ref() == Some(&r.line));
        if job.node(at).is_none() {
            let near = nearest(at, d.loudspeakers.keys().chain(d.joints.keys()));
            warn(none_of(quoted(at), near));
        } else if !joins && !d.stubs.contains_key(at) {
            warn(say!("{at}, which is not on line {line}.", at = at, line = &r.line));
        }
    }
    found
}

fn lost_levels(job: &Job, visit: &Visit) -> Vec<Lost> {
    let d = job.document();
    let mut found = Vec::new();
    for (key, l) in &visit.levels {
        let mut note = |missing: Sentence| {
            found.push((Severity::Note, say!("level {key}", key = key), missing));
        };
        let named = l.neighbour.as_deref().map(|n| (n, d.neighbours.get(n)));
        if let Some(area) = l.area.as_ref().filter(|a| !d.areas.contains_key(*a)) {
            note(none_of(say!("area \"{area}\"", area = area), nearest(area, d.areas.keys())));
        } else if let Some((neighbour, None)) = named {
            let what = say!("neighbour \"{neighbour}\"", neighbour = neighbour);
            note(none_of(what, nearest(neighbour, d.neighbours.keys())));
        } else if let (Some((neighbour, Some(there))), Some(floor)) = (named, &l.floor)
            && !there.floors.contains_key(floor)
        {
            let what = say!(
                "floor \"{floor}\" of {neighbour}",
                floor = floor,
                neighbour = neighbour_within(neighbour, there, None)
            );
            note(none_of(what, nearest(floor, there.floors.keys())));
        }
    }
    found
}

fn lost_ticks_and_photos(job: &Job, visit: &Visit) -> Vec<Lost> {
    let d = job.document();
    let gone = |at: &&str| job.node(at).is_none();
    let mut found = Vec::new();
    for (key, done) in visit.done.iter().filter(|(key, _)| visit.kept_of_done(key).is_none()) {
        let mut note = |what: Sentence| {
            let missing = none_of(what, Sentence::default());
            found.push((Severity::Note, say!("tick {key}", key = key), missing));
        };
        if let (Some(line), Some(run)) = (&done.line, &done.run)
            && d.lines.get(line).is_none_or(|l| !l.runs.contains_key(run))
        {
            note(say!("run {run} of line {line}", run = run, line = line));
        } else if let Some(at) = done.at.as_deref().filter(gone) {
            note(quoted(at));
        }
    }
    for (key, photo) in visit.photos.iter().filter(|(key, _)| visit.kept_of_photo(key).is_none()) {
        if let Some(at) = photo.at.as_deref().filter(gone) {
            let missing = none_of(quoted(at), Sentence::default());
            found.push((Severity::Note, say!("photo {key}", key = key), missing));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judged::Blamed;
    use loamline_model::{SourceFile, read_job};

    /// A doubtful reading of line A, and what explains it.
    fn doubtful(blamed: Option<Blamed>) -> JudgedReading {
        JudgedReading {
            visit: "V1".into(),
            date: "2026-05-02".into(),
            reading: "r".into(),
            line: "A".into(),
            as_it_was: None,
            replaced: false,
            other_equipment: false,
            since: None,
            at: None,
            measured: Measured::Loop(0.0),
            ohm: Some(9.8),
            above: false,
            expected_ohm: Some(6.6),
            low_ohm: Some(4.7),
            high_ohm: Some(9.3),
            stage: None,
            grade: Some(Grade::Doubtful),
            says: Some(Says::High),
            why_not: None,
            superseded: false,
            blamed,
            expected: Sentence::default(),
            verdict: Sentence::default(),
            sentence: "Line A reads 9.80 ohm.".into(),
        }
    }

    /// Chance is told only where nothing else explains the reading.
    #[test]
    fn a_doubtful_reading_that_a_fault_explains_is_not_put_down_to_chance() {
        let job = read_job(&SourceFile::new("job.toml", "format = 1\n[job]\nname = \"Bare\"\n"), &[]);
        let job = job.unwrap_or_else(|e| panic!("{e}"));
        let mend = |blamed: Option<Blamed>| {
            let found = judged_findings(&job, &[doubtful(blamed)]);
            let one = &found[0];
            (one.mend.as_ref().map(ToString::to_string).unwrap_or_default(), one.command.is_some())
        };
        let by = |healthy: bool| {
            let grade = if healthy { Grade::Good } else { Grade::Bad };
            Some(Blamed { sentence: "Run C2 is open.".into(), probability: Some(0.99), healthy, grade })
        };
        // The finding weighs what the line is called where its readings are explained.
        let severity = |blamed| judged_findings(&job, &[doubtful(blamed)])[0].severity;
        assert_eq!((severity(by(false)), severity(by(true))), (Severity::Warning, Severity::Note));
        let (with_a_fault, command) = mend(by(false));
        assert!(command && with_a_fault.starts_with("Read it again; if it reads so again"), "{with_a_fault}");
        assert!(!with_a_fault.contains("twenty"), "{with_a_fault}");
        for chance in [mend(by(true)), mend(None)] {
            assert_eq!(chance, ("Read it again: one good line in twenty reads so.".to_owned(), false));
        }
    }
    /// A line that was changed is read again before anything is looked for on it; its finding stays until then.
    #[test]
    fn a_reading_of_a_line_that_was_changed_since_is_to_be_taken_again() {
        let job = read_job(&SourceFile::new("job.toml", "format = 1\n[job]\nname = \"Bare\"\n"), &[]);
        let job = job.unwrap_or_else(|e| panic!("{e}"));
        let since = Some("L3 was taken out since".into());
        let changed = JudgedReading { as_it_was: Some("A".into()), since, ..doubtful(None) };
        let found = judged_findings(&job, std::slice::from_ref(&changed));
        let mend = found[0].mend.as_ref().map(ToString::to_string);
        assert_eq!(mend.as_deref(), Some("Read it again: L3 was taken out since."));
        let replaced = JudgedReading { replaced: true, ..changed };
        assert!(judged_findings(&job, &[replaced]).is_empty());
    }
}
