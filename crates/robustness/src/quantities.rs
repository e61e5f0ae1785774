//! Quantities and wire sizes as people type them.
//!
//! The first byte chooses the kind, the second the units it is printed in; the rest is the text.

use loamline_model::{Quantity, Units, closest, read_conductor, read_gauge};

/// Largest size of a value that is printed and read again: a value near the largest there is may be rounded beyond it.
const LARGEST: f64 = 1e300;

pub fn quantities(bytes: &[u8]) {
    let [kind, units, text @ ..] = bytes else { return };
    let text = String::from_utf8_lossy(text);
    let units = if units % 2 == 0 { Units::Metric } else { Units::Us };
    let choices = Quantity::ALL.len() + 3;
    match usize::from(*kind) % choices {
        n if n < Quantity::ALL.len() => quantity(Quantity::ALL[n], units, &text),
        n if n == choices - 3 => match read_conductor(&text) {
            Ok(size) => {
                let area_mm2 = size.area_mm2();
                assert!(
                    area_mm2.is_finite() && area_mm2 > 0.0,
                    "{text:?} is a cross-section of {area_mm2} mm2"
                );
            }
            Err(error) => drop(error.to_string()),
        },
        n if n == choices - 2 => match read_gauge(&text) {
            Ok(gauge) => {
                assert!((-3..=40).contains(&gauge), "{text:?} is gauge {gauge}");
                // 2/0 to 4/0 count below nothing.
                let written = if gauge < 0 { format!("{}/0", 1 - gauge) } else { gauge.to_string() };
                assert_eq!(read_gauge(&format!("{written} AWG")).ok(), Some(gauge), "{text:?}");
            }
            Err(error) => drop(error.to_string()),
        },
        _ => {
            // Whatever is suggested is one of those there are.
            let known = ["loudspeakers", "lines", "joints", "neighbours", "surfaces"];
            assert!(closest(&text, known).is_none_or(|word| known.contains(&word)));
        }
    }
}

fn quantity(kind: Quantity, units: Units, text: &str) {
    let value = match kind.parse(text) {
        Ok(value) => value,
        Err(error) => return drop(error.to_string()),
    };
    assert!(value.is_finite(), "{text:?} as {kind:?} is {value}");
    // A number without a unit is read as one from a file is.
    if let Ok(number) = text.trim().parse::<f64>()
        && let Ok(direct) = kind.of_number(number)
    {
        assert!(same(direct, value), "{text:?} as {kind:?}: {value} as text and {direct} as a number");
    }
    if value.abs() > LARGEST {
        return;
    }
    let printed = units.show(kind, value);
    let back = kind.parse(&printed);
    let back = back.unwrap_or_else(|error| panicked(kind, text, &printed, &error.to_string()));
    let off = (back - value).abs();
    assert!(
        off <= rounding(kind) + 6e-3 * value.abs(),
        "{text:?} as {kind:?} is {value}, printed \"{printed}\", which reads as {back}"
    );
}

fn panicked(kind: Quantity, text: &str, printed: &str, error: &str) -> f64 {
    assert!(error.is_empty(), "{text:?} as {kind:?} is printed \"{printed}\", which cannot be read: {error}");
    f64::NAN
}

fn same(a: f64, b: f64) -> bool {
    a == b || (a - b).abs() <= 1e-12 * a.abs().max(b.abs())
}

/// Half of the coarsest last digit printed of a kind, in its unit.
fn rounding(kind: Quantity) -> f64 {
    match kind {
        Quantity::Length => 0.0064,
        Quantity::Area => 0.1,
        Quantity::Volume => 0.02,
        Quantity::Duration => 30.0,
        Quantity::Fraction => 0.0006,
        // The smallest prefix is pico, the smallest number printed without an exponent a hundred-thousandth of it.
        _ => 0.06,
    }
}
