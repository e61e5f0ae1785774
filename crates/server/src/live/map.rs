//! Level maps for a browser that is looking on: worked out from what is kept from one to the next.

use super::frame::{Grid, frame};
use super::message::{Figures, MapRequest, NeighbourFigures, Quantity};
use crate::api::{AreaFigures, finding_views};
use crate::error::{ApiError, FieldProblem};
use crate::jobs::{OpenJob, Snapshot};
use indexmap::IndexMap;
use loamline_acoustics::{Band, Field, Points, Weighting, area_statistics, field};
use loamline_geometry::Point2;
use loamline_model::Job;
use loamline_study::{Judged, LinesReport, NeighbourLevels, Sound, neighbours, preview, spacing_m};

/// Most places of a map. More take longer than a frame may and show nothing a screen can; fewer would show squares.
const MOST_PLACES: f64 = 60_000.0;
/// What a map shows around what is drawn, m.
const AROUND_M: f64 = 4.0;

/// What one browser's maps are worked out from.
#[derive(Default)]
pub struct Canvas {
    base: Option<Base>,
    points: Option<(PointsKey, Grid, Points)>,
    shown: Option<Shown>,
}

/// The job as stored.
struct Base {
    now: Snapshot,
    lines: LinesReport,
    sound: Sound,
}

/// What points depend on besides the ground, which changes with the revision.
#[derive(PartialEq)]
struct PointsKey {
    revision: u64,
    bounds: Option<[f64; 4]>,
    spacing_m: f64,
    ear_m: f64,
}

/// What the last map showed.
struct Shown {
    request: u32,
    revision: u64,
    job: Option<Job>,
    sound: Sound,
}

impl Canvas {
    /// Works a map out and puts it into a frame.
    ///
    /// # Errors
    /// What is wrong with the request, or why nothing can be predicted.
    pub fn paint(&mut self, open: &OpenJob, r: &MapRequest) -> Result<Vec<u8>, ApiError> {
        let show = shows(r)?;
        let base = self.base_of(open)?;
        let (job, sound) = if r.preview.operations.is_empty() {
            (None, base.sound.clone())
        } else {
            let job = base.now.file.preview(&r.preview)?;
            let sound = preview(base.now.file.job(), &base.lines, &base.sound, &job)
                .map_err(|why| ApiError::field("/preview", why.join(" ")))?;
            (Some(job), sound)
        };
        let revision = base.now.revision;
        let key = PointsKey { revision, bounds: r.bounds, spacing_m: r.spacing_m, ear_m: r.ear_m };
        if self.points.as_ref().is_none_or(|p| p.0 != key) {
            let base = self.base_of(open)?;
            let (grid, points) = lay_out(base.now.file.job(), &base.sound, r)?;
            self.points = Some((key, grid, points));
        }
        let Some((_, grid, points)) = &self.points else {
            return Err(ApiError::field("/bounds", "There is nothing to show."));
        };
        let heard = field(&sound.scene, points);
        let levels: Vec<Option<f64>> = (0..points.len())
            .map(|i| Some(show.level_db(&heard, i)).filter(|_| !points.is_indoors(i)))
            .collect();
        let bytes = frame(r.request, revision, grid, &levels);
        self.shown = Some(Shown { request: r.request, revision, job, sound });
        Ok(bytes)
    }

    /// The figures that go with the last map, when that was of a preview: at the points of the areas.
    pub fn preview_figures(&self) -> Option<Figures> {
        let shown = self.shown.as_ref()?;
        Some(preview_figures(shown, shown.job.as_ref()?))
    }

    fn base_of(&mut self, open: &OpenJob) -> Result<&Base, ApiError> {
        let now = open.now();
        let fresh = self.base.take().filter(|b| b.now.revision == now.revision);
        let base = match fresh {
            Some(base) => base,
            None => {
                let (lines, sound) = open.study(|study, _| (study.lines(), study.sound()));
                let sound = match sound.as_ref() {
                    Ok(sound) => sound.clone(),
                    Err(why) => return Err(ApiError::field("", why.join(" "))),
                };
                Base { now, lines, sound }
            }
        };
        Ok(self.base.insert(base))
    }
}

enum Shows {
    Weighted(Weighting),
    Band(Band),
}

impl Shows {
    fn level_db(&self, heard: &Field, point: usize) -> f64 {
        match self {
            Self::Weighted(w) => heard.level_db(point, *w),
            Self::Band(b) => heard.band_level_db(point, *b),
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

fn lay_out(job: &Job, sound: &Sound, r: &MapRequest) -> Result<(Grid, Points), ApiError> {
    let mut problems = Vec::new();
    if !(0.05..=100.0).contains(&r.spacing_m) {
        problems.push(FieldProblem {
            expected: Some("from 0.05 m to 100 m".into()),
            ..FieldProblem::new("/spacing_m", format!("{} m is no spacing for a map.", r.spacing_m))
        });
    }
    if !(0.0..=100.0).contains(&r.ear_m) {
        problems.push(FieldProblem {
            expected: Some("from 0 m to 100 m".into()),
            ..FieldProblem::new("/ear_m", format!("{} m is no height for ears.", r.ear_m))
        });
    }
    let bounds = r.bounds.or_else(|| drawn(job));
    let sound_bounds = bounds.filter(|[west, south, east, north]| {
        [west, south, east, north].iter().all(|v| v.abs() <= 50_000.0) && west < east && south < north
    });
    let Some([west, south, east, north]) = sound_bounds else {
        let why = match r.bounds {
            Some(_) => "Bounds are west, south, east, north in metres, each below its opposite.",
            None => "There is nothing on the plan yet.",
        };
        problems.push(FieldProblem::new("/bounds", why));
        return Err(ApiError::invalid(why, problems));
    };
    let steps = |length: f64| (length / r.spacing_m).floor() + 1.0;
    let (columns, rows) = (steps(east - west), steps(north - south));
    if problems.is_empty() && columns * rows > MOST_PLACES {
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
    let start = Point2::new(
        0.5 * (west + east - (columns - 1.0) * r.spacing_m),
        0.5 * (south + north - (rows - 1.0) * r.spacing_m),
    );
    // Both are at most 60 000.
    let (columns, rows) = (columns as u32, rows as u32);
    let places = (0..rows).flat_map(|row| {
        (0..columns).map(move |column| start + Point2::new(f64::from(column), f64::from(row)) * r.spacing_m)
    });
    let up = |p: Point2| p.at_height(sound.scene.ground_elevation_m(p) + r.ear_m);
    let points = Points::new(&sound.scene, places.map(up).collect())
        .map_err(|e| ApiError::field("/bounds", e.to_string()))?;
    Ok((Grid { columns, rows, x0_m: start.x, y0_m: start.y, spacing_m: r.spacing_m }, points))
}

fn preview_figures(shown: &Shown, job: &Job) -> Figures {
    let sound = &shown.sound;
    let mut areas = IndexMap::new();
    for (id, area) in &job.document().areas {
        let Ok(points) = Points::grid(&sound.scene, &area.outline, area.ear_m(), spacing_m(area)) else {
            continue;
        };
        let all = field(&sound.scene, &points);
        let bands: Vec<_> = (0..all.len()).map(|p| all.band_levels_db(p)).collect();
        if let Ok(statistics) = area_statistics(&bands, area.target_dba, area.within_db) {
            areas.insert(id.clone(), AreaFigures::from(&statistics));
        }
    }
    let (levels, _) = neighbours(job, sound);
    Figures {
        request: shown.request,
        revision: shown.revision,
        preview: true,
        areas,
        neighbours: neighbour_figures(&levels),
        findings: None,
    }
}

/// The figures of the job as stored, from its study.
pub fn stored_figures(open: &OpenJob, request: u32) -> Figures {
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
