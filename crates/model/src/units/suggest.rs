//! What a misspelt word may have meant.

use loamline_limits::SUGGESTED_BYTES;

/// The candidate nearest to `word`, if one is near enough to be worth suggesting.
///
/// Distance is the number of letters to insert, drop, change or swap (Damerau-Levenshtein), upper and lower case
/// and `-`, `_` and spaces being equal. A candidate is near enough when at most a third of its letters differ
/// (at least one), or when it begins with the three or more letters typed. Of equally near candidates the first wins.
pub fn closest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    if word.len() > SUGGESTED_BYTES.most() {
        return None;
    }
    let wanted = fold(word);
    if wanted.is_empty() {
        return None;
    }
    let mut best: Option<(usize, &'a str)> = None;
    for candidate in candidates {
        let folded = fold(candidate);
        let mut distance = strsim::damerau_levenshtein(&wanted, &folded);
        let longest = wanted.chars().count().max(folded.chars().count());
        let allowed = (longest / 3).max(1);
        if distance > allowed && wanted.chars().count() >= 3 && folded.starts_with(&wanted) {
            distance = allowed;
        }
        // One letter in place of another single letter is no likeness at all.
        let alike = distance <= allowed && distance < longest;
        if alike && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

fn fold(word: &str) -> String {
    word.trim().to_lowercase().replace(['_', ' '], "-")
}

#[cfg(test)]
mod tests {
    use super::closest;

    #[test]
    fn finds_the_likely_word() {
        let names = ["cable-loss", "longest-run", "line-load", "air-absorption"];
        assert_eq!(closest("cabel-loss", names), Some("cable-loss"));
        assert_eq!(closest("Longest_Run", names), Some("longest-run"));
        assert_eq!(closest("air", names), Some("air-absorption"));
        assert_eq!(closest("zebra", names), None);
        assert_eq!(closest("", names), None);
    }

    #[test]
    fn single_letters_are_not_alike() {
        assert_eq!(closest("x", ["m", "V"]), None);
        assert_eq!(closest("M", ["m", "V"]), Some("m"));
    }
}
