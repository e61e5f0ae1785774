//! Reading sets: what explains them, what the whole line is then, what to measure next.
//!
//! A third of the sets is drawn near a good line, a third near a fault, a third anywhere; some are open, some taken at
//! joints, some after a joint was opened.

use indexmap::IndexMap;
use loamline_adapt::LaidRun;
use loamline_chance::Draws;
use loamline_faults::{Grade, MeterReading, NextTest, Place, Shown, Table, Test};
use loamline_model::Job;
use loamline_study::{Located, Question, explain};
use loamline_terms::LINE_METER_HZ;
use serde_json::{Value, json};

/// Readings at one place under one point of the table, or anywhere. A meter that reads alternating current reads 1 kHz too,
/// but for one in five.
fn at_place(
    dice: &mut Draws,
    table: &Table,
    place: usize,
    point: Option<usize>,
    line_meter: bool,
    into: &mut Vec<MeterReading>,
) {
    let here = &table.places[place];
    let prediction = &here.predictions[point.map_or(0, |p| here.of_point[p])];
    let first = dice.below(here.frequencies_hz.len());
    let mut chosen: Vec<bool> =
        (0..here.frequencies_hz.len()).map(|i| i == first || dice.happens(0.5)).collect();
    let usual = here.frequencies_hz.iter().position(|hz| (hz - LINE_METER_HZ).abs() < 1e-9).unwrap();
    let alternating = here.frequencies_hz.iter().zip(&chosen).any(|(&hz, &chosen)| chosen && hz > 0.0);
    if line_meter && alternating {
        chosen[usual] = true;
    }
    for (i, &frequency_hz) in here.frequencies_hz.iter().enumerate().filter(|(i, _)| chosen[*i]) {
        let ohm = match (point, prediction.mean[i]) {
            (Some(_), Some(mean)) => Some((mean + 0.05 * dice.normal()).exp() - table.offset_ohm),
            (Some(_), None) => None,
            (None, _) => (dice.unit() > 0.1).then(|| 10f64.powf(dice.between(-1.0, 4.0))),
        };
        let shown = ohm.map_or(Shown::Open, |ohm| Shown::Ohm(ohm.max(0.0)));
        into.push(MeterReading { place: here.place.clone(), frequency_hz, shown, phase_rad: None });
    }
}

fn set(dice: &mut Draws, n: usize, job: &Job, runs: &[LaidRun], line: &str, table: &Table) -> Value {
    let point = match n % 3 {
        0 => Some(0),
        1 => Some(dice.below(table.parameters.len())),
        _ => None,
    };
    let line_meter = dice.happens(0.8);
    let mut readings = Vec::new();
    at_place(dice, table, 0, point, line_meter, &mut readings);
    if dice.happens(0.3) {
        let joint = 1 + dice.below(table.places.len() - 1);
        at_place(dice, table, joint, point, line_meter, &mut readings);
    }
    let joint = |place: &Place| match place {
        Place::Downstream(joint) => Some(joint.clone()),
        Place::Rack => None,
    };
    let joints: Vec<String> = table.places.iter().filter_map(|p| joint(&p.place)).collect();
    let opened = if dice.happens(0.2) { vec![dice.among(&joints).clone()] } else { Vec::new() };
    let insulation = *dice.among(&[None, None, Some(Grade::Good), Some(Grade::Doubtful), Some(Grade::Bad)]);
    let question = Question { readings, opened, insulation, ..Question::default() };
    let located = explain(job, runs, line, &question).unwrap();
    let shown = |r: &MeterReading| {
        let ohm = match r.shown {
            Shown::Ohm(ohm) => Some(ohm),
            Shown::Open => None,
        };
        json!({ "at": joint(&r.place), "frequency_hz": r.frequency_hz, "ohm": ohm })
    };
    let mut told = answer(&located);
    told["line"] = json!(line);
    told["readings"] = question.readings.iter().map(shown).collect();
    told["opened"] = json!(question.opened);
    told["insulation"] = json!(question.insulation);
    told["joints_hz"] = json!(joints_hz(&question.readings));
    told
}

/// The frequency the engine would read a joint at: of the readings, the one nearest to that of a line meter.
fn joints_hz(readings: &[MeterReading]) -> f64 {
    let off = |hz: f64| (hz / LINE_METER_HZ).ln().abs();
    let read = readings.iter().map(|r| r.frequency_hz).filter(|&hz| hz > 0.0);
    read.min_by(|a, b| off(*a).total_cmp(&off(*b))).unwrap_or(LINE_METER_HZ)
}

/// What the engine says of a set.
fn answer(located: &Located) -> Value {
    let d = &located.diagnosis;
    let explanations: Vec<Value> = d
        .explanations
        .iter()
        .zip(&located.places)
        .map(|(e, spot)| {
            json!({ "fault": e.fault, "probability": e.probability, "sentence": e.sentence, "ohm": e.ohm,
                "stretch": e.stretch, "at": spot.as_ref().map(|s| [s.at.x, s.at.y]),
                "between": spot.as_ref().map(|s| s.between.map(|p| [p.x, p.y])) })
        })
        .collect();
    let test = |n: &NextTest| {
        let (at, frequency_hz) = match &n.test {
            Test::AtRack(hz) => (None, *hz),
            Test::OpenJoint { joint, frequency_hz } => (Some(joint), *frequency_hz),
        };
        json!({ "at": at, "frequency_hz": frequency_hz, "bits": n.expected_bits, "minutes": n.minutes,
            "good_ohm": n.good_ohm })
    };
    json!({ "explanations": explanations, "unexplained": d.unexplained.as_ref().map(|u| &u.sentence), "grade": d.grade(),
        "answers": d.answers.iter().map(|a| &a.members).collect::<Vec<_>>(),
        "next": d.next.iter().map(test).collect::<Vec<_>>() })
}

/// Sets until there are so many whose joints would be read at the frequency that a phone's table has there: others say
/// nothing of what a phone makes of joints.
pub fn sets(count: usize, job: &Job, runs: &[LaidRun], tables: &IndexMap<String, Table>) -> Vec<Value> {
    let mut dice = Draws::new(20_260_504);
    let (mut all, mut usual) = (Vec::new(), 0);
    while usual < count {
        let (line, table) = tables.get_index(dice.below(tables.len())).unwrap();
        let one = set(&mut dice, all.len(), job, runs, line, table);
        usual += usize::from(one["joints_hz"] == json!(LINE_METER_HZ));
        all.push(one);
    }
    all
}
