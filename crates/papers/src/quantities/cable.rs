//! Cable by type and spool: what to cut from which spool.

use crate::error::PapersError;
use loamline_model::Job;
use loamline_routing::{CutList, cut_list};
use loamline_study::LaidCable;

/// One length to cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Tag of the cable: that of its run, or of the runs that share it.
    pub tag: String,
    /// Length to cut, metres.
    pub length_m: f64,
}

/// What is cut from one spool, in the order of cutting.
#[derive(Debug, Clone, PartialEq)]
pub struct SpoolCuts {
    /// Longest cut first.
    pub cuts: Vec<Cut>,
    /// What stays on the spool, metres.
    pub left_m: f64,
}

/// Cable of one type.
#[derive(Debug, Clone, PartialEq)]
pub struct CableNeed {
    /// Catalogue id.
    pub cable: String,
    /// Metres to cut, all cables together.
    pub cut_m: f64,
    /// Length of the spools to order, metres.
    pub spool_m: f64,
    /// Spools with their cuts.
    pub spools: Vec<SpoolCuts>,
    /// Whether no cut list of this spool length needs fewer spools.
    pub fewest_proven: bool,
}

impl CableNeed {
    /// Left on all spools together, metres.
    pub fn left_m(&self) -> f64 {
        self.spools.iter().map(|s| s.left_m).sum()
    }
}

/// Cable by type, in the order of the catalogue. Of the spool lengths a cable is sold in, the one that orders least
/// in all is taken, the longer one of two alike (fewer spools to carry).
///
/// # Errors
/// [`PapersError::CutList`] when a cable is longer than the longest spool.
pub fn cable_needs(job: &Job, cables: &[LaidCable]) -> Result<Vec<CableNeed>, PapersError> {
    let mut needs = Vec::new();
    for (id, cable) in &job.catalogue().cables {
        let own: Vec<&LaidCable> = cables.iter().filter(|c| c.cable == *id).collect();
        if own.is_empty() {
            continue;
        }
        let lengths: Vec<f64> = own.iter().map(|c| c.order_m).collect();
        let mut best: Option<(f64, f64, CutList)> = None;
        let mut failure = String::new();
        for &spool_m in &cable.spools_m {
            match cut_list(&lengths, spool_m, 0.0) {
                Ok(list) => {
                    let ordered = spool_m * list.spools() as f64;
                    let better = best.as_ref().is_none_or(|(ordered_before, spool_before, _)| {
                        ordered < ordered_before - 1e-9
                            || (ordered < ordered_before + 1e-9 && spool_m > *spool_before)
                    });
                    if better {
                        best = Some((ordered, spool_m, list));
                    }
                }
                Err(e) => failure = e.to_string(),
            }
        }
        let Some((_, spool_m, list)) = best else {
            return Err(PapersError::CutList { cable: id.clone(), reason: failure });
        };
        let spools = list.cuts.iter().map(|cuts| {
            let cuts: Vec<Cut> =
                cuts.iter().map(|&i| Cut { tag: own[i].tag.clone(), length_m: lengths[i] }).collect();
            let used: f64 = cuts.iter().map(|c| c.length_m).sum();
            SpoolCuts { cuts, left_m: (spool_m - used).max(0.0) }
        });
        needs.push(CableNeed {
            cable: id.clone(),
            cut_m: lengths.iter().sum(),
            spool_m,
            spools: spools.collect(),
            fewest_proven: list.fewest_proven,
        });
    }
    Ok(needs)
}
