//! Words for people that the catalogue does not have: whoever shows a bill hands them in.

use loamline_model::document::Laying;
use loamline_study::CableOrder;

/// Words of a bill.
pub trait Wording {
    /// A way of laying, as the name of an entry.
    fn laying(&self, laying: Laying) -> String;
    /// That a price is stated for what a name is given to, labour included.
    fn stated(&self, name: &str) -> String;
    /// That ground is opened once for several cables.
    fn shared(&self) -> String;
    /// Tags that an entry is for.
    fn tags(&self, tags: &[&str]) -> String;
    /// Spools to order.
    fn spools(&self, order: &CableOrder) -> String;
}

/// No words: for adding up, where nobody reads the entries.
#[derive(Debug, Clone, Copy)]
pub struct Wordless;

impl Wording for Wordless {
    fn laying(&self, _: Laying) -> String {
        String::new()
    }

    fn stated(&self, _: &str) -> String {
        String::new()
    }

    fn shared(&self) -> String {
        String::new()
    }

    fn tags(&self, _: &[&str]) -> String {
        String::new()
    }

    fn spools(&self, _: &CableOrder) -> String {
        String::new()
    }
}
