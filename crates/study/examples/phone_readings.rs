//! For checking the phone's ranking against the engine's: the tables a phone takes along, random reading sets, and what the
//! engine says of each.
//!
//! `phone_readings JOB COUNT` writes JSON: the tables by line, and the sets with their explanations. A third of the sets is
//! drawn near a sound line, a third near a fault, a third anywhere; some are open, some taken at joints, some after a joint was opened.
//! Always the same sets.
#![expect(clippy::unwrap_used, reason = "a tool of the checks may stop at the first surprise")]
#![expect(clippy::print_stdout, reason = "its answer is what it prints")]

use loamline_faults::{MeterReading, Place, Shown, Table, Tolerances};
use loamline_model::JobFile;
use loamline_study::{Question, Study, explain, fault_tables};
use serde_json::{Value, json};

/// Numbers that look random (Knuth's MMIX generator, "The Art of Computer Programming" volume 2, from memory).
struct Dice(u64);

impl Dice {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn below(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n - 1)
    }

    fn normal(&mut self) -> f64 {
        // Box and Muller.
        (-2.0 * self.unit().max(1e-300).ln()).sqrt() * (std::f64::consts::TAU * self.unit()).cos()
    }
}

/// Readings at one place under one point of the table, or anywhere.
fn at_place(
    dice: &mut Dice,
    table: &Table,
    place: usize,
    point: Option<usize>,
    into: &mut Vec<MeterReading>,
) {
    let here = &table.places[place];
    let prediction = &here.predictions[point.map_or(0, |p| here.of_point[p])];
    let first = dice.below(here.frequencies_hz.len());
    for (i, &frequency_hz) in here.frequencies_hz.iter().enumerate() {
        if i != first && dice.unit() < 0.5 {
            continue;
        }
        let ohm = match (point, prediction.mean[i]) {
            (Some(_), Some(mean)) => Some((mean + 0.05 * dice.normal()).exp() - table.offset_ohm),
            (Some(_), None) => None,
            (None, _) => (dice.unit() > 0.1).then(|| 10f64.powf(dice.unit() * 5.0 - 1.0)),
        };
        let shown = ohm.map_or(Shown::Open, |ohm| Shown::Ohm(ohm.max(0.0)));
        into.push(MeterReading { place: here.place.clone(), frequency_hz, shown, phase_rad: None });
    }
}

fn shown(r: &MeterReading) -> Value {
    let at = match &r.place {
        Place::Rack => None,
        Place::Downstream(joint) => Some(joint),
    };
    let ohm = match r.shown {
        Shown::Ohm(ohm) => Some(ohm),
        Shown::Open => None,
    };
    json!({ "at": at, "frequency_hz": r.frequency_hz, "ohm": ohm })
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    let file = JobFile::open(std::path::Path::new(&arguments.next().unwrap())).unwrap();
    let count: usize = arguments.next().unwrap().parse().unwrap();
    let study = Study::new(file.job().clone());
    let (runs, tolerances) = (study.runs(), Tolerances::default());
    let tables = fault_tables(study.job(), &runs, &tolerances).unwrap();
    let mut dice = Dice(20_260_504);
    let mut sets = Vec::new();
    for n in 0..count {
        let (line, table) = tables.get_index(dice.below(tables.len())).unwrap();
        let point = match n % 3 {
            0 => Some(0),
            1 => Some(dice.below(table.parameters.len())),
            _ => None,
        };
        let mut readings = Vec::new();
        at_place(&mut dice, table, 0, point, &mut readings);
        if dice.unit() < 0.3 {
            let joint = 1 + dice.below(table.places.len() - 1);
            at_place(&mut dice, table, joint, point, &mut readings);
        }
        let joints: Vec<String> = table
            .places
            .iter()
            .filter_map(|p| match &p.place {
                Place::Downstream(joint) => Some(joint.clone()),
                Place::Rack => None,
            })
            .collect();
        let opened =
            if dice.unit() < 0.2 { vec![joints[dice.below(joints.len())].clone()] } else { Vec::new() };
        let question = Question { readings, opened, ..Question::default() };
        let located = explain(study.job(), &runs, line, &question).unwrap();
        let explanations: Vec<Value> = located
            .diagnosis
            .explanations
            .iter()
            .zip(&located.places)
            .map(|(e, place)| {
                json!({ "fault": e.fault, "probability": e.probability, "sentence": e.sentence,
                    "stretch": e.stretch, "at": place.as_ref().map(|p| [p.at.x, p.at.y]) })
            })
            .collect();
        sets.push(json!({ "line": line, "readings": question.readings.iter().map(shown).collect::<Vec<_>>(),
            "opened": question.opened, "explanations": explanations,
            "unexplained": located.diagnosis.unexplained.is_some(),
            "answers": located.diagnosis.answers.iter().map(|a| &a.members).collect::<Vec<_>>() }));
    }
    println!("{}", json!({ "tables": tables, "sets": sets }));
}
