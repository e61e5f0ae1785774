//! Level maps for a browser that is looking on: worked out from what is kept from one to the next.

use super::frame::{Grid, frame};
use super::message::{MapRequest, Quantity};
use super::shared::{MOST_PLACES, PointsKey, counts, fresh};
use crate::error::{ApiError, FieldProblem};
use crate::jobs::{OpenJob, Snapshot};
use loamline_acoustics::{Band, Field, IncrementalField, Weighting};
use loamline_model::Job;
use loamline_study::{LineKeeper, LinesReport, Sound, preview};
use std::sync::Arc;

/// What a map shows around what is drawn, m.
const AROUND_M: f64 = 4.0;

/// What one browser's maps are worked out from.
#[derive(Default)]
pub struct Canvas {
    base: Option<Base>,
    /// Solves lines for previews of other things than loudspeakers moving.
    lines: LineKeeper,
    map: Option<(PointsKey, Grid, IncrementalField)>,
    shown: Option<Arc<Shown>>,
}

/// The job as stored.
struct Base {
    now: Snapshot,
    lines: LinesReport,
    sound: Sound,
}

/// What a map showed.
pub struct Shown {
    /// The request.
    pub request: u32,
    /// Revision of the stored job behind it.
    pub revision: u64,
    /// The job as previewed; none when the map was of the stored job.
    pub preview: Option<Job>,
    /// What sounds in it.
    pub sound: Sound,
}

impl Canvas {
    /// Works a map out and puts it into a frame.
    ///
    /// # Errors
    /// What is wrong with the request, or why nothing can be predicted.
    pub fn paint(&mut self, open: &OpenJob, r: &MapRequest) -> Result<Vec<u8>, ApiError> {
        let show = shows(r)?;
        self.look_again(open)?;
        let Some(base) = &self.base else {
            return Err(ApiError::field("", "There is nothing to show."));
        };
        let (revision, stored) = (base.now.revision, base.now.file.job());
        let (job, sound) = if r.preview.operations.is_empty() {
            (None, base.sound.clone())
        } else {
            let job = base.now.file.preview(&r.preview)?;
            let sound = preview(stored, &base.lines, &base.sound, &job, &mut self.lines)
                .map_err(|why| ApiError::field("/preview", why.join(" ")))?;
            (Some(job), sound)
        };
        let key = points_key(stored, job.as_ref().unwrap_or(stored), r)?;
        match &mut self.map {
            Some((k, _, kept)) if *k == key => kept.set_scene(&sound.scene),
            map => {
                // Worked out once for all who look at the stored job, and copied; what is dragged then costs little.
                let (grid, kept) = if key.surfaces == stored.document().surfaces {
                    let (grid, mut kept) = open.fields().map(&key, &base.sound)?;
                    kept.set_scene(&sound.scene);
                    (grid, kept)
                } else {
                    fresh(&key, &sound)?
                };
                *map = Some((key, grid, kept));
            }
        }
        let Some((_, grid, kept)) = &self.map else {
            return Err(ApiError::field("/bounds", "There is nothing to show."));
        };
        let points = kept.points();
        let levels: Vec<Option<f64>> = show
            .levels_db(kept.field())
            .into_iter()
            .enumerate()
            .map(|(i, l)| Some(l).filter(|_| !points.is_indoors(i)))
            .collect();
        let bytes = frame(r.request, revision, grid, &levels);
        self.shown = Some(Arc::new(Shown { request: r.request, revision, preview: job, sound }));
        Ok(bytes)
    }

    /// What the last map showed, for the figures that go with it.
    pub fn shown(&self) -> Option<Arc<Shown>> {
        self.shown.clone()
    }

    /// Takes the job in as it now is, if it changed since the last look.
    fn look_again(&mut self, open: &OpenJob) -> Result<(), ApiError> {
        let now = open.now();
        if self.base.as_ref().is_some_and(|b| b.now.revision == now.revision) {
            return Ok(());
        }
        let (lines, sound) = open.study(|study, _| (study.lines(), study.sound()));
        match sound.as_ref() {
            Ok(sound) => {
                self.base = Some(Base { now, lines, sound: sound.clone() });
                Ok(())
            }
            Err(why) => Err(ApiError::field("", why.join(" "))),
        }
    }
}

enum Shows {
    Weighted(Weighting),
    Band(Band),
}

impl Shows {
    fn levels_db(&self, heard: &Field) -> Vec<f64> {
        match self {
            Self::Weighted(w) => heard.levels_db(*w),
            Self::Band(b) => (0..heard.len()).map(|p| heard.band_level_db(p, *b)).collect(),
        }
    }
}

fn shows(r: &MapRequest) -> Result<Shows, ApiError> {
    Ok(match (r.quantity, r.band_hz) {
        (Quantity::LAeq, _) => Shows::Weighted(Weighting::A),
        (Quantity::LCeq, _) => Shows::Weighted(Weighting::C),
        (Quantity::LZeq, _) => Shows::Weighted(Weighting::Z),
        (Quantity::Band, Some(hz)) => Shows::Band(Band::containing(hz).ok_or_else(|| {
            ApiError::field("/band_hz", format!("{hz} Hz is in no third octave from 20 Hz to 20 kHz."))
        })?),
        (Quantity::Band, None) => {
            return Err(ApiError::field("/band_hz", "Which third octave? Its frequency is missing."));
        }
    })
}

/// West, south, east, north of what is drawn, and a little around it.
fn drawn(job: &Job) -> Option<[f64; 4]> {
    let d = job.document();
    let outlines = d
        .areas
        .values()
        .map(|a| &a.outline)
        .chain(d.buildings.values().map(|b| &b.outline))
        .chain(d.site.outline.as_ref());
    let corners = outlines.flat_map(|o| {
        let (low, high) = o.bounds();
        [low, high]
    });
    let all = corners.chain(d.loudspeakers.values().map(|l| l.position));
    all.map(|p| [p.x, p.y, p.x, p.y])
        .reduce(|a, b| [a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])])
        .map(|b| [b[0] - AROUND_M, b[1] - AROUND_M, b[2] + AROUND_M, b[3] + AROUND_M])
}

/// Checks what a map's points are made from.
fn points_key(stored: &Job, shown: &Job, r: &MapRequest) -> Result<PointsKey, ApiError> {
    let mut problems = Vec::new();
    let range = |path: &str, value: f64, low: f64, high: f64, what: &str| {
        let bad = FieldProblem {
            expected: Some(format!("from {low} m to {high} m")),
            ..FieldProblem::new(path, format!("{value} m is no {what}."))
        };
        Some(bad).filter(|_| !(low..=high).contains(&value))
    };
    problems.extend(range("/spacing_m", r.spacing_m, 0.05, 100.0, "spacing for a map"));
    problems.extend(range("/ear_m", r.ear_m, 0.0, 100.0, "height for ears"));
    // What is shown does not shift while something is dragged.
    let bounds = r.bounds.or_else(|| drawn(stored));
    let sensible = bounds.filter(|[west, south, east, north]| {
        [west, south, east, north].iter().all(|v| v.abs() <= 50_000.0) && west < east && south < north
    });
    let bounds = sensible.unwrap_or_default();
    if sensible.is_none() {
        let why = match r.bounds {
            Some(_) => "Bounds are west, south, east, north in metres, each below its opposite.",
            None => "There is nothing on the plan yet.",
        };
        problems.push(FieldProblem::new("/bounds", why));
    }
    let (columns, rows) = counts(&bounds, r.spacing_m);
    if problems.is_empty() && columns * rows > MOST_PLACES {
        let [west, south, east, north] = bounds;
        let least = ((east - west) * (north - south) / MOST_PLACES).sqrt();
        problems.push(FieldProblem {
            expected: Some(format!("at least {:.2} m here", (least * 105.0).ceil() / 100.0)),
            ..FieldProblem::new(
                "/spacing_m",
                format!(
                    "{:.0} places are more than a map shows; {MOST_PLACES:.0} are the most.",
                    columns * rows
                ),
            )
        });
    }
    if !problems.is_empty() {
        return Err(ApiError::invalid("This map cannot be drawn.", problems));
    }
    let surfaces = shown.document().surfaces.clone();
    Ok(PointsKey { bounds, spacing_m: r.spacing_m, ear_m: r.ear_m, surfaces })
}
