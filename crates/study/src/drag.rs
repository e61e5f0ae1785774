//! Figures that follow a drag: levels in the areas and at the neighbours while somebody moves something about.

use crate::boundary::{KeptNeighbours, NeighbourLevels, neighbours_kept};
use crate::study::Study;
use indexmap::IndexMap;
use loamline_acoustics::{AreaStatistics, IncrementalField, area_statistics};
use loamline_adapt::Sound;
use loamline_model::Job;
use loamline_model::document::{Area, Surface};

/// What the figures of one person's drags are worked out from: fields at the areas' points, and levels at neighbours, kept from
/// one step of a drag to the next.
#[derive(Debug, Default)]
pub struct DragFigures {
    areas: IndexMap<String, (Area, IncrementalField)>,
    /// The ground that gives the areas' points their elevations.
    ground: IndexMap<String, Surface>,
    neighbours: KeptNeighbours,
}

/// The figures of one step.
#[derive(Debug, Clone)]
pub struct Dragged {
    /// Levels of areas, by id.
    pub areas: IndexMap<String, AreaStatistics>,
    /// Neighbours by id.
    pub neighbours: IndexMap<String, NeighbourLevels>,
}

impl DragFigures {
    /// The figures of a job as a drag would leave it, and of what is then heard; `standing` is the job as it stands.
    pub fn of(&mut self, standing: &Study, job: &Job, sound: &Sound) -> Dragged {
        let areas = self.areas(standing, job, sound);
        Dragged { areas, neighbours: neighbours_kept(job, sound, &self.neighbours).0 }
    }

    /// Lays out what the first figures of a drag would have to lay out.
    pub fn warm(&mut self, standing: &Study, sound: &Sound) {
        self.areas(standing, standing.job(), sound);
        neighbours_kept(standing.job(), sound, &self.neighbours);
    }

    /// Lets go of the fields, which are the most of it: the next figures start from those of the job.
    pub fn let_go(&mut self) {
        self.areas.clear();
    }

    /// About how many bytes it keeps.
    pub fn bytes(&self) -> u64 {
        self.areas.values().map(|(_, field)| field.own_bytes()).sum::<f64>() as u64
    }

    fn areas(&mut self, standing: &Study, job: &Job, sound: &Sound) -> IndexMap<String, AreaStatistics> {
        let scene = &sound.scene;
        let mut areas = IndexMap::new();
        if self.ground != job.document().surfaces {
            self.areas.clear();
            self.ground = job.document().surfaces.clone();
        }
        self.areas.retain(|id, (a, _)| job.document().areas.get(id).is_some_and(|now| now == a));
        for (id, area) in &job.document().areas {
            // Taken out meanwhile: a field that is left off half way is not found again.
            let kept = self.areas.swap_remove(id).map(|(_, field)| field);
            let Some(mut kept) = kept.or_else(|| standing.area_field(job, id, area, sound)) else { continue };
            kept.set_scene(scene);
            let all = kept.field();
            let bands: Vec<_> = (0..all.len()).map(|p| all.band_levels_db(p)).collect();
            if let Ok(statistics) = area_statistics(&bands, area.target_dba, area.within_db) {
                areas.insert(id.clone(), statistics);
            }
            self.areas.insert(id.clone(), (area.clone(), kept));
        }
        areas
    }
}
