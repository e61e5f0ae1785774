//! `loamline sources JOB`

use super::open::{self, section};
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Progress, Table, paragraph};
use loamline_study::{SourcesReport, Study};
use serde_json::json;
use std::path::Path;

pub fn run(folder: &Path, format: Format) -> Result<Verdict, Failure> {
    let study = open::study(folder)?;
    let format = format.of(study.job());
    let progress = Progress::start("Working out the gain structure");
    let report = study.sources();
    progress.finish();
    if format.json {
        output::json(&json!({ "job": open::job_json(&study), "report": *report }))?;
    } else {
        output::data(&text(&study, &report, format))?;
    }
    Ok(open::verdict(&report.findings))
}

/// A value with its decimals, or a dash where there is none.
fn shown(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| "-".to_owned(), |v| loamline_terms::fixed(v, decimals))
}

fn text(study: &Study, report: &SourcesReport, format: Format) -> String {
    if report.channels.is_empty() {
        let none = "No channel that drives a load says which inputs it adds: state the sources, a lead for each side, and the inputs of each channel.";
        return format!(
            "{}{}",
            section(paragraph(none).trim_end(), ""),
            open::findings_text(&report.findings, format)
        );
    }
    let leads = &study.job().document().leads;
    let mut inputs = Table::new([
        Column::left("channel"),
        Column::left("source"),
        Column::left("side"),
        Column::right("input"),
        Column::right("level V"),
        Column::right("dBu"),
        Column::right("most V"),
        Column::right("headroom dB"),
    ]);
    let mut gains = Table::new([
        Column::left("channel"),
        Column::left("source"),
        Column::right("needs gain dB"),
        Column::right("turn down dB"),
    ]);
    let mut outputs = Table::new([
        Column::left("channel"),
        Column::right("gain dB"),
        Column::right("level V"),
        Column::right("dBu"),
        Column::right("peaks V"),
        Column::right("margin dB"),
        Column::right("noise dBA"),
    ]);
    for (id, g) in &report.channels {
        for s in &g.sources {
            for i in &s.inputs {
                let side = leads.get(&i.lead).map_or("-", |l| loamline_model::Choice::word(l.side));
                inputs.row([
                    id.clone(),
                    s.source.clone(),
                    side.to_owned(),
                    i.input.to_string(),
                    shown(i.level_v, 3),
                    shown(i.level_dbu, 1),
                    shown(i.highest_v, 3),
                    shown(i.headroom_db, 1),
                ]);
            }
            gains.row([
                id.clone(),
                s.source.clone(),
                format!("{:+.1}", s.needed_gain_db),
                loamline_terms::fixed(s.turn_down_db, 1),
            ]);
        }
        outputs.row([
            id.clone(),
            g.gain_db.map_or_else(|| "-".to_owned(), |gain| format!("{gain:+.1}")),
            loamline_terms::fixed(g.wanted_v, 2),
            loamline_terms::fixed(g.wanted_dbu, 1),
            loamline_terms::fixed(g.peak_v, 1),
            loamline_terms::fixed(g.clipping_margin_db, 1),
            shown(g.noise_dba, 1),
        ]);
    }
    let quiet = format!(
        "Outputs: gain to set, level the design means, peaks below full output, noise at the nearest listener (at most {} dBA)",
        loamline_terms::fixed(report.quiet_night_dba, 0)
    );
    [
        section("Inputs", &inputs.to_string()),
        section("Gain from each source, and how far a louder one is turned down", &gains.to_string()),
        section(paragraph(&quiet).trim_end(), &outputs.to_string()),
        open::findings_text(&report.findings, format),
    ]
    .concat()
}
