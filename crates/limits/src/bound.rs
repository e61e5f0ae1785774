//! A bound, and what is said when it is passed.

use std::fmt;

/// What a bound counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Things.
    Count,
    /// Bytes; shown in kB and MB of 1000 and 1 000 000.
    Bytes,
    /// Seconds.
    Seconds,
    /// Bytes a second; shown as bytes are.
    BytesPerSecond,
    /// Square centimetres; shown in square metres.
    SquareCentimetres,
}

impl Unit {
    /// A number of this unit as a person reads it: `20 000`, `4 MB`, `16.3 MB`.
    pub fn show(self, value: u64) -> String {
        match self {
            Self::Count => grouped(value),
            Self::Seconds => format!("{} s", grouped(value)),
            Self::BytesPerSecond => format!("{}/s", Self::Bytes.show(value)),
            Self::SquareCentimetres => format!("{} m2", value as f64 / 1e4),
            Self::Bytes if value < 1000 => format!("{value} bytes"),
            Self::Bytes if value < 1_000_000 => with_unit(value as f64 / 1e3, "kB"),
            Self::Bytes => with_unit(value as f64 / 1e6, "MB"),
        }
    }
}

fn with_unit(value: f64, unit: &str) -> String {
    // A value just above a bound is not to read like the bound.
    let tenths = (value * 10.0).ceil() / 10.0;
    if tenths.fract() == 0.0 {
        format!("{} {unit}", grouped(tenths as u64))
    } else {
        format!("{}.{} {unit}", grouped(tenths as u64), (tenths * 10.0).round() as u64 % 10)
    }
}

/// Digits in groups of three from ten thousand on.
fn grouped(value: u64) -> String {
    let digits = value.to_string();
    if digits.len() < 5 {
        return digits;
    }
    let head = digits.len() % 3;
    let mut text = digits[..head].to_owned();
    for group in digits.as_bytes()[head..].chunks(3) {
        if !text.is_empty() {
            text.push(' ');
        }
        text.extend(group.iter().map(|b| char::from(*b)));
    }
    text
}

/// On which side of a bound something has to stay.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// There may be so much and no more.
    Most,
    /// There has to be so much or more.
    Least,
}

/// The most there may be of something, or the least there has to be.
#[derive(Debug, PartialEq, Eq)]
pub struct Bound {
    /// What is bounded.
    pub of: &'static str,
    /// From which side.
    pub side: Side,
    /// The most there may be, or the least.
    pub number: u64,
    /// What is counted.
    pub unit: Unit,
    /// Why there is a bound and what the number trades.
    pub reason: &'static str,
    /// What is said when it is passed: `{found}` and `{most}`, or `{least}`, stand for the numbers with their units, `{which}`
    /// for the name of what passes it.
    pub sentence: &'static str,
}

impl Bound {
    /// The number, as a length.
    pub const fn most(&self) -> usize {
        // Every bound of the table fits: a test reads them all.
        self.number as usize
    }

    /// The number as a person reads it.
    pub fn shown(&self) -> String {
        self.unit.show(self.number)
    }

    /// The number as it stands in a column headed "at most".
    pub fn cell(&self) -> String {
        match self.side {
            Side::Most => self.shown(),
            Side::Least => format!("at least {}", self.shown()),
        }
    }

    /// The sentence with the bound's own number in it; what is found and what it is found of are left open.
    pub fn said(&self) -> String {
        let place = match self.side {
            Side::Most => "{most}",
            Side::Least => "{least}",
        };
        self.sentence.replace(place, &self.shown())
    }

    /// What is said of something with this name.
    pub fn told(&self, which: &str) -> String {
        self.said().replace("{which}", which)
    }

    /// Holds a number against the bound.
    ///
    /// # Errors
    /// [`Exceeded`] when it is passed.
    pub fn check(&'static self, found: usize) -> Result<(), Exceeded> {
        self.check_u64(u64::try_from(found).unwrap_or(u64::MAX))
    }

    /// The same for numbers that may not fit in memory.
    ///
    /// # Errors
    /// [`Exceeded`] when it is passed.
    pub const fn check_u64(&'static self, found: u64) -> Result<(), Exceeded> {
        let passed = match self.side {
            Side::Most => found > self.number,
            Side::Least => found < self.number,
        };
        if passed { Err(Exceeded { bound: self, found }) } else { Ok(()) }
    }

    /// The same for an estimate; one that is no number passes every bound.
    ///
    /// # Errors
    /// [`Exceeded`] when it is passed.
    pub fn check_estimate(&'static self, found: f64) -> Result<(), Exceeded> {
        // Saturates: far beyond every bound.
        let found = match self.side {
            Side::Most if !found.is_finite() => u64::MAX,
            Side::Most => found.max(0.0).ceil() as u64,
            Side::Least if found.is_nan() => 0,
            Side::Least => found.max(0.0).floor() as u64,
        };
        self.check_u64(found)
    }
}

/// A bound that is passed. Displays as a sentence with both numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub struct Exceeded {
    /// The bound.
    pub bound: &'static Bound,
    /// What there is.
    pub found: u64,
}

impl fmt::Display for Exceeded {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.bound.said().replace("{found}", &self.bound.unit.show(self.found)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::{AREA_CM2, EDIT_OPERATIONS, JOB_FILE_BYTES};
    use proptest::prelude::*;

    #[test]
    fn numbers_read_as_people_write_them() {
        for (unit, value, shown) in [
            (Unit::Count, 0, "0"),
            (Unit::Count, 4096, "4096"),
            (Unit::Count, 20_000, "20 000"),
            (Unit::Count, 1_234_567, "1 234 567"),
            (Unit::Bytes, 12, "12 bytes"),
            (Unit::Bytes, 4_000_000, "4 MB"),
            (Unit::Bytes, 4_000_001, "4.1 MB"),
            (Unit::Bytes, 47_300, "47.3 kB"),
            (Unit::Bytes, 24_000_000_000, "24 000 MB"),
            (Unit::Seconds, 600, "600 s"),
            (Unit::BytesPerSecond, 2000, "2 kB/s"),
            (Unit::BytesPerSecond, 999, "999 bytes/s"),
            (Unit::SquareCentimetres, 100, "0.01 m2"),
            (Unit::SquareCentimetres, 25_000, "2.5 m2"),
        ] {
            assert_eq!(unit.show(value), shown);
        }
    }

    #[test]
    fn the_sentence_holds_both_numbers() {
        let e = EDIT_OPERATIONS.check(5000).unwrap_err();
        assert!(e.to_string().contains("5000") && e.to_string().contains("4096"), "{e}");
        assert_eq!(EDIT_OPERATIONS.check(4096), Ok(()));
        assert!(JOB_FILE_BYTES.check_estimate(f64::NAN).is_err());
    }

    #[test]
    fn a_bound_from_below_is_passed_by_less() {
        assert_eq!((AREA_CM2.check(100), AREA_CM2.check_estimate(1e30)), (Ok(()), Ok(())));
        for less in [99.999, 0.0, -3.0, f64::NAN] {
            assert!(AREA_CM2.check_estimate(less).is_err(), "{less}");
        }
        let told = AREA_CM2.told("A1");
        assert!(told.contains("area A1") && told.contains("less than 0.01 m2"), "{told}");
    }

    proptest! {
        /// A refusal never shows twice the same number, which nobody could follow.
        #[test]
        fn what_is_found_reads_more_than_the_most(more in 1u64..1_000_000_000_000) {
            for bound in crate::table::rows().filter(|b| b.side == Side::Most) {
                let e = bound.check_u64(bound.number + more).unwrap_err();
                prop_assert_ne!(bound.unit.show(e.found), bound.shown());
                let told = e.to_string();
                prop_assert!(!told.contains("{"), "a place was left unfilled: {}", told);
            }
        }
    }
}
