//! Tags of new runs of cable, made of their line's and a number, and of new outputs: no two of a job alike.

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

    /// Outputs and inputs, by tag: what a label at an amplifier says.
    fn is_at_an_amplifier(&self, tag: &str) -> bool {
        self.channels.contains_key(tag) || self.leads.contains_key(tag)
    }

    /// Tags for the runs of a line, in their order, as many as are asked for: `A1`, `A2`, ... of line A.
    ///
    /// A hyphen stands between where the line's tag ends in a digit or a hyphen, so that `A1-11` is of line A1 and `A11-1` of
    /// line A11, and where something a run can end at has such a tag (loudspeaker W1 on line W: `W-1`), or an output or an input
    /// (output C1 and line C: `C-1`), unless the line has runs without it: cable that is laid keeps its tags. So a tag is of one
    /// line only: without its number it ends in a hyphen, and what stands before that is the line, or it is the line itself.
    /// Numbers whose tag something else has are passed over.
    pub fn run_tags<'d>(&'d self, line: &'d str) -> impl Iterator<Item = String> + 'd {
        let looks_alike = |tag: &String| {
            let number = tag.strip_prefix(line).unwrap_or_default();
            !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit())
        };
        let ends_open = line.ends_with(|c: char| c.is_ascii_digit() || c == '-');
        let laid = self.lines.get(line).map(|l| &l.runs);
        let laid_without = laid.is_some_and(|runs| runs.keys().any(looks_alike));
        let at_amplifiers = self.channels.keys().chain(self.leads.keys()).any(looks_alike);
        let apart = ends_open || self.run_ends().any(looks_alike) || (at_amplifiers && !laid_without);
        let between = if apart { "-" } else { "" };
        let is_laid = move |tag: &str| laid.is_some_and(|runs| runs.contains_key(tag));
        let free =
            move |tag: &String| !self.is_run_end(tag) && (!self.is_at_an_amplifier(tag) || is_laid(tag));
        (1_usize..).map(move |n| format!("{line}{between}{n}")).filter(free)
    }

    /// Tags for outputs, as many as are asked for: `C1`, `C2`, ..., without those that an input, a cable or anything it can end
    /// at has.
    pub fn output_tags(&self) -> impl Iterator<Item = String> + '_ {
        let is_laid = move |tag: &String| self.lines.values().any(|l| l.runs.contains_key(tag));
        let free =
            move |tag: &String| !self.is_run_end(tag) && !self.leads.contains_key(tag) && !is_laid(tag);
        (1_usize..).map(|n| format!("C{n}")).filter(free)
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

    /// An amplifier with these outputs, in a rack, and loudspeakers L1 and L2 on line C, whose runs are given.
    fn outputs(tags: &[&str], runs: &str) -> String {
        let mut text =
            "[racks.R1]\nposition = [0, 0]\n[amplifiers.P1]\nmodel = \"line-4x280\"\nrack = \"R1\"\n"
                .to_owned();
        for (i, tag) in tags.iter().enumerate() {
            text += &format!("[channels.{tag}]\namplifier = \"P1\"\noutput = {}\n", i + 1);
        }
        if !runs.is_empty() {
            for (tag, x) in [("L1", 12), ("L2", 20)] {
                text += &format!(
                    "[loudspeakers.{tag}]\nmodel = \"stake-110-wide\"\nposition = [{x}, 3]\ntap = \"10 W\"\nline = \"C\"\n"
                );
            }
            text += &format!(
                "[lines.C]\nchannel = \"{}\"\ncable = \"burial-2x2.5mm2\"\n[lines.C.runs]\n{runs}",
                tags[0]
            );
        }
        text
    }

    /// The runs of line C to its two loudspeakers, tagged as given.
    fn runs(one: &str, other: &str) -> String {
        format!("{one} = {{ from = \"R1\", to = \"L1\" }}\n{other} = {{ from = \"L1\", to = \"L2\" }}\n")
    }

    #[test]
    fn outputs_and_inputs_keep_their_tags() {
        let two = outputs(&["C1", "C2"], "");
        assert_eq!(first("C", &two), ["C-1", "C-2", "C-3"]);
        assert_eq!(first("A", &two), ["A1", "A2", "A3"]);
        assert_eq!(first("C", &outputs(&["C-2", "C1"], "")), ["C-1", "C-3", "C-4"]);
        let lead = "[sources.player]\nkind = \"player\"\nrack = \"R1\"\nsignal = \"mono\"\noutput = \"unbalanced\"\n\
                    connector = \"phono\"\n[leads.W1]\nsource = \"player\"\namplifier = \"P1\"\ninput = 1\n";
        assert_eq!(first("W", &(outputs(&["out"], "") + lead)), ["W-1", "W-2", "W-3"]);
    }

    /// Cable that is laid keeps its tags whatever outputs are called; one more run gets one that is free.
    #[test]
    fn cable_that_is_laid_keeps_its_tags() {
        let three = ["C1", "C2", "C3"];
        assert_eq!(first("C", &outputs(&three, &runs("C1", "C2"))), ["C1", "C2", "C4"]);
        assert_eq!(first("C", &outputs(&three, &runs("C-1", "C-2"))), ["C-1", "C-2", "C-3"]);
    }

    #[test]
    fn outputs_leave_their_tags_to_what_has_them() {
        let tags = |more: &str| {
            let text = format!("format = 1\n[job]\nname = \"Tags\"\n{more}");
            let job = read_job(&SourceFile::new("job.toml", text), &[]).unwrap();
            job.document().output_tags().take(3).collect::<Vec<_>>()
        };
        assert_eq!(tags(""), ["C1", "C2", "C3"]);
        assert_eq!(tags("[joints.C2]\nposition = [0, 0]\n"), ["C1", "C3", "C4"]);
        assert_eq!(tags(&outputs(&["out"], &runs("C1", "C3"))), ["C2", "C4", "C5"]);
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
