//! Findings about runs that no spool holds.

use crate::finding::{Finding, Remedy, Severity, Subject};
use crate::routes::in_pieces;
use crate::spools::no_spool_holds;
use loamline_adapt::{LaidCable, LaidRun, laid_cables};
use loamline_model::Job;
use loamline_terms::{Measure, say};

/// Runs that no spool of their cable holds.
pub(crate) fn spool_findings(job: &Job, runs: &[LaidRun]) -> Vec<Finding> {
    let cables = laid_cables(job, runs);
    let long: Vec<(&LaidCable, f64, &LaidRun)> =
        cables.iter().filter_map(|c| Some((c, no_spool_holds(job, c)?, runs.get(c.lead)?))).collect();
    if long.is_empty() {
        return Vec::new();
    }
    let whole = in_pieces(job, runs).whole;
    let one = |(cable, spool_m, run): (&LaidCable, f64, &LaidRun)| {
        let sentence = say!(
            "Run {run} from {from} to {to} takes {length} of cable, and the longest spool of {cable} holds {spool}.",
            run = &cable.tag,
            from = &cable.from,
            to = &cable.to,
            length = Measure::Length(cable.order_m),
            cable = &cable.cable,
            spool = Measure::Length(spool_m)
        );
        Finding::new(Severity::Error, Subject::run(&run.line, &run.id), sentence)
            .mend(say!("Put a joint in it where the ground can be opened again, or use cable that is sold on longer spools."))
            .by((!whole.contains(&run.line)).then_some(Remedy::Routes))
    };
    long.into_iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_adapt::laid_runs;
    use loamline_model::{SourceFile, read_job};

    /// What is found of 400 m to a loudspeaker on spools of 250 m.
    fn found(ground: &str, run: &str) -> Vec<Finding> {
        let text = format!(
            "format = 1\n[job]\nname = \"Long\"\nunits = \"metric\"\n[site]\nground = \"{ground}\"\n\
             [racks.R1]\nposition = [0, 0]\n\
             [loudspeakers.L7]\nmodel = \"stake-110-wide\"\nposition = [400, 0]\ntap = \"10 W\"\nline = \"A\"\n\
             [lines.A]\nstart = \"R1\"\ncable = \"burial-2x4.0mm2\"\n\
             runs = {{ A3 = {{ from = \"R1\", to = \"L7\"{run} }} }}\n"
        );
        let job = read_job(&SourceFile::new("job.toml", text), &[]).unwrap();
        spool_findings(&job, &laid_runs(&job))
    }

    #[test]
    fn a_run_that_no_spool_holds_is_told_by_its_tag_and_ends() {
        let [one]: [Finding; 1] = found("soil", "").try_into().unwrap();
        let said = one.sentence.to_string();
        assert!(said.starts_with("Run A3 from R1 to L7 takes ") && said.contains("250"), "{said}");
        assert_eq!((one.severity, one.remedy), (Severity::Error, Some(Remedy::Routes)));
    }

    /// Where its way is a person's, or there is no place for a joint, to route it anew would mend nothing.
    #[test]
    fn what_no_route_mends_offers_none() {
        for (ground, run) in [("soil", ", fixed = true"), ("paving", "")] {
            let all = found(ground, run);
            assert!(all.len() == 1 && all.iter().all(|f| f.remedy.is_none()), "{ground}: {all:?}");
        }
        assert!(found("soil", ", existing = true").is_empty(), "it lies there already");
    }
}
