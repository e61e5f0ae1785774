//! Every problem of one or more files, placed and readable.

use super::text::SourceFile;
use super::tree::SyntaxError;
use crate::reading::{Node, NodeValue, Problem};
use serde::Serialize;
use std::fmt;
use std::ops::Range;

/// All problems found, in the order of the files and of the lines in them. Displays as text for a person.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Report {
    /// The problems.
    pub problems: Vec<ReportEntry>,
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
    /// The line as it stands in the file, and how many characters from the column on are meant.
    #[serde(skip)]
    excerpt: Option<(String, usize)>,
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
    pub fn unplaced(root: &Node, problems: impl IntoIterator<Item = Problem>) -> Self {
        Self { problems: problems.into_iter().map(|p| entry("", root, p)).collect() }
    }

    /// Adds the problems of one file, in the order of its lines.
    pub(crate) fn add(
        &mut self,
        file: &SourceFile,
        root: &Node,
        syntax: Vec<SyntaxError>,
        problems: Vec<Problem>,
    ) {
        let syntax = syntax.into_iter().map(|e| (e.span, e.problem));
        let others = problems.into_iter().map(|p| (span_of(root, &p), p));
        let mut placed: Vec<_> = syntax.chain(others).collect();
        placed.sort_by_key(|(span, _)| span.as_ref().map_or(0, |s| s.start));
        self.problems.extend(placed.into_iter().map(|(span, p)| place(file, root, span, p)));
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

fn place(file: &SourceFile, root: &Node, span: Option<Range<usize>>, problem: Problem) -> ReportEntry {
    let Some(span) = span else { return entry(&file.name, root, problem) };
    let at = file.position(span.start);
    ReportEntry {
        line: Some(at.line),
        column: Some(at.column),
        excerpt: Some((file.line(at.line).to_owned(), file.width_on_first_line(&span))),
        ..entry(&file.name, root, problem)
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
                path.push_str(&key);
                here = here.and_then(|n| n.get(&key));
            }
        }
    }
    path
}

/// Widest excerpt of a line; a longer one is cut around the place so that it fits a terminal.
const EXCERPT_CHARS: usize = 90;

/// The part of a long line around a column (from 1), and the column in it.
fn cut(line: &str, column: usize, width: usize) -> (String, usize) {
    let chars: Vec<char> = line.chars().map(|c| if c == '\t' { ' ' } else { c }).collect();
    if chars.len() <= EXCERPT_CHARS {
        return (chars.into_iter().collect(), column);
    }
    let start = (column - 1).saturating_sub(EXCERPT_CHARS.saturating_sub(width.min(60)) / 2);
    let start = start.min(chars.len() - EXCERPT_CHARS);
    let end = start + EXCERPT_CHARS;
    let mut text = String::new();
    let mut shift = 0;
    if start > 0 {
        text.push_str("... ");
        shift = 4;
    }
    text.extend(&chars[start..end]);
    if end < chars.len() {
        text.push_str(" ...");
    }
    (text, column - start + shift)
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
        if let (Some((text, width)), Some(line), Some(column)) = (&self.excerpt, self.line, self.column) {
            let (text, column) = cut(text, column, *width);
            let room = text.chars().count().saturating_sub(column - 1).max(1);
            let number = line.to_string();
            write!(f, "\n    {number} | {text}")?;
            write!(
                f,
                "\n    {:pad$} | {:indent$}{}",
                "",
                "",
                "^".repeat((*width).min(room)),
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
        match self.problems.len() {
            1 => write!(f, "1 problem to mend."),
            n => write!(f, "{n} problems to mend."),
        }
    }
}
