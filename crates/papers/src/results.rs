//! What has been computed about a job, as the papers need it. Everything may be missing: a section without its
//! figures is left out.

use crate::drawing::LevelField;
use crate::options::PackOptions;
use indexmap::IndexMap;
use loamline_acoustics::{LimitQuantity, Points, Scene, Weighting, field};
use loamline_adapt::{LaidRun, laid_runs};
use loamline_electrics::{CircuitPlan, Headroom, MainsDraw, airflow_m3_per_h};
use loamline_faults::{ExpectedReading, Sees, StageReading};
use loamline_geometry::Point2;
use loamline_model::Job;
use loamline_study::{Heard, Judged, JudgedReading, Measured, NOTHING_DBA, PartStudy, SourcesReport, Study};
use loamline_terms::LINE_METER_HZ;
use std::sync::Arc;

/// Most points of the level field under a plan: more of them and the line between two bands is smoother, but the
/// pack takes longer.
const FIELD_POINTS: f64 = 3000.0;
/// Ear height of the field under a plan, metres.
const FIELD_EAR_M: f64 = 1.5;

/// A loudspeaker on its line, at full drive and 1 kHz.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoudspeakerResult {
    /// Voltage at its joint, volts RMS.
    pub voltage_v: f64,
    /// Level lost along the line, dB.
    pub loss_db: f64,
}

/// What a meter shows at the start of a line, the amplifier not connected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeterResult {
    /// Frequency of the meter, hertz; 0 for direct current.
    pub frequency_hz: f64,
    /// What it should show and the interval that 95 of 100 good lines read within, ohms; `None` for an open line.
    pub ohm: Option<(f64, [f64; 2])>,
    /// What the meter sees.
    pub sees: Sees,
}

/// What a line reads at its start once it is built as far as a joint.
#[derive(Debug, Clone, PartialEq)]
pub struct StageResult {
    /// The joint added last.
    pub joint: String,
    /// Readings, by frequency.
    pub readings: Vec<MeterResult>,
}

/// A line seen from the rack, without the amplifier.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LineResult {
    /// Sum of its taps, watts; `None` on a low-impedance line.
    pub load_w: Option<f64>,
    /// Readings while it is built, joint by joint; the last stage is the finished line.
    pub stages: Vec<StageResult>,
}

impl LineResult {
    /// Readings of the finished line.
    pub fn finished(&self) -> &[MeterResult] {
        self.stages.last().map_or(&[], |s| s.readings.as_slice())
    }
}

/// What an amplifier takes from the mains.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawResult {
    /// Its tag.
    pub amplifier: String,
    /// Draw without signal, all of it heat, watts.
    pub idle_w: f64,
    /// Draw at one-eighth of rated power, watts.
    pub eighth_w: f64,
    /// Heat at one-eighth of rated power, watts.
    pub eighth_heat_w: f64,
    /// Current at one-eighth of rated power, amperes RMS.
    pub eighth_a: f64,
}

/// A rack on its mains.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RackResult {
    /// Amplifiers.
    pub draws: Vec<DrawResult>,
    /// Circuits: amplifiers on each, and its current at one-eighth power, amperes RMS.
    pub circuits: Vec<(Vec<String>, f64)>,
    /// Heat of all of them at one-eighth power, watts.
    pub eighth_heat_w: f64,
    /// Air that carries that heat away, 10 K warmer, m3/h; none where it cannot be worked out.
    pub air_m3_per_h: Option<f64>,
}

/// How much warmer the air may leave a rack than it came in, kelvin (common practice, no source). Less asks for more air, more
/// shortens the life of what is in the rack.
pub const RACK_RISE_K: f64 = 10.0;

/// A channel of an amplifier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChannelResult {
    /// Taps it feeds, watts; `None` on low impedance.
    pub load_w: Option<f64>,
    /// Rated power, watts.
    pub rated_w: f64,
    /// Share of what it may carry that is used.
    pub used: f64,
    /// Lowest impedance it sees, ohms.
    pub lowest_ohm: f64,
    /// The least room it has left at full drive.
    pub headroom: Headroom,
}

/// Level in a listening area at the drive the system is meant for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AreaResult {
    /// Mean level, dBA.
    pub mean_dba: f64,
    /// Level that a tenth of the area stays below, dBA.
    pub low_dba: f64,
    /// Level that nine tenths of the area stay below, dBA.
    pub high_dba: f64,
    /// Share of the area within the tolerance of its target, 0 to 1.
    pub share_within: f64,
    /// How far speech wanted there stands above what else is heard, dB; none where there is nothing to say.
    pub speech_over_others_db: Option<f64>,
}

/// A level at a neighbour against its limit.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitResult {
    /// The neighbour's floor, where it has several.
    pub floor: Option<String>,
    /// Whether it is the limit of the 63 Hz octave; else of the A-weighted level.
    pub octave_63: bool,
    /// Level at the worst point, dBA or dB.
    pub level_db: f64,
    /// Limit, dBA or dB.
    pub limit_db: f64,
    /// Standard uncertainty, dB.
    pub uncertainty_db: f64,
    /// What reflections add to the level, dB.
    pub reflected_db: f64,
}

impl LimitResult {
    /// How far below the limit it stays, dB; negative above it.
    pub fn margin_db(&self) -> f64 {
        self.limit_db - self.level_db
    }
}

/// A neighbour by day and by night.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NeighbourResult {
    /// Limits by day.
    pub day: Vec<LimitResult>,
    /// Limits by night.
    pub night: Vec<LimitResult>,
}

/// Results of a job.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Results {
    /// Whether they are those of a part of a job, a zone or a phase.
    pub of_part: bool,
    /// Runs as they lie.
    pub runs: Arc<Vec<LaidRun>>,
    /// Every reading of the visits with its verdict, the oldest first.
    pub judged: Vec<JudgedReading>,
    /// By loudspeaker.
    pub loudspeakers: IndexMap<String, LoudspeakerResult>,
    /// By line.
    pub lines: IndexMap<String, LineResult>,
    /// By rack.
    pub racks: IndexMap<String, RackResult>,
    /// By channel.
    pub channels: IndexMap<String, ChannelResult>,
    /// Gain structure from the sources.
    pub sources: Option<Arc<SourcesReport>>,
    /// By area.
    pub areas: IndexMap<String, AreaResult>,
    /// By neighbour.
    pub neighbours: IndexMap<String, NeighbourResult>,
    /// Highest level anyone can stand in, dBA, with the loudspeaker and the seconds NIOSH 98-126 permits a day.
    pub loudest: Option<(f64, String, f64)>,
    /// Levels over the site at ear height.
    pub field: Option<LevelField>,
}

impl Results {
    /// Runs only: what quantities need.
    pub fn runs_of(job: &Job) -> Self {
        Self { runs: Arc::new(laid_runs(job)), ..Self::default() }
    }

    /// What was read last of a finished line at the rack, for each frequency on the sheets; `None` where nothing was.
    pub fn finished_read(&self, line: &str) -> impl Iterator<Item = Option<&JudgedReading>> {
        let finished = self.lines.get(line).map_or(&[][..], LineResult::finished);
        // What was read before the line was changed does not stand beside what is expected of it now.
        let stands = |r: &JudgedReading| r.stands() && r.since.is_none();
        let of_line =
            move |r: &&JudgedReading| r.line == line && r.at.is_none() && r.stage.is_none() && stands(r);
        finished.iter().map(move |f| {
            let same = |r: &&JudgedReading| {
                matches!(r.measured, Measured::Loop(hz) if (hz - f.frequency_hz).abs() < 1e-9)
            };
            self.judged.iter().filter(of_line).rfind(same)
        })
    }

    /// Everything a study knows, and the field of levels under the client's plan.
    pub fn of(study: &Study) -> Self {
        Self::with(study, &[], true)
    }

    /// What the parts that are asked for say, for a firm whose meter reads at these frequencies where the job states none:
    /// levels are worked out only where one of them tells any.
    pub fn for_pack(study: &Study, options: &PackOptions) -> Self {
        Self::with(study, &options.firm.meter_hz, options.tells_levels())
    }

    /// The same of a part of a job: its runs are those of the part alone, its figures those of the job as it stands once the
    /// part is handed over.
    pub fn for_part(part: &PartStudy, options: &PackOptions) -> Self {
        let mut all = Self::for_pack(part.standing(), options);
        if part.part().is_whole() {
            return all;
        }
        let own = part.own().job().document();
        all.of_part = true;
        all.runs = part.own().runs();
        all.judged.retain(|r| own.lines.contains_key(&r.line));
        all.loudspeakers.retain(|id, _| own.loudspeakers.contains_key(id));
        all.lines.retain(|id, _| own.lines.contains_key(id));
        all.racks.retain(|id, _| own.racks.contains_key(id));
        all.channels.retain(|id, _| own.channels.contains_key(id));
        all.areas.retain(|id, _| own.areas.contains_key(id));
        all
    }

    fn with(study: &Study, firm_hz: &[f64], tells_levels: bool) -> Self {
        let stated = &study.job().document().about.meter_hz;
        let sheet_hz =
            [stated.as_slice(), firm_hz].into_iter().find(|f| !f.is_empty()).unwrap_or(&SHEET_FREQUENCIES_HZ);
        let runs = study.runs();
        let lines = study.lines();
        let heard = tells_levels.then(|| study.heard());
        let loudspeakers = lines.loudspeakers.iter().map(|(id, l)| {
            let result = LoudspeakerResult { voltage_v: l.joint_1khz_v, loss_db: l.loss_1khz_db };
            (id.clone(), result)
        });
        // A line that cannot be solved stands in the findings; its readings are left out.
        let expected = study.expected(sheet_hz, &Default::default());
        let solved = lines.lines.iter().map(|(id, l)| {
            let expected = expected.as_ref().as_ref().ok().and_then(|lines| lines.get(id));
            let stage = |s: &StageReading| StageResult {
                joint: s.joint.clone(),
                readings: s.readings.iter().map(meter).collect(),
            };
            let stages = expected.iter().flat_map(|e| &e.stages).map(stage).collect();
            (id.clone(), LineResult { load_w: l.counted_w, stages })
        });
        let racks = lines.racks.iter().map(|(id, plan)| (id.clone(), rack(plan)));
        let channels = lines.channels.iter().map(|(id, c)| {
            let result = ChannelResult {
                load_w: c.counted_w,
                rated_w: c.rated_power_w,
                used: c.used_fraction,
                lowest_ohm: c.minimum.impedance_ohm,
                headroom: c.headroom,
            };
            (id.clone(), result)
        });
        let loudest = heard.as_ref().and_then(|heard| heard.levels.as_ref()?.loudest.clone());
        let sound = heard.as_ref().and_then(|heard| heard.sound.as_ref());
        Self {
            of_part: false,
            judged: study.judged().to_vec(),
            loudspeakers: loudspeakers.collect(),
            lines: solved.collect(),
            racks: racks.collect(),
            channels: channels.collect(),
            sources: Some(study.sources()),
            areas: heard.as_deref().map(areas_of).unwrap_or_default(),
            neighbours: heard.as_deref().map(neighbours_of).unwrap_or_default(),
            loudest: loudest.map(|l| (l.level_dba, l.loudspeaker, l.permitted_s)),
            field: sound.and_then(|sound| level_field(study.job(), &sound.scene)),
            runs,
        }
    }
}

/// What is expected in the areas; nothing of those in which nothing sounds yet.
pub(crate) fn areas_of(heard: &Heard) -> IndexMap<String, AreaResult> {
    let all = heard.levels.iter().flat_map(|l| &l.areas);
    let areas = all.filter(|(_, a)| a.statistics.mean_dba >= NOTHING_DBA).map(|(id, a)| {
        let s = &a.statistics;
        let result = AreaResult {
            mean_dba: s.mean_dba,
            low_dba: s.p10_dba,
            high_dba: s.p90_dba,
            share_within: s.share_within,
            speech_over_others_db: a.speech_over_others_db,
        };
        (id.clone(), result)
    });
    areas.collect()
}

/// What is expected at the neighbours.
pub(crate) fn neighbours_of(heard: &Heard) -> IndexMap<String, NeighbourResult> {
    let judged = |all: &[Judged]| -> Vec<LimitResult> {
        let one = |j: &Judged| LimitResult {
            floor: j.floor.clone(),
            octave_63: j.judgement.quantity == LimitQuantity::Octave63Hz,
            level_db: j.judgement.level_db,
            limit_db: j.judgement.limit_db,
            uncertainty_db: j.judgement.standard_uncertainty_db,
            reflected_db: j.judgement.reflected_db,
        };
        all.iter().map(one).collect()
    };
    let both = heard.neighbours.iter();
    both.map(|(id, n)| (id.clone(), NeighbourResult { day: judged(&n.day), night: judged(&n.night) }))
        .collect()
}

/// Frequencies on the sheets the crew fills in where neither job nor firm states its meter's, hertz; 0 is direct current.
/// Whatever else a meter reads, it reads these two (common practice, no source). More would leave no room to write; `loamline expect` gives them all.
const SHEET_FREQUENCIES_HZ: [f64; 2] = [0.0, LINE_METER_HZ];

fn meter(r: &ExpectedReading) -> MeterResult {
    let ohm = match (r.ohm, r.low_ohm, r.high_ohm) {
        (Some(ohm), Some(low), Some(high)) => Some((ohm, [low, high])),
        _ => None,
    };
    MeterResult { frequency_hz: r.frequency_hz, ohm, sees: r.sees }
}

fn rack(plan: &CircuitPlan) -> RackResult {
    let draw = |d: &MainsDraw| DrawResult {
        amplifier: d.name.clone(),
        idle_w: d.idle_w,
        eighth_w: d.eighth_draw_w,
        eighth_heat_w: d.eighth_heat_w,
        eighth_a: d.eighth_current_a,
    };
    RackResult {
        draws: plan.draws.iter().map(draw).collect(),
        circuits: plan.circuits.iter().cloned().zip(plan.current_a.iter().copied()).collect(),
        eighth_heat_w: plan.eighth_heat_w,
        air_m3_per_h: airflow_m3_per_h(plan.eighth_heat_w, RACK_RISE_K).ok(),
    }
}

/// Levels on a grid over everything on the plan.
pub(crate) fn level_field(job: &Job, scene: &Scene) -> Option<LevelField> {
    if scene.source_count() == 0 {
        return None;
    }
    let (low, high) = crate::drawing::extent(job);
    let size = high - low;
    let step_m = (size.x * size.y / FIELD_POINTS).sqrt().max(0.25);
    let count = |length: f64| (length / step_m).ceil() as usize + 1;
    let (columns, rows) = (count(size.x), count(size.y));
    let places = (0..columns * rows)
        .map(|i| low + Point2::new((i % columns) as f64, (i / columns) as f64) * step_m)
        .map(|p| job.above_ground(p, FIELD_EAR_M))
        .collect();
    let points = Points::new(scene, places).ok()?;
    let levels_db = field(scene, &points).levels_db(Weighting::A);
    Some(LevelField { origin: low, step_m, columns, levels_db })
}
