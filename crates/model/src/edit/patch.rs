//! JSON Patch, RFC 6902, with inverses.
//!
//! All six operations. One member beyond the standard, which other programs ignore as the standard asks of them:
//! an `add` (and a `move` or `copy`) into an object may carry `before`, the key in front of which the new key is
//! to stand. The order of a job matters (of two surfaces the later one wins), and undoing a removal must bring the
//! thing back to where it was. Checked against the examples of the standard's appendix A.

use loamline_terms::pointer::{self, index};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
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
    /// A value moved into itself.
    #[error("{from} cannot be moved into itself ({path})")]
    IntoItself {
        /// Where from.
        from: String,
        /// Where to.
        path: String,
    },
    /// A test failed.
    #[error(
        "{path} is {found}, not {expected} as this edit takes for granted; read the job again and repeat the edit"
    )]
    TestFailed {
        /// The path.
        path: String,
        /// What is there.
        found: Box<Value>,
        /// What the edit expected.
        expected: Box<Value>,
    },
}

impl Edit {
    /// An edit of these operations.
    pub fn new(operations: impl IntoIterator<Item = Operation>) -> Self {
        Self { operations: operations.into_iter().collect() }
    }

    /// Carries the edit out on a document and returns its inverse. On an error the document is left as it was.
    ///
    /// # Errors
    /// The first operation that cannot be carried out.
    pub fn apply(&self, document: &mut Value) -> Result<Self, PatchError> {
        let mut inverse: Vec<Operation> = Vec::new();
        for operation in &self.operations {
            match apply_one(operation, document) {
                // Later operations are undone first; those of one operation are already in order.
                Ok(undo) => {
                    inverse.splice(0..0, undo);
                }
                Err(e) => {
                    for undo in &inverse {
                        // Undoing what has just been done cannot fail.
                        let _undone = apply_one(undo, document);
                    }
                    return Err(e);
                }
            }
        }
        Ok(Self { operations: inverse })
    }
}

fn apply_one(operation: &Operation, document: &mut Value) -> Result<Vec<Operation>, PatchError> {
    match operation {
        Operation::Add { path, value, before } => {
            add(document, path, value.clone(), before.as_deref()).map(|u| vec![u])
        }
        Operation::Remove { path } => remove(document, path).map(|(_, undo)| vec![undo]),
        Operation::Replace { path, value } => {
            let place = get_mut(document, path)?;
            let old = std::mem::replace(place, value.clone());
            Ok(vec![Operation::Replace { path: path.clone(), value: old }])
        }
        Operation::Move { from, path, before } => {
            if path == from {
                get(document, from)?;
                return Ok(Vec::new());
            }
            if path.starts_with(&format!("{from}/")) {
                return Err(PatchError::IntoItself { from: from.clone(), path: path.clone() });
            }
            let (value, put_back) = remove(document, from)?;
            match add(document, path, value, before.as_deref()) {
                Ok(undo) => Ok(vec![undo, put_back]),
                Err(e) => {
                    let _undone = apply_one(&put_back, document);
                    Err(e)
                }
            }
        }
        Operation::Copy { from, path, before } => {
            let value = get(document, from)?.clone();
            add(document, path, value, before.as_deref()).map(|u| vec![u])
        }
        Operation::Test { path, value } => {
            let found = get(document, path)?;
            if equal(found, value) {
                Ok(Vec::new())
            } else {
                Err(PatchError::TestFailed {
                    path: path.clone(),
                    found: Box::new(found.clone()),
                    expected: Box::new(value.clone()),
                })
            }
        }
    }
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
    let Some(before) = before.filter(|b| object.contains_key(*b)) else {
        object.insert(key, value);
        return;
    };
    let mut all = Map::new();
    for (k, v) in std::mem::take(object) {
        if k == before {
            all.insert(key.clone(), Value::Null);
        }
        all.insert(k, v);
    }
    all.insert(key, value);
    *object = all;
}

fn remove(document: &mut Value, path: &str) -> Result<(Value, Operation), PatchError> {
    let nothing = || PatchError::NothingThere { path: path.to_owned() };
    let Some((parent, key)) = split(path)? else {
        let old = std::mem::take(document);
        return Ok((old.clone(), Operation::Replace { path: String::new(), value: old }));
    };
    match get_mut(document, parent)? {
        Value::Object(o) => {
            let before = o.keys().skip_while(|k| **k != key).nth(1).cloned();
            let value = o.shift_remove(&key).ok_or_else(nothing)?;
            Ok((value.clone(), Operation::Add { path: path.to_owned(), value, before }))
        }
        Value::Array(a) => {
            let at = index(&key).filter(|&i| i < a.len()).ok_or_else(nothing)?;
            let value = a.remove(at);
            Ok((value.clone(), Operation::Add { path: path.to_owned(), value, before: None }))
        }
        _ => Err(nothing()),
    }
}
