//! Quantities with units: alone, as a meter showed them, over frequency.

use super::refused::{fail, wrong_kind};
use crate::reading::contract::{Codec, Definitions};
use crate::reading::node::{DocumentPlace, Node, NodeValue};
use crate::reading::problem::{Problem, ProblemKind, enough, short};
use crate::units::{Quantity, Units};
use loamline_terms::{OPEN, Shown, say};
use serde_json::{Value, json};
use std::ops::RangeInclusive;

/// A quantity as a bare number in its own unit, or text with a unit.
#[derive(Clone)]
pub struct Measured {
    kind: Quantity,
    range: RangeInclusive<f64>,
    /// What is usually written here, where the example of the kind is not.
    like: Option<&'static str>,
}

/// A quantity of a kind, within a range in the kind's own unit.
pub fn quantity(kind: Quantity, range: RangeInclusive<f64>) -> Measured {
    Measured { kind, range, like: None }
}

impl Measured {
    /// The same with what is usually written here as the example, in metric and US units where these differ: "1.2 m or 4 ft".
    pub fn like(self, example: &'static str) -> Self {
        Self { like: Some(example), ..self }
    }

    fn example(&self) -> &'static str {
        self.like.unwrap_or_else(|| self.kind.example())
    }

    /// The range in the units the value was typed in: whoever writes feet does not reckon in metres.
    fn span_for(&self, node: &Node) -> String {
        let typed = match (&node.value, self.kind) {
            (NodeValue::Text(text), Quantity::Length) => Units::of_a_length(text),
            _ => Units::Metric,
        };
        match typed {
            Units::Metric => self.span(),
            Units::Us => {
                format!("{} to {}", typed.bound(*self.range.start()), typed.bound(*self.range.end()))
            }
        }
    }

    fn span(&self) -> String {
        format!("{} to {} {}", self.range.start(), self.range.end(), self.kind.symbol()).trim_end().to_owned()
    }
}

impl Codec for Measured {
    type Out = f64;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<f64> {
        let (read, found) = match &node.value {
            NodeValue::Whole(n) => (self.kind.of_number(*n as f64), n.to_string()),
            NodeValue::Number(x) => (self.kind.of_number(*x), x.to_string()),
            NodeValue::Text(t) => (self.kind.parse(&short(t)), format!("\"{}\"", short(t))),
            _ => return wrong_kind(self, node, at, problems),
        };
        match read {
            Ok(value) if self.range.contains(&value) => Some(value),
            Ok(_) => {
                let expected =
                    format!("{} from {} is possible here", self.kind.with_article(), self.span_for(node));
                fail(at, ProblemKind::OutOfRange { found, expected }, problems)
            }
            Err(e) => fail(at, ProblemKind::Quantity(e), problems),
        }
    }
    fn expected(&self) -> String {
        format!("{}, e.g. {}", self.kind.with_article(), self.example())
    }
    fn schema(&self, _: &mut Definitions) -> Value {
        json!({
            "anyOf": [
                { "type": "number", "minimum": self.range.start(), "maximum": self.range.end() },
                { "type": "string" }
            ],
            "x-quantity": self.kind.name(),
            "x-unit": self.kind.symbol(),
            "examples": [self.example()],
        })
    }
}

/// What a meter showed: ohms, or that the line is open.
pub struct MeterShown(Measured);

/// What a meter showed: ohms in a range, or the word "open".
pub fn shown(ohms: Measured) -> MeterShown {
    MeterShown(ohms)
}

impl Codec for MeterShown {
    type Out = Shown;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<Shown> {
        match &node.value {
            NodeValue::Text(t) if t.trim().eq_ignore_ascii_case(OPEN) => Some(Shown::Open),
            _ => self.0.decode(node, at, problems).map(Shown::Ohm),
        }
    }
    fn expected(&self) -> String {
        format!("{}, or \"{OPEN}\"", self.0.expected())
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        let mut schema = self.0.schema(defs);
        schema["examples"] = json!([self.0.example(), OPEN]);
        schema
    }
}

/// A frequency a meter reads at.
pub struct MeterFrequency(Measured);

/// What people call a meter's direct current, which is 0 Hz.
const DIRECT_CURRENT: &str = "dc";

/// A frequency a meter reads at, in a range; direct current as 0 or by the word "dc".
pub fn meter_frequency(hertz: Measured) -> MeterFrequency {
    MeterFrequency(hertz)
}

impl Codec for MeterFrequency {
    type Out = f64;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<f64> {
        match &node.value {
            NodeValue::Text(t) if t.trim().eq_ignore_ascii_case(DIRECT_CURRENT) => Some(0.0),
            _ => self.0.decode(node, at, problems),
        }
    }
    fn expected(&self) -> String {
        format!("{}, or \"{DIRECT_CURRENT}\"", self.0.expected())
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        let mut schema = self.0.schema(defs);
        schema["examples"] = json!([DIRECT_CURRENT, self.0.example()]);
        schema
    }
}

/// Values over frequency: a table `{ "1 kHz" = value, ... }`, read as pairs in ascending frequency.
pub struct OverFrequency(Measured);

/// A table from frequency to a quantity, ascending, at least one entry, 10 Hz to 40 kHz.
pub fn over_frequency(value: Measured) -> OverFrequency {
    OverFrequency(value)
}

impl Codec for OverFrequency {
    type Out = Vec<(f64, f64)>;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<Self::Out> {
        let NodeValue::Table(t) = &node.value else { return wrong_kind(self, node, at, problems) };
        if t.is_empty() {
            return fail(at, ProblemKind::WrongCount { expected: self.expected(), found: 0 }, problems);
        }
        let frequency = quantity(Quantity::Frequency, 10.0..=40_000.0);
        let read: Vec<Option<(f64, f64)>> = t
            .iter()
            .map(|(k, n)| {
                if enough(problems) {
                    return None;
                }
                let place = at.key(k);
                let found = problems.len();
                let f = frequency.decode(&Node::without_place(NodeValue::Text(k.clone())), &place, problems);
                problems[found..].iter_mut().for_each(|p| p.on_key = true);
                let v = self.0.decode(n, &place, problems);
                Some((f?, v?))
            })
            .collect();
        let mut pairs: Vec<(f64, f64)> = read.into_iter().collect::<Option<_>>()?;
        pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
        if let Some(w) = pairs.windows(2).find(|w| w[0].0 == w[1].0) {
            return fail(
                at,
                ProblemKind::Rule(say!(
                    "the frequency {frequency} Hz stands here twice",
                    frequency = w[0].0.to_string()
                )),
                problems,
            );
        }
        Some(pairs)
    }
    fn expected(&self) -> String {
        format!("a table from frequency to {}", self.0.expected())
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        json!({ "type": "object", "additionalProperties": self.0.schema(defs), "minProperties": 1 })
    }
}
