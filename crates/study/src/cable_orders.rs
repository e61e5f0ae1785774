//! What cable to order, and what to cut from which spool.

use loamline_adapt::LaidCable;
use loamline_model::Job;
use loamline_routing::{CutList, cut_list};
use serde::Serialize;
use thiserror::Error;

/// One length to cut.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Cut {
    /// Tag of the cable: that of its run, or of the runs that share it.
    pub tag: String,
    /// Length to cut, metres.
    pub length_m: f64,
}

/// One spool, and what is cut from it in the order of cutting.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OrderedSpool {
    /// Length of the full spool, metres.
    pub spool_m: f64,
    /// Longest cut first.
    pub cuts: Vec<Cut>,
    /// What stays on the spool, metres.
    pub left_m: f64,
}

/// Cable of one type.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CableOrder {
    /// Catalogue id.
    pub cable: String,
    /// Metres to cut, all cables together.
    pub cut_m: f64,
    /// Metres on all spools together.
    pub ordered_m: f64,
    /// No choice of spools orders less, metres.
    pub least_ordered_m: f64,
    /// How many spools of each length, longest first: (metres, spools).
    pub to_order: Vec<(f64, usize)>,
    /// Spools with their cuts, longest spool first.
    pub spools: Vec<OrderedSpool>,
}

impl CableOrder {
    /// Left on all spools together, metres.
    pub fn left_m(&self) -> f64 {
        self.spools.iter().map(|s| s.left_m).sum()
    }
}

/// A cable that no spool holds in one piece.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{cable}: {reason}")]
pub struct CableOrderError {
    /// Catalogue id of the cable.
    pub cable: String,
    /// Why there is no cut list.
    pub reason: String,
}

/// Cable by type, in the order of the catalogue: of the spool lengths each is sold in, those that order least in all.
///
/// # Errors
/// [`CableOrderError`] when a cable is longer than the longest spool it is sold in.
pub fn cable_orders(job: &Job, cables: &[LaidCable]) -> Result<Vec<CableOrder>, CableOrderError> {
    let mut orders = Vec::new();
    for (id, cable) in &job.catalogue().cables {
        let own: Vec<&LaidCable> = cables.iter().filter(|c| c.cable == *id && !c.existing).collect();
        if own.is_empty() {
            continue;
        }
        let lengths: Vec<f64> = own.iter().map(|c| c.order_m).collect();
        let list: CutList = cut_list(&lengths, &cable.spools_m, 0.0)
            .map_err(|e| CableOrderError { cable: id.clone(), reason: e.to_string() })?;
        let cut = |&i: &usize| Cut { tag: own[i].tag.clone(), length_m: lengths[i] };
        orders.push(CableOrder {
            cable: id.clone(),
            cut_m: lengths.iter().sum(),
            ordered_m: list.ordered_m,
            least_ordered_m: list.least_ordered_m,
            to_order: list.to_order(),
            spools: list
                .spools
                .iter()
                .map(|s| OrderedSpool {
                    spool_m: s.spool_m,
                    cuts: s.cuts.iter().map(cut).collect(),
                    left_m: s.left_m,
                })
                .collect(),
        });
    }
    Ok(orders)
}
