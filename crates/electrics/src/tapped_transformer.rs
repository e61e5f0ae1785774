//! A line transformer as sold, and the circuit that has its losses.
//!
//! A tap is named by the power it takes from the line at the rated voltage: Z = V^2/P. Of that power the insertion loss
//! stays in copper and core. In the middle of the band, where both inductances are out of the way, let r1, rc, r2 be the
//! shares of the tap's power lost in primary, core and secondary and p = 10^(-IL/10) the share that arrives, so that
//! r1 + rc + r2 + p = 1. With Zn the loudspeaker's nominal impedance, Ohm's law gives the elements in closed form:
//!
//! - primary copper R1 = Z r1, which leaves (1 - r1) of the voltage at the core;
//! - core loss Rc = Z (1 - r1)^2 / rc;
//! - ratio n = (1 - r1) sqrt(Z p / Zn) / (p + r2);
//! - secondary copper R2 = Zn r2 / p.
//!
//! So the impedance is Z and the loss IL, both exactly; at 1 kHz the inductances add less than 0.05 % and 0.005 dB to that
//! for parts as usual (the test below).
//!
//! Taps are parts of one winding. Core loss and inductances follow the turns squared, as Z does. Copper wound with one wire
//! follows the turns: R1 is proportional to sqrt(Z), so its share falls towards the smaller taps and what is left of the
//! loss is the secondary's. Makers that go over to thinner wire on the outer turns have more there; how sure the rule is is a
//! matter of tolerances, not of this file.
//!
//! Flux is proportional to V/f: below its rated low frequency the voltage a transformer takes falls in proportion.

use serde::{Deserialize, Serialize};

use crate::error::InputError;
use crate::transformer::Transformer;

/// The part of the loss that is core loss where the maker says nothing (common practice, no source: in the middle of the
/// band the flux is a small part of what it is at the rated low frequency).
const CORE_PART_OF_LOSS: f64 = 0.1;
/// The part of the copper loss that is the primary's where the maker says nothing (common practice, no source: copper is
/// shared evenly where the window is; windings as sold have from 0.3 to 0.7 of it in the primary).
pub const PRIMARY_PART_OF_COPPER: f64 = 0.5;
/// Reactance of the leakage at 20 kHz over the tap's impedance where the maker says nothing (common practice, no source: it
/// costs half a decibel there).
const LEAKAGE_AT_20_KHZ: f64 = 1.0 / 3.0;

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
    /// What its maker states of the windings.
    pub windings: Windings,
    /// Nominal impedance of the loudspeaker on the secondary in ohm.
    pub loudspeaker_nominal_ohm: f64,
}

/// What a maker states of the windings; what is absent is taken as usual.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Windings {
    /// Impedance in ohm of the tap that resistance and leakage are stated at, the one with the fewest turns; absent: that of
    /// the largest tap.
    pub stated_at_ohm: Option<f64>,
    /// Resistance of the primary to direct current at that tap in ohm; absent: [`PRIMARY_PART_OF_COPPER`].
    pub primary_resistance_ohm: Option<f64>,
    /// Share of a tap's power that the core takes in the middle of the band; absent: a tenth of the loss.
    pub core_share: Option<f64>,
    /// Leakage inductance at that tap in H; absent: a third of that tap's impedance at 20 kHz.
    pub leakage_inductance_h: Option<f64>,
}

/// How a transformer differs from what is stated or usual, its loss being as stated: factors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WindingFactors {
    /// Of the primary's resistance.
    pub primary: f64,
    /// Of the core's loss.
    pub core: f64,
    /// Of the leakage.
    pub leakage: f64,
}

impl Default for WindingFactors {
    fn default() -> Self {
        Self { primary: 1.0, core: 1.0, leakage: 1.0 }
    }
}

/// Shares of a tap's power.
struct Shares {
    primary: f64,
    core: f64,
    secondary: f64,
    passed: f64,
}

impl TappedTransformer {
    /// Checks every value; `place` names the transformer in the error.
    ///
    /// # Errors
    /// The first value outside its range, no taps, or windings that lose more than the insertion loss.
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
        self.taps_w.iter().try_for_each(|&tap| InputError::check_positive(place, "tap", "W", tap))?;
        self.check_windings(place)
    }

    fn check_windings(&self, place: &str) -> Result<(), InputError> {
        let Windings { stated_at_ohm, primary_resistance_ohm, core_share, leakage_inductance_h } =
            self.windings;
        if let Some(value) = stated_at_ohm {
            InputError::check_positive(
                place,
                "impedance of the tap the windings are stated at",
                "ohm",
                value,
            )?;
        }
        if let Some(value) = leakage_inductance_h {
            InputError::check_not_negative(place, "leakage inductance", "H", value)?;
        }
        let lost = 1.0 - self.passed();
        if let Some(value) = core_share {
            InputError::check_range(place, "share of the core loss", "", value, 0.0, lost)?;
        }
        if let Some(value) = primary_resistance_ohm {
            InputError::check_positive(place, "primary resistance", "ohm", value)?;
            let most = (lost - core_share.unwrap_or(0.0)) * self.stated_at_ohm();
            if value > most {
                return Err(InputError::OutOfRange {
                    place: place.to_owned(),
                    quantity: "primary resistance",
                    unit: "ohm",
                    value,
                    expected: format!(
                        "at most {most:.1} ohm, all that {} dB of insertion loss leaves to it at a tap of {:.1} ohm",
                        self.insertion_loss_db,
                        self.stated_at_ohm()
                    ),
                });
            }
        }
        Ok(())
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
        self.at_tap_with(tap_w, &WindingFactors::default())
    }

    /// The same of a transformer that has the loss stated but differs in where it arises, and in its leakage.
    #[must_use]
    pub fn at_tap_with(&self, tap_w: f64, factors: &WindingFactors) -> Transformer {
        let ohm = self.tap_impedance_ohm(tap_w);
        let Shares { primary, core, secondary, passed } = self.shares(tap_w, factors);
        let at_core = 1.0 - primary;
        let largest = self.largest_tap_w();
        let at_largest = self
            .magnetising_inductance_h
            .unwrap_or_else(|| typical_magnetising_inductance_h(self.rated_v, largest, self.rated_low_hz));
        let leakage_h_per_ohm = self
            .windings
            .leakage_inductance_h
            .map_or(LEAKAGE_AT_20_KHZ / (std::f64::consts::TAU * 20_000.0), |stated| {
                stated / self.stated_at_ohm()
            });
        Transformer {
            turns_ratio: at_core * (ohm * passed / self.loudspeaker_nominal_ohm).sqrt()
                / (passed + secondary),
            primary_resistance_ohm: ohm * primary,
            secondary_resistance_ohm: self.loudspeaker_nominal_ohm * secondary / passed,
            leakage_inductance_h: leakage_h_per_ohm * ohm * factors.leakage,
            core_loss_ohm: (core > 0.0).then(|| ohm * at_core * at_core / core),
            // Turns squared: the tap impedance is proportional to them.
            magnetising_inductance_h: Some(at_largest * largest / tap_w),
        }
    }

    /// Turns of the primary at `tap_w` over those of the tap its windings are stated at: sqrt(Z) over sqrt(Z).
    #[must_use]
    pub fn turns_from_stated(&self, tap_w: f64) -> f64 {
        (self.tap_impedance_ohm(tap_w) / self.stated_at_ohm()).sqrt()
    }

    fn shares(&self, tap_w: f64, factors: &WindingFactors) -> Shares {
        let passed = self.passed();
        let lost = 1.0 - passed;
        let usual = CORE_PART_OF_LOSS * lost;
        let (primary, core) = match self.windings.primary_resistance_ohm {
            Some(ohm) => {
                let stated = ohm / self.stated_at_ohm();
                let core = self.windings.core_share.unwrap_or_else(|| usual.min(lost - stated).max(0.0));
                // Copper follows the turns, the impedance their square; no tap has fewer turns than the one it is stated at.
                (stated / self.turns_from_stated(tap_w).max(1.0), core)
            }
            None => {
                let core = self.windings.core_share.unwrap_or(usual);
                (PRIMARY_PART_OF_COPPER * (lost - core * factors.core).max(0.0), core)
            }
        };
        let core = (core * factors.core).min(lost);
        let primary = (primary * factors.primary).min(lost - core);
        Shares { primary, core, secondary: (lost - core - primary).max(0.0), passed }
    }

    fn passed(&self) -> f64 {
        10f64.powf(-self.insertion_loss_db / 10.0)
    }

    fn largest_tap_w(&self) -> f64 {
        self.taps_w.iter().copied().fold(f64::MIN_POSITIVE, f64::max)
    }

    fn stated_at_ohm(&self) -> f64 {
        self.windings.stated_at_ohm.unwrap_or_else(|| self.tap_impedance_ohm(self.largest_tap_w()))
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
    use num_complex::Complex64;

    fn sample() -> TappedTransformer {
        TappedTransformer {
            rated_v: 70.7,
            taps_w: vec![30.0, 15.0, 7.5, 3.75],
            insertion_loss_db: 1.0,
            rated_low_hz: 60.0,
            magnetising_inductance_h: None,
            windings: Windings::default(),
            loudspeaker_nominal_ohm: 8.0,
        }
    }

    /// Several makers' statements, each with what it leaves to the usual.
    fn every_statement() -> Vec<TappedTransformer> {
        let with = |windings| TappedTransformer { windings, ..sample() };
        let none = Windings::default();
        vec![
            sample(),
            TappedTransformer { insertion_loss_db: 0.0, ..sample() },
            with(Windings { core_share: Some(0.0), ..none }),
            with(Windings { core_share: Some(0.05), leakage_inductance_h: Some(2e-3), ..none }),
            with(Windings { primary_resistance_ohm: Some(8.0), ..none }),
            with(Windings { primary_resistance_ohm: Some(34.0), ..none }),
            with(Windings { primary_resistance_ohm: Some(20.0), stated_at_ohm: Some(120.0), ..none }),
        ]
    }

    /// Powers by Ohm's law, element by element, from the circuit alone.
    #[test]
    fn every_tap_has_its_impedance_and_loses_what_is_stated() {
        for t in every_statement() {
            t.check("sample").unwrap();
            for tap in [3.75, 7.5, 15.0, 30.0] {
                for factors in
                    [WindingFactors::default(), WindingFactors { primary: 1.4, core: 0.5, leakage: 2.0 }]
                {
                    let c = t.at_tap_with(tap, &factors);
                    assert!((c.mid_band_ohm(8.0) / (70.7 * 70.7 / tap) - 1.0).abs() < 1e-12);
                    let amperes = 70.7 / c.mid_band_ohm(8.0);
                    let at_core = 70.7 - amperes * c.primary_resistance_ohm;
                    let onwards = amperes - at_core / c.core_loss_ohm.unwrap_or(f64::INFINITY);
                    let power = (onwards * c.turns_ratio).powi(2) * 8.0;
                    assert!((10.0 * (tap / power).log10() - t.insertion_loss_db).abs() < 1e-9);
                }
            }
        }
    }

    #[test]
    fn inductances_hardly_matter_at_1_khz() {
        for tap in [3.75, 30.0] {
            let (z, ratio) = sample().at_tap(tap).primary(Complex64::from(8.0), 1000.0);
            assert!((z.norm() / (70.7 * 70.7 / tap) - 1.0).abs() < 5e-4, "{z}");
            let power = (70.7 * ratio.norm()).powi(2) / 8.0;
            assert!((10.0 * (tap / power).log10() - 1.0).abs() < 5e-3);
        }
    }

    /// 20.6 % lost, a tenth of it in the core, half of the rest in the primary: 0.45 * 0.2057 * 333.2 ohm.
    #[test]
    fn unless_stated_the_primary_has_half_of_the_copper_loss() {
        let lost = 1.0 - 10f64.powf(-0.1);
        let circuit = sample().at_tap(15.0);
        assert!((circuit.primary_resistance_ohm - 0.45 * lost * 70.7 * 70.7 / 15.0).abs() < 1e-9);
        let heat = circuit.secondary_resistance_ohm / 8.0 * 10f64.powf(-0.1);
        assert!((heat - 0.45 * lost).abs() < 1e-12);
    }

    /// Half the power is sqrt(2) the turns, so sqrt(2) the ohms of one wire.
    #[test]
    fn a_stated_primary_follows_the_turns() {
        let windings = Windings { primary_resistance_ohm: Some(10.0), ..Windings::default() };
        let t = TappedTransformer { windings, ..sample() };
        let ohm = |tap: f64| t.at_tap(tap).primary_resistance_ohm;
        assert!((ohm(30.0) - 10.0).abs() < 1e-12);
        assert!((ohm(15.0) - 10.0 * 2f64.sqrt()).abs() < 1e-12);
        assert!((ohm(3.75) - 10.0 * 8f64.sqrt()).abs() < 1e-12);
        assert!((t.turns_from_stated(7.5) - 2.0).abs() < 1e-12);
    }

    #[test]
    fn windings_that_lose_more_than_the_whole_are_refused() {
        let windings =
            Windings { primary_resistance_ohm: Some(40.0), core_share: Some(0.02), ..Windings::default() };
        let told = TappedTransformer { windings, ..sample() }.check("transformer T").unwrap_err();
        // (0.2057 - 0.02) * 166.6 ohm
        assert_eq!(
            told.to_string(),
            "transformer T: primary resistance is 40 ohm; it must be at most 30.9 ohm, all that 1 dB of insertion loss \
             leaves to it at a tap of 166.6 ohm"
        );
        let windings = Windings { core_share: Some(0.3), ..Windings::default() };
        assert!(TappedTransformer { windings, ..sample() }.check("transformer T").is_err());
    }

    #[test]
    fn the_voltage_it_takes_falls_with_frequency() {
        assert!((sample().greatest_voltage_v(30.0) - 35.35).abs() < 1e-12);
        assert!((sample().greatest_voltage_v(500.0) - 70.7).abs() < 1e-12);
    }
}
