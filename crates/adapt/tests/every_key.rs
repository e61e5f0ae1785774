//! Every key of the document, held against the adapters: a key that an engine should see changes what that engine gets,
//! and nothing that another engine gets; a key that no engine sees is listed with the reason. A key that is new to the
//! schema stands in neither list and fails here, so that no join is forgotten.
//!
//! Which engine a key belongs to follows from what each method asks for (named per table below); the figures that come out
//! are held against the document in `round_trip.rs`.
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod whole;

use loamline_model::{Edit, Operation, job_schema};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use whole::{adapted, file};

/// Keys that engines see: the key, one of its places in the whole document, another value (or a patch, where one value alone
/// would make no sense), and who must see the change:
/// `R`uns as they lie, `L`ines, the `S`ound field, the `N`eighbours' method, `P`rocessing, `G`round for routes.
fn read() -> Vec<(&'static str, &'static str, Value, &'static str)> {
    vec![
        // The brief: what lines carry (levels follow from the voltage that the lines say reaches a loudspeaker's terminals),
        // limits for them, what routes may cross, up to where sources add as waves.
        ("/brief/supply", "/brief/supply", json!("100 V"), "L"),
        // (runs too, where one lies along the edge between two surfaces)
        ("/brief/laying", "/brief/laying", json!(["trench"]), "G"),
        ("/brief/loss_limit", "/brief/loss_limit", json!("1.1 dB"), "L"),
        ("/brief/load_share", "/brief/load_share", json!("61 %"), "L"),
        ("/brief/coherent_below", "/brief/coherent_below", json!("310 Hz"), "SN"),
        // What is played.
        ("/programmes/*/spectrum", "/programmes/M/spectrum", json!("pink"), "S"),
        ("/programmes/*/levels/*", "/programmes/T/levels/1 kHz", json!("-4 dB"), "S"),
        ("/programmes/*/supply", "/programmes/T/supply", json!("25 V"), "L"),
        ("/programmes/*/crest_factor", "/programmes/M/crest_factor", json!("11 dB"), "S"),
        // Where levels are limited, and from what height.
        ("/neighbours/*/points", "/neighbours/N1/points/0", json!([41.0, 2.0]), "N"),
        ("/neighbours/*/line", "/neighbours/N1/line/0", json!([39.0, -9.0]), "N"),
        ("/neighbours/*/height", "/neighbours/N1/height", json!("5 m"), "N"),
        ("/neighbours/*/floors/*/height", "/neighbours/N2/floors/2/height", json!("8 m"), "N"),
        // ISO 9613-1 wants the air, 9613-2 the ground, both fields its height.
        ("/site/outline", "/site/outline/0", json!([-21.0, -20.0]), "G"),
        ("/site/ground", "/site/ground", json!("gravel"), "RSNG"),
        ("/site/air/temperature", "/site/air/temperature", json!("8 C"), "SN"),
        ("/site/air/humidity", "/site/air/humidity", json!("44 %"), "SN"),
        ("/site/air/pressure", "/site/air/pressure", json!("950 hPa"), "SN"),
        ("/surfaces/*/outline", "/surfaces/F1/outline/0", json!([-10.5, -10.0]), "RSNG"),
        ("/surfaces/*/kind", "/surfaces/F2/kind", json!("soil"), "RSNG"),
        ("/surfaces/*/flow_class", "/surfaces/F1/flow_class", json!("G"), "SN"),
        ("/surfaces/*/elevation", "/surfaces/F1/elevation", json!("0.4 m"), "RLSN"),
        ("/surfaces/*/laying", "/surfaces/F1/laying", json!("staked"), "RG"),
        ("/surfaces/*/laying_price", "/surfaces/F1/laying_price", json!(3.5), "G"),
        ("/walls/*/line", "/walls/W1/line/0", json!([0.0, 14.0]), "RSNG"),
        ("/walls/*/height", "/walls/W1/height", json!("2.4 m"), "SN"),
        ("/walls/*/kind", "/walls/W1/kind", json!("hedge"), "SNG"),
        ("/walls/*/foot", "/walls/W1/foot", json!("0.3 m"), "SN"),
        ("/walls/*/top", "/walls/W2/top", json!("2.1 m"), "SN"),
        ("/walls/*/absorption", "/walls/W2/absorption", json!("21 %"), "SN"),
        ("/walls/*/absorption_bands/*", "/walls/W1/absorption_bands/1 kHz", json!("25 %"), "SN"),
        ("/walls/*/clip", "/walls/W1/clip", json!(false), "RG"),
        ("/buildings/*/outline", "/buildings/B2/outline/2", json!([30.0, -14.6]), "RSNG"),
        ("/buildings/*/height", "/buildings/B1/height", json!("7.5 m"), "SN"),
        ("/buildings/*/absorption", "/buildings/B2/absorption", json!("21 %"), "SN"),
        ("/buildings/*/absorption_bands/*", "/buildings/B1/absorption_bands/1 kHz", json!("25 %"), "SN"),
        ("/buildings/*/clip", "/buildings/B2/clip", json!(false), "RG"),
        // What must not be opened, what lies there, what can be used.
        ("/no_go/*/outline", "/no_go/O1/outline/0", json!([15.5, -15.0]), "G"),
        ("/services/*/line", "/services/V1/line/0", json!([4.2, -15.0]), "RG"),
        ("/services/*/kind", "/services/V1/kind", json!("gas"), "G"),
        ("/site/local/from_mains", "/site/local/from_mains", json!("0.8 m"), "G"),
        ("/services/*/clearance", "/services/V1/clearance", json!("0.7 m"), "G"),
        ("/services/*/crossing_charge", "/services/V1/crossing_charge", json!(55), "G"),
        ("/sleeves/*/line", "/sleeves/E1/line/0", json!([7.7, 1.0]), "RG"),
        ("/sleeves/*/inside_diameter", "/sleeves/E1/inside_diameter", json!("32 mm"), "G"),
        ("/buildings/*/holes", "/buildings/B3/holes", json!(false), "G"),
        ("/passages/*/position", "/passages/P1/position", json!([22, 12]), "G"),
        ("/passages/*/inside_diameter", "/passages/P1/inside_diameter", json!("6 mm"), "G"),
        ("/passages/*/holds", "/passages/P1/holds", json!(["38 mm"]), "G"),
        ("/sleeves/*/holds", "/sleeves/E1/holds", json!(["9 mm"]), "G"),
        // Cable that is there: its way, what it is, how long, which of its pairs.
        ("/stubs/*/position", "/stubs/U1/position", json!([-5.5, 0.5]), "RL"),
        ("/stubs/*/cable", "/stubs/U1/cable", json!("burial-4x12awg"), "RL"),
        (
            "/stubs/*/rack",
            "/stubs/U1/rack",
            json!({ "patch": [
                { "op": "replace", "path": "/stubs/U1/rack", "value": "K2" },
                { "op": "replace", "path": "/amplifiers/P2/rack", "value": "K2" },
            ] }),
            "RL",
        ),
        ("/stubs/*/length", "/stubs/U1/length", json!("33 m"), "RL"),
        ("/racks/*/position", "/racks/K1/position", json!([-14.0, -1.5]), "RL"),
        ("/racks/*/height", "/racks/K1/height", json!("0.7 m"), "RL"),
        // A loudspeaker: to the line a load, to the field a source.
        ("/loudspeakers/*/model", "/loudspeakers/L2/model", json!("stake-165-narrow"), "RLS"),
        ("/loudspeakers/*/position", "/loudspeakers/L1/position", json!([2.5, 3.0]), "RLS"),
        ("/loudspeakers/*/height", "/loudspeakers/L1/height", json!("1.2 m"), "RLS"),
        ("/loudspeakers/*/bearing", "/loudspeakers/L1/bearing", json!(100), "S"),
        ("/loudspeakers/*/pitch", "/loudspeakers/L1/pitch", json!(-7), "S"),
        ("/loudspeakers/*/tap", "/loudspeakers/L1/tap", json!("20 W"), "L"),
        (
            "/loudspeakers/*/line",
            "/loudspeakers/L3/line",
            json!({ "patch": [
                { "op": "replace", "path": "/loudspeakers/L3/line", "value": "B" },
                { "op": "remove", "path": "/lines/A/runs/A3" },
                { "op": "add", "path": "/lines/B/runs/B2", "value": { "from": "L4", "to": "L3" } },
            ] }),
            "RLS",
        ),
        ("/loudspeakers/*/mount", "/loudspeakers/L1/mount", json!("in ground"), "S"),
        ("/loudspeakers/*/polarity", "/loudspeakers/L1/polarity", json!("reversed"), "S"),
        ("/loudspeakers/*/coils", "/loudspeakers/S1/coils", json!("parallel"), "LS"),
        ("/joints/*/position", "/joints/J1/position", json!([1.0, 0.5]), "RL"),
        ("/lines/*/channel", "/lines/A/channel", json!("C2"), "LS"),
        (
            "/lines/*/start",
            "/lines/B/start",
            json!({ "patch": [
                { "op": "replace", "path": "/lines/B/start", "value": "K1" },
                { "op": "replace", "path": "/lines/B/runs/B1/from", "value": "K1" },
                { "op": "remove", "path": "/lines/B/stub_pairs" },
            ] }),
            "RL",
        ),
        ("/lines/*/cable", "/lines/A/cable", json!("burial-4x12awg"), "RL"),
        ("/lines/*/supply", "/lines/D/supply", json!("25 V"), "L"),
        ("/lines/*/pair", "/lines/A/pair", json!(1), "R"),
        ("/lines/*/stub_pairs", "/lines/B/stub_pairs", json!([1, 2]), "RL"),
        ("/lines/*/runs/*/from", "/lines/A/runs/A2/from", json!("K1"), "RL"),
        (
            "/lines/*/runs/*/to",
            "/lines/C/runs/C1/to",
            json!({ "patch": [
                { "op": "replace", "path": "/lines/C/runs/C1/to", "value": "L6" },
                { "op": "replace", "path": "/lines/C/runs/C2/from", "value": "L6" },
                { "op": "replace", "path": "/lines/C/runs/C2/to", "value": "S1" },
            ] }),
            "RL",
        ),
        ("/lines/*/runs/*/via", "/lines/A/runs/A1/via/0", json!([-4.0, 2.0]), "RL"),
        ("/lines/*/runs/*/length", "/lines/A/runs/A3/length", json!("13 m"), "RL"),
        ("/lines/*/runs/*/cable", "/lines/A/runs/A3/cable", json!("burial-4x10awg"), "RL"),
        ("/lines/*/runs/*/in_series", "/lines/E/runs/E2/in_series", json!(false), "RL"),
        ("/lines/*/runs/*/pair", "/lines/A/runs/A3/pair", json!(2), "R"),
        ("/lines/*/runs/*/sleeves", "/lines/A/runs/A2/sleeves", json!([]), "R"),
        ("/lines/*/runs/*/existing", "/lines/A/runs/A3/existing", json!(true), "RL"),
        ("/amplifiers/*/model", "/amplifiers/P1/model", json!("line-2x520"), "L"),
        ("/channels/*/amplifier", "/channels/C1/amplifier", json!("P2"), "L"),
        ("/channels/*/bridged", "/channels/C3/bridged", json!(true), "L"),
        ("/channels/*/programme", "/channels/C1/programme", json!("T"), "S"),
        ("/channels/*/gain", "/channels/C1/gain", json!("-2 dB"), "S"),
        ("/channels/*/delay", "/channels/C1/delay", json!("4 ms"), "S"),
        ("/channels/*/polarity", "/channels/C1/polarity", json!("reversed"), "S"),
        ("/channels/*/high_pass/kind", "/channels/C1/high_pass/kind", json!("bessel"), "SP"),
        ("/channels/*/high_pass/order", "/channels/C1/high_pass/order", json!(3), "LSP"),
        ("/channels/*/high_pass/corner", "/channels/C1/high_pass/corner", json!("95 Hz"), "LSP"),
        ("/channels/*/low_pass/kind", "/channels/C1/low_pass/kind", json!("bessel"), "SP"),
        ("/channels/*/low_pass/order", "/channels/C1/low_pass/order", json!(3), "SP"),
        ("/channels/*/low_pass/corner", "/channels/C1/low_pass/corner", json!("9 kHz"), "LSP"),
        ("/channels/*/equaliser/*/kind", "/channels/C1/equaliser/Q1/kind", json!("low shelf"), "SP"),
        ("/channels/*/equaliser/*/frequency", "/channels/C1/equaliser/Q1/frequency", json!("700 Hz"), "SP"),
        ("/channels/*/equaliser/*/gain", "/channels/C1/equaliser/Q1/gain", json!("-2 dB"), "SP"),
        ("/channels/*/equaliser/*/q", "/channels/C1/equaliser/Q1/q", json!(0.8), "SP"),
    ]
}

/// Keys that no engine sees as they stand, with the reason. A key that ends in `*` stands for all behind it.
const NOT_READ: [(&str, &str); 49] = [
    ("/format", "which edition of the document this is"),
    ("/job/*", "words, money and sheet for papers; mains for the plan of them in the study"),
    ("/brief/budget", "a wish for proposals"),
    ("/brief/night_turn_down", "taken off the levels by the study"),
    ("/brief/evening_turn_down", "taken off the levels by the study"),
    ("/brief/neighbour_margin", "a verdict of the study"),
    ("/brief/neighbour_in_step", "a verdict of the study"),
    ("/brief/nearest_listener", "a wish for proposals"),
    ("/brief/wishes/*", "wishes for proposals"),
    ("/programmes/*/name", "a word"),
    ("/areas/*/name", "a word"),
    ("/areas/*/outline", "the study asks the field for its places"),
    ("/areas/*/listeners", "the study asks the field for their height"),
    ("/areas/*/ear_height", "the study asks the field for it"),
    ("/areas/*/target", "a verdict of the study"),
    ("/areas/*/within", "a verdict of the study"),
    ("/areas/*/bass", "a verdict of the study"),
    ("/areas/*/programme", "the study asks the field for it"),
    ("/neighbours/*/name", "a word"),
    ("/neighbours/*/day", "a verdict of the study"),
    ("/neighbours/*/night", "a verdict of the study"),
    ("/neighbours/*/day_63hz", "a verdict of the study"),
    ("/neighbours/*/night_63hz", "a verdict of the study"),
    ("/site/datum", "words for papers"),
    ("/site/true_north", "an arrow on papers"),
    ("/site/underlay/*", "a picture under the plan"),
    ("/surfaces/*/name", "a word"),
    ("/surfaces/*/loudspeakers", "where proposals may put one; findings of the study"),
    ("/walls/*/name", "a word"),
    ("/walls/*/loudspeakers", "where proposals may put one"),
    ("/buildings/*/name", "a word"),
    ("/buildings/*/loudspeakers", "where proposals may put one"),
    ("/no_go/*/reason", "a word"),
    ("/services/*/depth", "a word for papers and cautions"),
    ("/sleeves/*/name", "a word"),
    ("/passages/*/name", "a word"),
    ("/stubs/*/name", "a word"),
    ("/stubs/*/free_*", "what may be taken: checked by the document, told by findings"),
    ("/stubs/*/marking", "a word"),
    ("/stubs/*/tail", "slack at the joint: the routes of the study ask for it with their lines"),
    ("/racks/*/name", "a word"),
    ("/racks/*/mains", "the mains plan of the study"),
    ("/racks/*/circuit", "the mains plan of the study"),
    ("/marks/*", "places on papers"),
    ("/loudspeakers/*/pinned", "a wish for proposals"),
    ("/loudspeakers/*/note", "a word"),
    ("/loudspeakers/*/serial", "words for papers"),
    ("/joints/*/*", "a word, and a box for papers and prices"),
    ("/visits/*", "what was read and done, judged by the study"),
];

/// The same of keys that stand behind those above.
const NOT_READ_EITHER: [(&str, &str); 28] = [
    ("/client/*", "words for papers"),
    ("/work/*", "days for papers, and how many the bill counts"),
    ("/site/local/protection", "what equipment is held against by findings"),
    ("/site/local/coldest", "what equipment is held against by findings"),
    ("/site/local/hottest", "what equipment is held against by findings"),
    ("/site/local/salt_air", "what equipment is held against by findings"),
    ("/site/local/from_water", "a verdict of the study"),
    ("/site/local/cable_cover", "a figure on papers"),
    ("/site/local/slit_cover", "a figure on papers"),
    ("/site/local/paving_cover", "a figure on papers"),
    ("/site/local/frost_depth", "a figure on papers"),
    ("/site/locating/*", "words for papers"),
    ("/areas/*/bass_at_most", "a verdict of the study"),
    ("/programmes/*/speech", "a verdict of the study"),
    ("/programmes/*/low_cut", "settings worked out, and a verdict of the study"),
    ("/neighbours/*/floors/*/name", "a word"),
    ("/brief/night_hours", "words for findings and papers"),
    ("/lines/*/topology", "the routes of the study ask for it with their lines"),
    ("/lines/*/runs/*/fixed", "the routes of the study ask for it with their lines"),
    ("/amplifiers/*/rack", "the mains plan and papers of the study"),
    ("/amplifiers/*/serial", "words for papers"),
    ("/amplifiers/*/commissioned/*", "words for papers"),
    ("/brief/quiet_night", "a verdict on the gain structure"),
    ("/channels/*/inputs", "the gain structure, which reads sources and leads with it"),
    ("/channels/*/output", "a terminal on papers"),
    ("/channels/*/limiter/*", "a threshold in volts, for the findings and settings of the study"),
    ("/sources/*", "the gain structure, which no other engine reads"),
    ("/leads/*", "the gain structure, which no other engine reads"),
];

/// The same of zones and phases: which part of a job is drawn, priced and measured changes no figure of it.
const NOT_READ_OF_PARTS: [(&str, &str); 14] = [
    ("/zones/*", "which part of the job is looked at"),
    ("/phases/*", "which part of the job is looked at"),
    ("/areas/*/zone", "which part of the job it is in"),
    ("/areas/*/phase", "which part of the job it is in"),
    ("/racks/*/zone", "which part of the job it is in"),
    ("/racks/*/phase", "which part of the job it is in"),
    ("/racks/*/units", "what findings of the study hold the equipment against"),
    ("/lines/*/zone", "which part of the job it is in"),
    ("/lines/*/phase", "which part of the job it is in"),
    ("/amplifiers/*/phase", "which part of the job it is in"),
    ("/brief/spare/*", "what findings of the study hold the job against"),
    ("/links/*", "the delay of channels fed through one, which leads and inputs say: `links.rs`"),
    ("/sleeves/*/pits", "how far cable is pulled, for the findings of the study"),
    ("/site/local/longest_pull", "what findings of the study hold pulls against"),
];

fn keys(schema: &Value, node: &Value, at: &str, out: &mut BTreeSet<String>) {
    let node = match node.get("$ref").and_then(Value::as_str) {
        Some(to) => schema.pointer(to.trim_start_matches('#')).unwrap(),
        None => node,
    };
    let mut leaf = true;
    if let Some(properties) = node.get("properties").and_then(Value::as_object) {
        leaf = false;
        for (key, value) in properties {
            keys(schema, value, &format!("{at}/{key}"), out);
        }
    }
    if let Some(each) = node.get("additionalProperties").filter(|v| v.is_object()) {
        leaf = false;
        keys(schema, each, &format!("{at}/*"), out);
    }
    if leaf {
        out.insert(at.to_owned());
    }
}

fn stands_for(pattern: &str, key: &str) -> bool {
    match pattern.strip_suffix('*') {
        Some(front) => key.starts_with(front),
        None => pattern == key,
    }
}

#[test]
fn every_key_of_the_schema_is_read_by_an_adapter_or_says_why_not() {
    let schema = job_schema();
    let mut all = BTreeSet::new();
    keys(&schema, &schema, "", &mut all);
    let read = read();
    let not_read = || NOT_READ.iter().chain(&NOT_READ_EITHER).chain(&NOT_READ_OF_PARTS);
    for key in &all {
        let seen = read.iter().filter(|r| r.0 == key).count();
        let unseen = not_read().filter(|n| stands_for(n.0, key)).count();
        let joints = key == "/joints/*/position";
        assert!(
            if joints { seen == 1 } else { seen + unseen == 1 },
            "{key} must stand in one of the lists above, once: which engine sees it?"
        );
    }
    for (key, ..) in &read {
        assert!(all.contains(*key), "{key} is no key of the schema any more");
    }
    for (pattern, _) in not_read() {
        assert!(all.iter().any(|key| stands_for(pattern, key)), "{pattern} stands for nothing any more");
    }
}

#[test]
fn a_key_changes_what_its_engines_get_and_nothing_else() {
    let file = file();
    let before = adapted(file.job());
    let mut wrong = BTreeMap::new();
    for (key, path, value, seen_by) in read() {
        assert!(file.raw().pointer(path).is_some(), "{path} does not stand in the whole document");
        let edit: Edit = match value.get("patch") {
            Some(patch) => serde_json::from_value(patch.clone()).unwrap(),
            None => Edit::new([Operation::Replace { path: path.to_owned(), value }]),
        };
        let job = match file.preview(&edit) {
            Ok(job) => job,
            Err(e) => {
                wrong.insert(key, (e.to_string(), "an edit that is taken".to_owned()));
                continue;
            }
        };
        let after = adapted(&job);
        let changed: String = "RLSNPG"
            .chars()
            .zip(before.iter().zip(&after))
            .filter(|(_, (b, a))| b != a)
            .map(|x| x.0)
            .collect();
        let expected: String = "RLSNPG".chars().filter(|c| seen_by.contains(*c)).collect();
        if changed != expected {
            wrong.insert(key, (changed, expected));
        }
    }
    assert!(wrong.is_empty(), "key: (changed, expected): {wrong:#?}");
}
