//! Why a good line's reading is not one number: how much each cause moves it.
//!
//! The causes are the independent errors of [`crate::predict`], taken together by kind; their standard deviations add as
//! squares (first order) to the one behind the interval of [`crate::expected_readings`].

use loamline_electrics::Line;
use serde::Serialize;

use crate::error::FaultError;
use crate::expect::{Behind, ExpectedReading, expected};
use crate::hypotheses::Priors;
use crate::line_under_test::LineUnderTest;
use crate::places::Place;
use crate::tolerances::{Cause, Tolerances};

/// A reading with what makes it spread.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadingSpread {
    /// The reading.
    pub reading: ExpectedReading,
    /// Standard deviation of ln(ohm + offset), about the relative one where ohms are many.
    pub deviation: f64,
    /// What each cause gives of it, in the order of [`Cause::ALL`]; their squares add up to its square.
    pub causes: [(Cause, f64); Cause::ALL.len()],
}

/// One reading of a good line and what makes it spread.
///
/// # Errors
/// As [`crate::expected_readings`]; also a joint the line does not have or that cannot be parted from the rack.
pub fn expected_spread(
    line: &Line,
    place: &Place,
    frequency_hz: f64,
    tolerances: &Tolerances,
) -> Result<ReadingSpread, FaultError> {
    let under_test = LineUnderTest::new(line, &[], tolerances, &Priors::default())?;
    let frequencies_hz = [frequency_hz];
    let predictor = under_test.predictor(place, &frequencies_hz, false)?;
    let behind =
        Behind { shorts: under_test.shorts_seen_from(place), loads: under_test.loads_seen_from(place) };
    let reading = expected(&predictor, (place, &behind), &frequencies_hz, tolerances.offset_ohm()).remove(0);
    let squares = predictor.variance_by_cause();
    let causes = Cause::ALL.map(|cause| (cause, squares[cause as usize].sqrt()));
    Ok(ReadingSpread { reading, deviation: squares.iter().sum::<f64>().sqrt(), causes })
}
