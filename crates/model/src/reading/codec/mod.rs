//! What a value may be: texts, quantities with units, points, outlines, lists, maps of named things.

mod list;
mod measured;
mod plain;
mod plan;
mod refused;
mod table;

pub(crate) use list::list;
pub(crate) use measured::{meter_frequency, over_frequency, quantity, shown};
pub(crate) use plain::{flag, hours, ip_code, money, text, whole, word};
pub(crate) use plan::{line, outline, point};
pub(crate) use table::{at_most, map_of, nested, nested_or_empty};
