//! The same lines at 70.7 V, at 100 V and at low impedance, side by side.

use crate::error::StudyError;
use indexmap::IndexMap;
use loamline_adapt::{
    CONDUCTOR_TEMPERATURE_C, LaidRun, conductor_size, in_parallel, not_known, pair, source_joint,
};
use loamline_electrics::{Cable, ComparisonPrices, Run, ServiceComparison, WantedLoad, compare_services};
use loamline_model::Job;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

/// A line compared.
#[derive(Debug, Clone, Serialize)]
pub struct LineComparison {
    /// Cables that were offered, catalogue ids, as the ways of feeding index them.
    pub cables: Vec<String>,
    /// The three ways of feeding it.
    pub ways: Vec<ServiceComparison>,
}

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
    let offered: Vec<_> = job.catalogue().cables.iter().filter(|(_, c)| c.conductors == 2).collect();
    let cables: Vec<Cable> = offered
        .iter()
        .map(|(id, c)| Cable {
            name: (*id).clone(),
            size: conductor_size(c.conductor_mm2),
            strands: c.strands,
            conductors: c.conductors,
            loop_inductance_h_per_m: c.inductance_h_per_m,
            capacitance_f_per_m: c.capacitance_f_per_m,
        })
        .collect();
    let (per_w, per_channel) = amplifier_prices(job);
    let prices = ComparisonPrices {
        cable_per_m: offered.iter().map(|(_, c)| c.price_per_m.to_f64().unwrap_or(0.0)).collect(),
        transformer: TRANSFORMER_PRICE,
        amplifier_per_w: per_w,
        amplifier_channel: per_channel,
    };
    let limit_db = job.document().brief.loss_limit_db.max(0.05);
    let mut all = IndexMap::new();
    for view in job.lines().filter(|v| !v.tree.runs.is_empty() && !not_known(job, v.id)) {
        let mut engine_runs = Vec::new();
        let own = || runs.iter().filter(|r| r.line == view.id);
        // Existing cable stays whatever the line is fed with.
        let mut kept = Vec::new();
        for r in own() {
            let Some(cable) = job.catalogue().cables.get(&r.cable) else { continue };
            let pair = pair(&r.cable, cable)
                .map_err(|error| StudyError::LineValue { line: view.id.to_owned(), error })?;
            kept.push(r.is_existing());
            engine_runs.push(Run {
                name: r.id.clone(),
                from: r.from.clone(),
                to: r.to.clone(),
                length_m: r.electrical_m(),
                pair: r.existing.as_ref().map_or(pair, |e| in_parallel(pair, e.pairs.len())),
                laid: None,
            });
        }
        let wanted: Vec<WantedLoad> = job
            .loudspeakers_of_line(view.id)
            .iter()
            .map(|l| WantedLoad {
                name: l.id.to_owned(),
                at: l.id.to_owned(),
                power_w: l.placed.tap_w.unwrap_or(l.model.rated_w),
                nominal_ohm: l.nominal_ohm(),
            })
            .collect();
        let ways = compare_services(
            source_joint(&view, runs),
            &engine_runs,
            &kept,
            &wanted,
            &cables,
            &prices,
            CONDUCTOR_TEMPERATURE_C,
            limit_db,
            MINIMUM_LOAD_OHM,
        )
        .map_err(|error| StudyError::Line { line: view.id.to_owned(), error })?;
        let cables = offered.iter().map(|(id, _)| (*id).clone()).collect();
        all.insert(view.id.to_owned(), LineComparison { cables, ways });
    }
    Ok(all)
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
