//! Physical quantities that must not be taken for one another.
//!
//! A type each, holding the number in the SI unit of its name. Like adds to like; a number without a unit only scales; like
//! over like is a plain number.
//!
//! ```
//! use loamline_terms::{Fraction, Pascals, Watts};
//! let taps = Watts(15.0) + Watts(7.5) * 2.0;
//! assert_eq!(taps, Watts(30.0));
//! assert_eq!(taps / Watts(60.0), 0.5);
//! assert_eq!(Fraction::from_per_cent(70.0), Fraction(0.7));
//! assert_eq!(Pascals(101_325.0).kilopascals(), 101.325);
//! ```
//!
//! Watts are not siemens:
//!
//! ```compile_fail,E0308
//! use loamline_terms::{Siemens, Watts};
//! let load = Watts(15.0) + Siemens(0.125);
//! ```
//!
//! Nor is a fraction a pressure, or a plain number either:
//!
//! ```compile_fail,E0308
//! use loamline_terms::{Fraction, Pascals};
//! fn air(humidity: Fraction, pressure: Pascals) {}
//! air(Pascals(101_325.0), Fraction(0.7));
//! ```
//!
//! ```compile_fail,E0308
//! use loamline_terms::Pascals;
//! let pressure: Pascals = 101.325;
//! ```

use serde::{Deserialize, Serialize};
use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Sub};

macro_rules! quantity {
    ($(#[doc = $doc:literal])+ $name:ident, $unit:literal) => {
        $(#[doc = $doc])+
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                self.0 += other.0;
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }

        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
                Self(all.map(|x| x.0).sum())
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(&self.0, f)?;
                f.write_str($unit)
            }
        }
    };
}

quantity! {
    /// Power, watts.
    Watts, " W"
}
quantity! {
    /// Conductance, siemens: one over ohms.
    Siemens, " S"
}
quantity! {
    /// Pressure, pascals.
    Pascals, " Pa"
}
quantity! {
    /// A share of a whole: 1 is all of it.
    Fraction, ""
}

impl Siemens {
    /// Conductance of a resistance, ohm.
    pub fn of_ohms(ohm: f64) -> Self {
        Self(1.0 / ohm)
    }

    /// The resistance it is one over, ohm.
    pub fn ohms(self) -> f64 {
        1.0 / self.0
    }
}

impl Pascals {
    /// From kilopascals, as people and formulas of air write it.
    pub fn from_kilopascals(kilopascals: f64) -> Self {
        Self(1000.0 * kilopascals)
    }

    /// In kilopascals.
    pub fn kilopascals(self) -> f64 {
        self.0 / 1000.0
    }
}

impl Fraction {
    /// From per cent.
    pub fn from_per_cent(per_cent: f64) -> Self {
        Self(per_cent / 100.0)
    }

    /// In per cent.
    pub fn per_cent(self) -> f64 {
        100.0 * self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn like_adds_to_like() {
        assert_eq!([Watts(1.0), Watts(2.5)].into_iter().sum::<Watts>(), Watts(3.5));
        assert_eq!(Siemens::of_ohms(8.0) + Siemens::of_ohms(8.0), Siemens::of_ohms(4.0));
        assert_eq!(Siemens(0.25).ohms(), 4.0);
        assert_eq!(Pascals::from_kilopascals(101.325).kilopascals(), 101.325);
        assert_eq!(Fraction(0.7).per_cent(), 70.0);
        assert!(Watts(2.0) - Watts(1.0) < Watts(1.5));
    }

    #[test]
    fn they_are_written_with_their_units_and_kept_as_numbers() {
        assert_eq!(format!("{:.1}, {}", Watts(7.31), Siemens(0.5)), "7.3 W, 0.5 S");
        assert_eq!(serde_json::to_value(Watts(7.5)).unwrap(), 7.5);
        assert_eq!(serde_json::from_value::<Siemens>(0.125.into()).unwrap(), Siemens(0.125));
    }
}
