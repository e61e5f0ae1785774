//! Where lines start, against every way of starting them tried one by one.
#![expect(clippy::unwrap_used, reason = "helpers of tests")]

mod common;

use common::on_two_channels;
use loamline_model::{Edit, Job, JobFile, Operation};
use loamline_study::{
    Routed, Severity, Study, route, route_each_alone_from_best_starts, route_from_best_starts,
};
use serde_json::json;

/// A house with the rack in its middle, an old cable of two pairs from there to the garden door on its north side, and two
/// lines: one north of the house, one south of it.
const HOUSE: &str = r#"
format = 1
[job]
name = "Rack in the middle"
[site]
outline = [[0, 0], [60, 0], [60, 60], [0, 60]]
[buildings.house]
outline = [[20, 20], [40, 20], [40, 40], [20, 40]]
height = 6
holes = HOLES
[racks.R1]
position = [30, 30]
[stubs.door]
position = [30, 40]
cable = "burial-4x14awg"
length = "12 m"
free_pairs = PAIRS
[loudspeakers.L1]
model = "stake-110-wide"
position = [30, 50]
tap = "10 W"
line = "north"
[loudspeakers.L2]
model = "stake-110-wide"
position = [30, 10]
tap = "10 W"
line = "south"
[lines.north]
channel = "C1"
cable = "burial-2x14awg"
[lines.south]
channel = "C2"
cable = "burial-2x14awg"
"#;

fn file(holes: bool, pairs: &str, passages: &str) -> JobFile {
    on_two_channels(&(HOUSE.replace("HOLES", &holes.to_string()).replace("PAIRS", pairs) + passages))
}

fn price(routed: &Routed) -> f64 {
    routed.groups.iter().map(|g| g.totals.price).sum()
}

/// The cheapest of all ways of starting the two lines, tried one by one; `None` where there is no way at all.
fn cheapest(file: &JobFile, pairs: usize) -> Option<f64> {
    let lines = ["north", "south"];
    let mut best: Option<f64> = None;
    for choice in 0..4usize {
        let at_stub: Vec<&str> = (0..2).filter(|i| choice >> i & 1 == 1).map(|i| lines[i]).collect();
        if at_stub.len() > pairs {
            continue;
        }
        let start = |line: &&str| Operation::Add {
            path: format!("/lines/{line}/start"),
            value: json!("door"),
            before: None,
        };
        let edit = Edit { operations: at_stub.iter().map(start).collect() };
        let Ok(routed) = route(&file.preview(&edit).unwrap()) else { continue };
        best = Some(best.map_or(price(&routed), |b: f64| b.min(price(&routed))));
    }
    best
}

fn starts(file: &JobFile, routed: &Routed) -> Vec<(String, Option<String>)> {
    let job = file.preview(&routed.edit).unwrap();
    job.document().lines.iter().map(|(id, l)| (id.clone(), l.start.clone())).collect()
}

#[test]
fn the_cheapest_starts_are_found() {
    for (holes, pairs) in [(true, 2), (true, 1), (false, 2)] {
        let file = file(holes, if pairs == 2 { "[1, 2]" } else { "[2]" }, "");
        let routed = route_from_best_starts(&file).unwrap_or_else(|e| panic!("{e}"));
        let least = cheapest(&file, pairs).unwrap();
        assert!((price(&routed) / least - 1.0).abs() < 1e-9, "{} against {least}", price(&routed));
        let starts = starts(&file, &routed);
        assert_eq!(starts[0].1.as_deref(), Some("door"), "the north line takes the old cable");
        if pairs == 2 && !holes {
            assert_eq!(starts[1].1.as_deref(), Some("door"), "nothing else leaves the house");
        }
    }
}

/// Two lines, each from the rack or from the cable at the door: there are no more than four ways, and the search comes by
/// some of them twice.
#[test]
fn each_way_of_starting_the_lines_is_routed_once_and_counted() {
    let two = route_each_alone_from_best_starts(&file(true, "[1, 2]", "")).unwrap_or_else(|e| panic!("{e}"));
    assert!((2..=4).contains(&two.ways), "{} ways", two.ways);
    let one = route_from_best_starts(&file(true, "[2]", "")).unwrap_or_else(|e| panic!("{e}"));
    assert!((2..=3).contains(&one.ways), "{} ways of one pair", one.ways);
    let without = HOUSE.replace("HOLES", "true").replace("PAIRS", "[1]").replace("length = \"12 m\"\n", "");
    let none = route_from_best_starts(&on_two_channels(&without)).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(none.ways, 1, "no line can be led from a cable whose length nobody knows");
}

#[test]
fn with_a_closed_house_and_one_pair_the_line_without_a_way_is_named() {
    let file = file(false, "[1]", "");
    assert!(cheapest(&file, 1).is_none());
    let told = route_from_best_starts(&file).unwrap_err().to_string();
    assert!(told.contains("the outer wall of building house"), "{told}");
}

#[test]
fn what_a_closed_house_keeps_in_is_told_once_with_the_cable_that_leads_out() {
    let more = "[loudspeakers.L3]\nmodel = \"stake-110-wide\"\nposition = [36, 50]\ntap = \"10 W\"\nline = \"north\"\n";
    let text = HOUSE.replace("HOLES", "false").replace("PAIRS", "[1, 2]").replace("length = \"12 m\"\n", "");
    let file = on_two_channels(&(text + more));
    assert_eq!(
        route_from_best_starts(&file).unwrap_err().to_string(),
        "There is no way for cable from the start of line north to loudspeakers L1 and L3: the outer wall of building \
         house stands in the way. Open a gap, add a sleeve or a passage, or allow a crossing; or measure the existing \
         cable at stub-out door from the rack, far end joined: once its length is known, lines can start there.\n\
         There is no way for cable from the start of line south to loudspeaker L2: the outer wall of building house \
         stands in the way. Open a gap, add a sleeve or a passage, or allow a crossing; or measure the existing cable at \
         stub-out door from the rack, far end joined: once its length is known, lines can start there."
    );
}

#[test]
fn what_is_routed_through_the_house_says_so() {
    let mut file = file(true, "[]", "");
    let routed = route_from_best_starts(&file).unwrap_or_else(|e| panic!("{e}"));
    file.apply(&routed.edit).unwrap();
    let study = Study::new(file.job().clone());
    let runs = study.runs();
    for run in runs.iter() {
        assert_eq!(run.through.len(), 1, "{run:?}");
        assert!(run.through[0].passage.is_none());
        let indoors: f64 = run
            .pieces
            .iter()
            .filter(|p| p.laying == Some(loamline_terms::Laying::Indoors))
            .map(|p| p.length_m)
            .sum();
        // Straight north and south: 10 m from the middle to the wall.
        assert!((indoors - 10.0).abs() < 0.15, "{run:?}");
    }
    let found = study.findings();
    let holes: Vec<_> =
        found.iter().filter(|f| f.sentence.contains("a new hole in the outer wall of house")).collect();
    assert_eq!(holes.len(), 2);
    assert!(holes.iter().all(|f| f.severity == Severity::Note));
}

#[test]
fn a_passage_is_used_counted_and_too_small_for_two() {
    let with = |inside_mm: u32| {
        let passage = format!("[passages.W1]\nposition = [40, 30]\ninside_diameter = \"{inside_mm} mm\"\n");
        let mut file = file(false, "[]", &passage);
        let routed = route(file.job()).unwrap_or_else(|e| panic!("{e}"));
        file.apply(&routed.edit).unwrap();
        file.job().clone()
    };
    // Two cables and a nipple's fill of 60 % (NEC Chapter 9, Table 1, Note 4).
    let cable_mm = |job: &Job| 1000.0 * job.catalogue().cables["burial-2x14awg"].outside_diameter_m;
    let needed_mm = cable_mm(&with(40)) * (2.0f64 / 0.6).sqrt();
    for (inside_mm, fits) in [(needed_mm.ceil() as u32, true), (needed_mm.floor() as u32, false)] {
        let study = Study::new(with(inside_mm));
        assert!(study.runs().iter().all(|r| r.through.iter().all(|o| o.passage.as_deref() == Some("W1"))));
        let small = study.findings().iter().any(|f| {
            f.severity == Severity::Error && f.about.table == "passages" && f.sentence.contains("too small")
        });
        assert_eq!(small, !fits, "{inside_mm} mm");
    }
}
