//! The price book: a person's own prices, margin and tax over those of the catalogue.
//!
//! A CSV file with a header row. Columns `code` and `price` must be there; `unit` may be, and says of cable and laying whether a price
//! is by the metre (`m`) or by the foot (`ft`), by the metre where it says nothing. Others are for people and are ignored.
//! Codes are those of the bill of quantities (`loudspeaker/stake-110-wide`, `laying/slit`, `task/joint`), and
//! `labour/hour` (price of an hour), `margin` and `tax` (fractions such as `0.18`, or `18 %`). A price is that of
//! the material of one, before margin. A row `currency` states the book's currency instead of a price (`CHF`), a row `rounding`
//! the smallest amount a total is rounded to. Spreadsheets of countries with a decimal comma write `;` between cells and
//! `12,50`: both are read.

use crate::error::QuotationError;
use crate::row_problem::RowProblem;
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
    unit_unsaid: Vec<String>,
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
        let unit_at = column("unit");
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
            let unit = unit_at.and_then(|at| row.get(at)).unwrap_or("");
            if code.is_empty() && price.is_empty() {
                continue;
            }
            if let Err(problem) = book.take((code, price, unit), semicolons) {
                problems.push(format!("line {line}: {problem}"));
            }
        }
        if problems.is_empty() { Ok(book) } else { Err(fail(problems)) }
    }

    /// Takes a row of the file, or says what is wrong with it.
    fn take(
        &mut self,
        (code, price, unit): (&str, &str, &str),
        decimal_comma: bool,
    ) -> Result<(), RowProblem> {
        let (of, as_typed) = (|| code.to_owned(), || price.to_owned());
        if code == "currency" {
            if !is_currency(price) {
                return Err(RowProblem::Currency { found: as_typed() });
            }
            self.currency = Some(price.to_uppercase());
            return Ok(());
        }
        if code.is_empty() {
            return Err(RowProblem::NoCode { price: as_typed() });
        }
        let Some((value, percent)) = amount(price, decimal_comma) else {
            return Err(RowProblem::NoNumber { code: of(), price: as_typed() });
        };
        if value.is_sign_negative() && !value.is_zero() {
            return Err(RowProblem::BelowZero { code: of(), price: as_typed() });
        }
        match code {
            "margin" | "tax" if value > Decimal::from(5) => {
                return Err(RowProblem::Fraction { code: of(), price: as_typed() });
            }
            "margin" => self.margin = Some(value),
            "tax" => self.tax = Some(value),
            "rounding" if !percent => self.rounding = Some(value),
            _ if percent => return Err(RowProblem::Percentage { code: of(), price: as_typed() }),
            _ => self.take_price(code, unit, value)?,
        }
        Ok(())
    }

    /// Takes a price; that of a length as what a metre costs.
    fn take_price(&mut self, code: &str, unit: &str, value: Decimal) -> Result<(), RowProblem> {
        let mut of_one = value;
        if is_by_length(code) {
            let Some(metres) = metres_in(unit) else {
                return Err(RowProblem::Unit { code: code.to_owned(), unit: unit.to_owned() });
            };
            // To a millionth of a cent: less than any length of cable brings into the cents.
            of_one = value.checked_div(metres).map_or(value, |price| price.round_dp(8));
            if unit.is_empty() {
                self.unit_unsaid.push(code.to_owned());
            }
        }
        match self.prices.insert(code.to_owned(), of_one) {
            Some(_) => Err(RowProblem::Twice { code: code.to_owned() }),
            None => Ok(()),
        }
    }

    /// Codes whose prices are by length and taken by the metre because the book does not say by what, in its order.
    pub fn unit_unsaid(&self) -> &[String] {
        &self.unit_unsaid
    }

    /// Own price of the material of one, before margin; of cable and laying of a metre.
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
        let like = |code: &str| most_like(code, &known).map(str::to_owned);
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

/// The code a misspelt one is likely to mean: by what it names, among things of its kind first where it says one. So a name without
/// its kind finds its code, and the many letters of `loudspeaker/` make nothing alike.
fn most_like<'k>(code: &str, known: &'k IndexSet<String>) -> Option<&'k str> {
    let parts: Vec<(&str, &str, &'k str)> =
        known.iter().filter_map(|k| k.split_once('/').map(|(kind, name)| (kind, name, k.as_str()))).collect();
    let (kind, name) = code.split_once('/').unwrap_or(("", code));
    let by_name = |all: &[(&str, &str, &'k str)]| {
        let found = closest(name, all.iter().map(|p| p.1))?;
        all.iter().find(|p| p.1 == found).map(|p| p.2)
    };
    let of_kind: Vec<_> = parts.iter().copied().filter(|p| p.0 == kind).collect();
    by_name(&of_kind).or_else(|| by_name(&parts))
}

/// Whether the price of a code is that of a length.
fn is_by_length(code: &str) -> bool {
    ["cable/", "laying/"].iter().any(|kind| code.starts_with(kind))
}

/// Metres in what a price is by; `None` for what is no length. A foot is 0.3048 m by definition.
fn metres_in(unit: &str) -> Option<Decimal> {
    match unit.to_lowercase().as_str() {
        "" | "m" | "metre" | "metres" | "meter" | "meters" => Some(Decimal::ONE),
        "ft" | "foot" | "feet" => Some(Decimal::new(3048, 4)),
        _ => None,
    }
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

    /// A kind left out, and names of eleven letters and more of which one part is right: what a thing is called counts.
    #[test]
    fn a_code_is_like_another_by_what_it_names() {
        let job = example("walled-courtyard");
        let text = "code,price\nline-4x280,900\nstake-110-narrow,200\namplifier/line-4x290,1\ncable/burial-2x14,2\n\
                    loudspeaker/xyzzy,3\n";
        let unknown = PriceBook::read(text).unwrap().unknown(job.catalogue());
        let like: Vec<Option<&str>> = unknown.iter().map(|u| u.like.as_deref()).collect();
        let expected = [
            Some("amplifier/line-4x280"),
            Some("loudspeaker/stake-110-narrow"),
            Some("amplifier/line-4x280"),
            Some("cable/burial-2x14awg"),
            None,
        ];
        assert_eq!(like, expected);
    }

    /// By definition a foot is 0.3048 m: 1.524 by the foot are 5 by the metre. What is no length takes no unit.
    #[test]
    fn prices_by_the_foot_are_those_of_as_much_by_the_metre() {
        let text = "code,price,unit\ncable/a,1.524,ft\ncable/b,5,m\nlaying/slit,5,\ntask/joint,7,no.\n";
        let book = PriceBook::read(text).unwrap();
        for code in ["cable/a", "cable/b", "laying/slit"] {
            assert_eq!(book.price(code), Some("5".parse().unwrap()), "{code}");
        }
        assert_eq!(book.price("task/joint"), Some("7".parse().unwrap()));
        assert_eq!(book.unit_unsaid(), ["laying/slit"]);
        let error = PriceBook::read("code,price,unit\ncable/a,9,roll\n").unwrap_err().to_string();
        assert!(error.contains("line 2: the price of cable/a is by \"roll\"; write m"), "{error}");
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
