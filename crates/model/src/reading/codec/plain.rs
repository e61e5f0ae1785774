//! Values with no parts: texts, true or false, whole numbers, money, hours, IP codes, words.

use super::refused::{fail, wrong_kind};
use crate::reading::contract::{Choice, Codec, Definitions};
use crate::reading::node::{DocumentPlace, Node, NodeValue};
use crate::reading::problem::{Problem, ProblemKind, did_you_mean, short};
use loamline_terms::{Hours, IpCode, say};
use rust_decimal::Decimal;
use serde_json::{Value, json};
use std::marker::PhantomData;
use std::ops::RangeInclusive;

/// Any text.
pub struct Text;

/// Any text, possibly empty.
pub fn text() -> Text {
    Text
}

impl Codec for Text {
    type Out = String;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<String> {
        match &node.value {
            NodeValue::Text(t) => Some(t.clone()),
            _ => wrong_kind(self, node, at, problems),
        }
    }
    fn expected(&self) -> String {
        "a text in quotes".into()
    }
    fn schema(&self, _: &mut Definitions) -> Value {
        json!({ "type": "string" })
    }
}

/// True or false.
pub struct Flag;

/// True or false.
pub fn flag() -> Flag {
    Flag
}

impl Codec for Flag {
    type Out = bool;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<bool> {
        match node.value {
            NodeValue::Flag(b) => Some(b),
            _ => wrong_kind(self, node, at, problems),
        }
    }
    fn expected(&self) -> String {
        "true or false".into()
    }
    fn schema(&self, _: &mut Definitions) -> Value {
        json!({ "type": "boolean" })
    }
}

/// A whole number in a range.
pub struct Whole(RangeInclusive<u32>);

/// A whole number in a range.
pub fn whole(range: RangeInclusive<u32>) -> Whole {
    Whole(range)
}

impl Codec for Whole {
    type Out = u32;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<u32> {
        let NodeValue::Whole(n) = node.value else { return wrong_kind(self, node, at, problems) };
        match u32::try_from(n).ok().filter(|n| self.0.contains(n)) {
            Some(n) => Some(n),
            None => fail(
                at,
                ProblemKind::OutOfRange {
                    found: n.to_string(),
                    expected: format!("{} is possible here", self.expected()),
                },
                problems,
            ),
        }
    }
    fn expected(&self) -> String {
        format!("a whole number from {} to {}", self.0.start(), self.0.end())
    }
    fn schema(&self, _: &mut Definitions) -> Value {
        json!({ "type": "integer", "minimum": self.0.start(), "maximum": self.0.end() })
    }
}

/// Money: an exact decimal number, in the job's currency.
pub struct Money;

/// Money: an exact decimal number, in the job's currency, 0 or more.
pub fn money() -> Money {
    Money
}

impl Codec for Money {
    type Out = Decimal;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<Decimal> {
        let found = match &node.value {
            NodeValue::Whole(n) => n.to_string(),
            // The shortest text of a float is what was typed, up to 15 digits.
            NodeValue::Number(x) => x.to_string(),
            NodeValue::Text(t) => t.trim().to_owned(),
            _ => return wrong_kind(self, node, at, problems),
        };
        match found.parse::<Decimal>() {
            Ok(amount) if !amount.is_sign_negative() || amount.is_zero() => Some(amount),
            Ok(_) => fail(
                at,
                ProblemKind::OutOfRange { found: short(&found), expected: self.expected() },
                problems,
            ),
            Err(_) => {
                let told = say!(
                    "\"{found}\" cannot be read as an amount of money: digits and a point alone, such as 12500.50",
                    found = short(&found)
                );
                fail(at, ProblemKind::Rule(told), problems)
            }
        }
    }
    fn expected(&self) -> String {
        "an amount of money of 0 or more, without a sign, e.g. 12.50".into()
    }
    fn schema(&self, _: &mut Definitions) -> Value {
        json!({ "anyOf": [{ "type": "number", "minimum": 0 }, { "type": "string", "pattern": "^[0-9]+(\\.[0-9]+)?$" }] })
    }
}

/// Hours of the day.
pub struct HoursOfDay;

/// Hours of the day, from one time to another, past midnight as well.
pub fn hours() -> HoursOfDay {
    HoursOfDay
}

impl Codec for HoursOfDay {
    type Out = Hours;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<Hours> {
        let NodeValue::Text(t) = &node.value else { return wrong_kind(self, node, at, problems) };
        let read = Hours::read(&short(t));
        read.or_else(|| {
            let found = format!("\"{}\"", short(t));
            fail(at, ProblemKind::OutOfRange { found, expected: self.expected() }, problems)
        })
    }
    fn expected(&self) -> String {
        "hours of the day from one time to another, e.g. 22:00 to 07:00".into()
    }
    fn schema(&self, _: &mut Definitions) -> Value {
        json!({ "type": "string", "examples": ["22:00 to 07:00"] })
    }
}

/// An IP code.
pub struct Ingress;

/// How far an enclosure keeps solids and water out, as [`IpCode::read`] reads it.
pub fn ip_code() -> Ingress {
    Ingress
}

impl Codec for Ingress {
    type Out = IpCode;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<IpCode> {
        let NodeValue::Text(t) = &node.value else { return wrong_kind(self, node, at, problems) };
        let read = IpCode::read(&short(t));
        read.or_else(|| {
            let found = format!("\"{}\"", short(t));
            fail(at, ProblemKind::OutOfRange { found, expected: self.expected() }, problems)
        })
    }
    fn expected(&self) -> String {
        "an IP code of IEC 60529 without further letters, e.g. IP65 or IPX4".into()
    }
    fn schema(&self, _: &mut Definitions) -> Value {
        json!({ "type": "string", "examples": ["IP65"] })
    }
}

/// One of a set of words.
pub struct Word<T>(PhantomData<T>);

/// One of the words of a [`Choice`].
pub fn word<T: Choice>() -> Word<T> {
    Word(PhantomData)
}

impl<T: Choice> Codec for Word<T> {
    type Out = T;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<T> {
        let NodeValue::Text(t) = &node.value else { return wrong_kind(self, node, at, problems) };
        if let Some(c) = T::ALL.iter().find(|c| c.1 == t) {
            return Some(c.0);
        }
        let words = || T::ALL.iter().map(|c| c.1);
        let kind = ProblemKind::NotOffered { found: short(t), offered: words().map(str::to_owned).collect() };
        problems.push(Problem::new(at.to_string(), kind).hint(did_you_mean(t, words())));
        None
    }
    fn expected(&self) -> String {
        format!("one of {}", T::ALL.iter().map(|c| c.1).collect::<Vec<_>>().join(", "))
    }
    fn schema(&self, _: &mut Definitions) -> Value {
        let each: Vec<Value> =
            T::ALL.iter().map(|c| json!({ "const": c.1, "description": c.2.trim() })).collect();
        json!({ "oneOf": each })
    }
}
