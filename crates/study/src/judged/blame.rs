//! What explains the readings that are not good.

use super::held::Held;
use super::question::question_of;
use super::reading::{Blamed, JudgedReading};
use crate::measured::Measured;
use crate::meter::{Question, explain};
use loamline_faults::{Fault, Tolerances};
use loamline_model::Job;
use loamline_model::document::Visit;

/// Explains the readings that stand and are not good: what `locate` says of that visit.
pub(super) fn blame(
    all: &mut [JudgedReading],
    of: &[usize],
    held: &[Held<'_>],
    job: &Job,
    tolerances: &Tolerances,
) {
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
        let sentence = unexplained.sentence.clone();
        return Some(Blamed { sentence, probability: None, healthy: false, grade: d.grade() });
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
        grade: d.grade(),
    })
}
