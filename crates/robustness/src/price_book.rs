//! Price books as spreadsheets write them, and the quotation of a job by what was read.

use crate::examples::files;
use loamline_quotation::{BillItem, Counted, PriceBook, Wordless, bill, decimals, grouped, quote};
use loamline_study::Study;
use rust_decimal::Decimal;
use std::sync::OnceLock;

pub fn price_book(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let book = match PriceBook::read(&text) {
        Ok(book) => book,
        Err(error) => return drop(error.to_string()),
    };
    let job = files()[0].job();
    for unknown in book.unknown(job.catalogue()) {
        drop(unknown.to_string());
    }
    for fraction in [book.margin(), book.tax()].into_iter().flatten() {
        assert!(fraction >= Decimal::ZERO && fraction <= Decimal::from(5), "{fraction}");
    }
    let quotation = match quote(job, items(), &book) {
        Ok(quotation) => quotation,
        Err(error) => return drop(error.to_string()),
    };
    // What is printed adds up; with very large prices nothing is lost beyond the digits there are.
    let parts = quotation.net.checked_add(quotation.tax).and_then(|sum| sum.checked_add(quotation.rounding));
    assert_eq!(parts, Some(quotation.total), "net {}, tax {}", quotation.net, quotation.tax);
    let places = decimals(&quotation.currency);
    for item in &quotation.items {
        assert_eq!(Some(item.amount), item.material_amount.checked_add(item.labour_amount));
        drop(grouped(item.amount, places, " ", "."));
    }
}

/// The bill of the small example, made once.
fn items() -> &'static [BillItem] {
    static ITEMS: OnceLock<Vec<BillItem>> = OnceLock::new();
    ITEMS.get_or_init(|| {
        let job = files()[0].job();
        let counted = Counted::of(job, &Study::new(job.clone()).runs()).expect("an example can be counted");
        bill(job, &Wordless, &counted)
    })
}
