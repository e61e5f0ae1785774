//! Defaults of plain values, as a schema shows them.

use super::contract::SchemaDefault;
use indexmap::IndexMap;
use loamline_geometry::Point2;
use rust_decimal::Decimal;
use serde_json::{Value, json};

impl SchemaDefault for f64 {
    fn schema_default(&self) -> Option<Value> {
        Some(json!(self))
    }
}
impl SchemaDefault for u32 {
    fn schema_default(&self) -> Option<Value> {
        Some(json!(self))
    }
}
impl SchemaDefault for bool {
    fn schema_default(&self) -> Option<Value> {
        Some(json!(self))
    }
}
impl SchemaDefault for String {
    fn schema_default(&self) -> Option<Value> {
        Some(json!(self))
    }
}
impl SchemaDefault for Decimal {
    fn schema_default(&self) -> Option<Value> {
        Some(json!(self.to_string()))
    }
}
impl<T> SchemaDefault for Vec<T> {
    fn schema_default(&self) -> Option<Value> {
        self.is_empty().then(|| json!([]))
    }
}
impl<T> SchemaDefault for IndexMap<String, T> {
    fn schema_default(&self) -> Option<Value> {
        self.is_empty().then(|| json!({}))
    }
}
impl SchemaDefault for Point2 {
    fn schema_default(&self) -> Option<Value> {
        Some(json!(self))
    }
}
