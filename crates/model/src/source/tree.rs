//! TOML text to a tree of values with their places.

use crate::reading::{Node, NodeValue, Problem, ProblemKind};
use indexmap::IndexMap;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeArray, DeTable, DeValue};

/// A syntax error with the bytes it concerns.
pub(crate) struct SyntaxError {
    pub problem: Problem,
    pub span: Option<Range<usize>>,
}

/// Reads TOML. The tree holds whatever could be read; every syntax error is listed beside it.
pub(crate) fn parse_recovering(text: &str) -> (Node, Vec<SyntaxError>) {
    let (root, errors) = DeTable::parse_recoverable(text);
    let errors = without_echoes(text, errors)
        .into_iter()
        .map(|e| SyntaxError {
            problem: Problem::new("", ProblemKind::Syntax(in_our_words(e.message()))),
            span: e.span(),
        })
        .collect();
    (Node { value: table(root.get_ref()), span: Some(0..text.len()), key_span: None }, errors)
}

fn table(t: &DeTable<'_>) -> NodeValue {
    let entries = t.iter().map(|(key, value)| {
        let mut n = node(value);
        n.key_span = Some(key.span());
        (key.get_ref().to_string(), n)
    });
    NodeValue::Table(entries.collect::<IndexMap<_, _>>())
}

fn list(a: &DeArray<'_>) -> NodeValue {
    NodeValue::List(a.iter().map(node).collect())
}

fn node(v: &Spanned<DeValue<'_>>) -> Node {
    let value = match v.get_ref() {
        DeValue::String(s) => NodeValue::Text(s.to_string()),
        DeValue::Integer(i) => match i64::from_str_radix(i.as_str(), i.radix()) {
            Ok(n) => NodeValue::Whole(n),
            // Beyond 64 bits: far out of every range, so the nearest float tells as much.
            Err(_) => NodeValue::Number(i.as_str().parse().unwrap_or(f64::INFINITY)),
        },
        DeValue::Float(x) => NodeValue::Number(x.as_str().parse().unwrap_or(f64::NAN)),
        DeValue::Boolean(b) => NodeValue::Flag(*b),
        // A date without quotes is as good as one in quotes.
        DeValue::Datetime(d) => NodeValue::Text(d.to_string()),
        DeValue::Array(a) => list(a),
        DeValue::Table(t) => table(t),
    };
    Node { value, span: Some(v.span()), key_span: None }
}

/// The parser's message as a sentence for people.
fn in_our_words(message: &str) -> String {
    match message {
        "duplicate key" => "this key or table stands in the file a second time; keep one of the two".into(),
        m if m.contains("string, expected `\"`") => {
            "the text that starts on this line is not closed: a `\"` is missing".into()
        }
        other => {
            let line = other.lines().map(str::trim).collect::<Vec<_>>().join("; ");
            format!("this is not readable as TOML: {line}")
        }
    }
}

/// Drops the keys of a table that is there twice: the table itself has been reported.
fn without_echoes(text: &str, errors: Vec<toml::de::Error>) -> Vec<toml::de::Error> {
    let is_repeat = |e: &toml::de::Error| e.message() == "duplicate key";
    if !errors.iter().any(is_repeat) {
        return errors;
    }
    // Where each line starts, and which of them are headers: made once, asked for every error.
    let starts: Vec<usize> = std::iter::once(0).chain(text.match_indices('\n').map(|(i, _)| i + 1)).collect();
    let headers: Vec<usize> = starts
        .iter()
        .copied()
        .filter(|&s| text[s..].trim_start_matches([' ', '\t']).starts_with('['))
        .collect();
    let line_start = |at: usize| starts[starts.partition_point(|s| *s <= at).saturating_sub(1)];
    let mut header: Option<usize> = None;
    errors
        .into_iter()
        .filter(|e| {
            let Some(at) = e.span().map(|s| s.start).filter(|&at| is_repeat(e) && text.is_char_boundary(at))
            else {
                return true;
            };
            if headers.binary_search(&line_start(at)).is_ok() {
                header = Some(at);
                return true;
            }
            // Still inside the repeated table: no other header since.
            !header.is_some_and(|h| {
                h < at && headers.partition_point(|s| *s <= h) == headers.partition_point(|s| *s <= at)
            })
        })
        .collect()
}
