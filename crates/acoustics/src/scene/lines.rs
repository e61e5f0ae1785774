//! The frequencies at which the field is computed: band centres, and lines within each band.
//!
//! Within a band the programme has equal energy per fraction of an octave, so band energy is the mean over the
//! logarithm of frequency. It is taken at Gauss-Legendre points, which average a beat between two paths exactly as
//! long as the beat runs through fewer cycles in the band than there are lines. Wide bands need more of them: the
//! lowest eight (20 to 100 Hz) get two fifths of the lines the others get.

use crate::air::Air;
use crate::bands::{BAND_COUNT, Band};
use crate::directivity::TABLE_LANES;
use std::ops::Range;

/// Bands that get by with fewer lines; a whole number of vectors.
pub(crate) const NARROW_BANDS: usize = 8;

/// Numbers in the vectors that waves are kept in.
const LANES: usize = 8;

/// Frequencies and what belongs to them; lanes are bands, the last one is spare and silent.
#[derive(Debug, Clone)]
pub(crate) struct Lines {
    /// Bands added as waves: the first so many.
    pub(crate) coherent: usize,
    /// Offset of each line from the band centre, in bands (-0.5 to 0.5).
    pub(crate) offset: Vec<[f32; TABLE_LANES]>,
    /// Share of the band's energy each line stands for; 0 where a band has fewer lines.
    pub(crate) weight: Vec<[f64; TABLE_LANES]>,
    /// Lines of the lowest [`NARROW_BANDS`].
    pub(crate) narrow_lines: usize,
    /// Waves per metre of each line and band.
    pub(crate) per_m: Vec<[f32; TABLE_LANES]>,
    /// Hz of each line and band.
    pub(crate) hz: Vec<[f64; TABLE_LANES]>,
    /// Waves per metre at the middle of each band.
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

impl Lines {
    pub(crate) fn new(air: &Air, coherent_to_hz: f64, lines_per_band: usize) -> Self {
        let c = air.sound_speed_m_per_s();
        let narrow_lines = (2 * lines_per_band).div_ceil(5);
        let (few, many) = (gauss_legendre(narrow_lines), gauss_legendre(lines_per_band));
        // Line by line, band by band; a line a band does not have lies at its centre and weighs nothing.
        let node = |line: usize, band: usize| {
            let (nodes, weights) = if band < NARROW_BANDS { &few } else { &many };
            nodes.get(line).map_or((0.0, 0.0), |x| (0.5 * x, 0.5 * weights[line]))
        };
        let rows = |part: &dyn Fn((f64, f64)) -> f64| -> Vec<[f64; TABLE_LANES]> {
            (0..lines_per_band).map(|l| std::array::from_fn(|b| part(node(l, b)))).collect()
        };
        let (offset, weight) = (rows(&|n| n.0), rows(&|n| n.1));
        let over = |f: &dyn Fn(Band) -> f64| -> [f64; TABLE_LANES] {
            // The spare lane repeats the last band, so that it stays finite; its drive is 0.
            std::array::from_fn(|i| Band::from_index(i.min(BAND_COUNT - 1)).map_or(0.0, f))
        };
        let narrow = |row: [f64; TABLE_LANES]| row.map(|v| v as f32);
        let centres = over(&Band::centre_hz);
        let hz: Vec<[f64; TABLE_LANES]> = offset
            .iter()
            .map(|row| std::array::from_fn(|b| centres[b] * 10f64.powf(row[b] / 10.0)))
            .collect();
        let alpha = air.band_absorption_db_per_m();
        Self {
            coherent: Band::all().filter(|b| b.centre_hz() <= coherent_to_hz).count(),
            per_m: hz.iter().map(|row| narrow(row.map(|f| f / c))).collect(),
            hz,
            offset: offset.into_iter().map(narrow).collect(),
            weight,
            narrow_lines,
            lowest_per_m: (Band::all().next().map_or(20.0, Band::centre_hz) / c) as f32,
            // Mean frequency under equal energy per fraction of an octave.
            centre_per_m: narrow(over(&|b| {
                (b.upper_hz() - b.lower_hz()) / (b.upper_hz() / b.lower_hz()).ln() / c
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

    /// Bands of a line that waves are kept for: those that have it, rounded up to whole vectors.
    #[inline(always)]
    pub(crate) fn kept_bands(&self, line: usize) -> Range<usize> {
        let first = self.first_band(line);
        first..self.coherent.next_multiple_of(LANES).clamp(first, TABLE_LANES)
    }

    /// Values kept per point and programme: per line, real parts then imaginary parts of its bands.
    pub(crate) fn kept_values(&self) -> usize {
        (0..self.offset.len()).map(|l| 2 * self.kept_bands(l).len()).sum()
    }
}

/// Points (ascending, -1 to 1) and weights (sum 2) of Gauss-Legendre quadrature, by Newton's method on the Legendre
/// polynomial (Abramowitz and Stegun 25.4.29).
pub(crate) fn gauss_legendre(n: usize) -> (Vec<f64>, Vec<f64>) {
    let mut nodes = vec![0.0; n];
    let mut weights = vec![2.0; n];
    for i in 0..n {
        let mut x = -(std::f64::consts::PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cos();
        let mut slope = 1.0;
        for _ in 0..50 {
            let (mut p, mut before) = (1.0, 0.0);
            for k in 0..n {
                let k = k as f64;
                (p, before) = (((2.0 * k + 1.0) * x * p - k * before) / (k + 1.0), p);
            }
            slope = n as f64 * (x * p - before) / (x * x - 1.0);
            let step = p / slope;
            x -= step;
            if step.abs() < 1e-15 {
                break;
            }
        }
        nodes[i] = x;
        weights[i] = 2.0 / ((1.0 - x * x) * slope * slope);
    }
    (nodes, weights)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quadrature_points_are_those_of_the_handbook() {
        // Abramowitz and Stegun table 25.4, n = 5.
        let (x, w) = gauss_legendre(5);
        assert!((x[4] - 0.906_179_845_938_664).abs() < 1e-14 && x[2].abs() < 1e-15);
        assert!((w[4] - 0.236_926_885_056_189).abs() < 1e-14);
        assert!((w[2] - 0.568_888_888_888_889).abs() < 1e-14);
        for n in 1..=64 {
            let (x, w) = gauss_legendre(n);
            assert!((w.iter().sum::<f64>() - 2.0).abs() < 1e-12, "{n}");
            assert!(x.windows(2).all(|p| p[0] < p[1]), "{n}");
        }
    }

    #[test]
    fn bands_up_to_the_transition_are_coherent() {
        let at = |hz| Lines::new(&Air::default(), hz, 4).coherent;
        assert_eq!((at(400.0), at(390.0), at(25_000.0), at(20.0)), (14, 13, 31, 1));
    }
}
