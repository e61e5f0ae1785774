//! Line transformers of constant-voltage loudspeakers.
//!
//! Circuit, everything on the primary side: the winding resistance in series, then the magnetising inductance across an
//! ideal transformer of ratio primary : secondary. Leakage inductance and core loss are left out (both belong to
//! the top octave and the last tenth of a decibel; a measured table can carry them).
//! A tap is named by the power it takes from the line at the rated voltage: Z = V^2/P. Of that power the insertion loss
//! stays in the winding, so for a loudspeaker of nominal impedance Zn the winding resistance is Z (1 - 10^(-IL/10)) and
//! the ratio sqrt(Z 10^(-IL/10) / Zn).
//! Flux is proportional to V/f: below its rated low frequency the voltage a transformer takes falls in proportion.
//! Checked against: V^2/P, halving when taps double, and ngspice with the same circuit.

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use crate::error::InputError;

/// The circuit of one transformer at one tap.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Transformer {
    /// Turns ratio primary : secondary, above zero.
    pub turns_ratio: f64,
    /// Resistance of both windings seen from the primary in ohm, zero or more.
    #[serde(default)]
    pub winding_resistance_ohm: f64,
    /// Magnetising inductance across the primary in H, above zero; absent means without limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub magnetising_inductance_h: Option<f64>,
}

impl Transformer {
    /// Checks every value; `place` names the transformer in the error.
    ///
    /// # Errors
    /// The first value outside its range.
    pub fn check(&self, place: &str) -> Result<(), InputError> {
        InputError::check_positive(place, "turns ratio", "", self.turns_ratio)?;
        InputError::check_not_negative(place, "winding resistance", "ohm", self.winding_resistance_ohm)?;
        match self.magnetising_inductance_h {
            Some(value) => InputError::check_positive(place, "magnetising inductance", "H", value),
            None => Ok(()),
        }
    }

    /// Impedance at the primary in ohm, and loudspeaker voltage over primary voltage, with `secondary_ohm` connected.
    /// At DC only the winding resistance is left and nothing reaches the loudspeaker.
    #[must_use]
    pub fn primary(&self, secondary_ohm: Complex64, frequency_hz: f64) -> (Complex64, Complex64) {
        let reflected = self.turns_ratio * self.turns_ratio * secondary_ohm;
        let core = match self.magnetising_inductance_h {
            _ if frequency_hz <= 0.0 => Complex64::new(0.0, 0.0),
            Some(inductance) => {
                let reactance = Complex64::new(0.0, std::f64::consts::TAU * frequency_hz * inductance);
                reflected * reactance / (reflected + reactance)
            }
            None => reflected,
        };
        let total = core + self.winding_resistance_ohm;
        if total.norm_sqr() > 0.0 {
            (total, core / total / self.turns_ratio)
        } else {
            (total, Complex64::new(0.0, 0.0))
        }
    }
}

/// A transformer as sold: its taps on one line voltage and its limits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TappedTransformer {
    /// Rated line voltage in V RMS (25, 70.7, 100).
    pub rated_v: f64,
    /// Taps in W taken from the line at the rated voltage, any order.
    pub taps_w: Vec<f64>,
    /// Insertion loss in dB, 0..=10.
    pub insertion_loss_db: f64,
    /// Lowest frequency in Hz at which it takes its rated voltage.
    pub rated_low_hz: f64,
    /// Magnetising inductance in H at the largest tap; absent: see [`typical_magnetising_inductance_h`].
    pub magnetising_inductance_h: Option<f64>,
    /// Nominal impedance of the loudspeaker on the secondary in ohm.
    pub loudspeaker_nominal_ohm: f64,
}

impl TappedTransformer {
    /// Checks every value; `place` names the transformer in the error.
    ///
    /// # Errors
    /// The first value outside its range, or no taps.
    pub fn check(&self, place: &str) -> Result<(), InputError> {
        InputError::check_positive(place, "rated line voltage", "V", self.rated_v)?;
        InputError::check_range(place, "insertion loss", "dB", self.insertion_loss_db, 0.0, 10.0)?;
        InputError::check_positive(place, "rated low frequency", "Hz", self.rated_low_hz)?;
        InputError::check_positive(
            place,
            "loudspeaker nominal impedance",
            "ohm",
            self.loudspeaker_nominal_ohm,
        )?;
        if let Some(value) = self.magnetising_inductance_h {
            InputError::check_positive(place, "magnetising inductance", "H", value)?;
        }
        if self.taps_w.is_empty() {
            return Err(InputError::Empty { place: place.to_owned(), quantity: "list of taps" });
        }
        self.taps_w.iter().try_for_each(|&tap| InputError::check_positive(place, "tap", "W", tap))
    }

    /// True when `tap_w` is one of the taps (to a thousandth).
    #[must_use]
    pub fn offers(&self, tap_w: f64) -> bool {
        self.taps_w.iter().any(|tap| (tap / tap_w - 1.0).abs() < 1e-3)
    }

    /// Impedance of a tap at nominal load in ohm: V^2/P.
    #[must_use]
    pub fn tap_impedance_ohm(&self, tap_w: f64) -> f64 {
        tap_impedance_ohm(self.rated_v, tap_w)
    }

    /// The circuit at `tap_w`, which need not be one of the taps (a transformer set wrongly is solved too).
    #[must_use]
    pub fn at_tap(&self, tap_w: f64) -> Transformer {
        let impedance = self.tap_impedance_ohm(tap_w);
        let passed = 10f64.powf(-self.insertion_loss_db / 10.0);
        let largest = self.taps_w.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
        let at_largest = self
            .magnetising_inductance_h
            .unwrap_or_else(|| typical_magnetising_inductance_h(self.rated_v, largest, self.rated_low_hz));
        Transformer {
            turns_ratio: (impedance * passed / self.loudspeaker_nominal_ohm).sqrt(),
            winding_resistance_ohm: impedance * (1.0 - passed),
            // Turns squared: the tap impedance is proportional to them.
            magnetising_inductance_h: Some(at_largest * largest / tap_w),
        }
    }

    /// Greatest voltage in V RMS it takes at `frequency_hz` without saturating.
    #[must_use]
    pub fn greatest_voltage_v(&self, frequency_hz: f64) -> f64 {
        saturation_voltage_v(self.rated_v, self.rated_low_hz, frequency_hz)
    }
}

/// Impedance in ohm of a tap of `watts` at `volts`: V^2/P.
#[must_use]
pub fn tap_impedance_ohm(volts: f64, watts: f64) -> f64 {
    volts * volts / watts
}

/// Power in W a tap of `impedance_ohm` takes at `volts`: V^2/Z.
#[must_use]
pub fn tap_power_w(volts: f64, impedance_ohm: f64) -> f64 {
    volts * volts / impedance_ohm
}

/// Greatest voltage in V RMS at `frequency_hz`: the rated one, in proportion to frequency below `rated_low_hz`.
#[must_use]
pub fn saturation_voltage_v(rated_v: f64, rated_low_hz: f64, frequency_hz: f64) -> f64 {
    rated_v * (frequency_hz / rated_low_hz).min(1.0)
}

/// A usual magnetising inductance in H: its reactance at the rated low frequency is three times the tap's impedance
/// (common practice, no source), which costs the tap about half a decibel of extra current there.
#[must_use]
pub fn typical_magnetising_inductance_h(volts: f64, tap_w: f64, rated_low_hz: f64) -> f64 {
    3.0 * tap_impedance_ohm(volts, tap_w) / (std::f64::consts::TAU * rated_low_hz)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample() -> TappedTransformer {
        TappedTransformer {
            rated_v: 70.7,
            taps_w: vec![30.0, 15.0, 7.5, 3.75],
            insertion_loss_db: 1.0,
            rated_low_hz: 60.0,
            magnetising_inductance_h: None,
            loudspeaker_nominal_ohm: 8.0,
        }
    }

    #[test]
    fn a_tap_is_v_squared_over_p_and_halves_when_the_tap_doubles() {
        let sample = sample();
        for tap in [3.75, 7.5, 15.0, 30.0] {
            let mut circuit = sample.at_tap(tap);
            circuit.magnetising_inductance_h = None;
            let (z, _) = circuit.primary(Complex64::from(8.0), 1000.0);
            assert!((z.re - 70.7 * 70.7 / tap).abs() < 1e-9 && z.im == 0.0);
            let (double, _) = Transformer { magnetising_inductance_h: None, ..sample.at_tap(2.0 * tap) }
                .primary(Complex64::from(8.0), 1000.0);
            assert!((z.re / double.re - 2.0).abs() < 1e-12);
        }
    }

    #[test]
    fn the_insertion_loss_stays_in_the_winding() {
        let circuit = sample().at_tap(15.0);
        let (_, ratio) = circuit.primary(Complex64::from(8.0), 5000.0);
        let power = (70.7 * ratio.norm()).powi(2) / 8.0;
        assert!((10.0 * (15.0 / power).log10() - 1.0).abs() < 1e-3);
    }

    #[test]
    fn at_dc_only_the_winding_is_left() {
        let circuit = sample().at_tap(15.0);
        let (z, ratio) = circuit.primary(Complex64::from(8.0), 0.0);
        assert_eq!(z.re, circuit.winding_resistance_ohm);
        assert_eq!(ratio.norm(), 0.0);
    }

    #[test]
    fn the_voltage_it_takes_falls_with_frequency() {
        assert!((sample().greatest_voltage_v(30.0) - 35.35).abs() < 1e-12);
        assert!((sample().greatest_voltage_v(500.0) - 70.7).abs() < 1e-12);
    }
}
