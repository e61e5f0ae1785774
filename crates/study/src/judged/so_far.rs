//! How far a line is built, by what a visit read of it.

use super::reading::JudgedReading;
use crate::measured::Measured;
use loamline_faults::{Grade, Says};
use loamline_terms::{InLanguage, Sentence, Told, say};
use serde::Serialize;
use std::collections::BTreeMap;

/// A line whose readings are right as far as a joint.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SoFar {
    /// The joint.
    pub joint: String,
    /// How good that is: doubtful where nobody ticked off that the line ends there.
    pub grade: Grade,
    /// It in words, to stand before what explains the readings.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
    /// The same in the languages that say it otherwise, by their names; none where none does.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub spoken: BTreeMap<String, InLanguage>,
}

/// How far a line is built where what a visit read of its loop is right as far as a joint, and right at every joint opened.
#[must_use]
pub fn so_far(judged: &[JudgedReading], visit: &str, line: &str) -> Option<SoFar> {
    let loops =
        |r: &&JudgedReading| matches!(r.measured, Measured::Loop(_)) && r.visit == visit && r.line == line;
    let all: Vec<&JudgedReading> = judged.iter().filter(loops).collect();
    // As `locate`: of the line that is there, else of the line as it was; of two of the same the later.
    let there = all.iter().any(|r| r.as_it_was.is_none());
    let mut own: Vec<&JudgedReading> = Vec::new();
    for r in all.into_iter().filter(|r| r.as_it_was.is_none() == there) {
        own.retain(|o| (&o.at, &o.measured) != (&r.at, &r.measured));
        own.push(r);
    }
    let joint = own.iter().find_map(|r| r.stage.clone())?;
    let right = |r: &&JudgedReading| match r.at {
        None => r.stage.as_ref() == Some(&joint) && r.says == Some(Says::Within),
        Some(_) => !r.in_doubt(),
    };
    if !own.iter().all(right) {
        return None;
    }
    let grade = own.iter().filter_map(|r| r.grade).max()?;
    let whether = match grade {
        Grade::Good => Sentence::default(),
        Grade::Doubtful | Grade::Bad => say!(", and nothing ticked off says that it ends there"),
    };
    let told = say!(
        "Line {line} reads as one built as far as {joint} and no farther{whether}. If more of it is laid, this explains its readings.",
        line = line,
        joint = &joint,
        whether = whether
    );
    let Told { sentence, spoken, .. } = told.into();
    Some(SoFar { joint, grade, sentence, spoken })
}
