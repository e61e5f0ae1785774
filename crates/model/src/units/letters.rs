//! Letters as people type them, made plain before they are read.

/// The text with typographic signs replaced by the plain ones the table uses.
pub(super) fn plain_letters(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '\u{2032}' | '\u{2019}' | '\u{2018}' => plain.push('\''),
            '\u{2033}' | '\u{201c}' | '\u{201d}' => plain.push('"'),
            '\u{2212}' | '\u{2013}' => plain.push('-'),
            '\u{b5}' | '\u{3bc}' => plain.push('u'),
            '\u{b2}' => plain.push('2'),
            '\u{b3}' => plain.push('3'),
            '\u{3a9}' | '\u{2126}' => plain.push_str("ohm"),
            '\u{b0}' => plain.push_str("deg"),
            '\u{bc}' => plain.push_str(" 1/4"),
            '\u{bd}' => plain.push_str(" 1/2"),
            '\u{be}' => plain.push_str(" 3/4"),
            '\u{b7}' | '\u{22c5}' => plain.push(' '),
            other if other.is_whitespace() => plain.push(' '),
            other => plain.push(other),
        }
    }
    plain
}
