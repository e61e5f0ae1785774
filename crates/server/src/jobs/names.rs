//! What people and programs may call things.

use crate::error::FieldProblem;

/// Longest name of a person or device, characters.
const LONGEST_NAME: usize = 80;

/// One line of plain text of at most `most` characters, without spaces around it.
///
/// # Errors
/// What is wrong with it, at `path`.
pub fn line_of_text(path: &str, text: &str, most: usize) -> Result<String, FieldProblem> {
    let text = text.trim();
    if text.chars().any(char::is_control) {
        return Err(FieldProblem::new(path, "This is one line of plain text, without control characters."));
    }
    match text.chars().count() {
        n if n > most => Err(FieldProblem {
            expected: Some(format!("at most {most} characters")),
            ..FieldProblem::new(path, format!("{n} characters are too many; at most {most} fit."))
        }),
        _ => Ok(text.to_owned()),
    }
}

/// The name of a person or device; empty when they did not say.
///
/// # Errors
/// What is wrong with it, at `path`.
pub fn person(path: &str, text: &str) -> Result<String, FieldProblem> {
    line_of_text(path, text, LONGEST_NAME)
}

/// The id of an edit, made up by whoever sends it.
///
/// # Errors
/// What is wrong with it, at `path`.
pub fn edit_id(path: &str, text: &str) -> Result<String, FieldProblem> {
    let plain = text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
    if plain && (8..=64).contains(&text.len()) {
        return Ok(text.to_owned());
    }
    Err(FieldProblem {
        expected: Some("8 to 64 letters, digits or '-'; a UUID is best".into()),
        ..FieldProblem::new(path, "This cannot be the id of an edit.")
    })
}

/// The name of an attachment. It names a row of the store, never a file here.
///
/// # Errors
/// What is wrong with it, at `path`.
pub fn attachment_name(path: &str, text: &str) -> Result<String, FieldProblem> {
    let plain = |c: char| c.is_alphanumeric() || matches!(c, ' ' | '.' | '_' | '-' | '(' | ')');
    if !text.is_empty()
        && text.chars().count() <= 100
        && text.chars().all(plain)
        && !text.starts_with(['.', ' '])
        && !text.ends_with(['.', ' '])
        && !text.contains("..")
    {
        return Ok(text.to_owned());
    }
    Err(FieldProblem {
        expected: Some(
            "1 to 100 letters, digits, spaces or . _ - ( ), starting with none of the signs".into(),
        ),
        ..FieldProblem::new(path, "This cannot be the name of an attachment.")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_attachments_are_never_paths() {
        for bad in ["", "..", "../x", "a/b", "a\\b", ".hidden", "a\0b", "a..b", "x.", &"a".repeat(101)] {
            assert!(attachment_name("name", bad).is_err(), "{bad:?}");
        }
        for good in ["plan.png", "Joint J4 (open).jpg", "Grüner Garten.pdf"] {
            assert_eq!(attachment_name("name", good).unwrap(), good);
        }
    }
}
