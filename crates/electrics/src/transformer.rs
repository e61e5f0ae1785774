//! The circuit of a line transformer.
//!
//! From the line to the loudspeaker: the primary's copper and the leakage inductance in series, core loss resistance and
//! magnetising inductance in parallel across an ideal transformer of ratio primary : secondary, the secondary's copper in
//! series. It is that of two coupled coils L1, L2 with coupling k seen from the primary: leakage L1 (1 - k^2), magnetising
//! inductance k^2 L1, ratio k sqrt(L1/L2) (any textbook of circuits; all of the leakage stands on one side, which changes
//! nothing at the terminals). A steady current sees the primary's copper alone.
//! Left out: saturation and the level dependence of the core, capacitance of the windings, copper that grows with frequency.
//! Checked against: ngspice with coupled coils (K elements) in `checks/test_transformer.py`.

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use crate::error::InputError;

/// The circuit of one transformer at one tap.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Transformer {
    /// Turns ratio primary : secondary, above zero.
    pub turns_ratio: f64,
    /// Resistance of the primary's copper in ohm, zero or more.
    #[serde(default)]
    pub primary_resistance_ohm: f64,
    /// Resistance of the secondary's copper in ohm, zero or more.
    #[serde(default)]
    pub secondary_resistance_ohm: f64,
    /// Leakage inductance of both windings seen from the primary in H, zero or more.
    #[serde(default)]
    pub leakage_inductance_h: f64,
    /// Core loss as a resistance across the primary in ohm, above zero; absent means none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub core_loss_ohm: Option<f64>,
    /// Magnetising inductance across the primary in H, above zero; absent means without limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub magnetising_inductance_h: Option<f64>,
}

impl Transformer {
    /// A lossless one.
    #[must_use]
    pub fn ideal(turns_ratio: f64) -> Self {
        Self {
            turns_ratio,
            primary_resistance_ohm: 0.0,
            secondary_resistance_ohm: 0.0,
            leakage_inductance_h: 0.0,
            core_loss_ohm: None,
            magnetising_inductance_h: None,
        }
    }

    /// Checks every value; `place` names the transformer in the error.
    ///
    /// # Errors
    /// The first value outside its range.
    pub fn check(&self, place: &str) -> Result<(), InputError> {
        InputError::check_positive(place, "turns ratio", "", self.turns_ratio)?;
        InputError::check_not_negative(place, "primary resistance", "ohm", self.primary_resistance_ohm)?;
        InputError::check_not_negative(place, "secondary resistance", "ohm", self.secondary_resistance_ohm)?;
        InputError::check_not_negative(place, "leakage inductance", "H", self.leakage_inductance_h)?;
        if let Some(value) = self.core_loss_ohm {
            InputError::check_positive(place, "core loss resistance", "ohm", value)?;
        }
        match self.magnetising_inductance_h {
            Some(value) => InputError::check_positive(place, "magnetising inductance", "H", value),
            None => Ok(()),
        }
    }

    /// Impedance at the primary in ohm, and loudspeaker voltage over primary voltage, with `secondary_ohm` connected.
    /// At DC only the primary's copper is left and nothing reaches the loudspeaker.
    #[must_use]
    pub fn primary(&self, secondary_ohm: Complex64, frequency_hz: f64) -> (Complex64, Complex64) {
        if frequency_hz <= 0.0 {
            return (Complex64::from(self.primary_resistance_ohm), Complex64::default());
        }
        let omega = std::f64::consts::TAU * frequency_hz;
        let magnetising_s = self.magnetising_inductance_h.map_or(0.0, |l| (omega * l).recip());
        let series_ohm = Complex64::new(self.primary_resistance_ohm, omega * self.leakage_inductance_h);
        self.seen(secondary_ohm, series_ohm, magnetising_s)
    }

    /// Impedance in ohm at the primary in the middle of the band, where both inductances are out of the way.
    #[must_use]
    pub fn mid_band_ohm(&self, secondary_ohm: f64) -> f64 {
        self.seen(Complex64::from(secondary_ohm), Complex64::from(self.primary_resistance_ohm), 0.0).0.re
    }

    fn seen(
        &self,
        secondary_ohm: Complex64,
        series_ohm: Complex64,
        magnetising_s: f64,
    ) -> (Complex64, Complex64) {
        let behind = secondary_ohm + self.secondary_resistance_ohm;
        let reflected = self.turns_ratio * self.turns_ratio * behind;
        let core_s = Complex64::new(self.core_loss_ohm.map_or(0.0, f64::recip), -magnetising_s);
        let core = reflected / (1.0 + reflected * core_s);
        let total = core + series_ohm;
        if total.norm_sqr() > 0.0 && behind.norm_sqr() > 0.0 {
            (total, core / total * (secondary_ohm / behind) / self.turns_ratio)
        } else {
            (total, Complex64::default())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SAMPLE: Transformer = Transformer {
        turns_ratio: 6.0,
        primary_resistance_ohm: 20.0,
        secondary_resistance_ohm: 0.5,
        leakage_inductance_h: 1e-3,
        core_loss_ohm: Some(9000.0),
        magnetising_inductance_h: Some(3.0),
    };

    /// The same two coils by their own equations, V1 = jw L1 I1 + jw M I2, V2 = jw M I1 + jw L2 I2, the core loss across
    /// the secondary's coil: solved as a pair of equations, with no equivalent circuit.
    #[test]
    fn it_is_two_coupled_coils() {
        let t = SAMPLE;
        // Any L1 and k with these two: k^2 L1 = magnetising, L1 - k^2 L1 = leakage.
        let l1 = t.leakage_inductance_h + t.magnetising_inductance_h.unwrap_or(0.0);
        let k = (t.magnetising_inductance_h.unwrap_or(0.0) / l1).sqrt();
        let l2 = l1 * (k / t.turns_ratio).powi(2);
        let m = k * (l1 * l2).sqrt();
        for f in [20.0, 60.0, 1000.0, 20_000.0] {
            let load = Complex64::new(7.0, f / 4000.0);
            let jw = Complex64::new(0.0, std::f64::consts::TAU * f);
            let across = load + t.secondary_resistance_ohm;
            let core = 9000.0 / 36.0;
            let both = across * core / (across + core);
            // I2 flows into the second coil: V2 = -both I2, so I2 = -jw M I1 / (jw L2 + both).
            let i2 = -jw * m / (jw * l2 + both);
            let z = t.primary_resistance_ohm + jw * l1 + jw * m * i2;
            let v = -both * i2 * load / across / z;
            let (ours, ratio) = t.primary(load, f);
            assert!((ours / z - 1.0).norm() < 1e-9, "{f} Hz: {ours} against {z}");
            assert!((ratio / v - 1.0).norm() < 1e-9, "{f} Hz: {ratio} against {v}");
        }
    }

    #[test]
    fn a_steady_current_sees_the_primarys_copper_alone() {
        let (z, ratio) = SAMPLE.primary(Complex64::from(8.0), 0.0);
        assert_eq!((z, ratio.norm()), (Complex64::from(20.0), 0.0));
        let lossless = Transformer::ideal(6.0);
        assert_eq!(lossless.primary(Complex64::from(8.0), 0.0).0.norm(), 0.0);
        assert!((lossless.primary(Complex64::from(8.0), 50.0).0 - 288.0).norm() < 1e-9);
    }

    #[test]
    fn a_shorted_secondary_leaves_its_copper() {
        let (z, ratio) = SAMPLE.primary(Complex64::from(0.0), 1000.0);
        // 20 + 36 * 0.5 in parallel with the core's 9000, and the leakage's 6.28 ohm across it.
        assert!((z.re - (20.0 + 18.0 / (1.0 + 18.0 / 9000.0))).abs() < 0.01, "{z}");
        assert_eq!(ratio.norm(), 0.0);
    }
}
