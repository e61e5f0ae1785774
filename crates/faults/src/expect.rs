//! What a meter should show: at the rack, at every joint looking downstream, and at every stage of building.

use loamline_electrics::{Line, Load, Network};
use serde::Serialize;

use crate::error::FaultError;
use crate::hypotheses::{Point, Priors};
use crate::line_under_test::LineUnderTest;
use crate::normal::{TWO_SIDED_95, TWO_SIDED_999};
use crate::places::Place;
use crate::predict::{Prediction, Predictor};
use crate::sees::Sees;
use crate::tolerances::Tolerances;

/// A reading to expect.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ExpectedReading {
    /// Where.
    pub place: Place,
    /// Meter frequency in Hz, 0 for DC.
    pub frequency_hz: f64,
    /// What the meter sees there.
    pub sees: Sees,
    /// |Z| or DC resistance in ohm; `None` means the meter shows an open line.
    pub ohm: Option<f64>,
    /// 95 % of good lines read at least this, ohm.
    pub low_ohm: Option<f64>,
    /// 95 % of good lines read at most this, ohm.
    pub high_ohm: Option<f64>,
    /// 999 of 1000 good lines read at least this, ohm: what reads less is bad.
    pub far_low_ohm: Option<f64>,
    /// 999 of 1000 good lines read at most this, ohm: what reads more is bad.
    pub far_high_ohm: Option<f64>,
    /// What reads no more than this reads as a short along the line does, ohm.
    pub short_ohm: Option<f64>,
}

/// The rack reading once the line is built as far as a joint.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StageReading {
    /// The joint just added.
    pub joint: String,
    /// What the rack reads then.
    pub readings: Vec<ExpectedReading>,
}

/// Readings at the rack and, on a tree, at every joint looking downstream.
///
/// # Errors
/// Everything wrong with the line, the frequencies or the tolerances.
pub fn expected_readings(
    line: &Line,
    frequencies_hz: &[f64],
    tolerances: &Tolerances,
) -> Result<Vec<ExpectedReading>, FaultError> {
    let under_test = LineUnderTest::new(line, &[], tolerances, &Priors::default())?;
    let mut all = Vec::new();
    for place in std::iter::once(Place::Rack).chain(under_test.joints_behind_the_rack()) {
        let predictor = under_test.predictor(&place, frequencies_hz, false)?;
        let behind =
            Behind { shorts: under_test.shorts_seen_from(&place), loads: under_test.loads_seen_from(&place) };
        all.extend(expected(&predictor, (&place, &behind), frequencies_hz, tolerances.offset_ohm()));
    }
    Ok(all)
}

/// Rack readings as the line grows: joints are added in the order the line lists its runs from the rack outwards, each
/// with its loads.
///
/// # Errors
/// As [`expected_readings`].
pub fn expected_stages(
    line: &Line,
    frequencies_hz: &[f64],
    tolerances: &Tolerances,
) -> Result<Vec<StageReading>, FaultError> {
    tolerances.check()?;
    let network = Network::build(line)?;
    let mut stage = Line { runs: Vec::new(), loads: Vec::new(), joints: Vec::new(), ..line.clone() };
    let mut built = vec![false; line.runs.len()];
    let mut reached = vec![line.source_joint.clone()];
    stage.loads.extend(line.loads.iter().filter(|load| load.at == line.source_joint).cloned());
    let mut stages = Vec::with_capacity(network.joints().len());
    while let Some(index) = (0..line.runs.len()).find(|&index| {
        let run = &line.runs[index];
        !built[index] && (reached.contains(&run.from) || reached.contains(&run.to))
    }) {
        built[index] = true;
        let run = line.runs[index].clone();
        let joint = if reached.contains(&run.from) { run.to.clone() } else { run.from.clone() };
        stage.runs.push(run);
        if !reached.contains(&joint) {
            stage.loads.extend(line.loads.iter().filter(|load| load.at == joint).cloned());
            reached.push(joint.clone());
        }
        let network = Network::build(&stage)?;
        let predictor = Predictor::new(&stage, &network, Vec::new(), frequencies_hz, false, tolerances)?;
        let behind = Behind {
            shorts: (0..network.joints().len()).filter(|&j| j != network.source_index()).collect(),
            loads: stage.loads.iter().filter(|load| stage.closes(load)).collect(),
        };
        stages.push(StageReading {
            joint,
            readings: expected(&predictor, (&Place::Rack, &behind), frequencies_hz, tolerances.offset_ohm()),
        });
    }
    Ok(stages)
}

/// What lies behind a meter.
pub(crate) struct Behind<'a> {
    /// Joints a short at which it sees.
    pub(crate) shorts: Vec<usize>,
    pub(crate) loads: Vec<&'a Load>,
}

/// What a meter shows on a good line at one place, with the intervals.
pub(crate) fn expected(
    predictor: &Predictor<'_>,
    (place, behind): (&Place, &Behind<'_>),
    frequencies_hz: &[f64],
    offset_ohm: f64,
) -> Vec<ExpectedReading> {
    let good = predictor.predict(&Point::good());
    let shorted: Vec<_> =
        behind.shorts.iter().map(|&joint| predictor.predict(&Point::short_at(joint))).collect();
    frequencies_hz
        .iter()
        .enumerate()
        .map(|(f, &frequency_hz)| {
            let at = |prediction: &Prediction, deviations: f64| {
                let deviation = prediction.covariance(f, f).sqrt();
                prediction.mean[f].map(|mean| ((mean + deviations * deviation).exp() - offset_ohm).max(0.0))
            };
            let bound = |deviations: f64| at(&good, deviations);
            ExpectedReading {
                place: place.clone(),
                frequency_hz,
                sees: Sees::of(behind.loads.iter().copied(), frequency_hz),
                ohm: bound(0.0),
                low_ohm: bound(-TWO_SIDED_95),
                high_ohm: bound(TWO_SIDED_95),
                far_low_ohm: bound(-TWO_SIDED_999),
                far_high_ohm: bound(TWO_SIDED_999),
                short_ohm: shorted.iter().filter_map(|p| at(p, TWO_SIDED_95)).reduce(f64::max),
            }
        })
        .collect()
}
