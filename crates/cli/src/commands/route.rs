//! `loamline route JOB [--starts] [--dry]`

use super::open::{self, section};
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Progress, Table};
use indexmap::IndexMap;
use loamline_adapt::{LaidCable, LaidRun, laid_cables};
use loamline_limits::to_the_end;
use loamline_model::document::Laying;
use loamline_model::{Choice, Job, JobFile, LoadError};
use loamline_study::{RoutedJob, Study, route_from_best_starts, route_told};
use serde_json::json;
use std::path::Path;

pub fn run(folder: &Path, starts: bool, dry: bool, format: Format) -> Result<Verdict, Failure> {
    let mut file = match JobFile::open(folder) {
        Ok(file) => file,
        Err(LoadError::Invalid(report)) => return Err(Failure::Job(Box::new(report))),
        Err(error) => return Err(Failure::input(error)),
    };
    let format = format.of(file.job());
    let before = to_cut_m(file.job(), &laid_cables(file.job(), &Study::new(file.job().clone()).runs()));
    let progress = Progress::start("Finding the ways for the cable");
    let told = |done: f64| {
        progress
            .say(format!("Finding the ways for the cable, {} % done", loamline_terms::fixed(100.0 * done, 0)))
    };
    let found = if starts { route_from_best_starts(&file) } else { route_told(file.job(), &told) };
    let routed = found.map_err(Failure::input)?;
    progress.finish();
    file.apply(&routed.edit).map_err(Failure::input)?;
    let study = Study::new(file.job().clone());
    let routed = RoutedJob::of(&study, routed);
    if !dry {
        file.save(folder).map_err(Failure::input)?;
    }
    to_the_end(|| show(&study, &routed, before, dry, format))
}

fn show(
    study: &Study,
    routed: &RoutedJob,
    before: f64,
    dry: bool,
    format: Format,
) -> Result<Verdict, Failure> {
    if format.json {
        output::json(&json!({
            "job": open::job_json(study),
            "written": !dry,
            "runs": routed.runs,
            "groups": routed.groups,
            "cables": routed.cables,
            "findings": routed.findings,
            "edit": routed.edit,
        }))?;
    } else {
        let cables = laid_cables(study.job(), &routed.runs);
        let now = to_cut_m(study.job(), &cables);
        output::data(&text(routed, &cables, (before, now), dry, format))?;
    }
    Ok(open::verdict(&routed.findings))
}

fn text(
    routed: &RoutedJob,
    cables: &[LaidCable],
    (before_m, now_m): (f64, f64),
    dry: bool,
    format: Format,
) -> String {
    let metres = |m: f64| format.units.run(m);
    let mut schedule = Table::new([
        Column::left("line"),
        Column::left("tag"),
        Column::left("from"),
        Column::left("to"),
        Column::right("way"),
        Column::right("to cut"),
        Column::wrapped("laid"),
    ]);
    let mut sums: IndexMap<Option<Laying>, f64> = IndexMap::new();
    for (c, r) in cables.iter().filter_map(|c| Some((c, routed.runs.get(c.lead)?))) {
        let (way, to_cut, how) = match &r.existing {
            Some(e) if e.length_known => (metres(c.path_m), "-".to_owned(), "existing cable".to_owned()),
            Some(_) => ("unknown".to_owned(), "-".to_owned(), "existing cable".to_owned()),
            None => {
                let way = r.pieces.iter().map(|p| p.length_m).sum();
                (metres(way), format.units.cut(c.order_m), laid(r, &metres))
            }
        };
        schedule.row([c.lines().join(", "), c.tag.clone(), c.from.clone(), c.to.clone(), way, to_cut, how]);
        // Cable that several lines lie in is laid once.
        for (laying, m) in r.by_laying() {
            *sums.entry(laying).or_insert(0.0) += m;
        }
    }
    let mut totals = Table::new([Column::left("laid"), Column::right("cable")]);
    for (laying, m) in &sums {
        totals.row([laying.map_or("not possible", Choice::word).to_owned(), metres(*m)]);
    }
    let mut spools = Table::new([
        Column::left("cable"),
        Column::right("cuts"),
        Column::right("to cut"),
        Column::right("spools"),
        Column::right("left over"),
    ]);
    for order in &routed.cables {
        let to_order: Vec<String> =
            order.to_order.iter().map(|(m, n)| format!("{n} of {}", metres(*m))).collect();
        let cuts: usize = order.spools.iter().map(|s| s.cuts.len()).sum();
        spools.row([
            order.cable.clone(),
            cuts.to_string(),
            format.units.cut(order.cut_m),
            to_order.join(" + "),
            format.units.left(order.left_m()),
        ]);
    }
    let written = if dry { "Nothing is written (--dry)." } else { "The runs are written into job.toml." };
    [
        section("Cable schedule", &schedule.to_string()),
        section("By way of laying", &totals.to_string()),
        section("Spools", &spools.to_string()),
        open::findings_text(&routed.findings, format),
        format!(
            "\nCable to cut: {} before, {} now. {written}\n",
            format.units.cut(before_m),
            format.units.cut(now_m)
        ),
    ]
    .concat()
}

/// Cable to cut, metres: every length as it is cut in the units of the job, so that the sum is that of what is told.
fn to_cut_m(job: &Job, cables: &[LaidCable]) -> f64 {
    let units = job.document().units();
    cables.iter().filter(|c| !c.existing).map(|c| units.cut_m(c.order_m)).sum()
}

/// How a run is laid, kind by kind in the order they come, and what it goes through.
fn laid(r: &LaidRun, metres: &impl Fn(f64) -> String) -> String {
    let sum = |(laying, m): (Option<Laying>, f64)| {
        format!("{} {}", metres(m), laying.map_or("not possible", Choice::word))
    };
    let mut parts: Vec<String> = r.by_laying().into_iter().map(sum).collect();
    parts.extend(r.sleeves.iter().map(|s| format!("sleeve {s}")));
    parts.extend(r.through.iter().map(|o| match &o.passage {
        Some(passage) => format!("passage {passage}"),
        None => format!("new hole in {}", o.building),
    }));
    let mut crossed: IndexMap<&str, usize> = IndexMap::new();
    for service in &r.crosses {
        *crossed.entry(service).or_insert(0) += 1;
    }
    parts.extend(crossed.into_iter().map(|(service, times)| match times {
        1 => format!("crosses {service}: dig by hand"),
        2 => format!("crosses {service} twice: dig by hand"),
        n => format!("crosses {service} {n} times: dig by hand"),
    }));
    parts.join(", ")
}
