//! `loamline tune JOB [--write] [--out DIR]`

use super::neighbours;
use super::open::{self, decibels, section};
use crate::args::TuneArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Progress, Table, paragraph, whole_file};
use loamline_acoustics::{AreaStatistics, LimitQuantity};
use loamline_limits::to_the_end;
use loamline_model::document::Brief;
use loamline_model::{JobFile, LoadError};
use loamline_processing::{LimiterRule, SampleRate, WavFormat, write_wav};
use loamline_study::{NOTHING_DBA, Study};
use loamline_tune::{ChannelTuned, Tuned, tune};
use serde_json::json;
use std::fmt::Write as _;
use std::io::{BufWriter, Write as _};
use std::path::Path;

/// Length of the impulse responses written, seconds: a high-pass at 30 Hz has long died away.
const IMPULSE_S: f64 = 0.5;

pub fn run(arguments: &TuneArguments, format: Format) -> Result<Verdict, Failure> {
    let mut file = JobFile::open(&arguments.job).map_err(|error| match error {
        LoadError::Invalid(report) => Failure::Job(Box::new(report)),
        other => Failure::input(other),
    })?;
    let format = format.of(file.job());
    let rate = SampleRate::new(arguments.rate).map_err(Failure::input)?;
    let study = Study::new(file.job().clone());
    let progress = Progress::start("Tuning the channels");
    let tuned = tune(&study).map_err(Failure::input)?;
    progress.finish();
    to_the_end(|| give(arguments, format, &mut file, &study, &tuned, rate))
}

/// Writes and shows: once something is written, all of it is.
fn give(
    arguments: &TuneArguments,
    format: Format,
    file: &mut JobFile,
    study: &Study,
    tuned: &Tuned,
    rate: SampleRate,
) -> Result<Verdict, Failure> {
    if arguments.write {
        file.apply(&tuned.edit).map_err(Failure::input)?;
        file.save(&arguments.job).map_err(Failure::input)?;
        output::log("The settings are written into the job; nothing else in it has changed.");
    }
    if let Some(folder) = &arguments.out {
        write(tuned, folder)?;
        output::log(&format!(
            "Impulse responses, settings.csv, sections.csv and tune.json are in {}.",
            folder.display()
        ));
    }
    if format.json {
        let sections = sections(tuned, rate)?;
        output::json(
            &json!({ "job": open::job_json(study), "sample_rate_hz": rate.hz(), "sections": sections, "report": tuned }),
        )?;
    } else {
        output::data(&text(tuned, &study.job().document().brief, (rate, arguments.write), format)?)?;
    }
    // What the job leaves open as it stands is gone once the settings are written.
    let standing = if arguments.write { &[][..] } else { &tuned.standing };
    Ok(open::verdict(&tuned.findings).max(open::verdict(standing)))
}

fn sections(tuned: &Tuned, rate: SampleRate) -> Result<serde_json::Value, Failure> {
    let mut all = serde_json::Map::new();
    for (id, channel) in &tuned.channels {
        all.insert(id.clone(), json!(channel.plan.chain.sections(rate).map_err(Failure::input)?));
    }
    Ok(all.into())
}

fn text(
    tuned: &Tuned,
    brief: &Brief,
    (rate, written): (SampleRate, bool),
    format: Format,
) -> Result<String, Failure> {
    let mut text = String::new();
    for (id, channel) in &tuned.channels {
        let mut table = Table::new([Column::wrapped("set"), Column::wrapped("to")]);
        for row in &channel.settings {
            table.row([format.tell(&row.setting), row.value.clone()]);
        }
        text += &section(&format!("Channel {id}"), &table.to_string());
        if let Some(from) = channel.makers_settings() {
            text += &format!("{}\n", paragraph(&from.steps.join(" ")));
        }
        text += &limiter_text(channel);
        let mut table = Table::new(["b0", "b1", "b2", "a1", "a2"].map(Column::right));
        for s in channel.plan.chain.sections(rate).map_err(Failure::input)? {
            table.row([s.b0, s.b1, s.b2, s.a1, s.a2].map(|v| format!("{v:.10}")));
        }
        let head = paragraph(&format!(
            "Sections of {id} at {} Hz, without gain, delay and polarity: y = b0 x + b1 x1 + b2 x2 - a1 y1 - a2 y2",
            rate.hz()
        ));
        text += &section(head.trim_end(), &table.to_string());
    }
    let mut areas = Table::new([
        Column::left("area"),
        Column::right("wanted"),
        Column::right("before"),
        Column::right("after"),
        Column::right("uneven before"),
        Column::right("after"),
        Column::right("bass before"),
        Column::right("after"),
    ]);
    for (id, a) in &tuned.areas {
        areas.row([
            id.clone(),
            decibels(a.target_dba),
            decibels(a.before.mean_dba),
            decibels(a.after.mean_dba),
            format!("{} dB", loamline_terms::fixed(a.uneven_before_db, 1)),
            format!("{} dB", loamline_terms::fixed(a.uneven_after_db, 1)),
            bass_over_mid(&a.before),
            bass_over_mid(&a.after),
        ]);
    }
    text += &section(
        paragraph("Areas: level in dBA, how far from the programme's spectrum, bass over the middle in dB")
            .trim_end(),
        &areas.to_string(),
    );
    if !tuned.neighbours.is_empty() {
        let heading = neighbours::heading("Neighbours with these settings", brief);
        text += &section(&heading, &neighbours_table(tuned).to_string());
    }
    let mut delays = Table::new([
        Column::left("area"),
        Column::right("echo before"),
        Column::right("after"),
        Column::wrapped("delays"),
    ]);
    for a in &tuned.delays {
        let word = match a.verdict {
            loamline_processing::DelayVerdict::NotNeeded => "not needed: no echo to be heard",
            loamline_processing::DelayVerdict::Helps => "help",
            loamline_processing::DelayVerdict::OneChannel => "cannot reach: the echo is within one channel",
            loamline_processing::DelayVerdict::CannotHelp => "do not bother: what helps here hurts elsewhere",
        };
        let share = |s: f64| format!("{} %", loamline_terms::fixed(100.0 * s, 0));
        delays.row([a.name.clone(), share(a.echo_share_before), share(a.echo_share_after), word.to_owned()]);
    }
    text += &section("Delays", &delays.to_string());
    for stage in &tuned.order {
        let mut steps = Table::new([
            Column::left("[ ]"),
            Column::left("about"),
            Column::wrapped("do"),
            Column::wrapped("confirm"),
        ]);
        for s in &stage.steps {
            let blank = s.write_down.then(|| "read: ______".to_owned());
            let confirm =
                s.confirm.iter().map(ToString::to_string).chain(blank).collect::<Vec<_>>().join("; ");
            steps.row(["[ ]", s.about.as_deref().unwrap_or(""), s.action.as_str(), confirm.as_str()]);
        }
        let title = paragraph(&format!("{}. {}. {}", stage.number, stage.stage, stage.reason));
        text += &section(title.trim_end(), &steps.to_string());
    }
    if !written && !tuned.standing.is_empty() {
        text += &section("The job as it stands", &open::findings_text(&tuned.standing, format));
    }
    text += &section("With these settings", &open::findings_text(&tuned.findings, format));
    Ok(text)
}

/// Bass over the middle; `-` where nothing sounds.
fn bass_over_mid(s: &AreaStatistics) -> String {
    if s.mean_dba < NOTHING_DBA { "-".to_owned() } else { format!("{:+.1}", s.bass_over_mid_db) }
}

/// Who sets the limiter and what it costs.
fn limiter_text(channel: &ChannelTuned) -> String {
    let (Some((rms, peak)), Some(cost)) = (&channel.weakest, channel.limiter_cost) else {
        return String::new();
    };
    let weakest = if rms == peak {
        format!("{rms} is the weakest on the channel and sets both thresholds.")
    } else {
        format!("{rms} sets the RMS threshold, {peak} the peak threshold.")
    };
    let costs = match cost.rule {
        LimiterRule::Neither => "At full drive the amplifier runs out before the limiter acts.".to_owned(),
        LimiterRule::Rms => {
            format!(
                "At full drive the limiter takes {} dB, by its RMS threshold.",
                loamline_terms::fixed(cost.reduction_db, 1)
            )
        }
        LimiterRule::Peak => {
            format!(
                "At full drive the limiter takes {} dB, by its peak threshold.",
                loamline_terms::fixed(cost.reduction_db, 1)
            )
        }
    };
    format!("{}\n", paragraph(&format!("{weakest} {costs}")))
}

fn neighbours_table(tuned: &Tuned) -> Table {
    let rows = tuned.neighbours.iter().map(|n| neighbours::Row {
        neighbour: &n.neighbour,
        floor: n.floor.as_deref(),
        by_night: n.by_night,
        octave_63_hz: n.quantity == LimitQuantity::Octave63Hz,
        level: decibels(n.level_db),
        limit_db: n.limit_db,
        margin_db: n.margin_db(),
        more: [],
    });
    neighbours::table([], rows)
}

fn write(tuned: &Tuned, folder: &Path) -> Result<(), Failure> {
    std::fs::create_dir_all(folder).map_err(|e| Failure::unwritable(folder, &e))?;
    let mut csv = "channel,setting,value\n".to_owned();
    // y = b0 x + b1 x1 + b2 x2 - a1 y1 - a2 y2, as in the text.
    let mut coefficients = "channel,sample_rate_hz,section,b0,b1,b2,a1,a2\n".to_owned();
    for (id, channel) in &tuned.channels {
        for row in &channel.settings {
            let _ = writeln!(csv, "{},\"{}\",\"{}\"", row.channel, row.setting, row.value);
        }
        for rate in SampleRate::COMMON {
            let sections = channel.plan.chain.sections(rate).map_err(Failure::input)?;
            for (s, number) in sections.iter().zip(1..) {
                let values = [s.b0, s.b1, s.b2, s.a1, s.a2].map(|v| v.to_string()).join(",");
                let _ = writeln!(coefficients, "{id},{},{number},{values}", rate.hz());
            }
            let length = (IMPULSE_S * rate.hz()) as usize;
            let samples = channel.plan.chain.impulse_response(rate, length).map_err(Failure::input)?;
            let path = folder.join(format!("{id}-{}.wav", rate.hz()));
            whole_file(&path, |file| {
                write_wav(BufWriter::new(file), &samples, rate, WavFormat::Float32).map_err(Failure::input)
            })?;
        }
    }
    let text = serde_json::to_string_pretty(tuned).map_err(Failure::input)?;
    for (name, text) in [("settings.csv", csv), ("sections.csv", coefficients), ("tune.json", text)] {
        let path = folder.join(name);
        whole_file(&path, |f| f.write_all(text.as_bytes()).map_err(|e| Failure::unwritable(&path, &e)))?;
    }
    Ok(())
}
