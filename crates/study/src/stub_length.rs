//! Length of existing cable from the resistance of a loop: the far end of a pair joined, the near end read.
//!
//! l = R / (2 r), with r the resistance of one conductor per metre at its temperature. The interval is that of 95 in 100:
//! meter and leads, the conductors' temperature (0.393 % per kelvin), and the conductors themselves.

use crate::error::{StudyError, Unknown};
use crate::names::stub_words;
use loamline_adapt::{CONDUCTOR_TEMPERATURE_C, pair};
use loamline_electrics::COPPER_COEFFICIENT_PER_K;
use loamline_faults::Tolerances;
use loamline_model::document::Stub;
use loamline_model::{Edit, Job, Operation};
use loamline_terms::pointer::escape;
use loamline_terms::{Measure, Told, say};
use serde::Serialize;

/// Deviation of a cable's resistance per metre from its nominal size, relative (common practice, no source; ASTM B258 allows
/// 1 % of the diameter, which is 2 % of the area).
const CONDUCTOR_DEVIATION: f64 = 0.02;
/// Deviations within which 95 of 100 lie.
const NINETY_FIVE: f64 = 1.96;
/// Shortest and longest cable a job takes, metres.
const LENGTH_M: std::ops::RangeInclusive<f64> = 0.1..=5000.0;

/// What a loop reading says about a stub's cable.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StubLength {
    /// The stub.
    pub stub: String,
    /// The rack its cable comes from.
    pub rack: String,
    /// Catalogue id of its cable.
    pub cable: String,
    /// What the meter showed at direct current, ohm.
    pub loop_ohm: f64,
    /// Temperature the conductors are taken to have, degrees Celsius.
    pub temperature_c: f64,
    /// Resistance of both conductors of a pair per metre of cable at that temperature, ohm.
    pub ohm_per_m: f64,
    /// Length of cable, metres.
    pub length_m: f64,
    /// Of 100 such cables 95 are at least this long, metres.
    pub low_m: f64,
    /// And at most this, metres.
    pub high_m: f64,
    /// Length the job states so far, metres.
    pub stated_m: Option<f64>,
    /// Straight distance between rack and stub in plan, metres: no cable is shorter.
    pub straight_m: f64,
    /// What it comes to, in sentences.
    pub sentences: Vec<Told>,
    /// The edit that stores the length, to the centimetre.
    pub edit: Edit,
}

/// A loop to expect: ohm, and what 95 of 100 meters show.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StubLoop {
    /// Resistance of a pair with its far end joined, ohm.
    pub ohm: f64,
    /// Lowest of 95 in 100, ohm.
    pub low_ohm: f64,
    /// Highest of 95 in 100, ohm.
    pub high_ohm: f64,
}

/// Deviation of a loop's reading from the cable's length, relative.
fn deviation(loop_ohm: f64, tolerances: &Tolerances) -> f64 {
    let warm = COPPER_COEFFICIENT_PER_K * tolerances.temperature_k;
    let floor = tolerances.meter_floor_ohm / loop_ohm;
    tolerances.meter.hypot(warm).hypot(floor).hypot(CONDUCTOR_DEVIATION)
}

/// What a pair of a stub's cable reads at the rack while its conductors are joined at the stub; `None` while its length is
/// not known.
pub fn stub_loop(job: &Job, stub: &Stub, tolerances: &Tolerances) -> Option<StubLoop> {
    let per_m = pair(&stub.cable, job.catalogue().cables.get(&stub.cable)?).ok()?.loop_resistance_ohm_per_m;
    let ohm = per_m * stub.length_m?;
    // The length itself is stated no better than a run's.
    let spread = NINETY_FIVE * deviation(ohm, tolerances).hypot(tolerances.length);
    Some(StubLoop { ohm, low_ohm: ohm * (1.0 - spread).max(0.0), high_ohm: ohm * (1.0 + spread) })
}

/// The length of a stub's cable from its loop at direct current.
///
/// # Errors
/// An unknown stub, or a loop no cable of a job can have.
pub fn stub_length(
    job: &Job,
    id: &str,
    loop_ohm: f64,
    temperature_c: Option<f64>,
    tolerances: &Tolerances,
) -> Result<StubLength, StudyError> {
    let document = job.document();
    let Some(stub) = document.stubs.get(id) else {
        return Err(Unknown::new("stub-out", id, document.stubs.keys().map(String::as_str)).into());
    };
    let missing = || StudyError::StubUnfinished { stub: id.to_owned() };
    let cable = job.catalogue().cables.get(&stub.cable).ok_or_else(missing)?;
    let (rack_id, rack) = document
        .rack_of_stub(stub)
        .and_then(|rack| document.racks.get_key_value(rack))
        .ok_or_else(missing)?;
    let temperature_c = temperature_c.unwrap_or(CONDUCTOR_TEMPERATURE_C);
    let cold = pair(&stub.cable, cable).map_err(|_| missing())?.loop_resistance_ohm_per_m;
    let ohm_per_m = cold * (1.0 + COPPER_COEFFICIENT_PER_K * (temperature_c - CONDUCTOR_TEMPERATURE_C));
    let length_m = loop_ohm / ohm_per_m;
    if !LENGTH_M.contains(&length_m) {
        return Err(StudyError::StubLength {
            stub: id.to_owned(),
            cable: stub.cable.clone(),
            loop_ohm,
            length_m,
            taken_m: LENGTH_M,
        });
    }
    let spread = NINETY_FIVE * deviation(loop_ohm, tolerances);
    let (low_m, high_m) = (length_m * (1.0 - spread).max(0.0), length_m * (1.0 + spread));
    let straight_m = rack.position.distance(stub.position);
    let mut sentences = vec![say!(
        "The existing cable at {stub} is {length} long (95 times in 100 between {low} and {high}): {loop_ohm} ohm there and back at \
         {per_length}.",
        stub = stub_words(id, stub),
        length = Measure::Length(length_m),
        low = Measure::Length(low_m),
        high = Measure::Length(high_m),
        loop_ohm = loop_ohm.to_string(),
        per_length = Measure::OhmPerLength(ohm_per_m)
    )];
    match stub.length_m {
        Some(stated) if !(low_m..=high_m).contains(&stated) => sentences.push(say!(
            "The job says {length}, which this reading does not bear out.",
            length = Measure::Length(stated)
        )),
        Some(stated) => sentences
            .push(say!("The job says {length}, and the reading agrees.", length = Measure::Length(stated))),
        None => {}
    }
    if high_m < straight_m {
        sentences.push(say!(
            "That is less than the {length} in a straight line from rack {rack}: the conductors touch on the way, or the cable is \
             thicker than \"{cable}\".",
            length = Measure::Length(straight_m),
            rack = rack_id,
            cable = &stub.cable
        ));
    }
    let value = ((length_m * 100.0).round() / 100.0).into();
    let set = Operation::Add { path: format!("/stubs/{}/length", escape(id)), value, before: None };
    Ok(StubLength {
        stub: id.to_owned(),
        rack: rack_id.clone(),
        cable: stub.cable.clone(),
        loop_ohm,
        temperature_c,
        ohm_per_m,
        length_m,
        low_m,
        high_m,
        stated_m: stub.length_m,
        straight_m,
        sentences: sentences.into_iter().map(Told::from).collect(),
        edit: Edit::new([set]),
    })
}
