//! Cable that lines share, and cable of single runs, against closed forms and all ways of choosing tried one by one.
#![expect(clippy::unwrap_used, clippy::panic, reason = "helpers of tests")]

mod common;

use common::on_two_channels;
use loamline_adapt::{laid_cables, laid_runs};
use loamline_model::{Edit, Job, JobFile, Operation};
use loamline_study::{Routed, Study, route};
use rust_decimal::prelude::ToPrimitive;
use serde_json::json;

fn routed(text: &str) -> (JobFile, Routed) {
    let mut file = on_two_channels(text);
    let routed = route(file.job()).unwrap_or_else(|e| panic!("{e}"));
    file.apply(&routed.edit).unwrap_or_else(|e| panic!("{e}"));
    (file, routed)
}

/// Tags of cables that several lines lie in.
fn shared(job: &Job) -> Vec<String> {
    let cables = laid_cables(job, &laid_runs(job));
    cables.into_iter().filter(|c| c.lines().len() > 1).map(|c| c.tag).collect()
}

/// Two lines from a rack in a bed, where cable is staked, each to one loudspeaker: `away` metres off, 1 m to either side.
fn two_lines(away: f64, lines: &str) -> String {
    format!(
        r#"
format = 1
[job]
name = "Two lines side by side"
[brief]
loss_limit = "3 dB"
[site]
outline = [[0, 0], [60, 0], [60, 30], [0, 30]]
ground = "bed"
[racks.R1]
position = [2, 15]
[loudspeakers.L1]
model = "stake-110-wide"
position = [{x}, 16]
tap = "10 W"
line = "A"
[loudspeakers.L2]
model = "stake-110-wide"
position = [{x}, 14]
tap = "10 W"
line = "B"
{lines}"#,
        x = 2.0 + away
    )
}

const LINES: &str = r#"
[lines.A]
channel = "C1"
cable = "burial-2x14awg"
[lines.B]
channel = "C2"
cable = "burial-2x14awg"
"#;

/// Cross-section of 14 AWG (ASTM B258: 0.0641 in across).
const AWG14_MM2: f64 = 2.081;

/// What things cost in a quotation, out of the catalogue that ships.
struct Prices<'j>(&'j Job);

impl Prices<'_> {
    fn with_margin(&self, material: f64) -> f64 {
        material * (1.0 + self.0.catalogue().prices.as_ref().unwrap().material_margin)
    }
    fn labour(&self, seconds: f64) -> f64 {
        self.0.catalogue().prices.as_ref().unwrap().labour_per_hour.to_f64().unwrap() * seconds / 3600.0
    }
    fn cable(&self, id: &str) -> f64 {
        self.with_margin(self.0.catalogue().cables[id].price_per_m.to_f64().unwrap())
    }
    fn staked(&self) -> f64 {
        let p = &self.0.catalogue().prices.as_ref().unwrap().laying["staked"];
        self.with_margin(p.material_per_m.to_f64().unwrap()) + self.labour(p.labour_s_per_m)
    }
    fn task(&self, id: &str) -> f64 {
        let t = &self.0.catalogue().prices.as_ref().unwrap().tasks[id];
        self.with_margin(t.material.to_f64().unwrap()) + self.labour(t.labour_s)
    }
    /// The cheapest connector for so many wires of 14 AWG.
    fn connector(&self, wires: u32) -> f64 {
        let holds = |c: &&loamline_model::catalogue::Connector| {
            c.gel_filled && c.conductors >= wires && c.smallest_mm2 < AWG14_MM2 && c.largest_mm2 > AWG14_MM2
        };
        let fitting = self.0.catalogue().connectors.values().filter(holds);
        self.with_margin(fitting.map(|c| c.price.to_f64().unwrap()).fold(f64::INFINITY, f64::min))
    }
}

/// The least cost of the two lines apart, and through a trunk: over every place of the joint on the axis, by the centimetre
/// (the two lines are mirror images of each other, so that it is there).
fn apart_and_together(job: &Job, away: f64) -> (f64, f64) {
    let (p, prices) = (Prices(job), job.catalogue().prices.as_ref().unwrap());
    let (loops, waste) = (2.0 * prices.service_loop_m, 1.0 + prices.waste);
    let rise =
        |id: &str| job.loudspeaker(id).map_or(job.document().racks["R1"].height_m, |l| l.height_m.max(0.0));
    let run = |m: f64, rises: f64, cable: &str| m * p.staked() + (m + rises + loops) * waste * p.cable(cable);
    let at_a_loudspeaker = p.task("joint") + p.task("strain-tie") + 2.0 * p.connector(2);
    let apart = 2.0 * (run(away.hypot(1.0), rise("R1") + rise("L1"), "burial-2x14awg") + at_a_loudspeaker);
    let through = |x: f64| {
        run(x, rise("R1"), "burial-4x14awg")
            + p.task("joint")
            + 3.0 * p.task("strain-tie")
            + 4.0 * p.connector(2)
            + 2.0 * (run((away - x).hypot(1.0), rise("L1"), "burial-2x14awg") + at_a_loudspeaker)
    };
    let steps = (100.0 * away) as u32;
    let together = (1..=steps).map(|cm| through(f64::from(cm) / 100.0)).fold(f64::INFINITY, f64::min);
    (apart, together)
}

#[test]
fn two_lines_share_a_trunk_where_the_whole_cost_falls_by_it() {
    let job = on_two_channels(&two_lines(10.0, LINES)).job().clone();
    // The distance at which both cost the same.
    let (mut near, mut far) = (3.0, 50.0);
    while far - near > 0.01 {
        let middle = 0.5 * (near + far);
        let (apart, together) = apart_and_together(&job, middle);
        if together < apart { far = middle } else { near = middle }
    }
    for (away, shares) in [(0.9 * near, false), (1.1 * near, true), (3.0 * near, true)] {
        let (file, routed) = routed(&two_lines(away, LINES));
        let (apart, together) = apart_and_together(&job, away);
        assert_eq!(!shared(file.job()).is_empty(), shares, "{away} m: {apart} against {together}");
        let least = apart.min(together);
        assert!((routed.cost / least - 1.0).abs() < 0.002, "{away} m: {} against {least}", routed.cost);
        // Each line keeps a pair of its own, and the cable behind the joint has no pair to spare.
        for cable in laid_cables(file.job(), &laid_runs(file.job())) {
            let pairs: Vec<u32> = cable.carries.iter().map(|c| c.pair).collect();
            let expected: &[u32] = if cable.carries.len() == 2 { &[1, 2] } else { &[1] };
            assert_eq!(pairs, expected, "{}", cable.tag);
            let conductors = file.job().catalogue().cables[&cable.cable].conductors;
            assert_eq!(conductors as usize, 2 * cable.carries.len(), "{}", cable.tag);
        }
        // Its lines are as they should be; the channels have no settings yet.
        let found = Study::new(file.job().clone()).findings();
        let of_lines = found.iter().filter(|f| f.about.table == "lines");
        assert!(of_lines.clone().all(|f| f.severity < loamline_study::Severity::Error));
        // Routed again, nothing changes.
        let again = route(file.job()).unwrap_or_else(|e| panic!("{e}"));
        assert!((again.cost - routed.cost).abs() < 0.01, "{} after {}", again.cost, routed.cost);
    }
}

#[test]
fn a_trunk_that_a_person_fixed_stays_and_its_joint_with_it() {
    for (marks, second) in [("fixed = true", ", fixed = true"), ("existing = true", ", existing = true")] {
        let lines = format!(
            r#"
[joints.J1]
position = [8, 17]
[lines.A]
channel = "C1"
cable = "burial-4x14awg"
[lines.A.runs]
A1 = {{ from = "R1", to = "J1", via = [[4, 17]], {marks} }}
A2 = {{ from = "J1", to = "L1" }}
[lines.B]
channel = "C2"
cable = "burial-4x14awg"
pair = 2
[lines.B.runs]
B1 = {{ from = "R1", to = "J1", via = [[4, 17]]{second} }}
B2 = {{ from = "J1", to = "L2" }}
"#
        );
        let (file, routed) = routed(&two_lines(10.0, &lines));
        assert_eq!(shared(file.job()), ["A1+B1"], "{marks}");
        let runs = laid_runs(file.job());
        for (line, loudspeaker) in [("A", "L1"), ("B", "L2")] {
            let own: Vec<_> = runs.iter().filter(|r| r.line == line).collect();
            let ends: Vec<_> = own.iter().map(|r| (r.from.as_str(), r.to.as_str())).collect();
            assert_eq!(ends, [("R1", "J1"), ("J1", loudspeaker)]);
            let way: Vec<(f64, f64)> = own[0].way.iter().map(|p| (p.x, p.y)).collect();
            assert_eq!(way, [(2.0, 15.0), (4.0, 17.0), (8.0, 17.0)]);
            assert_eq!(own[1].cable, "burial-2x14awg", "one pair goes on");
        }
        assert!(routed.findings.is_empty(), "{:?}", routed.findings);
        let again = route(file.job()).unwrap_or_else(|e| panic!("{e}"));
        assert!((again.cost - routed.cost).abs() < 0.01);
    }
}

#[test]
fn a_fixed_run_through_a_joint_of_one_line_is_kept() {
    // The line goes through J1 though L1 is nearer without it.
    let lines = r#"
[joints.J1]
position = [8, 20]
[lines.A]
channel = "C1"
cable = "burial-2x14awg"
[lines.A.runs]
A1 = { from = "R1", to = "J1", fixed = true }
A2 = { from = "J1", to = "L1", fixed = true }
[lines.B]
channel = "C2"
cable = "burial-2x14awg"
"#;
    let (file, _) = routed(&two_lines(10.0, lines));
    let runs = laid_runs(file.job());
    let ends: Vec<_> =
        runs.iter().filter(|r| r.line == "A").map(|r| (r.from.as_str(), r.to.as_str())).collect();
    assert_eq!(ends, [("R1", "J1"), ("J1", "L1")]);
}

/// A chain of four loudspeakers in a row, 30 m apart, in cable of 12 AWG; another line has 14 and 16 AWG.
fn row(limit_db: f64) -> String {
    let loudspeakers: String = (1..=4)
        .map(|i| {
            let x = 2.0 + 30.0 * f64::from(i);
            format!("[loudspeakers.L{i}]\nmodel = \"stake-165-wide\"\nposition = [{x}, 15]\ntap = \"40 W\"\nline = \"A\"\n")
        })
        .collect();
    format!(
        r#"
format = 1
[job]
name = "A row of four"
[brief]
supply = "70.7 V"
loss_limit = "{limit_db} dB"
[site]
outline = [[0, 0], [130, 0], [130, 30], [0, 30]]
[racks.R1]
position = [2, 15]
[lines.A]
channel = "C1"
cable = "burial-2x12awg"
[lines.B]
channel = "C2"
cable = "burial-2x14awg"
[lines.B.runs]
B1 = {{ from = "R1", to = "L9", cable = "burial-2x16awg" }}
[loudspeakers.L9]
model = "stake-110-wide"
position = [2, 10]
tap = "10 W"
line = "B"
{loudspeakers}"#
    )
}

/// Whether a gel-filled connector of the catalogue takes both conductors.
fn a_connector_holds(job: &Job, two: &[&str]) -> bool {
    let size = |id: &str| job.catalogue().cables[id].conductor_mm2;
    let (thin, thick) = (size(two[0]).min(size(two[1])), size(two[0]).max(size(two[1])));
    let mut all = job.catalogue().connectors.values();
    all.any(|c| c.gel_filled && c.smallest_mm2 <= thin && thick <= c.largest_mm2)
}

/// What the worst loudspeaker of line A loses in the cable, dB.
fn worst_db(job: &Job) -> f64 {
    let lines = Study::new(job.clone()).lines();
    lines.lines["A"].loads.iter().map(|l| l.loss_1khz_db).fold(0.0, f64::max)
}

#[test]
fn the_cable_behind_a_joint_is_the_cheapest_whose_loss_the_brief_allows() {
    let types = ["burial-2x12awg", "burial-2x14awg", "burial-2x16awg"];
    let mut seen = std::collections::BTreeSet::new();
    for limit_db in [0.3, 0.34, 0.36, 0.39, 0.42, 0.5, 3.0] {
        let (file, _) = routed(&row(limit_db));
        let job = file.job();
        let runs: Vec<_> = laid_runs(job).into_iter().filter(|r| r.line == "A").collect();
        let price = |m: f64, id: &str| m * job.catalogue().cables[id].price_per_m.to_f64().unwrap();
        // All 27 ways of choosing the three runs behind a joint, each put into the job and solved as the network it is.
        let mut least = f64::INFINITY;
        for choice in 0..27usize {
            let cables = [types[0], types[choice % 3], types[choice / 3 % 3], types[choice / 9]];
            if !cables.windows(2).all(|two| a_connector_holds(job, two)) {
                continue;
            }
            let operations = runs.iter().zip(cables).map(|(r, id)| Operation::Add {
                path: format!("/lines/A/runs/{}/cable", r.id),
                value: json!(id),
                before: None,
            });
            let mut other = routed(&row(limit_db)).0;
            other.apply(&Edit { operations: operations.collect() }).unwrap();
            if choice == 0 || worst_db(other.job()) <= limit_db {
                least = least.min(runs.iter().zip(cables).map(|(r, id)| price(r.length.order_m, id)).sum());
            }
        }
        let taken: f64 = runs.iter().map(|r| price(r.length.order_m, &r.cable)).sum();
        let worst = worst_db(job);
        let chosen: Vec<&str> = runs.iter().map(|r| r.cable.as_str()).collect();
        assert!(
            taken >= least - 1e-9 && taken <= least * 1.02,
            "{limit_db} dB: {taken} against {least}: {chosen:?}"
        );
        assert!(
            chosen.iter().all(|c| *c == types[0]) || worst <= limit_db,
            "{worst} dB of {limit_db}: {chosen:?}"
        );
        assert_eq!(chosen[0], types[0], "the cable from the rack is the line's");
        seen.insert(chosen.join(" "));
    }
    assert!(seen.len() >= 3, "{seen:?}");
}
