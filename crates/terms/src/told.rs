//! Sentences whose measures are written in the units of whoever reads them.
//!
//! A sentence is made where something is found, by code that does not know who will read it. So it carries its measures
//! as numbers, each with its place in the text. As it stands it reads in metres, the units of every JSON answer;
//! [`Sentence::written`] writes the same sentence with each measure as the reader wants it. One made from a template also knows
//! that, so that it can be said in another language ([`Sentence::spoken`]).

use crate::sentence::capitalised;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;
use std::ops::{Add, Deref, Range};

/// A measure within a sentence, in SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Measure {
    /// A distance along cable or ground, metres, told to a tenth.
    Length(f64),
    /// A distance that must be kept, or a small one, metres, told to a hundredth.
    Clearance(f64),
    /// A distance that a rule of thumb names, metres, told to a whole one.
    RoundLength(f64),
    /// A ground area, square metres, told to a whole one.
    Area(f64),
    /// Resistance per metre of cable, ohm per metre, four decimals.
    OhmPerLength(f64),
    /// A temperature, degrees Celsius, told to a tenth.
    Temperature(f64),
}

impl fmt::Display for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Length(metres) => write!(f, "{} m", crate::fixed(metres, 1)),
            Self::Clearance(metres) => write!(f, "{} m", crate::fixed(metres, 2)),
            Self::RoundLength(metres) => write!(f, "{} m", crate::fixed(metres, 0)),
            Self::Area(m2) => write!(f, "{} m2", grouped(*m2)),
            Self::OhmPerLength(ohm) => write!(f, "{} ohm per metre", crate::fixed(ohm, 4)),
            Self::Temperature(celsius) => write!(f, "{} C", crate::fixed(celsius, 1)),
        }
    }
}

impl Measure {
    /// Its kind in a word and its value in SI units.
    const fn parts(self) -> (&'static str, f64) {
        match self {
            Self::Length(metres) => ("length", metres),
            Self::Clearance(metres) => ("clearance", metres),
            Self::RoundLength(metres) => ("round_length", metres),
            Self::Area(m2) => ("area", m2),
            Self::OhmPerLength(ohm) => ("ohm_per_length", ohm),
            Self::Temperature(celsius) => ("temperature", celsius),
        }
    }
}

/// Where in a sentence a measure stands, for whoever shows the sentence in other units.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PlacedMeasure {
    /// Where its words begin, in UTF-16 units of the sentence as a browser counts them.
    pub from: usize,
    /// Where they end.
    pub to: usize,
    /// What it is: `length` (told to a tenth of a metre), `clearance` (to a hundredth), `round_length` (to a whole one), `area`,
    /// `ohm_per_length` or `temperature`.
    pub kind: &'static str,
    /// How much: metres, square metres, ohm per metre, degrees Celsius.
    pub value: f64,
}

/// A whole number in groups of three digits: `9 000 000`.
fn grouped(value: f64) -> String {
    let digits = crate::fixed(value, 0);
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) && !out.ends_with('-') {
            out.push(' ');
        }
        out.push(digit);
    }
    out
}

/// A sentence that knows which of its words are measures. It reads (`Deref`, `Display`, JSON) as its metric text.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sentence {
    text: String,
    /// Where in the text a measure stands, in order.
    measures: Vec<(Range<usize>, Measure)>,
    /// What of the text was made from templates, in order.
    pub(crate) said: Vec<Said>,
}

/// A part of a sentence that was made from a template.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Said {
    /// Where in the text it stands, bytes.
    pub(crate) place: Range<usize>,
    /// The template, in English.
    pub(crate) template: &'static str,
    /// What its names in braces stand for.
    pub(crate) values: Vec<(&'static str, Sentence)>,
    /// Whether it begins with a capital letter whatever its template does.
    pub(crate) capital: bool,
}

impl Said {
    /// The same elsewhere in a text.
    fn moved_to(&self, place: Range<usize>) -> Self {
        Self { place, ..self.clone() }
    }
}

impl Sentence {
    /// The sentence with every measure as `write` writes it.
    #[must_use]
    pub fn written(&self, write: impl Fn(Measure) -> String) -> String {
        let mut all = String::with_capacity(self.text.len());
        let mut from = 0;
        for (place, measure) in &self.measures {
            all.push_str(self.text.get(from..place.start).unwrap_or_default());
            all.push_str(&write(*measure));
            from = place.end;
        }
        all.push_str(self.text.get(from..).unwrap_or_default());
        all
    }

    /// The sentence with its measures in metres.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// Its measures, each with its place in the metric text.
    #[must_use]
    pub fn placed(&self) -> Vec<PlacedMeasure> {
        let units = |upto: usize| self.text.get(..upto).unwrap_or_default().encode_utf16().count();
        let one = |(place, measure): &(Range<usize>, Measure)| {
            let (kind, value) = measure.parts();
            PlacedMeasure { from: units(place.start), to: units(place.end), kind, value }
        };
        self.measures.iter().map(one).collect()
    }

    /// The same with its first letter as it begins a sentence.
    #[must_use]
    pub fn capitalised(self) -> Self {
        let split = self.text.chars().next().map_or(0, char::len_utf8);
        let begins_with_measure = self.measures.first().is_some_and(|(place, _)| place.start < split);
        if begins_with_measure {
            return self;
        }
        let (first, rest) = self.text.split_at(split);
        let first = capitalised(first);
        // What begins the sentence begins it still.
        let moved = |at: usize| if at < split { at } else { at - split + first.len() };
        let measures = self.measures.iter().map(|(p, m)| (moved(p.start)..moved(p.end), *m)).collect();
        let said = self.said.iter().map(|s| s.moved_to(moved(s.place.start)..moved(s.place.end)));
        let mut said: Vec<Said> = said.collect();
        if let Some(begins) = said.first_mut().filter(|s| s.place.start == 0) {
            begins.capital = true;
        }
        Self { text: format!("{first}{rest}"), measures, said }
    }

    /// A part of it that was made from no template.
    pub(crate) fn piece(&self, part: Range<usize>) -> Self {
        let inside = self.measures.iter().filter(|(p, _)| p.start >= part.start && p.end <= part.end);
        let measures = inside.map(|(p, m)| (p.start - part.start..p.end - part.start, *m)).collect();
        let text = self.text.get(part).unwrap_or_default().to_owned();
        Self { text, measures, said: Vec::new() }
    }
}

impl From<Measure> for Sentence {
    fn from(measure: Measure) -> Self {
        let text = measure.to_string();
        let measures = vec![(0..text.len(), measure)];
        Self { text, measures, said: Vec::new() }
    }
}

impl From<String> for Sentence {
    fn from(text: String) -> Self {
        Self { text, measures: Vec::new(), said: Vec::new() }
    }
}

impl From<&String> for Sentence {
    fn from(text: &String) -> Self {
        text.clone().into()
    }
}

impl From<&str> for Sentence {
    fn from(text: &str) -> Self {
        text.to_owned().into()
    }
}

impl<T: Into<Self>> Add<T> for Sentence {
    type Output = Self;

    fn add(mut self, more: T) -> Self {
        let more = more.into();
        let before = self.text.len();
        self.text.push_str(&more.text);
        let moved = |p: Range<usize>| p.start + before..p.end + before;
        self.measures.extend(more.measures.into_iter().map(|(p, m)| (moved(p), m)));
        self.said.extend(more.said.into_iter().map(|s| s.moved_to(moved(s.place.clone()))));
        self
    }
}

impl Deref for Sentence {
    type Target = str;

    fn deref(&self) -> &str {
        &self.text
    }
}

impl fmt::Display for Sentence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.text)
    }
}

impl PartialEq<str> for Sentence {
    fn eq(&self, other: &str) -> bool {
        self.text == other
    }
}

impl PartialEq<String> for Sentence {
    fn eq(&self, other: &String) -> bool {
        self.text == *other
    }
}

impl PartialEq<&str> for Sentence {
    fn eq(&self, other: &&str) -> bool {
        self.text == *other
    }
}

impl Serialize for Sentence {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.text)
    }
}

/// As it was written, in metres: what was a measure is plain text then.
impl<'de> Deserialize<'de> for Sentence {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer).map(Self::from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn feet(measure: Measure) -> String {
        match measure {
            Measure::Length(m) | Measure::Clearance(m) => format!("{:.1} ft", m / 0.3048),
            other => other.to_string(),
        }
    }

    /// 1 ft is 0.3048 m by definition (international yard and pound agreement, 1959), so 3.048 m are 10 ft.
    #[test]
    fn a_sentence_is_written_in_the_units_of_its_reader() {
        let clear = Sentence::from("L1 is ")
            + Measure::Clearance(0.3048)
            + " from 10 m2, "
            + Measure::Length(3.048)
            + " must be kept.";
        assert_eq!(clear, "L1 is 0.30 m from 10 m2, 3.0 m must be kept.");
        assert_eq!(clear.written(feet), "L1 is 1.0 ft from 10 m2, 10.0 ft must be kept.");
        assert_eq!(clear.written(|m| m.to_string()), clear.to_string());
        assert_eq!(serde_json::to_value(&clear).unwrap(), clear.to_string());
    }

    #[test]
    fn areas_are_whole_and_readable() {
        let told = [0.4, 999.0, 1234.0, 9e6].map(|m2| Measure::Area(m2).to_string());
        assert_eq!(told, ["0 m2", "999 m2", "1 234 m2", "9 000 000 m2"]);
    }

    #[test]
    fn what_is_added_keeps_its_measures_in_place() {
        let run = Sentence::from("über ") + Measure::Length(6.096) + " of lawn";
        let whole = run.clone().capitalised() + "; then " + run;
        assert_eq!(whole, "Über 6.1 m of lawn; then über 6.1 m of lawn");
        assert_eq!(whole.written(feet), "Über 20.0 ft of lawn; then über 20.0 ft of lawn");
        // A browser counts a letter beyond the first 65 536 as two.
        let placed = (Sentence::from("\u{1f50a} ü ") + Measure::Clearance(0.4) + " off").placed();
        assert_eq!(placed, [PlacedMeasure { from: 5, to: 11, kind: "clearance", value: 0.4 }]);
        // A letter whose capital is longer moves what follows: U+0149 becomes two letters (Unicode SpecialCasing).
        let longer = (Sentence::from("\u{149} ") + Measure::Length(0.3048)).capitalised();
        assert_eq!(longer.written(feet), "\u{2bc}N 1.0 ft");
        let begins = Sentence::from(Measure::Length(3.048)) + " long";
        assert_eq!(begins.capitalised().written(feet), "10.0 ft long");
    }
}
