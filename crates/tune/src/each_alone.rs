//! What every source alone gives in an area, and the scene with the plans as they stand.

use crate::error::TuningError;
use crate::fed::Fed;
use loamline_acoustics::{AreaShares, BAND_COUNT, Band, BandValues, Points, Scene, Source, db_from_energy};
use loamline_adapt::{Sound, table_of};
use loamline_limits::go_on;
use loamline_model::Job;
use loamline_model::document::{Area, Polarity};
use loamline_processing::{Chain, SampleRate};

/// One area as predicted with filters only: gains and delays at zero, every source alone.
pub(crate) struct EachAlone<'j> {
    pub id: &'j str,
    pub area: &'j Area,
    /// Place of its programme among the scene's.
    pub programme: usize,
    pub points: Points,
    /// Energy of every source alone at every point, far ones as their mean.
    pub alone: AreaShares,
}

impl EachAlone<'_> {
    /// The area's points.
    pub const fn points(&self) -> &Points {
        &self.points
    }

    /// Whether the area has no point that can be heard in.
    pub fn is_empty(&self) -> bool {
        self.points.is_empty()
    }

    /// Energy of a source at every point, weighed band by band, re (20 uPa)^2.
    pub fn weighed(&self, source: usize, weights: &BandValues) -> impl Iterator<Item = f64> {
        go_on();
        let far: f64 = self.alone.mean(source).iter().zip(weights).map(|(e, w)| e * w).sum();
        (0..self.points.len()).map(move |p| match self.alone.band_energies(p, source) {
            Some(row) => row.iter().zip(weights).map(|(e, w)| f64::from(*e) * w).sum::<f64>(),
            None => far,
        })
    }

    /// The same, mean over the points.
    pub fn mean(&self, source: usize, weights: &BandValues) -> f64 {
        self.weighed(source, weights).sum::<f64>() / self.points.len().max(1) as f64
    }
}

/// The scene with the plans as they stand set into its sources.
pub(crate) fn with_plans(job: &Job, sound: &Sound, fed: &[Fed<'_>]) -> Result<Scene, TuningError> {
    let mut scene = sound.scene.clone();
    for f in fed {
        let chain = &f.tuned.plan.chain;
        let filter =
            table_of(chain).map_err(|error| TuningError::Filters { channel: f.view.id.to_owned(), error })?;
        let link_s = job.document().link_delay_s(f.view.channel);
        for &s in &f.sources {
            let Some(old) = scene.source(s).cloned() else { continue };
            let turned = job.loudspeaker(&sound.sources[s]).is_some_and(|l| {
                (l.placed.polarity == Polarity::Reversed) != (chain.polarity == Polarity::Reversed)
            });
            let new = Source {
                gain_db: chain.gain_db,
                delay_s: chain.delay_s + link_s,
                reversed: turned,
                filter: filter.clone(),
                ..old
            };
            scene.set_source(s, new)?;
        }
    }
    Ok(scene)
}

/// Mean energy per band of a channel over an area's points, less the programme's spectrum, dB.
pub(crate) fn transfer_db(sound: &Sound, a: &EachAlone<'_>, sources: &[usize]) -> BandValues {
    let shares = sound.played.get(a.programme).map_or([1.0; BAND_COUNT], |p| *p.shares());
    let mut sums = [0.0; BAND_COUNT];
    for p in 0..a.points.len() {
        go_on();
        for s in sources {
            match a.alone.band_energies(p, *s) {
                Some(row) => sums.iter_mut().zip(row).for_each(|(sum, e)| *sum += f64::from(*e)),
                None => sums.iter_mut().zip(a.alone.mean(*s)).for_each(|(sum, e)| *sum += e),
            }
        }
    }
    let n = a.points.len().max(1) as f64;
    std::array::from_fn(|b| db_from_energy(sums[b] / (n * shares[b].max(1e-12))))
}

/// Gain of a chain's equaliser per band, dB.
pub(crate) fn equaliser_db(f: &Fed<'_>) -> BandValues {
    let only = Chain { equaliser: f.tuned.plan.chain.equaliser.clone(), ..Chain::default() };
    bands_of(&only)
}

pub(crate) fn bands_of(chain: &Chain) -> BandValues {
    let centres: Vec<f64> = Band::all().map(Band::centre_hz).collect();
    let gain = chain.gain_at_db(SampleRate::R48K, &centres).unwrap_or_default();
    std::array::from_fn(|b| gain.get(b).copied().unwrap_or(0.0))
}
