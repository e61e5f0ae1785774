//! Findings: what a person should know about a job, in sentences they can act on.

use loamline_model::Edit;
use serde::Serialize;

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
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
pub struct Subject {
    /// The map it stands in: `loudspeakers`, `lines`, `areas`, ...
    pub table: &'static str,
    /// Its id; empty for the job as a whole.
    pub id: String,
}

impl Subject {
    /// The thing of an id in a map of the document.
    pub fn new(table: &'static str, id: impl Into<String>) -> Self {
        Self { table, id: id.into() }
    }

    /// RFC 6901 pointer to the thing in the document.
    pub fn pointer(&self) -> String {
        if self.id.is_empty() { format!("/{}", self.table) } else { format!("/{}/{}", self.table, self.id) }
    }
}

/// What carries a mend out in one step, where nobody has to decide anything. The sentence of a mend may change its words;
/// this is what a button goes by.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Remedy {
    /// Take over the processing worked out by [`tune`](crate::tune()).
    Processing,
    /// Take over the ways found by [`route`](crate::route).
    Routes,
    /// Make this edit.
    Edit(Edit),
}

/// Something a person should know about a job.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// How much it matters.
    pub severity: Severity,
    /// What it is about.
    pub about: Subject,
    /// What is the matter, with the numbers.
    pub sentence: String,
    /// What would mend it, when that can be said.
    pub mend: Option<String>,
    /// What does it in one step, when something does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub remedy: Option<Remedy>,
}

impl Finding {
    /// A finding without a mend.
    pub fn new(severity: Severity, about: Subject, sentence: impl Into<String>) -> Self {
        Self { severity, about, sentence: sentence.into(), mend: None, remedy: None }
    }

    /// The same with what would mend it.
    #[must_use]
    pub fn mend(mut self, mend: impl Into<String>) -> Self {
        self.mend = Some(mend.into());
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
pub fn worst_first(findings: &mut [Finding]) {
    findings.sort_by_key(|f| std::cmp::Reverse(f.severity));
}
