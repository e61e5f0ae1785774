//! A neutral tree of values with the place each one had in its file.

use indexmap::IndexMap;
use loamline_terms::pointer;
use std::fmt;
use std::ops::Range;

/// A value of a document with its byte range in the source text, when it came from a text.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// The value itself.
    pub value: NodeValue,
    /// Byte range of the value in the source text.
    pub span: Option<Range<usize>>,
    /// Byte range of the key the value stands under.
    pub key_span: Option<Range<usize>>,
}

/// What a [`Node`] holds.
#[derive(Debug, Clone, PartialEq)]
pub enum NodeValue {
    /// Nothing (JSON `null`); read as if the key were absent.
    Nothing,
    /// True or false.
    Flag(bool),
    /// A whole number.
    Whole(i64),
    /// Any other number; finite or not, as written.
    Number(f64),
    /// A text.
    Text(String),
    /// A list.
    List(Vec<Node>),
    /// A table, keys in the order of the file.
    Table(IndexMap<String, Node>),
}

impl Node {
    /// A value that did not come from a text.
    pub fn without_place(value: NodeValue) -> Self {
        Self { value, span: None, key_span: None }
    }

    /// An empty value in the same place.
    pub(crate) fn clone_place(&self) -> Self {
        Self { value: NodeValue::Nothing, span: self.span.clone(), key_span: self.key_span.clone() }
    }

    /// What kind of value this is, for messages: "a text", "a list", ...
    pub fn kind(&self) -> &'static str {
        match self.value {
            NodeValue::Nothing => "nothing",
            NodeValue::Flag(_) => "true or false",
            NodeValue::Whole(_) => "a whole number",
            NodeValue::Number(_) => "a number",
            NodeValue::Text(_) => "a text",
            NodeValue::List(_) => "a list",
            NodeValue::Table(_) => "a table",
        }
    }

    /// The child under a key of a table.
    pub fn get(&self, key: &str) -> Option<&Self> {
        match &self.value {
            NodeValue::Table(t) => t.get(key),
            _ => None,
        }
    }

    /// The node at an RFC 6901 pointer, or the nearest ancestor that exists, and whether it was found exactly.
    pub fn at_pointer(&self, pointer: &str) -> (&Self, bool) {
        pointer::resolve(self, pointer, |here, key| match &here.value {
            NodeValue::Table(t) => t.get(key),
            NodeValue::List(l) => pointer::index(key).and_then(|i| l.get(i)),
            _ => None,
        })
    }
}

impl From<&serde_json::Value> for Node {
    fn from(v: &serde_json::Value) -> Self {
        use serde_json::Value as J;
        Self::without_place(match v {
            J::Null => NodeValue::Nothing,
            J::Bool(b) => NodeValue::Flag(*b),
            J::Number(n) => match n.as_i64() {
                Some(i) => NodeValue::Whole(i),
                None => NodeValue::Number(n.as_f64().unwrap_or(f64::NAN)),
            },
            J::String(s) => NodeValue::Text(s.clone()),
            J::Array(a) => NodeValue::List(a.iter().map(Self::from).collect()),
            J::Object(o) => NodeValue::Table(o.iter().map(|(k, v)| (k.clone(), Self::from(v))).collect()),
        })
    }
}

/// Where a reader stands in a document: a chain of keys back to the root. Displays as an RFC 6901 pointer.
#[derive(Debug, Clone, Copy)]
pub struct DocumentPlace<'a> {
    parent: Option<&'a DocumentPlace<'a>>,
    key: PlaceKey<'a>,
}

#[derive(Debug, Clone, Copy)]
enum PlaceKey<'a> {
    Root,
    Name(&'a str),
    Index(usize),
}

impl<'a> DocumentPlace<'a> {
    /// The root of a document.
    pub const ROOT: DocumentPlace<'static> = DocumentPlace { parent: None, key: PlaceKey::Root };

    /// The place of a key of the table that stands here.
    pub fn key(&'a self, name: &'a str) -> Self {
        Self { parent: Some(self), key: PlaceKey::Name(name) }
    }

    /// The place of an item (from 0) of the list that stands here.
    pub fn index(&'a self, index: usize) -> Self {
        Self { parent: Some(self), key: PlaceKey::Index(index) }
    }
}

impl fmt::Display for DocumentPlace<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(p) = self.parent {
            p.fmt(f)?;
        }
        match self.key {
            PlaceKey::Root => Ok(()),
            PlaceKey::Name(n) => write!(f, "/{}", pointer::escape(n)),
            PlaceKey::Index(i) => write!(f, "/{i}"),
        }
    }
}
