//! A job with its results.

use crate::boundary::{NeighbourLevels, neighbours};
use crate::channel_findings::channel_findings;
use crate::finding::{Finding, Severity, Subject, worst_first};
use crate::judged::{JudgedReading, judged};
use crate::judged_findings::judged_findings;
use crate::kept::Kept;
use crate::laid::{LaidRun, laid_runs};
use crate::levels::{LevelsReport, levels};
use crate::lines::{AtLoudspeaker, LineKeeper, LinesReport};
use crate::site_findings::site_findings;
use crate::sound::{Sound, sound};
use crate::years::years_findings;
use indexmap::IndexMap;
use loamline_acoustics::{Probe, probe};
use loamline_faults::Tolerances;
use loamline_geometry::Point2;
use loamline_model::Job;
use loamline_model::document::JobDocument;
use serde::Serialize;
use std::sync::Arc;

/// A job under study.
#[derive(Debug)]
pub struct Study {
    job: Arc<Job>,
    runs: Option<Arc<Vec<LaidRun>>>,
    lines: LineKeeper,
    sound: Kept<SoundKey, Result<Sound, Vec<String>>>,
    heard: Kept<SoundKey, Heard>,
    judged: Kept<JudgedKey, Vec<JudgedReading>>,
}

/// What the verdicts on readings depend on: visits, the lines and whatever hangs on them, and how the cable lies.
#[derive(Debug, Clone, PartialEq)]
struct JudgedKey {
    document: JobDocument,
    runs: Arc<Vec<LaidRun>>,
}

/// What the sound of a job depends on: everything but the readings, and what the lines deliver.
#[derive(Debug, Clone, PartialEq)]
struct SoundKey {
    document: JobDocument,
    reaches: IndexMap<String, AtLoudspeaker>,
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
    /// A study of a job; nothing is worked out yet.
    pub fn new(job: Job) -> Self {
        Self {
            job: Arc::new(job),
            runs: None,
            lines: LineKeeper::default(),
            sound: Kept::default(),
            heard: Kept::default(),
            judged: Kept::default(),
        }
    }

    /// A study of a job that takes what it can from a scene of the same site, made beforehand: directivities, ground.
    pub(crate) fn beside(job: Job, made: Sound) -> Self {
        let mut study = Self::new(job);
        let mut document = study.job.document().clone();
        document.loudspeakers.clear();
        study.sound.keep(SoundKey { document, reaches: IndexMap::new() }, Ok(made));
        study
    }

    /// The job.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// Puts another version of the job in place of this one; results whose inputs are the same are kept.
    pub fn set_job(&mut self, job: Job) {
        self.job = Arc::new(job);
        self.runs = None;
    }

    /// The runs as they lie.
    pub fn runs(&mut self) -> Arc<Vec<LaidRun>> {
        Arc::clone(self.runs.get_or_insert_with(|| Arc::new(laid_runs(&self.job))))
    }

    /// The lines and channels.
    pub fn lines(&mut self) -> LinesReport {
        let runs = self.runs();
        self.lines.report(&self.job, &runs)
    }

    /// How many lines have been solved so far: what a change really cost.
    pub fn lines_solved(&self) -> u64 {
        self.lines.times_solved()
    }

    /// The scene, with every loudspeaker whose line has been solved.
    ///
    /// # Errors
    /// In the result: what the engine finds wrong with the scene, in its words.
    pub fn sound(&mut self) -> Arc<Result<Sound, Vec<String>>> {
        let lines = self.lines();
        let key = self.sound_key(&lines);
        self.scene(key, &lines)
    }

    fn sound_key(&self, lines: &LinesReport) -> SoundKey {
        let mut document = self.job.document().clone();
        document.visits.clear();
        SoundKey { document, reaches: lines.loudspeakers.clone() }
    }

    fn scene(&mut self, key: SoundKey, lines: &LinesReport) -> Arc<Result<Sound, Vec<String>>> {
        let job = Arc::clone(&self.job);
        let earlier = self.sound.last();
        let earlier = earlier.as_ref().and_then(|e| e.as_ref().as_ref().ok());
        self.sound.get(key, |_| sound(earlier, &job, lines))
    }

    /// What is heard in the areas, at the loudest place and at the neighbours.
    pub fn heard(&mut self) -> Arc<Heard> {
        let lines = self.lines();
        let key = self.sound_key(&lines);
        let scene = self.scene(key.clone(), &lines);
        let job = Arc::clone(&self.job);
        self.heard.get(key, |_| hear(&job, &scene))
    }

    /// Everything that makes the level at a place in plan, at an ear height above the ground there.
    ///
    /// # Errors
    /// A sentence when the scene cannot be computed or the place is none.
    pub fn probe(&mut self, at: Point2, ear_m: f64) -> Result<(Probe, Vec<String>), String> {
        let heard = self.heard();
        let Some(sound) = &heard.sound else {
            let why: Vec<&str> = heard.findings.iter().map(|f| f.sentence.as_str()).collect();
            return Err(why.join(" "));
        };
        let probed = probe(&sound.scene, self.job.above_ground(at, ear_m)).map_err(|e| e.to_string())?;
        Ok((probed, sound.sources.clone()))
    }

    /// Every reading of the visits with what is to be said of it.
    pub fn judged(&mut self) -> Arc<Vec<JudgedReading>> {
        let runs = self.runs();
        let job = Arc::clone(&self.job);
        let mut document = job.document().clone();
        document.areas.clear();
        document.neighbours.clear();
        document.programmes.clear();
        document.channels.clear();
        for l in document.loudspeakers.values_mut() {
            // How it points and sounds is nothing to a meter.
            (l.bearing_deg, l.pitch_deg) = (0.0, 0.0);
        }
        let key = JudgedKey { document, runs: Arc::clone(&runs) };
        self.judged.get(key, |_| judged(&job, &runs, &Tolerances::default()))
    }

    /// Everything that wants attention, worst first.
    pub fn findings(&mut self) -> Vec<Finding> {
        let runs = self.runs();
        let mut all = site_findings(&self.job, &runs);
        let judged = self.judged();
        all.extend(judged_findings(&self.job, &judged));
        all.extend(years_findings(&self.job, &runs, &judged));
        all.extend(self.lines().findings);
        let heard = self.heard();
        all.extend(heard.findings.iter().cloned());
        if heard.sound.is_none() {
            // What cannot be heard is still to be protected.
            all.extend(channel_findings(&self.job));
        }
        worst_first(&mut all);
        all
    }
}

fn hear(job: &Job, scene: &Result<Sound, Vec<String>>) -> Heard {
    match scene {
        Ok(sound) => {
            let (levels, mut findings) = levels(job, sound);
            let (neighbours, more) = neighbours(job, sound);
            findings.extend(more);
            findings.extend(channel_findings(job));
            Heard { levels: Some(levels), neighbours, findings, sound: Some(sound.clone()) }
        }
        Err(problems) => {
            let about = |p: &str| {
                Finding::new(
                    Severity::Error,
                    Subject::new("site", ""),
                    format!("The sound cannot be worked out: {p}."),
                )
            };
            let findings = problems.iter().map(|p| about(p.trim_end_matches('.'))).collect();
            Heard { levels: None, neighbours: IndexMap::new(), findings, sound: None }
        }
    }
}
