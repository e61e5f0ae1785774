//! What the cables of a job are called on its papers, and which ones a line has.

use crate::words::Words;
use loamline_model::catalogue::{Cable, CableRating};
use loamline_model::{Job, LineView, Units};
use loamline_terms::gauge_of;

/// How cables are called: as the catalogue describes them or, for a reader of US units, as the trade there says it: gauge and
/// number of conductors, "14/2 direct burial".
#[derive(Clone, Copy)]
pub struct CableNames<'a> {
    pub job: &'a Job,
    pub words: &'a Words,
    pub units: Units,
}

impl CableNames<'_> {
    /// A cable's name. One whose conductors are of no gauge keeps its description.
    pub fn called(&self, cable: &Cable) -> String {
        let gauge = gauge_of(cable.conductor_mm2).filter(|gauge| self.units == Units::Us && *gauge > 0);
        let Some(gauge) = gauge else { return cable.description.clone() };
        let key = if cable.ratings.contains(&CableRating::Burial) {
            "cable.burial"
        } else if cable.ratings.contains(&CableRating::Conduit) {
            "cable.conduit"
        } else {
            "cable.other"
        };
        self.words.fill(key, &[("size", &format!("{gauge}/{}", cable.conductors))])
    }

    /// The name of a cable by its id in the catalogue.
    pub fn named(&self, id: &str) -> String {
        self.job.catalogue().cables.get(id).map_or_else(|| id.to_owned(), |c| self.called(c))
    }

    /// The cables that a job writes for a line, each once, in their order; the line's own where there are none.
    pub fn written(&self, line: &LineView<'_>) -> String {
        let mut names: Vec<String> = Vec::new();
        for name in self.job.runs(line.id).into_iter().map(|run| self.named(run.cable_id)) {
            if !names.contains(&name) {
                names.push(name);
            }
        }
        if names.is_empty() { self.called(line.cable) } else { names.join("; ") }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job, shipped_catalogue};

    #[test]
    fn a_cable_of_a_gauge_is_called_as_the_trade_says_it() {
        let text = "format = 1\n[job]\nname = \"Yard\"\n";
        let job =
            read_job(&SourceFile::new("job.toml", text), &[]).unwrap_or_else(|report| panic!("{report}"));
        let words = Words::english().unwrap();
        let shipped = shipped_catalogue().unwrap();
        let called =
            |units, id: &str| CableNames { job: &job, words: &words, units }.called(&shipped.cables[id]);
        assert_eq!(called(Units::Us, "burial-2x14awg"), "14/2 direct burial");
        assert_eq!(called(Units::Us, "burial-4x12awg"), "12/4 direct burial");
        assert_eq!(called(Units::Metric, "burial-2x14awg"), "Two conductors, 14 AWG, direct burial");
        // 2.5 mm2 lies between two gauges.
        assert_eq!(called(Units::Us, "burial-2x2.5mm2"), shipped.cables["burial-2x2.5mm2"].description);
    }
}
