//! Lists of tags as people write them.

use std::cmp::Ordering;

/// Shortest row of tags that is written as a range: `L1, L2` stays as it is.
const SHORTEST_RANGE: usize = 3;

/// The order of tags that nothing else puts in order: letters as letters, numbers as numbers, `T2` before `T10`.
pub fn natural(a: &str, b: &str) -> Ordering {
    let digits = |text: &str| text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    let (mut a, mut b) = (a, b);
    loop {
        let (m, n) = (digits(a), digits(b));
        if m > 0 && n > 0 {
            let ((x, rest_a), (y, rest_b)) = (a.split_at(m), b.split_at(n));
            let (x, y) = (x.trim_start_matches('0'), y.trim_start_matches('0'));
            let order = x.len().cmp(&y.len()).then(x.cmp(y)).then(m.cmp(&n));
            if order != Ordering::Equal {
                return order;
            }
            (a, b) = (rest_a, rest_b);
            continue;
        }
        let (mut letters_a, mut letters_b) = (a.chars(), b.chars());
        match (letters_a.next(), letters_b.next()) {
            (None, None) => return Ordering::Equal,
            (x, y) if x != y => return x.cmp(&y),
            _ => (a, b) = (letters_a.as_str(), letters_b.as_str()),
        }
    }
}

/// A tag split into what stands before its number and the number; none for a tag without one, or with a leading zero.
fn split(tag: &str) -> Option<(&str, u64)> {
    let digits = tag.len() - tag.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let (stem, number) = tag.split_at(tag.len() - digits);
    let number = if number.len() > 1 && number.starts_with('0') { None } else { number.parse().ok() };
    number.map(|n| (stem, n))
}

/// Tags with a comma between, rows of numbers as ranges: `L1 to L4, L10, L11, S1`, with `to` as the word between.
pub fn listed(tags: &[&str], to: &str) -> String {
    let mut parts: Vec<String> = Vec::new();
    let mut rest = tags;
    while let [first, after @ ..] = rest {
        let follows = |(k, tag): (usize, &&str)| match (split(first), split(tag)) {
            (Some((stem, n)), Some((other, m))) => stem == other && m == n + k as u64 + 1,
            _ => false,
        };
        let row = 1 + after.iter().enumerate().take_while(|&(k, tag)| follows((k, tag))).count();
        if row >= SHORTEST_RANGE {
            parts.push(format!("{first}{to}{}", rest[row - 1]));
        } else {
            parts.extend(rest[..row].iter().map(|tag| (*tag).to_owned()));
        }
        rest = &rest[row..];
    }
    parts.join(", ")
}

#[cfg(test)]
mod tests {
    use super::{listed, natural};

    #[test]
    fn numbers_in_tags_are_numbers() {
        let mut tags = ["T10", "t1a", "T2", "A2-10", "A2-9", "T", "T02", "T2b"];
        tags.sort_by(|a, b| natural(a, b));
        assert_eq!(tags, ["A2-9", "A2-10", "T", "T2", "T2b", "T02", "T10", "t1a"]);
    }

    #[test]
    fn rows_of_numbers_are_ranges() {
        let list = |tags: &[&str]| listed(tags, " to ");
        assert_eq!(list(&["L1", "L2", "L3", "L4", "L10", "L11", "S1"]), "L1 to L4, L10, L11, S1");
        assert_eq!(list(&["WP-9", "WP-10", "WP-11", "W1"]), "WP-9 to WP-11, W1");
        assert_eq!(list(&["L01", "L02", "L03", "west", "east"]), "L01, L02, L03, west, east");
        assert_eq!(list(&["L3", "L2", "L1"]), "L3, L2, L1");
        assert_eq!(list(&[]), "");
    }
}
