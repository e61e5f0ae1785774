//! What a value may be: texts, quantities with units, points, outlines, lists, maps of named things.

use super::contract::{Choice, Codec, Definitions, Field, Record, SchemaDefault, Table};
use super::node::{DocumentPlace, Node, NodeValue};
use super::problem::{Problem, ProblemKind, did_you_mean, enough, short};
use crate::units::Quantity;
use indexmap::IndexMap;
use loamline_geometry::{OutlineError, Point2, Polygon};
use loamline_limits::{Bound, CORNERS, ENTRIES};
use loamline_terms::{Hours, OPEN, Shown};
use rust_decimal::Decimal;
use serde_json::{Value, json};
use std::marker::PhantomData;
use std::ops::RangeInclusive;

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

fn fail<T>(at: &DocumentPlace<'_>, kind: ProblemKind, problems: &mut Vec<Problem>) -> Option<T> {
    problems.push(Problem::new(at.to_string(), kind));
    None
}

fn wrong_kind<T>(
    codec: &impl Codec,
    node: &Node,
    at: &DocumentPlace<'_>,
    problems: &mut Vec<Problem>,
) -> Option<T> {
    fail(at, ProblemKind::WrongKind { expected: codec.expected(), found: node.kind().into() }, problems)
}

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

/// A quantity as a bare number in its own unit, or text with a unit.
#[derive(Clone)]
pub struct Measured {
    kind: Quantity,
    range: RangeInclusive<f64>,
}

/// A quantity of a kind, within a range in the kind's own unit.
pub fn quantity(kind: Quantity, range: RangeInclusive<f64>) -> Measured {
    Measured { kind, range }
}

impl Measured {
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
                let expected = format!("{} from {} is possible here", self.kind.with_article(), self.span());
                fail(at, ProblemKind::OutOfRange { found, expected }, problems)
            }
            Err(e) => fail(at, ProblemKind::Quantity(e), problems),
        }
    }
    fn expected(&self) -> String {
        format!("{}, e.g. {}", self.kind.with_article(), self.kind.example())
    }
    fn schema(&self, _: &mut Definitions) -> Value {
        json!({
            "anyOf": [
                { "type": "number", "minimum": self.range.start(), "maximum": self.range.end() },
                { "type": "string" }
            ],
            "x-quantity": self.kind.name(),
            "x-unit": self.kind.symbol(),
            "examples": [self.kind.example()],
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
        schema["examples"] = json!([self.0.kind.example(), OPEN]);
        schema
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
        match found.parse::<Decimal>().ok().filter(|d| !d.is_sign_negative() || d.is_zero()) {
            Some(d) => Some(d),
            None => fail(
                at,
                ProblemKind::OutOfRange { found: short(&found), expected: self.expected() },
                problems,
            ),
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

/// A point in plan, `[x, y]`.
pub struct PlanPoint;

/// A point in plan: `[x, y]`, each a length, within 100 km of the datum.
pub fn point() -> PlanPoint {
    PlanPoint
}

fn coordinate() -> Measured {
    quantity(Quantity::Length, -1.0e5..=1.0e5)
}

impl Codec for PlanPoint {
    type Out = Point2;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<Point2> {
        let NodeValue::List(l) = &node.value else { return wrong_kind(self, node, at, problems) };
        let [x, y] = l.as_slice() else {
            return fail(at, ProblemKind::WrongCount { expected: self.expected(), found: l.len() }, problems);
        };
        let x = coordinate().decode(x, &at.index(0), problems);
        let y = coordinate().decode(y, &at.index(1), problems);
        Some(Point2::new(x?, y?))
    }
    fn expected(&self) -> String {
        "a point in plan, [metres east, metres north]".into()
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        let c = coordinate().schema(defs);
        json!({ "type": "array", "prefixItems": [c.clone(), c], "items": false, "minItems": 2, "maxItems": 2 })
    }
}

/// An outline in plan.
pub struct Outline;

/// An outline in plan: a list of at least three corners in either direction, neither crossing nor touching itself.
pub fn outline() -> Outline {
    Outline
}

impl Codec for Outline {
    type Out = Polygon;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<Polygon> {
        let corners = points(0, self, node, at, problems)?;
        match Polygon::new(corners) {
            Ok(p) => Some(p),
            Err(e @ OutlineError::CrossesItself { first, .. }) => {
                fail(&at.index(first - 1), ProblemKind::Outline(e), problems)
            }
            Err(e) => fail(at, ProblemKind::Outline(e), problems),
        }
    }
    fn expected(&self) -> String {
        "an outline, a list of at least 3 corners [x, y]".into()
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        json!({ "type": "array", "items": point().schema(defs), "minItems": 3 })
    }
}

/// Points of an outline or line: no more of them than can be held against each other.
fn points(
    least: usize,
    of: &impl Codec,
    node: &Node,
    at: &DocumentPlace<'_>,
    problems: &mut Vec<Problem>,
) -> Option<Vec<Point2>> {
    match &node.value {
        NodeValue::List(l) => match CORNERS.check(l.len()) {
            Ok(()) => list(point(), least..=CORNERS.most()).decode(node, at, problems),
            Err(more) => fail(at, more.into(), problems),
        },
        _ => wrong_kind(of, node, at, problems),
    }
}

/// A list of values.
pub struct List<C>(C, RangeInclusive<usize>);

/// A list of values, with the allowed number of items.
pub fn list<C: Codec>(item: C, count: RangeInclusive<usize>) -> List<C> {
    List(item, count)
}

/// A line in plan.
pub struct PlanLine;

/// A line in plan through at least two points that are not all the same.
pub fn line() -> PlanLine {
    PlanLine
}

impl Codec for PlanLine {
    type Out = Vec<Point2>;
    fn decode(
        &self,
        node: &Node,
        at: &DocumentPlace<'_>,
        problems: &mut Vec<Problem>,
    ) -> Option<Vec<Point2>> {
        let points = points(2, self, node, at, problems)?;
        if points.iter().all(|p| *p == points[0]) {
            let rule = "all points of this line are the same; give it a second place to go to";
            return fail(at, ProblemKind::Rule(rule.into()), problems);
        }
        Some(points)
    }
    fn expected(&self) -> String {
        "a line, a list of at least 2 points [x, y]".into()
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        json!({ "type": "array", "items": point().schema(defs), "minItems": 2 })
    }
}

impl<C: Codec> Codec for List<C> {
    type Out = Vec<C::Out>;
    fn decode(
        &self,
        node: &Node,
        at: &DocumentPlace<'_>,
        problems: &mut Vec<Problem>,
    ) -> Option<Vec<C::Out>> {
        let NodeValue::List(l) = &node.value else { return wrong_kind(self, node, at, problems) };
        if !self.1.contains(&l.len()) {
            let expected = match *self.1.end() {
                most if l.len() > most => format!("a list of at most {most} items"),
                _ => self.expected(),
            };
            return fail(at, ProblemKind::WrongCount { expected, found: l.len() }, problems);
        }
        // Read every item even after one has failed, so that all problems are reported.
        let read: Vec<Option<C::Out>> = l
            .iter()
            .enumerate()
            .map(|(i, n)| if enough(problems) { None } else { self.0.decode(n, &at.index(i), problems) })
            .collect();
        read.into_iter().collect()
    }
    fn expected(&self) -> String {
        match (*self.1.start(), *self.1.end()) {
            (0, _) => format!("a list, each item {}", self.0.expected()),
            (n, m) if n == m => format!("a list of {n} items, each {}", self.0.expected()),
            (n, _) => format!("a list of at least {n} items, each {}", self.0.expected()),
        }
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        json!({ "type": "array", "items": self.0.schema(defs), "minItems": self.1.start() })
    }
}

/// A nested table.
pub struct Nested<T>(PhantomData<T>);

/// A nested table of known keys.
pub fn nested<T: Record>() -> Nested<T> {
    Nested(PhantomData)
}

impl<T: Record> Codec for Nested<T> {
    type Out = T;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<T> {
        T::read(node, at, problems)
    }
    fn expected(&self) -> String {
        "a table".into()
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        T::schema(defs)
    }
}

/// A nested table read as if empty when absent.
pub struct NestedOrEmpty<T>(PhantomData<T>);

/// A nested table of known keys that is read as if empty when absent.
pub fn nested_or_empty<T: Record>() -> NestedOrEmpty<T> {
    NestedOrEmpty(PhantomData)
}

impl<T: Record> Field for NestedOrEmpty<T> {
    type Out = T;
    fn read(
        &self,
        table: &Table,
        key: &str,
        at: &DocumentPlace<'_>,
        problems: &mut Vec<Problem>,
    ) -> Option<T> {
        let empty = Node::without_place(NodeValue::Table(IndexMap::new()));
        T::read(table.get(key).unwrap_or(&empty), &at.key(key), problems)
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        T::schema(defs)
    }
}

/// A map of things named by id.
pub struct Named<C>(C, &'static Bound);

/// A map of things, each under its id, and no more than a bound allows.
pub fn named<C: Codec>(item: C, most: &'static Bound) -> Named<C> {
    Named(item, most)
}

/// A map of records, each under its id; empty when absent.
pub fn map_of<T: Record>() -> super::field::WithDefault<Named<Nested<T>>> {
    at_most::<T>(&ENTRIES)
}

/// A map of records, each under its id, and no more than a bound allows; empty when absent.
pub fn at_most<T: Record>(most: &'static Bound) -> super::field::WithDefault<Named<Nested<T>>> {
    use super::field::AsField as _;
    named(nested::<T>(), most).or(IndexMap::new())
}

/// Whether a text can be an id on a tag: 1 to 32 letters, digits, `.`, `_` or `-`, starting with a letter or digit.
pub fn is_id(id: &str) -> bool {
    (1..=32).contains(&id.chars().count())
        && id.starts_with(|c: char| c.is_alphanumeric())
        && id.chars().all(|c| c.is_alphanumeric() || matches!(c, '.' | '_' | '-'))
}

impl<C: Codec> Codec for Named<C> {
    type Out = IndexMap<String, C::Out>;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<Self::Out> {
        let NodeValue::Table(t) = &node.value else { return wrong_kind(self, node, at, problems) };
        if let Err(more) = self.1.check(t.len()) {
            return fail(at, more.into(), problems);
        }
        let mut all = IndexMap::with_capacity(t.len());
        let mut complete = true;
        for (id, n) in t {
            if enough(problems) {
                return None;
            }
            let place = at.key(id);
            if !is_id(id) {
                complete = false;
                let whole = short(id);
                let is_endless = whole != *id;
                problems.push(Problem::with_key(place.to_string(), ProblemKind::BadId { id: whole }));
                // Every problem below would repeat it.
                if is_endless {
                    continue;
                }
            }
            match self.0.decode(n, &place, problems) {
                Some(v) => {
                    all.insert(id.clone(), v);
                }
                None => complete = false,
            }
        }
        complete.then_some(all)
    }
    fn expected(&self) -> String {
        "a table of named things".into()
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        json!({ "type": "object", "additionalProperties": self.0.schema(defs) })
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
                ProblemKind::Rule(format!("the frequency {} Hz stands here twice", w[0].0)),
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
