//! How rows of the table are written.

/// Rows of one subject: a constant for each, and `ROWS` with all of them.
macro_rules! bounds {
    (@side) => { crate::bound::Side::Most };
    (@side Least) => { crate::bound::Side::Least };
    ($($(#[doc = $doc:literal])+ $name:ident = $($side:ident)? $number:literal $unit:ident, $of:literal, $reason:literal, $sentence:literal;)+) => {
        $(
            $(#[doc = $doc])+
            pub static $name: crate::bound::Bound = crate::bound::Bound {
                of: $of,
                side: bounds!(@side $($side)?),
                number: $number,
                unit: crate::bound::Unit::$unit,
                reason: $reason,
                sentence: $sentence,
            };
        )+

        /// The rows of this subject, in the order of the page.
        pub(super) static ROWS: &[&crate::bound::Bound] = &[$(&$name),+];
    };
}
