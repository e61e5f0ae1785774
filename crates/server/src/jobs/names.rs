//! What people and programs may call things.

use crate::error::{FieldProblem, exceeded};
use loamline_limits::{
    ATTACHMENT_NAME_CHARACTERS, Bound, EDIT_ID_CHARACTERS, MADE_UP_CHARACTERS, PERSON_CHARACTERS,
};
use loamline_terms::say;

/// Holds the characters of a text against a bound.
fn fits(path: &str, text: &str, most: &'static Bound) -> Result<(), Box<FieldProblem>> {
    most.check(text.chars().count()).map_err(|more| {
        Box::new(FieldProblem {
            expected: Some(format!("at most {} characters", most.shown())),
            ..FieldProblem::new(path, say!("This is too long: {why}.", why = exceeded(&more)))
        })
    })
}

/// One line of plain text of at most so many characters, without spaces around it.
///
/// # Errors
/// What is wrong with it, at `path`.
pub fn line_of_text(path: &str, text: &str, most: &'static Bound) -> Result<String, Box<FieldProblem>> {
    let text = text.trim();
    if text.chars().any(char::is_control) {
        return Err(Box::new(FieldProblem::new(
            path,
            say!("This is one line of plain text, without control characters."),
        )));
    }
    fits(path, text, most)?;
    Ok(text.to_owned())
}

/// The name of a person or device; empty when they did not say.
///
/// # Errors
/// What is wrong with it, at `path`.
pub fn person(path: &str, text: &str) -> Result<String, Box<FieldProblem>> {
    line_of_text(path, text, &PERSON_CHARACTERS)
}

/// The id of an edit, made up by whoever sends it.
///
/// # Errors
/// What is wrong with it, at `path`.
pub fn edit_id(path: &str, text: &str) -> Result<String, Box<FieldProblem>> {
    fits(path, text, &EDIT_ID_CHARACTERS)?;
    let long_enough = MADE_UP_CHARACTERS.check(text.len()).is_ok();
    if long_enough && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-') {
        return Ok(text.to_owned());
    }
    let (least, most) = (MADE_UP_CHARACTERS.number, EDIT_ID_CHARACTERS.number);
    Err(Box::new(FieldProblem {
        expected: Some(format!("{least} to {most} letters, digits or '-'; a UUID is best")),
        ..FieldProblem::new(path, "This cannot be the id of an edit.")
    }))
}

/// The name of an attachment. It names a row of the store, never a file here.
///
/// # Errors
/// What is wrong with it, at `path`.
pub fn attachment_name(path: &str, text: &str) -> Result<String, Box<FieldProblem>> {
    fits(path, text, &ATTACHMENT_NAME_CHARACTERS)?;
    let plain = |c: char| c.is_alphanumeric() || matches!(c, ' ' | '.' | '_' | '-' | '(' | ')');
    if !text.is_empty()
        && text.chars().all(plain)
        && !text.starts_with(['.', ' '])
        && !text.ends_with(['.', ' '])
        && !text.contains("..")
    {
        return Ok(text.to_owned());
    }
    let most = ATTACHMENT_NAME_CHARACTERS.number;
    Err(Box::new(FieldProblem {
        expected: Some(format!(
            "1 to {most} letters, digits, spaces or . _ - ( ), starting with none of the signs"
        )),
        ..FieldProblem::new(path, say!("This cannot be the name of an attachment."))
    }))
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
