//! What the cable of a job comes to as it lies, by the catalogue's prices: the part of a quotation that depends on the ways
//! the cable takes. Every cable is bought, ground is opened and a hole is made once for all that share it, a joint is made
//! once for all lines that meet in it, and material carries its margin.
//!
//! Left out: days on site, which follow from all the labour of the job, and a person's own book of prices.

use super::ground::stretches_to_lay;
use super::{crossings, joint_needs, wall_holes};
use loamline_adapt::{LaidRun, Pricing, laid_cables};
use loamline_model::Job;
use rust_decimal::prelude::ToPrimitive;

/// What the cable of a job comes to, in its currency.
pub(crate) fn installed_cost(job: &Job, runs: &[LaidRun]) -> f64 {
    let catalogue = job.catalogue();
    let prices = Pricing::of_a_quotation(job);
    let cables = laid_cables(job, runs);
    let bought: f64 = cables
        .iter()
        .filter(|c| !c.existing)
        .filter_map(|c| Some(c.order_m * catalogue.cables.get(&c.cable)?.price_per_m.to_f64()?))
        .sum();
    let surfaces = &job.document().surfaces;
    let laid: f64 = stretches_to_lay(job, runs, &cables)
        .iter()
        .map(|s| {
            let surface = s.priced_by.as_ref().and_then(|id| surfaces.get(id));
            (s.at.length() - s.shared_m) * prices.stated_or_usual(surface, s.laying)
        })
        .sum();
    let services = &job.document().services;
    let crossed: f64 = crossings(runs, &cables)
        .into_iter()
        .map(|id| {
            let stated = services.get(id).and_then(|s| s.crossing_charge?.to_f64());
            stated.unwrap_or_else(|| prices.task("service-crossing"))
        })
        .sum();
    let joints = joint_needs(job, &cables);
    let connectors: f64 = joints
        .iter()
        .flat_map(|j| &j.conductors)
        .flat_map(|c| &c.connectors)
        .filter_map(|id| catalogue.connectors.get(id)?.price.to_f64())
        .sum();
    let ends: usize = joints.iter().map(super::JointNeed::cable_ends).sum();
    prices.with_margin(bought + connectors)
        + laid
        + joints.len() as f64 * prices.task("joint")
        + ends as f64 * prices.task("strain-tie")
        + crossed
        + wall_holes(runs, &cables) as f64 * prices.task("wall-hole")
}
