//! A job at one revision, with all that follows from it.

use crate::beginnings::beginnings;
use crate::boundary::{KeptNeighbours, NeighbourLevels, neighbours_kept};
use crate::channel_findings::channel_findings;
use crate::colour_findings::colour_findings;
use crate::ducts::pull_findings;
use crate::error::StudyError;
use crate::finding::{Finding, Severity, Subject, worst_first};
use crate::ground_findings::ground_findings;
use crate::judged::{JudgedReading, judged};
use crate::judged_findings::judged_findings;
use crate::judged_levels::{WorkedOut, level_findings};
use crate::level_map::{LevelMap, MapPlaces};
use crate::levels::{KeptLevels, LevelsReport, Scened, levels};
use crate::lines::{AtLoudspeaker, LinesReport, SolvedLines};
use crate::link_findings::link_findings;
use crate::memo::{Memo, MemoById, Same};
use crate::meter::{ExpectedLine, expect_of, lines, tables_of};
use crate::part_findings::part_findings;
use crate::plain::Plain;
use crate::price_findings::price_findings;
use crate::promptly::promptly;
use crate::sampling::{Crowd, Sampling};
use crate::site_findings::site_findings;
use crate::sources::{SourcesReport, sources};
use crate::spare_findings::spare_findings;
use crate::spool_findings::spool_findings;
use crate::suits::suits_findings;
use crate::tag_findings::tag_findings;
use crate::years::years_findings;
use indexmap::IndexMap;
use loamline_acoustics::{
    Directivity, DirectivityError, IncrementalField, Points, Probe, SceneErrors, probe,
};
use loamline_adapt::{
    LaidRun, Reaching, SceneParts, Sound, SoundErrors, directivity, laid_runs, scene_parts, sound,
};
use loamline_electrics::Line;
use loamline_faults::{Table, Tolerances};
use loamline_geometry::Point2;
use loamline_limits::{CALCULATION_BYTES, MAPS_KEPT, REVISIONS_KEPT};
use loamline_model::Job;
use loamline_model::catalogue::{Directivity as DirectivityModel, LoudspeakerModel};
use loamline_model::document::{Area, Surface, Visit};
use loamline_terms::say;
use serde::Serialize;
use std::any::{Any, TypeId, type_name};
use std::sync::{Arc, OnceLock};

/// A job at one revision. Never changed: an edit makes the next one ([`Study::next`]), which takes over every result that
/// does not read what the edit touched. Each result is made when it is first asked for, once, by whoever asks first;
/// others who ask for the same one meanwhile wait for it, and for nothing else. A copy is the same study.
#[derive(Debug, Clone)]
pub struct Study(Arc<Inside>);

#[derive(Debug)]
struct Inside {
    job: Arc<Job>,
    kept: Arc<Kept>,
    plain: OnceLock<Arc<Plain>>,
    runs: OnceLock<Arc<Vec<LaidRun>>>,
    lines: OnceLock<Arc<LinesReport>>,
    scene: OnceLock<Arc<Scened>>,
    heard: OnceLock<Arc<Heard>>,
    findings: OnceLock<Arc<Vec<Finding>>>,
}

/// What is kept from one revision of a job to the next, each sort by what it reads.
#[derive(Debug)]
struct Kept {
    runs: Memo<Arc<Plain>, Arc<Vec<LaidRun>>>,
    lines: SolvedLines,
    directivities: Directivities,
    scenes: Memo<Result<SceneParts, SoundErrors>, Arc<Scened>>,
    levels: KeptLevels,
    neighbours: KeptNeighbours,
    expected: Memo<ReadingsAsked, Expected>,
    judged: Memo<JudgedAsked, Vec<JudgedReading>>,
    tables: Memo<(Arc<Plain>, ReadingsAsked), FaultTables>,
    maps: Memo<MapAsked, Result<LevelMap, SceneErrors>>,
    area_fields: MemoById<AreaFieldAsked, Option<IncrementalField>>,
    derived: MemoById<(TypeId, Arc<Plain>), Kind>,
}

/// Directivities by catalogue id: made once for a model, however often its loudspeakers move.
type Directivities = MemoById<DirectivityModel, Result<Arc<Directivity>, DirectivityError>>;

/// A derived result, whatever it is of.
type Kind = Arc<dyn Any + Send + Sync>;

/// What every line should read, by line, or why that cannot be said.
pub type Expected = Result<IndexMap<String, ExpectedLine>, StudyError>;

/// Tables of explanations, by line, or why there are none.
type FaultTables = Result<IndexMap<String, Table>, StudyError>;

/// What expected readings depend on.
#[derive(Debug, PartialEq)]
struct ReadingsAsked {
    lines: Result<IndexMap<String, Line>, StudyError>,
    frequencies_hz: Vec<f64>,
    tolerances: Tolerances,
}

/// What the verdicts on readings depend on: visits, and the lines with whatever hangs on them.
#[derive(Debug, PartialEq)]
struct JudgedAsked {
    wired: Plain,
    visits: IndexMap<String, Visit>,
}

/// What a level map depends on.
#[derive(Debug, PartialEq)]
struct MapAsked {
    places: MapPlaces,
    /// Ground elevations change with what is drawn.
    surfaces: IndexMap<String, Surface>,
    scene: Same<Scened>,
}

/// What the points of an area depend on; the field is that of whatever scene it was asked for first, and its own scene is
/// brought up to date by whoever takes a copy.
#[derive(Debug, PartialEq)]
struct AreaFieldAsked {
    area: Area,
    spacing_m: f64,
    surfaces: IndexMap<String, Surface>,
}

impl Default for Kept {
    fn default() -> Self {
        let revisions = REVISIONS_KEPT.most();
        Self {
            runs: Memo::new(revisions),
            lines: SolvedLines::default(),
            directivities: MemoById::new(1),
            scenes: Memo::new(revisions),
            levels: KeptLevels::default(),
            neighbours: KeptNeighbours::default(),
            // The papers, the app and a visit ask for frequencies of their own.
            expected: Memo::new(2 * revisions),
            judged: Memo::new(revisions),
            tables: Memo::new(revisions),
            maps: Memo::new(MAPS_KEPT.most()),
            area_fields: MemoById::new(1),
            derived: MemoById::new(revisions),
        }
    }
}

/// How often each sort of result has been worked out for a job, over all its revisions: what an edit really cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Worked {
    /// Times the runs were laid.
    pub runs: u64,
    /// Lines solved.
    pub lines: u64,
    /// Scenes made ready.
    pub scenes: u64,
    /// Areas whose levels were worked out.
    pub areas: u64,
    /// Neighbours whose levels were worked out, in whole or in part.
    pub neighbours: u64,
    /// Sets of expected readings and of fault tables.
    pub readings: u64,
    /// Other results derived from a whole job: processing, bass, ...
    pub derived: u64,
}

/// What is heard: levels in the areas and at the neighbours.
#[derive(Debug, Clone, Serialize)]
pub struct Heard {
    /// Areas and the loudest place; absent when the scene cannot be computed.
    pub levels: Option<LevelsReport>,
    /// Neighbours by id.
    pub neighbours: IndexMap<String, NeighbourLevels>,
    /// What wants attention.
    pub findings: Vec<Finding>,
    /// The scene itself.
    #[serde(skip)]
    pub sound: Option<Sound>,
}

impl Study {
    /// The study of a job; nothing is worked out yet.
    pub fn new(job: Job) -> Self {
        Self::with(job, Arc::default())
    }

    fn with(job: Job, kept: Arc<Kept>) -> Self {
        Self(Arc::new(Inside {
            job: Arc::new(job),
            kept,
            plain: OnceLock::new(),
            runs: OnceLock::new(),
            lines: OnceLock::new(),
            scene: OnceLock::new(),
            heard: OnceLock::new(),
            findings: OnceLock::new(),
        }))
    }

    /// The study of another version of the job. Costs nothing by itself: what it takes over and what it works out shows when
    /// it is asked. This one stays as it is, for whoever reads it.
    #[must_use]
    pub fn next(&self, job: Job) -> Self {
        Self::with(job, Arc::clone(&self.0.kept))
    }

    /// The study of a job that takes what it can from a scene of the same site, made beforehand: directivities, ground.
    pub fn beside(job: Job, made: Sound) -> Self {
        let study = Self::new(job);
        let kept = &study.0.kept;
        for (id, directivity) in &made.directivities {
            if let Some(model) = study.0.job.catalogue().loudspeakers.get(id) {
                kept.directivities.get(id, model.directivity.clone(), |_, _| Ok(Arc::clone(directivity)));
            }
        }
        // Of no document: nothing but an earlier scene to take from.
        kept.scenes.get(Err(SoundErrors(Vec::new())), |_, _| Arc::new(Ok(made)));
        study
    }

    /// The job.
    pub fn job(&self) -> &Job {
        &self.0.job
    }

    /// How often results have been worked out for this job, over all its revisions.
    pub fn worked(&self) -> Worked {
        let kept = &self.0.kept;
        Worked {
            runs: kept.runs.made(),
            lines: kept.lines.times_solved(),
            scenes: kept.scenes.made(),
            areas: kept.levels.areas_made(),
            neighbours: kept.neighbours.made(),
            readings: kept.expected.made() + kept.tables.made(),
            derived: kept.derived.made(),
        }
    }

    fn plain(&self) -> Arc<Plain> {
        Arc::clone(self.0.plain.get_or_init(|| Arc::new(Plain::of(&self.0.job))))
    }

    /// The runs as they lie.
    pub fn runs(&self) -> Arc<Vec<LaidRun>> {
        let runs = self.0.runs.get_or_init(|| {
            let made = self.0.kept.runs.get(self.plain(), |_, _| Arc::new(laid_runs(&self.0.job)));
            Arc::clone(&made)
        });
        Arc::clone(runs)
    }

    /// The lines and channels.
    pub fn lines(&self) -> Arc<LinesReport> {
        let lines =
            self.0.lines.get_or_init(|| Arc::new(self.0.kept.lines.report(&self.0.job, &self.runs())));
        Arc::clone(lines)
    }

    /// The scene, with every loudspeaker whose line has been solved.
    ///
    /// # Errors
    /// In the result: what is wrong with the scene.
    pub fn sound(&self) -> Arc<Result<Sound, SoundErrors>> {
        let scene = self.0.scene.get_or_init(|| {
            let parts = self.parts_of(&self.0.job, &self.lines().loudspeakers);
            let made = self.0.kept.scenes.get(parts, |parts, earlier| {
                let earlier = earlier.and_then(|(_, made)| made.as_ref().as_ref().ok());
                Arc::new(parts.as_ref().map_err(Clone::clone).and_then(|parts| sound(earlier, parts)))
            });
            Arc::clone(&made)
        });
        Arc::clone(scene)
    }

    /// What a version of the job sounds through, its loudspeakers on given voltages.
    pub(crate) fn parts_of(
        &self,
        job: &Job,
        reaching: &IndexMap<String, AtLoudspeaker>,
    ) -> Result<SceneParts, SoundErrors> {
        let kept = &self.0.kept.directivities;
        let at = |tag: &str| {
            let at = reaching.get(tag)?;
            Some(Reaching { terminals_v: &at.loudspeaker_v, most_gain_db: at.most_gain_db })
        };
        let directivity_of = |id: &str, model: &LoudspeakerModel| {
            (*kept.get(id, model.directivity.clone(), |_, _| directivity(model).map(Arc::new))).clone()
        };
        scene_parts(job, &at, &directivity_of)
    }

    /// What is heard in the areas, at the loudest place and at the neighbours.
    pub fn heard(&self) -> Arc<Heard> {
        Arc::clone(self.0.heard.get_or_init(|| Arc::new(self.work_out_heard())))
    }

    fn work_out_heard(&self) -> Heard {
        let (job, kept, scene) = (&*self.0.job, &self.0.kept, self.sound());
        match &*scene {
            Ok(sound) => {
                let (levels, mut findings) = levels(job, &scene, sound, &kept.levels);
                let (neighbours, more) = neighbours_kept(job, sound, &kept.neighbours);
                findings.extend(more);
                findings.extend(channel_findings(job));
                Heard { levels: Some(levels), neighbours, findings, sound: Some(sound.clone()) }
            }
            Err(problems) => {
                let about = |p: &str| {
                    Finding::new(
                        Severity::Error,
                        Subject::new("site", ""),
                        say!("The sound cannot be worked out: {reason}.", reason = p),
                    )
                };
                let findings =
                    problems.0.iter().map(|p| about(p.to_string().trim_end_matches('.'))).collect();
                Heard { levels: None, neighbours: IndexMap::new(), findings, sound: None }
            }
        }
    }

    /// Everything that makes the level at a place in plan, at an ear height above the ground there.
    ///
    /// # Errors
    /// When the scene cannot be computed or the place is none.
    pub fn probe(&self, at: Point2, ear_m: f64) -> Result<(Probe, Vec<String>), StudyError> {
        let scene = self.sound();
        let sound = scene.as_ref().as_ref().map_err(Clone::clone)?;
        let probed = probe(&sound.scene, self.0.job.above_ground(at, ear_m))?;
        Ok((probed, sound.sources.clone()))
    }

    /// What every line should read at the meter's frequencies (0 for direct current).
    pub fn expected(&self, frequencies_hz: &[f64], tolerances: &Tolerances) -> Arc<Expected> {
        self.0.kept.expected.get(self.readings_asked(frequencies_hz, tolerances), |asked, _| {
            expect_of(asked.lines.as_ref().map_err(Clone::clone)?, &asked.frequencies_hz, &asked.tolerances)
        })
    }

    /// The table of explanations of every line, as [`fault_tables`](crate::fault_tables).
    pub fn fault_tables(&self, tolerances: &Tolerances) -> Arc<Result<IndexMap<String, Table>, StudyError>> {
        // Its sentences name the pairs of stubs, which no line carries.
        let asked = (self.plain(), self.readings_asked(&[], tolerances));
        self.0.kept.tables.get(asked, |(_, asked), _| {
            let lines = asked.lines.as_ref().map_err(Clone::clone)?;
            tables_of(lines, &asked.tolerances)
        })
    }

    /// Every reading of the visits with what is to be said of it.
    pub fn judged(&self) -> Arc<Vec<JudgedReading>> {
        let job = &*self.0.job;
        let asked =
            JudgedAsked { wired: self.plain().as_a_meter_sees_it(), visits: job.document().visits.clone() };
        self.0.kept.judged.get(asked, |_, _| judged(job, &self.runs(), &Tolerances::default()))
    }

    fn readings_asked(&self, frequencies_hz: &[f64], tolerances: &Tolerances) -> ReadingsAsked {
        ReadingsAsked {
            lines: lines(&self.0.job, &self.runs(), None),
            frequencies_hz: frequencies_hz.to_vec(),
            tolerances: *tolerances,
        }
    }

    /// A result somebody else derives from the whole job, made once and taken over by every revision that differs in words
    /// alone (names, notes, visits, prices): `make` must say nothing that reads those. One result per type.
    pub fn derived<T: Send + Sync + 'static>(&self, make: impl Fn(&Self) -> T) -> Arc<T> {
        let asked = (TypeId::of::<T>(), self.plain());
        let made: Arc<Kind> = self.0.kept.derived.get(type_name::<T>(), asked, |_, _| Arc::new(make(self)));
        match Kind::clone(&made).downcast::<T>() {
            Ok(made) => made,
            // Two types of one name: theirs is kept, ours is made anew.
            Err(_) => Arc::new(make(self)),
        }
    }

    /// The gain structure, from the sources to the loudspeakers.
    pub fn sources(&self) -> Arc<SourcesReport> {
        self.derived(|study| sources(study.job(), &study.lines(), || study.sound()))
    }

    /// The level map of some places. From a map of the same places in another revision it takes over all loudspeakers that
    /// are the same in both; the field is then that of a new map within 0.01 dB.
    ///
    /// # Errors
    /// In the result: when the places are none, or what is wrong with the scene.
    pub fn level_map(&self, places: &MapPlaces) -> Result<Arc<Result<LevelMap, SceneErrors>>, SoundErrors> {
        let scene = self.sound();
        let sound = scene.as_ref().as_ref().map_err(Clone::clone)?;
        let asked = MapAsked {
            places: *places,
            surfaces: self.0.job.document().surfaces.clone(),
            scene: Same(Arc::clone(&scene)),
        };
        Ok(self.0.kept.maps.get(asked, |asked, earlier| {
            let same = |e: &MapAsked| e.places == asked.places && e.surfaces == asked.surfaces;
            match earlier {
                Some((e, Ok(map))) if same(e) => {
                    let mut map = map.clone();
                    promptly(|| map.field.set_scene(&sound.scene));
                    Ok(map)
                }
                _ => promptly(|| LevelMap::new(&asked.places, sound)),
            }
        }))
    }

    /// A field at an area's points, in some scene of the job: the first who asks works it out, the others take copies. None
    /// for an area that has no points.
    pub(crate) fn area_field(
        &self,
        job: &Job,
        id: &str,
        area: &Area,
        sound: &Sound,
    ) -> Option<IncrementalField> {
        let d = job.document();
        let crowd = Crowd { loudspeakers: d.loudspeakers.len(), areas: d.areas.len() };
        // A field that is kept takes more for a place than one that is looked at once.
        let bytes = IncrementalField::bytes(1.0, d.programmes.len(), d.brief.coherent_below_hz);
        let most = CALCULATION_BYTES.number as f64 / d.areas.len().max(1) as f64 / bytes;
        let finest_m = (area.outline.area() / most.max(1.0)).sqrt();
        let spacing_m = Sampling::of(area, crowd).spacing_m.max(finest_m);
        let asked = AreaFieldAsked {
            spacing_m,
            area: Area { name: String::new(), ..area.clone() },
            surfaces: job.document().surfaces.clone(),
        };
        let made = self.0.kept.area_fields.get(id, asked, |_, _| {
            let points = Points::grid(&sound.scene, &area.outline, area.ear_m(), spacing_m).ok()?;
            Some(IncrementalField::new(&sound.scene, points))
        });
        (*made).clone()
    }

    /// Everything that wants attention, worst first.
    pub fn findings(&self) -> Arc<Vec<Finding>> {
        let findings = self.0.findings.get_or_init(|| Arc::new(self.gathered(Some(&self.heard()))));
        Arc::clone(findings)
    }

    /// The same without what is heard in areas and at neighbours, which is not worked out for it.
    pub fn findings_without_levels(&self) -> Arc<Vec<Finding>> {
        Arc::new(self.gathered(None))
    }

    fn gathered(&self, heard: Option<&Heard>) -> Vec<Finding> {
        let (job, runs) = (&*self.0.job, self.runs());
        let mut all = beginnings(job);
        all.extend(ground_findings(job));
        all.extend(site_findings(job, &runs));
        all.extend(spool_findings(job, &runs));
        all.extend(suits_findings(job, &runs));
        all.extend(price_findings(job));
        all.extend(part_findings(job));
        all.extend(link_findings(job));
        all.extend(pull_findings(job, &runs));
        all.extend(spare_findings(job, &runs, &self.lines()));
        all.extend(colour_findings(job, &runs));
        all.extend(tag_findings(job, &runs));
        let judged = self.judged();
        all.extend(judged_findings(job, &judged));
        let worked_out = heard.map_or_else(WorkedOut::default, |heard| WorkedOut {
            areas: heard.levels.as_ref(),
            neighbours: Some(&heard.neighbours),
        });
        all.extend(level_findings(job, worked_out));
        all.extend(years_findings(job, &runs, &judged));
        all.extend(self.lines().findings.iter().cloned());
        all.extend(heard.iter().flat_map(|heard| heard.findings.iter().cloned()));
        all.extend(self.sources().findings.iter().cloned());
        if heard.is_none_or(|heard| heard.sound.is_none()) {
            // What cannot be heard is still to be protected.
            all.extend(channel_findings(job));
        }
        worst_first(&mut all);
        all
    }
}
