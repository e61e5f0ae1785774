//! Checks of the whole crate against the shipped examples. Quantities and sums are worked out a second time, from the
//! job's document alone and in whole cents, without the code under test.

use crate::drawing::joint_sketch;
use crate::material::Material;
use crate::options::{PackOptions, Part};
use crate::pack::pack;
use crate::results::Results;
use crate::taping::{PLACE_ERROR_M, fixed_points, tape, written};
use crate::words::Words;
use loamline_geometry::polyline_length;
use loamline_model::document::{Language, Mount};
use loamline_model::{Job, Quantity, Units, load_job};
use rust_decimal::Decimal;
use std::collections::BTreeMap;
use std::path::Path;

const EXAMPLES: [&str; 3] = ["guesthouse-garden", "walled-courtyard", "quayside-hotel"];

fn example(name: &str) -> Job {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    load_job(&folder).unwrap_or_else(|e| panic!("{name}: {e:?}"))
}

fn quantity(material: &Material<'_>, code: &str) -> Decimal {
    material.bill.iter().find(|i| i.code == code).map(|i| i.quantity).unwrap_or_default()
}

#[test]
fn quantities_come_out_the_same_from_the_document_alone() {
    for name in EXAMPLES {
        let job = example(name);
        let (results, options) = (Results::runs_of(&job), PackOptions::usual().unwrap());
        let m = Material::gather(&job, &results, &options).unwrap();
        let d = job.document();
        let mut models: BTreeMap<&str, u64> = BTreeMap::new();
        d.loudspeakers.values().for_each(|l| *models.entry(&l.model).or_default() += 1);
        for (model, count) in models {
            assert_eq!(quantity(&m, &format!("loudspeaker/{model}")), Decimal::from(count), "{name} {model}");
        }
        // Ends of cable by node, racks left out: a joint wherever there is one, a strain relief for each. No cable of
        // the examples is shared, and none starts at an existing end.
        let mut ends: BTreeMap<&str, u64> = BTreeMap::new();
        for node in d.lines.values().flat_map(|l| l.runs.values()).flat_map(|r| [&r.from, &r.to]) {
            if !d.racks.contains_key(node) {
                *ends.entry(node).or_default() += 1;
            }
        }
        assert_eq!(quantity(&m, "task/joint"), Decimal::from(ends.len() as u64), "{name}");
        assert_eq!(quantity(&m, "task/strain-tie"), Decimal::from(ends.values().sum::<u64>()), "{name}");
        let stakes = job.loudspeakers().filter(|l| l.mount == Mount::Stake).count() as u64;
        assert_eq!(quantity(&m, "task/stake"), Decimal::from(stakes), "{name}");
        // Metres laid: the ways as they are drawn, whatever they are laid in.
        let ways: f64 =
            d.lines.keys().flat_map(|line| job.runs(line)).map(|run| polyline_length(&run.way)).sum();
        let laid: Decimal = m.bill.iter().filter(|i| i.code.starts_with("laying/")).map(|i| i.quantity).sum();
        let laid: f64 = laid.to_string().parse().unwrap();
        let shared: f64 = m.ground.iter().map(|g| g.shared_m).sum();
        assert!(
            (laid + shared - ways).abs() < 0.3,
            "{name}: {laid} m laid, {shared} m shared, {ways} m of way"
        );
        // Every run is cut once, at its length, and no spool is longer than it is.
        let cuts: Vec<_> = m.cables.iter().flat_map(|c| &c.spools).flat_map(|s| &s.cuts).collect();
        assert_eq!(cuts.len(), m.results.runs.len(), "{name}");
        for need in &m.cables {
            for spool in &need.spools {
                let used: f64 = spool.cuts.iter().map(|c| c.length_m).sum();
                assert!(used <= spool.spool_m + 1e-6 && (used + spool.left_m - spool.spool_m).abs() < 1e-6);
            }
        }
        let dug: f64 = m.holes.iter().map(|h| h.length_m * h.width_m * h.depth_m).sum();
        let billed: f64 = quantity(&m, "task/hole").to_string().parse().unwrap();
        assert!((dug - billed).abs() < 5e-4, "{name}: {dug} {billed}");
    }
}

#[test]
fn two_connectors_join_a_pair_and_every_wire_is_counted() {
    let job = example("guesthouse-garden");
    let (results, options) = (Results::runs_of(&job), PackOptions::usual().unwrap());
    let m = Material::gather(&job, &results, &options).unwrap();
    // All cables of this job have two conductors, and no joint more wires than a connector takes.
    let connectors: Decimal =
        m.bill.iter().filter(|i| i.code.starts_with("connector/")).map(|i| i.quantity).sum();
    assert_eq!(connectors, quantity(&m, "task/joint") * Decimal::TWO);
    // J1 joins C1 to C2 and C8, with no loudspeaker: three wires on each conductor, like colours on like.
    let joint = m.joints.iter().find(|j| j.at == "J1").unwrap();
    assert_eq!((joint.arriving[0].as_str(), joint.onward.len(), joint.cable_ends()), ("C1", 2, 3));
    for (conductor, colour) in joint.conductors.iter().zip(["red", "black"]) {
        assert_eq!((conductor.colour(), conductor.count(), conductor.terminal), (colour, 3, None));
    }
    // L4 is on the way of line A: cable in, cable out, and its own lead; red to plus.
    let l4 = m.joints.iter().find(|j| j.at == "L4").unwrap();
    assert!(l4.loudspeaker && l4.conductors.iter().all(|c| c.count() == 3));
    assert_eq!(l4.conductors[0].terminal, Some('+'));
}

#[test]
fn totals_add_up_in_whole_cents() {
    for name in EXAMPLES {
        let job = example(name);
        let (results, options) = (Results::runs_of(&job), PackOptions::usual().unwrap());
        let q = Material::gather(&job, &results, &options).unwrap().quotation;
        let cents = |amount: Decimal| -> i128 {
            let text = amount.to_string();
            let (whole, part) = text.split_once('.').unwrap_or((&text, "00"));
            assert_eq!(part.len(), 2, "{text}");
            format!("{whole}{part}").parse().unwrap()
        };
        // Thousandths of a unit times cents, halves up.
        let product = |quantity: Decimal, price: Decimal| -> i128 {
            let mut scaled = quantity;
            scaled.rescale(3);
            (scaled.mantissa() * cents(price) + 500) / 1000
        };
        let mut net = 0;
        for i in &q.items {
            let material = product(i.item.quantity, i.price);
            let mut hour = q.labour_per_hour;
            hour.rescale(2);
            let labour = product(i.item.labour_h, hour);
            assert_eq!(cents(i.material_amount), material, "{}", i.item.code);
            assert_eq!(cents(i.labour_amount), labour, "{}", i.item.code);
            assert_eq!(cents(i.amount), material + labour, "{}", i.item.code);
            net += material + labour;
        }
        assert_eq!(q.groups.iter().map(|g| cents(g.1)).sum::<i128>(), net, "{name}");
        net += cents(q.allowance);
        assert_eq!(cents(q.net), net, "{name}");
        let rate = (q.tax_rate * Decimal::from(10_000)).to_string().parse::<f64>().unwrap() as i128;
        assert_eq!(cents(q.tax), (net * rate + 5_000) / 10_000, "{name}");
        assert_eq!(cents(q.total), cents(q.net) + cents(q.tax) + cents(q.rounding), "{name}");
    }
}

#[test]
fn printed_distances_give_every_place_back_within_a_centimetre() {
    for name in EXAMPLES {
        let job = example(name);
        let points = fixed_points(&job, |_, number, _, name| format!("{number} {name}"));
        for units in [Units::Metric, Units::Us] {
            for l in job.loudspeakers() {
                let t = tape(l.placed.position, &points, units)
                    .unwrap_or_else(|| panic!("{name}: nothing to tape {} from", l.id));
                // What a person reads off the paper, not what the program holds.
                let read = |d: f64| Quantity::Length.parse(&written(d, units)).unwrap();
                let (r1, r2) = (read(t.first_m), read(t.second_m));
                let (a, b) = (t.first.position, t.second.position);
                // Intersection of two circles by plain trigonometry; near the line between the points the first distance
                // along it by the cosine rule, and the distance off it by the rule.
                let base = a.distance(b);
                let angle = ((r1 * r1 + base * base - r2 * r2) / (2.0 * r1 * base)).clamp(-1.0, 1.0).acos();
                let (ahead, turn) = ((b.y - a.y).atan2(b.x - a.x), if t.left { 1.0 } else { -1.0 });
                let (along, across) = match t.off_m {
                    None => (r1 * angle.cos(), r1 * angle.sin()),
                    Some(off) => ((r1 * r1 + base * base - r2 * r2) / (2.0 * base), read(off)),
                };
                let x = a.x + along * ahead.cos() - turn * across * ahead.sin();
                let y = a.y + along * ahead.sin() + turn * across * ahead.cos();
                let off = (x - l.placed.position.x).hypot(y - l.placed.position.y);
                assert!(off <= PLACE_ERROR_M, "{name} {}: {off} m off", l.id);
            }
        }
    }
}

#[test]
fn every_tag_stands_on_a_plan_and_in_the_schedules() {
    for name in EXAMPLES {
        let job = example(name);
        let (results, options) = (Results::runs_of(&job), PackOptions::usual().unwrap());
        let m = Material::gather(&job, &results, &options).unwrap();
        let d = job.document();
        let on_plans: std::collections::BTreeSet<&str> =
            m.plans.iter().flat_map(|p| &p.tags).map(String::as_str).collect();
        let known: std::collections::BTreeSet<&str> = d
            .loudspeakers
            .keys()
            .chain(d.joints.keys())
            .chain(d.racks.keys())
            .chain(d.stubs.keys())
            .chain(d.marks.keys())
            .chain(d.lines.values().flat_map(|l| l.runs.keys()))
            .map(String::as_str)
            .collect();
        let missing: Vec<_> = known.difference(&on_plans).collect();
        let unknown: Vec<_> = on_plans.difference(&known).collect();
        assert!(missing.is_empty() && unknown.is_empty(), "{name}: missing {missing:?}, unknown {unknown:?}");
    }
}

/// Common practice, no source: a pilot hole is 12 to 18 in deep (305 to 457 mm, as people say 300 to 450), and a
/// 300 mm in-ground subwoofer takes a hole of about 450 by 450 by 300 mm.
#[test]
fn the_shipped_catalogue_keeps_to_trade_practice() {
    let job = example("guesthouse-garden");
    let models = &job.catalogue().loudspeakers;
    for (id, model) in models.iter().filter(|(_, l)| l.mount == Mount::Stake) {
        let depth = model.pilot_depth_m.unwrap_or_else(|| panic!("{id} has no pilot hole"));
        assert!((0.3..=0.45).contains(&depth), "{id}: {depth} m");
    }
    let hole = models["ground-sub-320"].hole.as_ref().unwrap();
    for (value, usual_m) in [(hole.length_m, 0.45), (hole.width_m, 0.45), (hole.depth_m, 0.3)] {
        assert!((value - usual_m).abs() < 0.1, "{value} m against {usual_m} m");
    }
}

#[test]
fn a_joint_is_drawn_as_it_is_made() {
    let job = example("guesthouse-garden");
    let (results, options) = (Results::runs_of(&job), PackOptions::usual().unwrap());
    let m = Material::gather(&job, &results, &options).unwrap();
    let joint = m.joints.iter().find(|j| j.at == "L1").unwrap();
    let draw = |joint| joint_sketch::draw(joint, &m.laid, |_| "#1f4e6b", &options.words, "Joint");
    insta::assert_snapshot!("joint_at_the_end_of_a_line", draw(joint));
}

#[test]
fn a_crew_reads_its_papers_in_its_own_language_and_sees_no_prices() {
    let job = example("walled-courtyard");
    let spanish = Words::of(Language::Spanish).unwrap();
    let options = PackOptions { crew_words: Some(spanish.clone()), ..PackOptions::usual().unwrap() };
    let options = PackOptions { only: vec![Part::Tables, Part::Drawings, Part::Labels], ..options };
    let files = pack(&job, &Results::runs_of(&job), &options).unwrap();
    let one = |part: Part, ending: &str| {
        files.iter().find(|f| f.part == part && f.name.ends_with(ending)).map(|f| f.name.as_str())
    };
    let labels = format!("{}.csv", spanish.get("file.labels"));
    assert_eq!(one(Part::Labels, ".csv"), Some(labels.as_str()));
    // A title is what people call it, with the letters a file name is spared.
    let titled = |part: Part| files.iter().find(|f| f.part == part).map(|f| f.title.as_str());
    assert_eq!(titled(Part::Labels), Some("Etiquetas"));
    let plan_title = titled(Part::Drawings).unwrap_or_default();
    assert!(plan_title.starts_with("Plano"), "{plan_title}");
    assert_eq!(spanish.get("paper.electrical"), "Notas eléctricas");
    let office: Vec<&str> = files.iter().filter(|f| f.for_office).map(|f| f.name.as_str()).collect();
    assert_eq!(office, ["bill-of-quantities.csv"]);
    let plan = files.iter().find(|f| f.part == Part::Drawings).unwrap();
    assert!(String::from_utf8_lossy(&plan.bytes).contains(spanish.get("plan.title")));
    // As in a pack in one language: labels, drawings, tables.
    let order: Vec<Part> = files.iter().map(|f| f.part).collect();
    assert!(order.is_sorted_by_key(|part| Part::ALL.iter().position(|p| p == part)), "{order:?}");
}

/// A job in which two lines share a four-conductor cable from the rack to J1 and on to J2, and a third line picks up
/// an existing cable end.
fn shared_cables() -> Job {
    let text = r#"
format = 1
[job]
name = "Shared"
[racks.R1]
position = [0, 0]
[stubs.T1]
name = "Existing cable end"
position = [0, 20]
cable = "burial-4x14awg"
rack = "R1"
length = 22
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
[channels.C2]
amplifier = "P1"
output = 2
[channels.C3]
amplifier = "P1"
output = 3
[joints.J1]
position = [10, 0]
[joints.J2]
position = [20, 0]
[loudspeakers.L1]
model = "stake-110-wide"
position = [10, 3]
tap = "10 W"
line = "A"
[loudspeakers.L2]
model = "stake-110-wide"
position = [20, 3]
tap = "10 W"
line = "A"
[loudspeakers.L3]
model = "stake-110-wide"
position = [20, -3]
tap = "10 W"
line = "B"
[loudspeakers.L4]
model = "stake-110-wide"
position = [5, 20]
tap = "10 W"
line = "D"
[surfaces.all]
outline = [[-1, -5], [30, -5], [30, 30], [-1, 30]]
kind = "lawn"
[lines.A]
channel = "C1"
cable = "burial-4x14awg"
[lines.A.runs]
A1 = { from = "R1", to = "J1" }
A2 = { from = "J1", to = "L1" }
A3 = { from = "J1", to = "J2" }
A4 = { from = "J2", to = "L2" }
[lines.B]
channel = "C2"
cable = "burial-4x14awg"
pair = 2
[lines.B.runs]
B1 = { from = "R1", to = "J1" }
B2 = { from = "J1", to = "J2" }
B3 = { from = "J2", to = "L3" }
[lines.D]
channel = "C3"
start = "T1"
cable = "burial-2x14awg"
runs = { D1 = { from = "T1", to = "L4" } }
"#;
    let file = loamline_model::SourceFile::new("job.toml".to_owned(), text);
    loamline_model::read_job(&file, &[]).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn a_cable_with_two_lines_is_cut_laid_and_joined_once() {
    let job = shared_cables();
    let (results, options) = (Results::runs_of(&job), PackOptions::usual().unwrap());
    let m = Material::gather(&job, &results, &options).unwrap();
    let tags: Vec<&str> = m.laid.iter().map(|c| c.tag.as_str()).collect();
    assert_eq!(tags, ["A1+B1", "A2", "A3+B2", "A4", "B3", "T1", "D1"]);
    // Every cable but the existing one is cut once; 10 + 10 m shared, 3 + 3 + 3 + 5 m alone, all in a slit in the lawn.
    let mut cut: Vec<&str> =
        m.cables.iter().flat_map(|c| &c.spools).flat_map(|s| &s.cuts).map(|c| c.tag.as_str()).collect();
    cut.sort_unstable();
    assert_eq!(cut, ["A1+B1", "A2", "A3+B2", "A4", "B3", "D1"]);
    assert_eq!(quantity(&m, "laying/slit"), "34.0".parse().unwrap());
    let cut_m: f64 = m.cables.iter().find(|c| c.cable == "burial-4x14awg").unwrap().cut_m;
    // Every cable is cut to a tenth of a metre.
    let once: f64 = ["A1", "A2", "A3", "A4", "B3"]
        .iter()
        .map(|id| m.results.runs.iter().find(|r| r.id == *id).unwrap().length.order_m)
        .map(|order_m| (order_m * 10.0 - 1e-6).ceil() / 10.0)
        .sum();
    assert!((cut_m - once).abs() < 1e-9, "{cut_m} {once}");
    // J1, J2, T1 and four loudspeakers; ties: J1 3, J2 3, T1 2, one for each loudspeaker.
    assert_eq!(quantity(&m, "task/joint"), Decimal::from(7));
    assert_eq!(quantity(&m, "task/strain-tie"), Decimal::from(12));

    let at = |tag: &str| m.joints.iter().find(|j| j.at == tag).unwrap();
    // J1: line A meets on red and black, three wires each; line B passes on white and green, two wires each; the
    // second pair of A2 is spare and capped.
    let j1 = at("J1");
    assert_eq!(
        (j1.arriving.as_slice(), j1.lines.as_slice()),
        (&["A1+B1".to_owned()][..], &["A".to_owned(), "B".into()][..])
    );
    let seen: Vec<(&str, Option<&str>, usize)> =
        j1.conductors.iter().map(|c| (c.colour(), c.line.as_deref(), c.count())).collect();
    assert_eq!(
        seen,
        [
            ("red", Some("A"), 3),
            ("black", Some("A"), 3),
            ("white", Some("B"), 2),
            ("white", None, 1),
            ("green", Some("B"), 2),
            ("green", None, 1),
        ]
    );
    // L3 hangs on the second pair: white to plus, green to minus, red and black capped.
    let l3: Vec<(&str, Option<char>)> =
        at("L3").conductors.iter().map(|c| (c.colour(), c.terminal)).collect();
    assert_eq!(l3, [("red", None), ("black", None), ("white", Some('+')), ("green", Some('-'))]);
    // The existing cable end: red to red, black to black, its second pair capped.
    let t1: Vec<usize> = at("T1").conductors.iter().map(|c| c.count()).collect();
    assert_eq!(t1, [2, 2, 1, 1]);
    let draw = |joint| {
        joint_sketch::draw(
            joint,
            &m.laid,
            |l| if l == "A" { "#1f4e6b" } else { "#a3431f" },
            &options.words,
            "Joint",
        )
    };
    // What is written on the cable is its tag on every plan, and no run of it stands there by itself.
    let drawn: Vec<&str> = m.plans.iter().flat_map(|p| &p.tags).map(String::as_str).collect();
    for (tag, there) in
        [("A1+B1", true), ("A3+B2", true), ("A2", true), ("A1", false), ("B1", false), ("B2", false)]
    {
        assert_eq!(drawn.contains(&tag), there, "{tag}: {drawn:?}");
    }
    // The as-built sheet counts each cable once: what it says of a type adds up to what lies of it.
    let (sheet, _) = crate::sections::as_built(&m);
    let rows = sheet["lines"].as_array().unwrap();
    let metres = |row: &serde_json::Value| {
        let text = row["length"].as_str().unwrap().trim_end_matches(" m").to_owned();
        text.parse::<f64>().unwrap()
    };
    let lying: f64 = m.laid.iter().filter(|c| c.cable == "burial-4x14awg").map(|c| c.laid_m).sum();
    let four = rows.iter().filter(|r| r["cable"].as_str().unwrap().starts_with("Four"));
    assert!((four.map(metres).sum::<f64>() - lying).abs() < 0.16, "{rows:?} {lying}");
    assert!(rows.iter().any(|r| r["line"] == "B" && r["about"].as_str().unwrap().contains("A1+B1")));
    insta::assert_snapshot!("joint_of_two_lines", draw(j1));
    let files = crate::pack(&job, &results, &options).unwrap();
    assert!(files.iter().any(|f| f.name == "crew-pack.pdf"));
}

#[test]
fn an_offer_says_on_a_screen_what_the_proposal_says_on_paper() {
    for name in EXAMPLES {
        let job = example(name);
        let (results, options) = (Results::runs_of(&job), PackOptions::usual().unwrap());
        let offer = crate::offer(&job, &results, &options).unwrap();
        let m = Material::gather(&job, &results, &options).unwrap();
        let d = job.document();
        assert_eq!(offer.areas.len(), d.areas.len(), "{name}");
        for (shown, (id, area)) in offer.areas.iter().zip(&d.areas) {
            assert_eq!(&shown.name, if area.name.is_empty() { id } else { &area.name });
            assert!(!shown.words.is_empty() && shown.target.ends_with("dBA"), "{shown:?}");
        }
        assert!(offer.plan_svg.starts_with("<svg") && offer.total.contains(&m.quotation.currency), "{name}");
        assert_eq!(offer.groups.len(), m.quotation.groups.len(), "{name}");
        assert!(!offer.equipment.is_empty() && !offer.tax_name.is_empty() && !offer.net.is_empty(), "{name}");
    }
}

#[test]
fn the_same_job_makes_the_same_papers() {
    let job = example("walled-courtyard");
    let (results, options) = (Results::runs_of(&job), PackOptions::usual().unwrap());
    let once = crate::pack(&job, &results, &options).unwrap();
    let again = crate::pack(&job, &results, &options).unwrap();
    assert!(once == again);
    let pdf = once.iter().find(|f| f.name == "crew-pack.pdf").unwrap();
    assert!(pdf.bytes.starts_with(b"%PDF-"));
    let tables: Vec<&str> = once.iter().map(|f| f.name.as_str()).filter(|n| n.ends_with(".csv")).collect();
    assert_eq!(tables.len(), 5, "{tables:?}");
}

/// By hand from the job: two ends of six cables, two pairs of the existing cable at both of its ends, two joints, four
/// loudspeakers, three outputs; no source and no lead.
#[test]
fn every_end_joint_loudspeaker_and_output_has_its_label() {
    let job = shared_cables();
    let (results, options) = (Results::runs_of(&job), PackOptions::usual().unwrap());
    let m = Material::gather(&job, &results, &options).unwrap();
    let list = crate::sections::label_list(&m);
    let mut counted: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    list.rows.iter().for_each(|r| *counted.entry((r[0].as_str(), r[1].as_str())).or_default() += 1);
    let mut wanted: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    wanted.extend(["A1+B1", "A2", "A3+B2", "A4", "B3", "D1"].map(|tag| (("cable", tag), 2)));
    wanted.extend([(("existing cable", "T1"), 4), (("joint", "J1"), 1), (("joint", "J2"), 1)]);
    wanted.extend(["L1", "L2", "L3", "L4"].map(|tag| (("loudspeaker", tag), 1)));
    wanted.extend(["C1", "C2", "C3"].map(|tag| (("output", tag), 1)));
    assert_eq!(counted, wanted);
    let told = |kind: &str, tag: &str| -> Vec<&[String]> {
        list.rows.iter().filter(|r| r[0] == kind && r[1] == tag).map(|r| &r[2..]).collect()
    };
    let shared = told("cable", "A1+B1");
    assert_eq!(
        shared[0],
        ["Lines A (pair 1), B (pair 2)", "R1 to J1", "this end at R1", "Shared cable A1+B1"]
    );
    assert_eq!(shared[1][2], "this end at J1");
    assert_eq!(told("joint", "J1")[0][2], "in A1+B1, on to A2, A3+B2");
    assert_eq!(told("loudspeaker", "L4")[0][1..3], ["Line D, tap 10 W", "bearing 0\u{b0}"]);
    assert_eq!(told("output", "C2")[0][..2], ["P1, output 2", "Line B"]);
    let pairs: Vec<&str> = told("existing cable", "T1").iter().map(|r| r[1].as_str()).collect();
    assert_eq!(pairs, ["Line D", "Line D", "Spare", "Spare"]);
    // On the firm's server they open, each under its sort: a run and a channel may have one tag.
    let mut options = options.clone();
    options.firm.server = "https://jobs.example/j/".to_owned();
    let codes = |m: &Material<'_>| -> Vec<String> {
        crate::sections::label_list(m).rows.into_iter().filter_map(|mut r| r.pop()).collect()
    };
    // Without a reference the server would not know the job: it stays a text.
    assert_eq!(codes(&Material::gather(&job, &results, &options).unwrap())[0], "Shared cable A1+B1");
    options.app = Some("https://192.168.1.5:8438/#tag/j1/".to_owned());
    let opened = codes(&Material::gather(&job, &results, &options).unwrap());
    assert_eq!(opened[0], "https://192.168.1.5:8438/#tag/j1/cable/A1%2BB1");
    // All of a sheet lies on it, label after label: 24 on the first of A4, the rest on the second.
    options.only = vec![crate::Part::Labels];
    let m = Material::gather(&job, &results, &options).unwrap();
    let (data, drawings) = crate::sections::labels(&m);
    let sheets: Vec<usize> =
        data["sheets"].as_array().unwrap().iter().map(|s| s.as_array().unwrap().len()).collect();
    assert_eq!((sheets.iter().sum::<usize>(), sheets[0]), (list.rows.len(), 24));
    // Both ends of a cable have one code.
    let different: std::collections::BTreeSet<&String> = opened.iter().collect();
    assert_eq!(drawings.len(), different.len());
    let files = crate::pack(&job, &results, &options).unwrap();
    let names: Vec<&str> = files.iter().map(|f| f.name.as_str()).collect();
    assert_eq!(names, ["labels.pdf", "labels.csv"]);
}
