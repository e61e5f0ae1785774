//! Numbers as they are shown: one way of rounding for screens, tables and papers.

use std::borrow::Borrow;

/// A number with so many decimals, a half rounded away from zero: 12.5 is 13 as a whole number, as a browser writes it. Rust's
/// own way rounds halves to the even neighbour, 12; no other number differs.
#[must_use]
pub fn fixed(value: impl Borrow<f64>, decimals: usize) -> String {
    let value = *Borrow::<f64>::borrow(&value);
    // A half of the last decimal is an odd number of 2^-(decimals + 1), which doubling never rounds.
    let halves = value * 2.0_f64.powi(i32::try_from(decimals).unwrap_or(i32::MAX).saturating_add(1));
    let is_half = halves.is_finite() && halves % 2.0 != 0.0 && halves.fract() == 0.0;
    let shown = if is_half { value * (1.0 + f64::EPSILON) } else { value };
    format!("{shown:.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Halves that a binary number is exactly, by hand; 0.35 and 1.005 are none: both lie below.
    #[test]
    fn halves_are_rounded_away_from_zero() {
        let shown: [(f64, usize, &str); 12] = [
            (12.5, 0, "13"),
            (0.5, 0, "1"),
            (-12.5, 0, "-13"),
            (2.25, 1, "2.3"),
            (0.125, 2, "0.13"),
            (62.5, 0, "63"),
            (1.005, 2, "1.00"),
            (0.35, 1, "0.3"),
            (13.0, 0, "13"),
            (12.49, 0, "12"),
            (0.0, 1, "0.0"),
            (100.0 * 0.125, 0, "13"),
        ];
        for (value, decimals, text) in shown {
            assert_eq!(fixed(value, decimals), text, "{value} with {decimals}");
        }
        let borrowed: &f64 = &12.5;
        assert_eq!(fixed(borrowed, 0), "13", "of what is borrowed as well");
        assert_eq!((fixed(f64::INFINITY, 1), fixed(1e300, 0).len()), ("inf".to_owned(), 301));
    }
}
