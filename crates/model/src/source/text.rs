//! A named text, and where a byte of it stands for a person: line, column.

use std::ops::Range;

/// A text with the name it is known by in messages, usually its path as the person typed it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceFile {
    /// Name in messages.
    pub name: String,
    /// The text.
    pub text: String,
}

/// A place in a text: line and column from 1, column in characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Position {
    pub line: usize,
    pub column: usize,
}

impl SourceFile {
    /// A text under a name.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Self {
        Self { name: name.into(), text: text.into() }
    }

    /// Where a byte stands. Past the end counts as the end; inside a character counts as its start.
    pub(super) fn position(&self, byte: usize) -> Position {
        let mut end = byte.min(self.text.len());
        while !self.text.is_char_boundary(end) {
            end -= 1;
        }
        let before = &self.text[..end];
        let line_start = before.rfind('\n').map_or(0, |i| i + 1);
        Position {
            line: before.bytes().filter(|&b| b == b'\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
        }
    }

    /// The line (from 1) without its line ending.
    pub(super) fn line(&self, number: usize) -> &str {
        self.text.split('\n').nth(number - 1).unwrap_or("").trim_end_matches('\r')
    }

    /// How many characters of a range stand on its first line; at least one.
    pub(super) fn width_on_first_line(&self, range: &Range<usize>) -> usize {
        let rest = self.text.get(range.clone()).unwrap_or("");
        rest.lines().next().unwrap_or("").trim_end().chars().count().max(1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters_and_lines_count_from_one() {
        let f = SourceFile::new("f", "a = 1\r\nname = \"Café\"  # x\n");
        assert_eq!(f.position(0), Position { line: 1, column: 1 });
        let hash = f.text.find('#').unwrap();
        assert_eq!(f.position(hash), Position { line: 2, column: 16 });
        assert_eq!(f.line(1), "a = 1");
        assert_eq!(f.position(10_000), Position { line: 3, column: 1 });
        // The second byte of the accented letter counts as the letter itself.
        let e = f.text.find('é').unwrap();
        assert_eq!(f.position(e + 1), f.position(e));
    }
}
