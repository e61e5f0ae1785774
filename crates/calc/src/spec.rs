//! How a calculator describes itself.

use crate::error::Outcome;
use crate::inputs::Inputs;
use loamline_model::Quantity;
use serde_json::Value;

/// A calculator: its description and its function.
#[derive(Debug, Clone, Copy)]
pub struct Calculator {
    /// The name typed, e.g. `cable-loss`.
    pub name: &'static str,
    /// What it is for, in one line.
    pub purpose: &'static str,
    /// What it takes, in the order shown.
    pub inputs: &'static [Input],
    /// For each entry, exactly one of its sets of keys must be given.
    pub alternatives: &'static [&'static [&'static [&'static str]]],
    /// What it gives, in the order shown.
    pub results: &'static [Output],
    /// The standards or handbooks it follows, or "common practice, no source".
    pub sources: &'static [&'static str],
    /// The arguments of an example call; a JSON document for [`Calculation::Document`].
    pub example: &'static str,
    /// The function.
    pub run: Calculation,
}

/// What a calculator's function takes.
#[derive(Debug, Clone, Copy)]
pub enum Calculation {
    /// Values by key.
    Values(fn(&Inputs) -> Outcome),
    /// A structured JSON document, an object whose top-level keys are the inputs.
    Document(fn(&Value) -> Outcome),
}

/// One input.
#[derive(Debug, Clone, Copy)]
pub struct Input {
    /// The key typed before `=`.
    pub key: &'static str,
    /// What the key was called before; still read, never shown.
    pub formerly: Option<&'static str>,
    /// What the value is.
    pub kind: InputKind,
    /// Whether it must be given.
    pub need: Need,
    /// Smallest and largest value allowed, in the quantity's unit.
    pub range: Option<(f64, f64)>,
    /// The value must be more than this.
    pub above: Option<f64>,
    /// What it is, in a few words.
    pub description: &'static str,
}

/// What an input's value is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum InputKind {
    /// One value.
    Value(Quantity),
    /// Several values, at least one; `12x7.5 W` repeats a value.
    List(Quantity),
    /// One of these words.
    Choice(&'static [&'static str]),
    /// A whole number.
    Whole,
    /// A wire gauge (AWG).
    Gauge,
    /// Free text, such as a trade size.
    Text,
    /// Part of a JSON document; holds what it is, e.g. `object` or `list of runs`.
    Json(&'static str),
}

/// Whether an input must be given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Need {
    /// It must.
    Required,
    /// It may be left out, and is then this, as one would type it.
    Default(&'static str),
    /// A list of frequencies that may be left out, and is then the 31 third-octave bands from 20 Hz to 20 kHz.
    ThirdOctaves,
    /// It may be left out.
    Optional,
}

impl Input {
    /// A single value, required unless said otherwise.
    pub const fn value(key: &'static str, quantity: Quantity, description: &'static str) -> Self {
        Self::new(key, InputKind::Value(quantity), description)
    }

    /// A list of values, required unless said otherwise.
    pub const fn list(key: &'static str, quantity: Quantity, description: &'static str) -> Self {
        Self::new(key, InputKind::List(quantity), description)
    }

    /// Frequencies above 0 Hz; the 31 third-octave bands if absent.
    pub const fn frequencies(description: &'static str) -> Self {
        let mut input = Self::new("frequency", InputKind::List(Quantity::Frequency), description).above(0.0);
        input.need = Need::ThirdOctaves;
        input
    }

    /// One of several words.
    pub const fn choice(
        key: &'static str,
        words: &'static [&'static str],
        description: &'static str,
    ) -> Self {
        Self::new(key, InputKind::Choice(words), description)
    }

    /// A whole number.
    pub const fn whole(key: &'static str, description: &'static str) -> Self {
        Self::new(key, InputKind::Whole, description)
    }

    /// Free text.
    pub const fn text(key: &'static str, description: &'static str) -> Self {
        Self::new(key, InputKind::Text, description)
    }

    /// The wire gauge `gauge`, optional because `area` may be given instead.
    pub const fn gauge() -> Self {
        Self::new("gauge", InputKind::Gauge, "wire gauge (AWG)").optional()
    }

    /// The conductor cross-section `area`, optional because `gauge` may be given instead.
    pub const fn conductor_area() -> Self {
        Self::new("area", InputKind::Value(Quantity::ConductorArea), "cross-section of one conductor")
            .above(0.0)
            .optional()
    }

    /// A top-level key of a JSON document; `shape` says what it is.
    pub const fn json(key: &'static str, shape: &'static str, description: &'static str) -> Self {
        Self::new(key, InputKind::Json(shape), description)
    }

    const fn new(key: &'static str, kind: InputKind, description: &'static str) -> Self {
        Self { key, formerly: None, kind, need: Need::Required, range: None, above: None, description }
    }

    /// The value must be from `least` to `most`, in the quantity's unit.
    pub const fn range(mut self, least: f64, most: f64) -> Self {
        self.range = Some((least, most));
        self
    }

    /// The value must be more than `limit`.
    pub const fn above(mut self, limit: f64) -> Self {
        self.above = Some(limit);
        self
    }

    /// Also read under the `key` it had before.
    pub const fn formerly(mut self, key: &'static str) -> Self {
        self.formerly = Some(key);
        self
    }

    /// May be left out, and is then `text`, read as if typed.
    pub const fn default(mut self, text: &'static str) -> Self {
        self.need = Need::Default(text);
        self
    }

    /// May be left out.
    pub const fn optional(mut self) -> Self {
        self.need = Need::Optional;
        self
    }
}

/// One result.
#[derive(Debug, Clone, Copy)]
pub struct Output {
    /// The key in `results`.
    pub key: &'static str,
    /// How it is shown in tables.
    pub shown: OutputUnit,
    /// What it is, in a few words.
    pub description: &'static str,
}

/// How a result is shown in tables. JSON always has the number in the unit its key names.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OutputUnit {
    /// As a quantity, in the units the person reads; the number is in [`Quantity::symbol`].
    Quantity(Quantity),
    /// As a number with this unit.
    Unit(&'static str),
}

impl Output {
    /// A number or list of numbers in the quantity's own unit.
    pub const fn quantity(key: &'static str, quantity: Quantity, description: &'static str) -> Self {
        Self { key, shown: OutputUnit::Quantity(quantity), description }
    }

    /// A number or list of numbers in another unit (may be empty), or a word or a structure.
    pub const fn unit(key: &'static str, unit: &'static str, description: &'static str) -> Self {
        Self { key, shown: OutputUnit::Unit(unit), description }
    }
}
