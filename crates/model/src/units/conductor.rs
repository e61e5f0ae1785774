//! Wire sizes as people type them: American wire gauge or cross-section; 1/0 to 4/0 count as gauges 0 to -3.

use super::error::{QuantityError, QuantityProblem};
use super::kinds::Quantity;
use super::letters::plain_letters;
use loamline_terms::ConductorSize;

/// Reads `14 AWG`, `AWG 14`, `#14`, `14 ga`, `2/0 AWG`, or a cross-section `2.5 mm2`. A bare number is a
/// cross-section in mm2.
///
/// # Errors
/// When the text is neither, the gauge is not a whole number from 4/0 to 40, or the cross-section is not positive.
pub fn read_conductor(text: &str) -> Result<ConductorSize, QuantityError> {
    let plain = plain_letters(text);
    if let Some(digits) = gauge_digits(plain.trim()) {
        return gauge(&digits).map(ConductorSize::Awg).ok_or_else(|| fail(text, QuantityProblem::Gauge));
    }
    let area = Quantity::ConductorArea.parse(text)?;
    if area > 0.0 { Ok(ConductorSize::AreaMm2(area)) } else { Err(fail(text, QuantityProblem::NoNumber)) }
}

/// Reads a gauge, with or without the letters: `14`, `14 AWG`, `#14`, `2/0`.
///
/// # Errors
/// When it is not a whole number from 4/0 to 40.
pub fn read_gauge(text: &str) -> Result<i32, QuantityError> {
    let plain = plain_letters(text);
    let typed = plain.trim();
    let digits = gauge_digits(typed).unwrap_or_else(|| typed.to_owned());
    gauge(&digits).ok_or_else(|| fail(text, QuantityProblem::Gauge))
}

pub(super) fn looks_like_gauge(typed: &str) -> bool {
    gauge_digits(typed).is_some()
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
