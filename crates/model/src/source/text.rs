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
}

/// Where the lines of a text begin: made once, asked for every problem.
pub(super) struct Lines<'t> {
    text: &'t str,
    /// First byte of each line, ascending; the first is 0.
    starts: Vec<usize>,
}

/// The part of a line around a place in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Excerpt {
    /// The part, on one line, with dots where it was cut.
    pub text: String,
    /// Column of the place in it, from 1, in characters.
    pub column: usize,
    /// Characters that are meant, at least one and no more than there are.
    pub width: usize,
}

/// Widest excerpt of a line; a longer one is cut around the place so that it fits a terminal.
const EXCERPT_CHARS: usize = 90;

impl<'t> Lines<'t> {
    pub fn of(text: &'t str) -> Self {
        let starts = std::iter::once(0).chain(text.match_indices('\n').map(|(i, _)| i + 1)).collect();
        Self { text, starts }
    }

    /// Start of the character a byte belongs to. Past the end counts as the end.
    fn boundary(&self, byte: usize) -> usize {
        let mut at = byte.min(self.text.len());
        while !self.text.is_char_boundary(at) {
            at -= 1;
        }
        at
    }

    /// Number of the line, from 0, that a byte stands on.
    pub fn line_of(&self, byte: usize) -> usize {
        self.starts.partition_point(|start| *start <= byte.min(self.text.len())).saturating_sub(1)
    }

    /// Bytes of a line, from 0, without its ending.
    pub fn line(&self, number: usize) -> Range<usize> {
        let start = self.starts.get(number).copied().unwrap_or(self.text.len());
        let end = self.starts.get(number + 1).map_or(self.text.len(), |next| next - 1);
        start..start + self.text[start..end.max(start)].trim_end_matches('\r').len()
    }

    /// Where a byte stands. Past the end counts as the end; inside a character counts as its start. Costs a look at the
    /// line before it.
    pub fn position(&self, byte: usize) -> Position {
        let at = self.boundary(byte);
        let line = self.line_of(at);
        Position { line: line + 1, column: self.text[self.starts[line]..at].chars().count() + 1 }
    }

    /// What stands around the start of a range, no wider than a terminal. Costs the same for a line of any length.
    pub fn excerpt(&self, range: &Range<usize>) -> Excerpt {
        let at = self.boundary(range.start);
        let line = self.line(self.line_of(at));
        // A range may start in the line's ending.
        let at = at.min(line.end);
        let until = self.boundary(range.end).clamp(at, line.end);
        // No further than can be shown.
        let meant = self.text[at..until].trim_end().chars().take(EXCERPT_CHARS).count().max(1);
        let back = |from: usize, chars: usize| {
            self.text[line.start..from]
                .char_indices()
                .rev()
                .take(chars)
                .last()
                .map_or(from, |(i, _)| line.start + i)
        };
        let ahead = |from: usize, chars: usize| {
            self.text[from..line.end].char_indices().nth(chars).map_or(line.end, |(i, _)| from + i)
        };
        let fits = back(at, EXCERPT_CHARS) == line.start && {
            let before = self.text[line.start..at].chars().count();
            ahead(at, EXCERPT_CHARS - before) == line.end
        };
        let (start, end) = if fits {
            (line.start, line.end)
        } else {
            let start = back(at, EXCERPT_CHARS.saturating_sub(meant.min(60)) / 2);
            let end = ahead(start, EXCERPT_CHARS);
            // At the end of the line there is room to show more of what is before.
            (start.min(back(end, EXCERPT_CHARS)), end)
        };
        let mut text = String::new();
        if start > line.start {
            text.push_str("... ");
        }
        let column = text.len() + self.text[start..at].chars().count() + 1;
        text.extend(self.text[start..end].chars().map(|c| if c == '\t' { ' ' } else { c }));
        if end < line.end {
            text.push_str(" ...");
        }
        let room = text.chars().count().saturating_sub(column - 1).max(1);
        Excerpt { text, column, width: meant.min(room) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn columns_count_characters_and_lines_count_from_one() {
        let text = "a = 1\r\nname = \"Café\"  # x\n";
        let f = Lines::of(text);
        assert_eq!(f.position(0), Position { line: 1, column: 1 });
        let hash = text.find('#').unwrap();
        assert_eq!(f.position(hash), Position { line: 2, column: 16 });
        assert_eq!(&text[f.line(0)], "a = 1");
        assert_eq!(f.position(10_000), Position { line: 3, column: 1 });
        // The second byte of the accented letter counts as the letter itself.
        let e = text.find('é').unwrap();
        assert_eq!(f.position(e + 1), f.position(e));
    }

    #[test]
    fn a_short_line_is_shown_whole_and_a_long_one_around_the_place() {
        let text = "format = 1\nname = 'ok' # remark";
        let f = Lines::of(text);
        let seen = f.excerpt(&(18..22));
        assert_eq!(seen, Excerpt { text: "name = 'ok' # remark".into(), column: 8, width: 4 });
        let long = format!("{}here{}", "é,".repeat(100_000), "ö,".repeat(100_000));
        let at = long.find("here").unwrap();
        let seen = Lines::of(&long).excerpt(&(at..at + 4));
        let marked: String = seen.text.chars().skip(seen.column - 1).take(seen.width).collect();
        assert_eq!(marked, "here");
        assert!(
            seen.text.starts_with("... ") && seen.text.ends_with(" ...") && seen.text.chars().count() == 98
        );
    }

    fn some_text() -> impl Strategy<Value = String> {
        let piece = prop::sample::select(vec!["a", "é", "𝄞", "\t", "\r\n", "\n", " ", "xyz", "\r"]);
        prop::collection::vec(piece, 0..300).prop_map(|p| p.concat())
    }

    proptest! {
        /// The index against counting from the start of the text.
        #[test]
        fn the_index_says_what_counting_says(text in some_text(), at in 0usize..900) {
            let mut end = at.min(text.len());
            while !text.is_char_boundary(end) {
                end -= 1;
            }
            let before = &text[..end];
            let start = before.rfind('\n').map_or(0, |i| i + 1);
            let counted = Position {
                line: before.bytes().filter(|b| *b == b'\n').count() + 1,
                column: before[start..].chars().count() + 1,
            };
            let lines = Lines::of(&text);
            prop_assert_eq!(lines.position(at), counted);
            let whole = text.split('\n').nth(counted.line - 1).unwrap().trim_end_matches('\r');
            prop_assert_eq!(&text[lines.line(counted.line - 1)], whole);
        }

        /// An excerpt is never wider than a terminal, falls on letters, and points at what is meant.
        #[test]
        fn an_excerpt_points_at_the_letter_meant(text in some_text(), at in 0usize..900, long in 0usize..40) {
            let lines = Lines::of(&text);
            let seen = lines.excerpt(&(at..at + long));
            prop_assert!(seen.text.chars().count() <= EXCERPT_CHARS + 8);
            prop_assert!(!seen.text.contains('\n') && seen.column >= 1 && seen.width >= 1);
            let mut byte = at.min(text.len());
            while !text.is_char_boundary(byte) {
                byte -= 1;
            }
            let line = lines.line(lines.line_of(byte));
            let wanted = text[byte.min(line.end)..line.end].chars().next().map(|c| if c == '\t' { ' ' } else { c });
            let shown = seen.text.chars().nth(seen.column - 1);
            if wanted.is_some() {
                prop_assert_eq!(shown, wanted);
            }
        }
    }
}
