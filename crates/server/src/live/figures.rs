//! Figures that go with maps. Those of a drag are worked out beside the maps, on one core, so that a picture never waits for a
//! number; those of the stored job are findings like any other: once for all who look on, and before pictures.

use super::map::ShownMap;
use super::message::{Figures, NeighbourFigures};
use crate::accepted::findings_with_accepted;
use crate::api::AreaFigures;
use crate::give_way::Behind;
use crate::jobs::OpenJob;
use axum::body::Bytes;
use futures_util::future::BoxFuture;
use indexmap::IndexMap;
use loamline_limits::lent;
use loamline_study::{DragFigures, Judged, NeighbourLevels, alike};
use rayon::{ThreadPool, ThreadPoolBuilder};
use std::sync::{Arc, LazyLock};

/// Asks for the figures of the stored job, as JSON; none where they cannot be had.
pub type AskStored = Arc<dyn Fn() -> BoxFuture<'static, Option<Bytes>> + Send + Sync>;

/// One core for the figures of all drags. Given all cores, a set of figures would hold up the maps of a drag for as
/// long as two or three of them take.
static BESIDE: LazyLock<Option<ThreadPool>> = LazyLock::new(|| {
    let name = |_| "figures".to_owned();
    let behind_all = |_| Behind::All.stand();
    ThreadPoolBuilder::new().num_threads(1).thread_name(name).start_handler(behind_all).build().ok()
});

fn beside<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    match BESIDE.as_ref() {
        Some(pool) => {
            let leave = lent();
            pool.install(|| leave.lend(work))
        }
        // No thread can be had: here, then.
        None => work(),
    }
}

/// The figures of a preview, at the points of the areas; none for a map of the stored job.
pub fn drag_figures(kept: &mut DragFigures, shown: &ShownMap) -> Option<Figures> {
    let job = shown.preview.as_ref()?;
    let dragged = beside(|| kept.of(&shown.now.study, job, &shown.sound));
    Some(Figures {
        revision: shown.now.revision,
        preview: true,
        areas: dragged.areas.iter().map(|(id, s)| (id.clone(), AreaFigures::from(s))).collect(),
        neighbours: neighbour_figures(&dragged.neighbours),
        findings: None,
        alike: None,
    })
}

/// Lays out what the first figures of a drag would have to lay out.
pub fn warm(kept: &mut DragFigures, shown: &ShownMap) {
    beside(|| kept.warm(&shown.now.study, &shown.sound));
}

/// The figures of the job as stored, from its study; in findings prices for those who see them.
pub fn stored_figures(job: &OpenJob, prices: bool) -> Figures {
    let now = &job.now();
    let findings = findings_with_accepted(job, now, prices);
    let heard = now.study.heard();
    let areas = heard.levels.iter().flat_map(|l| &l.areas);
    Figures {
        revision: now.revision,
        preview: false,
        areas: areas.map(|(id, a)| (id.clone(), AreaFigures::from(&a.statistics))).collect(),
        neighbours: neighbour_figures(&heard.neighbours),
        alike: Some(alike(now.study.job(), &findings)),
        findings: Some(findings),
    }
}

fn neighbour_figures(levels: &IndexMap<String, NeighbourLevels>) -> IndexMap<String, NeighbourFigures> {
    let least = |judged: &[Judged]| judged.iter().map(|j| j.judgement.margin_db).reduce(f64::min);
    levels
        .iter()
        .map(|(id, n)| {
            let figures = NeighbourFigures { day_margin_db: least(&n.day), night_margin_db: least(&n.night) };
            (id.clone(), figures)
        })
        .collect()
}
