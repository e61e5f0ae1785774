//! Books of visits: a job's readings and ticks over some years, each reading judged and each series followed by the engine.
//!
//! Readings are drawn near what is expected, on the very limits, like a short, and anywhere; at the rack and at joints; to
//! earth; above the meter's range. Of visits while the line is built some tick runs off in order, some in another, some none.
//! In some books a line is replaced half way, so that the visits before keep it as it was.

use crate::trends::years_left;
use indexmap::IndexMap;
use loamline_chance::Draws;
use loamline_faults::{ExpectedReading, LEAKAGE_DOUBTFUL_MOHM, LEAKAGE_MOHM, Place, Tolerances};
use loamline_model::{Edit, JobFile, Operation};
use loamline_study::{
    ExpectedLine, JudgedReading, METER_FREQUENCIES_HZ, Measured, Series, Study, expect, judged, years,
};
use serde_json::{Map, Value, json};

type Lines = IndexMap<String, ExpectedLine>;

/// How the lines of a book age.
struct Ageing {
    /// Rates of ln(ohm) a year: of the loop, and to earth.
    loop_rate: f64,
    earth_rate: f64,
    /// What is read to earth at first, ohm.
    earth_ohm: f64,
}

/// Books until there are so many series and so many readings judged. The job's own visits are left out.
pub fn books(count: usize, file: &JobFile) -> Vec<Value> {
    let mut dice = Draws::new(20_280_229);
    let tolerances = Tolerances::default();
    let study = Study::new(file.job().clone());
    let lines = expect(file.job(), &study.runs(), &METER_FREQUENCIES_HZ, &tolerances).unwrap();
    let (mut all, mut series, mut readings) = (Vec::new(), 0, 0);
    while series < count || readings < count {
        let book = book(&mut dice, file, &lines, &tolerances);
        let number = |value: &Value| value.as_array().map_or(0, Vec::len);
        readings += number(&book["judged"]);
        series += book["series"].as_object().unwrap().values().map(number).sum::<usize>();
        all.push(book);
    }
    all
}

fn book(dice: &mut Draws, file: &JobFile, lines: &Lines, tolerances: &Tolerances) -> Value {
    let mut names: Vec<&str> = Vec::new();
    for _ in 0..1 + dice.below(3) {
        let name = lines.get_index(dice.below(lines.len())).unwrap().0.as_str();
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let ageing = Ageing {
        loop_rate: dice.between(-0.03, 0.03),
        earth_rate: dice.between(-0.3, 0.1),
        earth_ohm: 10f64.powf(dice.between(5.8, 7.5)),
    };
    let visits: Map<String, Value> =
        (0..3 + dice.below(6)).map(|n| (format!("V{n}"), visit(dice, &names, lines, &ageing))).collect();
    let mut file = file.clone();
    let replace = |path: String, value: Value| Edit::new([Operation::Add { path, value, before: None }]);
    if dice.happens(0.25) {
        let half = visits.len() / 2;
        let before: Map<String, Value> =
            visits.iter().take(half).map(|(id, v)| (id.clone(), v.clone())).collect();
        file.apply(&replace("/visits".into(), Value::Object(before))).unwrap();
        // Another line takes its place, and then one as it was: both are another line.
        let path = format!("/lines/{}", names[0]);
        let was = file.raw().pointer(&path).unwrap().clone();
        let mut other = was.clone();
        other["cable"] = json!("burial-4x14awg");
        file.apply(&replace(path.clone(), other)).unwrap();
        file.apply(&replace(path, was)).unwrap();
        for (id, visit) in visits.into_iter().skip(half) {
            file.apply(&replace(format!("/visits/{id}"), visit)).unwrap();
        }
    } else {
        file.apply(&replace("/visits".into(), Value::Object(visits))).unwrap();
    }
    let job = file.job();
    let study = Study::new(job.clone());
    let judged = judged(job, &study.runs(), tolerances);
    let series = years(job, &study.runs(), &judged, tolerances).unwrap();
    let of_line = |all: &Vec<Series>| all.iter().map(series_value).collect::<Vec<_>>();
    json!({
        "visits": job.document().visits,
        "judged": judged.iter().map(judged_value).collect::<Vec<_>>(),
        "series": series.iter().map(|(line, all)| (line.clone(), json!(of_line(all)))).collect::<Map<_, _>>(),
    })
}

fn visit(dice: &mut Draws, names: &[&str], lines: &Lines, ageing: &Ageing) -> Value {
    let year = dice.below(9);
    let date = format!("{}-{:02}-{:02}", 2024 + year, 1 + dice.below(12), 1 + dice.below(28));
    let kind = *dice.among(&["building", "building", "handover", "maintenance", "fault"]);
    let mut readings = Map::new();
    let mut done = Map::new();
    for &name in names {
        let line = &lines[name];
        for n in 0..1 + dice.below(5) {
            readings.insert(format!("{name}-r{n}"), reading(dice, name, line, ageing, year as f64));
        }
        if kind == "building" {
            tick(dice, name, line, &mut done);
        }
    }
    json!({ "date": date, "kind": kind, "readings": readings, "done": done })
}

/// Ticks off runs as laid: as many as there are from the rack on, or any, or none.
fn tick(dice: &mut Draws, name: &str, line: &ExpectedLine, done: &mut Map<String, Value>) {
    let (order, built) = (dice.below(5), dice.below(line.stages.len() + 1));
    for run in &line.runs {
        let stage = line.stages.iter().position(|s| s.joint == run.to).unwrap_or(0);
        let laid = match order {
            0 => false,
            1 => dice.happens(0.5),
            _ => stage < built,
        };
        if laid {
            done.insert(
                format!("{name}-{}-laid", run.id),
                json!({ "work": "laid", "line": name, "run": run.id }),
            );
        }
    }
}

fn reading(dice: &mut Draws, name: &str, line: &ExpectedLine, ageing: &Ageing, year: f64) -> Value {
    if dice.happens(0.04) {
        return json!({ "line": name, "at": line.runs[0].to, "level": "71 dBA" });
    }
    if dice.happens(0.25) {
        let limits = [1e6 * LEAKAGE_MOHM, 1e6 * LEAKAGE_DOUBTFUL_MOHM];
        let ohm = match dice.below(5) {
            0 => *dice.among(&limits),
            1 => *dice.among(&[4e4, 2e8]),
            _ => ageing.earth_ohm * (ageing.earth_rate * year + 0.1 * dice.normal()).exp(),
        };
        let above = dice.happens(0.15);
        return json!({ "line": name, "leakage": format!("{ohm} ohm"), "above": above });
    }
    // One in five at a joint; more of the loop at direct current than at any frequency, so that series become long.
    let place = match dice.happens(0.2) {
        true => Place::Downstream(dice.among(&line.runs).to.clone()),
        false => Place::Rack,
    };
    let hz = if dice.happens(0.5) { 0.0 } else { *dice.among(&METER_FREQUENCIES_HZ) };
    let here = |all: &[ExpectedReading]| {
        all.iter().find(|e| e.place == place && (e.frequency_hz - hz).abs() < 1e-9).cloned()
    };
    let finished = here(&line.readings).unwrap();
    // Some as a line reads that is not finished.
    let expected = match place {
        Place::Rack if dice.happens(0.3) => here(&dice.among(&line.stages).readings).unwrap(),
        _ => finished,
    };
    let edges = [
        expected.low_ohm,
        expected.high_ohm,
        expected.far_low_ohm,
        expected.far_high_ohm,
        expected.short_ohm,
    ];
    let near = expected.ohm.unwrap_or(100.0);
    let ohm = match dice.below(14) {
        0 => dice.among(&edges).unwrap_or(near),
        1 => 10f64.powf(dice.between(-2.0, 5.0)),
        2 => near * dice.between(0.7, 1.4),
        3 => expected.short_ohm.unwrap_or(near) * dice.between(0.3, 1.1),
        _ => near * (ageing.loop_rate * year + 0.01 * dice.normal()).exp(),
    };
    let key = if hz > 0.0 { "impedance" } else { "dc" };
    let open = dice.happens(0.1);
    let above = !open && dice.happens(0.1);
    let ohm = if above { *dice.among(&[ohm, 20_000.0]) } else { ohm };
    let mut typed = json!({ "line": name, "above": above });
    if let Place::Downstream(joint) = place {
        typed["at"] = json!(joint);
    }
    typed[key] = json!(if open { "open".to_owned() } else { format!("{ohm} ohm") });
    if hz > 0.0 {
        typed["frequency"] = json!(format!("{hz} Hz"));
    }
    typed
}

fn judged_value(r: &JudgedReading) -> Value {
    json!({ "visit": r.visit, "reading": r.reading, "line": r.line, "kept": r.as_it_was.is_some(), "grade": r.grade,
        "says": r.says, "stage": r.stage, "verdict": r.verdict })
}

fn series_value(s: &Series) -> Value {
    let hz = match s.measured {
        Measured::Loop(hz) => json!(hz),
        Measured::Leakage => json!("earth"),
    };
    let readings: Vec<Value> = s
        .readings
        .iter()
        .map(|r| {
            json!({ "visit": r.visit, "date": r.date, "ohm": r.ohm, "above": r.above, "verdict": r.grade })
        })
        .collect();
    let drift = s.drift.map(
        |d| json!({ "per_year": d.per_year, "now_ohm": d.now_ohm, "years_left": years_left(d.warning) }),
    );
    json!({ "hz": hz, "readings": readings, "limit_ohm": s.limit_ohm, "drift": drift })
}
