//! A job routed anew: the cable as it then lies, and what to order of it.

use crate::cable_orders::{CableOrder, cable_orders};
use crate::finding::{Finding, worst_first};
use crate::routes::Routed;
use crate::site_findings::cable_findings;
use crate::spool_findings::spool_findings;
use crate::study::Study;
use crate::suits::near_mains;
use loamline_adapt::{LaidRun, laid_cables};
use loamline_model::Edit;
use loamline_routing::RoutedLines;
use serde::Serialize;

/// A job routed anew.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RoutedJob {
    /// Every run as it then lies.
    pub runs: Vec<LaidRun>,
    /// Lines as solved, one group for each cable and topology.
    pub groups: Vec<RoutedLines>,
    /// What cable to order.
    pub cables: Vec<CableOrder>,
    /// What wants attention, worst first.
    pub findings: Vec<Finding>,
    /// The edit that writes the runs into the job.
    pub edit: Edit,
}

impl RoutedJob {
    /// What a route comes to; `laid` is the job with its edit carried out. What no spool holds is a finding.
    pub fn of(laid: &Study, routed: Routed) -> Self {
        let Routed { groups, edit, mut findings, .. } = routed;
        let runs = laid.runs();
        let cables = laid_cables(laid.job(), &runs);
        findings.extend(cable_findings(laid.job(), &runs, &cables));
        // What the job will be told for, whoever routes it hears at once.
        findings.extend(near_mains(laid.job(), &runs));
        findings.extend(spool_findings(laid.job(), &runs));
        // What is in the way is among the findings.
        let cables = cable_orders(laid.job(), &cables).unwrap_or_default();
        worst_first(&mut findings);
        Self { runs: runs.to_vec(), groups, cables, findings, edit }
    }
}
