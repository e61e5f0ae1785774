//! The same lines at 70.7 V, at 100 V and at low impedance, side by side.

use crate::error::StudyError;
use indexmap::IndexMap;
use loamline_adapt::{
    CONDUCTOR_TEMPERATURE_C, LaidRun, LineInput, cable_surroundings, engine_cable, line_input, load_on,
    rated_for, service,
};
use loamline_electrics::{
    Cable, ComparedWay, ComparisonPrices, ServiceComparison, Surroundings, compare_services,
};
use loamline_model::catalogue;
use loamline_model::{Job, LineView};
use loamline_terms::Supply;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

/// A line compared.
#[derive(Debug, Clone, Serialize)]
pub struct LineComparison {
    /// Cables that were offered, catalogue ids, as the ways of feeding index them: those with two conductors that may lie where
    /// the line runs.
    pub cables: Vec<String>,
    /// The three ways of feeding it; none where no cable of the catalogue may lie there.
    pub ways: Vec<ServiceComparison>,
}

/// The supplies a line is compared at.
const COMPARED: [Supply; 3] = [Supply::Volts70, Supply::Volts100, Supply::LowImpedance];

/// Price of a line transformer where a loudspeaker would need one (an assumption; the catalogue's loudspeakers
/// come with theirs).
const TRANSFORMER_PRICE: f64 = 25.0;
/// Lowest load an amplifier at low impedance takes, ohm.
const MINIMUM_LOAD_OHM: f64 = 4.0;

/// Compares the ways of feeding every line that can be solved, with the two-conductor cables of the catalogue.
///
/// # Errors
/// What the engine finds wrong with a line.
pub fn compare(job: &Job, runs: &[LaidRun]) -> Result<IndexMap<String, LineComparison>, StudyError> {
    let (per_w, per_channel) = amplifier_prices(job);
    let mut all = IndexMap::new();
    for view in job.lines() {
        let value = |error| StudyError::LineValue { line: view.id.to_owned(), error };
        let Some(input) = line_input(job, &view, runs).map_err(value)? else { continue };
        let own =
            || runs.iter().filter(|r| r.line == view.id && job.catalogue().cables.contains_key(&r.cable));
        // Existing cable stays whatever the line is fed with.
        let kept: Vec<bool> = own().map(LaidRun::is_existing).collect();
        let places: Vec<Surroundings> = own().filter(|r| !r.is_existing()).map(cable_surroundings).collect();
        let may_lie = |c: &catalogue::Cable| places.iter().all(|laying| rated_for(c, *laying));
        let offered: Vec<_> =
            job.catalogue().cables.iter().filter(|(_, c)| c.conductors == 2 && may_lie(c)).collect();
        let ways = if offered.is_empty() {
            Vec::new()
        } else {
            let cables: Vec<Cable> = offered.iter().map(|(id, c)| engine_cable(id, c)).collect();
            let prices = ComparisonPrices {
                cable_per_m: offered.iter().map(|(_, c)| c.price_per_m.to_f64().unwrap_or(0.0)).collect(),
                transformer: TRANSFORMER_PRICE,
                amplifier_per_w: per_w,
                amplifier_channel: per_channel,
            };
            compare_services(
                &input.line.source_joint,
                &input.line.runs,
                &kept,
                &COMPARED.map(|supply| way(job, &view, &input, supply)),
                &cables,
                &prices,
                CONDUCTOR_TEMPERATURE_C,
                &input.limits,
                MINIMUM_LOAD_OHM,
            )
            .map_err(|error| StudyError::Line { line: view.id.to_owned(), error })?
        };
        let cables = offered.iter().map(|(id, _)| (*id).clone()).collect();
        all.insert(view.id.to_owned(), LineComparison { cables, ways });
    }
    Ok(all)
}

/// What hangs on a line, fed at `supply`: as it is where that is its own, so that what is chosen here is what the line then has.
fn way(job: &Job, view: &LineView<'_>, input: &LineInput, supply: Supply) -> ComparedWay {
    let placed = job.loudspeakers_of_line(view.id);
    let wanted_w: Vec<f64> = placed.iter().map(|l| l.placed.tap_w.unwrap_or(l.model.rated_w)).collect();
    let loads = if service(supply) == input.line.service {
        input.line.loads.clone()
    } else {
        placed.iter().zip(&wanted_w).map(|(l, w)| load_on(l, supply, *w)).collect()
    };
    ComparedWay { service: service(supply), loads, wanted_w }
}

/// Price of amplification by the watt and by the channel, from the catalogue's cheapest amplifier per watt.
fn amplifier_prices(job: &Job) -> (f64, f64) {
    let each = job.catalogue().amplifiers.values().filter_map(|a| {
        let watts = a.line_power_w.or(a.power_4ohm_w)? * f64::from(a.channels);
        let price = a.price.to_f64()?;
        Some((price / watts, 0.1 * price / f64::from(a.channels)))
    });
    each.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((1.0, 50.0))
}
