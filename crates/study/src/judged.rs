//! Every recorded reading of a job, judged: held against what its line should read where and at the frequency it was taken.
//!
//! One judgement for all: `check`, `years`, `expect`, the app, the phone's pack and the papers show what is worked out
//! here. The rule is that of [`loamline_faults::Judgement`], the interval the one `expect` prints, and what is blamed is
//! what `locate` ranks first for the same visit.
//!
//! - A reading is held against the line as the visit kept it, where the line has been replaced since, else against the line
//!   as drawn today.
//! - While a line is built, at the rack: against the stage it was built to, by the runs ticked off as laid until then; where
//!   none is, against the stage that fits, the finished line first.
//! - A reading stands until the same is read again: findings are of readings that stand.

use crate::error::StudyError;
use crate::measured::{Measured, ohms};
use crate::meter::{ExpectedLine, Question, expect, explain, joint_at, readings_of};
use crate::names::visit_words;
use indexmap::IndexMap;
use loamline_adapt::{LaidRun, laid_runs};
use loamline_faults::{
    ExpectedReading, Fault, Grade, Judgement, LEAKAGE_MOHM, Place, Says, Shown, Tolerances, judge_leakage,
};
use loamline_model::document::{KeptLine, Reading, Visit, VisitKind, Work};
use loamline_model::{Job, KeptLineError};
use loamline_terms::{LINE_METER_HZ, OPEN, Sentence};
use serde::Serialize;

/// What explains a reading that is not good.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Blamed {
    /// What `locate` ranks first for the readings of the visit on that line, in words.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
    /// How likely it is, 0 to 1; absent where no explanation comes near.
    pub probability: Option<f64>,
    /// Whether it is that nothing is wrong.
    pub healthy: bool,
}

/// A reading with what is to be said of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct JudgedReading {
    /// The visit.
    pub visit: String,
    /// Its day.
    pub date: String,
    /// Id of the reading.
    pub reading: String,
    /// Line it was taken of.
    pub line: String,
    /// Where the line has been replaced or removed since: the id under which the visit keeps it as it was.
    pub as_it_was: Option<String>,
    /// Joint or loudspeaker it was taken at; absent at the rack.
    pub at: Option<String>,
    /// What was measured.
    pub measured: Measured,
    /// What was read, ohm; absent where the meter showed an open line.
    pub ohm: Option<f64>,
    /// The meter showed more than this.
    pub above: bool,
    /// What it should have read, ohm; absent for leakage and where an open line is expected.
    pub expected_ohm: Option<f64>,
    /// 95 of 100 sound lines read at least this, ohm; of leakage the limit.
    pub low_ohm: Option<f64>,
    /// 95 of 100 sound lines read at most this, ohm.
    pub high_ohm: Option<f64>,
    /// The joint the line was built to then, where it was not finished.
    pub stage: Option<String>,
    /// How good it is; absent where nothing can be told, see `why_not`.
    pub grade: Option<Grade>,
    /// On which side it lies.
    pub says: Option<Says>,
    /// Why nothing can be told.
    pub why_not: Option<String>,
    /// Whether the same was read again later.
    pub superseded: bool,
    /// What explains it, where it stands and is not good.
    pub blamed: Option<Blamed>,
    /// What was expected in words: `3.04 to 3.69 ohm`, `at least 1.00 Mohm`, `open`; empty where nothing can be told.
    pub expected: String,
    /// The verdict in a few words: `good`, `bad: too low, as a short reads`, `not judged`.
    pub verdict: String,
    /// All of it in a sentence.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
}

impl JudgedReading {
    /// Whether something is wrong with it, or may be.
    #[must_use]
    pub fn in_doubt(&self) -> bool {
        self.grade.is_some_and(|g| g != Grade::Good)
    }

    /// Whether it is the last word about a line that is there.
    #[must_use]
    pub fn stands(&self) -> bool {
        !self.superseded && self.as_it_was.is_none()
    }

    /// What was read in words: `0.40 ohm`, `open`, `more than 200 Mohm`.
    #[must_use]
    pub fn read(&self) -> String {
        match (self.ohm, self.above, self.measured) {
            (None, _, _) => OPEN.to_owned(),
            (_, true, Measured::Loop(_)) if self.says == Some(Says::Open) => OPEN.to_owned(),
            (Some(ohm), true, _) => format!("more than {}", ohms(ohm)),
            (Some(ohm), false, _) => ohms(ohm),
        }
    }

    fn expected_words(&self) -> String {
        match (self.measured, self.low_ohm, self.high_ohm) {
            (Measured::Leakage, _, _) => format!("at least {}", ohms(1e6 * LEAKAGE_MOHM)),
            (_, Some(low), Some(high)) => {
                let (low, high) = (ohms(low), ohms(high));
                let unit = |text: &str| text.rsplit_once(' ').map(|x| x.1.to_owned());
                // The unit stands once where it is the same.
                let low = if unit(&low) == unit(&high) {
                    low.split_once(' ').map_or(low.as_str(), |x| x.0).to_owned()
                } else {
                    low
                };
                format!("{low} to {high}")
            }
            _ if self.why_not.is_some() => String::new(),
            _ => OPEN.to_owned(),
        }
    }

    fn verdict_words(&self) -> String {
        let Some(grade) = self.grade else { return "not judged".to_owned() };
        let why = match (self.says, self.measured) {
            (Some(Says::Within) | None, _) => return grade.word().to_owned(),
            (Some(_), Measured::Leakage) => "it leaks",
            (Some(Says::Low), _) => "too low",
            (Some(Says::High), _) => "too high",
            (Some(Says::Short), _) => "too low, as a short reads",
            (Some(Says::Open), _) => "open",
        };
        format!("{}: {why}", grade.word())
    }
}

/// Something measured, as a person names it: `DC`, `1 kHz`, `to earth`.
#[must_use]
pub fn measured_words(measured: Measured) -> String {
    match measured {
        Measured::Leakage => "to earth".to_owned(),
        Measured::Loop(hz) if hz <= 0.0 => "DC".to_owned(),
        Measured::Loop(hz) if hz >= 1000.0 => format!("{} kHz", hz / 1000.0),
        Measured::Loop(hz) => format!("{hz} Hz"),
    }
}

/// What a reading measured and what it showed; `None` for a level.
pub(crate) fn measured(reading: &Reading) -> Option<(Measured, Shown)> {
    match (reading.leakage_ohm, reading.dc, reading.impedance) {
        (Some(ohm), _, _) => Some((Measured::Leakage, Shown::Ohm(ohm))),
        (None, Some(read), _) => Some((Measured::Loop(0.0), read)),
        (None, None, Some(read)) => {
            Some((Measured::Loop(reading.frequency_hz.unwrap_or(LINE_METER_HZ)), read))
        }
        (None, None, None) => None,
    }
}

/// Why nothing is expected of a line.
#[derive(Debug, thiserror::Error)]
#[error(transparent)]
enum NotExpected {
    /// As a visit kept it.
    Kept(KeptLineError),
    /// As it is.
    Now(StudyError),
}

/// A job as far as some readings go: as it is, or one line of it as it was.
struct Held<'j> {
    kept: Option<&'j KeptLine>,
    job: std::borrow::Cow<'j, Job>,
    runs: Vec<LaidRun>,
    expected: Result<IndexMap<String, ExpectedLine>, NotExpected>,
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
                expected: String::new(),
                verdict: String::new(),
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
            (&a.line, &a.at, &a.as_it_was) == (&other.line, &other.at, &other.as_it_was)
                && a.measured == other.measured
                && (a.as_it_was.is_none() || a.visit == other.visit)
        };
        let later = all[k + 1..].iter().any(same);
        all[k].superseded = later;
    }
    blame(&mut all, &of, &held, job, tolerances);
    for one in &mut all {
        one.expected = one.expected_words();
        one.verdict = one.verdict_words();
        one.sentence = sentence(one);
    }
    all
}

/// Index of what readings of a line are held against, made at first sight.
fn hold<'j>(
    held: &mut Vec<Held<'j>>,
    kept: Option<&'j KeptLine>,
    job: &'j Job,
    runs: &[LaidRun],
    frequencies: &[f64],
    tolerances: &Tolerances,
) -> usize {
    let same = |a: &KeptLine, b: &KeptLine| {
        let bare = |k: &KeptLine| KeptLine {
            readings: Vec::new(),
            done: Vec::new(),
            photos: Vec::new(),
            ..k.clone()
        };
        bare(a) == bare(b)
    };
    let found = held.iter().position(|h| match (h.kept, kept) {
        (None, None) => true,
        (Some(a), Some(b)) => same(a, b),
        _ => false,
    });
    if let Some(index) = found {
        return index;
    }
    let (job, runs, problem) = match kept.map(|k| job.as_it_was(k)) {
        None => (std::borrow::Cow::Borrowed(job), runs.to_vec(), None),
        Some(Ok(was)) => {
            let runs = laid_runs(&was);
            (std::borrow::Cow::Owned(was), runs, None)
        }
        Some(Err(why)) => (std::borrow::Cow::Borrowed(job), Vec::new(), Some(why)),
    };
    let expected = match problem {
        Some(why) => Err(NotExpected::Kept(why)),
        None => expect(&job, &runs, frequencies, tolerances).map_err(NotExpected::Now),
    };
    held.push(Held { kept, job, runs, expected });
    held.len() - 1
}

fn judge(one: &mut JudgedReading, held: &Held<'_>, visit: &Visit, order: &[(&String, &Visit)]) {
    let Measured::Loop(hz) = one.measured else {
        one.low_ohm = Some(1e6 * LEAKAGE_MOHM);
        match one.ohm.and_then(|ohm| judge_leakage(ohm, one.above)) {
            Some(j) => (one.grade, one.says) = (Some(j.grade), Some(j.says)),
            None => one.why_not = Some("the tester's range ends below the limit".to_owned()),
        }
        return;
    };
    let line = match &held.expected {
        Ok(lines) => lines.get(&one.line),
        Err(why) => {
            one.why_not = Some(why.to_string().trim_end_matches('.').to_owned());
            return;
        }
    };
    let Some(line) = line else {
        one.why_not = Some(if held.job.document().lines.contains_key(&one.line) {
            "the line has no runs or no loudspeakers".to_owned()
        } else {
            format!("there is no line {}", one.line)
        });
        return;
    };
    let place = one.at.clone().map_or(Place::Rack, Place::Downstream);
    let here = |all: &[ExpectedReading]| {
        all.iter().find(|e| e.place == place && (e.frequency_hz - hz).abs() < 1e-9).cloned()
    };
    let Some(finished) = here(&line.readings) else {
        let at = one.at.as_deref().unwrap_or("the rack");
        one.why_not = Some(format!("{at} is not on line {}", one.line));
        return;
    };
    let shown = one.ohm.filter(|_| !one.above).map_or(Shown::Open, Shown::Ohm);
    let mut stages: Vec<(Option<String>, ExpectedReading)> = vec![(None, finished)];
    if visit.kind == VisitKind::Building && one.at.is_none() {
        let unfinished = line.stages.iter().rev().skip(1);
        let unfinished = unfinished.filter_map(|s| Some((Some(s.joint.clone()), here(&s.readings)?)));
        match built_to(line, one, visit, order) {
            Built::Finished => {}
            Built::To(joint) => stages = unfinished.filter(|s| s.0.as_deref() == Some(&joint)).collect(),
            Built::Unknown => stages.extend(unfinished),
        }
    }
    let fits = stages.iter().position(|s| s.1.judge(shown).good()).unwrap_or(0);
    let Some((stage, expected)) = stages.into_iter().nth(fits) else { return };
    one.stage = stage;
    (one.expected_ohm, one.low_ohm, one.high_ohm) = (expected.ohm, expected.low_ohm, expected.high_ohm);
    let range = one.ohm.filter(|_| one.above);
    if range.zip(expected.high_ohm).is_some_and(|(range, high)| range < high) {
        one.why_not = Some("the meter's range ends below what is expected".to_owned());
        return;
    }
    let Judgement { grade, says } = expected.judge(shown);
    (one.grade, one.says) = (Some(grade), Some(says));
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
    // Ticks of the line the reading is of: of the one as it was, or of the one that is there.
    let of_it = |v: &Visit, key: &str| v.kept_of_done(key).is_some() == one.as_it_was.is_some();
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

/// Explains the readings that stand and are not good: what `locate` says of that visit.
fn blame(all: &mut [JudgedReading], of: &[usize], held: &[Held<'_>], job: &Job, tolerances: &Tolerances) {
    let mut known: Vec<((String, String, usize), Option<Blamed>)> = Vec::new();
    for k in 0..all.len() {
        let one = &all[k];
        let loops = matches!(one.measured, Measured::Loop(_));
        // A line that is still being built is not yet the one that faults are looked for in.
        if !loops || !one.in_doubt() || one.superseded || one.stage.is_some() {
            continue;
        }
        let group = (one.visit.clone(), one.line.clone(), of[k]);
        let blamed = match known.iter().find(|(g, _)| *g == group) {
            Some((_, blamed)) => blamed.clone(),
            None => {
                let undecided: Vec<&str> = all
                    .iter()
                    .filter(|r| r.visit == one.visit && r.grade.is_none())
                    .map(|r| r.reading.as_str())
                    .collect();
                let visit = job.document().visits.get(&one.visit);
                let blamed = visit.and_then(|visit| {
                    blamed(&held[of[k]], &one.line, one.as_it_was.as_deref(), visit, &undecided, tolerances)
                });
                known.push((group, blamed.clone()));
                blamed
            }
        };
        all[k].blamed = blamed;
    }
}

fn blamed(
    held: &Held<'_>,
    line: &str,
    kept: Option<&str>,
    visit: &Visit,
    undecided: &[&str],
    tolerances: &Tolerances,
) -> Option<Blamed> {
    let mut visit = visit.clone();
    visit.readings.retain(|id, _| !undecided.contains(&id.as_str()));
    let question = Question { tolerances: *tolerances, ..question_of(&held.job, &visit, line, kept) };
    let located = explain(&held.job, &held.runs, line, &question).ok()?;
    let d = &located.diagnosis;
    if let Some(unexplained) = &d.unexplained {
        return Some(Blamed { sentence: unexplained.sentence.clone(), probability: None, healthy: false });
    }
    let answer = d.answers.first()?;
    let only = match answer.members.as_slice() {
        [only] => d.explanations.get(*only),
        _ => None,
    };
    Some(Blamed {
        sentence: only.map_or_else(|| answer.sentence.clone(), |e| e.sentence.clone()),
        probability: Some(answer.probability),
        healthy: answer
            .members
            .iter()
            .any(|m| d.explanations.get(*m).is_some_and(|e| e.fault == Fault::Healthy)),
    })
}

/// The question a visit asks about a line: its readings, the joints it opened and found good, the temperature of the
/// ground. `kept` is the id under which the visit keeps the line, for what was read of it before it was replaced; `job` then
/// is [`Job::as_it_was`].
#[must_use]
pub fn question_of(job: &Job, visit: &Visit, line: &str, kept: Option<&str>) -> Question {
    let joins: Vec<&str> = job.line(line).map(|v| v.tree.nodes().skip(1).collect()).unwrap_or_default();
    let opened = visit.done.values().filter(|d| d.work == Work::Opened).filter_map(|d| d.at.as_deref());
    let mut opened: Vec<String> = opened.filter(|at| joins.contains(at)).map(str::to_owned).collect();
    opened.sort();
    opened.dedup();
    Question {
        readings: readings_of(job, visit, line, kept),
        opened,
        tolerances: Tolerances::default(),
        ground_temperature_c: visit.ground_temperature_c,
        pairs: false,
    }
}

/// What a visit says of a line, ready to be explained: the job to ask (the line as it was, where it has been replaced since
/// the visit and nothing was read of the new one) and the question.
///
/// # Errors
/// Why the line as it was cannot be asked any more.
pub fn visit_asks(job: &Job, visit: &Visit, line: &str) -> Result<(Job, Question), StudyError> {
    let now = question_of(job, visit, line, None);
    let kept = visit.lines.iter().find(|(_, k)| k.line == line && !k.readings.is_empty());
    match kept {
        Some((id, kept)) if now.readings.is_empty() => {
            let was =
                job.as_it_was(kept).map_err(|error| StudyError::KeptLine { line: line.to_owned(), error })?;
            let question = question_of(&was, visit, line, Some(id));
            Ok((was, question))
        }
        _ => Ok((job.clone(), now)),
    }
}

fn sentence(one: &JudgedReading) -> Sentence {
    let at = match &one.at {
        None => "at the rack".to_owned(),
        Some(joint) => format!("at {joint}, looking away from the rack"),
    };
    let visit = visit_words(&one.visit, &one.date);
    let line = match &one.as_it_was {
        None => format!("Line {}", one.line),
        Some(_) => format!("Line {} as it was then", one.line),
    };
    let read = one.read();
    let said = match one.measured {
        Measured::Leakage => format!("{line} leaks to earth through {read} {at} ({visit})"),
        what => format!("{line} reads {read} {at}, {} ({visit})", measured_words(what)),
    };
    if let Some(why) = &one.why_not {
        return format!("{said}; it cannot be judged: {why}.").into();
    }
    let stage =
        one.stage.as_ref().map_or_else(String::new, |joint| format!(" when it is built as far as {joint}"));
    let blamed = one.blamed.as_ref().filter(|_| one.in_doubt()).map_or_else(Sentence::default, blamed_words);
    let (first, rest) = one.verdict.split_at(1);
    let verdict = format!("{}{rest}", first.to_uppercase());
    Sentence::from(format!("{said}, where {} is expected{stage}. {verdict}.", one.expected)) + blamed
}

/// ` Likeliest (99 %): ...`
fn blamed_words(blamed: &Blamed) -> Sentence {
    match blamed.probability {
        None => Sentence::from(" ") + blamed.sentence.clone(),
        Some(p) => {
            let share = match p {
                _ if p > 0.995 => "> 99 %".to_owned(),
                _ => format!("{:.0} %", 100.0 * p),
            };
            Sentence::from(format!(" Likeliest ({share}): ")) + blamed.sentence.clone()
        }
    }
}
