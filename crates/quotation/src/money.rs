//! Money: decimal throughout, rounded to the smallest unit of its currency where an amount is printed, so that printed
//! amounts add up.

use crate::error::QuotationError;
use rust_decimal::{Decimal, RoundingStrategy};

/// Currencies without a smaller unit, and those with thousandths; all others have hundredths (ISO 4217, from memory).
const WHOLE: [&str; 16] = [
    "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "VND", "VUV", "XAF", "XOF",
    "XPF",
];
const THOUSANDTHS: [&str; 7] = ["BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"];

/// Decimals of an amount in a currency, by its three-letter code.
pub fn decimals(currency: &str) -> u32 {
    let is = |code: &&str| code.eq_ignore_ascii_case(currency);
    match (WHOLE.iter().any(is), THOUSANDTHS.iter().any(is)) {
        (true, _) => 0,
        (_, true) => 3,
        _ => 2,
    }
}

/// Rounds to so many decimals, halves away from zero, as invoices do.
pub(crate) fn rounded(amount: Decimal, places: u32) -> Decimal {
    let mut rounded = amount.round_dp_with_strategy(places, RoundingStrategy::MidpointAwayFromZero);
    rounded.rescale(places);
    rounded
}

/// Rounds to the nearest multiple of the smallest amount that is paid, halves away from zero; nothing is rounded where it is
/// zero.
pub fn to_coins(amount: Decimal, smallest: Decimal) -> Decimal {
    match amount.checked_div(smallest) {
        Some(coins) => rounded(coins, 0).checked_mul(smallest).unwrap_or(amount),
        None => amount,
    }
}

/// A measured quantity as a decimal with this many places, halves away from zero. Zero for what is no number.
pub(crate) fn measured(value: f64, places: u32) -> Decimal {
    // The shortest text that reads back as the same number: 0.1 is one tenth, not its binary neighbour.
    let text = format!("{value}");
    let exact = text.parse::<Decimal>().or_else(|_| Decimal::from_scientific(&format!("{value:e}")));
    rounded(exact.unwrap_or_default(), places)
}

/// Product of a quantity and a price, to so many decimals.
///
/// # Errors
/// [`QuotationError::Amount`] when it does not fit into a decimal.
pub(crate) fn times(
    quantity: Decimal,
    price: Decimal,
    places: u32,
    what: &str,
) -> Result<Decimal, QuotationError> {
    let product = quantity.checked_mul(price).map(|product| rounded(product, places));
    product.ok_or_else(|| QuotationError::Amount { what: what.to_owned() })
}

/// Sum of amounts.
///
/// # Errors
/// [`QuotationError::Amount`] when it does not fit into a decimal.
pub(crate) fn sum(amounts: impl IntoIterator<Item = Decimal>, what: &str) -> Result<Decimal, QuotationError> {
    amounts.into_iter().try_fold(Decimal::ZERO, |total, amount| {
        total.checked_add(amount).ok_or_else(|| QuotationError::Amount { what: what.to_owned() })
    })
}

/// An amount as people read it: thousands in groups, so many decimals.
pub fn grouped(amount: Decimal, places: u32, thousands: &str, point: &str) -> String {
    let text = rounded(amount, places).to_string();
    let (sign, digits) = text.strip_prefix('-').map_or(("", text.as_str()), |rest| ("-", rest));
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let mut out = String::new();
    for (i, digit) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i).is_multiple_of(3) {
            out.push_str(thousands);
        }
        out.push(digit);
    }
    if part.is_empty() { format!("{sign}{out}") } else { format!("{sign}{out}{point}{part}") }
}

/// An amount as it stands in sentences and tables, written as on the papers: `EUR 8 979.50`.
pub fn amount(currency: &str, value: f64) -> String {
    to_places(currency, value, decimals(currency))
}

/// An estimate, in whole units: `EUR 8 980`.
pub fn estimate(currency: &str, value: f64) -> String {
    to_places(currency, value, 0)
}

fn to_places(currency: &str, value: f64, places: u32) -> String {
    format!("{currency} {}", grouped(measured(value, places), places, " ", "."))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn halves_round_away_from_zero() {
        assert_eq!(rounded("1.005".parse().unwrap(), 2).to_string(), "1.01");
        assert_eq!(rounded("-1.005".parse().unwrap(), 2).to_string(), "-1.01");
        assert_eq!(rounded("1234.5".parse().unwrap(), 0).to_string(), "1235");
        assert_eq!(measured(0.1, 3).to_string(), "0.100");
        assert_eq!(measured(f64::NAN, 1).to_string(), "0.0");
        assert_eq!(grouped("1234567.5".parse().unwrap(), 2, " ", "."), "1 234 567.50");
        assert_eq!(grouped("-12.5".parse().unwrap(), 2, ",", "."), "-12.50");
        assert_eq!(grouped("-1234.5".parse().unwrap(), 0, " ", "."), "-1 235");
        assert_eq!(grouped("1234.5".parse().unwrap(), 3, " ", "."), "1 234.500");
        assert_eq!(amount("USD", 8979.5), "USD 8 979.50");
        assert_eq!(
            (amount("JPY", 1234.0), estimate("EUR", 8979.5)),
            ("JPY 1 234".into(), "EUR 8 980".into())
        );
    }

    /// Rounding in cash where the smallest coin is 5 hundredths: ends of 1 and 2 go down to 0, 3 and 4 up to 5, 6 and 7 down
    /// to 5, 8 and 9 up to 10 (the rule as shops post it, from memory); where it is one whole, halves go up.
    #[test]
    fn cash_is_rounded_to_the_smallest_coin() {
        let five = "0.05".parse().unwrap();
        let ends = [(0, 0), (1, 0), (2, 0), (3, 5), (4, 5), (5, 5), (6, 5), (7, 5), (8, 10), (9, 10)];
        for (end, paid) in ends {
            let (amount, paid) = (Decimal::new(897_990 + end, 2), Decimal::new(897_990 + paid, 2));
            assert_eq!(to_coins(amount, five), paid, "{amount}");
        }
        assert_eq!(to_coins("8979.50".parse().unwrap(), Decimal::ONE), Decimal::from(8980));
        assert_eq!(to_coins("8979.98".parse().unwrap(), Decimal::ZERO), "8979.98".parse().unwrap());
    }

    /// ISO 4217, from memory: the euro has hundredths, the yen nothing smaller, the Kuwaiti dinar 1000 fils.
    #[test]
    fn a_currency_has_the_decimals_of_its_smallest_unit() {
        assert_eq!(["EUR", "USD", "JPY", "jpy", "KWD", ""].map(decimals), [2, 2, 0, 0, 3, 2]);
    }

    proptest! {
        /// Against whole-number arithmetic in hundredths of a cent.
        #[test]
        fn products_match_whole_number_arithmetic(quantity in 0i64..10_000_000, price in 0i64..10_000_000) {
            let product = times(Decimal::new(quantity, 2), Decimal::new(price, 2), 2, "x").unwrap();
            let hundredths = i128::from(quantity) * i128::from(price);
            let cents = (hundredths + 50) / 100;
            prop_assert_eq!(product, Decimal::from_i128_with_scale(cents, 2));
        }
    }
}
