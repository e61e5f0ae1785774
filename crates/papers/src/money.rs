//! Money: decimal throughout, rounded to the cent where an amount is printed, so that printed amounts add up.

use crate::error::PapersError;
use rust_decimal::{Decimal, RoundingStrategy};

/// Rounds to the cent, halves away from zero, as invoices do.
pub fn cents(amount: Decimal) -> Decimal {
    let mut rounded = amount.round_dp_with_strategy(2, RoundingStrategy::MidpointAwayFromZero);
    rounded.rescale(2);
    rounded
}

/// A measured quantity as a decimal with this many places, halves away from zero. Zero for what is no number.
pub fn measured(value: f64, places: u32) -> Decimal {
    // The shortest text that reads back as the same number: 0.1 is one tenth, not its binary neighbour.
    let text = format!("{value}");
    let exact = text.parse::<Decimal>().or_else(|_| Decimal::from_scientific(&format!("{value:e}")));
    let mut rounded =
        exact.unwrap_or_default().round_dp_with_strategy(places, RoundingStrategy::MidpointAwayFromZero);
    rounded.rescale(places);
    rounded
}

/// Product of a quantity and a price, to the cent.
///
/// # Errors
/// [`PapersError::Amount`] when it does not fit into a decimal.
pub fn times(quantity: Decimal, price: Decimal, what: &str) -> Result<Decimal, PapersError> {
    quantity.checked_mul(price).map(cents).ok_or_else(|| PapersError::Amount { what: what.to_owned() })
}

/// Sum of amounts.
///
/// # Errors
/// [`PapersError::Amount`] when it does not fit into a decimal.
pub fn sum(amounts: impl IntoIterator<Item = Decimal>, what: &str) -> Result<Decimal, PapersError> {
    amounts.into_iter().try_fold(Decimal::ZERO, |total, amount| {
        total.checked_add(amount).ok_or_else(|| PapersError::Amount { what: what.to_owned() })
    })
}

/// An amount as people read it: thousands in groups, two decimals.
pub fn grouped(amount: Decimal, thousands: &str, point: &str) -> String {
    let text = cents(amount).to_string();
    let (sign, digits) = text.strip_prefix('-').map_or(("", text.as_str()), |rest| ("-", rest));
    let (whole, part) = digits.split_once('.').unwrap_or((digits, "00"));
    let mut out = String::new();
    for (i, digit) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i).is_multiple_of(3) {
            out.push_str(thousands);
        }
        out.push(digit);
    }
    format!("{sign}{out}{point}{part}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn halves_round_away_from_zero() {
        assert_eq!(cents("1.005".parse().unwrap()).to_string(), "1.01");
        assert_eq!(cents("-1.005".parse().unwrap()).to_string(), "-1.01");
        assert_eq!(measured(0.1, 3).to_string(), "0.100");
        assert_eq!(measured(f64::NAN, 1).to_string(), "0.0");
        assert_eq!(grouped("1234567.5".parse().unwrap(), " ", "."), "1 234 567.50");
        assert_eq!(grouped("-12.5".parse().unwrap(), ",", "."), "-12.50");
    }

    proptest! {
        /// Against whole-number arithmetic in hundredths of a cent.
        #[test]
        fn products_match_whole_number_arithmetic(quantity in 0i64..10_000_000, price in 0i64..10_000_000) {
            let product = times(Decimal::new(quantity, 2), Decimal::new(price, 2), "x").unwrap();
            let hundredths = i128::from(quantity) * i128::from(price);
            let cents = (hundredths + 50) / 100;
            prop_assert_eq!(product, Decimal::from_i128_with_scale(cents, 2));
        }
    }
}
