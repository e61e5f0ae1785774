//! Figures that go with maps: worked out beside the maps, on one core, so that a picture never waits for a number.

use super::map::ShownMap;
use super::message::{Figures, NeighbourFigures};
use crate::api::AreaFigures;
use crate::background::give_way;
use crate::jobs::{OpenJob, Snapshot};
use indexmap::IndexMap;
use loamline_limits::lent;
use loamline_study::{DragFigures, Judged, NeighbourLevels};
use rayon::{ThreadPool, ThreadPoolBuilder};
use std::sync::LazyLock;

/// One core for the figures of all browsers. Given all cores, a set of figures would hold up the maps of a drag for as
/// long as two or three of them take.
static BESIDE: LazyLock<Option<ThreadPool>> = LazyLock::new(|| {
    let name = |_| "figures".to_owned();
    ThreadPoolBuilder::new().num_threads(1).thread_name(name).start_handler(|_| give_way()).build().ok()
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
        request: shown.request,
        revision: shown.now.revision,
        preview: true,
        areas: dragged.areas.iter().map(|(id, s)| (id.clone(), AreaFigures::from(s))).collect(),
        neighbours: neighbour_figures(&dragged.neighbours),
        findings: None,
    })
}

/// Lays out what the first figures of a drag would have to lay out.
pub fn warm(kept: &mut DragFigures, shown: &ShownMap) {
    beside(|| kept.warm(&shown.now.study, &shown.sound));
}

/// The figures of the job as stored, from its study; on every core when `alone`, nothing else being wanted.
pub fn stored_figures(open: &OpenJob, request: u32, alone: bool) -> Figures {
    let now = open.now();
    if alone { stored(&now, request) } else { beside(|| stored(&now, request)) }
}

fn stored(now: &Snapshot, request: u32) -> Figures {
    let findings = now.study.findings().to_vec();
    let heard = now.study.heard();
    let areas = heard.levels.iter().flat_map(|l| &l.areas);
    Figures {
        request,
        revision: now.revision,
        preview: false,
        areas: areas.map(|(id, a)| (id.clone(), AreaFigures::from(&a.statistics))).collect(),
        neighbours: neighbour_figures(&heard.neighbours),
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
