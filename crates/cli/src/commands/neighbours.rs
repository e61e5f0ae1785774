//! Levels at the neighbours, as a table.

use super::open::decibels;
use crate::output::{Column, Table};
use loamline_model::document::Brief;
use loamline_study::neighbour_place;

/// A limit of a neighbour and the level at its worst place.
pub struct Row<'a, const N: usize> {
    /// Id of the neighbour.
    pub neighbour: &'a str,
    /// The floor, where it has several.
    pub floor: Option<&'a str>,
    /// Whether the limit holds by night; else by day.
    pub by_night: bool,
    /// Whether it limits the 63 Hz octave, dB; else LAeq, dBA.
    pub octave_63_hz: bool,
    /// The level as it is to stand.
    pub level: String,
    /// The limit, dBA or dB.
    pub limit_db: f64,
    /// Limit less level, dB.
    pub margin_db: f64,
    /// What stands in the further columns.
    pub more: [String; N],
}

/// Heading of a table, with the hours of the night where the brief says them.
pub fn heading(of: &str, brief: &Brief) -> String {
    brief.night_hours.map_or_else(|| of.to_owned(), |hours| format!("{of}; night is {hours}"))
}

/// One row for each limit, with further columns at the right.
pub fn table<'a, const N: usize>(more: [Column; N], rows: impl IntoIterator<Item = Row<'a, N>>) -> Table {
    let first = [
        Column::left("neighbour"),
        Column::left("when"),
        Column::left("what"),
        Column::right("level"),
        Column::right("limit"),
        Column::right("margin"),
    ];
    let mut table = Table::new(first.into_iter().chain(more));
    for r in rows {
        let first = [
            neighbour_place(r.neighbour, r.floor),
            if r.by_night { "night" } else { "day" }.to_owned(),
            if r.octave_63_hz { "63 Hz dB" } else { "dBA" }.to_owned(),
            r.level,
            decibels(r.limit_db),
            format!("{:+.1}", r.margin_db),
        ];
        table.row(first.into_iter().chain(r.more));
    }
    table
}
