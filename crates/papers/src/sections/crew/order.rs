//! The order of work: the steps of every stage, those left out that a job has nothing for.

use super::super::limits;
use crate::material::Material;
use loamline_model::document::Laying;

/// What a job must have for a step.
type Has = fn(&Material<'_>) -> bool;

/// Steps that only some jobs have: stage and step as they stand in the language file, from 1.
const ONLY_WITH: [(usize, usize, Has); 7] = [
    (1, 3, marks),
    (2, 2, drawn),
    (2, 4, staked),
    (2, 5, crossed),
    (2, 6, holes),
    (3, 1, taps),
    (AT_NEIGHBOURS.0, AT_NEIGHBOURS.1, neighbours),
];

/// The step that is taken at every neighbour.
const AT_NEIGHBOURS: (usize, usize) = (10, 4);

/// The steps of every stage, in the order of the stages.
pub fn order(m: &Material<'_>) -> Vec<Vec<String>> {
    let words = &m.options.words;
    let left_out = |stage: usize, step: usize| {
        ONLY_WITH.iter().any(|&(other, at, has)| (other, at) == (stage, step) && !has(m))
    };
    (1..=words.list("order.stage").len())
        .map(|stage| {
            let steps = words.list(&format!("order.steps_{stage}"));
            let kept = steps.into_iter().zip(1..).filter(|(_, step)| !left_out(stage, *step));
            kept.flat_map(|(text, step)| match (stage, step) {
                AT_NEIGHBOURS => limits::steps(m, &text),
                _ => vec![text],
            })
            .collect()
        })
        .collect()
}

fn marks(m: &Material<'_>) -> bool {
    m.job.document().marks.len() > 1
}

/// Whether new cable goes through a sleeve or a wall.
fn drawn(m: &Material<'_>) -> bool {
    m.results.runs.iter().any(|r| !r.is_existing() && (!r.sleeves.is_empty() || !r.through.is_empty()))
}

/// Whether cable is staked down.
pub fn staked(m: &Material<'_>) -> bool {
    m.ground.iter().any(|need| need.laying == Laying::Staked && need.length_m > 0.0)
}

fn crossed(m: &Material<'_>) -> bool {
    m.results.runs.iter().any(|r| !r.crosses.is_empty())
}

fn holes(m: &Material<'_>) -> bool {
    !m.holes.is_empty()
}

fn taps(m: &Material<'_>) -> bool {
    m.job.loudspeakers().any(|l| l.placed.tap_w.is_some())
}

fn neighbours(m: &Material<'_>) -> bool {
    !m.job.document().neighbours.is_empty()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::options::PackOptions;
    use crate::results::Results;
    use loamline_model::{SourceFile, read_job};

    fn steps_of(supply: &str, tap: &str, more: &str) -> Vec<Vec<String>> {
        let text = format!(
            "format = 1\n[job]\nname = \"Order\"\n[brief]\nsupply = \"{supply}\"\n[racks.R1]\nposition = [0, 0]\n\
             [amplifiers.P1]\nmodel = \"line-4x280\"\nrack = \"R1\"\n[channels.C1]\namplifier = \"P1\"\noutput = 1\n\
             [lines.A]\nchannel = \"C1\"\ncable = \"burial-2x14awg\"\n[lines.A.runs]\n\
             A1 = {{ from = \"R1\", to = \"L1\" }}\n\
             [loudspeakers.L1]\nmodel = \"stake-110-wide\"\nposition = [10, 0]\nline = \"A\"\n{tap}{more}"
        );
        let job = read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap();
        let (results, options) = (Results::runs_of(&job), PackOptions::usual().unwrap());
        order(&Material::gather(&job, &results, &options).unwrap())
    }

    /// What each step that may be left out speaks of, in the shipped words.
    const SPEAKS_OF: [&str; 7] =
        ["Fixed marks", "sleeves", "staked", "crossings", "Holes", "Every tap", "neighbour"];

    #[test]
    fn a_job_is_told_no_step_it_has_nothing_for() {
        let words = crate::words::Words::english().unwrap();
        for (&(stage, step, _), of) in ONLY_WITH.iter().zip(SPEAKS_OF) {
            let text = &words.list(&format!("order.steps_{stage}"))[step - 1];
            assert!(text.contains(of), "{stage}.{step}: {text}");
        }
        let plain = steps_of("low impedance", "", "").concat();
        for of in SPEAKS_OF {
            assert!(!plain.iter().any(|step| step.contains(of)), "{of}: {plain:?}");
        }
        let full = steps_of(
            "70.7 V",
            "tap = \"10 W\"\n",
            "[marks.M1]\nname = \"One\"\nposition = [0, 5]\n[marks.M2]\nname = \"Two\"\nposition = [9, 5]\n\
             [neighbours.N1]\nname = \"Next door\"\npoints = [[30, 0]]\nday = \"50 dBA\"\n\
             [services.W]\nkind = \"water\"\nline = [[5, -5], [5, 5]]\n",
        )
        .concat();
        for of in ["Fixed marks", "crossings", "Every tap", "neighbour"] {
            assert!(full.iter().any(|step| step.contains(of)), "{of}: {full:?}");
        }
        assert_eq!(full.len(), plain.len() + 4);
    }

    #[test]
    fn limits_at_a_neighbour_stand_beside_the_level_to_measure() {
        let steps = steps_of(
            "low impedance",
            "",
            "[neighbours.N1]\npoints = [[30, 0]]\nday = \"50 dBA\"\nday_63hz = \"61 dB\"\nnight = \"42 dBA\"\n\
             [neighbours.N2]\npoints = [[0, 30]]\nday = \"55 dBA\"\n",
        );
        let at: Vec<&String> = steps[9].iter().filter(|s| s.contains("at the neighbour")).collect();
        let [first, second] = at.as_slice() else { panic!("two neighbours: {at:?}") };
        for limit in [
            "N1",
            "at most 50 dBA by day",
            "at most 42 dBA by night",
            "61 dB in the 63 Hz octave by day and night",
        ] {
            assert!(first.contains(limit), "{limit}: {first}");
        }
        assert!(second.contains("N2") && second.contains("at most 55 dBA by day and night"), "{second}");
    }
}
