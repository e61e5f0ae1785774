//! The frequencies at which the field is computed: band centres, and lines within each band.
//!
//! Within a band the programme has equal energy per fraction of an octave, so band energy is the mean over the
//! logarithm of frequency. It is taken at Gauss-Legendre points, which average a beat between two paths exactly as
//! long as the beat runs through fewer cycles in the band than there are lines.

use crate::air::Air;
use crate::bands::{BAND_COUNT, Band};
use crate::directivity::TABLE_LANES;

/// Frequencies and what belongs to them; lanes are bands, the last one is spare and silent.
#[derive(Debug, Clone)]
pub(crate) struct Lines {
    /// Bands added as waves: the first so many.
    pub(crate) coherent: usize,
    /// Offset of each line from the band centre, in bands (-0.5 to 0.5).
    pub(crate) offset: Vec<f64>,
    /// Share of the band's energy each line stands for.
    pub(crate) weight: Vec<f64>,
    /// Waves per metre of each line and band.
    pub(crate) per_m: Vec<[f32; TABLE_LANES]>,
    /// Hz of each line and band.
    pub(crate) hz: Vec<[f64; TABLE_LANES]>,
    /// Waves per metre at the middle of each band.
    pub(crate) centre_per_m: [f32; TABLE_LANES],
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
        let (node, weight) = gauss_legendre(lines_per_band);
        let offset: Vec<f64> = node.iter().map(|x| 0.5 * x).collect();
        let weight: Vec<f64> = weight.iter().map(|w| 0.5 * w).collect();
        let over = |f: &dyn Fn(Band) -> f64| -> [f64; TABLE_LANES] {
            // The spare lane repeats the last band, so that it stays finite; its drive is 0.
            std::array::from_fn(|i| Band::from_index(i.min(BAND_COUNT - 1)).map_or(0.0, f))
        };
        let narrow = |row: [f64; TABLE_LANES]| row.map(|v| v as f32);
        let hz: Vec<[f64; TABLE_LANES]> =
            offset.iter().map(|o| over(&|b| b.centre_hz() * 10f64.powf(o / 10.0))).collect();
        let alpha = air.band_absorption_db_per_m();
        Self {
            coherent: Band::all().filter(|b| b.centre_hz() <= coherent_to_hz).count(),
            per_m: hz.iter().map(|row| narrow(row.map(|f| f / c))).collect(),
            hz,
            offset,
            weight,
            // Mean frequency under equal energy per fraction of an octave.
            centre_per_m: narrow(over(&|b| {
                (b.upper_hz() - b.lower_hz()) / (b.upper_hz() / b.lower_hz()).ln() / c
            })),
            width_per_m: narrow(over(&|b| (b.upper_hz() - b.lower_hz()) / c)),
            absorption_np_per_m: narrow(over(&|b| alpha[b.index()] * std::f64::consts::LN_10 / 20.0)),
            c,
        }
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
