//! The price book: a person's own prices, margin and tax over those of the catalogue.
//!
//! A CSV file with a header row. Columns `code` and `price` must be there; others are for people and are ignored.
//! Codes are those of the bill of quantities (`loudspeaker/stake-110-wide`, `laying/slit`, `task/joint`), and
//! `labour/hour` (price of an hour), `margin` and `tax` (fractions such as `0.18`, or `18 %`). A price is that of
//! the material of one, before margin. Spreadsheets of countries with a decimal comma write `;` between cells and
//! `12,50`: both are read.

use crate::error::PapersError;
use indexmap::IndexMap;
use rust_decimal::Decimal;

/// A person's own prices.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PriceBook {
    prices: IndexMap<String, Decimal>,
    margin: Option<Decimal>,
    tax: Option<Decimal>,
}

impl PriceBook {
    /// Reads a price book.
    ///
    /// # Errors
    /// [`PapersError::PriceBook`] naming every line that is wrong.
    pub fn read(text: &str) -> Result<Self, PapersError> {
        let text = text.trim_start_matches('\u{feff}');
        let first = text.lines().next().unwrap_or_default();
        let semicolons = first.contains(';') && !first.contains(',');
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(if semicolons { b';' } else { b',' })
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let fail = |problems: Vec<String>| PapersError::PriceBook { problems };
        let header = reader.headers().map_err(|e| fail(vec![format!("line 1: {e}")]))?.clone();
        let column = |name: &str| header.iter().position(|h| h.eq_ignore_ascii_case(name));
        let (Some(code_at), Some(price_at)) = (column("code"), column("price")) else {
            let there = header.iter().collect::<Vec<_>>().join(", ");
            return Err(fail(vec![format!(
                "line 1: the header must have the columns code and price; it has: {there}"
            )]));
        };
        let (mut book, mut problems) = (Self::default(), Vec::new());
        for (i, row) in reader.records().enumerate() {
            let row = match row {
                Ok(row) => row,
                Err(e) => {
                    problems.push(format!("line {}: {e}", i + 2));
                    continue;
                }
            };
            let line = row.position().map_or(i as u64 + 2, csv::Position::line);
            let (code, price) = (row.get(code_at).unwrap_or(""), row.get(price_at).unwrap_or(""));
            if code.is_empty() && price.is_empty() {
                continue;
            }
            match amount(price, semicolons) {
                _ if code.is_empty() => problems.push(format!("line {line}: the price {price} has no code")),
                None => problems.push(format!("line {line}: the price of {code} is not a number: {price}")),
                Some((value, _)) if value.is_sign_negative() && !value.is_zero() => {
                    problems.push(format!("line {line}: the price of {code} is below zero: {price}"));
                }
                Some((value, percent)) => match code {
                    "margin" | "tax" if value > Decimal::from(5) => problems.push(format!(
                        "line {line}: {code} is {price}; write a fraction such as 0.18, or a percentage such as 18 %"
                    )),
                    "margin" => book.margin = Some(value),
                    "tax" => book.tax = Some(value),
                    _ if percent => {
                        problems.push(format!("line {line}: the price of {code} is a percentage: {price}"));
                    }
                    _ => {
                        if book.prices.insert(code.to_owned(), value).is_some() {
                            problems.push(format!("line {line}: {code} stands in the book twice"));
                        }
                    }
                },
            }
        }
        if problems.is_empty() { Ok(book) } else { Err(fail(problems)) }
    }

    /// Own price of the material of one, before margin.
    pub fn price(&self, code: &str) -> Option<Decimal> {
        self.prices.get(code).copied()
    }

    /// Own margin on material, as a fraction.
    pub fn margin(&self) -> Option<Decimal> {
        self.margin
    }

    /// Own tax, as a fraction.
    pub fn tax(&self) -> Option<Decimal> {
        self.tax
    }

    /// Codes that none of the given codes matches, in the order of the book: likely misspelt.
    pub fn unused<'b>(&'b self, used: &[&str]) -> Vec<&'b str> {
        self.prices.keys().map(String::as_str).filter(|code| !used.contains(code)).collect()
    }
}

/// A number, and whether it was written as a percentage.
fn amount(text: &str, decimal_comma: bool) -> Option<(Decimal, bool)> {
    let (text, percent) = match text.strip_suffix('%') {
        Some(rest) => (rest.trim_end(), true),
        None => (text, false),
    };
    let text = if decimal_comma { text.replace('.', "").replace(',', ".") } else { text.replace(',', "") };
    let value: Decimal = text.parse().ok()?;
    Some((if percent { value / Decimal::ONE_HUNDRED } else { value }, percent))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_kinds_of_spreadsheet_are_read() {
        let plain = PriceBook::read("\u{feff}code,description,price\r\ntask/joint,\"Joint, made\",\"1,200.50\"\r\nmargin,,18 %\r\ntax,,0.2\r\n").unwrap();
        let comma =
            PriceBook::read("code;description;price\ntask/joint;Joint;1.200,50\nmargin;;0,18\ntax;;20 %\n")
                .unwrap();
        for book in [plain, comma] {
            assert_eq!(book.price("task/joint"), Some("1200.50".parse().unwrap()));
            assert_eq!(book.margin(), Some("0.18".parse().unwrap()));
            assert_eq!(book.tax(), Some("0.2".parse().unwrap()));
            assert_eq!(book.unused(&["task/stake"]), ["task/joint"]);
        }
    }

    #[test]
    fn every_wrong_line_is_named() {
        let text = "code,price\ntask/joint,ten\ntask/stake,-4\nmargin,18\n,7\ncable/x,5 %\ntask/visit,1\ntask/visit,2\n";
        let error = PriceBook::read(text).unwrap_err().to_string();
        for line in [
            "line 2: the price of task/joint is not a number: ten",
            "line 3: the price of task/stake is below zero: -4",
            "line 4: margin is 18; write a fraction",
            "line 5: the price 7 has no code",
            "line 6: the price of cable/x is a percentage: 5 %",
            "line 8: task/visit stands in the book twice",
        ] {
            assert!(error.contains(line), "{error}");
        }
        let error = PriceBook::read("item,cost\na,1\n").unwrap_err().to_string();
        assert!(
            error.contains("the header must have the columns code and price; it has: item, cost"),
            "{error}"
        );
    }
}
