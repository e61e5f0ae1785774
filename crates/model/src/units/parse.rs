//! Reading a quantity: numbers (`3.8`, `1e-3`, `6 1/2`), units with SI prefixes, and parts that add up.

use super::conductor::{looks_like_gauge, read_conductor};
use super::error::{QuantityError, QuantityProblem};
use super::kinds::{FT_M, IN_M, Quantity};
use super::letters::plain_letters;
use super::suggest::closest;
use super::unit::{Conversion, PREFIXES, Unit};
use loamline_limits::QUANTITY_PARTS;
use loamline_terms::ConductorSize;

impl Quantity {
    /// Reads what a person typed and returns the value in [`Quantity::symbol`].
    ///
    /// A number without a unit is in that unit already (see [`Quantity::of_number`]); behind feet it is inches. Upper and
    /// lower case matter only where they must (`mW`, `MW`).
    ///
    /// ```
    /// use loamline_model::Quantity;
    /// assert!((Quantity::Length.parse("12 ft 6 in").unwrap() - 3.81).abs() < 1e-12);
    /// assert!((Quantity::Temperature.parse("68 F").unwrap() - 20.0).abs() < 1e-12);
    /// assert_eq!(
    ///     Quantity::Length.parse("3 kg").unwrap_err().to_string(),
    ///     "\"3 kg\" is a mass; a length is wanted, e.g. 3.8 m or 12 ft 6 in"
    /// );
    /// ```
    ///
    /// # Errors
    /// When there is no number, the number is not finite, the unit is unknown or of another kind, or the parts do not
    /// add up to one quantity.
    pub fn parse(self, text: &str) -> Result<f64, QuantityError> {
        let fail = |problem| QuantityError { text: text.trim().to_owned(), wanted: self, problem };
        let plain = plain_letters(text);
        let typed = plain.trim();
        if typed.is_empty() {
            return Err(fail(QuantityProblem::Empty));
        }
        if self == Self::ConductorArea && looks_like_gauge(typed) {
            return read_conductor(text).map(ConductorSize::area_mm2);
        }
        let (negative, mut rest) = match typed.strip_prefix('-') {
            Some(rest) => (true, rest.trim_start()),
            None => (false, typed.strip_prefix('+').unwrap_or(typed).trim_start()),
        };
        let mut parts = Vec::new();
        while !rest.is_empty() {
            let Some((number, after)) = take_number(rest) else {
                return Err(fail(QuantityProblem::NoNumber));
            };
            if !number.is_finite() {
                return Err(fail(QuantityProblem::NotFinite));
            }
            if after.starts_with(',') {
                return Err(fail(QuantityProblem::DecimalComma(text.trim().replacen(',', ".", 1))));
            }
            let (unit, after) = take_unit(after);
            parts.push((number, unit));
            // Each part looks at all that follows it: a text of nothing but parts would take its length squared.
            if parts.len() > QUANTITY_PARTS.most() {
                return Err(fail(QuantityProblem::Parts));
            }
            // `7'-6"`: the dash joins feet and inches.
            rest = after.trim_start();
            if let Some(after) = rest.strip_prefix('-') {
                rest = after.trim_start();
                if rest.is_empty() {
                    return Err(fail(QuantityProblem::NoNumber));
                }
            }
        }
        let sign = if negative { -1.0 } else { 1.0 };
        match parts.as_slice() {
            [] => Err(fail(QuantityProblem::NoNumber)),
            [(number, "")] => self.of_number(sign * number).map_err(|error| fail(error.problem)),
            [(number, name)] => {
                let conversion = self.find_unit(name).map_err(&fail)?;
                finite(conversion.of(sign * number)).ok_or_else(|| fail(QuantityProblem::NotFinite))
            }
            parts if self.kind().compound => {
                let mut sum = 0.0;
                let mut last_scale = f64::INFINITY;
                for (index, (number, name)) in parts.iter().enumerate() {
                    let behind_feet = self == Self::Length && (last_scale - FT_M).abs() < 1e-12;
                    let scale = match *name {
                        // `5 ft 6`, `5' 6`: what stands last behind feet is inches.
                        "" if behind_feet && index + 1 == parts.len() => IN_M,
                        name => self.find_unit(name).map_err(&fail)?.scale(),
                    };
                    if scale >= last_scale {
                        return Err(fail(QuantityProblem::Parts));
                    }
                    last_scale = scale;
                    sum += number * scale;
                }
                finite(sign * sum).ok_or_else(|| fail(QuantityProblem::NotFinite))
            }
            _ => Err(fail(QuantityProblem::Parts)),
        }
    }

    /// A number given without a unit, as the value in [`Quantity::symbol`].
    ///
    /// It is that value already, but for two kinds where people type another unit and the ranges cannot be mixed up:
    /// a conductor cross-section below 0.001 is taken as m2 (else mm2), an air pressure below 200 as kPa (else Pa).
    ///
    /// # Errors
    /// When the number is not finite.
    pub fn of_number(self, number: f64) -> Result<f64, QuantityError> {
        let Some(number) = finite(number) else {
            let problem = QuantityProblem::NotFinite;
            return Err(QuantityError { text: number.to_string(), wanted: self, problem });
        };
        Ok(match self {
            Self::ConductorArea if number.abs() < 1e-3 => number * 1e6,
            Self::AirPressure if number.abs() < 200.0 => number * 1e3,
            _ => number,
        })
    }

    /// How a unit of this quantity is converted.
    fn find_unit(self, name: &str) -> Result<Conversion, QuantityProblem> {
        if let Some(found) = exact(self, name) {
            return Ok(found);
        }
        let folded = regardless_of_case(self, name);
        match folded.as_slice() {
            [(_, found)] => return Ok(*found),
            [] => {}
            several => {
                let choices = several.iter().map(|(spelling, _)| spelling.clone()).collect();
                return Err(QuantityProblem::AmbiguousUnit { unit: name.to_owned(), choices });
            }
        }
        let others = || Self::ALL.into_iter().filter(|kind| *kind != self);
        if name.eq_ignore_ascii_case("awg") {
            return Err(QuantityProblem::OtherKind { unit: name.to_owned(), found: Self::ConductorArea });
        }
        let other = others()
            .find(|kind| exact(*kind, name).is_some())
            .or_else(|| others().find(|kind| !regardless_of_case(*kind, name).is_empty()));
        if let Some(found) = other {
            return Err(QuantityProblem::OtherKind { unit: name.to_owned(), found });
        }
        let names = self.kind().units.iter().flat_map(all_spellings).collect::<Vec<_>>();
        let suggestion = closest(name, names.iter().map(String::as_str)).map(str::to_owned);
        Err(QuantityProblem::UnknownUnit { unit: name.to_owned(), suggestion })
    }
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

fn exact(kind: Quantity, name: &str) -> Option<Conversion> {
    for unit in kind.kind().units {
        for spelling in unit.names {
            if *spelling == name {
                return Some(unit.conversion);
            }
            if unit.prefixes {
                for (prefix, factor) in PREFIXES {
                    let base = name.strip_prefix(prefix).map(str::trim_start);
                    if base == Some(*spelling) {
                        return Some(unit.conversion.times(factor));
                    }
                }
            }
        }
    }
    None
}

/// Units whose spelling differs from `name` in case alone, each different conversion once.
fn regardless_of_case(kind: Quantity, name: &str) -> Vec<(String, Conversion)> {
    let mut found: Vec<(String, Conversion)> = Vec::new();
    for unit in kind.kind().units {
        for spelling in all_spellings(unit) {
            if spelling.eq_ignore_ascii_case(name)
                && let Some(conversion) = exact(kind, &spelling)
                && found.iter().all(|(_, known)| *known != conversion)
            {
                found.push((spelling, conversion));
            }
        }
    }
    found
}

/// Every spelling of a unit, with SI prefixes where it takes them.
fn all_spellings(unit: &Unit) -> impl Iterator<Item = String> {
    let prefixes = if unit.prefixes { PREFIXES.as_slice() } else { &[] };
    let plain = unit.names.iter().map(|name| (*name).to_owned());
    let prefixed = unit
        .names
        .iter()
        .flat_map(move |name| prefixes.iter().map(move |(prefix, _)| format!("{prefix}{name}")));
    plain.chain(prefixed)
}

/// A number at the start of the text, with a fraction after it if there is one, and what follows.
fn take_number(text: &str) -> Option<(f64, &str)> {
    let (whole, rest) = take_decimal(text)?;
    if let Some((fraction, rest)) = take_fraction(text) {
        return Some((fraction, rest));
    }
    if let Some(after_space) = rest.strip_prefix(' ')
        && let Some((fraction, rest)) = take_fraction(after_space.trim_start())
    {
        return Some((whole + fraction, rest));
    }
    Some((whole, rest))
}

/// `a/b` with whole numbers, e.g. `1/2`.
fn take_fraction(text: &str) -> Option<(f64, &str)> {
    let (above, rest) = take_digits(text)?;
    let (below, rest) = take_digits(rest.strip_prefix('/')?)?;
    Some((above / below, rest))
}

fn take_digits(text: &str) -> Option<(f64, &str)> {
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    let number = text.get(..end)?.parse().ok()?;
    Some((number, text.get(end..)?))
}

/// A decimal number with an optional exponent.
fn take_decimal(text: &str) -> Option<(f64, &str)> {
    let bytes = text.as_bytes();
    let digits_from = |mut at: usize| {
        while bytes.get(at).is_some_and(u8::is_ascii_digit) {
            at += 1;
        }
        at
    };
    let mut end = digits_from(0);
    if bytes.get(end) == Some(&b'.') {
        end = digits_from(end + 1);
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let exponent_end = digits_from(end + 1 + sign);
        if exponent_end > end + 1 + sign {
            end = exponent_end;
        }
    }
    Some((text.get(..end)?.parse().ok()?, text.get(end..)?))
}

/// A unit at the start of the text (which may be empty) and what follows it.
///
/// A digit belongs to the unit when it is a power at its end (`mm2`, `ft3`), else it begins the next part (`6ft2in`).
fn take_unit(text: &str) -> (&str, &str) {
    let text = text.trim_start();
    let letters = text.char_indices().collect::<Vec<_>>();
    let mut end = text.len();
    for (index, (at, letter)) in letters.iter().enumerate() {
        let before = index.checked_sub(1).and_then(|i| letters.get(i)).map(|(_, c)| *c);
        let after = letters.get(index + 1).map(|(_, c)| *c);
        let power = matches!(letter, '2' | '3' | '4')
            && before.is_some_and(|c| c.is_alphabetic() || c == '^')
            && after.is_none_or(|c| !c.is_alphanumeric() && c != '.' && c != '\'' && c != '"');
        // `ohm/1000ft`
        let per = letter.is_ascii_digit() && text.get(..*at).is_some_and(|unit| unit.contains('/'));
        let starts_number = letter.is_ascii_digit() && !power && !per;
        let joins = *letter == '-' || (*letter == '.' && after.is_some_and(|c| c.is_ascii_digit()));
        if starts_number || joins {
            end = *at;
            break;
        }
    }
    let (unit, rest) = text.split_at(end);
    (unit.trim_end(), rest)
}
