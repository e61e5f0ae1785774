//! The papers' words for a bill.

use crate::tags::listed;
use crate::words::Words;
use loamline_model::document::Laying;
use loamline_model::{Choice as _, Units};
use loamline_quotation::Wording;
use loamline_study::CableOrder;

/// Words of the language file. Spools in metres, like the quantity beside them.
pub struct PaperWording<'a> {
    pub words: &'a Words,
}

impl Wording for PaperWording<'_> {
    fn laying(&self, laying: Laying) -> String {
        self.words.get(&format!("bill.laying.{}", laying.word())).to_owned()
    }

    fn stated(&self, name: &str) -> String {
        self.words.fill("bill.stated", &[("name", name)])
    }

    fn shared(&self) -> String {
        self.words.get("bill.shared").to_owned()
    }

    fn tags(&self, tags: &[&str]) -> String {
        listed(tags, self.words.get("number.to"))
    }

    fn spools(&self, order: &CableOrder) -> String {
        spools_to_order(order, self.words, Units::Metric)
    }
}

/// The spools of a cable to order, in words: "1 spool of 305 m, 2 spools of 100 m".
pub fn spools_to_order(order: &CableOrder, words: &Words, units: Units) -> String {
    let one = |&(length_m, count): &(f64, usize)| {
        let key = if count == 1 { "bill.spool" } else { "bill.spools" };
        words.fill(key, &[("count", &count.to_string()), ("length", &units.run(length_m))])
    };
    order.to_order.iter().map(one).collect::<Vec<_>>().join(", ")
}
