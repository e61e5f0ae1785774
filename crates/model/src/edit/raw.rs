//! A document as typed: JSON values of a tree of values.

use crate::reading::{Node, NodeValue};
use loamline_terms::pointer;
use serde_json::{Number, Value};

/// The JSON value of a tree. A number that is not finite has none and becomes null; a job with one is refused.
pub(super) fn to_value(node: &Node) -> Value {
    match &node.value {
        NodeValue::Nothing => Value::Null,
        NodeValue::Flag(b) => Value::Bool(*b),
        NodeValue::Whole(n) => Value::Number((*n).into()),
        NodeValue::Number(x) => Number::from_f64(*x).map_or(Value::Null, Value::Number),
        NodeValue::Text(t) => Value::String(t.clone()),
        NodeValue::List(l) => Value::Array(l.iter().map(to_value).collect()),
        NodeValue::Table(t) => Value::Object(t.iter().map(|(k, n)| (k.clone(), to_value(n))).collect()),
    }
}

/// Pointer to the first null, which TOML cannot hold.
pub(super) fn first_null(value: &Value) -> Option<String> {
    let within = |key: &str, v: &Value| first_null(v).map(|rest| format!("/{}{rest}", pointer::escape(key)));
    match value {
        Value::Null => Some(String::new()),
        Value::Object(o) => o.iter().find_map(|(k, v)| within(k, v)),
        Value::Array(a) => a.iter().enumerate().find_map(|(i, v)| within(&i.to_string(), v)),
        _ => None,
    }
}
