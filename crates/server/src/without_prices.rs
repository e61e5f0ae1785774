//! Answers without prices, for those who see none: whatever stands under a key of money is left out of JSON, wherever it stands, so
//! that no answer has to think of it.

use crate::error::ApiError;
use axum::body::{Body, Bytes, to_bytes};
use axum::http::HeaderValue;
use axum::http::header::{CONTENT_LENGTH, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use loamline_terms::pointer::split_last;
use serde_json::Value;

/// Keys that hold money in a job, a catalogue or an answer, and what holds nothing but prices.
const MONEY: [&str; 12] = [
    "allowance",
    "budget",
    "crossing_charge",
    "labour_per_hour",
    "laying_price",
    "material",
    "material_margin",
    "material_per_m",
    "price",
    "price_per_m",
    "prices",
    "rounding",
];

fn is_money(key: &str) -> bool {
    MONEY.contains(&key)
}

/// An answer without what stands under keys of money; what is no JSON stays as it is.
pub async fn without_prices(answer: Response) -> Response {
    let (mut parts, body) = answer.into_parts();
    let json = parts
        .headers
        .get(CONTENT_TYPE)
        .is_some_and(|t: &HeaderValue| t.as_bytes().starts_with(b"application/json"));
    if !json {
        return Response::from_parts(parts, body);
    }
    // The answer is one of ours, made in memory.
    let Ok(bytes) = to_bytes(body, usize::MAX).await else { return ApiError::gave_up().into_response() };
    let Some(left) = left_of(&bytes) else { return ApiError::gave_up().into_response() };
    parts.headers.remove(CONTENT_LENGTH);
    Response::from_parts(parts, Body::from(left))
}

fn left_of(bytes: &Bytes) -> Option<Vec<u8>> {
    if bytes.is_empty() {
        return Some(Vec::new());
    }
    let mut value = serde_json::from_slice(bytes).ok()?;
    leave_out(&mut value);
    serde_json::to_vec(&value).ok()
}

/// Leaves money out of a value; of an operation of an edit on money, what it would write.
pub fn leave_out(value: &mut Value) {
    match value {
        Value::Object(o) => {
            o.retain(|key, _| !is_money(key));
            let of_money = o.get("path").and_then(Value::as_str).and_then(split_last);
            if of_money.is_some_and(|(_, key)| is_money(&key)) {
                o.shift_remove("value");
            }
            o.values_mut().for_each(leave_out);
        }
        Value::Array(a) => a.iter_mut().for_each(leave_out),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn money_is_left_out_wherever_it_stands() {
        let mut answer = json!({ "brief": { "budget": "9000", "supply": "70.7 V" },
            "catalogue": { "cables": { "c": { "price_per_m": 2, "conductors": 2 } }, "prices": { "tax": 0.2 } },
            "patch": [{ "op": "replace", "path": "/surfaces/s/laying_price", "value": 12 },
                { "op": "add", "path": "/surfaces/t", "value": { "laying_price": 3, "name": "Lawn" } }] });
        leave_out(&mut answer);
        let wanted = json!({ "brief": { "supply": "70.7 V" },
            "catalogue": { "cables": { "c": { "conductors": 2 } } },
            "patch": [{ "op": "replace", "path": "/surfaces/s/laying_price" },
                { "op": "add", "path": "/surfaces/t", "value": { "name": "Lawn" } }] });
        assert_eq!(answer, wanted);
    }

    /// What the schemas of the job and the catalogue call money: an amount of at least nothing, in digits.
    #[test]
    fn every_key_of_money_of_the_schemas_is_known() {
        fn keys(schema: &Value, found: &mut Vec<String>) {
            if let Some(properties) = schema.get("properties").and_then(Value::as_object) {
                for (key, of) in properties {
                    let text = of.to_string();
                    if text.contains(r"^[0-9]+(\\.[0-9]+)?$") {
                        found.push(key.clone());
                    }
                }
            }
            match schema {
                Value::Object(o) => o.values().for_each(|v| keys(v, found)),
                Value::Array(a) => a.iter().for_each(|v| keys(v, found)),
                _ => {}
            }
        }
        let mut found = Vec::new();
        for name in ["job", "catalogue"] {
            let file = format!("{}/../../docs/schema/{name}.schema.json", env!("CARGO_MANIFEST_DIR"));
            let schema: Value = serde_json::from_slice(&std::fs::read(file).unwrap()).unwrap();
            keys(&schema, &mut found);
        }
        assert!(found.len() > 8, "{found:?}");
        let unknown: Vec<_> = found.iter().filter(|key| !is_money(key)).collect();
        assert!(unknown.is_empty(), "{unknown:?}");
    }
}
