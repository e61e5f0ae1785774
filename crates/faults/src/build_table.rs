//! Making a table of a line: every hypothesis with what it predicts at every place where something is to be read.

use loamline_electrics::Line;

use crate::error::FaultError;
use crate::grid::predict_grid;
use crate::hypotheses::Priors;
use crate::line_under_test::LineUnderTest;
use crate::places::{Place, visible_at};
use crate::readings::Setup;
use crate::sentences::explain;
use crate::table::{SeenAt, Table, TableHypothesis, TablePlace};
use crate::tolerances::Tolerances;

impl Table {
    /// The table of `line` for readings as in `setups`; `others` are lines it may have been swapped with.
    ///
    /// # Errors
    /// Everything wrong with the lines, the frequencies, the joints or the tolerances.
    pub fn build(
        line: &Line,
        others: &[&Line],
        setups: &[Setup],
        tolerances: &Tolerances,
        priors: &Priors,
    ) -> Result<Self, FaultError> {
        build_table(&LineUnderTest::new(line, others, tolerances, priors)?, setups)
    }
}

/// The table of a line for readings as in `setups`.
///
/// # Errors
/// Everything wrong with the frequencies or the joints.
pub(crate) fn build_table(under_test: &LineUnderTest<'_>, setups: &[Setup]) -> Result<Table, FaultError> {
    let mut first = 0;
    let hypotheses = under_test
        .hypotheses
        .iter()
        .map(|h| {
            let count = h.points.len();
            first += count;
            let told = explain(under_test.line, &h.fault, None, None);
            TableHypothesis {
                fault: h.fault.clone(),
                measures: told.placed(),
                sentence: told,
                weight: h.weight,
                first: first - count,
                count,
                seen: visible_at(under_test.line, &h.fault)
                    .into_iter()
                    .map(|(joint, share)| SeenAt { joint, share })
                    .collect(),
            }
        })
        .collect();
    Ok(Table {
        line: under_test.line.name.clone(),
        hypotheses,
        parameters: under_test.hypotheses.iter().flat_map(|h| h.points.iter().map(|p| p.parameter)).collect(),
        places: setups.iter().map(|setup| build_place(under_test, setup)).collect::<Result<_, _>>()?,
        meter_range_ohm: under_test.tolerances.meter_range_ohm,
        offset_ohm: under_test.tolerances.offset_ohm(),
    })
}

/// What a meter set up in this way would show at every point of every hypothesis.
fn build_place(under_test: &LineUnderTest<'_>, setup: &Setup) -> Result<TablePlace, FaultError> {
    let predictor = under_test.predictor(&setup.place, &setup.frequencies_hz, setup.phases)?;
    let joint = match &setup.place {
        Place::Rack => None,
        Place::Downstream(name) => Some(under_test.joint(name)?.0),
    };
    let mut predictions = Vec::new();
    let mut of_point = Vec::new();
    for hypothesis in &under_test.hypotheses {
        let good_here = joint.is_some_and(|joint| {
            !under_test.tree.seen_from(&under_test.network, under_test.line, joint, &hypothesis.fault)
        });
        if good_here && !predictions.is_empty() {
            of_point.extend(std::iter::repeat_n(0, hypothesis.points.len()));
            continue;
        }
        let on_terminals = match hypothesis.swapped_with {
            Some(line) => {
                under_test.swapped_predictor(line, &setup.place, &setup.frequencies_hz, setup.phases)?
            }
            None => None,
        };
        for prediction in predict_grid(on_terminals.as_ref().unwrap_or(&predictor), &hypothesis.points) {
            of_point.push(predictions.len());
            predictions.push(prediction);
        }
    }
    Ok(TablePlace {
        place: setup.place.clone(),
        frequencies_hz: setup.frequencies_hz.clone(),
        phases: setup.phases,
        predictions,
        of_point,
    })
}
