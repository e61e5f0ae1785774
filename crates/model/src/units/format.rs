//! Writing quantities for people, in metric or in US customary units.

use super::kinds::Quantity;
use loamline_terms::{Measure, Sentence};

/// The units a person wants to read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// Metres, square metres, degrees Celsius, kilograms.
    #[default]
    Metric,
    /// Feet and inches, square feet, degrees Fahrenheit, pounds.
    Us,
}

impl Units {
    /// Every one with its spelling in documents and a line of description.
    pub(crate) const WORDS: &'static [(Self, &'static str, &'static str)] = &[
        (Self::Metric, "metric", " Metres, square metres, degrees Celsius, kilograms."),
        (Self::Us, "us", " Feet and inches, square feet, degrees Fahrenheit, pounds."),
    ];
}

/// What stands in every spelling of a foot, an inch and a yard, and in none of a metric length.
const FEET_AND_INCHES: [&str; 9] =
    ["f", "in", "y", "'", "\"", "\u{2019}", "\u{2032}", "\u{201d}", "\u{2033}"];
const M_PER_IN: f64 = 0.0254;
const M_PER_FT: f64 = 0.3048;
/// Lengths below this are told in feet and inches, longer ones in whole feet: a stride, ten feet.
const SHORT_M: f64 = 3.048;
const KG_PER_LB: f64 = 0.453_592_37;
/// What is meant to be a whole step stays one whatever its last bits are: a millionth of a step is nothing to cut.
const WHOLE_STEP: f64 = 1e-6;

impl Units {
    /// A position or a length on site: `3.81 m`, or feet and inches to the nearest quarter inch, `12 ft 6 in`.
    pub fn length(self, length_m: f64) -> String {
        match self {
            Self::Metric => format!("{} m", fixed(length_m, 2)),
            Self::Us => feet_and_inches(length_m, 4),
        }
    }

    /// The units somebody types lengths in, by one of them as typed.
    pub(crate) fn of_a_length(typed: &str) -> Self {
        let typed = typed.to_lowercase();
        if FEET_AND_INCHES.iter().any(|mark| typed.contains(mark)) { Self::Us } else { Self::Metric }
    }

    /// A bound of a length, from a hair to kilometres, without digits that say nothing: `2 in`, `65617 ft`.
    pub(crate) fn bound(self, length_m: f64) -> String {
        match self {
            Self::Metric => format!("{length_m} m"),
            Self::Us if length_m.abs() < SHORT_M => feet_and_inches(length_m, 16),
            Self::Us => self.run(length_m),
        }
    }

    /// A length of cable, path or trench, where centimetres do not matter: `38.2 m`, `125 ft`.
    pub fn run(self, length_m: f64) -> String {
        match self {
            Self::Metric => format!("{} m", fixed(length_m, 1)),
            Self::Us => format!("{} ft", fixed(length_m / M_PER_FT, 0)),
        }
    }

    /// A length of cable to cut, never shorter than what it has to reach: `38.3 m`, `126 ft`.
    pub fn cut(self, length_m: f64) -> String {
        self.in_steps(length_m, |steps| (steps - WHOLE_STEP).ceil())
    }

    /// A length of cable that is left, never longer than there is: `38.2 m`, `125 ft`.
    pub fn left(self, length_m: f64) -> String {
        self.in_steps(length_m, |steps| (steps + WHOLE_STEP).floor())
    }

    /// A length of cable as it is cut, metres: what [`Units::cut`] says, as a number to add up.
    #[must_use]
    pub fn cut_m(self, length_m: f64) -> f64 {
        let whole = |steps: f64| (steps - WHOLE_STEP).ceil();
        match self {
            Self::Metric => whole(length_m * 10.0) / 10.0,
            Self::Us => whole(length_m / M_PER_FT) * M_PER_FT,
        }
    }

    /// Tenths of a metre, or feet.
    fn in_steps(self, length_m: f64, whole: fn(f64) -> f64) -> String {
        match self {
            Self::Metric => format!("{} m", fixed(whole(length_m * 10.0) / 10.0, 1)),
            Self::Us => format!("{} ft", fixed(whole(length_m / M_PER_FT), 0)),
        }
    }

    /// A small dimension, such as a diameter or a hole: `165 mm`, `6 1/2 in`.
    pub fn dimension(self, length_m: f64) -> String {
        match self {
            Self::Metric => format!("{} mm", fixed(length_m * 1e3, if length_m.abs() < 0.1 { 1 } else { 0 })),
            Self::Us => inches(length_m / M_PER_IN, 16),
        }
    }

    /// A ground area: `25.0 m2`, `269 sq ft`.
    pub fn area(self, area_m2: f64) -> String {
        match self {
            Self::Metric => format!("{} m2", fixed(area_m2, 1)),
            Self::Us => format!("{} sq ft", fixed(area_m2 / (M_PER_FT * M_PER_FT), 0)),
        }
    }

    /// A volume: `0.42 m3`, `14.8 cu ft`.
    pub fn volume(self, volume_m3: f64) -> String {
        match self {
            Self::Metric => format!("{} m3", fixed(volume_m3, 2)),
            Self::Us => format!("{} cu ft", fixed(volume_m3 / M_PER_FT.powi(3), 1)),
        }
    }

    /// A mass: `12.0 kg`, `26.5 lb`.
    pub fn mass(self, mass_kg: f64) -> String {
        match self {
            Self::Metric => format!("{} kg", fixed(mass_kg, 1)),
            Self::Us => format!("{} lb", fixed(mass_kg / KG_PER_LB, 1)),
        }
    }

    /// A temperature: `20.0 C`, `68.0 F`.
    pub fn temperature(self, temperature_c: f64) -> String {
        match self {
            Self::Metric => format!("{} C", fixed(temperature_c, 1)),
            Self::Us => format!("{} F", fixed(temperature_c * 1.8 + 32.0, 1)),
        }
    }

    /// A speed: `343.2 m/s`, `1126.0 ft/s`.
    pub fn speed(self, speed_m_per_s: f64) -> String {
        match self {
            Self::Metric => format!("{} m/s", fixed(speed_m_per_s, 1)),
            Self::Us => format!("{} ft/s", fixed(speed_m_per_s / M_PER_FT, 1)),
        }
    }

    /// A sentence with its measures in these units: runs to a foot, shorter ones to an inch, clearances to a quarter inch.
    pub fn tell(self, sentence: &Sentence) -> String {
        sentence.written(|measure| match (self, measure) {
            (Self::Metric, measure) => measure.to_string(),
            (Self::Us, Measure::Length(m)) if m.abs() < SHORT_M => feet_and_inches(m, 1),
            (Self::Us, Measure::Length(m) | Measure::RoundLength(m)) => self.run(m),
            (Self::Us, Measure::Clearance(m)) => self.length(m),
            (Self::Us, Measure::Area(m2)) => self.area(m2),
            (Self::Us, Measure::Temperature(celsius)) => self.temperature(celsius),
            (Self::Us, Measure::OhmPerLength(ohm)) => {
                format!("{} ohm per foot", loamline_terms::fixed(ohm * M_PER_FT, 4))
            }
        })
    }

    /// A value of any kind, given in [`Quantity::symbol`], with its unit; electrical quantities get an SI prefix.
    /// [`Quantity::parse`] reads it back.
    pub fn show(self, kind: Quantity, value: f64) -> String {
        match kind {
            Quantity::Length if value.abs() >= 1e4 && self == Self::Metric => {
                format!("{} m", digits(value, 6))
            }
            Quantity::Length if value != 0.0 && value.abs() < 0.3 => self.dimension(value),
            Quantity::Length => self.length(value),
            Quantity::Area => self.area(value),
            Quantity::Volume => self.volume(value),
            Quantity::Mass => self.mass(value),
            Quantity::Temperature => self.temperature(value),
            Quantity::Speed => self.speed(value),
            Quantity::Angle => format!("{} deg", fixed(value, 1)),
            Quantity::Level => format!("{} dB", fixed(value, 1)),
            Quantity::ConductorArea => format!("{} mm2", digits(value, 3)),
            Quantity::Duration => duration(value),
            Quantity::AirPressure => format!("{} kPa", digits(value / 1e3, 6)),
            Quantity::FlowResistivity => format!("{} kPa s/m2", digits(value, 6)),
            Quantity::Fraction => format!("{} %", fixed(value * 100.0, 1)),
            Quantity::Percent => format!("{} %", fixed(value, 1)),
            Quantity::Money => fixed(value, 2),
            Quantity::Number => digits(value, 6),
            Quantity::Voltage
            | Quantity::SignalVoltage
            | Quantity::Current
            | Quantity::Power
            | Quantity::Impedance
            | Quantity::Frequency
            | Quantity::Inductance
            | Quantity::Capacitance
            | Quantity::ResistancePerLength
            | Quantity::InductancePerLength
            | Quantity::CapacitancePerLength => engineering(value, kind.symbol()),
        }
    }
}

/// Fixed decimals, without the sign of a zero.
fn fixed(value: f64, decimals: usize) -> String {
    let text = loamline_terms::fixed(value, decimals);
    if text.starts_with('-') && text.trim_start_matches(['-', '0', '.']).is_empty() {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}

/// Significant digits, trailing zeros dropped, exponent only where the number would be unreadable.
fn digits(value: f64, significant: usize) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let magnitude = value.abs().log10().floor();
    if !(-5.0..9.0).contains(&magnitude) {
        return format!("{value:.*e}", significant.saturating_sub(1));
    }
    let decimals = (significant as f64 - 1.0 - magnitude).max(0.0) as usize;
    let text = fixed(value, decimals);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Four significant digits with an SI prefix from pico to mega.
fn engineering(value: f64, symbol: &str) -> String {
    const STEPS: [(f64, &str); 7] =
        [(1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"), (1e-12, "p")];
    // The next step up when rounding to four digits would reach it.
    let size = value.abs() * 1.000_05;
    let (factor, prefix) = STEPS.into_iter().find(|(factor, _)| size >= *factor).unwrap_or((1.0, ""));
    format!("{} {prefix}{symbol}", digits(value / factor, 4))
}

fn duration(seconds: f64) -> String {
    let size = seconds.abs();
    if size >= 3600.0 {
        let minutes = (seconds.abs() / 60.0).round();
        let sign = if seconds < 0.0 { "-" } else { "" };
        let (hours, minutes) = ((minutes / 60.0).floor(), minutes % 60.0);
        if minutes == 0.0 { format!("{sign}{hours} h") } else { format!("{sign}{hours} h {minutes} min") }
    } else if size >= 60.0 {
        format!("{} min", digits(seconds / 60.0, 4))
    } else if size >= 1.0 || size == 0.0 {
        format!("{} s", digits(seconds, 4))
    } else {
        format!("{} ms", digits(seconds * 1e3, 4))
    }
}

/// Feet and inches to the nearest 1/`parts` of an inch.
fn feet_and_inches(length_m: f64, parts: u32) -> String {
    let (in_inch, in_foot) = (f64::from(parts), 12.0 * f64::from(parts));
    let count = (length_m.abs() / M_PER_IN * in_inch).round();
    let sign = if length_m < 0.0 && count > 0.0 { "-" } else { "" };
    let feet = (count / in_foot).floor();
    let rest = (count - feet * in_foot) / in_inch;
    match (feet > 0.0, rest > 0.0) {
        (true, true) => format!("{sign}{feet} ft {}", inches(rest, parts)),
        (true, false) => format!("{sign}{feet} ft"),
        (false, _) => format!("{sign}{}", inches(rest, parts)),
    }
}

/// Inches to the nearest 1/`parts`, the fraction in lowest terms: `6 1/2 in`.
fn inches(inches: f64, parts: u32) -> String {
    let count = (inches.abs() * f64::from(parts)).round();
    let sign = if inches < 0.0 && count > 0.0 { "-" } else { "" };
    let whole = (count / f64::from(parts)).floor();
    let mut above = (count - whole * f64::from(parts)) as u32;
    let mut below = parts;
    while above > 0 && above.is_multiple_of(2) {
        above /= 2;
        below /= 2;
    }
    match (whole > 0.0, above > 0) {
        (_, false) => format!("{sign}{whole} in"),
        (true, true) => format!("{sign}{whole} {above}/{below} in"),
        (false, true) => format!("{sign}{above}/{below} in"),
    }
}
