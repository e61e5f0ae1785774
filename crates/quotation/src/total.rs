//! Prices, margin, tax, totals.
//!
//! price of one = material x (1 + margin), or what the job states for it; amount = quantity x price of one; labour = hours x price of an hour, each to
//! the smallest unit of the currency; the rest are sums of what is printed, and tax is taken once, on the sum. Every
//! printed figure therefore adds up as it stands on the paper. Where the smallest coin is larger than the smallest unit, the
//! total is rounded to it, and what that adds or takes stands on a line of its own; tax is not worked out again.
//!
//! Amounts of two currencies are never added: a book in another currency than the job's is refused, and so is a catalogue's
//! price that no price of the book replaces.

use crate::bill::{BillItem, Group, Unit, bill};
use crate::book::PriceBook;
use crate::counted::Counted;
use crate::error::QuotationError;
use crate::money::{decimals, rounded, sum, times, to_coins};
use crate::wording::Wordless;
use loamline_adapt::LaidRun;
use loamline_model::{Job, Units};
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive as _;
use serde::Serialize;

/// An entry of the bill with its prices.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PricedItem {
    /// The entry.
    #[serde(flatten)]
    pub item: BillItem,
    /// Price of one, margin included.
    pub price: Decimal,
    /// Material: quantity times price.
    pub material_amount: Decimal,
    /// Labour: hours times price of an hour.
    pub labour_amount: Decimal,
    /// Both.
    pub amount: Decimal,
}

/// A quotation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Quotation {
    /// Entries, in the order of the bill.
    pub items: Vec<PricedItem>,
    /// Sum of each part of the bill that has entries.
    pub groups: Vec<(Group, Decimal)>,
    /// Set aside for things not listed.
    pub allowance: Decimal,
    /// Entries and allowance.
    pub net: Decimal,
    /// Tax as a fraction.
    pub tax_rate: Decimal,
    /// Tax.
    pub tax: Decimal,
    /// What rounding to the smallest amount paid adds to their sum, or takes from it.
    pub rounding: Decimal,
    /// What the client pays.
    pub total: Decimal,
    /// Hours of labour.
    pub labour_h: Decimal,
    /// Price of an hour.
    pub labour_per_hour: Decimal,
    /// Margin on material as a fraction. For the firm, not for the client.
    pub margin: Decimal,
    /// Three-letter code of the currency.
    pub currency: String,
}

/// What does not depend on an entry: margin, tax, price of an hour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rates {
    /// Margin on material, as a fraction.
    pub margin: Decimal,
    /// Tax, as a fraction.
    pub tax: Decimal,
    /// Price of an hour of labour.
    pub hour: Decimal,
}

impl Rates {
    /// Those of the catalogue, the job's own tax before that, and the price book's before both where it has them.
    pub fn of(job: &Job, book: &PriceBook) -> Self {
        let prices = job.catalogue().prices.as_ref();
        let fraction = |value: f64| Decimal::from_f64(value).unwrap_or_default();
        Self {
            margin: book.margin().unwrap_or_else(|| fraction(prices.map_or(0.0, |p| p.material_margin))),
            tax: book.tax().unwrap_or_else(|| {
                fraction(job.document().about.tax.unwrap_or_else(|| prices.map_or(0.0, |p| p.tax)))
            }),
            hour: book.price("labour/hour").or(prices.map(|p| p.labour_per_hour)).unwrap_or_default(),
        }
    }
}

/// The quotation of a job with its runs as they lie, without words: what its papers add up to.
///
/// # Errors
/// [`QuotationError`] when a cable fits on no spool, or a sum does not fit into a decimal.
pub fn quotation(job: &Job, runs: &[LaidRun], book: &PriceBook) -> Result<Quotation, QuotationError> {
    quote(job, &bill(job, &Wordless, &Counted::of(job, runs)?), book)
}

/// Prices a bill with the catalogue's prices, and the price book's where it has one.
///
/// # Errors
/// [`QuotationError::Amount`] when a sum does not fit into a decimal, [`QuotationError::Currency`] when prices of two currencies
/// would be added.
pub fn quote(job: &Job, bill: &[BillItem], book: &PriceBook) -> Result<Quotation, QuotationError> {
    let Rates { margin, tax: tax_rate, hour } = Rates::of(job, book);
    let prices = job.catalogue().prices.as_ref();
    let about = &job.document().about;
    one_currency(job, bill, book)?;
    let places = decimals(&about.currency);
    let mut items = Vec::with_capacity(bill.len());
    for item in bill {
        let of_the_book = book.price(&item.code);
        let material = of_the_book.unwrap_or(item.material);
        let as_stated = item.as_stated && of_the_book.is_none();
        let on_it = if as_stated { Decimal::ONE } else { Decimal::ONE + margin };
        // By the foot a price has whole cents; that of as much by the metre has not.
        let by_the_foot = item.unit == Unit::Metre && job.document().units() == Units::Us;
        let price = times(on_it, material, if by_the_foot { places + 4 } else { places }, &item.description)?;
        let material_amount = times(item.quantity, price, places, &item.description)?;
        let labour_amount = times(item.labour_h, hour, places, &item.description)?;
        let amount = sum([material_amount, labour_amount], &item.description)?;
        items.push(PricedItem { item: item.clone(), price, material_amount, labour_amount, amount });
    }
    let mut groups = Vec::new();
    for group in Group::ALL {
        let own: Vec<Decimal> = items.iter().filter(|i| i.item.group == group).map(|i| i.amount).collect();
        if !own.is_empty() {
            groups.push((group, sum(own, group.word())?));
        }
    }
    let allowance = rounded(about.allowance.unwrap_or_default(), places);
    let net = sum(groups.iter().map(|g| g.1).chain([allowance]), "the quotation")?;
    let tax = times(net, tax_rate, places, "the tax")?;
    let exact = sum([net, tax], "the quotation")?;
    let smallest = about.rounding.or(book.rounding()).or(prices.and_then(|p| p.rounding));
    let total = rounded(to_coins(exact, smallest.unwrap_or_default()), places);
    Ok(Quotation {
        labour_h: sum(items.iter().map(|i| i.item.labour_h), "labour")?,
        items,
        groups,
        allowance,
        net,
        tax_rate,
        tax,
        rounding: sum([total, -exact], "the quotation")?,
        total,
        labour_per_hour: hour,
        margin,
        currency: about.currency.clone(),
    })
}

/// Refuses a book in another currency than the job's, and prices of the catalogue in another where the book has none.
fn one_currency(job: &Job, bill: &[BillItem], book: &PriceBook) -> Result<(), QuotationError> {
    let wanted = &job.document().about.currency;
    let other = |currency: &&str| !currency.eq_ignore_ascii_case(wanted);
    let fail = |found: &str, of: Vec<String>| {
        Err(QuotationError::Currency { wanted: wanted.clone(), found: found.to_owned(), of })
    };
    if let Some(found) = book.currency().filter(other) {
        return fail(found, Vec::new());
    }
    let prices = job.catalogue().prices.as_ref();
    let Some(found) = prices.and_then(|p| p.currency.as_deref()).filter(other) else { return Ok(()) };
    let mut missing: Vec<String> = Vec::new();
    let hour = bill.iter().any(|i| !i.labour_h.is_zero()).then_some("labour/hour");
    let codes =
        bill.iter().filter(|i| !i.material.is_zero() && !i.as_stated).map(|i| i.code.as_str()).chain(hour);
    for code in codes.filter(|code| book.price(code).is_none()) {
        if !missing.iter().any(|m| m == code) {
            missing.push(code.to_owned());
        }
    }
    if missing.is_empty() { Ok(()) } else { fail(found, missing) }
}
