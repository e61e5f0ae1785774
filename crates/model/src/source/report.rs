//! Every problem of one or more files, placed and readable.

use super::text::{Excerpt, Lines, SourceFile};
use super::tree::SyntaxError;
use crate::reading::{Node, NodeValue, Problem, short};
use loamline_limits::{PROBLEMS_COUNTED, PROBLEMS_TOLD, Unit};
use serde::Serialize;
use std::fmt;
use std::ops::Range;

/// The problems found, in the order of the files and of the lines in them. Displays as text for a person. Of a file with
/// very many the first are told and the others counted.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Report {
    /// The problems.
    pub problems: Vec<ReportEntry>,
    /// How many more there are.
    #[serde(skip_serializing_if = "is_none")]
    pub more: usize,
}

fn is_none(more: &usize) -> bool {
    *more == 0
}

/// A problem with its place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReportEntry {
    /// Name of the file; empty when the document did not come from a file.
    pub file: String,
    /// Line, from 1; `None` when the document did not come from a text.
    pub line: Option<usize>,
    /// Column in characters, from 1.
    pub column: Option<usize>,
    /// Key path, e.g. `loudspeakers.L3.model`; empty for the document as a whole.
    pub key: String,
    /// RFC 6901 pointer of the same.
    pub pointer: String,
    /// What is wrong and what was expected.
    pub message: String,
    /// A way out, when there is one worth naming.
    pub hint: Option<String>,
    /// What stands around it.
    #[serde(skip)]
    excerpt: Option<Excerpt>,
    /// The problem itself.
    #[serde(skip)]
    pub problem: Problem,
}

impl std::error::Error for Report {}

impl Report {
    /// Whether nothing is wrong.
    pub fn is_empty(&self) -> bool {
        self.problems.is_empty()
    }

    /// The problems of a document that did not come from a text.
    pub fn unplaced(root: &Node, problems: Vec<Problem>) -> Self {
        let mut report = Self::default();
        report.tell(problems.into_iter(), |p| entry("", root, p));
        report
    }

    /// Adds the problems of one file, in the order of its lines.
    pub(crate) fn add(
        &mut self,
        file: &SourceFile,
        root: &Node,
        syntax: Vec<SyntaxError>,
        problems: Vec<Problem>,
    ) {
        if syntax.is_empty() && problems.is_empty() {
            return;
        }
        let syntax = syntax.into_iter().map(|e| (e.span, e.problem));
        let others = problems.into_iter().map(|p| (span_of(root, &p), p));
        let mut placed: Vec<_> = syntax.chain(others).collect();
        placed.sort_by_key(|(span, _)| span.as_ref().map_or(0, |s| s.start));
        let lines = Lines::of(&file.text);
        self.tell(placed.into_iter(), |(span, p)| place(&file.name, &lines, root, span, p));
    }

    /// Adds the problems of another report after those of this one.
    pub(crate) fn append(&mut self, other: Self) {
        self.more += other.more;
        self.tell(other.problems.into_iter(), |entry| entry);
    }

    /// Takes in as many as are told, and counts the rest.
    fn tell<T>(&mut self, found: impl ExactSizeIterator<Item = T>, into: impl Fn(T) -> ReportEntry) {
        let room = PROBLEMS_TOLD.most().saturating_sub(self.problems.len());
        self.more += found.len().saturating_sub(room);
        self.problems.extend(found.take(room).map(into));
    }

    /// How many problems there are: "1 problem", "20 000 problems", "more than 50 000 problems".
    pub fn count(&self) -> String {
        let all = self.problems.len() + self.more;
        let shown = Unit::Count.show(u64::try_from(all).unwrap_or(u64::MAX));
        match all {
            1 => "1 problem".into(),
            n if n >= PROBLEMS_COUNTED.most() => format!("more than {} problems", PROBLEMS_COUNTED.shown()),
            _ => format!("{shown} problems"),
        }
    }
}

fn entry(file: &str, root: &Node, problem: Problem) -> ReportEntry {
    ReportEntry {
        file: file.to_owned(),
        line: None,
        column: None,
        key: key_path(root, &problem.pointer),
        pointer: problem.pointer.clone(),
        message: problem.kind.to_string(),
        hint: problem.hint_in_file().map(str::to_owned),
        excerpt: None,
        problem,
    }
}

fn place(
    file: &str,
    lines: &Lines<'_>,
    root: &Node,
    span: Option<Range<usize>>,
    problem: Problem,
) -> ReportEntry {
    let Some(span) = span else { return entry(file, root, problem) };
    let at = lines.position(span.start);
    ReportEntry {
        line: Some(at.line),
        column: Some(at.column),
        excerpt: Some(lines.excerpt(&span)),
        ..entry(file, root, problem)
    }
}

/// The bytes a problem concerns: the key for a wrong key or a table under a header, else the value.
fn span_of(root: &Node, problem: &Problem) -> Option<Range<usize>> {
    let (node, exact) = root.at_pointer(&problem.pointer);
    let headed = matches!(node.value, NodeValue::Table(_));
    if node.key_span.is_some() && (headed || !exact || problem.on_key) {
        return node.key_span.clone();
    }
    // The document as a whole is not worth a place.
    node.span.clone().filter(|_| !std::ptr::eq(node, root))
}

/// `/areas/terrace/outline/2/0` as `areas.terrace.outline item 3 item 1`: people count from 1.
fn key_path(root: &Node, pointer: &str) -> String {
    let mut path = String::new();
    let mut here = Some(root);
    for part in pointer.split('/').skip(1) {
        let key = part.replace("~1", "/").replace("~0", "~");
        match here.map(|n| &n.value) {
            Some(NodeValue::List(items)) if key.parse::<usize>().is_ok() => {
                let i = key.parse::<usize>().unwrap_or_default();
                path.push_str(&format!(" item {}", i + 1));
                here = items.get(i);
            }
            _ => {
                if !path.is_empty() {
                    path.push('.');
                }
                path.push_str(&short(&key));
                here = here.and_then(|n| n.get(&key));
            }
        }
    }
    path
}

impl fmt::Display for ReportEntry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let place = match (self.line, self.column) {
            (Some(l), Some(c)) => format!("{}:{l}:{c}", self.file),
            _ => self.file.clone(),
        };
        let heading: Vec<&str> =
            [place.as_str(), self.key.as_str()].into_iter().filter(|s| !s.is_empty()).collect();
        if !heading.is_empty() {
            writeln!(f, "{}", heading.join("  "))?;
        }
        write!(f, "  {}", self.message)?;
        if let (Some(Excerpt { text, column, width }), Some(line)) = (&self.excerpt, self.line) {
            let number = line.to_string();
            write!(f, "\n    {number} | {text}")?;
            write!(
                f,
                "\n    {:pad$} | {:indent$}{}",
                "",
                "",
                "^".repeat(*width),
                pad = number.len(),
                indent = column - 1
            )?;
        }
        if let Some(hint) = &self.hint {
            write!(f, "\n  {hint}")?;
        }
        Ok(())
    }
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for p in &self.problems {
            writeln!(f, "{p}\n")?;
        }
        match self.more {
            0 => write!(f, "{} to mend.", self.count()),
            _ => {
                let count = self.count();
                let start = count.chars().next().map(|c| c.to_uppercase().collect::<String>());
                let rest = count.get(1..).unwrap_or_default();
                let told = self.problems.len();
                write!(f, "{}{rest} to mend; the first {told} are told here.", start.unwrap_or_default())
            }
        }
    }
}
