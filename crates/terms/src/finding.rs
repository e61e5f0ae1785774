//! Findings: what a person should know about a job.

use crate::in_languages::{InLanguage, in_languages};
use crate::phrase::Phrases;
use crate::pointer;
use crate::told::{PlacedMeasure, Sentence};
use serde::Serialize;
use std::collections::BTreeMap;

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// Should be put right or accepted on purpose.
    Warning,
    /// Must be put right: the system would not work, could be damaged, or breaks a limit of the brief.
    Error,
}

impl Severity {
    /// All of them, least first.
    pub const ALL: [Self; 3] = [Self::Note, Self::Warning, Self::Error];

    /// The word printed beside a finding.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

/// What a finding is about: where in the document the thing stands.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Subject {
    /// The map it stands in: `loudspeakers`, `lines`, `areas`, ...
    pub table: &'static str,
    /// Its id, `LINE/runs/RUN` for a run; empty for the job as a whole. No id has a `/` of its own.
    pub id: String,
}

impl Subject {
    /// The thing of an id in a map of the document.
    pub fn new(table: &'static str, id: impl Into<String>) -> Self {
        Self { table, id: id.into() }
    }

    /// A run of a line.
    pub fn run(line: &str, run: &str) -> Self {
        Self::new("lines", format!("{line}/runs/{run}"))
    }

    /// RFC 6901 pointer to the thing in the document.
    pub fn pointer(&self) -> String {
        let keys = self.id.split('/').filter(|key| !key.is_empty());
        [self.table].into_iter().chain(keys).fold(String::new(), |at, key| pointer::child(&at, key))
    }
}

/// Something a person should know about a job; `Remedy` is what carries a mend out in one step. It is written in English, with what
/// other languages say beside it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(into = "Sent<Remedy>", bound(serialize = "Remedy: Clone + Serialize"))]
pub struct Finding<Remedy> {
    /// How much it matters.
    pub severity: Severity,
    /// What it is about.
    pub about: Subject,
    /// What is the matter, with the numbers.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
    /// The measures in the sentence, for an app that shows them in other units; none where it has none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub measures: Vec<PlacedMeasure>,
    /// What would mend it, when that can be said: in words that hold wherever it is read.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>))]
    pub mend: Option<Sentence>,
    /// What to type at the command line for it; an app has a button or a form and never shows this.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(nullable = false))]
    pub command: Option<String>,
    /// What does it in one step, when something does.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(nullable = false))]
    pub remedy: Option<Remedy>,
    /// The same in the languages that say it otherwise, by their names. Filled when it is written, never before: most findings are
    /// only counted.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub spoken: BTreeMap<String, InLanguage>,
}

/// A finding as it is written.
#[derive(Serialize)]
struct Sent<Remedy> {
    severity: Severity,
    about: Subject,
    sentence: Sentence,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    measures: Vec<PlacedMeasure>,
    mend: Option<Sentence>,
    #[serde(skip_serializing_if = "Option::is_none")]
    command: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    remedy: Option<Remedy>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    spoken: BTreeMap<String, InLanguage>,
}

impl<Remedy> From<Finding<Remedy>> for Sent<Remedy> {
    fn from(f: Finding<Remedy>) -> Self {
        let spoken = in_languages(&f.sentence, f.mend.as_ref());
        let Finding { severity, about, sentence, measures, mend, command, remedy, .. } = f;
        Self { severity, about, sentence, measures, mend, command, remedy, spoken }
    }
}

impl<Remedy> Finding<Remedy> {
    /// A finding without a mend.
    pub fn new(severity: Severity, about: Subject, sentence: impl Into<Sentence>) -> Self {
        let sentence = sentence.into();
        let measures = sentence.placed();
        let (mend, command, remedy, spoken) = (None, None, None, BTreeMap::new());
        Self { severity, about, sentence, measures, mend, command, remedy, spoken }
    }

    /// The same said in a language.
    #[must_use]
    pub fn spoken(mut self, phrases: &Phrases) -> Self {
        self.sentence = self.sentence.spoken(phrases);
        self.measures = self.sentence.placed();
        self.mend = self.mend.map(|mend| mend.spoken(phrases));
        self
    }

    /// The same with what would mend it.
    #[must_use]
    pub fn mend(mut self, mend: impl Into<Sentence>) -> Self {
        self.mend = Some(mend.into());
        self
    }

    /// The same with what to type at the command line.
    #[must_use]
    pub fn command(mut self, command: impl Into<String>) -> Self {
        self.command = Some(command.into());
        self
    }

    /// The same with what does it in one step.
    #[must_use]
    pub fn by(mut self, remedy: impl Into<Option<Remedy>>) -> Self {
        self.remedy = remedy.into();
        self
    }
}

/// Puts findings in the order they are shown: worst first, then as found.
pub fn worst_first<Remedy>(findings: &mut [Finding<Remedy>]) {
    findings.sort_by_key(|f| std::cmp::Reverse(f.severity));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn subjects_point_into_the_document() {
        assert_eq!(Subject::new("loudspeakers", "L3").pointer(), "/loudspeakers/L3");
        assert_eq!(Subject::run("A", "A1").pointer(), "/lines/A/runs/A1");
        assert_eq!(Subject::new("visits", "").pointer(), "/visits");
        // RFC 6901 section 3: `~` is written `~0`.
        assert_eq!(Subject::new("areas", "a~b").pointer(), "/areas/a~0b");
    }

    #[test]
    fn the_worst_comes_first_and_the_rest_as_found() {
        let found = |severity, id| Finding::<()>::new(severity, Subject::new("lines", id), "");
        let mut all = [
            found(Severity::Note, "A"),
            found(Severity::Error, "B"),
            found(Severity::Warning, "C"),
            found(Severity::Error, "D"),
        ];
        worst_first(&mut all);
        assert_eq!(all.each_ref().map(|f| f.about.id.as_str()), ["B", "D", "C", "A"]);
    }

    /// What is written has both languages; what is not made from templates has one.
    #[test]
    fn a_finding_is_written_with_what_other_languages_say() {
        use crate::say;
        let about = || Subject::new("lines", "A");
        let finding = Finding::<()>::new(Severity::Note, about(), say!("run {name}", name = "A1"));
        let written = serde_json::to_value(finding.clone().mend("Mend it.")).unwrap();
        let own = serde_json::json!({ "es": { "sentence": "tramo A1", "mend": "Mend it." } });
        assert_eq!(written["sentence"], "run A1");
        assert_eq!(written["spoken"], own);
        assert_eq!(finding.spoken(Phrases::of("es")).sentence, "tramo A1");
        let plain = serde_json::to_value(Finding::<()>::new(Severity::Note, about(), "Plain.")).unwrap();
        assert_eq!(plain.get("spoken"), None);
    }

    /// The word printed and the word in JSON are one.
    #[test]
    fn severities_have_one_word_each() {
        for severity in Severity::ALL {
            assert_eq!(serde_json::to_value(severity).unwrap(), severity.word());
        }
        assert!(Severity::ALL.is_sorted());
    }
}
