//! `loamline listen WAV`

use super::open::section;
use crate::args::ListenArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Table};
use loamline_processing::{
    HeardPolarity, ListenSettings, Listening, Sweep, SweepSpec, analyse, read_recording,
};
use std::fs::File;
use std::io::BufReader;

pub fn run(arguments: &ListenArguments, format: Format) -> Result<Verdict, Failure> {
    let a = arguments;
    let file = File::open(&a.recording)
        .map_err(|error| Failure::Read { path: a.recording.display().to_string(), error })?;
    let recording = read_recording(BufReader::new(file)).map_err(Failure::input)?;
    let sweep =
        Sweep::new(SweepSpec { start_hz: a.from, end_hz: a.to, length_s: a.length, level_dbfs: a.level })
            .map_err(Failure::input)?;
    let settings = ListenSettings {
        full_scale_db: a.calibration,
        predicted_db: (!a.predicted.is_empty()).then(|| a.predicted.clone()),
        ..ListenSettings::default()
    };
    let heard = analyse(&recording, &sweep, &settings).map_err(Failure::input)?;
    if format.json {
        output::json(&heard)?
    } else {
        output::data(&text(&heard))?
    }
    Ok(Verdict::Fine)
}

fn text(heard: &Listening) -> String {
    let after = if heard.relative_to_loop_back { "the loop-back" } else { "the start of the recording" };
    let polarity = match heard.polarity {
        HeardPolarity::Normal => "normal",
        HeardPolarity::Inverted => "INVERTED",
        HeardPolarity::Unclear => "unclear: too few octaves or too many reflections to tell",
    };
    let level = match heard.level_db {
        Some(db) => format!("{db:.1} dB"),
        None => {
            format!("{:.1} dB re a full-scale sine (give --calibration for sound pressure)", heard.level_dbfs)
        }
    };
    let mut text = format!(
        "Arrival   {:.2} ms after {after}\nPolarity  {polarity}\nLevel     {level}\nContrast  {:.0} dB\n\n",
        1e3 * heard.arrival_s,
        heard.contrast_db
    );
    let mut table = Table::new(
        ["Hz", "recorded over played dB", "level dB", "signal over noise dB", "measured less predicted"]
            .map(Column::right),
    );
    for (i, b) in heard.bands.iter().enumerate() {
        let or_dash = |v: Option<f64>| v.map_or_else(|| "-".to_owned(), |v| format!("{v:.1}"));
        let difference = heard.comparison.as_ref().and_then(|c| c.difference_db.get(i).copied().flatten());
        table.row([
            format!("{:.0}", b.frequency_hz),
            format!("{:.1}", b.gain_db),
            or_dash(b.level_db),
            or_dash(b.signal_to_noise_db),
            or_dash(difference),
        ]);
    }
    text += &section("Third octaves", &table.to_string());
    if let Some(c) = &heard.comparison {
        text += &format!(
            "Against prediction: {:+.1} dB on average over {} bands, {:.1} dB standard deviation.\n",
            c.mean_db, c.bands, c.spread_db
        );
    }
    text
}
