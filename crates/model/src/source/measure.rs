//! How much a text holds, counted before anything is made of it.
//!
//! By the parser's own tokens: what it would read, it is counted by. Costs one pass and no memory.

use loamline_limits::{DOCUMENT_DEPTH, DOCUMENT_VALUES, DOCUMENT_WORDS, Exceeded, UNREADABLE_PLACES};
use toml_parser::lexer::{Token, TokenKind};
use toml_parser::parser::parse_document;
use toml_parser::{ParseError, Source};

/// Asks whether a text of TOML may be read: not too many values, none too deep inside others, and TOML for the most part.
///
/// # Errors
/// The bound it passes.
pub(super) fn measure(text: &str) -> Result<(), Exceeded> {
    let (mut values, mut words, mut open) = (0usize, 0usize, 0usize);
    // Points of the key or number that is being read.
    let mut points = 0usize;
    for token in Source::new(text).lex() {
        match token.kind() {
            TokenKind::Whitespace | TokenKind::Comment => continue,
            TokenKind::Newline => {
                points = 0;
                continue;
            }
            TokenKind::Dot => {
                points += 1;
                // A number has one; further ones are tables inside tables.
                values += usize::from(points > 1);
                DOCUMENT_DEPTH.check(points)?;
            }
            TokenKind::LeftSquareBracket | TokenKind::LeftCurlyBracket => {
                open += 1;
                DOCUMENT_DEPTH.check(open)?;
                values += 1;
                points = 0;
            }
            TokenKind::RightSquareBracket | TokenKind::RightCurlyBracket => {
                open = open.saturating_sub(1);
                points = 0;
            }
            TokenKind::Equals | TokenKind::Comma => {
                values += 1;
                points = 0;
            }
            // Names, numbers and texts: parts of what is counted, each a problem of its own in a text that is no TOML.
            _ => {}
        }
        words += 1;
        DOCUMENT_VALUES.check(values)?;
        DOCUMENT_WORDS.check(words)?;
    }
    let tokens: Vec<Token> = Source::new(text).lex().collect();
    let mut unreadable = 0usize;
    parse_document(&tokens, &mut (), &mut |_: ParseError| unreadable += 1);
    UNREADABLE_PLACES.check(unreadable)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::{Node, NodeValue};
    use crate::source::parse_recovering;
    use proptest::prelude::*;

    #[test]
    fn what_is_small_passes_and_what_is_not_is_told_with_its_number() {
        assert_eq!(measure(include_str!("../../tests/fixtures/good.toml")), Ok(()));
        let many = format!("a = [{}]", "1,".repeat(250_000));
        assert!(measure(&many).unwrap_err().to_string().contains("200 000"));
        for deep in [
            format!("a = {}1{}", "[".repeat(40), "]".repeat(40)),
            format!("a{} = 1", ".a".repeat(40)),
            format!("[a{}]", ".a".repeat(40)),
        ] {
            assert!(measure(&deep).unwrap_err().to_string().contains("32"), "{deep}");
        }
        // Brackets in a text or a remark are none.
        assert_eq!(measure(&format!("a = \"{0}\" # {0}", "[".repeat(100))), Ok(()));
        // A place that cannot be read in every line; what the parser passes over as one place is few problems.
        let told = measure(&"a\n".repeat(50_000)).unwrap_err().to_string();
        assert!(told.contains("cannot be read"), "{told}");
        for endless in ["]", "= ", "a\n"] {
            assert!(measure(&endless.repeat(1_900_000)).is_err(), "{endless}");
        }
    }

    fn count(node: &Node) -> usize {
        1 + match &node.value {
            NodeValue::List(l) => l.iter().map(count).sum(),
            NodeValue::Table(t) => t.values().map(count).sum::<usize>(),
            _ => 0,
        }
    }

    proptest! {
        /// Whatever the text, what is read of it is within what was counted: no more than two values for a mark.
        #[test]
        fn nothing_is_read_that_was_not_counted(
            pieces in prop::collection::vec(
                prop::sample::select(vec![
                    "a", ".", "b", " = ", "1", "[", "]", "{", "}", ",", "\n", "\"", "'", "\"\"\"", "#", "\\", "2.5", "é",
                ]),
                0..80,
            ),
        ) {
            let text = pieces.concat();
            let marks = Source::new(&text).lex().filter(|t| "=,[]{}.".contains(t.kind().as_mark())).count();
            let (root, _) = parse_recovering(&text);
            prop_assert!(count(&root) <= 2 + 2 * marks, "{} values, {marks} marks in {text:?}", count(&root));
        }
    }

    trait Mark {
        fn as_mark(&self) -> char;
    }

    impl Mark for TokenKind {
        fn as_mark(&self) -> char {
            match self {
                Self::Dot => '.',
                Self::Equals => '=',
                Self::Comma => ',',
                Self::LeftSquareBracket => '[',
                Self::RightSquareBracket => ']',
                Self::LeftCurlyBracket => '{',
                Self::RightCurlyBracket => '}',
                _ => 'x',
            }
        }
    }
}
