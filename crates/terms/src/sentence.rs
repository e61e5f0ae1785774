//! Sentences put together from parts.

/// A sentence with its first letter as it begins one.
#[must_use]
pub fn capitalised(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// `A`, `A and B`, `A, B and C`; empty for no names at all.
#[must_use]
pub fn listed<S: AsRef<str>>(names: &[S]) -> String {
    let names: Vec<&str> = names.iter().map(AsRef::as_ref).collect();
    match names.as_slice() {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_begins_with_a_capital_and_a_list_ends_with_and() {
        assert_eq!(capitalised("run W1 is open"), "Run W1 is open");
        assert_eq!(capitalised("über"), "Über");
        assert_eq!(capitalised(""), "");
        assert_eq!(listed::<&str>(&[]), "");
        assert_eq!(listed(&["A"]), "A");
        assert_eq!(listed(&["A", "B"]), "A and B");
        assert_eq!(listed(&["A", "B", "C"]), "A, B and C");
    }
}
