//! `loamline bass JOB`

use super::open::{self, decibels, section};
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Progress, Table};
use loamline_acoustics::{SearchCoverage, SubwooferSetting};
use loamline_model::Quantity;
use loamline_study::{AreaBass, BassReport, bass};
use serde_json::json;
use std::path::Path;

pub fn run(folder: &Path, format: Format) -> Result<Verdict, Failure> {
    let study = open::study(folder)?;
    let format = format.of(study.job());
    let progress = Progress::start("Adding up the bass");
    // The scene alone: what is heard in areas and at neighbours is not asked for.
    let scene = study.sound();
    let Ok(sound) = &*scene else {
        progress.finish();
        return Err(Failure::input(open::findings_text(&study.heard().findings, format)));
    };
    let report = bass(study.job(), sound).map_err(Failure::study)?;
    progress.finish();
    if format.json {
        output::json(&json!({ "job": open::job_json(&study), "report": report }))?;
    } else {
        output::data(&text(&report, format))?;
    }
    Ok(Verdict::Fine)
}

fn text(report: &BassReport, format: Format) -> String {
    if report.subwoofers.is_empty() {
        return "There are no subwoofers in this job.\n".into();
    }
    report.areas.iter().map(|(id, a)| area_text(id, a, format)).collect()
}

fn area_text(id: &str, a: &AreaBass, format: Format) -> String {
    let mut bands = Table::new([
        Column::right("band"),
        Column::right("level dB"),
        Column::right("spread dB"),
        Column::right("lowest dB"),
        Column::wrapped("cancelled"),
    ]);
    for b in &a.bands {
        let null = a.nulls.iter().find(|n| (n.band_hz - b.band.nominal_hz()).abs() < 0.01);
        let cancelled = null.map_or_else(String::new, |n| {
            format!(
                "{} dB below the louder alone at {}, {}; quieter in {} % of the area",
                loamline_terms::fixed(n.below_louder_db, 1),
                format.units.show(Quantity::Length, n.at.x),
                format.units.show(Quantity::Length, n.at.y),
                loamline_terms::fixed(100.0 * n.share, 0)
            )
        });
        bands.row([
            b.band.label().to_owned(),
            decibels(b.level_db),
            decibels(b.spread_db),
            decibels(b.lowest_db),
            cancelled,
        ]);
    }
    let mut ranking =
        Table::new([Column::right("uneven dB"), Column::right("level dB"), Column::wrapped("setting")]);
    for r in a.ranking.iter().take(5) {
        let words: Vec<String> = r.setting.iter().map(|s| setting_words(a, s)).collect();
        ranking.row([loamline_terms::fixed(r.deviation_db, 2), decibels(r.level_db), words.join("; ")]);
    }
    let tried = match a.coverage {
        SearchCoverage::Every { evaluated } => format!("All {evaluated} settings were tried."),
        SearchCoverage::Part { evaluated, possible, .. } => {
            format!(
                "{evaluated} of {possible} settings were tried.",
                possible = loamline_terms::fixed(possible, 0)
            )
        }
    };
    let title = format!(
        "Bass in {id} from {}: {} dB, uneven by {} dB",
        a.subwoofers.join(" and "),
        loamline_terms::fixed(a.level_db, 1),
        loamline_terms::fixed(a.deviation_db, 2)
    );
    format!(
        "{}{}{tried} Polarity and delay come on top of what is set now.\n{}\n",
        section(&title, &bands.to_string()),
        section("Evenest settings", &ranking.to_string()),
        a.coarser
            .as_ref()
            .map_or_else(String::new, |why| output::paragraph(&format!("note: {}", format.tell(why))))
    )
}

fn setting_words(a: &AreaBass, s: &SubwooferSetting) -> String {
    let id = a.subwoofers.get(s.candidate).map_or("", String::as_str);
    let polarity = if s.reversed { "reversed" } else { "normal" };
    format!("{id} {polarity}, {} ms", loamline_terms::fixed(1000.0 * s.delay_s, 0))
}
