//! `loamline listen WAV [--job DIR --at PLACE]`

use super::open::{self, section};
use super::predict::place as point;
use crate::args::ListenArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Table, paragraph};
use loamline_model::Quantity;
use loamline_processing::{
    Agreement, HeardPolarity, ListenSettings, Listening, Sweep, SweepSpec, analyse, read_recording,
};
use loamline_study::{Study, SweepAsked, SweepPlace, SweepPredicted, sweep_at};
use loamline_terms::Band;
use serde_json::json;
use std::fs::File;
use std::io::BufReader;

/// Arrivals closer than this to the predicted one are as predicted, s: 0.7 m of air, about what a tape and the delay of
/// the equipment leave open (common practice, no source).
const ARRIVAL_WITHIN_S: f64 = 0.002;

pub fn run(arguments: &ListenArguments, format: Format) -> Result<Verdict, Failure> {
    let a = arguments;
    let file = File::open(&a.recording)
        .map_err(|error| Failure::Read { path: a.recording.display().to_string(), error })?;
    let recording = read_recording(BufReader::new(file)).map_err(Failure::input)?;
    let sweep =
        Sweep::new(SweepSpec { start_hz: a.from, end_hz: a.to, length_s: a.length, level_dbfs: a.level })
            .map_err(Failure::input)?;
    let study = a.job.as_deref().filter(|_| a.at.is_some()).map(open::study).transpose()?;
    let format = study.as_ref().map_or(format, |s| format.of(s.job()));
    let predicted = study.as_ref().map(|s| predicted(s, a)).transpose()?.flatten();
    let given = (!a.predicted.is_empty()).then(|| a.predicted.clone());
    let settings = ListenSettings {
        full_scale_db: a.calibration,
        predicted_db: predicted.as_ref().map(|p| p.band_levels_db.clone()).or(given),
        ..ListenSettings::default()
    };
    let heard = analyse(&recording, &sweep, &settings).map_err(Failure::input)?;
    if format.json {
        match &predicted {
            Some(p) => output::json(&json!({ "heard": heard, "predicted": p }))?,
            None => output::json(&heard)?,
        }
    } else {
        output::data(&text(&heard, predicted.as_ref(), settings.predicted_db.as_deref(), format))?
    }
    Ok(Verdict::Fine)
}

/// What the job says should be heard, where a place is given.
fn predicted(study: &Study, a: &ListenArguments) -> Result<Option<SweepPredicted>, Failure> {
    let Some(at) = &a.at else { return Ok(None) };
    let height =
        |text: &String| Quantity::Length.parse(text).map_err(|e| Failure::input(format!("--height: {e}")));
    let asked = SweepAsked {
        at: if at.contains(',') { SweepPlace::Point(point(at)?) } else { SweepPlace::Named(at.clone()) },
        height_m: a.height.as_ref().map(height).transpose()?,
        loudspeakers: a.loudspeakers.clone(),
        channels: a.channel.clone(),
        level_dbfs: a.level,
    };
    sweep_at(study, &asked).map(Some).map_err(Failure::study)
}

fn text(
    heard: &Listening,
    predicted: Option<&SweepPredicted>,
    levels_db: Option<&[f64]>,
    format: Format,
) -> String {
    let after = if heard.relative_to_loop_back { "the loop-back" } else { "the start of the recording" };
    let mut text = String::new();
    if let Some(p) = predicted {
        text += &paragraph(&format!(
            "At {}, {}, {} above the datum; playing: {}.",
            format.units.length(p.at.x),
            format.units.length(p.at.y),
            format.units.length(p.at.z),
            p.loudspeakers.join(", ")
        ));
        text.push('\n');
    }
    let level = match heard.level_db {
        Some(db) => format!("{} dB", loamline_terms::fixed(db, 1)),
        None => {
            format!(
                "{} dB re a full-scale sine (give --calibration for sound pressure)",
                loamline_terms::fixed(heard.level_dbfs, 1)
            )
        }
    };
    text += &format!(
        "Arrival   {} ms after {after}\nPolarity  {}\nLevel     {level}\nContrast  {} dB\n\n",
        loamline_terms::fixed(1e3 * heard.arrival_s, 2),
        polarity(heard, predicted),
        loamline_terms::fixed(heard.contrast_db, 0)
    );
    if let Some(p) = predicted {
        text += &paragraph(&arrival(heard, p, format));
        text.push('\n');
    }
    text += &section("Third octaves", &bands(heard, levels_db).to_string());
    match &heard.comparison {
        Some(c) => {
            text += &paragraph(&format!(
                "Against prediction: {:+.1} dB on average over {} bands, {} dB standard deviation: {}.",
                c.mean_db,
                c.bands,
                loamline_terms::fixed(c.spread_db, 1),
                c.agreement.words()
            ));
        }
        None if levels_db.is_some() && heard.level_db.is_none() => {
            text += &paragraph(
                "Levels are not compared with the prediction without a calibration value: hold a calibrator to the \
                 microphone, read the level of its tone in the recording, and give --calibration the level a full-scale \
                 sine would have.",
            );
        }
        None if levels_db.is_some() => {
            text += "No band stands clear enough of the noise to be compared with the prediction.\n";
        }
        None => {}
    }
    text
}

fn polarity(heard: &Listening, predicted: Option<&SweepPredicted>) -> String {
    let turned = predicted.is_some_and(|p| p.reversed);
    match (heard.polarity, predicted) {
        (HeardPolarity::Unclear, _) => "unclear: too few octaves or too many reflections to tell".to_owned(),
        (HeardPolarity::Normal, None) => "normal".to_owned(),
        (HeardPolarity::Reversed, None) => "REVERSED".to_owned(),
        (p, Some(_)) if (p == HeardPolarity::Reversed) == turned => {
            format!("{}, as in the job", if turned { "reversed" } else { "normal" })
        }
        (HeardPolarity::Reversed, Some(p)) => {
            format!("REVERSED, normal in the job: check the wires of {}", p.first)
        }
        (_, Some(p)) => format!("NORMAL, reversed in the job: check the wires of {}", p.first),
    }
}

/// The arrival beside the predicted one.
fn arrival(heard: &Listening, p: &SweepPredicted, format: Format) -> String {
    let expected = format!(
        "{} should come first, after {} ms ({} through the air)",
        p.first,
        loamline_terms::fixed(1e3 * p.arrival_s, 2),
        format.units.length(p.distance_m)
    );
    if !heard.relative_to_loop_back {
        return format!(
            "{expected}. The recording has no loop-back on its second channel, so when it came cannot be told."
        );
    }
    let late_s = heard.arrival_s - p.arrival_s;
    let metres = format.units.length((late_s * p.speed_of_sound_m_s).abs());
    if late_s.abs() <= ARRIVAL_WITHIN_S {
        format!("{expected}; it came {:+.2} ms from that, {metres} of air: as predicted.", 1e3 * late_s)
    } else if late_s > 0.0 {
        format!(
            "{expected}; it came {} ms later: {metres} farther than drawn, or a delay in the equipment that the job \
             does not know.",
            loamline_terms::fixed(1e3 * late_s, 2)
        )
    } else {
        format!(
            "{expected}; it came {} ms earlier: {metres} nearer than drawn, or a delay of the job is not set in the \
             equipment.",
            loamline_terms::fixed(-1e3 * late_s, 2)
        )
    }
}

/// A band by the frequency people call it, Hz.
fn nominal(centre_hz: f64) -> String {
    Band::with_centre(centre_hz)
        .map_or_else(|| loamline_terms::fixed(centre_hz, 0), |b| b.nominal_hz().to_string())
}

fn bands(heard: &Listening, levels_db: Option<&[f64]>) -> Table {
    let or_dash = |v: Option<f64>| v.map_or_else(|| "-".to_owned(), |v| loamline_terms::fixed(v, 1));
    let Some(levels_db) = levels_db else {
        let heads = ["Hz", "recorded over played dB", "level dB", "signal over noise dB"];
        let mut table = Table::new(heads.map(Column::right));
        for b in &heard.bands {
            table.row([
                nominal(b.frequency_hz),
                loamline_terms::fixed(b.gain_db, 1),
                or_dash(b.level_db),
                or_dash(b.signal_to_noise_db),
            ]);
        }
        return table;
    };
    let mut table = Table::new([
        Column::right("Hz"),
        Column::right("measured dB"),
        Column::right("predicted dB"),
        Column::right("difference"),
        Column::right("over noise dB"),
        Column::left("verdict"),
    ]);
    // Bands of the recording are some of the 31, in their order.
    for (i, b) in heard.bands.iter().enumerate() {
        let predicted = Band::with_centre(b.frequency_hz).and_then(|band| levels_db.get(band.index()));
        let difference = heard.comparison.as_ref().and_then(|c| c.difference_db.get(i).copied().flatten());
        table.row([
            nominal(b.frequency_hz),
            or_dash(b.level_db),
            or_dash(predicted.copied()),
            difference.map_or_else(|| "-".to_owned(), |d| format!("{d:+.1}")),
            or_dash(b.signal_to_noise_db),
            difference.map_or("", |d| Agreement::of(d).words()).to_owned(),
        ]);
    }
    table
}
