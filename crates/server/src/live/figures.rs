//! Figures that go with maps: worked out beside the maps, on one core, so that a picture never waits for a number.

use super::map::Shown;
use super::message::{Figures, NeighbourFigures};
use crate::api::{AreaFigures, finding_views};
use crate::jobs::OpenJob;
use indexmap::IndexMap;
use indexmap::map::Entry;
use loamline_acoustics::{IncrementalField, area_statistics};
use loamline_model::Job;
use loamline_model::document::{Area, Surface};
use loamline_study::{Judged, NeighbourLevels, Sound, neighbours};
use rayon::{ThreadPool, ThreadPoolBuilder};
use std::sync::LazyLock;

/// One core for the figures of all browsers. Given all cores, a set of figures would hold up the maps of a drag for as
/// long as two or three of them take.
static BESIDE: LazyLock<Option<ThreadPool>> = LazyLock::new(|| {
    let name = |_| "figures".to_owned();
    ThreadPoolBuilder::new().num_threads(1).thread_name(name).build().ok()
});

fn beside<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    match BESIDE.as_ref() {
        Some(pool) => pool.install(work),
        // No thread can be had: here, then.
        None => work(),
    }
}

/// What the figures of one browser's drags are worked out from.
#[derive(Default)]
pub struct DragFigures {
    areas: IndexMap<String, (Area, IncrementalField)>,
    /// The ground that gives the areas' points their elevations.
    ground: IndexMap<String, Surface>,
}

impl DragFigures {
    /// The figures of a preview, at the points of the areas; none for a map of the stored job.
    pub fn of(&mut self, open: &OpenJob, shown: &Shown) -> Option<Figures> {
        let job = shown.preview.as_ref()?;
        let (areas, neighbours) =
            beside(|| (self.areas(open, job, &shown.sound), neighbours(job, &shown.sound).0));
        Some(Figures {
            request: shown.request,
            revision: shown.revision,
            preview: true,
            areas,
            neighbours: neighbour_figures(&neighbours),
            findings: None,
        })
    }

    /// Lays out what the first figures of a drag would have to lay out, from the job as stored.
    pub fn warm(&mut self, open: &OpenJob, sound: &Sound) {
        let now = open.now();
        beside(|| self.areas(open, now.file.job(), sound));
    }

    fn areas(&mut self, open: &OpenJob, job: &Job, sound: &Sound) -> IndexMap<String, AreaFigures> {
        let scene = &sound.scene;
        let mut areas = IndexMap::new();
        if self.ground != job.document().surfaces {
            self.areas.clear();
            self.ground = job.document().surfaces.clone();
        }
        self.areas.retain(|id, (a, _)| job.document().areas.get(id).is_some_and(|now| now == a));
        for (id, area) in &job.document().areas {
            let kept = match self.areas.entry(id.clone()) {
                Entry::Occupied(e) => &mut e.into_mut().1,
                Entry::Vacant(e) => {
                    let Some(kept) = open.fields().area(job, id, area, scene) else { continue };
                    &mut e.insert((area.clone(), kept)).1
                }
            };
            kept.set_scene(scene);
            let all = kept.field();
            let bands: Vec<_> = (0..all.len()).map(|p| all.band_levels_db(p)).collect();
            if let Ok(statistics) = area_statistics(&bands, area.target_dba, area.within_db) {
                areas.insert(id.clone(), AreaFigures::from(&statistics));
            }
        }
        areas
    }
}

/// The figures of the job as stored, from its study; on every core when `alone`, nothing else being wanted.
pub fn stored_figures(open: &OpenJob, request: u32, alone: bool) -> Figures {
    if alone { stored(open, request) } else { beside(|| stored(open, request)) }
}

fn stored(open: &OpenJob, request: u32) -> Figures {
    open.study(|study, revision| {
        let findings = finding_views(&study.findings());
        let heard = study.heard();
        let areas = heard.levels.as_ref().map(|l| &l.areas);
        Figures {
            request,
            revision,
            preview: false,
            areas: areas
                .into_iter()
                .flatten()
                .map(|(id, a)| (id.clone(), AreaFigures::from(&a.statistics)))
                .collect(),
            neighbours: neighbour_figures(&heard.neighbours),
            findings: Some(findings),
        }
    })
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
