//! The quotation: the bill with prices, margin and tax, adding up to the cent.

mod book;
mod total;

pub use book::PriceBook;
pub use total::{PricedItem, Quotation, quote};
