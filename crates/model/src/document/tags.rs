//! Tags of new runs of cable: made of their line's and a number, and no two of a job alike.

use super::JobDocument;

impl JobDocument {
    /// Everything a run can end at, by tag: loudspeakers, joints, racks and stubs.
    fn run_ends(&self) -> impl Iterator<Item = &String> {
        self.loudspeakers.keys().chain(self.joints.keys()).chain(self.racks.keys()).chain(self.stubs.keys())
    }

    fn is_run_end(&self, tag: &str) -> bool {
        self.loudspeakers.contains_key(tag)
            || self.joints.contains_key(tag)
            || self.racks.contains_key(tag)
            || self.stubs.contains_key(tag)
    }

    /// Tags for the runs of a line, in their order, as many as are asked for: `A1`, `A2`, ... of line A.
    ///
    /// A hyphen stands between where the line's tag ends in a digit or a hyphen, so that `A1-11` is of line A1 and `A11-1` of
    /// line A11, and where something a run can end at has such a tag (loudspeaker W1 on line W: `W-1`). So a tag is of one line
    /// only: without its number it ends in a hyphen, and what stands before that is the line, or it is the line itself. Numbers
    /// whose tag something else has are passed over.
    pub fn run_tags<'d>(&'d self, line: &'d str) -> impl Iterator<Item = String> + 'd {
        let looks_alike = |tag: &String| {
            let number = tag.strip_prefix(line).unwrap_or_default();
            !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit())
        };
        let ends_open = line.ends_with(|c: char| c.is_ascii_digit() || c == '-');
        let between = if ends_open || self.run_ends().any(looks_alike) { "-" } else { "" };
        (1_usize..).map(move |n| format!("{line}{between}{n}")).filter(move |tag| !self.is_run_end(tag))
    }
}

#[cfg(test)]
mod tests {
    use crate::{SourceFile, read_job};

    fn first(line: &str, more: &str) -> Vec<String> {
        let text = format!("format = 1\n[job]\nname = \"Tags\"\n{more}");
        let job = read_job(&SourceFile::new("job.toml", text), &[]).unwrap();
        job.document().run_tags(line).take(3).collect()
    }

    #[test]
    fn runs_are_numbered_along_their_line() {
        assert_eq!(first("A", ""), ["A1", "A2", "A3"]);
        assert_eq!(first("west", ""), ["west1", "west2", "west3"]);
    }

    #[test]
    fn a_line_that_ends_in_a_number_keeps_apart_from_its_runs() {
        assert_eq!(first("A1", ""), ["A1-1", "A1-2", "A1-3"]);
        assert_eq!(first("A11", "")[0], "A11-1");
        assert_eq!(first("A-", "")[0], "A--1");
    }

    #[test]
    fn what_runs_end_at_keeps_its_tags() {
        let racks = "[racks.W1]\nposition = [0, 0]\n";
        assert_eq!(first("W", racks), ["W-1", "W-2", "W-3"]);
        // A longer tag that only begins alike is no number.
        assert_eq!(first("W", "[racks.W1a]\nposition = [0, 0]\n")[0], "W1");
        let both = "[racks.W1]\nposition = [0, 0]\n[racks.W-2]\nposition = [9, 0]\n";
        assert_eq!(first("W", both), ["W-1", "W-3", "W-4"]);
    }

    /// No two lines can give one tag, whatever they are called: tried for all short names of two letters, digits and hyphens.
    #[test]
    fn no_tag_is_of_two_lines() {
        let letters = ['A', '1', '-'];
        let mut names: Vec<String> = letters.iter().map(char::to_string).collect();
        for _ in 0..2 {
            let longer: Vec<String> =
                names.iter().flat_map(|name| letters.map(|l| format!("{name}{l}"))).collect();
            names.extend(longer);
        }
        names.sort();
        names.dedup();
        let job =
            read_job(&SourceFile::new("job.toml", "format = 1\n[job]\nname = \"Tags\"\n"), &[]).unwrap();
        let mut seen = std::collections::BTreeMap::new();
        for name in &names {
            for tag in job.document().run_tags(name).take(120) {
                if let Some(other) = seen.insert(tag.clone(), name) {
                    panic!("{tag} is of line {other} and of line {name}");
                }
            }
        }
    }
}
