//! Meter readings of a job's lines: what to expect, and where a wrong one says to look.

use crate::error::{StudyError, Unknown};
use indexmap::IndexMap;
use loamline_adapt::{CONDUCTOR_TEMPERATURE_C, LaidRun, laid_runs_of, line_input};
use loamline_electrics::{COPPER_COEFFICIENT_PER_K, Line};
use loamline_faults::{
    Asked, Diagnosis, Effort, ExpectedReading, Explanation, Fault, FaultError, Grade, LEAKAGE_DOUBTFUL_MOHM,
    LEAKAGE_MOHM, MeterReading, Place, Priors, ReadingSpread, Setup, Shown, StageReading, SuspectStretch,
    Table, Tolerances, expected_readings, expected_spread, expected_stages, judge_leakage, locate,
};
use loamline_geometry::Point2;
use loamline_model::document::Visit;
use loamline_model::{Job, JobNode};
use serde::Serialize;

use loamline_terms::LINE_METER_HZ;
pub use loamline_terms::METER_FREQUENCIES_HZ;

/// What a line should read.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ExpectedLine {
    /// The cable between the joints.
    pub runs: Vec<ExpectedRun>,
    /// At the rack and at every joint looking away from it.
    pub readings: Vec<ExpectedReading>,
    /// At the rack while the line grows joint by joint.
    pub stages: Vec<StageReading>,
    /// Resistance of each conductor to earth, megohm, at least: [`LEAKAGE_MOHM`].
    pub leakage_mohm: f64,
    /// Below this, megohm, it is bad; between the two doubtful.
    pub leakage_doubtful_mohm: f64,
}

/// A run as readings see it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ExpectedRun {
    /// Its tag.
    pub id: String,
    /// The end nearer to the rack.
    pub from: String,
    /// The other end.
    pub to: String,
    /// Length of conductor that carries current, metres.
    pub electrical_m: f64,
    /// Resistance of both conductors, ohm.
    pub loop_resistance_ohm: f64,
}

/// A question about a line's readings.
#[derive(Debug, Clone, Default)]
pub struct Question {
    /// What the meter showed.
    pub readings: Vec<MeterReading>,
    /// Joints that were opened and looked good.
    pub opened: Vec<String>,
    /// What was measured of the line's insulation to earth.
    pub insulation: Option<Grade>,
    /// How far a good line may be from the drawing.
    pub tolerances: Tolerances,
    /// Temperature of the ground in degrees Celsius, where known; conductors have it.
    pub ground_temperature_c: Option<f64>,
    /// Also weigh two faults at once.
    pub pairs: bool,
}

/// A fault with its place on the plan.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Located {
    /// The ranking and what to do next.
    pub diagnosis: Diagnosis,
    /// Where each explanation is, in the order of the ranking; absent where it has no one place.
    pub places: Vec<Option<Spot>>,
    /// Where each suspect is, in their order.
    pub suspect_places: Vec<Option<Spot>>,
}

/// A place on the plan, or a stretch of a run.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
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
pub(crate) fn lines(
    job: &Job,
    runs: &[LaidRun],
    ground_temperature_c: Option<f64>,
) -> Result<IndexMap<String, Line>, StudyError> {
    lines_among(job, runs, ground_temperature_c, |_| true)
}

/// Those of the lines that are wanted.
fn lines_among(
    job: &Job,
    runs: &[LaidRun],
    ground_temperature_c: Option<f64>,
    wanted: impl Fn(&str) -> bool,
) -> Result<IndexMap<String, Line>, StudyError> {
    let temperature_c = ground_temperature_c.unwrap_or(CONDUCTOR_TEMPERATURE_C);
    let warm = 1.0 + COPPER_COEFFICIENT_PER_K * (temperature_c - CONDUCTOR_TEMPERATURE_C);
    let mut all = IndexMap::new();
    for view in job.lines().filter(|view| wanted(view.id)) {
        if let Some(input) = line_input(job, &view, runs)
            .map_err(|error| StudyError::LineValue { line: view.id.to_owned(), error })?
        {
            let mut line = input.line;
            line.runs.iter_mut().for_each(|run| run.pair.loop_resistance_ohm_per_m *= warm);
            all.insert(view.id.to_owned(), line);
        }
    }
    Ok(all)
}

/// What every line should read at the meter's frequencies (0 for direct current).
///
/// # Errors
/// What the engine finds wrong with a line.
pub fn expect(
    job: &Job,
    runs: &[LaidRun],
    frequencies_hz: &[f64],
    tolerances: &Tolerances,
) -> Result<IndexMap<String, ExpectedLine>, StudyError> {
    expect_of(&lines(job, runs, None)?, frequencies_hz, tolerances)
}

/// As [`expect`], of one line: nothing else of the job is worked out.
///
/// # Errors
/// An unknown line or one with nothing to measure, or what the engine finds wrong with it.
pub fn expect_line(
    job: &Job,
    line: &str,
    frequencies_hz: &[f64],
    tolerances: &Tolerances,
) -> Result<IndexMap<String, ExpectedLine>, StudyError> {
    let this = lines_among(job, &laid_runs_of(job, line), None, |id| id == line)?;
    if this.is_empty() {
        let known = job.document().lines.keys().map(String::as_str).filter(|id| *id != line);
        return Err(StudyError::NothingToMeasure(Unknown::new("line", line, known)));
    }
    expect_of(&this, frequencies_hz, tolerances)
}

/// As [`expect`], of lines as the engine sees them.
pub(crate) fn expect_of(
    lines: &IndexMap<String, Line>,
    frequencies_hz: &[f64],
    tolerances: &Tolerances,
) -> Result<IndexMap<String, ExpectedLine>, StudyError> {
    let mut all = IndexMap::new();
    for (id, line) in lines {
        let readings =
            expected_readings(line, frequencies_hz, tolerances).map_err(|error| of_readings(id, error))?;
        let stages =
            expected_stages(line, frequencies_hz, tolerances).map_err(|error| of_readings(id, error))?;
        let runs = line.runs.iter().map(|run| ExpectedRun {
            id: run.name.clone(),
            from: run.from.clone(),
            to: run.to.clone(),
            electrical_m: run.length_m,
            loop_resistance_ohm: run.length_m * run.pair.loop_resistance_ohm_per_m,
        });
        let runs = runs.collect();
        let (leakage_mohm, leakage_doubtful_mohm) = (LEAKAGE_MOHM, LEAKAGE_DOUBTFUL_MOHM);
        all.insert(id.clone(), ExpectedLine { runs, readings, stages, leakage_mohm, leakage_doubtful_mohm });
    }
    Ok(all)
}

/// One reading of a good line and what makes it spread; with it how many loudspeakers and how much cable hang on the line.
///
/// # Errors
/// An unknown line, or what the engine finds wrong with it.
pub fn expect_why(
    job: &Job,
    runs: &[LaidRun],
    line: &str,
    place: &Place,
    frequency_hz: f64,
    tolerances: &Tolerances,
) -> Result<ReadingWorking, StudyError> {
    let all = lines(job, runs, None)?;
    let this = all.get(line).ok_or_else(|| unknown_line(line, &all))?;
    let place = place_in(job, place);
    let spread =
        expected_spread(this, &place, frequency_hz, tolerances).map_err(|error| of_readings(line, error))?;
    Ok(ReadingWorking {
        spread,
        loudspeakers: this.loads.len(),
        cable_m: this.runs.iter().map(|r| r.length_m).sum(),
        cable_ohm: this.runs.iter().map(|r| r.length_m * r.pair.loop_resistance_ohm_per_m).sum(),
    })
}

/// What stands behind a reading to expect.
#[derive(Debug, Clone, Serialize)]
pub struct ReadingWorking {
    /// The reading and what makes it spread.
    pub spread: ReadingSpread,
    /// Loudspeakers, or groups on one transformer, on the whole line.
    pub loudspeakers: usize,
    /// Cable of the whole line, metres.
    pub cable_m: f64,
    /// Its resistance there and back, all runs together, ohm.
    pub cable_ohm: f64,
}

fn unknown_line(line: &str, all: &IndexMap<String, Line>) -> StudyError {
    StudyError::NothingToMeasure(Unknown::new("line", line, all.keys().map(String::as_str)))
}

fn of_readings(line: &str, error: FaultError) -> StudyError {
    StudyError::Readings { line: line.to_owned(), error }
}

/// Frequencies at which readings are expected: those the job's meter reads at, else the usual ones.
#[must_use]
pub fn meter_frequencies_hz(job: &Job) -> Vec<f64> {
    let stated = &job.document().about.meter_hz;
    if stated.is_empty() { METER_FREQUENCIES_HZ.to_vec() } else { stated.clone() }
}

/// The table of explanations of every line: what a phone needs to rank readings without this program. A meter at the rack
/// may read [`METER_FREQUENCIES_HZ`] with phases, one at a joint direct current and 1 kHz.
///
/// # Errors
/// What the engine finds wrong with a line.
pub fn fault_tables(
    job: &Job,
    runs: &[LaidRun],
    tolerances: &Tolerances,
) -> Result<IndexMap<String, Table>, StudyError> {
    tables_of(&lines(job, runs, None)?, tolerances)
}

/// As [`fault_tables`], of lines as the engine sees them.
pub(crate) fn tables_of(
    all: &IndexMap<String, Line>,
    tolerances: &Tolerances,
) -> Result<IndexMap<String, Table>, StudyError> {
    let mut tables = IndexMap::new();
    for (id, line) in all {
        let others: Vec<&Line> = all.iter().filter(|(other, _)| *other != id).map(|(_, l)| l).collect();
        let rack = Setup { place: Place::Rack, frequencies_hz: METER_FREQUENCIES_HZ.to_vec(), phases: true };
        let joints: Vec<Place> = line.runs.iter().map(|run| Place::Downstream(run.to.clone())).collect();
        let at_joint = |place| Setup { place, frequencies_hz: vec![0.0, LINE_METER_HZ], phases: false };
        let setups: Vec<Setup> = std::iter::once(rack).chain(joints.into_iter().map(at_joint)).collect();
        let table = Table::build(line, &others, &setups, tolerances, &Priors::default())
            .map_err(|error| of_readings(id, error))?;
        tables.insert(id.clone(), table);
    }
    Ok(tables)
}

/// What people and tables call the rack that a line starts at.
const RACK: &str = "rack";

/// The joint a reading is taken at; none at the rack, which goes by no name, by the word "rack" and by the id of a rack.
#[must_use]
pub fn joint_at(job: &Job, at: Option<&str>) -> Option<String> {
    at.filter(|at| *at != RACK && !job.document().racks.contains_key(*at)).map(str::to_owned)
}

/// The same of a place.
fn place_in(job: &Job, place: &Place) -> Place {
    match place {
        Place::Rack => Place::Rack,
        Place::Downstream(joint) => joint_at(job, Some(joint)).map_or(Place::Rack, Place::Downstream),
    }
}

/// The readings a visit took of a line's loop, at its start and at joints; of two at one place and frequency the later one
/// in the file, which whoever measured again wrote. `kept`: those of the line as it was, which the visit keeps under that
/// id; without it those of the line that is there.
pub fn readings_of(job: &Job, visit: &Visit, line: &str, kept: Option<&str>) -> Vec<MeterReading> {
    let mut all: Vec<MeterReading> = Vec::new();
    let of_line = visit
        .readings
        .iter()
        .filter(|(id, r)| r.line == line && visit.kept_of_reading(id).map(|k| k.0) == kept);
    for (_, r) in of_line {
        let (frequency_hz, read) = match (r.dc, r.impedance) {
            (Some(read), _) => (0.0, read),
            (None, Some(read)) => (r.frequency_hz.unwrap_or(LINE_METER_HZ), read),
            (None, None) => continue,
        };
        let place = joint_at(job, r.at.as_deref()).map_or(Place::Rack, Place::Downstream);
        all.retain(|other| other.place != place || (other.frequency_hz - frequency_hz).abs() > 1e-9);
        let shown = if r.above { Shown::Open } else { read };
        all.push(MeterReading { place, frequency_hz, shown, phase_rad: None });
    }
    all
}

/// What a visit measured of a line's insulation to earth: the worst of what stands, none where nothing can be told. `kept` as of
/// [`readings_of`].
#[must_use]
pub fn insulation_of(job: &Job, visit: &Visit, line: &str, kept: Option<&str>) -> Option<Grade> {
    let mut last: IndexMap<Option<String>, Grade> = IndexMap::new();
    for (id, r) in &visit.readings {
        if r.line != line || visit.kept_of_reading(id).map(|k| k.0) != kept {
            continue;
        }
        if let Some(judged) = r.leakage_ohm.and_then(|ohm| judge_leakage(ohm, r.above)) {
            last.insert(joint_at(job, r.at.as_deref()), judged.grade);
        }
    }
    last.into_values().max()
}

/// Ranks what would explain readings of a line.
///
/// # Errors
/// An unknown line, or what the engine finds wrong with it.
pub fn explain(job: &Job, runs: &[LaidRun], line: &str, question: &Question) -> Result<Located, StudyError> {
    let all = lines(job, runs, question.ground_temperature_c)?;
    let this = all.get(line).ok_or_else(|| unknown_line(line, &all))?;
    let others: Vec<&Line> = all.iter().filter(|(id, _)| *id != line).map(|(_, l)| l).collect();
    let taken = |r: &MeterReading| MeterReading { place: place_in(job, &r.place), ..r.clone() };
    let readings: Vec<MeterReading> = question.readings.iter().map(taken).collect();
    let meter_hz = meter_frequencies_hz(job);
    let asked = Asked {
        line: this,
        others: &others,
        readings: &readings,
        opened: &question.opened,
        tolerances: &question.tolerances,
        priors: &Priors::default(),
        effort: &Effort::default(),
        meter_hz: &meter_hz,
        pairs: question.pairs,
        insulation: question.insulation,
    };
    let diagnosis = locate(&asked).map_err(|error| of_readings(line, error))?;
    let spots = |all: &[Explanation]| {
        all.iter().map(|e| spot(job, runs, line, &e.fault, e.stretch.as_ref())).collect::<Vec<_>>()
    };
    let (places, suspect_places) = (spots(&diagnosis.explanations), spots(&diagnosis.suspects));
    Ok(Located { diagnosis, places, suspect_places })
}

fn spot(
    job: &Job,
    runs: &[LaidRun],
    line: &str,
    fault: &Fault,
    stretch: Option<&SuspectStretch>,
) -> Option<Spot> {
    let run_of = |id: &str| runs.iter().find(|r| r.line == line && r.id == id);
    let node = |id: &str| job.node(id).map(|n| n.position());
    let here = |at: Point2| Spot { at, between: [at, at] };
    if let (Some(s), Fault::ShortAlong { run } | Fault::Open { run }) = (stretch, fault) {
        let run = run_of(run)?;
        // Distances count from the stretch's own end.
        let share = |m: f64| if s.from == run.from { m / s.length_m } else { 1.0 - m / s.length_m };
        let at = |m: f64| point_at_share(&run.way, share(m).clamp(0.0, 1.0));
        return Some(Spot { at: at(s.likely_m), between: [at(s.low_m), at(s.high_m)] });
    }
    match fault {
        // Two faults have two places: those of the suspects.
        Fault::Healthy | Fault::Swapped { .. } | Fault::Two { .. } => None,
        Fault::Open { run } | Fault::ShortAlong { run } | Fault::HighSplice { run } => {
            let run = run_of(run)?;
            // A splice is at an end: the one nearer to the rack, but not at the rack itself.
            let share = match (fault, job.node(&run.from)) {
                (Fault::HighSplice { .. }, Some(JobNode::Rack(_))) => 1.0,
                (Fault::HighSplice { .. }, _) => 0.0,
                _ => 0.5,
            };
            Some(Spot {
                at: point_at_share(&run.way, share),
                between: [point_at_share(&run.way, 0.0), point_at_share(&run.way, 1.0)],
            })
        }
        Fault::ShortAt { joint } | Fault::Wet { joint } | Fault::SwappedAt { joint, .. } => {
            node(joint).map(here)
        }
        Fault::WrongTap { load, .. } | Fault::LowImpedance { load } | Fault::Missing { load } => {
            node(load).map(here)
        }
    }
}

/// The point a share of the length along a way.
fn point_at_share(way: &[Point2], share: f64) -> Point2 {
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
