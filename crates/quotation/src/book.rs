//! The price book: a person's own prices, margin and tax over those of the catalogue.
//!
//! A CSV file with a header row. Columns `code` and `price` must be there; others are for people and are ignored.
//! Codes are those of the bill of quantities (`loudspeaker/stake-110-wide`, `laying/slit`, `task/joint`), and
//! `labour/hour` (price of an hour), `margin` and `tax` (fractions such as `0.18`, or `18 %`). A price is that of
//! the material of one, before margin. A row `currency` states the book's currency instead of a price (`CHF`), a row `rounding`
//! the smallest amount a total is rounded to. Spreadsheets of countries with a decimal comma write `;` between cells and
//! `12,50`: both are read.

use crate::error::QuotationError;
use indexmap::{IndexMap, IndexSet};
use loamline_model::catalogue::Catalogue;
use loamline_model::document::Laying;
use loamline_model::{Choice as _, closest};
use rust_decimal::Decimal;
use serde::Serialize;
use std::fmt;

/// A person's own prices.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PriceBook {
    prices: IndexMap<String, Decimal>,
    margin: Option<Decimal>,
    tax: Option<Decimal>,
    currency: Option<String>,
    rounding: Option<Decimal>,
}

impl PriceBook {
    /// Reads a price book.
    ///
    /// # Errors
    /// [`QuotationError::PriceBook`] naming every line that is wrong.
    pub fn read(text: &str) -> Result<Self, QuotationError> {
        let text = text.trim_start_matches('\u{feff}');
        let first = text.lines().next().unwrap_or_default();
        let semicolons = first.contains(';') && !first.contains(',');
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(if semicolons { b';' } else { b',' })
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let fail = |problems: Vec<String>| QuotationError::PriceBook { problems };
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
            if code == "currency" {
                match is_currency(price) {
                    true => book.currency = Some(price.to_uppercase()),
                    false => problems.push(format!(
                        "line {line}: currency is {price}; write its three letters, such as EUR"
                    )),
                }
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
                    "rounding" if !percent => book.rounding = Some(value),
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

    /// The book's currency, where it states one: three letters.
    pub fn currency(&self) -> Option<&str> {
        self.currency.as_deref()
    }

    /// Smallest amount a total is rounded to, where it states one.
    pub fn rounding(&self) -> Option<Decimal> {
        self.rounding
    }

    /// Codes that stand for nothing of a catalogue, in the order of the book: likely misspelt, and without effect.
    pub fn unknown(&self, catalogue: &Catalogue) -> Vec<UnknownCode> {
        let known = codes(catalogue);
        let like = |code: &str| closest(code, known.iter().map(String::as_str)).map(str::to_owned);
        let strange = self.prices.keys().filter(|code| !known.contains(*code));
        strange.map(|code| UnknownCode { code: code.clone(), like: like(code) }).collect()
    }
}

/// A code of a price book that stands for nothing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct UnknownCode {
    /// As the book has it.
    pub code: String,
    /// The code that is spelt most like it, if one is near.
    pub like: Option<String>,
}

impl fmt::Display for UnknownCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "The price book has a price for \"{}\", and nothing has that code: it changes no price.",
            self.code
        )?;
        self.like.as_ref().map_or(Ok(()), |like| write!(f, " Did you mean \"{like}\"?"))
    }
}

/// Every code that a bill of a job with this catalogue can have, and the price of an hour.
fn codes(catalogue: &Catalogue) -> IndexSet<String> {
    let of = |kind: &str, ids: &mut dyn Iterator<Item = &str>| {
        ids.map(|id| format!("{kind}/{id}")).collect::<Vec<_>>()
    };
    let tasks = catalogue.prices.iter().flat_map(|p| p.tasks.keys());
    let mut all = vec!["labour/hour".to_owned()];
    all.extend(of("loudspeaker", &mut catalogue.loudspeakers.keys().map(String::as_str)));
    all.extend(of("amplifier", &mut catalogue.amplifiers.keys().map(String::as_str)));
    all.extend(of("cable", &mut catalogue.cables.keys().map(String::as_str)));
    all.extend(of("connector", &mut catalogue.connectors.keys().map(String::as_str)));
    all.extend(of("laying", &mut Laying::ALL.iter().map(|l| l.1)));
    all.extend(of("task", &mut tasks.map(String::as_str)));
    all.into_iter().collect()
}

/// Whether a text can be the code of a currency by ISO 4217: three letters.
fn is_currency(text: &str) -> bool {
    text.len() == 3 && text.bytes().all(|b| b.is_ascii_alphabetic())
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
    use crate::bill::bill;
    use crate::counted::Counted;
    use crate::wording::Wordless;
    use loamline_adapt::laid_runs;
    use loamline_model::{Job, load_job};
    use std::path::Path;

    fn example(name: &str) -> Job {
        load_job(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name)).unwrap()
    }

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
        }
    }

    #[test]
    fn a_code_that_stands_for_nothing_is_named_with_the_one_it_is_like() {
        let job = example("walled-courtyard");
        let text = "code,price\nlabour/hour,90\ntask/jiont,7\nlaying/clipped,3\nwater/well,1\nmargin,0.1\n";
        let told: Vec<String> =
            PriceBook::read(text).unwrap().unknown(job.catalogue()).iter().map(ToString::to_string).collect();
        assert_eq!(told.len(), 2, "{told:?}");
        assert!(told[0].contains("\"task/jiont\"") && told[0].ends_with("Did you mean \"task/joint\"?"));
        assert!(told[1].contains("\"water/well\"") && told[1].ends_with("it changes no price."));
    }

    /// What may stand in a book is what stands in bills: every code of the examples' bills is known.
    #[test]
    fn every_code_of_a_bill_is_known() {
        for name in ["guesthouse-garden", "walled-courtyard", "quayside-hotel"] {
            let job = example(name);
            let counted = Counted::of(&job, &laid_runs(&job)).unwrap();
            let rows = bill(&job, &Wordless, &counted).into_iter().map(|i| format!("{},1\n", i.code));
            let text = format!("code,price\n{}", rows.collect::<String>());
            assert_eq!(PriceBook::read(&text).unwrap().unknown(job.catalogue()), [], "{name}");
        }
    }

    #[test]
    fn a_book_states_its_currency_and_how_cash_is_rounded() {
        let book = PriceBook::read("code;price\ncurrency;chf\nrounding;0,05\ntask/joint;12,5\n").unwrap();
        assert_eq!((book.currency(), book.rounding()), (Some("CHF"), Some("0.05".parse().unwrap())));
        assert_eq!(PriceBook::read("code,price\n").unwrap(), PriceBook::default());
        let error = PriceBook::read("code,price\ncurrency,francs\nrounding,5 %\n").unwrap_err().to_string();
        for line in [
            "line 2: currency is francs; write its three letters",
            "line 3: the price of rounding is a percentage",
        ] {
            assert!(error.contains(line), "{error}");
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
