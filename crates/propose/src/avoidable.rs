//! What is left in a built design that a change within the brief may mend: loudspeakers that lose more than they may, and cable
//! laid in a way that the brief does not allow.

use loamline_model::document::Laying;
use loamline_study::Study;

/// Pieces of a run shorter than this are no way of laying of their own, metres: as findings have it.
const SHORTEST_M: f64 = 0.1;

/// What may be mended; less is better.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Avoidable {
    /// Loudspeakers that lose more on their line than the brief allows.
    losing: usize,
    /// Cable laid in ways that the brief does not allow, decimetres.
    forbidden_dm: u64,
}

impl Avoidable {
    /// What is left in a job as it lies.
    pub fn of(study: &Study) -> Self {
        let brief = &study.job().document().brief;
        let limit_db = brief.loss_limit_db;
        let lines = study.lines();
        let loads = lines.lines.values().flat_map(|l| &l.loads);
        let losing = loads.filter(|l| limit_db > 0.0 && l.loss_1khz_db > limit_db).count();
        let may = |l: Laying| l == Laying::Indoors || brief.laying.is_empty() || brief.laying.contains(&l);
        let runs = study.runs();
        let pieces = runs.iter().flat_map(|r| &r.pieces).filter(|p| p.length_m > SHORTEST_M);
        let forbidden_m: f64 = pieces.filter(|p| p.laying.is_some_and(|l| !may(l))).map(|p| p.length_m).sum();
        Self { losing, forbidden_dm: (10.0 * forbidden_m).round() as u64 }
    }

    /// Whether there is nothing to mend.
    pub fn is_nothing(self) -> bool {
        self == Self::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{Edit, JobFile, Operation, SourceFile, shipped_catalogue};
    use serde_json::json;

    const JOB: &str = include_str!("../../../examples/guesthouse-garden/job.toml");

    fn avoidable(path: &str, value: serde_json::Value) -> Avoidable {
        let source = SourceFile::new("job.toml", JOB);
        let mut file = JobFile::from_text(&source, shipped_catalogue().unwrap()).unwrap();
        file.apply(&Edit::new([Operation::Add { path: path.to_owned(), value, before: None }])).unwrap();
        Avoidable::of(&Study::new(file.job().clone()))
    }

    #[test]
    fn what_loses_too_much_and_what_is_laid_as_it_may_not_is_counted() {
        let usual = avoidable("/brief/loss_limit", json!("3 dB"));
        assert_eq!(usual.losing, 0, "no line of the example loses 3 dB");
        let strict = avoidable("/brief/loss_limit", json!("0.001 dB"));
        assert!(strict.losing > 0 && usual < strict, "every line loses a little");
        let clipped = avoidable("/brief/laying", json!(["clipped"]));
        assert!(clipped.forbidden_dm > 0, "the garden's cable lies in the ground");
    }
}
