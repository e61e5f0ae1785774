//! How a channel as it is set weighs the bands.

use crate::each_alone::equaliser_db;
use crate::fed::Fed;
use loamline_acoustics::{BandValues, Weighting, energy_from_db};

/// Energy gain per band of a channel's equaliser and gain, A-weighted.
pub(crate) fn weights(f: &Fed<'_>) -> BandValues {
    let (weights, shape) = (Weighting::A.band_gains_db(), equaliser_db(f));
    let gain = f.tuned.plan.chain.gain_db;
    std::array::from_fn(|b| energy_from_db(weights[b] + shape[b] + gain))
}
