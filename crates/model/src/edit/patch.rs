//! JSON Patch, RFC 6902, with inverses.
//!
//! All six operations. One member beyond the standard, which other programs ignore as the standard asks of them:
//! an `add` (and a `move` or `copy`) into an object may carry `before`, the key in front of which the new key is
//! to stand. The order of a job matters (of two surfaces the later one wins), and undoing a removal must bring the
//! thing back to where it was. Checked against the examples of the standard's appendix A.
//!
//! One thing less than the standard: nothing is copied into its own inside, which would double the document with every
//! few letters of an edit. What an edit makes is counted before it is made (`meter`).

use super::meter::{Meter, Size};
use loamline_limits::{EDIT_OPERATIONS, EDIT_PATH_BYTES, ENTRIES, Exceeded, VALUE_REPEATED};
use loamline_terms::pointer::{self, index};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use std::fmt;
use thiserror::Error;

/// A list of operations that take effect together or not at all.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Edit {
    /// The operations, in order.
    pub operations: Vec<Operation>,
}

/// One operation. Paths are RFC 6901 pointers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "op", rename_all = "lowercase")]
pub enum Operation {
    /// Puts a value at a place: a new key, an existing key's new value, or an item before an index (`-`: at the end).
    Add {
        /// Where.
        path: String,
        /// What.
        value: Value,
        /// Key in front of which a new key is to stand; at the end when absent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        before: Option<String>,
    },
    /// Takes a value away.
    Remove {
        /// Where.
        path: String,
    },
    /// Puts another value in place of one that is there.
    Replace {
        /// Where.
        path: String,
        /// What.
        value: Value,
    },
    /// Takes a value away and puts it elsewhere.
    Move {
        /// Where from.
        from: String,
        /// Where to.
        path: String,
        /// As for `add`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        before: Option<String>,
    },
    /// Puts a copy of a value elsewhere.
    Copy {
        /// Where from.
        from: String,
        /// Where to.
        path: String,
        /// As for `add`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        before: Option<String>,
    },
    /// Goes on only if the value is this one.
    Test {
        /// Where.
        path: String,
        /// What must be there.
        value: Value,
    },
}

/// Why an operation cannot be carried out.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PatchError {
    /// The path is no pointer.
    #[error("\"{path}\" is not a path: one starts with \"/\", e.g. /loudspeakers/L3/tap")]
    BadPath {
        /// The path.
        path: String,
    },
    /// There is nothing at the path.
    #[error("there is nothing at {path}; it may have been removed or renamed meanwhile")]
    NothingThere {
        /// The path.
        path: String,
    },
    /// An index beyond the end of a list, or no index at all.
    #[error("{path} names no place in a list of {length} items")]
    BadIndex {
        /// The path.
        path: String,
        /// Items of the list.
        length: usize,
    },
    /// A value moved or copied into itself.
    #[error("{} cannot be put into itself ({path})", of_place(.from))]
    IntoItself {
        /// Where from.
        from: String,
        /// Where to.
        path: String,
    },
    /// A test failed.
    #[error(
        "{path} is {}, not {} as this edit takes for granted; read the job again and repeat the edit",
        Short(.found), Short(.expected)
    )]
    TestFailed {
        /// The path.
        path: String,
        /// What is there.
        found: Box<Value>,
        /// What the edit expected.
        expected: Box<Value>,
    },
    /// More than an edit may make.
    #[error(transparent)]
    TooLarge(#[from] Exceeded),
}

fn of_place(path: &str) -> &str {
    if path.is_empty() { "the whole job" } else { path }
}

/// The beginning of a value as JSON.
struct Short<'a>(&'a Value);

impl fmt::Display for Short<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        /// Takes the first letters and then no more.
        struct First(String, usize);
        impl fmt::Write for First {
            fn write_str(&mut self, s: &str) -> fmt::Result {
                for c in s.chars() {
                    if self.1 == 0 {
                        return Err(fmt::Error);
                    }
                    self.1 -= 1;
                    self.0.push(c);
                }
                Ok(())
            }
        }
        let mut first = First(String::new(), VALUE_REPEATED.most());
        let whole = fmt::write(&mut first, format_args!("{}", self.0)).is_ok();
        write!(f, "{}{}", first.0, if whole { "" } else { "..." })
    }
}

impl Edit {
    /// An edit of these operations.
    pub fn new(operations: impl IntoIterator<Item = Operation>) -> Self {
        Self { operations: operations.into_iter().collect() }
    }

    /// Whether the edit is one that may be tried at all: not too many operations, no endless path. Costs one look at
    /// each operation.
    ///
    /// # Errors
    /// [`PatchError::TooLarge`].
    pub fn check(&self) -> Result<(), PatchError> {
        // A move takes away and adds; so the edit that undoes one of the most operations has no more of them.
        let moves = self.operations.iter().filter(|o| matches!(o, Operation::Move { .. })).count();
        EDIT_OPERATIONS.check(self.operations.len() + moves)?;
        for operation in &self.operations {
            for path in operation.places() {
                EDIT_PATH_BYTES.check(path.len())?;
            }
        }
        Ok(())
    }

    /// Carries the edit out on a document and returns its inverse. On an error the document is left as it was. What
    /// would be made is counted first: memory never exceeds a few times that of the largest document allowed.
    ///
    /// # Errors
    /// The first operation that cannot be carried out; [`PatchError::TooLarge`].
    pub fn apply(&self, document: &mut Value) -> Result<Self, PatchError> {
        self.check()?;
        let mut meter = Meter::new(document);
        // Backwards: the last step to undo comes first.
        let mut undo: Vec<Operation> = Vec::new();
        for operation in &self.operations {
            if let Err(e) = apply_one(operation, document, &mut meter, &mut undo) {
                for step in undo.iter().rev() {
                    put_back(step, document);
                }
                return Err(e);
            }
        }
        undo.reverse();
        Ok(Self { operations: undo })
    }
}

impl Operation {
    /// The places it changes or looks at.
    pub(super) fn places(&self) -> impl Iterator<Item = &str> {
        let (path, from) = self.paths();
        std::iter::once(path).chain(from)
    }

    /// The place it changes or looks at, and where it takes from.
    fn paths(&self) -> (&str, Option<&str>) {
        match self {
            Self::Add { path, .. }
            | Self::Remove { path }
            | Self::Replace { path, .. }
            | Self::Test { path, .. } => (path, None),
            Self::Move { from, path, .. } | Self::Copy { from, path, .. } => (path, Some(from)),
        }
    }
}

/// Carries one operation out and adds what undoes it to `undo`, the step to take last first. On an error the document may
/// be half way; `undo` then leads back all the same.
fn apply_one(
    operation: &Operation,
    document: &mut Value,
    meter: &mut Meter,
    undo: &mut Vec<Operation>,
) -> Result<(), PatchError> {
    match operation {
        Operation::Add { path, value, before } => {
            room(document, path, Size::of(value), meter)?;
            undo.push(add(document, path, value.clone(), before.as_deref())?);
        }
        Operation::Remove { path } => {
            meter.remove(Size::of(get(document, path)?))?;
            undo.push(remove(document, path)?.into_add(path));
        }
        Operation::Replace { path, value } => {
            let place = get_mut(document, path)?;
            meter.put(Size::of(value), levels(path), Some(Size::of(place)))?;
            let old = std::mem::replace(place, value.clone());
            undo.push(Operation::Replace { path: path.clone(), value: old });
        }
        Operation::Move { from, path, before } => {
            let size = Size::of(get(document, from)?);
            if path == from {
                return Ok(());
            }
            apart(from, path)?;
            meter.remove(size)?;
            let Removed { value, before: stood_before } = remove(document, from)?;
            // Kept for the way back, should the rest of the edit fail.
            undo.push(Operation::Add { path: from.clone(), value: value.clone(), before: stood_before });
            room(document, path, size, meter)?;
            undo.push(add(document, path, value, before.as_deref())?);
        }
        Operation::Copy { from, path, before } => {
            let value = get(document, from)?;
            apart(from, path)?;
            let size = Size::of(value);
            room(document, path, size, meter)?;
            let value = get(document, from)?.clone();
            undo.push(add(document, path, value, before.as_deref())?);
        }
        Operation::Test { path, value } => {
            let found = get(document, path)?;
            if !equal(found, value) {
                return Err(PatchError::TestFailed {
                    path: path.clone(),
                    found: Box::new(found.clone()),
                    expected: Box::new(value.clone()),
                });
            }
        }
    }
    Ok(())
}

/// Takes a step back. What has just been done can be undone.
fn put_back(step: &Operation, document: &mut Value) {
    let _done = match step {
        Operation::Add { path, value, before } => {
            add(document, path, value.clone(), before.as_deref()).map(|_| ())
        }
        Operation::Remove { path } => remove(document, path).map(|_| ()),
        Operation::Replace { path, value } => get_mut(document, path).map(|place| *place = value.clone()),
        Operation::Move { .. } | Operation::Copy { .. } | Operation::Test { .. } => Ok(()),
    };
}

/// Refuses to put a thing into its own inside, however the two paths are written.
fn apart(from: &str, path: &str) -> Result<(), PatchError> {
    let (outer, inner): (Vec<_>, Vec<_>) = (pointer::keys(from).collect(), pointer::keys(path).collect());
    if inner.len() > outer.len() && inner.starts_with(&outer) {
        return Err(PatchError::IntoItself { from: from.to_owned(), path: path.to_owned() });
    }
    Ok(())
}

/// Levels a path leads down.
fn levels(path: &str) -> usize {
    path.bytes().filter(|b| *b == b'/').count()
}

/// Whether there is room for a value of a size at a place; counts it as put.
fn room(document: &Value, path: &str, new: Size, meter: &mut Meter) -> Result<(), PatchError> {
    let Some((parent, key)) = split(path)? else {
        return Ok(meter.put(new, 0, Some(Size::of(document)))?);
    };
    let (entries, old) = match get(document, parent)? {
        Value::Object(o) => (o.len(), o.get(&key).map(Size::of)),
        Value::Array(a) => (a.len(), None),
        _ => (0, None),
    };
    if old.is_none() {
        ENTRIES.check(entries + 1)?;
    }
    Ok(meter.put(new, levels(path), old)?)
}

/// RFC 6902 section 4.6: numbers are equal by value, objects whatever the order of their keys.
fn equal(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Number(x), Value::Number(y)) => x == y || x.as_f64() == y.as_f64(),
        (Value::Array(x), Value::Array(y)) => x.len() == y.len() && x.iter().zip(y).all(|(x, y)| equal(x, y)),
        (Value::Object(x), Value::Object(y)) => {
            x.len() == y.len() && x.iter().all(|(k, v)| y.get(k).is_some_and(|w| equal(v, w)))
        }
        _ => a == b,
    }
}

/// The path of the container and the unescaped last part; `None` for the whole document.
fn split(path: &str) -> Result<Option<(&str, String)>, PatchError> {
    if path.is_empty() {
        return Ok(None);
    }
    let bad = || PatchError::BadPath { path: path.to_owned() };
    let (parent, last) = pointer::split_last(path).ok_or_else(bad)?;
    Ok(Some((parent, last.into_owned())))
}

fn get<'v>(document: &'v Value, path: &str) -> Result<&'v Value, PatchError> {
    split(path)?;
    document.pointer(path).ok_or_else(|| PatchError::NothingThere { path: path.to_owned() })
}

fn get_mut<'v>(document: &'v mut Value, path: &str) -> Result<&'v mut Value, PatchError> {
    split(path)?;
    document.pointer_mut(path).ok_or_else(|| PatchError::NothingThere { path: path.to_owned() })
}

fn add(
    document: &mut Value,
    path: &str,
    value: Value,
    before: Option<&str>,
) -> Result<Operation, PatchError> {
    let Some((parent, key)) = split(path)? else {
        let old = std::mem::replace(document, value);
        return Ok(Operation::Replace { path: String::new(), value: old });
    };
    match get_mut(document, parent)? {
        Value::Object(o) => match o.get_mut(&key) {
            Some(place) => {
                let old = std::mem::replace(place, value);
                Ok(Operation::Replace { path: path.to_owned(), value: old })
            }
            None => {
                insert_before(o, key, value, before);
                Ok(Operation::Remove { path: path.to_owned() })
            }
        },
        Value::Array(a) => {
            let length = a.len();
            let at = if key == "-" { Some(length) } else { index(&key) };
            let at = at
                .filter(|&i| i <= length)
                .ok_or_else(|| PatchError::BadIndex { path: path.to_owned(), length })?;
            a.insert(at, value);
            Ok(Operation::Remove { path: format!("{parent}/{at}") })
        }
        _ => Err(PatchError::NothingThere { path: parent.to_owned() }),
    }
}

fn insert_before(object: &mut Map<String, Value>, key: String, value: Value, before: Option<&str>) {
    let place = before.and_then(|before| object.keys().position(|k| k == before));
    match place {
        Some(place) => object.shift_insert(place, key, value),
        None => object.insert(key, value),
    };
}

/// A value taken out, and the key it stood in front of in a table.
struct Removed {
    value: Value,
    before: Option<String>,
}

impl Removed {
    /// What puts it back where it was.
    fn into_add(self, path: &str) -> Operation {
        if path.is_empty() {
            return Operation::Replace { path: String::new(), value: self.value };
        }
        Operation::Add { path: path.to_owned(), value: self.value, before: self.before }
    }
}

fn remove(document: &mut Value, path: &str) -> Result<Removed, PatchError> {
    let nothing = || PatchError::NothingThere { path: path.to_owned() };
    let Some((parent, key)) = split(path)? else {
        return Ok(Removed { value: std::mem::take(document), before: None });
    };
    match get_mut(document, parent)? {
        Value::Object(o) => {
            let before = o.keys().skip_while(|k| **k != key).nth(1).cloned();
            let value = o.shift_remove(&key).ok_or_else(nothing)?;
            Ok(Removed { value, before })
        }
        Value::Array(a) => {
            let at = index(&key).filter(|&i| i < a.len()).ok_or_else(nothing)?;
            Ok(Removed { value: a.remove(at), before: None })
        }
        _ => Err(nothing()),
    }
}
