//! Bounds from below: what there has to be at least. They stand on the page behind those from above.

use crate::bound::Unit;

/// The least there has to be of something.
#[derive(Debug, PartialEq, Eq)]
pub struct Least {
    /// What is bounded.
    pub of: &'static str,
    /// The least there has to be.
    pub least: u64,
    /// What is counted.
    pub unit: Unit,
    /// Why there is a bound and what the number trades.
    pub reason: &'static str,
    /// What is said of less: `{least}` stands for the number with its unit, `{which}` for the name of what has less.
    pub sentence: &'static str,
}

impl Least {
    /// The least as a person reads it.
    pub fn shown(&self) -> String {
        self.unit.show(self.least)
    }

    /// What is said of something with this name that has less.
    pub fn told(&self, which: &str) -> String {
        self.sentence.replace("{least}", &self.shown()).replace("{which}", which)
    }
}

macro_rules! leasts {
    ($($(#[doc = $doc:literal])+ $name:ident = $least:literal $unit:ident, $of:literal, $reason:literal, $sentence:literal;)+) => {
        $(
            $(#[doc = $doc])+
            pub static $name: Least =
                Least { of: $of, least: $least, unit: Unit::$unit, reason: $reason, sentence: $sentence };
        )+

        /// Every bound from below, in the order of the page.
        pub static LEASTS: &[&Least] = &[$(&$name),+];
    };
}

leasts! {
    /// Size of a listening area, cm2.
    AREA_CM2 = 100 SquareCentimetres, "size of a listening area", "nobody's ears fit into less, and what is worked out for an area goes by its size",
        "listening area {which} has no room for anybody: its outline holds less than {least}; draw it anew";
    /// Bytes a second that what is sent comes in at.
    SENDING_SPEED = 2000 BytesPerSecond, "speed at which what follows the head of a request comes in, after the time for the head", "slower than any telephone network; who sends ever more slowly holds a connection",
        "what comes in at less than {least} is not waited for any longer: the request is refused as one that did not arrive whole";
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::TABLE;

    #[test]
    fn every_row_is_whole_and_says_its_number() {
        for b in LEASTS {
            assert!(b.least > 0 && b.reason.len() > 20 && !b.reason.ends_with('.'), "{}", b.of);
            assert!(!b.of.contains('|') && !b.reason.contains('|'), "{}", b.of);
            assert!(TABLE.iter().all(|t| t.of != b.of), "{}", b.of);
            let told = b.told("A1");
            assert!(told.contains(&b.shown()) && !told.contains('{'), "{told}");
        }
    }
}
