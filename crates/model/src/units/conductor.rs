//! Wire sizes: American wire gauge or cross-section.
//!
//! Diameter of gauge n is 0.127 mm * 92^((36 - n)/39) (ASTM B258); 1/0 to 4/0 count as gauges 0 to -3.

use super::error::{QuantityError, QuantityProblem};
use super::kinds::Quantity;
use super::letters::plain_letters;
use std::fmt;

/// The size of one conductor, as it is sold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ConductorSize {
    /// American wire gauge, -3 (4/0, thick) to 40 (thin).
    Awg(i32),
    /// Nominal cross-section, mm2, positive.
    AreaMm2(f64),
}

impl ConductorSize {
    /// Reads `14 AWG`, `AWG 14`, `#14`, `14 ga`, `2/0 AWG`, or a cross-section `2.5 mm2`. A bare number is a
    /// cross-section in mm2.
    ///
    /// # Errors
    /// When the text is neither, the gauge is not a whole number from 4/0 to 40, or the cross-section is not positive.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        let plain = plain_letters(text);
        if let Some(digits) = gauge_digits(plain.trim()) {
            return gauge(&digits).map(Self::Awg).ok_or_else(|| fail(text, QuantityProblem::Gauge));
        }
        let area = Quantity::ConductorArea.parse(text)?;
        if area > 0.0 { Ok(Self::AreaMm2(area)) } else { Err(fail(text, QuantityProblem::NoNumber)) }
    }

    /// Reads a gauge, with or without the letters: `14`, `14 AWG`, `#14`, `2/0`.
    ///
    /// # Errors
    /// When it is not a whole number from 4/0 to 40.
    pub fn parse_gauge(text: &str) -> Result<i32, QuantityError> {
        let plain = plain_letters(text);
        let typed = plain.trim();
        let digits = gauge_digits(typed).unwrap_or_else(|| typed.to_owned());
        gauge(&digits).ok_or_else(|| fail(text, QuantityProblem::Gauge))
    }

    /// Cross-section of the solid conductor, mm2 (ASTM B258 for gauges).
    pub fn area_mm2(self) -> f64 {
        match self {
            Self::Awg(gauge) => {
                let diameter_mm = 0.127 * 92f64.powf(f64::from(36 - gauge) / 39.0);
                std::f64::consts::FRAC_PI_4 * diameter_mm * diameter_mm
            }
            Self::AreaMm2(area) => area,
        }
    }

    pub(super) fn looks_like_gauge(typed: &str) -> bool {
        gauge_digits(typed).is_some()
    }
}

impl fmt::Display for ConductorSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Awg(gauge) if *gauge <= 0 => write!(f, "{}/0 AWG", 1 - gauge),
            Self::Awg(gauge) => write!(f, "{gauge} AWG"),
            Self::AreaMm2(area) => write!(f, "{area} mm2"),
        }
    }
}

fn fail(text: &str, problem: QuantityProblem) -> QuantityError {
    QuantityError { text: text.trim().to_owned(), wanted: Quantity::ConductorArea, problem }
}

/// What stands beside `AWG`, `ga`, `gauge` or `#`, if one of them is there.
fn gauge_digits(typed: &str) -> Option<String> {
    let lower = typed.to_ascii_lowercase();
    let number = ["awg", "gauge", "ga"]
        .iter()
        .find_map(|word| lower.strip_suffix(word).or_else(|| lower.strip_prefix(word)))
        .or_else(|| lower.strip_prefix('#'))?;
    Some(number.trim_matches([' ', '#', '-']).to_owned())
}

fn gauge(digits: &str) -> Option<i32> {
    let gauge = match digits.split_once('/') {
        Some((above, "0")) => 1 - above.trim().parse::<i32>().ok().filter(|n| (1..=4).contains(n))?,
        Some(_) => return None,
        None => {
            let number = digits.parse::<f64>().ok()?;
            if number.fract() != 0.0 || !(0.0..=40.0).contains(&number) {
                return None;
            }
            number as i32
        }
    };
    Some(gauge)
}
