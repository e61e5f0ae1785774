//! The cable that a run of the search became.

use loamline_adapt::{LaidCable, LaidRun};

/// The cable that lies between two ends of a routed run, with its run; the search calls the start of a line by the line. `None` for a
/// joint that is tagged anew when it is written.
pub(super) fn cable_between<'c>(
    cables: &'c [LaidCable],
    laid: &'c [LaidRun],
    (from, to): (&str, &str),
) -> Option<(&'c LaidCable, &'c LaidRun)> {
    let joins = |r: &LaidRun| r.to == to && (r.from == from || r.line == from);
    let run = laid.iter().find(|r| joins(r))?;
    cables.iter().find(|c| c.holds(&run.line, &run.id)).map(|cable| (cable, run))
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_adapt::{laid_cables, laid_runs};
    use loamline_model::{SourceFile, read_job};

    /// Two lines in one cable of two pairs to a joint, by hand: the search knows its start as line D or line E, people by its tag.
    #[test]
    fn a_run_of_the_search_is_known_by_the_tag_on_its_cable() {
        let text = "format = 1\n[job]\nname = \"Tags\"\n[racks.R1]\nposition = [0, 0]\n[amplifiers.P1]\nmodel = \"line-4x280\"\n\
                    rack = \"R1\"\n[channels.C1]\namplifier = \"P1\"\noutput = 1\n[channels.C2]\namplifier = \"P1\"\noutput = 2\n\
                    [joints.J1]\nposition = [10, 0]\n[loudspeakers.L1]\nmodel = \"stake-110-wide\"\nposition = [12, 3]\n\
                    tap = \"10 W\"\nline = \"D\"\n[loudspeakers.L2]\nmodel = \"stake-110-wide\"\nposition = [12, -3]\n\
                    tap = \"10 W\"\nline = \"E\"\n[lines.D]\nchannel = \"C1\"\ncable = \"burial-4x14awg\"\n\
                    runs = { D1 = { from = \"R1\", to = \"J1\" }, D2 = { from = \"J1\", to = \"L1\" } }\n[lines.E]\n\
                    channel = \"C2\"\ncable = \"burial-4x14awg\"\npair = 2\n\
                    runs = { E1 = { from = \"R1\", to = \"J1\" }, E2 = { from = \"J1\", to = \"L2\" } }\n";
        let job = read_job(&SourceFile::new("job.toml", text), &[]).unwrap();
        let laid = laid_runs(&job);
        let cables = laid_cables(&job, &laid);
        let tag =
            |from: &str, to: &str| cable_between(&cables, &laid, (from, to)).map(|(c, _)| c.tag.as_str());
        assert_eq!(
            [tag("E", "J1"), tag("D", "J1"), tag("J1", "L2")],
            [Some("D1+E1"), Some("D1+E1"), Some("E2")]
        );
        assert_eq!(tag("D", "J7"), None);
    }
}
