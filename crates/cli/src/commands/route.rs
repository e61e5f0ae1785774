//! `loamline route JOB [--dry]`

use super::open::{self, section};
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Progress, Table};
use indexmap::IndexMap;
use loamline_model::document::Laying;
use loamline_model::{Choice, JobFile, LoadError, Quantity};
use loamline_routing::{CutList, cut_list};
use loamline_study::{LaidRun, Routed, Study, route};
use serde_json::json;
use std::path::Path;

pub fn run(folder: &Path, dry: bool, format: Format) -> Result<Verdict, Failure> {
    let mut file = match JobFile::open(folder) {
        Ok(file) => file,
        Err(LoadError::Invalid(report)) => return Err(Failure::Job(Box::new(report))),
        Err(error) => return Err(Failure::input(error)),
    };
    let before: f64 = Study::new(file.job().clone()).runs().iter().map(|r| r.length.order_m).sum();
    let progress = Progress::start("Finding the ways for the cable");
    let routed = route(file.job()).map_err(Failure::input)?;
    progress.finish();
    file.apply(&routed.edit).map_err(Failure::input)?;
    if !dry {
        file.save(folder).map_err(Failure::input)?;
    }
    let mut study = Study::new(file.job().clone());
    let runs = study.runs();
    let cuts = cut_lists(&study, &runs);
    if format.json {
        output::json(&json!({
            "job": open::job_json(&study),
            "written": !dry,
            "runs": *runs,
            "groups": routed.groups,
            "cuts": cuts,
            "findings": routed.findings,
            "edit": routed.edit,
        }))?;
    } else {
        output::data(&text(&study, &routed, &runs, &cuts, before, dry, format))?;
    }
    Ok(open::verdict(&routed.findings))
}

/// What to cut from which spools, by cable.
fn cut_lists(study: &Study, runs: &[LaidRun]) -> IndexMap<String, CutList> {
    let mut lengths: IndexMap<String, Vec<f64>> = IndexMap::new();
    for r in runs {
        lengths.entry(r.cable.clone()).or_default().push(r.length.order_m);
    }
    let spool = |cable: &str| {
        let spools = &study.job().catalogue().cables.get(cable)?.spools_m;
        spools.iter().copied().reduce(f64::max)
    };
    lengths
        .into_iter()
        .filter_map(|(cable, cuts)| Some((cable.clone(), cut_list(&cuts, spool(&cable)?, 0.0).ok()?)))
        .collect()
}

fn text(
    study: &Study,
    routed: &Routed,
    runs: &[LaidRun],
    cuts: &IndexMap<String, CutList>,
    before_m: f64,
    dry: bool,
    format: Format,
) -> String {
    let metres = |m: f64| format.units.show(Quantity::Length, m);
    let mut schedule = Table::new([
        Column::left("line"),
        Column::left("run"),
        Column::left("from"),
        Column::left("to"),
        Column::right("way"),
        Column::right("to cut"),
        Column::wrapped("laid"),
    ]);
    for r in runs {
        let way: f64 = r.pieces.iter().map(|p| p.length_m).sum();
        schedule.row([
            r.line.clone(),
            r.id.clone(),
            r.from.clone(),
            r.to.clone(),
            metres(way),
            metres(r.length.order_m),
            laid(r, &metres),
        ]);
    }
    let mut sums: IndexMap<Option<Laying>, f64> = IndexMap::new();
    for r in runs {
        for (laying, m) in r.by_laying() {
            *sums.entry(laying).or_insert(0.0) += m;
        }
    }
    let mut totals = Table::new([Column::left("laid"), Column::right("metres of cable")]);
    for (laying, m) in &sums {
        totals.row([laying.map_or("not possible", Choice::word).to_owned(), metres(*m)]);
    }
    let mut spools = Table::new([
        Column::left("cable"),
        Column::right("cuts"),
        Column::right("to cut"),
        Column::right("spools"),
        Column::right("of"),
        Column::right("left over"),
    ]);
    for (cable, list) in cuts {
        let cut: f64 = list.cut_m.iter().sum();
        let each = study
            .job()
            .catalogue()
            .cables
            .get(cable)
            .and_then(|c| c.spools_m.iter().copied().reduce(f64::max));
        spools.row([
            cable.clone(),
            list.cut_m.len().to_string(),
            metres(cut),
            list.cuts.len().to_string(),
            each.map_or_else(String::new, &metres),
            metres(list.leftover_m),
        ]);
    }
    let after: f64 = runs.iter().map(|r| r.length.order_m).sum();
    let written = if dry { "Nothing is written (--dry)." } else { "The runs are written into job.toml." };
    [
        section("Cable schedule", &schedule.to_string()),
        section("By way of laying", &totals.to_string()),
        section("Spools", &spools.to_string()),
        open::findings_text(&routed.findings),
        format!("\nCable to cut: {} before, {} now. {written}\n", metres(before_m), metres(after)),
    ]
    .concat()
}

/// What a run crosses, piece by piece.
fn laid(r: &LaidRun, metres: &impl Fn(f64) -> String) -> String {
    let piece = |p: &loamline_study::LaidPiece| {
        format!("{} {}", metres(p.length_m), p.laying.map_or("not possible", Choice::word))
    };
    let mut parts: Vec<String> = r.pieces.iter().map(piece).collect();
    parts.extend(r.sleeves.iter().map(|s| format!("sleeve {s}")));
    parts.extend(r.crosses.iter().map(|s| format!("crosses {s}: dig by hand")));
    parts.join(", ")
}
