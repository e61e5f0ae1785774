//! The ledger of cables: lengths as they are cut, a run each, or the runs of several lines that lie in one cable. Whatever
//! says how much cable there is, or what is written on one, reads it here.
//!
//! The document gives every line its own runs. Where runs of two lines use different pairs of the same type of cable,
//! between the same two ends and on the same way, a crew pulls one cable (common practice, no source): it is cut,
//! laid, tied and tagged once, and every line in it has its pair there: its own number, or the one its run names. The
//! existing cable of a stub is one cable too, for all lines that come through it; it is not cut.

use crate::run::{ExistingRun, LaidRun};
use loamline_geometry::Point2;
use loamline_model::Job;
use serde::Serialize;

/// Ways nearer than this at every corner are the same way, metres: half a cable's thickness, well under what a crew
/// lays to.
const SAME_WAY_M: f64 = 0.01;

/// A length of cable.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LaidCable {
    /// Its tag: that of its run, or those of its runs joined by `+`.
    pub tag: String,
    /// Catalogue id.
    pub cable: String,
    /// The end nearer to the start of its lines.
    pub from: String,
    /// The end farther from it.
    pub to: String,
    /// What it carries, in the order of the pairs.
    pub carries: Vec<Carried>,
    /// Length along its way, metres.
    pub path_m: f64,
    /// Length that lies in the end, metres: way, rises and service loops, without the waste. The longest its runs ask for.
    pub laid_m: f64,
    /// Length to cut, metres: the longest its runs ask for.
    pub order_m: f64,
    /// Index among the runs of the one whose way it takes.
    pub lead: usize,
    /// Whether it was there already: neither bought, cut nor laid.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub existing: bool,
}

/// A line in a cable.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Carried {
    /// The line.
    pub line: String,
    /// Its run.
    pub run: String,
    /// Its pair of conductors, from 1.
    pub pair: u32,
}

impl LaidCable {
    /// The pair a line has in it, the first where it has several; `None` for a line that is not in it.
    pub fn pair_of(&self, line: &str) -> Option<u32> {
        self.carries.iter().find(|c| c.line == line).map(|c| c.pair)
    }

    /// Whether a run of a line lies in it.
    pub fn holds(&self, line: &str, run: &str) -> bool {
        self.carries.iter().any(|c| c.line == line && c.run == run)
    }

    /// Its lines, each once, in the order of the pairs.
    pub fn lines(&self) -> Vec<&str> {
        let mut lines: Vec<&str> = Vec::new();
        for carried in &self.carries {
            if !lines.contains(&carried.line.as_str()) {
                lines.push(&carried.line);
            }
        }
        lines
    }
}

/// The cables of a job, in the order of their first runs.
pub fn laid_cables(job: &Job, runs: &[LaidRun]) -> Vec<LaidCable> {
    let mut cables: Vec<LaidCable> = Vec::new();
    for (index, run) in runs.iter().enumerate() {
        if let Some(ExistingRun { stub: Some(stub), pairs, .. }) = &run.existing {
            cable_of_stub(&mut cables, index, run, stub, pairs);
            continue;
        }
        let pair = job.pair_of_run(&run.line, &run.id, &run.cable);
        let own = Carried { line: run.line.clone(), run: run.id.clone(), pair };
        let shared = cables.iter_mut().find(|c| {
            c.existing == run.is_existing()
                && c.cable == run.cable
                && c.carries.iter().all(|o| o.pair != pair)
                && same_way(&runs[c.lead], run)
        });
        match shared {
            Some(cable) => {
                cable.carries.push(own);
                cable.carries.sort_by_key(|c| c.pair);
                cable.order_m = cable.order_m.max(run.length.order_m);
                cable.laid_m = cable.laid_m.max(run.electrical_m());
                let tags: Vec<&str> = cable.carries.iter().map(|c| c.run.as_str()).collect();
                cable.tag = tags.join("+");
            }
            None => cables.push(LaidCable {
                tag: run.id.clone(),
                cable: run.cable.clone(),
                from: run.from.clone(),
                to: run.to.clone(),
                carries: vec![own],
                path_m: run.length.path_m,
                laid_m: run.electrical_m(),
                order_m: run.length.order_m,
                lead: index,
                existing: run.is_existing(),
            }),
        }
    }
    cables
}

/// The cable of a stub, once for all lines that come through it.
fn cable_of_stub(cables: &mut Vec<LaidCable>, index: usize, run: &LaidRun, stub: &str, pairs: &[u32]) {
    let own = pairs.iter().map(|&pair| Carried { line: run.line.clone(), run: run.id.clone(), pair });
    if let Some(cable) = cables.iter_mut().find(|c| c.existing && c.to == run.to && c.tag == stub) {
        cable.carries.extend(own);
        cable.carries.sort_by_key(|c| c.pair);
        return;
    }
    cables.push(LaidCable {
        tag: stub.to_owned(),
        cable: run.cable.clone(),
        from: run.from.clone(),
        to: run.to.clone(),
        carries: own.collect(),
        path_m: run.length.path_m,
        laid_m: run.electrical_m(),
        order_m: run.length.order_m,
        lead: index,
        existing: true,
    });
}

/// Whether two runs join the same two things on the same way, in the same direction.
fn same_way(a: &LaidRun, b: &LaidRun) -> bool {
    let near = |(p, q): (&Point2, &Point2)| p.distance(*q) <= SAME_WAY_M;
    a.from == b.from && a.to == b.to && a.way.len() == b.way.len() && a.way.iter().zip(&b.way).all(near)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::laid::laid_runs;
    use loamline_model::{SourceFile, read_job};

    fn cables(second_pair: u32, second_way: &str) -> Vec<LaidCable> {
        cables_of(text(second_pair, second_way))
    }

    fn cables_of(text: String) -> Vec<LaidCable> {
        let job = read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap();
        laid_cables(&job, &laid_runs(&job))
    }

    fn text(second_pair: u32, second_way: &str) -> String {
        format!(
            r#"
format = 1
[job]
name = "Two lines in one cable"
[racks.R1]
position = [0, 0]
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
[channels.C2]
amplifier = "P1"
output = 2
[joints.J1]
position = [10, 0]
[loudspeakers.L1]
model = "stake-110-wide"
position = [12, 3]
tap = "10 W"
line = "A"
[loudspeakers.L2]
model = "stake-110-wide"
position = [12, -3]
tap = "10 W"
line = "B"
[lines.A]
channel = "C1"
cable = "burial-4x14awg"
runs = {{ A1 = {{ from = "R1", to = "J1", via = [[5, 1]] }}, A2 = {{ from = "J1", to = "L1" }} }}
[lines.B]
channel = "C2"
cable = "burial-4x14awg"
pair = {second_pair}
runs = {{ B1 = {{ from = "J1", to = "R1", via = [{second_way}] }}, B2 = {{ from = "J1", to = "L2" }} }}
"#
        )
    }

    #[test]
    fn two_pairs_on_one_way_are_one_cable() {
        let all = cables(2, "[5, 1]");
        let tags: Vec<&str> = all.iter().map(|c| c.tag.as_str()).collect();
        assert_eq!(tags, ["A1+B1", "A2", "B2"]);
        assert_eq!((all[0].pair_of("A"), all[0].pair_of("B"), all[1].pair_of("B")), (Some(1), Some(2), None));
        assert_eq!((all[0].from.as_str(), all[0].to.as_str()), ("R1", "J1"));
        assert!(all[0].holds("B", "B1") && !all[0].holds("B", "A1") && !all[1].holds("B", "B1"));
        // One way of 2 sqrt(26) m; what lies is more by rises and loops, what is cut more again by the waste.
        assert!((all[0].path_m - 2.0 * 26.0_f64.sqrt()).abs() < 1e-9);
        assert!(all[0].path_m < all[0].laid_m && all[0].laid_m < all[0].order_m);
    }

    #[test]
    fn in_cable_of_one_pair_a_line_uses_that_pair() {
        let spur = r#"B2 = { from = "J1", to = "L2" }"#;
        let in_two_core = r#"B2 = { from = "J1", to = "L2", cable = "burial-2x14awg" }"#;
        let text = text(2, "[5, 1]");
        assert!(text.contains(spur));
        let all = cables_of(text.replace(spur, in_two_core));
        assert_eq!((all[0].pair_of("B"), all[2].pair_of("B")), (Some(2), Some(1)));
    }

    #[test]
    fn the_same_pair_or_another_way_is_a_cable_of_its_own() {
        assert_eq!(cables(1, "[5, 1]").len(), 4);
        assert_eq!(cables(2, "[5, 1.02]").len(), 4);
    }
}
