//! Every recorded reading of a job, judged: held against what its line should read where and at the frequency it was taken.
//!
//! One judgement for all: `check`, `years`, `expect`, the app, the phone's pack and the papers show what is worked out
//! here. The rule is that of [`loamline_faults::Judgement`], the interval the one `expect` prints, and what is blamed is
//! what `locate` ranks first for the same visit.
//!
//! - A reading is held against the line as the visit kept it, where the line has been replaced or changed since, else against
//!   the line as drawn today. One of a line that was changed still tells of that line until it is read again; one of a line that was
//!   replaced, or at a joint that is gone, tells of nothing that is there.
//! - While a line is built, at the rack: against the stage it was built to, by the runs ticked off as laid until then; where
//!   none is, against the stage that fits, the finished line first. What fits a stage that nobody ticked off is doubtful: a
//!   finished line that is cut there reads the same.
//! - A reading stands until the same is read again: findings are of readings that stand.

mod blame;
mod held;
mod question;
mod reading;
mod so_far;

pub use question::{question_of, visit_asks};
pub use reading::{Blamed, JudgedReading};
pub use so_far::{SoFar, so_far};

use crate::measured::Measured;
use crate::meter::{ExpectedLine, joint_at};
use blame::blame;
use held::{Held, hold};
use loamline_adapt::LaidRun;
use loamline_faults::{
    ExpectedReading, Grade, Judgement, LEAKAGE_MOHM, Place, Shown, Tolerances, judge_leakage,
};
use loamline_model::document::{KeptLine, Reading, Visit, VisitKind, Work};
use loamline_model::{Job, LineChange};
use loamline_terms::{LINE_METER_HZ, Sentence, say};

/// What a reading measured and what it showed; `None` for a level.
fn measured(reading: &Reading) -> Option<(Measured, Shown)> {
    match (reading.leakage_ohm, reading.dc, reading.impedance) {
        (Some(ohm), _, _) => Some((Measured::Leakage, Shown::Ohm(ohm))),
        (None, Some(read), _) => Some((Measured::Loop(0.0), read)),
        (None, None, Some(read)) => {
            Some((Measured::Loop(reading.frequency_hz.unwrap_or(LINE_METER_HZ)), read))
        }
        (None, None, None) => None,
    }
}

/// Every reading of every visit, the oldest visit first; levels are left out.
#[must_use]
pub fn judged(job: &Job, runs: &[LaidRun], tolerances: &Tolerances) -> Vec<JudgedReading> {
    let visits = &job.document().visits;
    let mut order: Vec<(&String, &Visit)> = visits.iter().collect();
    order.sort_by(|a, b| a.1.date.cmp(&b.1.date));
    let mut frequencies: Vec<f64> = Vec::new();
    for reading in visits.values().flat_map(|v| v.readings.values()) {
        if let Some((Measured::Loop(hz), _)) = measured(reading)
            && !frequencies.contains(&hz)
        {
            frequencies.push(hz);
        }
    }
    let mut held: Vec<Held<'_>> = Vec::new();
    let mut all = Vec::new();
    let mut of: Vec<usize> = Vec::new();
    for (id, visit) in &order {
        for (key, reading) in &visit.readings {
            let Some((what, read)) = measured(reading) else { continue };
            let kept = visit.kept_of_reading(key);
            let index = hold(&mut held, kept.map(|k| k.1), job, runs, &frequencies, tolerances);
            let mut one = JudgedReading {
                visit: (*id).clone(),
                date: visit.date.clone(),
                reading: key.clone(),
                line: reading.line.clone(),
                as_it_was: kept.map(|k| k.0.to_owned()),
                replaced: kept.is_some_and(|k| is_no_more(job, k.1, reading)),
                other_equipment: kept.is_some_and(|k| has_other_equipment(job, k.1)),
                since: kept.and_then(|k| since(job, k.1)),
                at: joint_at(job, reading.at.as_deref()),
                measured: what,
                ohm: read.ohm(),
                above: reading.above,
                expected_ohm: None,
                low_ohm: None,
                high_ohm: None,
                stage: None,
                grade: None,
                says: None,
                why_not: None,
                superseded: false,
                blamed: None,
                expected: Sentence::default(),
                verdict: Sentence::default(),
                sentence: Sentence::default(),
            };
            judge(&mut one, &held[index], visit, &order);
            all.push(one);
            of.push(index);
        }
    }
    for k in 0..all.len() {
        let same = |other: &JudgedReading| {
            let a: &JudgedReading = &all[k];
            let kept = |r: &JudgedReading| (r.as_it_was.clone(), r.visit.clone());
            a.is_of_same(other) && a.replaced == other.replaced && (!a.replaced || kept(a) == kept(other))
        };
        let later = all[k + 1..].iter().any(same);
        all[k].superseded = later;
    }
    blame(&mut all, &of, &held, job, tolerances);
    for one in &mut all {
        one.put_into_words();
    }
    all
}

/// Whether what a reading was taken of is there no more: another line, or none, came in its place, or its joint is gone.
fn is_no_more(job: &Job, kept: &KeptLine, reading: &Reading) -> bool {
    let now = job.line(&kept.line);
    let joins = |at: &str| now.as_ref().is_some_and(|line| line.tree.nodes().any(|node| node == at));
    kept.replaced || now.is_none() || joint_at(job, reading.at.as_deref()).is_some_and(|at| !joins(&at))
}

/// Whether a line has other equipment than a visit kept it with, or is not there.
fn has_other_equipment(job: &Job, kept: &KeptLine) -> bool {
    let now = job.line_to_keep(&kept.line);
    now.is_none_or(|now| kept.changes_to(&now).iter().any(LineChange::is_of_equipment))
}

/// What became of a line since a visit kept it, in words; `None` where it is as it was again.
fn since(job: &Job, kept: &KeptLine) -> Option<Sentence> {
    match job.line_to_keep(&kept.line) {
        None => Some(say!("the line was taken out since")),
        Some(_) if kept.replaced => Some(say!("the line was replaced since")),
        Some(now) => {
            let told = kept.changes_to(&now).into_iter().map(|change| change.told());
            told.reduce(|all, one| all + ", " + one)
        }
    }
}

fn judge(one: &mut JudgedReading, held: &Held<'_>, visit: &Visit, order: &[(&String, &Visit)]) {
    let Measured::Loop(hz) = one.measured else {
        one.low_ohm = Some(1e6 * LEAKAGE_MOHM);
        match one.ohm.and_then(|ohm| judge_leakage(ohm, one.above)) {
            Some(j) => (one.grade, one.says) = (Some(j.grade), Some(j.says)),
            None => one.why_not = Some(say!("the tester's range ends below the limit")),
        }
        return;
    };
    let line = match &held.expected {
        Ok(lines) => lines.get(&one.line),
        Err(why) => {
            one.why_not = Some(why.to_string().trim_end_matches('.').into());
            return;
        }
    };
    let Some(line) = line else {
        one.why_not = Some(if held.job.document().lines.contains_key(&one.line) {
            say!("the line has no runs or no loudspeakers")
        } else {
            say!("there is no line {line}", line = &one.line)
        });
        return;
    };
    let place = one.at.clone().map_or(Place::Rack, Place::Downstream);
    let here = |all: &[ExpectedReading]| {
        all.iter().find(|e| e.place == place && (e.frequency_hz - hz).abs() < 1e-9).cloned()
    };
    let Some(finished) = here(&line.readings) else {
        let at = one.at.as_deref().map_or_else(|| say!("the rack"), Sentence::from);
        one.why_not = Some(say!("{at} is not on line {line}", at = at, line = &one.line));
        return;
    };
    let shown = one.ohm.filter(|_| !one.above).map_or(Shown::Open, Shown::Ohm);
    let mut stages: Vec<(Option<String>, ExpectedReading)> = vec![(None, finished)];
    let mut ticked = false;
    if visit.kind == VisitKind::Building && one.at.is_none() {
        let unfinished = line.stages.iter().rev().skip(1);
        let unfinished = unfinished.filter_map(|s| Some((Some(s.joint.clone()), here(&s.readings)?)));
        match built_to(line, one, visit, order) {
            Built::Finished => {}
            Built::To(joint) => {
                stages = unfinished.filter(|s| s.0.as_deref() == Some(&joint)).collect();
                ticked = true;
            }
            Built::Unknown => stages.extend(unfinished),
        }
    }
    let fits = stages.iter().position(|s| s.1.judge(shown).good()).unwrap_or(0);
    let Some((stage, expected)) = stages.into_iter().nth(fits) else { return };
    one.stage = stage;
    (one.expected_ohm, one.low_ohm, one.high_ohm) = (expected.ohm, expected.low_ohm, expected.high_ohm);
    let range = one.ohm.filter(|_| one.above);
    if range.zip(expected.high_ohm).is_some_and(|(range, high)| range < high) {
        one.why_not = Some(say!("the meter's range ends below what is expected"));
        return;
    }
    let Judgement { grade, says } = expected.judge(shown);
    let guessed = one.stage.is_some() && !ticked;
    one.grade = Some(if guessed { grade.max(Grade::Doubtful) } else { grade });
    one.says = Some(says);
}

/// How far a line was built.
enum Built {
    Finished,
    To(String),
    Unknown,
}

/// How far a line was built at a visit, by the runs ticked off as laid at it and before it.
fn built_to(line: &ExpectedLine, one: &JudgedReading, visit: &Visit, order: &[(&String, &Visit)]) -> Built {
    let until = order.iter().take_while(|(_, v)| v.date <= visit.date);
    // Ticks of the line the reading is of: of one that was replaced, or of the one that is there.
    let of_it = |v: &Visit, key: &str| v.kept_of_done(key).is_some_and(|k| k.1.replaced) == one.replaced;
    let ticks = until.flat_map(|(_, v)| v.done.iter().filter(|(key, _)| of_it(v, key)).map(|(_, done)| done));
    let laid: Vec<&str> = ticks
        .filter(|d| d.work == Work::Laid && d.line.as_deref() == Some(&one.line))
        .filter_map(|d| d.run.as_deref())
        .collect();
    let is_laid = |joint: &str| line.runs.iter().any(|r| r.to == joint && laid.contains(&r.id.as_str()));
    if laid.is_empty() {
        return Built::Unknown;
    }
    if line.stages.iter().all(|s| is_laid(&s.joint)) {
        return Built::Finished;
    }
    // Laid in another order than that of the stages: which of them it reads like is not known.
    let first_missing = line.stages.iter().position(|s| !is_laid(&s.joint)).unwrap_or(0);
    if first_missing == 0 || line.stages[first_missing..].iter().any(|s| is_laid(&s.joint)) {
        return Built::Unknown;
    }
    Built::To(line.stages[first_missing - 1].joint.clone())
}
