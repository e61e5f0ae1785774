//! Lines solved: what reaches each loudspeaker, what each run carries, what each channel feels.

use crate::channel_supply::channel_supply_findings;
use crate::existing_findings::existing_findings;
use crate::finding::{Finding, Remedy, Severity, Subject};
use crate::mains::mains;
use crate::memo::MemoById;
use crate::series_findings::series_findings;
use indexmap::IndexMap;
use loamline_adapt::{LaidRun, LineInput, line_input, not_known};
use loamline_electrics::{
    ChannelUse, CircuitPlan, Limit, LineErrors, LineStudy, channel_use, solve_line_beside,
    third_octave_centres_hz,
};
use loamline_limits::LINE_SOLUTIONS_KEPT;
use loamline_model::{ChannelView, Edit, Job, Operation};
use loamline_terms::say;
use serde::Serialize;
use std::sync::Arc;

/// All lines and channels of a job.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LinesReport {
    /// Lines by id; those without runs or loudspeakers are left out and named in the findings.
    #[cfg_attr(feature = "schema", schema(value_type = IndexMap<String, LineStudy>))]
    pub lines: IndexMap<String, Arc<LineStudy>>,
    /// Channels by id.
    pub channels: IndexMap<String, ChannelUse>,
    /// Loudspeakers by tag.
    pub loudspeakers: IndexMap<String, AtLoudspeaker>,
    /// Mains plan of each rack with amplifiers.
    pub racks: IndexMap<String, CircuitPlan>,
    /// What wants attention.
    pub findings: Vec<Finding>,
}

/// What reaches a loudspeaker at full drive.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AtLoudspeaker {
    /// Its line.
    pub line: String,
    /// Voltage it stands across at 1 kHz, V RMS: that at its joint, or in series its part of it.
    pub joint_1khz_v: f64,
    /// Power into it at 1 kHz as ratings, taps and sensitivities count it, W: terminal voltage squared over nominal impedance.
    pub power_1khz_w: f64,
    /// Level lost in the cable at 1 kHz, dB.
    pub loss_1khz_db: f64,
    /// Voltage it stands across by third octave, V RMS.
    pub joint_v: Vec<f64>,
    /// Voltage at its own terminals by third octave, V RMS: behind its transformer, where it has one.
    pub loudspeaker_v: Vec<f64>,
    /// Gain of its channel at which full drive is reached, dB re full scale; `None` on a constant-voltage line.
    #[serde(skip)]
    pub most_gain_db: Option<f64>,
}

/// A line's outcome: solved, or why not.
type Outcome = Result<Arc<LineStudy>, LineErrors>;

/// Lines kept solved: asked about one revision of a job after the other, or about several at once, it solves what it has not
/// met before.
#[derive(Debug)]
pub struct SolvedLines {
    kept: MemoById<LineInput, Outcome>,
}

impl Default for SolvedLines {
    fn default() -> Self {
        Self { kept: MemoById::new(LINE_SOLUTIONS_KEPT.most()) }
    }
}

impl SolvedLines {
    /// How many lines have been solved so far.
    pub fn times_solved(&self) -> u64 {
        self.kept.made()
    }

    /// The lines and channels of a job; lines whose input is known are not solved again.
    pub fn report(&self, job: &Job, runs: &[LaidRun]) -> LinesReport {
        let mut findings = Vec::new();
        let mut inputs = IndexMap::new();
        for view in job.lines() {
            let about = || Subject::new("lines", view.id);
            match line_input(job, &view, runs) {
                Ok(Some(input)) => {
                    if view.line.channel.is_none() {
                        let what = say!("Line {line} is on no channel yet.", line = view.id);
                        findings.push(
                            Finding::new(Severity::Warning, about(), what)
                                .mend(say!("Give it a channel of an amplifier.")),
                        );
                    }
                    inputs.insert(view.id.to_owned(), input);
                }
                // What is missing is told once, at the stub.
                Ok(None) if not_known(job, view.id) => {}
                Ok(None) => {
                    let what = say!(
                        "Line {line} has no runs or no loudspeakers yet; nothing can be worked out for it.",
                        line = view.id
                    );
                    findings.push(
                        Finding::new(Severity::Warning, about(), what)
                            .mend(say!("Put loudspeakers on it and route it."))
                            .by(hangs(job, view.id).then_some(Remedy::Routes)),
                    );
                }
                Err(e) => {
                    let what = say!("Line {line}: {reason}.", line = view.id, reason = e.to_string());
                    findings.push(Finding::new(Severity::Error, about(), what));
                }
            }
        }
        let channels_of: IndexMap<String, _> =
            inputs.iter().map(|(id, i)| (id.clone(), (i.channel.clone(), i.limits))).collect();
        let frequencies = third_octave_centres_hz();
        self.kept.keep_only(|id| inputs.contains_key(id));
        let outcomes = inputs.into_iter().map(|(id, input)| {
            let outcome = self.kept.get(&id, input, |i, _| {
                solve_line_beside(&i.line, &i.beside, &i.channel, &i.limits, &frequencies).map(Arc::new)
            });
            (id, outcome)
        });
        let mut lines = IndexMap::new();
        for (id, outcome) in outcomes {
            match outcome.as_ref() {
                Ok(solved) => {
                    lines.insert(id, Arc::clone(solved));
                }
                Err(why) => {
                    findings.push(Finding::new(
                        Severity::Error,
                        Subject::new("lines", &id),
                        say!("Line {line}: {reason}", line = &id, reason = why.to_string()),
                    ));
                }
            }
        }
        let mut channels = IndexMap::new();
        for c in job.channels() {
            let fed: Vec<&LineStudy> =
                c.lines.iter().filter_map(|l| lines.get(*l)).map(Arc::as_ref).collect();
            let Some((channel, limits)) = c.lines.iter().find_map(|l| channels_of.get(*l)) else { continue };
            match channel_use(channel, &fed, limits) {
                Ok(used) => {
                    findings.extend(fed.first().and_then(|line| beyond_full_drive(&c, line, &used)));
                    channels.insert(c.id.to_owned(), used);
                }
                Err(e) => {
                    findings.push(Finding::new(
                        Severity::Error,
                        Subject::new("channels", c.id),
                        say!("Channel {channel}: {reason}.", channel = c.id, reason = e.to_string()),
                    ));
                }
            }
        }
        for f in lines.values().flat_map(|l| &l.findings).chain(channels.values().flat_map(|c| &c.findings)) {
            let f = from_engine(job, f);
            if !findings.contains(&f) {
                findings.push(f);
            }
        }
        findings.extend(existing_findings(job));
        findings.extend(channel_supply_findings(job));
        findings.extend(series_findings(job));
        let (racks, unfed) = mains(job);
        findings.extend(unfed);
        let mut loudspeakers: IndexMap<String, AtLoudspeaker> =
            lines.values().flat_map(|l| at_loudspeakers(l)).collect();
        // In the order of the document, as on every page: not line by line.
        let placed = &job.document().loudspeakers;
        loudspeakers.sort_by_cached_key(|id, _| placed.get_index_of(id));
        LinesReport { lines, channels, loudspeakers, racks, findings }
    }
}

/// Gains are set in steps; less than this is none of them, dB.
const BEYOND_DB: f64 = 0.05;

/// A channel set higher than what it gives into what hangs on it. Where its sources are stated, the gain structure tells of it.
fn beyond_full_drive(c: &ChannelView<'_>, line: &LineStudy, used: &ChannelUse) -> Option<Finding> {
    let (most_db, set_db) = (line.most_gain_db()?, c.channel.gain_db);
    (set_db > most_db + BEYOND_DB && c.channel.inputs.is_empty()).then(|| {
        let what = say!(
            "Channel {channel} is set to {set} dB re full scale, {full} V; into what hangs on it, it gives at most {most} dB, \
             {drive} V, by its {rating}. Levels are worked out at that.",
            channel = c.id,
            set = loamline_terms::fixed(set_db, 1),
            full = loamline_terms::fixed(line.full_scale_v, 1),
            most = loamline_terms::fixed(most_db, 1),
            drive = loamline_terms::fixed(line.drive_v, 1),
            rating = match used.headroom.of {
                Limit::Voltage => say!("voltage"),
                Limit::Current => say!("current"),
                Limit::Power => say!("power"),
            }
        );
        Finding::new(Severity::Note, Subject::new("channels", c.id), what)
            .mend(say!("Lower its gain, or hang less on it."))
            .by(Some(Remedy::Processing))
    })
}

/// Whether a loudspeaker is on a line.
fn hangs(job: &Job, line: &str) -> bool {
    job.document().loudspeakers.values().any(|l| l.line.as_deref() == Some(line))
}

fn at_loudspeakers(line: &LineStudy) -> Vec<(String, AtLoudspeaker)> {
    let one = |l: &loamline_electrics::LoadStudy| {
        let at = AtLoudspeaker {
            line: line.line.clone(),
            joint_1khz_v: l.joint_1khz_v,
            power_1khz_w: l.power_1khz_w,
            loss_1khz_db: l.loss_1khz_db,
            joint_v: l.joint_v.clone(),
            loudspeaker_v: l.loudspeaker_v.clone(),
            most_gain_db: line.most_gain_db(),
        };
        (l.load.clone(), at)
    };
    line.loads.iter().map(one).collect()
}

/// A finding of the electrics engine, tied to where its subject stands in the document.
fn from_engine(job: &Job, f: &loamline_electrics::ElectricalFinding) -> Finding {
    let id = f.subject();
    let d = job.document();
    let table = if d.loudspeakers.contains_key(id) {
        "loudspeakers"
    } else if d.channels.contains_key(id) {
        "channels"
    } else if d.stubs.contains_key(id) {
        "stubs"
    } else {
        "lines"
    };
    let about = match d.lines.iter().find(|(_, l)| l.runs.contains_key(id)) {
        Some((line, _)) if table == "lines" => Subject::run(line, id),
        _ => Subject::new(table, id),
    };
    let remedy = remedy(f, &about);
    Finding::new(f.severity(), about, f.told()).mend(f.remedy()).by(remedy)
}

/// A low point below this is one a high-pass lifts, Hz: subwoofers and full-range loudspeakers are crossed over or cut off
/// below it (common practice, no source).
const BASS_HZ: f64 = 125.0;

/// What mends a finding of the electrics engine in one step.
fn remedy(f: &loamline_electrics::ElectricalFinding, about: &Subject) -> Option<Remedy> {
    use loamline_electrics::ElectricalFinding as F;
    match f {
        F::HighPassMissing { .. } | F::TransformerSaturates { .. } => Some(Remedy::Processing),
        F::ImpedanceBelowMinimum { frequency_hz, .. } | F::GroupBelowMinimum { frequency_hz, .. } => {
            (*frequency_hz <= BASS_HZ).then_some(Remedy::Processing)
        }
        // At another line voltage no tap is right.
        F::TapNotOffered { tap_w, offered_w, line_v, transformer_v, .. }
            if (transformer_v / line_v - 1.0).abs() <= 1e-3 =>
        {
            // The nearest by ratio: levels go by it.
            let off = |w: f64| (w / tap_w).ln().abs();
            let nearest = offered_w.iter().copied().min_by(|a, b| off(*a).total_cmp(&off(*b)))?;
            let set = Operation::Add {
                path: format!("{}/tap", about.pointer()),
                value: nearest.into(),
                before: None,
            };
            Some(Remedy::Edit(Edit::new([set])))
        }
        F::TapNotOffered { .. }
        | F::ChannelOverShare { .. }
        | F::VoltageShort { .. }
        | F::LossOverLimit { .. }
        | F::MixedLine { .. }
        | F::CableNotRated { .. } => None,
    }
}
