//! `loamline locate JOB --line A --reading z@1kHz=61ohm --reading dc=2.9ohm`

use super::expect::{frequency, meter};
use super::open::{self, section, shown};
use crate::args::LocateArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Table};
use loamline_faults::{MeterReading, Shown, Test, Tolerances};
use loamline_model::Quantity;
use loamline_study::{Located, explain, readings_of};
use serde_json::json;

pub fn run(arguments: &LocateArguments, format: Format) -> Result<Verdict, Failure> {
    let mut study = open::study(&arguments.job)?;
    let mut readings = arguments.reading.iter().map(|r| reading(r)).collect::<Result<Vec<_>, _>>()?;
    if let Some(id) = &arguments.visit {
        let visits = &study.job().document().visits;
        let Some(visit) = visits.get(id) else {
            let known: Vec<&str> = visits.keys().map(String::as_str).collect();
            return Err(Failure::input(format!(
                "there is no visit \"{id}\"; the visits are: {}",
                known.join(", ")
            )));
        };
        readings.extend(readings_of(visit, &arguments.line));
    }
    let runs = study.runs();
    let located = explain(study.job(), &runs, &arguments.line, &readings, &Tolerances::default())
        .map_err(Failure::input)?;
    if format.json {
        output::json(&json!({ "job": open::job_json(&study), "line": arguments.line, "located": located }))?;
    } else {
        output::data(&text(&arguments.line, &located, format))?;
    }
    Ok(Verdict::Fine)
}

/// A reading as typed: `z@1kHz=61ohm`, `dc=2.9ohm`, `dc=open`.
fn reading(text: &str) -> Result<MeterReading, Failure> {
    let wrong = |why: &str| {
        Failure::input(format!(
            "--reading {text}: {why}; write for example z@1kHz=61ohm, dc=2.9ohm or dc=open"
        ))
    };
    let (what, value) = text.split_once('=').ok_or_else(|| wrong("there is no = in it"))?;
    let frequency_hz = match what.trim().split_once('@') {
        None if what.trim().eq_ignore_ascii_case("dc") => 0.0,
        Some((z, f)) if z.trim().eq_ignore_ascii_case("z") => frequency(f.trim())?,
        _ => return Err(wrong("it is neither dc nor z@FREQUENCY")),
    };
    if value.trim().eq_ignore_ascii_case("open") {
        return Ok(MeterReading { frequency_hz, shown: Shown::Open });
    }
    if value.trim().parse::<f64>().is_ok() {
        return Err(wrong("the unit is missing"));
    }
    let ohm = Quantity::Impedance.parse(value.trim()).map_err(|e| wrong(&e.to_string()))?;
    if ohm < 0.0 {
        return Err(wrong("a resistance is not negative"));
    }
    Ok(MeterReading { frequency_hz, shown: Shown::Ohm(ohm) })
}

fn text(line: &str, located: &Located, format: Format) -> String {
    let d = &located.diagnosis;
    let metres = |m: f64| shown(format, Quantity::Length, m);
    let mut ranking = Table::new([Column::right("chance"), Column::wrapped("explanation")]);
    for (e, place) in d.explanations.iter().zip(&located.places).take(8) {
        let at = place
            .as_ref()
            .map_or_else(String::new, |s| format!(" On the plan: {}, {}.", metres(s.at.x), metres(s.at.y)));
        let alike = if e.alike.is_empty() {
            String::new()
        } else {
            let others: Vec<String> = e.alike.iter().map(|i| (i + 1).to_string()).collect();
            format!(" These readings cannot tell it from number {}.", others.join(", "))
        };
        ranking.row([format!("{:.0} %", 100.0 * e.probability), format!("{}{at}{alike}", e.sentence)]);
    }
    let mut next = Table::new([
        Column::right("minutes"),
        Column::right("tells, bits"),
        Column::left("sound line reads"),
        Column::wrapped("measure"),
    ]);
    for t in d.next.iter().take(4) {
        let what = match &t.test {
            Test::AtRack(hz) => format!("at the rack, {}", meter(*hz, format)),
            Test::OpenJoint { joint, frequency_hz } => {
                format!(
                    "open {joint}, take off the run towards the rack, read away from it, {}",
                    meter(*frequency_hz, format)
                )
            }
        };
        let sound = t.sound_ohm.map_or_else(|| "open".to_owned(), |o| shown(format, Quantity::Impedance, o));
        next.row([format!("{:.0}", t.minutes), format!("{:.2}", t.expected_bits), sound, what]);
    }
    let unexplained = d.unexplained.as_ref().map_or_else(String::new, |u| format!("{}\n\n", u.sentence));
    format!(
        "{unexplained}{}{}{}\n",
        section(&format!("Line {line}, most likely first"), &ranking.to_string()),
        section("Measure next, most telling for its time first", &next.to_string()),
        d.blind_spot
    )
}
