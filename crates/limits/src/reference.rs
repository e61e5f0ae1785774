//! The table as a page for people: `docs/limits.md`.

use crate::table::rows;

/// The page in Markdown, ending with a line break.
pub fn reference() -> String {
    let mut page = String::from(
        "# How much of everything\n\n\
         What the program takes, and why not more. Whatever is sent, typed or read from a file is held against these \
         numbers before memory is asked for, so that nothing small ends the program and nobody's work is lost to \
         somebody else's. What is more is refused with the sentence shown (command line: exit code 2; HTTP: 4xx; live \
         channel: `refused`) or, where it says so, worked out more coarsely with a note, left to wait, cut short or let \
         go. Written from `crates/limits/src/table` by `loamline limits --markdown`.\n\n\
         | what | at most | why |\n|---|---:|---|\n",
    );
    for bound in rows() {
        page.push_str(&format!("| {} | {} | {} |\n", bound.of, bound.cell(), bound.reason));
    }
    page.push_str("\n## What is said\n\n");
    for bound in rows() {
        page.push_str(&format!("- **{}**: {}\n", bound.of, bound.told("N").replace("{found}", "N")));
    }
    page
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_in_docs_is_the_table() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/limits.md");
        let kept = std::fs::read_to_string(path).unwrap_or_default();
        assert!(
            kept == reference(),
            "docs/limits.md is out of date; run: ./run limits --markdown > docs/limits.md"
        );
    }
}
