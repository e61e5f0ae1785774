//! Routing the example jobs: the edit leads to a job that loads, holds its limits and keeps clear of what is buried.

mod common;

use common::on_two_channels;
use loamline_model::JobFile;
use loamline_routing::Method;
use loamline_study::{Severity, Study, route};
use std::path::Path;

fn example(name: &str) -> JobFile {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    match JobFile::open(&folder) {
        Ok(job) => job,
        Err(e) => unreachable!("{name} ships with the program and must load: {e}"),
    }
}

#[test]
fn routed_examples_load_again_and_have_no_errors() {
    for name in ["guesthouse-garden", "walled-courtyard", "quayside-hotel"] {
        let mut file = example(name);
        let started = std::time::Instant::now();
        let routed = match route(file.job()) {
            Ok(r) => r,
            Err(e) => panic!("{name}: {e}"),
        };
        let before: f64 = Study::new(file.job().clone()).runs().iter().map(|r| r.length.order_m).sum();
        println!("{name}: {:.0} ms", 1000.0 * started.elapsed().as_secs_f64());
        file.apply(&routed.edit).unwrap_or_else(|e| panic!("{name}: {e}"));
        let study = Study::new(file.job().clone());
        let after: f64 = study.runs().iter().map(|r| r.length.order_m).sum();
        println!("{name}: {before:.0} m before, {after:.0} m after");
        let everyone = study.job().document().loudspeakers.len();
        assert_eq!(study.lines().loudspeakers.len(), everyone, "{name}: every loudspeaker is reached");
        for f in routed.findings.iter().chain(&*study.findings()) {
            println!("{name} {}: {}", f.severity.word(), f.sentence);
            assert!(f.severity < Severity::Error, "{name}: {}", f.sentence);
        }
    }
}

/// Two lines of different cable side by side from one rack, and a loudspeaker on no line beside the second.
const TWO_CABLES: &str = r#"
format = 1
[job]
name = "Two cables on one way"
[site]
outline = [[0, 0], [60, 0], [60, 30], [0, 30]]
[racks.R1]
position = [2, 15]
[loudspeakers.L1]
model = "stake-110-wide"
position = [40, 15]
tap = "10 W"
line = "A"
[loudspeakers.L2]
model = "stake-110-wide"
position = [50, 15.5]
tap = "10 W"
line = "B"
[loudspeakers.L3]
model = "stake-110-wide"
position = [55, 16]
tap = "10 W"
[lines.A]
channel = "C1"
cable = "burial-2x14awg"
[lines.B]
channel = "C2"
cable = "burial-2x12awg"
"#;

#[test]
fn lines_of_different_cable_share_a_trench_and_the_nearest_takes_the_one_without_a_line() {
    let file = on_two_channels(TWO_CABLES);
    let routed = route(file.job()).unwrap_or_else(|e| panic!("{e}"));
    let on = |line: &str| {
        let lines = routed.groups.iter().flat_map(|g| &g.lines).filter(|l| l.id == line);
        lines.flat_map(|l| &l.runs).map(|r| r.to.clone()).collect::<Vec<_>>()
    };
    assert_eq!((on("A"), on("B")), (vec!["L1".to_owned()], vec!["L2".to_owned(), "L3".to_owned()]));
    // 38 m from rack to L1 and about 15 m from there to L3: dug once for both.
    let dug: f64 = routed.groups.iter().flat_map(|g| g.totals.by_method_m.values()).sum();
    assert!((52.0..58.0).contains(&dug), "{dug} m dug");
}

/// Lines of two types of cable side by side over a bed, where cable is staked, and lawn, where it is laid in a slit.
fn bed_and_lawn(bed_to: f64) -> String {
    let surface = |id: &str, from: f64, to: f64, kind: &str| {
        format!(
            "[surfaces.{id}]\noutline = [[{from}, 0], [{to}, 0], [{to}, 30], [{from}, 30]]\nkind = \"{kind}\"\n"
        )
    };
    let placed = TWO_CABLES.replace("[40, 15]", "[16, 15]").replace("[50, 15.5]", "[16, 15.3]");
    let (last, lines) = (placed.find("[loudspeakers.L3]"), placed.find("[lines.A]"));
    let (Some(last), Some(lines)) = (last, lines) else { unreachable!("the job has both") };
    placed[..last].to_owned()
        + &placed[lines..]
        + &surface("bed", 0.0, bed_to, "bed")
        + &surface("lawn", bed_to, 60.0, "lawn")
}

#[test]
fn cable_of_another_type_shares_the_slit_of_a_leg_and_never_its_stakes() {
    // Rack at 2 m, loudspeakers at 16 m, 0.3 m apart. Stakes are driven for every cable, a slit is cut once.
    for bed_to in [12.0, 6.0] {
        let file = on_two_channels(&bed_and_lawn(bed_to));
        let routed = route(file.job()).unwrap_or_else(|e| panic!("{e}"));
        let metres = |method| {
            let groups = routed.groups.iter();
            groups.map(|g| g.totals.by_method_m.get(&method).copied().unwrap_or(0.0)).sum::<f64>()
        };
        let (staked, slit) = (metres(Method::Staked), metres(Method::Slit));
        assert!((staked - 2.0 * (bed_to - 2.0)).abs() < 0.2, "{staked} m staked, {bed_to}");
        assert!((slit - (16.0 - bed_to)).abs() < 0.7, "{slit} m of slit, {bed_to}");
    }
}

/// Lines A1 and A11 give tags that are of one of them only, and the routed job has no tag twice.
#[test]
fn lines_with_numbers_give_tags_of_their_own() {
    let mut many = String::new();
    for n in 1..=11 {
        many += &format!(
            "[loudspeakers.L{n}]\nmodel = \"stake-110-wide\"\nposition = [{}, 20]\ntap = \"10 W\"\nline = \"A1\"\n",
            4 * n
        );
    }
    let text = format!(
        r#"
format = 1
[job]
name = "Numbered lines"
[site]
outline = [[0, 0], [60, 0], [60, 30], [0, 30]]
[racks.R1]
position = [2, 15]
{many}
[loudspeakers.M1]
model = "stake-110-wide"
position = [40, 8]
tap = "10 W"
line = "A11"
[lines.A1]
channel = "C1"
cable = "burial-2x2.5mm2"
[lines.A11]
channel = "C2"
cable = "burial-2x2.5mm2"
"#
    );
    let mut file = on_two_channels(&text);
    let routed = route(file.job()).unwrap_or_else(|e| panic!("{e}"));
    file.apply(&routed.edit).unwrap();
    let lines = &file.job().document().lines;
    let tags: Vec<&String> = lines.values().flat_map(|line| line.runs.keys()).collect();
    assert!(tags.iter().any(|t| *t == "A1-11") && tags.iter().any(|t| *t == "A11-1"), "{tags:?}");
    let different: std::collections::BTreeSet<&&String> = tags.iter().collect();
    assert_eq!(different.len(), tags.len());
    let findings = Study::new(file.job().clone()).findings();
    assert!(findings.iter().all(|f| !f.sentence.contains("is the tag of")));
}
