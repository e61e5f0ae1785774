//! Cable and ground details: those a job has use for, with the local figures where it states them and room to write them in
//! where it does not.

use super::super::common::Drawings;
use crate::depths::asked_m;
use crate::drawing::{GROUND_DETAIL_MM, GroundDetail};
use crate::material::Material;
use crate::measures::dimension;
use loamline_adapt::LaidRun;
use loamline_model::document::{Laying, Mount, ServiceKind, SurfaceKind};
use loamline_quotation::{GRAVEL_M, OVERDIG_M};
use serde_json::{Value, json};

/// Data of the details that the job has use for.
pub fn details(m: &Material<'_>, drawings: &mut Drawings) -> Vec<Value> {
    let words = &m.options.words;
    let needed = GroundDetail::ALL.into_iter().map(|detail| (detail, used_by(m, detail)));
    needed
        .filter(|(_, used_by)| !used_by.is_empty())
        .map(|(detail, used_by)| {
            let title = words.get(&format!("detail.{}.title", detail.key())).to_owned();
            let notes = words.list(&format!("detail.{}.notes", detail.key()));
            let notes: Vec<Value> = notes
                .iter()
                .zip(1..)
                .map(|(note, mark): (&String, usize)| json!({ "mark": mark.to_string(), "text": with_figures(m, detail, note) }))
                .collect();
            json!({
                "file": drawings.add(detail.draw(&title)),
                "title": title,
                "used_by": used_by.join(", "),
                "notes": notes,
                "width": GROUND_DETAIL_MM.0,
                "height": GROUND_DETAIL_MM.1,
            })
        })
        .collect()
}

/// What a detail is for: lines, services or loudspeakers, each once; nothing where the job has no use for it.
fn used_by(m: &Material<'_>, detail: GroundDetail) -> Vec<String> {
    let d = m.job.document();
    let ways =
        |ways: &[Laying]| lines(m, |r| r.pieces.iter().any(|p| p.laying.is_some_and(|l| ways.contains(&l))));
    let holes_of = |mount: Mount| {
        let own = |tag: &str| m.job.loudspeaker(tag).is_some_and(|l| l.mount == mount);
        m.holes.iter().filter(|h| own(&h.loudspeaker)).map(|h| h.loudspeaker.clone()).collect()
    };
    match detail {
        GroundDetail::Slit => ways(&[Laying::Slit]),
        GroundDetail::Trench => ways(&[Laying::Trench]),
        GroundDetail::UnderPaving => {
            let paved = [Laying::LiftedPaving, Laying::Conduit];
            lines(m, |r| {
                !r.sleeves.is_empty() || r.pieces.iter().any(|p| p.laying.is_some_and(|l| paved.contains(&l)))
            })
        }
        GroundDetail::Roots => lines(m, |r| {
            r.pieces.iter().any(|p| {
                let surface = p.surface.as_ref().and_then(|id| d.surfaces.get(id));
                surface.map_or(d.site.ground, |s| s.kind) == SurfaceKind::Woodland
                    && !matches!(p.laying, Some(Laying::Indoors | Laying::Clipped))
            })
        }),
        GroundDetail::Crossing => crossed(m, |_| true),
        GroundDetail::Mains => crossed(m, |kind| kind == ServiceKind::Electric),
        GroundDetail::Base => {
            m.job.loudspeakers().filter(|l| l.mount == Mount::Base).map(|l| l.id.to_owned()).collect()
        }
        GroundDetail::Hole => holes_of(Mount::InGround),
    }
}

/// Lines with a run to lay that is so.
fn lines(m: &Material<'_>, so: impl Fn(&LaidRun) -> bool) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for run in m.results.runs.iter().filter(|r| !r.is_existing() && so(r)) {
        if !lines.contains(&run.line) {
            lines.push(run.line.clone());
        }
    }
    lines
}

/// Services of a kind that are crossed; mains cable on the site is told of whether it is crossed or not.
fn crossed(m: &Material<'_>, of: impl Fn(ServiceKind) -> bool) -> Vec<String> {
    let crossed = |id: &String| m.results.runs.iter().any(|r| r.crosses.contains(id));
    let services = m.job.document().services.iter();
    services
        .filter(|(id, s)| of(s.kind) && (crossed(id) || s.kind == ServiceKind::Electric && lays_cable(m)))
        .map(|(id, _)| id.clone())
        .collect()
}

fn lays_cable(m: &Material<'_>) -> bool {
    m.results.runs.iter().any(|r| !r.is_existing())
}

/// A note with its figures: those of the place as the job states them, else room to write them in.
fn with_figures(m: &Material<'_>, detail: GroundDetail, note: &str) -> String {
    let (words, units) = (&m.options.words, m.options.units);
    let local = &m.job.document().site.local;
    let asked = |figure: Option<f64>| match figure {
        Some(metres) => words.fill("detail.at_least", &[("figure", &dimension(units, metres))]),
        None => words.get("detail.to_write_in").to_owned(),
    };
    let figure = match detail {
        GroundDetail::Mains => asked(local.from_mains_m),
        GroundDetail::Base => asked(local.frost_depth_m),
        GroundDetail::Slit => asked(asked_m(local, Laying::Slit)),
        GroundDetail::UnderPaving => asked(asked_m(local, Laying::LiftedPaving)),
        _ => asked(asked_m(local, Laying::Trench)),
    };
    note.replace("{local}", &figure)
        .replace("{room}", &dimension(units, OVERDIG_M))
        .replace("{gravel}", &dimension(units, GRAVEL_M))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::Words;

    #[test]
    fn every_mark_is_explained() {
        let words = Words::english().unwrap();
        for detail in GroundDetail::ALL {
            let notes = words.list(&format!("detail.{}.notes", detail.key()));
            assert_eq!(notes.len(), detail.marks(), "{detail:?}");
            assert_ne!(words.get(&format!("detail.{}.title", detail.key())), "", "{detail:?}");
        }
    }
}
