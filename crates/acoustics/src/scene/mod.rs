//! A scene: air, ground, walls, buildings and loudspeakers, checked once and made ready for the field.

mod ground_map;
mod input;
mod placed;
mod problem;
mod spectral_lines;
mod steps;
mod world;

pub use input::{Building, Mounting, SceneInput, Settings, Source, Surface, Wall};
pub(crate) use placed::{Image, Placed};
pub use problem::{Problem, SceneErrors, SceneProblem, Subject};
pub(crate) use spectral_lines::SpectralLines;
pub use steps::{GroundStep, Terrain};
pub(crate) use world::{Face, Obstacle, World};

use crate::bands::BandValues;
use crate::directivity::{Directivity, DirectivityTable};
use crate::source::{Programme, SourceError, in_range};
use loamline_geometry::Point3;
use std::sync::Arc;

/// Sites larger than this are taken for a mistake in units, metres.
const FARTHEST_M: f64 = 50_000.0;

/// A checked scene. Cheap to copy: its parts are shared.
#[derive(Debug, Clone)]
pub struct Scene {
    pub(crate) world: Arc<World>,
    pub(crate) lines: Arc<SpectralLines>,
    pub(crate) programmes: Arc<Vec<Programme>>,
    pub(crate) placed: Vec<Arc<Placed>>,
    pub(crate) settings: Settings,
    /// As given, without its loudspeakers.
    surroundings: Arc<SceneInput>,
    tables: Vec<(Arc<Directivity>, Arc<DirectivityTable>)>,
}

impl Scene {
    /// Checks a scene and makes it ready. Costs up to about 0.1 s per loudspeaker model, for its directivity tables.
    ///
    /// # Errors
    /// [`SceneErrors`] lists everything that is wrong.
    pub fn new(input: SceneInput) -> Result<Self, SceneErrors> {
        Self::build(input, None)
    }

    /// Checks a scene and makes it ready as [`Scene::new`] does, taking from this one whatever is the same in both:
    /// directivity tables, surroundings, loudspeakers. Where one loudspeaker moved it costs microseconds instead of
    /// tenths of a second, and [`IncrementalField::set_scene`](crate::IncrementalField::set_scene) sees that only that one changed.
    ///
    /// # Errors
    /// As for [`Scene::new`].
    pub fn with_input(&self, input: SceneInput) -> Result<Self, SceneErrors> {
        Self::build(input, Some(self))
    }

    fn build(mut input: SceneInput, before: Option<&Self>) -> Result<Self, SceneErrors> {
        let mut problems = Vec::new();
        check_surroundings(&input, &mut problems);
        if !problems.is_empty() {
            // Loudspeakers cannot be placed among broken walls, but their own numbers can be read.
            for (i, s) in input.sources.iter().enumerate() {
                check_source(i, s, input.programmes.len(), &mut problems);
            }
            return Err(SceneErrors(problems));
        }
        let sources = std::mem::take(&mut input.sources);
        let mut scene = match before {
            Some(before) => before.among(input),
            None => Self::empty(input),
        };
        for (i, source) in sources.into_iter().enumerate() {
            // The surroundings of `scene` are those of `before` only if they are the same.
            let same = before.filter(|b| b.shares_surroundings(&scene)).and_then(|b| b.placed.get(i));
            match same {
                Some(placed) if placed.source == source => scene.placed.push(placed.clone()),
                _ => match scene.place(i, source) {
                    Ok(placed) => scene.placed.push(Arc::new(placed)),
                    Err(mut e) => problems.append(&mut e),
                },
            }
        }
        if problems.is_empty() { Ok(scene) } else { Err(SceneErrors(problems)) }
    }

    /// Checked surroundings made ready.
    fn empty(input: SceneInput) -> Self {
        let lines =
            SpectralLines::new(&input.air, input.settings.coherent_to_hz, input.settings.lines_per_band);
        Self {
            world: Arc::new(World::new(&input)),
            lines: Arc::new(lines),
            programmes: Arc::new(input.programmes.clone()),
            placed: Vec::new(),
            settings: input.settings,
            surroundings: Arc::new(input),
            tables: Vec::new(),
        }
    }

    /// Checked surroundings, taking from this scene what is the same.
    fn among(&self, input: SceneInput) -> Self {
        let (old, new) = (&*self.surroundings, &input);
        if old == new {
            return Self { placed: Vec::new(), ..self.clone() };
        }
        let world = old.default_ground == new.default_ground
            && old.default_elevation_m == new.default_elevation_m
            && old.ground == new.ground
            && old.walls == new.walls
            && old.buildings == new.buildings;
        let lines = old.air == new.air
            && old.settings.coherent_to_hz == new.settings.coherent_to_hz
            && old.settings.lines_per_band == new.settings.lines_per_band;
        let programmes = old.programmes == new.programmes;
        let mut scene = Self::empty(input);
        if world {
            scene.world = self.world.clone();
        }
        if lines {
            scene.lines = self.lines.clone();
        }
        if programmes {
            scene.programmes = self.programmes.clone();
        }
        // Tables depend on the speed of sound alone.
        if self.lines.c == scene.lines.c {
            scene.tables = self.tables.clone();
        }
        scene
    }

    /// Whether a loudspeaker in its place is the same in both.
    pub(crate) fn shares_surroundings(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.world, &other.world)
            && Arc::ptr_eq(&self.lines, &other.lines)
            && Arc::ptr_eq(&self.programmes, &other.programmes)
            && self.settings == other.settings
    }

    /// The scene as it was given.
    pub fn input(&self) -> SceneInput {
        let sources = self.placed.iter().map(|p| p.source.clone()).collect();
        SceneInput { sources, ..(*self.surroundings).clone() }
    }

    /// How many loudspeakers there are.
    pub fn source_count(&self) -> usize {
        self.placed.len()
    }

    /// A loudspeaker as it was given; `None` past the last.
    pub fn source(&self, index: usize) -> Option<&Source> {
        self.placed.get(index).map(|p| &p.source)
    }

    /// The directivity of a loudspeaker as tabled for this scene's speed of sound; `None` past the last.
    pub fn directivity_table(&self, index: usize) -> Option<&Arc<DirectivityTable>> {
        self.placed.get(index).map(|p| &p.table)
    }

    /// How the field is computed.
    pub fn settings(&self) -> Settings {
        self.settings
    }

    /// Speed of sound, m/s.
    pub fn sound_speed_m_per_s(&self) -> f64 {
        self.lines.c
    }

    /// Elevation of the ground at a place in plan, metres.
    pub fn ground_elevation_m(&self, place: loamline_geometry::Point2) -> f64 {
        self.world.map.elevation_m(place)
    }

    /// Building a point is inside of (more than 5 cm in, below the roof). Such a point gets [`crate::SILENCE_DB`].
    pub fn building_around(&self, point: Point3) -> Option<usize> {
        self.world.building_at(point)
    }

    /// Moves, turns or re-drives one loudspeaker.
    ///
    /// # Errors
    /// [`SceneErrors`] as for a new scene; the scene is left as it was.
    pub fn set_source(&mut self, index: usize, source: Source) -> Result<(), SceneErrors> {
        if index >= self.placed.len() {
            let problem = Problem::NoSource { source_index: index, count: self.placed.len() };
            return Err(SceneErrors(vec![SceneProblem { subject: Subject::Source(index), problem }]));
        }
        let placed = self.place(index, source).map_err(SceneErrors)?;
        self.placed[index] = Arc::new(placed);
        Ok(())
    }

    /// The same surroundings with other loudspeakers.
    ///
    /// # Errors
    /// [`SceneErrors`] as for a new scene.
    pub fn with_sources(&self, sources: Vec<Source>) -> Result<Self, SceneErrors> {
        let mut scene = self.clone();
        scene.placed.clear();
        let mut problems = Vec::new();
        for (i, source) in sources.into_iter().enumerate() {
            match scene.place(i, source) {
                Ok(placed) => scene.placed.push(Arc::new(placed)),
                Err(mut e) => problems.append(&mut e),
            }
        }
        if problems.is_empty() { Ok(scene) } else { Err(SceneErrors(problems)) }
    }

    /// The same scene with what is tabulated of directivities in another: no directivity is tabulated twice. Nothing is taken
    /// over where sound travels at another speed.
    #[must_use]
    pub fn knowing(mut self, other: &Self) -> Self {
        if self.lines.c.to_bits() == other.lines.c.to_bits() {
            self.tables.extend(other.tables.iter().cloned());
        }
        self
    }

    /// The same scene with some of its loudspeakers, in the order given.
    pub(crate) fn of_some(&self, which: &[usize]) -> Self {
        let placed = which.iter().map(|&i| Arc::clone(&self.placed[i])).collect();
        Self { placed, ..self.clone() }
    }

    /// The same scene computed another way.
    ///
    /// # Errors
    /// [`SceneErrors`] for settings out of range.
    pub fn with_settings(&self, settings: Settings) -> Result<Self, SceneErrors> {
        let sources = self.placed.iter().map(|p| p.source.clone()).collect();
        self.with_input(SceneInput { settings, sources, ..(*self.surroundings).clone() })
    }

    fn place(&mut self, index: usize, source: Source) -> Result<Placed, Vec<SceneProblem>> {
        let mut problems = Vec::new();
        check_source(index, &source, self.programmes.len(), &mut problems);
        if !problems.is_empty() {
            return Err(problems);
        }
        let known = |d: &Arc<Directivity>| Arc::ptr_eq(d, &source.directivity);
        let alike = |d: &Arc<Directivity>| **d == *source.directivity;
        let by_place = self.tables.iter().find(|(d, _)| known(d));
        let known = by_place.or_else(|| self.tables.iter().find(|(d, _)| alike(d))).map(|t| t.1.clone());
        let table = known.unwrap_or_else(|| {
            let table = Arc::new(DirectivityTable::new(&source.directivity, self.lines.c));
            self.tables.push((source.directivity.clone(), table.clone()));
            table
        });
        let programme = self.programmes[source.programme].band_levels_re_full_scale_db();
        Placed::new(&self.world, &self.lines, &programme, table, self.settings.second_order, source)
            .map_err(|problem| vec![SceneProblem { subject: Subject::Source(index), problem }])
    }
}

type Problems = Vec<SceneProblem>;

fn value(
    problems: &mut Problems,
    subject: Subject,
    what: &'static str,
    value: f64,
    unit: &'static str,
    range: (f64, f64),
) {
    if let Err(e) = in_range(what, value, unit, range.0, range.1) {
        problems.push(SceneProblem { subject, problem: e.into() });
    }
}

fn bands(problems: &mut Problems, subject: Subject, what: &'static str, row: &BandValues, range: (f64, f64)) {
    if let Some(bad) = row.iter().find(|v| !(range.0..=range.1).contains(*v)) {
        let (low, high) = range;
        let unit = if high > 1.0 { "dB" } else { "" };
        let problem = SourceError::Range { what, value: *bad, unit, low, high }.into();
        problems.push(SceneProblem { subject, problem });
    }
}

fn check_settings(s: &Settings, problems: &mut Problems) {
    let scene = Subject::Scene;
    value(problems, scene, "highest frequency added as waves", s.coherent_to_hz, "Hz", (20.0, 25_000.0));
    value(problems, scene, "number of lines per third octave", s.lines_per_band as f64, "", (1.0, 64.0));
    value(problems, scene, "distance over which waves keep in step", s.in_step_m, "m", (10.0, 50_000.0));
    value(problems, scene, "error allowed for far loudspeakers", s.cut_off_db, "dB", (0.0, 1.0));
}

fn check_surroundings(input: &SceneInput, problems: &mut Problems) {
    check_settings(&input.settings, problems);
    let scene = Subject::Scene;
    value(problems, scene, "ground elevation", input.default_elevation_m, "m", (-500.0, 9000.0));
    for (i, g) in input.ground.iter().enumerate() {
        value(problems, Subject::Ground(i), "elevation", g.elevation_m, "m", (-500.0, 9000.0));
    }
    for (i, w) in input.walls.iter().enumerate() {
        let subject = Subject::Wall(i);
        value(problems, subject, "height", w.height_m, "m", (0.05, 500.0));
        if let Some(foot_m) = w.foot_m {
            value(problems, subject, "elevation of the foot", foot_m, "m", (-500.0, 9000.0));
        }
        bands(problems, subject, "share of energy absorbed", &w.absorption, (0.0, 1.0));
        if w.line.len() < 2 {
            let problem = Problem::NoLine { points: w.line.len() };
            problems.push(SceneProblem { subject, problem });
        }
        for p in &w.line {
            value(problems, subject, "x", p.x, "m", (-FARTHEST_M, FARTHEST_M));
            value(problems, subject, "y", p.y, "m", (-FARTHEST_M, FARTHEST_M));
        }
        if let Some(k) = w.line.windows(2).position(|p| p[0].distance(p[1]) < 0.01) {
            let problem = Problem::NoLength { piece: k + 1, x: w.line[k].x, y: w.line[k].y };
            problems.push(SceneProblem { subject, problem });
        }
    }
    for (i, b) in input.buildings.iter().enumerate() {
        value(problems, Subject::Building(i), "height", b.height_m, "m", (0.05, 500.0));
        bands(problems, Subject::Building(i), "share of energy absorbed", &b.absorption, (0.0, 1.0));
    }
}

fn check_source(index: usize, s: &Source, programmes: usize, problems: &mut Problems) {
    let subject = Subject::Source(index);
    value(problems, subject, "x", s.position.x, "m", (-FARTHEST_M, FARTHEST_M));
    value(problems, subject, "y", s.position.y, "m", (-FARTHEST_M, FARTHEST_M));
    value(problems, subject, "elevation", s.position.z, "m", (-500.0, 10_000.0));
    value(problems, subject, "full-scale level at 1 m", s.full_scale_db, "dB", (crate::SILENCE_DB, 180.0));
    value(problems, subject, "gain", s.gain_db, "dB", (crate::SILENCE_DB, 60.0));
    value(problems, subject, "delay", s.delay_s, "s", (0.0, 10.0));
    bands(problems, subject, "on-axis response", &s.response_db, (crate::SILENCE_DB, 60.0));
    if s.programme >= programmes {
        let problem = Problem::NoProgramme { programme: s.programme, count: programmes };
        problems.push(SceneProblem { subject, problem });
    }
}

#[cfg(test)]
mod tests;
