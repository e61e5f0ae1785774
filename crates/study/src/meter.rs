//! Meter readings of a job's lines: what to expect, and where a wrong one says to look.

use crate::electrical::line_input;
use crate::laid::LaidRun;
use indexmap::IndexMap;
use loamline_electrics::Line;
use loamline_faults::{
    Diagnosis, Effort, ExpectedReading, Fault, MeterReading, Priors, Shown, StageReading, Stretch,
    Tolerances, expected_readings, expected_stages, locate,
};
use loamline_geometry::Point2;
use loamline_model::Job;
use loamline_model::document::Visit;
use serde::Serialize;

/// Frequencies many meters read at, hertz; 0 is direct current (common practice, no source).
pub const METER_FREQUENCIES_HZ: [f64; 3] = [0.0, 330.0, 1000.0];

/// What a line should read.
#[derive(Debug, Clone, Serialize)]
pub struct ExpectedLine {
    /// At the rack and at every joint looking away from it.
    pub readings: Vec<ExpectedReading>,
    /// At the rack while the line grows joint by joint.
    pub stages: Vec<StageReading>,
}

/// A fault with its place on the plan.
#[derive(Debug, Clone, Serialize)]
pub struct Located {
    /// The ranking and what to do next.
    pub diagnosis: Diagnosis,
    /// Where each explanation is, in the order of the ranking; absent where it has no one place.
    pub places: Vec<Option<Spot>>,
}

/// A place on the plan, or a stretch of a run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spot {
    /// Likeliest place.
    pub at: Point2,
    /// The stretch of a run it lies on, from its nearest to its farthest end; the same place twice for a joint.
    pub between: [Point2; 2],
}

/// Every line of a job that has runs and loudspeakers, as the engines see it.
///
/// # Errors
/// A value no cable or loudspeaker can have.
fn lines(job: &Job, runs: &[LaidRun]) -> Result<IndexMap<String, Line>, String> {
    let mut all = IndexMap::new();
    for view in job.lines() {
        if let Some(input) = line_input(job, &view, runs).map_err(|e| format!("Line {}: {e}", view.id))? {
            all.insert(view.id.to_owned(), input.line);
        }
    }
    Ok(all)
}

/// What every line should read at the meter's frequencies (0 for direct current).
///
/// # Errors
/// What the engine finds wrong, in its words.
pub fn expect(
    job: &Job,
    runs: &[LaidRun],
    frequencies_hz: &[f64],
    tolerances: &Tolerances,
) -> Result<IndexMap<String, ExpectedLine>, String> {
    let mut all = IndexMap::new();
    for (id, line) in lines(job, runs)? {
        let readings =
            expected_readings(&line, frequencies_hz, tolerances).map_err(|e| format!("Line {id}: {e}"))?;
        let stages =
            expected_stages(&line, frequencies_hz, tolerances).map_err(|e| format!("Line {id}: {e}"))?;
        all.insert(id, ExpectedLine { readings, stages });
    }
    Ok(all)
}

/// The readings of a visit taken at the start of a line.
pub fn readings_of(visit: &Visit, line: &str) -> Vec<MeterReading> {
    let at_start = visit.readings.values().filter(|r| r.line == line && r.at.is_none());
    at_start
        .filter_map(|r| {
            let (frequency_hz, ohm) = match (r.dc_ohm, r.impedance_ohm) {
                (Some(ohm), _) => (0.0, ohm),
                (None, Some(ohm)) => (r.frequency_hz.unwrap_or(1000.0), ohm),
                (None, None) => return None,
            };
            Some(MeterReading { frequency_hz, shown: Shown::Ohm(ohm) })
        })
        .collect()
}

/// Ranks what would explain readings taken at the start of a line.
///
/// # Errors
/// An unknown line, or what the engine finds wrong, in its words.
pub fn explain(
    job: &Job,
    runs: &[LaidRun],
    line: &str,
    readings: &[MeterReading],
    tolerances: &Tolerances,
) -> Result<Located, String> {
    let all = lines(job, runs)?;
    let Some(this) = all.get(line) else {
        let known: Vec<&str> = all.keys().map(String::as_str).collect();
        let near = loamline_model::closest(line, known.iter().copied());
        let hint = near.map_or_else(
            || format!("the lines are {}", known.join(", ")),
            |n| format!("did you mean \"{n}\"?"),
        );
        return Err(format!("There is no line \"{line}\" that can be measured; {hint}"));
    };
    let others: Vec<&Line> = all.iter().filter(|(id, _)| *id != line).map(|(_, l)| l).collect();
    let diagnosis = locate(this, &others, readings, tolerances, &Priors::default(), &Effort::default())
        .map_err(|e| e.to_string())?;
    let places =
        diagnosis.explanations.iter().map(|e| spot(job, runs, line, &e.fault, e.stretch.as_ref())).collect();
    Ok(Located { diagnosis, places })
}

fn spot(job: &Job, runs: &[LaidRun], line: &str, fault: &Fault, stretch: Option<&Stretch>) -> Option<Spot> {
    let run_of = |id: &str| runs.iter().find(|r| r.line == line && r.id == id);
    let node = |id: &str| job.node(id).map(|n| n.position());
    let here = |at: Point2| Spot { at, between: [at, at] };
    if let (Some(s), Fault::ShortAlong { run }) = (stretch, fault) {
        let run = run_of(run)?;
        // Distances count from the stretch's own end.
        let share = |m: f64| if s.from == run.from { m / s.length_m } else { 1.0 - m / s.length_m };
        let at = |m: f64| along(&run.way, share(m).clamp(0.0, 1.0));
        return Some(Spot { at: at(s.likely_m), between: [at(s.low_m), at(s.high_m)] });
    }
    match fault {
        Fault::Healthy | Fault::Swapped { .. } => None,
        Fault::Open { run } | Fault::ShortAlong { run } | Fault::HighSplice { run } => {
            let run = run_of(run)?;
            Some(Spot { at: along(&run.way, 0.5), between: [along(&run.way, 0.0), along(&run.way, 1.0)] })
        }
        Fault::ShortAt { joint } | Fault::Wet { joint } => node(joint).map(here),
        Fault::WrongTap { load, .. } | Fault::LowImpedance { load } | Fault::Missing { load } => {
            node(load).map(here)
        }
    }
}

/// The point a share of the length along a way.
fn along(way: &[Point2], share: f64) -> Point2 {
    let total = loamline_geometry::polyline_length(way);
    let mut left = share * total;
    for w in way.windows(2) {
        let leg = w[0].distance(w[1]);
        if left <= leg && leg > 0.0 {
            return w[0].lerp(w[1], left / leg);
        }
        left -= leg;
    }
    way.last().copied().unwrap_or_default()
}
