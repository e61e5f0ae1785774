//! Prices, margin, tax, totals.
//!
//! price of one = material x (1 + margin); amount = quantity x price of one; labour = hours x price of an hour, each to
//! the smallest unit of the currency; the rest are sums of what is printed, and tax is taken once, on the sum. Every
//! printed figure therefore adds up as it stands on the paper.

use super::PriceBook;
use crate::error::PapersError;
use crate::money::{decimals, rounded, sum, times};
use crate::quantities::{BillItem, Group};
use loamline_model::Job;
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

/// Prices a bill with the catalogue's prices, and the price book's where it has one.
///
/// # Errors
/// [`PapersError::Amount`] when a sum does not fit into a decimal.
pub fn quote(job: &Job, bill: &[BillItem], book: &PriceBook) -> Result<Quotation, PapersError> {
    let prices = job.catalogue().prices.as_ref();
    let fraction = |value: f64| Decimal::from_f64(value).unwrap_or_default();
    let margin = book.margin().unwrap_or_else(|| fraction(prices.map_or(0.0, |p| p.material_margin)));
    let tax_rate = book.tax().unwrap_or_else(|| fraction(prices.map_or(0.0, |p| p.tax)));
    let hour = book.price("labour/hour").or(prices.map(|p| p.labour_per_hour)).unwrap_or_default();
    let about = &job.document().about;
    let places = decimals(&about.currency);
    let mut items = Vec::with_capacity(bill.len());
    for item in bill {
        let material = book.price(&item.code).unwrap_or(item.material);
        let price = times(Decimal::ONE + margin, material, places, &item.description)?;
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
    Ok(Quotation {
        labour_h: sum(items.iter().map(|i| i.item.labour_h), "labour")?,
        items,
        groups,
        allowance,
        net,
        tax_rate,
        tax,
        total: sum([net, tax], "the quotation")?,
        labour_per_hour: hour,
        margin,
        currency: about.currency.clone(),
    })
}
