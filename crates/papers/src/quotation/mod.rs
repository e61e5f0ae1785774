//! The quotation: the bill with prices, margin and tax, adding up as it is printed.

mod book;
mod total;

pub use book::PriceBook;
pub use total::{PricedItem, Quotation, quote};
