//! What a good job offers to the engines, and what is refused as meaningless.
#![expect(clippy::panic, reason = "a fixture that does not read must show its report")]

use loamline_geometry::{Point2, Point3};
use loamline_model::document::Supply;
use loamline_model::{Catalogue, Job, Report, SourceFile, read_catalogue, read_job, read_job_with};
use std::sync::Arc;

fn catalogue() -> Arc<Catalogue> {
    let file = SourceFile::new("catalogue.toml", include_str!("fixtures/catalogue.toml"));
    Arc::new(read_catalogue(&[file]).unwrap_or_else(|r| panic!("{r}")))
}

const GOOD: &str = include_str!("fixtures/good.toml");

fn read(text: &str) -> Result<Job, Report> {
    read_job_with(&SourceFile::new("job.toml", text), catalogue())
}

fn good() -> Job {
    read(GOOD).unwrap_or_else(|r| panic!("{r}"))
}

/// The messages after replacing one piece of the good job, which must be there.
fn messages(from: &str, to: &str) -> Vec<String> {
    assert!(GOOD.contains(from), "{from}");
    match read(&GOOD.replacen(from, to, 1)) {
        Ok(_) => Vec::new(),
        Err(r) => r.problems.iter().map(|p| format!("{}: {}", p.key, p.message)).collect(),
    }
}

/// Money stands in a file as digits and a point. What is written otherwise is not read, which is another thing than out of range.
#[test]
fn an_amount_that_cannot_be_read_is_told_as_such() {
    let told = |amount: &str| messages("[brief]", &format!("[brief]\nbudget = {amount}")).join("\n");
    for written in ["$12,500", "12,500", "12,500 USD", "lots"] {
        let message = told(&format!("\"{written}\""));
        assert!(
            message.contains(&format!("\"{written}\" cannot be read as an amount of money")),
            "{message}"
        );
        assert!(!message.contains("out of range"), "{message}");
    }
    assert!(told("-3").contains("-3 is out of range"), "{}", told("-3"));
    assert_eq!(told("\"12500.50\""), "");
}

/// A tape in feet reads no metres: 0.02 ft and 90000 ft are told against the range in feet and inches (0.05 m are 1 31/32 in, 100 km
/// 328084 ft, by definition of the foot), the same in metres against metres, and an outline drawn in feet meets itself at so many feet.
#[test]
fn what_was_typed_in_feet_is_refused_in_feet() {
    let place = |east: &str| messages("points = [[25, 3]]", &format!("points = [[{east}, 3]]")).join("\n");
    let told = place("\"400000 ft\"");
    assert!(told.contains("a length from -328084 ft to 328084 ft is possible here"), "{told}");
    let told = place("\"200 km\"");
    assert!(told.contains("a length from -100000 to 100000 m is possible here"), "{told}");
    let bow = |corners: &str| messages("outline = [[0, 0], [12, 0], [12, 6], [0, 6]]", corners).join("\n");
    let feet = bow(
        "outline = [[\"0 ft\", \"0 ft\"], [\"40 ft\", \"20 ft\"], [\"40 ft\", \"0 ft\"], [\"0 ft\", \"20 ft\"]]",
    );
    assert!(feet.contains("meet near x 20 ft, y 10 ft"), "{feet}");
    let metres = bow("outline = [[0, 0], [12, 6], [12, 0], [0, 6]]");
    assert!(metres.contains("meet near x 6.00 m, y 3.00 m"), "{metres}");
}

/// Direct current goes by 0 and by its word, in whatever case, as on the command line and in a firm's profile.
#[test]
fn a_meter_reads_direct_current_by_name() {
    let meter = |list: &str| read(&GOOD.replacen("[job]\n", &format!("[job]\nmeter = {list}\n"), 1));
    let hz = |list: &str| meter(list).unwrap_or_else(|r| panic!("{r}")).document().about.meter_hz.clone();
    assert_eq!(hz("[\"dc\", \"1 kHz\"]"), [0.0, 1000.0]);
    assert_eq!(hz("[0, \"DC\", \"1.2 kHz\"]"), [0.0, 0.0, 1200.0]);
    let refused = meter("[\"ac\"]").err().map(|r| r.to_string()).unwrap_or_default();
    assert!(refused.contains("ac"), "{refused}");
}

#[test]
fn the_later_surface_wins_and_sets_the_ground_height() {
    let job = good();
    assert_eq!(job.ground(Point2::new(3.0, 9.0)).surface.map(|s| s.0), Some("bed"));
    assert_eq!(job.ground(Point2::new(3.0, 9.0)).elevation_m, 0.5);
    assert_eq!(job.ground(Point2::new(9.0, 9.0)).elevation_m, 0.4);
    assert_eq!(job.ground(Point2::new(-5.0, 0.0)).surface, None);
    // 0.35 m is usual for the model, on a bed 0.5 m above the datum; 0.6 m is stated, on the lawn at 0.4 m.
    assert_eq!(job.loudspeaker("L1").map(|l| l.position), Some(Point3::new(3.0, 9.0, 0.85)));
    assert_eq!(job.loudspeaker("L2").map(|l| l.position), Some(Point3::new(9.0, 9.0, 1.0)));
}

#[test]
fn runs_come_in_tree_order_turned_away_from_the_start() {
    let job = good();
    let runs = job.runs("A");
    let ends: Vec<_> = runs.iter().map(|r| (r.id, r.from, r.to, r.fed_by)).collect();
    assert_eq!(
        ends,
        [
            ("A1", "R1", "J1", None),
            ("A2", "J1", "L1", Some(0)),
            ("A3", "J1", "L2", Some(0)),
            ("A4", "L2", "L3", Some(2)),
        ]
    );
    // Up 4 m and across 8 m.
    assert_eq!(runs[0].plan_length_m(), 12.0);
    assert_eq!(runs[2].way, [Point2::new(6.0, 7.0), Point2::new(9.0, 9.0)]);
    let line = job.line("A").unwrap();
    assert_eq!(line.line_v(), Some(70.7));
    assert_eq!(line.start_position(), Some(Point2::new(-2.0, 3.0)));
    assert_eq!(line.tree.path_to("L3"), [0, 2, 3]);
    let order: Vec<_> = job.loudspeakers_of_line("A").iter().map(|l| l.id).collect();
    assert_eq!(order, ["L1", "L2", "L3"]);
    let channel = job.channel("garden").unwrap();
    assert_eq!((channel.lines, channel.programme_id), (vec!["A"], Some("music")));
}

#[test]
fn a_line_that_is_not_laid_out_yet_is_a_job_still() {
    let (before, after) = GOOD.split_once("[lines.A.runs]").unwrap();
    let (_, after) = after.split_once("[visits.handover]").unwrap();
    let job = read(&format!("{before}[visits.handover]{after}")).unwrap();
    assert_eq!(job.runs("A"), []);
    assert_eq!(job.loudspeakers_of_line("A").len(), 3);
}

#[test]
fn runs_that_are_no_tree_are_named() {
    assert_eq!(
        messages("A4 = {", "A5 = { from = \"L1\", to = \"L2\" }\nA4 = {"),
        ["lines.A.runs.A5: run A5 closes a loop: L1 - J1 - L2 - L1"]
    );
    assert_eq!(
        messages("A4 = {", "A5 = { from = \"L1\", to = \"J1\" }\nA4 = {"),
        ["lines.A.runs.A5: runs A2 and A5 both join L1 and J1"]
    );
    assert_eq!(
        messages("A1 = { from = \"R1\", to = \"J1\", via = [[-2, 7]] }", ""),
        ["lines.A.runs.A2: runs A2, A3, A4 are not connected to R1, where line A starts"]
    );
    assert_eq!(
        messages("A4 = { from = \"L2\", to = \"L3\", length = \"9 m\" }", ""),
        ["loudspeakers.L3.line: no run of line A reaches L3"]
    );
    assert_eq!(
        messages("A4 = { from = \"L2\", to = \"L3\"", "A4 = { from = \"L3\", to = \"L3\""),
        ["lines.A.runs.A4: run A4 starts and ends at L3"]
    );
}

#[test]
fn taps_stand_on_constant_voltage_lines_only() {
    assert_eq!(
        messages("bearing = 180\ntap = \"20 W\"", "bearing = 180"),
        ["loudspeakers.L1: line A is a 70.7 V line, so L1 needs a transformer tap"]
    );
    assert_eq!(
        messages("topology = \"tree\"", "supply = \"low impedance\"").len(),
        3,
        "each of the three loudspeakers has a tap too many"
    );
    assert_eq!(
        messages("model = \"garden-two-way\"", "model = \"courtyard-cabinet\""),
        ["loudspeakers.L1.line: \"courtyard-cabinet\" has no transformer, and line A is a 70.7 V line"]
    );
}

#[test]
fn outputs_pairs_tags_and_readings_must_make_sense() {
    assert_eq!(
        messages("output = 1", "output = 3"),
        ["channels.garden.output: amplifier amp has no output 3: \"line-two-channel\" has outputs 1 to 2"]
    );
    assert_eq!(
        messages("output = 1", "output = 1\n[channels.other]\namplifier = \"amp\"\noutput = 1"),
        ["channels.other.output: output 1 of amplifier amp is already used by channel garden"]
    );
    assert_eq!(
        messages("topology = \"tree\"", "pair = 2"),
        ["lines.A.pair: line A uses pair 2, and the cable \"pair-14\" has 2 conductors, so 1 pair in all"]
    );
    let tag = messages("[amplifiers.amp]", "[joints.L1]\nposition = [0, 0]\n[amplifiers.amp]");
    assert!(tag[0].starts_with("joints.L1: \"L1\" is already the tag of a loudspeaker"), "{tag:?}");
    assert_eq!(
        messages("frequency = \"250 Hz\"", "dc = \"1 ohm\""),
        [
            "visits.handover.readings.whole: this reading has 2 values: impedance, dc",
            "visits.handover.readings.whole.impedance: an impedance means nothing without the frequency it was read at"
        ]
    );
    assert_eq!(messages("points = [[25, 3]]\n", ""), ["neighbours.east: this neighbour has no place"]);
}

#[test]
fn work_is_ticked_off_where_it_can_be_done() {
    let ticked = |entry: &str| {
        messages(
            "[visits.handover.readings.whole]",
            &format!("[visits.handover.done.x]\n{entry}\n[visits.handover.readings.whole]"),
        )
    };
    assert_eq!(ticked("work = \"tap\"\nat = \"L1\"\ntap = \"10 W\"\nby = \"Ann\""), [""; 0]);
    assert_eq!(ticked("work = \"joint\"\nat = \"J1\""), [""; 0]);
    assert_eq!(ticked("work = \"laid\"\nline = \"A\"\nrun = \"A2\""), [""; 0]);
    assert_eq!(ticked("work = \"step\"\nnotes = \"Limiter typed in\""), [""; 0]);
    assert_eq!(
        ticked("work = \"hole\"\nat = \"J1\""),
        ["visits.handover.done.x.at: work \"hole\" is done at a loudspeaker; this is a joint"]
    );
    assert_eq!(
        ticked("work = \"joint\""),
        ["visits.handover.done.x: work \"joint\" does not say where it was done"]
    );
    assert_eq!(ticked("work = \"laid\""), ["visits.handover.done.x: this does not say which run was laid"]);
    // What was done stays, also where it was done to what is not there any more.
    assert_eq!(ticked("work = \"laid\"\nline = \"A\"\nrun = \"A9\""), [""; 0]);
    assert_eq!(ticked("work = \"joint\"\nat = \"J9\""), [""; 0]);
}

#[test]
fn rules_are_checked_beside_a_misspelt_key_and_a_misspelt_id() {
    let text = GOOD
        .replacen("bearing = 180", "baering = 180", 1)
        .replacen("channel = \"garden\"", "channel = \"gardn\"", 1)
        .replacen("output = 1", "output = 9", 1);
    let report = read(&text).unwrap_err();
    let seen: Vec<_> = report.problems.iter().map(|p| p.key.as_str()).collect();
    assert_eq!(seen, ["loudspeakers.L1.baering", "channels.garden.output", "lines.A.channel"]);
    assert_eq!(report.problems[0].hint.as_deref(), Some("did you mean \"bearing\"?"));
    assert_eq!(report.problems[2].hint.as_deref(), Some("did you mean \"garden\"?"));
}

#[test]
fn a_reading_may_be_open_and_then_is_no_number() {
    let open = GOOD.replacen("impedance = \"98 ohm\"", "impedance = \"open\"", 1);
    let job = read(&open).unwrap();
    let shown = |job: &Job| job.document().visits["handover"].readings["whole"].impedance;
    assert_eq!(shown(&job), Some(loamline_terms::Shown::Open));
    assert_eq!(serde_json::to_value(shown(&job)).unwrap(), "open");
    assert_eq!(serde_json::to_value(shown(&good())).unwrap(), 98.0);
    assert_eq!(
        messages("impedance = \"98 ohm\"", "impedance = \"open\"\nabove = true"),
        ["visits.handover.readings.whole.above: an open line is no value to be above"]
    );
    assert_eq!(messages("impedance = \"98 ohm\"", "impedance = \"shut\"").len(), 1);
}

#[test]
fn a_run_has_its_own_pair_and_a_rack_may_lie_below_the_ground() {
    assert_eq!(
        messages("A2 = { from", "A2 = { pair = 2, from"),
        [
            "lines.A.runs.A2.pair: run A2 of line A uses pair 2, and the cable \"pair-14\" has 2 conductors, so 1 pair in all"
        ]
    );
    assert!(messages("[racks.R1]", "[racks.R1]\nheight = \"-10 m\"").is_empty());
    assert_eq!(messages("[racks.R1]", "[racks.R1]\nheight = \"-10.1 m\"").len(), 1);
}

/// L2 is in series with L3, which hangs behind it; A3 is drawn towards the joint, and leaves it all the same.
#[test]
fn loudspeakers_in_series_are_on_low_impedance_and_close_a_circuit() {
    let low = |line: &str| {
        let low = GOOD
            .replacen("topology = \"tree\"", "topology = \"tree\"\nsupply = \"low impedance\"", 1)
            .replace("tap = \"20 W\"\n", "")
            .replace("tap = \"10 W\"\n", "");
        let (from, to) = line.split_once(" -> ").unwrap();
        assert!(low.contains(from), "{from}");
        low.replacen(from, to, 1)
    };
    let refused = |text: &str| match read(text) {
        Ok(_) => String::new(),
        Err(r) => r.problems.iter().map(|p| format!("{}: {}", p.key, p.message)).collect(),
    };
    let job = read(&low("A4 = { from -> A4 = { in_series = true, from")).unwrap();
    assert_eq!((job.in_series_with("L2"), job.in_series_with("L3")), (vec!["L3"], vec!["L2"]));
    assert!(job.in_series_with("L1").is_empty() && job.in_series_with("J1").is_empty());
    assert_eq!(job.series_of_line("A"), [("L2", vec!["L3"])]);
    assert_eq!(
        refused(&low("A3 = { from -> A3 = { in_series = true, from")),
        "lines.A.runs.A3.in_series: run A3 leaves J1, which is no loudspeaker to be in series with"
    );
    assert_eq!(
        messages("A4 = { from", "A4 = { in_series = true, from"),
        [
            "lines.A.runs.A4.in_series: line A is a 70.7 V line, where every loudspeaker stands across the line"
        ]
    );
    let bare = "A4 = { from -> A5 = { in_series = true, from = \"L1\", to = \"J2\" }\nA4 = { from";
    let bare = low(bare).replacen("[joints.J1]", "[joints.J2]\nposition = [2, 12]\n[joints.J1]", 1);
    assert_eq!(
        refused(&bare),
        "lines.A.runs.A5.in_series: no loudspeaker hangs behind run A5, so that no current flows through L1"
    );
}

/// A line is fed as it says, else as the programme its channel plays, else as the brief has it; taps follow.
#[test]
fn a_line_is_fed_as_its_programme_says() {
    let text = |speech: &str, line: &str, tap: &str| {
        format!(
            "format = 1\n[job]\nname = \"Two ways\"\n[brief]\nsupply = \"70.7 V\"\n[programmes.music]\n[programmes.talk]\n{speech}\n\
             [racks.R1]\nposition = [0, 0]\n[amplifiers.P1]\nmodel = \"low-4x250\"\nrack = \"R1\"\n\
             [channels.C1]\namplifier = \"P1\"\noutput = 1\nprogramme = \"talk\"\n\
             [lines.A]\nchannel = \"C1\"\ncable = \"burial-2x14awg\"\n{line}\n[lines.A.runs]\nA1 = {{ from = \"R1\", to = \"L1\" }}\n\
             [loudspeakers.L1]\nmodel = \"stake-110-wide\"\nposition = [10, 0]\nline = \"A\"\n{tap}\n"
        )
    };
    let read = |speech: &str, line: &str, tap: &str| {
        read_job(&SourceFile::new("job.toml", text(speech, line, tap)), &[])
            .map(|job| job.line("A").unwrap().supply)
            .ok()
    };
    let (low, tap) = ("supply = \"low impedance\"", "tap = \"10 W\"");
    assert_eq!(read("", "", tap), Some(Supply::Volts70));
    assert_eq!(read(low, "", ""), Some(Supply::LowImpedance));
    assert_eq!(read(low, "supply = \"70.7 V\"", tap), Some(Supply::Volts70));
    assert_eq!(read(low, "", tap), None, "no tap where the programme is played on low impedance");
    assert_eq!(read("", "", ""), None, "a tap where the brief says 70.7 V");
}
