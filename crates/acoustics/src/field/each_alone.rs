//! Each loudspeaker on its own: the matrix of energies a proposal is made from, and the waves of the bass.

use super::bundle::Tables;
use super::compute::for_each_patch;
use super::detour::Scratch;
use super::ops::Row;
use super::over_patch::{One, PointResponse};
use super::paths::{Nearby, Patch, first_m};
use super::points::Points;
use crate::areas::Arrival;
use crate::bands::{Band, BandValues};
use crate::bass::{BassError, BassField};
use crate::directivity::TABLE_LANES;
use crate::level::{db_from_energy, energy_from_db};
use crate::scene::{Scene, SceneErrors, Settings};
use crate::weighting::Weighting;
use loamline_limits::{CALCULATION_BYTES, Exceeded, go_on, lent};
use loamline_terms::BASS;
use num_complex::{Complex32, Complex64};
use pulp::Arch;
use rayon::prelude::*;

/// Band energies of every loudspeaker alone at every point, re (20 uPa)^2. Energies are linear in tap power.
#[derive(Debug, Clone)]
pub struct EnergyMatrix {
    slot: Vec<usize>,
    sources: usize,
    rows: Vec<Row>,
}

/// Computes every loudspeaker alone at all points: the paths of one loudspeaker add as in the field, loudspeakers do
/// not add. Memory: 128 bytes per point and loudspeaker.
///
/// # Errors
/// [`Exceeded`] when that is more than one calculation may take; nothing has been asked for then.
pub fn energy_matrix(scene: &Scene, points: &Points) -> Result<EnergyMatrix, Exceeded> {
    energy_matrix_of(scene, points, &(0..scene.placed.len()).collect::<Vec<_>>())
}

/// As [`energy_matrix`], of some loudspeakers, which the matrix then has by their places in the list.
pub(super) fn energy_matrix_of(
    scene: &Scene,
    points: &Points,
    which: &[usize],
) -> Result<EnergyMatrix, Exceeded> {
    let sources = which.len();
    CALCULATION_BYTES
        .check(points.receivers.len().saturating_mul(sources).saturating_mul(size_of::<Row>()))?;
    let mut rows = vec![[0.0; TABLE_LANES]; points.receivers.len() * sources];
    let tables = Tables::new(scene);
    for_each_patch(scene, points, &mut rows, |work, patch, rows| {
        let (range, patch) = &points.patches[patch];
        let receivers = &points.receivers[range.clone()];
        for (s, source) in which.iter().map(|&i| &scene.placed[i]).enumerate() {
            go_on();
            work.nearby.gather(&scene.world, source, patch);
            let each =
                |i: usize, heard: PointResponse| rows[i * sources + s] = heard.alone(&scene.lines, source);
            Arch::new().dispatch(One { scene, tables: &tables, source, receivers, work, each });
        }
    });
    Ok(EnergyMatrix { slot: (0..points.len()).map(|i| points.slot(i)).collect(), sources, rows })
}

impl EnergyMatrix {
    /// How many points.
    pub fn points(&self) -> usize {
        self.slot.len()
    }

    /// How many loudspeakers.
    pub fn sources(&self) -> usize {
        self.sources
    }

    /// Energy per band of one loudspeaker at one point; the 32nd value is 0.
    ///
    /// # Panics
    /// Past the last point or loudspeaker.
    pub fn band_energies(&self, point: usize, source: usize) -> &[f32; TABLE_LANES] {
        assert!(source < self.sources, "loudspeaker {source} of {}", self.sources);
        &self.rows[self.slot[point] * self.sources + source]
    }
}

/// First arrivals at every point, one per loudspeaker in their order: when the shortest way brings its sound, and how
/// loud it is there alone, dBA. For the echo check ([`crate::area_arrivals`]) of one programme.
///
/// # Errors
/// As [`energy_matrix`].
pub fn arrivals(scene: &Scene, points: &Points) -> Result<Vec<Vec<Arrival>>, Exceeded> {
    Ok(arrivals_of(scene, points, &energy_matrix(scene, points)?))
}

/// As [`arrivals`], where the energies of every loudspeaker alone are at hand: saves computing them, which is nearly
/// all of the time.
///
/// # Panics
/// Where the energies are those of fewer points or loudspeakers.
pub fn arrivals_of(scene: &Scene, points: &Points, matrix: &EnergyMatrix) -> Vec<Vec<Arrival>> {
    let all: Vec<(usize, usize)> = (0..scene.placed.len()).map(|source| (source, source)).collect();
    arrivals_from(scene, points, matrix, &all)
}

/// As [`arrivals_of`], of some loudspeakers: each by its place in the matrix and in the scene.
pub(super) fn arrivals_from(
    scene: &Scene,
    points: &Points,
    matrix: &EnergyMatrix,
    which: &[(usize, usize)],
) -> Vec<Vec<Arrival>> {
    let gains = Weighting::A.band_gains_db().map(energy_from_db);
    let each = |point: usize, (column, source): (usize, usize)| {
        go_on();
        let placed = &scene.placed[source];
        let receiver = &points.receivers[points.slot(point)];
        let mut nearby = Nearby::default();
        nearby.gather_screens(&scene.world, placed, &Patch::around(&[*receiver]));
        let row = matrix.band_energies(point, column);
        let energy: f64 = row.iter().zip(&gains).map(|(e, g)| f64::from(*e) * g).sum();
        let length_m = first_m(&scene.world, placed, &nearby, receiver, &mut Scratch::default());
        Arrival { time_s: placed.source.delay_s + length_m / scene.lines.c, level_db: db_from_energy(energy) }
    };
    let leave = lent();
    let at = |point: usize| which.iter().map(|one| each(point, *one)).collect();
    (0..points.len()).into_par_iter().map(|point| leave.lend(|| at(point))).collect()
}

/// Lines per band of the bass view (25 to 100 Hz; twice and a half as many above).
const BASS_LINES: usize = 10;

/// One frequency of the bass view.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BassLine {
    /// The band it belongs to.
    pub band: Band,
    /// Frequency, Hz.
    pub hz: f64,
    /// Its share of the band's energy; contained in the pressures already.
    pub weight: f64,
}

/// Complex pressure of each loudspeaker at each point on lines from 25 Hz to 160 Hz, re 20 uPa, time factor
/// exp(-i w t). Squared sizes of the lines of a band add up to its energy.
#[derive(Debug, Clone)]
pub struct Waves {
    lines: Vec<BassLine>,
    points: usize,
    /// [source][point][line]
    pressure: Vec<Complex32>,
    sources: usize,
}

/// Why there are no waves.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WavesError {
    /// The scene cannot be computed with the settings of the bass view.
    #[error(transparent)]
    Scene(#[from] SceneErrors),
    /// It would take more memory than one calculation may.
    #[error(transparent)]
    TooLarge(#[from] Exceeded),
}

/// Bytes of a pressure here, as it is handed on, and in the field that is searched.
const BYTES_PER_LINE: usize = size_of::<Complex32>() + 2 * size_of::<Complex64>();

/// The bass of every loudspeaker of a scene at all points.
///
/// # Errors
/// [`WavesError::TooLarge`] when this and the field made of it would take more memory than one calculation may; nothing
/// has been asked for then.
pub fn waves(scene: &Scene, points: &Points) -> Result<Waves, WavesError> {
    let settings = Settings { coherent_to_hz: 170.0, lines_per_band: BASS_LINES, ..scene.settings };
    let scene = &scene.with_settings(settings)?;
    let mut lines = Vec::new();
    let mut places = Vec::new();
    for band in BASS.bands().filter_map(Band::from_index) {
        for l in (0..BASS_LINES).filter(|l| scene.lines.first_band(*l) <= band.index()) {
            let b = band.index();
            places.push((l, b));
            lines.push(BassLine { band, hz: scene.lines.hz[l][b], weight: scene.lines.weight[l][b] });
        }
    }
    let sources = scene.placed.len();
    let count = lines.len();
    let bytes = [points.receivers.len(), sources, count, BYTES_PER_LINE];
    CALCULATION_BYTES.check(bytes.into_iter().fold(1, usize::saturating_mul))?;
    let tables = Tables::new(scene);
    let mut sorted = vec![Complex32::ZERO; points.receivers.len() * sources * count];
    for_each_patch(scene, points, &mut sorted, |work, patch, rows| {
        let (range, patch) = &points.patches[patch];
        let receivers = &points.receivers[range.clone()];
        for (s, source) in scene.placed.iter().enumerate() {
            go_on();
            work.nearby.gather(&scene.world, source, patch);
            let each = |i: usize, heard: PointResponse| {
                let into = &mut rows[(i * sources + s) * count..(i * sources + s + 1) * count];
                for (p, &(l, b)) in into.iter_mut().zip(&places) {
                    let drive = Complex32::new(source.drive_re[l][b], source.drive_im[l][b]);
                    *p = drive * Complex32::new(heard.re[l][b], heard.im[l][b]);
                }
            };
            Arch::new().dispatch(One { scene, tables: &tables, source, receivers, work, each });
        }
    });
    let mut pressure = Vec::with_capacity(sorted.len());
    for s in 0..sources {
        for i in 0..points.len() {
            let at = (points.slot(i) * sources + s) * count;
            pressure.extend_from_slice(&sorted[at..at + count]);
        }
    }
    Ok(Waves { lines, points: points.len(), pressure, sources })
}

impl Waves {
    /// Frequencies, lowest band first.
    pub fn lines(&self) -> &[BassLine] {
        &self.lines
    }

    /// How many points.
    pub fn points(&self) -> usize {
        self.points
    }

    /// How many loudspeakers.
    pub fn sources(&self) -> usize {
        self.sources
    }

    /// Pressure of one loudspeaker at one point, per line.
    ///
    /// # Panics
    /// Past the last loudspeaker or point.
    pub fn pressure(&self, source: usize, point: usize) -> &[Complex32] {
        let n = self.lines.len();
        let at = (source * self.points + point) * n;
        &self.pressure[at..at + n]
    }

    /// The same as the field that the subwoofer search works on; the loudspeakers are its candidates.
    ///
    /// # Errors
    /// [`BassError`] when there are no points or no loudspeakers.
    pub fn bass_field(&self) -> Result<BassField, BassError> {
        let hz: Vec<f64> = self.lines.iter().map(|l| l.hz).collect();
        // There, lines of a band are averaged; here they add.
        let in_band = |line: &BassLine| self.lines.iter().filter(|l| l.band == line.band).count() as f64;
        let scale: Vec<f64> = self.lines.iter().map(|l| 20e-6 * in_band(l).sqrt()).collect();
        let mut pressures = Vec::with_capacity(self.pressure.len());
        for point in 0..self.points {
            for source in 0..self.sources {
                let row = self.pressure(source, point).iter().zip(&scale);
                pressures.extend(row.map(|(p, s)| Complex64::new(f64::from(p.re), f64::from(p.im)) * s));
            }
        }
        BassField::new(self.points, self.sources, &hz, &pressures)
    }

    /// Levels of the bass bands at a point with a subset of the loudspeakers playing one signal, dB; bands outside 25
    /// to 160 Hz are [`crate::SILENCE_DB`].
    ///
    /// # Panics
    /// Past the last loudspeaker or point.
    pub fn band_levels_db(&self, subset: &[usize], point: usize) -> BandValues {
        let mut energy = [0.0; crate::bands::BAND_COUNT];
        for (i, line) in self.lines.iter().enumerate() {
            let sum: Complex32 = subset.iter().map(|s| self.pressure(*s, point)[i]).sum();
            energy[line.band.index()] += f64::from(sum.norm_sqr());
        }
        energy.map(db_from_energy)
    }
}
