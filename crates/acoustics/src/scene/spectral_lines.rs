//! The frequencies at which the field is computed: band centres, and lines within each band.
//!
//! Within a band the programme has equal energy per fraction of an octave, so band energy is a mean weighted by one
//! over frequency. It is taken at lines evenly spaced in frequency, each for the middle of its share of the band: from
//! line to line the phase of a path then grows by the same angle, so that one multiply-add per line and part carries a
//! wave along the band. A beat that runs through m cycles in a band of n lines comes out (pi m/n)/sin(pi m/n) times too
//! large: 1.03 for m = n/8, 1.11 for n/4, 1.57 for n/2, where the beat's own mean is below 1/(pi m). Wide bands need
//! more lines: the lowest eight (20 to 100 Hz) get nine fewer than the others, and at least two fifths as many.

use crate::air::Air;
use crate::bands::{BAND_COUNT, Band};
use crate::directivity::TABLE_LANES;

/// Bands that get by with fewer lines; a whole number of vectors.
pub(crate) const NARROW_BANDS: usize = 8;

/// Frequencies and what belongs to them; lanes are bands, the last one is spare and silent.
#[derive(Debug, Clone)]
pub(crate) struct SpectralLines {
    /// Bands added as waves: the first so many.
    pub(crate) coherent: usize,
    /// Offset of each line from the band centre, in bands (-0.5 to 0.5).
    pub(crate) offset: Vec<[f32; TABLE_LANES]>,
    /// Share of the band's energy each line stands for; 0 where a band has fewer lines.
    pub(crate) weight: Vec<[f64; TABLE_LANES]>,
    /// Lines of the lowest [`NARROW_BANDS`].
    pub(crate) narrow_lines: usize,
    /// Waves per metre of the first line of each band, and from line to line.
    pub(crate) first_per_m: [f32; TABLE_LANES],
    pub(crate) step_per_m: [f32; TABLE_LANES],
    /// Hz of each line and band.
    pub(crate) hz: Vec<[f64; TABLE_LANES]>,
    /// Waves per metre at the middle of each band: at its centre where lines spread about it; above the transition at
    /// its mean frequency, for cross terms averaged in closed form.
    pub(crate) centre_per_m: [f32; TABLE_LANES],
    /// Lowest band centre, waves per metre.
    pub(crate) lowest_per_m: f32,
    /// Width of each band, waves per metre.
    pub(crate) width_per_m: [f32; TABLE_LANES],
    /// Air absorption of pressure, nepers per metre.
    pub(crate) absorption_np_per_m: [f32; TABLE_LANES],
    /// Speed of sound, m/s.
    pub(crate) c: f64,
}

impl SpectralLines {
    pub(crate) fn new(air: &Air, coherent_to_hz: f64, lines_per_band: usize) -> Self {
        let c = air.sound_speed_m_per_s();
        let narrow_lines = (2 * lines_per_band).div_ceil(5).max(lines_per_band.saturating_sub(9));
        let over = |f: &dyn Fn(Band) -> f64| -> [f64; TABLE_LANES] {
            // The spare lane repeats the last band, so that it stays finite; its drive is 0.
            std::array::from_fn(|i| Band::from_index(i.min(BAND_COUNT - 1)).map_or(0.0, f))
        };
        let narrow = |row: [f64; TABLE_LANES]| row.map(|v| v as f32);
        let centres = over(&Band::centre_hz);
        let (lower, upper) = (over(&Band::lower_hz), over(&Band::upper_hz));
        let count = |band: usize| if band < NARROW_BANDS { narrow_lines } else { lines_per_band };
        let step: [f64; TABLE_LANES] = std::array::from_fn(|b| (upper[b] - lower[b]) / count(b) as f64);
        // A line that a band does not have lies at its centre and weighs nothing.
        let line_hz = |line: usize, b: usize| {
            if line < count(b) { lower[b] + (line as f64 + 0.5) * step[b] } else { centres[b] }
        };
        let hz: Vec<[f64; TABLE_LANES]> =
            (0..lines_per_band).map(|l| std::array::from_fn(|b| line_hz(l, b))).collect();
        let whole: [f64; TABLE_LANES] =
            std::array::from_fn(|b| (0..count(b)).map(|l| line_hz(l, b).recip()).sum());
        let weight = (0..lines_per_band)
            .map(|l| {
                std::array::from_fn(|b| if l < count(b) { (line_hz(l, b) * whole[b]).recip() } else { 0.0 })
            })
            .collect();
        let coherent = Band::all().filter(|b| b.centre_hz() <= coherent_to_hz).count();
        // Mean frequency under equal energy per fraction of an octave.
        let mean_hz = over(&|b| (b.upper_hz() - b.lower_hz()) / (b.upper_hz() / b.lower_hz()).ln());
        let alpha = air.band_absorption_db_per_m();
        Self {
            coherent,
            first_per_m: narrow(std::array::from_fn(|b| line_hz(0, b) / c)),
            step_per_m: narrow(step.map(|hz| hz / c)),
            offset: hz
                .iter()
                .map(|row| narrow(std::array::from_fn(|b| 10.0 * (row[b] / centres[b]).log10())))
                .collect(),
            hz,
            weight,
            narrow_lines,
            lowest_per_m: (Band::all().next().map_or(20.0, Band::centre_hz) / c) as f32,
            centre_per_m: narrow(std::array::from_fn(|b| {
                if b < coherent { centres[b] / c } else { mean_hz[b] / c }
            })),
            width_per_m: narrow(over(&|b| (b.upper_hz() - b.lower_hz()) / c)),
            absorption_np_per_m: narrow(over(&|b| alpha[b.index()] * std::f64::consts::LN_10 / 20.0)),
            c,
        }
    }

    /// First band of a line: later lines skip the lowest bands.
    #[inline(always)]
    pub(crate) fn first_band(&self, line: usize) -> usize {
        if line < self.narrow_lines { 0 } else { NARROW_BANDS }
    }

    /// Lines of a vector of so many bands.
    #[inline(always)]
    pub(crate) fn in_vector(&self, vector: usize, lanes: usize) -> usize {
        if (vector + 1) * lanes <= NARROW_BANDS { self.narrow_lines } else { self.offset.len() }
    }

    /// Groups of eight bands that hold bands added as waves.
    #[inline(always)]
    pub(crate) fn eights(&self) -> usize {
        self.coherent.div_ceil(8)
    }

    /// Groups of eight bands kept per point and programme, each on one line.
    pub(crate) fn waves_per_point(&self) -> usize {
        (0..self.eights()).map(|e| self.in_vector(e, 8)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_tile_their_band_and_weigh_by_one_over_frequency() {
        let lines = SpectralLines::new(&Air::default(), 400.0, 16);
        assert_eq!(lines.narrow_lines, 7);
        for band in Band::all() {
            let b = band.index();
            let used: Vec<usize> = (0..16).filter(|l| lines.weight[*l][b] > 0.0).collect();
            assert_eq!(used.len(), if b < NARROW_BANDS { 7 } else { 16 });
            let sum: f64 = used.iter().map(|l| lines.weight[*l][b]).sum();
            assert!((sum - 1.0).abs() < 1e-12);
            // The mean of frequency under equal energy per fraction of an octave, in closed form.
            let mean: f64 = used.iter().map(|l| lines.weight[*l][b] * lines.hz[*l][b]).sum();
            let exact = (band.upper_hz() - band.lower_hz()) / (band.upper_hz() / band.lower_hz()).ln();
            assert!((mean / exact - 1.0).abs() < 1e-4, "{}", band.label());
            for l in &used {
                let by_steps = f64::from(lines.first_per_m[b] + *l as f32 * lines.step_per_m[b]) * lines.c;
                assert!((by_steps / lines.hz[*l][b] - 1.0).abs() < 1e-6);
                let by_offset = band.centre_hz() * 10f64.powf(f64::from(lines.offset[*l][b]) / 10.0);
                assert!((by_offset / lines.hz[*l][b] - 1.0).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn bands_up_to_the_transition_are_coherent() {
        let at = |hz| SpectralLines::new(&Air::default(), hz, 4).coherent;
        assert_eq!((at(400.0), at(390.0), at(25_000.0), at(20.0)), (14, 13, 31, 1));
    }
}
