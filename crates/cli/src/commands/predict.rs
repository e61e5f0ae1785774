//! `loamline predict JOB [--at x,y] [--zone Z] [--phase P]`

use super::neighbours;
use super::open::{self, decibels, section, shown};
use crate::args::PredictArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Progress, Table, indented};
use indexmap::IndexMap;
use loamline_acoustics::{Band, LimitQuantity, Probe, Verdict as Against};
use loamline_geometry::Point2;
use loamline_model::document::Brief;
use loamline_model::{Job, Quantity};
use loamline_study::{
    AtPlaceReport, Finding, Heard, Judged, LevelsReport, NOTHING_DBA, NeighbourLevels, way_words,
};
use serde::Serialize;
use serde_json::{Value, json};

pub fn run(arguments: &PredictArguments, format: Format) -> Result<Verdict, Failure> {
    let at = arguments.at.as_deref().map(place).transpose()?;
    let ear_m = Quantity::Length.parse(&arguments.ear).map_err(|e| Failure::input(format!("--ear: {e}")))?;
    let part = open::part(&arguments.job, &arguments.part)?;
    let study = part.standing();
    let format = format.of(study.job());
    let progress = Progress::start("Predicting levels");
    if let Some(at) = at {
        let (probe, tags) = study.probe(at, ear_m).map_err(Failure::input)?;
        progress.finish();
        if format.json {
            output::json(
                &json!({ "job": open::job_json(study), "at": AtPlaceReport::of(study.job(), &probe, &tags) }),
            )?;
        } else {
            output::data(&probe_text(study.job(), &probe, &tags, format))?;
        }
        return Ok(Verdict::Fine);
    }
    let heard = part.heard();
    progress.finish();
    if format.json {
        let sums = || heard.neighbours.iter().map(|(id, n)| (id.as_str(), n.summed())).collect();
        let summed: Option<IndexMap<&str, NeighbourLevels>> = (!arguments.each).then(sums);
        output::json(&Answer {
            job: open::job_json(part.own()),
            report: Report::of(&heard, summed.as_ref()),
        })?;
    } else {
        output::data(&text(&heard, &study.job().document().brief, format))?;
    }
    Ok(open::verdict(&heard.findings))
}

/// What is printed as JSON: written as it stands, since a report of a large job fills much memory as a tree of values.
#[derive(Serialize)]
struct Answer<'a> {
    job: Value,
    report: Report<'a>,
}

/// What is heard, at the neighbours in full or in sums.
#[derive(Serialize)]
struct Report<'a> {
    levels: Option<&'a LevelsReport>,
    neighbours: Neighbours<'a>,
    findings: &'a [Finding],
}

#[derive(Serialize)]
#[serde(untagged)]
enum Neighbours<'a> {
    Full(&'a IndexMap<String, NeighbourLevels>),
    Summed(&'a IndexMap<&'a str, NeighbourLevels>),
}

impl<'a> Report<'a> {
    fn of(heard: &'a Heard, summed: Option<&'a IndexMap<&'a str, NeighbourLevels>>) -> Self {
        let neighbours = summed.map_or(Neighbours::Full(&heard.neighbours), Neighbours::Summed);
        Self { levels: heard.levels.as_ref(), neighbours, findings: &heard.findings }
    }
}

/// A place in plan, `x,y`, each with or without a unit.
pub fn place(text: &str) -> Result<Point2, Failure> {
    let wrong = |why: String| {
        Failure::input(format!("--at: {why}; write for example --at 12.5,4 or --at \"41 ft,13 ft\""))
    };
    let Some((x, y)) = text.split_once(',') else {
        return Err(wrong(format!("\"{text}\" is not x,y")));
    };
    let metres = |text: &str| Quantity::Length.parse(text).map_err(|error| wrong(error.to_string()));
    Ok(Point2::new(metres(x)?, metres(y)?))
}

fn text(heard: &Heard, brief: &Brief, format: Format) -> String {
    let mut text = heard.levels.as_ref().map(|levels| levels_text(levels, format)).unwrap_or_default();
    if !heard.neighbours.is_empty() {
        let heading = neighbours::heading("Neighbours (ISO 9613-2, downwind)", brief);
        text.push_str(&section(&heading, &neighbours_table(heard).to_string()));
    }
    text + &open::findings_text(&heard.findings, format)
}

fn levels_text(levels: &LevelsReport, format: Format) -> String {
    let mut areas = Table::new([
        Column::left("area"),
        Column::right("wanted"),
        Column::right("mean"),
        Column::right("10 %"),
        Column::right("90 %"),
        Column::right("on target"),
        Column::right("bass-mid"),
        Column::right("spread ms"),
    ]);
    for (id, area) in &levels.areas {
        let s = &area.statistics;
        // Of silence there is no share and no bass.
        let heard = |figure: String| if s.mean_dba < NOTHING_DBA { "-".to_owned() } else { figure };
        areas.row([
            id.clone(),
            decibels(area.target_dba),
            decibels(s.mean_dba),
            decibels(s.p10_dba),
            decibels(s.p90_dba),
            heard(format!("{} %", loamline_terms::fixed(100.0 * s.share_within, 0))),
            heard(format!("{:+.1}", s.bass_over_mid_db)),
            area.arrivals
                .map_or_else(|| "-".to_owned(), |a| loamline_terms::fixed(1e3 * a.largest_spread_s, 0)),
        ]);
    }
    let mut text = section("Areas, dBA", &areas.to_string());
    let mut shares =
        Table::new([Column::left("area"), Column::wrapped("loudspeakers alone, dBA, loudest first")]);
    for (id, area) in &levels.areas {
        shares.row([id.clone(), contributions(area)]);
    }
    text.push_str(&section("Who makes it", &shares.to_string()));
    let speech = levels.areas.iter().filter_map(|(id, area)| Some((id, area.speech_over_others_db?)));
    let mut table = Table::new([Column::left("area"), Column::right("speech over others")]);
    let mut any = false;
    for (id, over_db) in speech {
        table.row([id.clone(), format!("{over_db:+.1}")]);
        any = true;
    }
    if any {
        let heading = "Speech over other programmes, dB, octaves weighed by what they carry of it";
        text.push_str(&section(heading, &table.to_string()));
    }
    if let Some(loudest) = &levels.loudest {
        // A day has 24 hours: a longer time is no limit at all.
        let permitted = if loudest.permitted_s >= 86_400.0 {
            "sets no limit within a day".to_owned()
        } else {
            format!("allows {} a day", shown(format, Quantity::Duration, loudest.permitted_s))
        };
        text.push_str(&format!(
            "Loudest place anyone can stand: {} dBA in front of loudspeaker {}, at {}, {}\n(NIOSH 98-126 {permitted}).\n\n",
            decibels(loudest.level_dba),
            loudest.loudspeaker,
            format.units.length(loudest.at.x),
            format.units.length(loudest.at.y)
        ));
    }
    text.push_str(&format!(
        "Loudspeakers of one programme add as waves up to {}, as energy above.\n\n",
        shown(format, Quantity::Frequency, levels.coherent_below_hz)
    ));
    text
}

/// Loudspeakers that matter in an area by name, the rest by number.
fn contributions(area: &loamline_study::AreaLevels) -> String {
    /// Below the area's level by this much a loudspeaker adds less than a twentieth of a decibel.
    const MATTERS_DB: f64 = 20.0;
    let floor = area.statistics.energy_mean_dba - MATTERS_DB;
    let (named, rest): (Vec<_>, Vec<_>) = area.loudspeakers.iter().partition(|(_, level)| **level > floor);
    let named = named.iter().map(|(tag, level)| format!("{tag} {}", decibels(**level))).collect::<Vec<_>>();
    match rest.len() {
        0 => named.join(", "),
        more => format!("{}; {more} more are over {MATTERS_DB:.0} dB below", named.join(", ")),
    }
}

fn neighbours_table(heard: &Heard) -> Table {
    let rows = heard.neighbours.iter().flat_map(|(id, n)| {
        let by_day = n.day.iter().map(|j| neighbour_row(id, false, j));
        by_day.chain(n.night.iter().map(|j| neighbour_row(id, true, j)))
    });
    neighbours::table([Column::wrapped("answer"), Column::left("most from")], rows)
}

fn neighbour_row<'a>(neighbour: &'a str, by_night: bool, j: &'a Judged) -> neighbours::Row<'a, 2> {
    let judgement = &j.judgement;
    let answer = match judgement.verdict {
        Against::Fine => "kept",
        Against::WithinUncertainty => "kept, but not surely",
        Against::Exceeds => "ABOVE",
    };
    neighbours::Row {
        neighbour,
        floor: j.floor.as_deref(),
        by_night,
        octave_63_hz: judgement.quantity == LimitQuantity::Octave63Hz,
        level: format!(
            "{} +-{}",
            decibels(judgement.level_db),
            loamline_terms::fixed(judgement.standard_uncertainty_db, 0)
        ),
        limit_db: judgement.limit_db,
        margin_db: judgement.margin_db,
        more: [answer.to_owned(), j.loudest_loudspeaker.clone()],
    }
}

fn tag(tags: &[String], source: usize) -> String {
    tags.get(source).cloned().unwrap_or_else(|| format!("source {}", source + 1))
}

fn probe_text(job: &Job, probe: &Probe, tags: &[String], format: Format) -> String {
    let here = format!(
        "{}, {}, {} above the datum",
        format.units.length(probe.point.x),
        format.units.length(probe.point.y),
        format.units.length(probe.point.z)
    );
    if probe.indoors {
        return format!("{here} is inside a building; what is heard there is not predicted.\n");
    }
    if probe.level_dba < NOTHING_DBA {
        return format!("Nothing is heard at {here}: no loudspeaker plays.\n");
    }
    let mut table = Table::new([
        Column::left("loudspeaker"),
        Column::right("dBA"),
        Column::right("arrives ms"),
        Column::wrapped("strongest paths"),
    ]);
    for share in &probe.sources {
        let strongest = share
            .paths
            .iter()
            .take(2)
            .map(|path| format!("{} {}", way_words(job, &path.way), decibels(path.level_dba)));
        table.row([
            tag(tags, share.source),
            decibels(share.level_dba),
            loamline_terms::fixed(1e3 * share.arrival_s, 1),
            strongest.collect::<Vec<_>>().join("; "),
        ]);
    }
    let bands = Band::all().zip(&probe.band_levels_db);
    let bands =
        bands.map(|(band, level)| format!("{} {}", band.label(), decibels(*level))).collect::<Vec<_>>();
    format!(
        "{} dBA at {here}.\n\n{table}\nThird octaves, dB\n{}",
        decibels(probe.level_dba),
        indented(&bands.join(", "))
    )
}
