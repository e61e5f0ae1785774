//! Tables that fit 80 columns.

use std::fmt;
use unicode_width::UnicodeWidthStr;

/// The width tables fit into.
const WIDTH: usize = 80;
/// A wrapped column never gets narrower than this, even if the table then runs wider than 80 columns.
const NARROWEST: usize = 12;
const GAP: &str = "  ";

/// A column: its heading and how its cells are set.
#[derive(Debug, Clone)]
pub struct Column {
    heading: String,
    set: Set,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Set {
    Left,
    Right,
    Wrapped,
}

impl Column {
    /// Text.
    pub fn left(heading: impl Into<String>) -> Self {
        Self { heading: heading.into(), set: Set::Left }
    }

    /// Numbers.
    pub fn right(heading: impl Into<String>) -> Self {
        Self { heading: heading.into(), set: Set::Right }
    }

    /// Sentences, broken into lines where the table would get wider than 80 columns.
    pub fn wrapped(heading: impl Into<String>) -> Self {
        Self { heading: heading.into(), set: Set::Wrapped }
    }
}

/// A table, written by `Display`.
#[derive(Debug, Clone)]
pub struct Table {
    columns: Vec<Column>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// A table without rows.
    pub fn new(columns: impl IntoIterator<Item = Column>) -> Self {
        Self { columns: columns.into_iter().collect(), rows: Vec::new() }
    }

    /// Adds a row; missing cells are empty.
    pub fn row(&mut self, cells: impl IntoIterator<Item = impl Into<String>>) {
        self.rows.push(cells.into_iter().map(Into::into).collect());
    }

    fn widths(&self) -> Vec<usize> {
        let natural = self.columns.iter().enumerate().map(|(index, column)| {
            let cells = self.rows.iter().filter_map(|row| row.get(index)).map(|cell| cell.width());
            cells.chain([column.heading.width()]).max().unwrap_or(0)
        });
        let mut widths = natural.collect::<Vec<_>>();
        let total = widths.iter().sum::<usize>() + GAP.len() * widths.len().saturating_sub(1);
        let mut excess = total.saturating_sub(WIDTH);
        // The widest wrapped column gives way first.
        while excess > 0 {
            let widest = (0..widths.len())
                .filter(|index| self.columns.get(*index).is_some_and(|column| column.set == Set::Wrapped))
                .max_by_key(|index| widths.get(*index).copied());
            match widest.and_then(|index| widths.get_mut(index)) {
                Some(width) if *width > NARROWEST => *width -= 1,
                _ => break,
            }
            excess -= 1;
        }
        widths
    }
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let widths = self.widths();
        let headings = self.columns.iter().map(|column| column.heading.clone()).collect::<Vec<_>>();
        let rule = widths.iter().map(|width| "-".repeat(*width)).collect::<Vec<_>>();
        for row in [&headings, &rule].into_iter().chain(&self.rows) {
            let cells = self.columns.iter().zip(&widths).enumerate().map(|(index, (column, width))| {
                let cell = row.get(index).map(String::as_str).unwrap_or_default();
                if column.set == Set::Wrapped { wrap(cell, *width) } else { vec![cell.to_owned()] }
            });
            let cells = cells.collect::<Vec<_>>();
            for line in 0..cells.iter().map(Vec::len).max().unwrap_or(0) {
                let mut text = String::new();
                for ((cell, column), width) in cells.iter().zip(&self.columns).zip(&widths) {
                    let part = cell.get(line).map(String::as_str).unwrap_or_default();
                    let space = " ".repeat(width.saturating_sub(part.width()));
                    match column.set {
                        Set::Right => text.extend([space.as_str(), part, GAP]),
                        Set::Left | Set::Wrapped => text.extend([part, space.as_str(), GAP]),
                    }
                }
                writeln!(f, "{}", text.trim_end())?;
            }
        }
        Ok(())
    }
}

/// A paragraph wrapped at 80 columns, with a line end.
pub fn paragraph(text: &str) -> String {
    wrap(text, WIDTH).into_iter().map(|line| line + "\n").collect()
}

/// A paragraph indented by two, wrapped at 80 columns, with a line end.
pub fn indented(text: &str) -> String {
    let mut lines = wrap(text, WIDTH - 4).into_iter();
    let first = lines.next().unwrap_or_default();
    lines.fold(format!("  {first}\n"), |all, line| format!("{all}    {line}\n"))
}

/// Breaks text at spaces into lines of at most `width`; a longer word stands alone.
fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.is_empty() => line.push_str(word),
            Some(line) if line.width() + 1 + word.width() <= width => line.extend([" ", word]),
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::{Column, Table};

    #[test]
    fn sentences_wrap_and_numbers_stand_right() {
        let mut table = Table::new([Column::left("id"), Column::right("W"), Column::wrapped("finding")]);
        table.row(["L1", "7.5", &"word ".repeat(30)]);
        table.row(["L2", "30", "short"]);
        let text = table.to_string();
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
        assert!(text.starts_with("id    W  finding\n--  ---  "), "{text}");
        assert!(text.contains("\nL2   30  short\n"), "{text}");
        assert_eq!(text.matches("word").count(), 30);
    }
}
