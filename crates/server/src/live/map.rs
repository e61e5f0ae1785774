//! Level maps for a browser that is looking on: worked out from what is kept from one to the next.

use super::frame::frame;
use super::message::{MapRequest, Quantity};
use crate::error::{ApiError, FieldProblem};
use crate::jobs::{OpenJob, Snapshot};
use indexmap::IndexMap;
use loamline_acoustics::{Band, Field, IncrementalField, SceneErrors, Weighting};
use loamline_adapt::Sound;
use loamline_limits::{DRAGGED_BYTES, MAP_BYTES, MAP_PLACES};
use loamline_model::Job;
use loamline_model::document::Surface;
use loamline_study::{LevelMap, MapPlaces, Previews, promptly};
use loamline_terms::say;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Levels below this are nothing heard at all, dB: far below any sound, far above [`loamline_acoustics::SILENCE_DB`].
const HEARD_DB: f64 = -100.0;
/// What a map shows around what is drawn, m.
const AROUND_M: f64 = 4.0;

/// Places of a map whose request names no spacing: more is finer, and slower to follow a drag.
const SCREEN_PLACES: f64 = 6500.0;

/// The finest spacing of such a map, m: finer shows nothing that ears can tell apart.
const FINEST_M: f64 = 0.25;

/// Memory that all maps being dragged take together, with the figures beside them.
#[derive(Debug, Clone, Default)]
pub struct Dragged(Arc<AtomicU64>);

impl Dragged {
    /// Room for a map or for figures; none where those being dragged have it all.
    pub fn keep(&self, bytes: u64) -> Option<Room> {
        let fits = |taken: u64| taken.checked_add(bytes).filter(|sum| DRAGGED_BYTES.check_u64(*sum).is_ok());
        self.0.fetch_update(Ordering::Relaxed, Ordering::Relaxed, fits).ok()?;
        Some(Room { all: Arc::clone(&self.0), bytes })
    }

    /// What is taken up now, bytes.
    #[cfg(test)]
    pub fn taken(&self) -> u64 {
        self.0.load(Ordering::Relaxed)
    }
}

/// Room taken, given back when it is dropped.
pub struct Room {
    all: Arc<AtomicU64>,
    bytes: u64,
}

impl Drop for Room {
    fn drop(&mut self) {
        self.all.fetch_sub(self.bytes, Ordering::Relaxed);
    }
}

/// What one browser's maps are worked out from. Who only looks on keeps nothing: the map of the stored job is everybody's.
#[derive(Default)]
pub struct Canvas {
    previews: Previews,
    /// While something is dragged.
    map: Option<(MapPlaces, IndexMap<String, Surface>, LevelMap, Room)>,
}

/// What a map showed.
pub struct ShownMap {
    /// The request.
    pub request: u32,
    /// The stored job behind it.
    pub now: Snapshot,
    /// The job as previewed; none when the map was of the stored job.
    pub preview: Option<Job>,
    /// What sounds in it.
    pub sound: Sound,
}

impl Canvas {
    /// Works a map out and puts it into a frame; with what it shows, for the figures that go with it.
    ///
    /// # Errors
    /// What is wrong with the request, or why nothing can be predicted.
    pub fn paint(
        &mut self,
        open: &OpenJob,
        r: &MapRequest,
        dragged: &Dragged,
    ) -> Result<(Vec<u8>, ShownMap), ApiError> {
        let show = shows(r)?;
        let now = open.now();
        let stored = now.file.job();
        let standing = now.study.sound();
        let standing = standing.as_ref().as_ref().map_err(|why| ApiError::field("", why.told()))?;
        let (job, sound) = if r.preview.operations.is_empty() {
            (None, standing.clone())
        } else {
            let job = now.file.preview(&r.preview)?;
            let sound = self.previews.sound(&now.study, &job);
            let sound = sound.map_err(|why| ApiError::field("/preview", why.told()))?;
            (Some(job), sound)
        };
        let places = places(stored, job.as_ref().unwrap_or(stored), r)?;
        let surfaces = &job.as_ref().unwrap_or(stored).document().surfaces;
        let cannot = |e: &SceneErrors| ApiError::field("/bounds", e.to_string());
        let stored_map = || now.study.level_map(&places).map_err(|why| ApiError::field("", why.told()));
        let kept = self.map.take();
        let bytes = if job.is_none() {
            let map = stored_map()?;
            picture(r, &show, now.revision, map.as_ref().as_ref().map_err(cannot)?)
        } else {
            let (map, room) = match kept {
                Some((p, s, mut map, room)) if p == places && s == *surfaces => {
                    promptly(|| map.field.set_scene(&sound.scene));
                    (map, Some(room))
                }
                // Worked out once for all who look at the stored job, and copied; what is dragged then costs little.
                _ if *surfaces == stored.document().surfaces => {
                    let mut map = stored_map()?.as_ref().as_ref().map_err(cannot)?.clone();
                    promptly(|| map.field.set_scene(&sound.scene));
                    (map, None)
                }
                _ => (promptly(|| LevelMap::new(&places, &sound)).map_err(|e| cannot(&e))?, None),
            };
            let bytes = picture(r, &show, now.revision, &map);
            let room = room.or_else(|| dragged.keep(map_bytes(&map, stored)));
            self.map = room.map(|room| (places, surfaces.clone(), map, room));
            bytes
        };
        Ok((bytes, ShownMap { request: r.request, now, preview: job, sound }))
    }

    /// Whether it keeps the map of a drag.
    pub const fn keeps_a_map(&self) -> bool {
        self.map.is_some()
    }

    /// Lets go of the map of a drag: the next picture is made from that of the stored job.
    pub fn let_go(&mut self) {
        self.map = None;
    }
}

/// A map as a frame.
fn picture(r: &MapRequest, show: &Shows, revision: u64, map: &LevelMap) -> Vec<u8> {
    let points = map.field.points();
    let levels: Vec<Option<f64>> = show
        .levels_db(map.field.field())
        .into_iter()
        .enumerate()
        // Where nothing is heard there is no level to paint: silence is not a very quiet sound.
        .map(|(i, l)| Some(l).filter(|l| *l > HEARD_DB && !points.is_indoors(i)))
        .collect();
    frame(r.request, revision, &map.grid, &levels)
}

/// About what a map takes, bytes.
fn map_bytes(map: &LevelMap, job: &Job) -> u64 {
    let d = job.document();
    let places = f64::from(map.grid.columns) * f64::from(map.grid.rows);
    IncrementalField::bytes(places, d.programmes.len(), d.brief.coherent_below_hz) as u64
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
            let told = say!(
                "{frequency} Hz is in no third octave from 20 Hz to 20 kHz.",
                frequency = hz.to_string()
            );
            ApiError::field("/band_hz", told)
        })?),
        (Quantity::Band, None) => {
            return Err(ApiError::field("/band_hz", say!("Which third octave? Its frequency is missing.")));
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

/// The spacing of a map that asks for none, m: on a plan of so many m2, of which so many places are the most.
fn spacing_for(plan_m2: f64, most_places: f64) -> f64 {
    // Edges of the plan are places too.
    let places = SCREEN_PLACES.min(most_places * 0.9);
    ((plan_m2 / places).sqrt() * 20.0).ceil().max(FINEST_M * 20.0) / 20.0
}

/// Checks what a map's places are made from.
fn places(stored: &Job, shown: &Job, r: &MapRequest) -> Result<MapPlaces, ApiError> {
    let mut problems = Vec::new();
    let range = |path: &str, value: f64, low: f64, high: f64, what: &str| {
        let bad = FieldProblem {
            expected: Some(format!("from {low} m to {high} m")),
            ..FieldProblem::new(path, format!("{value} m is no {what}."))
        };
        Some(bad).filter(|_| !(low..=high).contains(&value))
    };
    problems.extend(r.spacing_m.and_then(|s| range("/spacing_m", s, 0.05, 100.0, "spacing for a map")));
    problems.extend(range("/ear_m", r.ear_m, 0.0, 100.0, "height for ears"));
    // What is shown does not shift while something is dragged.
    let bounds = r.bounds.or_else(|| drawn(stored));
    let sensible = bounds.filter(|[west, south, east, north]| {
        [west, south, east, north].iter().all(|v| v.abs() <= 50_000.0) && west < east && south < north
    });
    let bounds = sensible.unwrap_or_default();
    if sensible.is_none() {
        let why = match r.bounds {
            Some(_) => say!("Bounds are west, south, east, north in metres, each below its opposite."),
            None => say!("There is nothing on the plan yet."),
        };
        problems.push(FieldProblem::new("/bounds", why));
    }
    // What is kept grows with the programmes too: of many, a map has fewer places.
    let bytes = IncrementalField::bytes(
        1.0,
        shown.document().programmes.len(),
        shown.document().brief.coherent_below_hz,
    );
    let most = (MAP_PLACES.number as f64).min((MAP_BYTES.number as f64 / bytes).floor());
    let [west, south, east, north] = bounds;
    let spacing_m = r.spacing_m.unwrap_or_else(|| spacing_for((east - west) * (north - south), most));
    let places = MapPlaces { bounds, spacing_m, ear_m: r.ear_m };
    let (columns, rows) = places.counts();
    if problems.is_empty() && columns * rows > most {
        let least = ((east - west) * (north - south) / most).sqrt();
        problems.push(FieldProblem {
            expected: Some(format!("at least {:.2} m here", (least * 105.0).ceil() / 100.0)),
            ..FieldProblem::new(
                "/spacing_m",
                say!(
                    "{found} places are more than a map shows; {most} are the most.",
                    found = loamline_terms::fixed(columns * rows, 0),
                    most = loamline_terms::fixed(most, 0)
                ),
            )
        });
    }
    if !problems.is_empty() {
        return Err(ApiError::invalid(say!("This map cannot be drawn."), problems));
    }
    Ok(places)
}
