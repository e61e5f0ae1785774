//! How deep cable lies, by its way of laying: what is kept where nobody asks for more, and what the local code asks for as the
//! job states it. The local code decides.

use crate::measures::dimension;
use crate::words::Words;
use loamline_model::document::{Laying, LocalFigures};
use loamline_model::{Choice as _, Units};

/// Ground over cable where nobody asks for more, metres; `None` for ways that dig nothing. Common practice, no source: less is
/// met by an edging iron, an aerator or a border fork, more is work that brings nothing.
const fn usual_m(laying: Laying) -> Option<f64> {
    match laying {
        Laying::Slit => Some(0.15),
        Laying::Trench => Some(0.45),
        // Under the bed of the paving.
        Laying::LiftedPaving => Some(0.1),
        Laying::Staked | Laying::Clipped | Laying::Conduit | Laying::Indoors => None,
    }
}

/// The least that is asked for at this place, metres, where the job states it.
pub const fn asked_m(local: &LocalFigures, laying: Laying) -> Option<f64> {
    match laying {
        Laying::Slit => match local.slit_cover_m {
            Some(stated) => Some(stated),
            None => local.cable_cover_m,
        },
        Laying::Trench => local.cable_cover_m,
        Laying::LiftedPaving | Laying::Conduit => local.paving_cover_m,
        Laying::Staked | Laying::Clipped | Laying::Indoors => None,
    }
}

/// How deep cable lies, for a reader of some words and units.
pub struct Depths<'a> {
    pub words: &'a Words,
    pub units: Units,
    pub local: &'a LocalFigures,
}

impl Depths<'_> {
    /// Ground over cable laid so, as a figure: no less than is asked for here. `None` for ways that dig nothing.
    fn figure(&self, laying: Laying) -> Option<String> {
        let usual = usual_m(laying)?;
        Some(dimension(self.units, asked_m(self.local, laying).map_or(usual, |asked| asked.max(usual))))
    }

    /// How deep it lies, in words.
    pub fn lies(&self, laying: Laying) -> String {
        match self.figure(laying) {
            Some(figure) => self.words.fill("depth.over", &[("figure", &figure)]),
            None => self.words.get(&format!("depth.{}", laying.word())).to_owned(),
        }
    }

    /// What the local code asks for: as the job states it, else a line to write it on.
    pub fn asked(&self, laying: Laying) -> String {
        match asked_m(self.local, laying) {
            Some(metres) => self.words.fill("detail.at_least", &[("figure", &dimension(self.units, metres))]),
            None => self.words.get("depth.to_write_in").to_owned(),
        }
    }

    /// One line for a plan or a route sheet: the ways that dig, each with its figure, and who decides. Nothing where none digs.
    pub fn line(&self, ways: impl IntoIterator<Item = Laying>) -> Option<String> {
        let one = |laying: Laying| {
            let way = self.words.get(&format!("laying_short.{}", laying.word())).to_owned();
            Some(self.words.fill("depth.way", &[("way", &way), ("figure", &self.figure(laying)?)]))
        };
        let each: Vec<String> = ways.into_iter().filter_map(one).collect();
        (!each.is_empty()).then(|| self.words.fill("depth.line", &[("ways", &each.join(", "))]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{Job, SourceFile, read_job};

    fn job(local: &str) -> Job {
        let text = format!("format = 1\n[job]\nname = \"Yard\"\n[site.local]\n{local}");
        read_job(&SourceFile::new("job.toml", text), &[]).unwrap_or_else(|report| panic!("{report}"))
    }

    /// 150 mm are 5.9 in and 450 mm 17.7 in: half an inch above that is never less.
    #[test]
    fn what_is_asked_for_is_never_undercut() {
        let words = Words::english().unwrap();
        let said = |local: &str, units, laying| {
            let job = job(local);
            let depths = Depths { words: &words, units, local: &job.document().site.local };
            (depths.lies(laying), depths.asked(laying))
        };
        let (lies, asked) = said("", Units::Metric, Laying::Slit);
        assert!(lies.starts_with("150\u{a0}mm") && asked.contains("...."), "{lies}; {asked}");
        assert!(said("", Units::Us, Laying::Slit).0.starts_with("6\u{a0}in"));
        assert!(said("", Units::Us, Laying::Trench).0.starts_with("18\u{a0}in"));
        let (lies, asked) = said("cable_cover = \"60 cm\"", Units::Metric, Laying::Trench);
        assert!(lies.starts_with("600\u{a0}mm") && asked.contains("600\u{a0}mm"), "{lies}; {asked}");
        // Asked for less than is usual: the usual stays.
        assert!(said("slit_cover = \"5 cm\"", Units::Metric, Laying::Slit).0.starts_with("150\u{a0}mm"));
        for laying in [Laying::Staked, Laying::Clipped, Laying::Conduit, Laying::Indoors] {
            let (lies, _) = said("", Units::Metric, laying);
            assert!(!lies.starts_with("depth."), "{lies}");
        }
    }

    #[test]
    fn a_line_names_only_ways_that_dig() {
        let (words, job) = (Words::english().unwrap(), job(""));
        let depths = Depths { words: &words, units: Units::Metric, local: &job.document().site.local };
        let line = depths.line([Laying::Staked, Laying::Slit, Laying::Trench]).unwrap();
        assert!(
            line.contains("slit 150\u{a0}mm, trench 450\u{a0}mm") && line.contains("local code decides"),
            "{line}"
        );
        assert_eq!(depths.line([Laying::Staked, Laying::Clipped]), None);
    }
}
