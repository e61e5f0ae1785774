//! Existing cable: laid years ago, neither bought nor laid again. It is the run between a rack and a stub, and any run of
//! a line that says so.
//!
//! A line that starts at a stub comes through one pair of the stub's cable, or through several pairs joined in parallel:
//! of n pairs the resistance and the inductance are 1/n of a pair's and the capacitance n times (the pairs taken as not
//! coupled to each other; the inductance is a small share of a line's impedance at audio frequencies).

use crate::run::{ExistingRun, LaidRun};
use loamline_electrics::PairConstants;
use loamline_model::Job;
use loamline_routing::RunLength;

/// The run of existing cable a line comes through; `None` where it starts at a rack.
pub fn existing_run(job: &Job, line: &str) -> Option<LaidRun> {
    let cable = job.existing_cable(line)?;
    let length_m = cable.stub.length_m.unwrap_or(0.0);
    Some(LaidRun {
        line: line.to_owned(),
        id: cable.run_id.clone(),
        from: cable.rack_id.to_owned(),
        to: cable.stub_id.to_owned(),
        in_series: false,
        cable: cable.cable_id.to_owned(),
        way: vec![cable.rack.position, cable.stub.position],
        length: RunLength {
            path_m: length_m,
            vertical_m: 0.0,
            loops_m: 0.0,
            waste_m: 0.0,
            order_m: length_m,
        },
        length_stated: cable.stub.length_m.is_some(),
        pieces: Vec::new(),
        sleeves: Vec::new(),
        through: Vec::new(),
        crosses: Vec::new(),
        crossed_at: Vec::new(),
        existing: Some(ExistingRun {
            stub: Some(cable.stub_id.to_owned()),
            pairs: cable.pairs,
            length_known: cable.stub.length_m.is_some(),
        }),
    })
}

/// Constants of several pairs of one cable in parallel.
pub fn in_parallel(pair: PairConstants, count: usize) -> PairConstants {
    let n = count.max(1) as f64;
    PairConstants {
        loop_resistance_ohm_per_m: pair.loop_resistance_ohm_per_m / n,
        loop_inductance_h_per_m: pair.loop_inductance_h_per_m / n,
        capacitance_f_per_m: pair.capacitance_f_per_m * n,
    }
}

/// Whether a line cannot be worked out because of the existing cable it comes through: no pair is left for it, or its
/// length is not known.
pub fn not_known(job: &Job, line: &str) -> bool {
    job.existing_cable(line).is_some_and(|c| c.pairs.is_empty() || c.stub.length_m.is_none())
}
