//! `loamline lines JOB [--zone Z] [--phase P]`

use super::open::{self, frequency, section, shown};
use crate::args::PartArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Progress, Table};
use indexmap::IndexMap;
use loamline_electrics::{CircuitPlan, Service};
use loamline_model::Quantity;
use loamline_study::{DuctUse, LineComparison, LinesReport, Study, compare, ducts};
use serde_json::json;
use std::path::Path;

pub fn run(
    folder: &Path,
    (compared, ducted): (bool, bool),
    part: &PartArguments,
    format: Format,
) -> Result<Verdict, Failure> {
    let part = open::part(folder, part)?;
    let study = part.own();
    let format = format.of(study.job());
    let progress = Progress::start("Solving the lines");
    let report = part.lines();
    progress.finish();
    let runs = study.runs();
    let ways = if compared { Some(compare(study.job(), &runs).map_err(Failure::study)?) } else { None };
    if format.json {
        let mut answer = json!({ "job": open::job_json(study), "report": report });
        if let Some(ways) = &ways {
            answer["compared"] = json!(ways);
        }
        if ducted {
            answer["ducts"] = json!(ducts(study.job(), &runs));
        }
        output::json(&answer)?;
    } else {
        let compared = ways.iter().flatten().map(|(id, c)| comparison(id, c)).collect::<String>();
        let ducted = if ducted { ducts_text(&ducts(study.job(), &runs), format) } else { String::new() };
        output::data(&(text(study, &report, format) + &ducted + &compared))?;
    }
    Ok(open::verdict(&report.findings))
}

fn text(study: &Study, report: &LinesReport, format: Format) -> String {
    let ohm = |value: f64| shown(format, Quantity::Impedance, value);
    let mut loudspeakers = Table::new([
        Column::left("loudspeaker"),
        Column::left("line"),
        Column::right("volts"),
        Column::right("watts"),
        Column::right("cable loss dB"),
    ]);
    for (tag, at) in &report.loudspeakers {
        loudspeakers.row([
            tag.clone(),
            at.line.clone(),
            loamline_terms::fixed(at.joint_1khz_v, 1),
            loamline_terms::fixed(at.power_1khz_w, 1),
            loamline_terms::fixed(at.loss_1khz_db, 2),
        ]);
    }
    let mut lines = Table::new([
        Column::left("line"),
        Column::left("channel"),
        Column::right("drive V"),
        Column::right("taps W"),
        Column::right("lowest impedance"),
        Column::right("at"),
        Column::right("worst loss dB"),
    ]);
    for (id, line) in &report.lines {
        let channel = study.job().document().lines.get(id).and_then(|line| line.channel.clone());
        let worst = line.loads.iter().map(|load| load.loss_1khz_db).fold(0.0, f64::max);
        lines.row([
            id.clone(),
            channel.unwrap_or_else(|| "-".to_owned()),
            loamline_terms::fixed(line.drive_v, 1),
            line.counted_w.map_or_else(|| "-".to_owned(), |watts| loamline_terms::fixed(watts, 1)),
            ohm(line.minimum.impedance_ohm),
            frequency(format, line.minimum.frequency_hz),
            loamline_terms::fixed(worst, 2),
        ]);
    }
    let mut channels = Table::new([
        Column::left("channel"),
        Column::right("used"),
        Column::right("allowed"),
        Column::right("spare W"),
        Column::right("lowest impedance"),
        Column::right("current A"),
        Column::right("headroom dB"),
        Column::left("of"),
        Column::left("fits"),
    ]);
    for (id, used) in &report.channels {
        channels.row([
            id.clone(),
            format!("{} %", loamline_terms::fixed(100.0 * used.used_fraction, 0)),
            format!("{} %", loamline_terms::fixed(100.0 * used.allowed_fraction, 0)),
            used.spare_w.map_or_else(|| "-".to_owned(), |watts| loamline_terms::fixed(watts, 1)),
            ohm(used.minimum.impedance_ohm),
            loamline_terms::fixed(used.greatest_current_a, 2),
            loamline_terms::fixed(used.headroom.db, 1),
            used.headroom.of.word().to_owned(),
            if used.fits { "yes" } else { "NO" }.to_owned(),
        ]);
    }
    let racks: Vec<String> = report.racks.iter().map(|(id, plan)| rack_text(id, plan)).collect();
    [
        section(
            "Loudspeakers, at full drive and 1 kHz; watts by nominal impedance",
            &loudspeakers.to_string(),
        ),
        section(
            "Lines, seen from the rack; lowest impedance within what their filters pass",
            &lines.to_string(),
        ),
        section("Channels", &channels.to_string()),
        racks.concat(),
        open::findings_text(&report.findings, format),
    ]
    .concat()
}

/// What a rack draws and the heat it gives.
fn rack_text(id: &str, plan: &CircuitPlan) -> String {
    let mut table = Table::new([
        Column::left("amplifier"),
        Column::right("idle W"),
        Column::right("1/8 power W"),
        Column::right("heat W"),
        Column::right("mains A"),
        Column::right("circuit"),
    ]);
    for draw in &plan.draws {
        let circuit = plan.circuits.iter().position(|c| c.contains(&draw.name)).map_or(0, |i| i + 1);
        table.row([
            draw.name.clone(),
            loamline_terms::fixed(draw.idle_w, 0),
            loamline_terms::fixed(draw.eighth_draw_w, 0),
            loamline_terms::fixed(draw.eighth_heat_w, 0),
            loamline_terms::fixed(draw.eighth_current_a, 1),
            circuit.to_string(),
        ]);
    }
    section(&format!("Rack {id}: mains at idle and at one-eighth power"), &table.to_string())
}

/// What lies in each sleeve.
fn ducts_text(ducts: &IndexMap<String, DuctUse>, format: Format) -> String {
    let mut table = Table::new([
        Column::left("sleeve"),
        Column::right("filled"),
        Column::right("allowed"),
        Column::right("longest pull"),
        Column::left("lines"),
        Column::wrapped("cables"),
    ]);
    for (id, used) in ducts {
        table.row([
            id.clone(),
            format!("{} %", loamline_terms::fixed(100.0 * used.fill_fraction, 0)),
            format!("{} %", loamline_terms::fixed(100.0 * used.limit_fraction, 0)),
            format.units.run(used.longest_pull_m),
            used.lines.join(", "),
            used.cables.join(", "),
        ]);
    }
    format!("\n{}", section("Sleeves with cable to draw", &table.to_string()))
}

/// A line fed three ways.
fn comparison(id: &str, c: &LineComparison) -> String {
    let title = format!("Line {id}, fed three ways (cable, transformers, amplifier)");
    if c.ways.is_empty() {
        return format!(
            "\n{}",
            section(&title, "No cable of the catalogue with two conductors may lie where it runs.\n")
        );
    }
    let mut table = Table::new([
        Column::left("fed at"),
        Column::left("smallest cable"),
        Column::right("copper kg"),
        Column::right("loss dB"),
        Column::right("amplifier W"),
        Column::right("channels"),
        Column::right("cost"),
    ]);
    for w in &c.ways {
        table.row([
            match w.service {
                Service::ConstantVoltage { rated_v } => format!("{rated_v} V"),
                Service::LowImpedance => "low impedance".to_owned(),
            },
            w.cable
                .and_then(|i| c.cables.get(i))
                .cloned()
                .unwrap_or_else(|| "none is thick enough".to_owned()),
            loamline_terms::fixed(w.copper_kg, 1),
            loamline_terms::fixed(w.worst_loss_db, 2),
            loamline_terms::fixed(w.amplifier_w, 0),
            w.channels.to_string(),
            loamline_terms::fixed(w.cost, 0),
        ]);
    }
    format!("\n{}", section(&title, &table.to_string()))
}
