//! Whether cable comes off a spool in one piece.

use loamline_adapt::LaidCable;
use loamline_model::Job;

/// Length of the longest spool of a cable that is longer than that, metres; `None` where a spool holds it, and for cable that is
/// there already.
pub(crate) fn no_spool_holds(job: &Job, cable: &LaidCable) -> Option<f64> {
    let spools_m = &job.catalogue().cables.get(&cable.cable)?.spools_m;
    let longest_m = spools_m.iter().copied().reduce(f64::max)?;
    let cut_m = job.document().units().cut_m(cable.order_m);
    // In whole millimetres, as spools are filled.
    let longer = (cut_m * 1000.0 - 1e-6).ceil() > (longest_m * 1000.0 + 1e-6).floor();
    (longer && !cable.existing).then_some(longest_m)
}
