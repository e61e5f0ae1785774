//! Explanations that readings cannot tell apart are one answer.
//!
//! Two faults are alike where each can take a place or size, allowed by the readings, at which both predict what was read so
//! nearly the same that the difference is below [`ALIKE`] standard deviations, all errors and their correlations counted.
//! Deciding between two normal variables d standard deviations apart is right with probability Phi(d / 2): 0.69 at 1, so even
//! the best use of the readings names the right one of two alike faults less than seven times in ten. An answer holds faults
//! that are all alike each other (complete linkage), so that no chain of small steps joins faults that differ.

use serde::Serialize;

use crate::explanation::Explanation;
use crate::hypotheses::Fault;
use crate::predict::Prediction;
use crate::sentences::{phrase, several};
use crate::weigh::{Value, log_determinant_and_distance};
use loamline_electrics::Line;
use loamline_terms::{InLanguage, PlacedMeasure, Sentence, Told, say};
use std::collections::BTreeMap;

/// Standard deviations below which two predictions are the same. Larger puts faults into one answer that a meter could
/// tell apart; smaller names one of several on no evidence.
pub const ALIKE: f64 = 1.0;
/// A place or size is allowed by the readings while its ln probability is this close to that of the likeliest: two standard
/// deviations of a normal variable.
pub const ALLOWED: f64 = 2.0;

/// Explanations that these readings cannot tell apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Answer {
    /// Positions in the list of explanations, most probable first.
    pub members: Vec<usize>,
    /// Sum of their probabilities.
    pub probability: f64,
    /// In words.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
    /// The measures in the sentence, for an app that shows them in other units; none where it has none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub measures: Vec<PlacedMeasure>,
    /// The same in the languages that say it otherwise, by their names; none where none does.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub spoken: BTreeMap<String, InLanguage>,
}

/// What a place's readings are predicted to be under one fault, and what was read there.
pub(crate) type PredictedAndRead<'a> = (&'a Prediction, &'a [Value]);

/// True when two predictions, place by place, cannot be told apart.
pub(crate) fn alike(a: &[PredictedAndRead<'_>], b: &[PredictedAndRead<'_>]) -> bool {
    let mut squared = 0.0;
    for ((a, values), (b, _)) in a.iter().zip(b) {
        let mut used = Vec::with_capacity(values.len());
        let covariance = |i: usize, j: usize| 0.5 * (a.covariance(i, j) + b.covariance(i, j));
        for quantity in values.iter().map(|value| value.quantity) {
            match (a.mean[quantity], b.mean[quantity]) {
                (Some(x), Some(y)) => {
                    // One quantity alone that tells them apart is enough, and quickly found.
                    if (x - y).powi(2) > ALIKE * ALIKE * covariance(quantity, quantity) {
                        return false;
                    }
                    used.push((quantity, x - y));
                }
                (None, None) => {}
                _ => return false,
            }
        }
        squared +=
            log_determinant_and_distance(used.len(), |i, j| covariance(used[i].0, used[j].0), |i| used[i].1)
                .1;
    }
    squared < ALIKE * ALIKE
}

/// Where pairs are among the members of an answer, those that have this share of it are told one by one; of the many others
/// the number.
const TOLD: f64 = 0.9;

/// Several explanations as one sentence.
fn sentence_of_several(line: &Line, members: &[usize], explanations: &[Explanation]) -> Sentence {
    let mut faults: Vec<_> = members.iter().map(|&member| &explanations[member].fault).collect();
    let mut more = Sentence::default();
    if faults.iter().any(|fault| matches!(fault, Fault::Two { .. })) {
        let share = |count: usize| -> f64 {
            members.iter().take(count).map(|&member| explanations[member].probability).sum()
        };
        let whole = share(members.len());
        let told = (1..members.len()).find(|&count| share(count) >= TOLD * whole).unwrap_or(members.len());
        if told < members.len() {
            more = say!("; or {count} less likely", count = (members.len() - told).to_string());
        }
        faults.truncate(told);
    }
    match common_fault(&faults) {
        Some((one, true, others)) => say!(
            "{one}. Beside it the readings could not show: {others}{more}.",
            one = phrase(line, one).capitalised(),
            others = several(line, &others),
            more = more
        ),
        Some((one, false, others)) => say!(
            "{one}, and with it one of: {others}{more}.",
            one = phrase(line, one).capitalised(),
            others = several(line, &others),
            more = more
        ),
        None => say!(
            "One of these, which the readings cannot tell apart: {faults}{more}.",
            faults = several(line, &faults),
            more = more
        ),
    }
}

/// The fault that all of these hold, if they are pairs but for it, whether it is also there alone, and what it is paired with.
fn common_fault<'a>(faults: &[&'a Fault]) -> Option<(&'a Fault, bool, Vec<&'a Fault>)> {
    let pair = faults.iter().find(|fault| matches!(fault, Fault::Two { .. }))?;
    let one = pair.parts().into_iter().find(|one| faults.iter().all(|fault| fault.parts().contains(one)))?;
    let others: Vec<_> = faults.iter().flat_map(|fault| fault.parts()).filter(|part| *part != one).collect();
    Some((one, faults.len() > others.len(), others))
}

/// Joins explanations (most probable first) into answers, most probable first.
pub(crate) fn answers(
    line: &Line,
    explanations: &[Explanation],
    alike: &dyn Fn(usize, usize) -> bool,
) -> Vec<Answer> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for index in 0..explanations.len() {
        match groups.iter_mut().find(|group| group.iter().all(|&other| alike(other, index))) {
            Some(group) => group.push(index),
            None => groups.push(vec![index]),
        }
    }
    let mut answers: Vec<Answer> = groups
        .into_iter()
        .map(|members| {
            let sentence = match members.as_slice() {
                [only] => explanations[*only].sentence.clone(),
                members => sentence_of_several(line, members, explanations),
            };
            let probability = members.iter().map(|&member| explanations[member].probability).sum();
            let Told { sentence, measures, spoken } = Told::from(sentence);
            Answer { members, probability, sentence, measures, spoken }
        })
        .collect();
    answers.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    answers
}
