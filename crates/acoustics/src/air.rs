//! Air: speed of sound and absorption.
//!
//! ISO 9613-1:1993. Implemented: the pure-tone attenuation coefficient (equations 3 to 5), the molar
//! concentration of water vapour (equation B.1, B.2 and B.3) and the speed of sound (equation A.5). Left out:
//! the frequency spread within a band; the coefficient at the exact centre stands for the whole third octave,
//! which the standard's clause 8.2.1 accepts for path losses up to about 15 dB in the band.
//! Accuracy stated there: 10 % for -20 to 50 degC, 0.05 to 5 % water vapour by volume and less than 200 kPa;
//! 20 % outside that humidity, 50 % in colder or very dry air. Checked against ISO 9613-2 Table 2 here and
//! against an independent Python implementation of the same standard.

use crate::bands::{BandValues, band_values};
use loamline_terms::{Fraction, Pascals};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Standard pressure at sea level, which the formulas refer to.
const REFERENCE_PRESSURE: Pascals = Pascals(101_325.0);
const REFERENCE_TEMPERATURE_K: f64 = 293.15;
const TRIPLE_POINT_K: f64 = 273.16;
const ZERO_CELSIUS_K: f64 = 273.15;

/// Air out of range, or a frequency no one can hear a loudspeaker at.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum AirError {
    /// Temperature outside -50 to 60 degC, or not a number.
    #[error("the air temperature must be -50 to 60 degC; {temperature_c} degC is not")]
    Temperature {
        /// What was given, degC.
        temperature_c: f64,
    },
    /// Relative humidity outside 1 to 100 %, or not a number.
    #[error(
        "the relative humidity must be 1 to 100 %; {} % is not (outdoor air is never fully dry)",
        as_typed(.humidity.per_cent())
    )]
    Humidity {
        /// What was given.
        humidity: Fraction,
    },
    /// Pressure outside 50 to 120 kPa, or not a number.
    #[error(
        "the air pressure must be 50 to 120 kPa (sea level is about 101.3 kPa); {} kPa is not",
        as_typed(.pressure.kilopascals())
    )]
    Pressure {
        /// What was given.
        pressure: Pascals,
    },
    /// Frequency outside 1 Hz to 100 kHz, or not a number.
    #[error("the frequency must be 1 Hz to 100 kHz; {frequency_hz} Hz is not")]
    Frequency {
        /// What was given, Hz.
        frequency_hz: f64,
    },
}

/// A converted number as somebody would type it: without the last digits that conversion leaves.
fn as_typed(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}

/// Still air at one temperature, humidity and pressure, checked when made.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "AirValues", into = "AirValues")]
pub struct Air {
    temperature_c: f64,
    humidity: Fraction,
    pressure: Pascals,
}

/// Air as people write it in an input of their own.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct AirValues {
    temperature_c: f64,
    humidity_percent: f64,
    #[serde(default = "sea_level_kpa")]
    pressure_kpa: f64,
}

fn sea_level_kpa() -> f64 {
    REFERENCE_PRESSURE.kilopascals()
}

impl Default for Air {
    /// 20 degC, 70 %, 101.325 kPa.
    fn default() -> Self {
        Self { temperature_c: 20.0, humidity: Fraction(0.7), pressure: REFERENCE_PRESSURE }
    }
}

impl Air {
    /// Air at -50 to 60 degC, 1 to 100 % relative humidity, 50 to 120 kPa (sea level 101.325 kPa).
    ///
    /// # Errors
    /// [`AirError`] names the first value out of range.
    pub fn new(temperature_c: f64, humidity: Fraction, pressure: Pascals) -> Result<Self, AirError> {
        if !(-50.0..=60.0).contains(&temperature_c) {
            return Err(AirError::Temperature { temperature_c });
        }
        if !(Fraction(0.01)..=Fraction(1.0)).contains(&humidity) {
            return Err(AirError::Humidity { humidity });
        }
        if !(Pascals(50e3)..=Pascals(120e3)).contains(&pressure) {
            return Err(AirError::Pressure { pressure });
        }
        Ok(Self { temperature_c, humidity, pressure })
    }

    /// Air at a temperature, for what depends on that alone, such as the speed of sound: 70 %, 101.325 kPa.
    ///
    /// # Errors
    /// [`AirError::Temperature`] outside -50 to 60 degC.
    pub fn at(temperature_c: f64) -> Result<Self, AirError> {
        let usual = Self::default();
        Self::new(temperature_c, usual.humidity, usual.pressure)
    }

    /// Temperature, degC.
    pub fn temperature_c(&self) -> f64 {
        self.temperature_c
    }

    /// Relative humidity.
    pub fn humidity(&self) -> Fraction {
        self.humidity
    }

    /// Pressure.
    pub fn pressure(&self) -> Pascals {
        self.pressure
    }

    /// Speed of sound, m/s: 343.2 sqrt(T / 293.15 K).
    pub fn sound_speed_m_per_s(&self) -> f64 {
        343.2 * (self.kelvin() / REFERENCE_TEMPERATURE_K).sqrt()
    }

    /// Molar concentration of water vapour, %.
    pub fn water_vapour_percent(&self) -> f64 {
        let exponent = -6.8346 * (TRIPLE_POINT_K / self.kelvin()).powf(1.261) + 4.6151;
        let saturation_kpa = REFERENCE_PRESSURE.kilopascals() * 10f64.powf(exponent);
        self.humidity.per_cent() * saturation_kpa / self.pressure.kilopascals()
    }

    /// Accuracy ISO 9613-1 states for the absorption in this air, +-% : 10, 20 or 50.
    pub fn absorption_accuracy_percent(&self) -> f64 {
        let h = self.water_vapour_percent();
        let mild = (-20.0..=50.0).contains(&self.temperature_c);
        if mild && (0.05..=5.0).contains(&h) {
            10.0
        } else if mild && h >= 0.005 {
            20.0
        } else {
            50.0
        }
    }

    /// Pure-tone absorption, dB per metre, at 1 Hz to 100 kHz.
    ///
    /// # Errors
    /// [`AirError::Frequency`] outside that.
    pub fn absorption_db_per_m(&self, frequency_hz: f64) -> Result<f64, AirError> {
        if !(1.0..=100_000.0).contains(&frequency_hz) {
            return Err(AirError::Frequency { frequency_hz });
        }
        Ok(self.working(frequency_hz).absorption_db_per_m)
    }

    /// Absorption at the exact centre of each third octave, dB per metre.
    pub fn band_absorption_db_per_m(&self) -> BandValues {
        band_values(|b| self.working(b.centre_hz()).absorption_db_per_m)
    }

    /// Absorption at a frequency with the numbers on the way to it.
    ///
    /// # Errors
    /// [`AirError::Frequency`] outside 1 Hz to 100 kHz.
    pub fn absorption(&self, frequency_hz: f64) -> Result<Absorption, AirError> {
        self.absorption_db_per_m(frequency_hz)?;
        Ok(self.working(frequency_hz))
    }

    fn kelvin(&self) -> f64 {
        self.temperature_c + ZERO_CELSIUS_K
    }

    fn working(&self, frequency_hz: f64) -> Absorption {
        let f = frequency_hz;
        let t = self.kelvin() / REFERENCE_TEMPERATURE_K;
        let p = self.pressure.kilopascals() / REFERENCE_PRESSURE.kilopascals();
        let h = self.water_vapour_percent();
        // ISO 9613-1 equations 3 and 4: relaxation frequencies of oxygen and nitrogen.
        let oxygen_hz = p * (24.0 + 4.04e4 * h * (0.02 + h) / (0.391 + h));
        let nitrogen_hz = p / t.sqrt() * (9.0 + 280.0 * h * (-4.170 * (t.cbrt().recip() - 1.0)).exp());
        // Equation 5: classical and rotational loss, then vibration of oxygen and nitrogen.
        let classical = 1.84e-11 / p * t.sqrt();
        let oxygen = 0.01275 * (-2239.1 / self.kelvin()).exp() / (oxygen_hz + f * f / oxygen_hz);
        let nitrogen = 0.1068 * (-3352.0 / self.kelvin()).exp() / (nitrogen_hz + f * f / nitrogen_hz);
        let absorption_db_per_m = 8.686 * f * f * (classical + t.powf(-2.5) * (oxygen + nitrogen));
        Absorption { water_vapour_percent: h, oxygen_hz, nitrogen_hz, absorption_db_per_m }
    }
}

/// Absorption of a pure tone with the numbers on the way to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Absorption {
    /// Molar concentration of water vapour, %.
    pub water_vapour_percent: f64,
    /// Relaxation frequency of oxygen, Hz.
    pub oxygen_hz: f64,
    /// Relaxation frequency of nitrogen, Hz.
    pub nitrogen_hz: f64,
    /// The attenuation coefficient, dB per metre.
    pub absorption_db_per_m: f64,
}

impl TryFrom<AirValues> for Air {
    type Error = AirError;
    fn try_from(v: AirValues) -> Result<Self, AirError> {
        Self::new(
            v.temperature_c,
            Fraction::from_per_cent(v.humidity_percent),
            Pascals::from_kilopascals(v.pressure_kpa),
        )
    }
}

impl From<Air> for AirValues {
    fn from(a: Air) -> Self {
        Self {
            temperature_c: a.temperature_c,
            humidity_percent: a.humidity.per_cent(),
            pressure_kpa: a.pressure.kilopascals(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bands::Octave;
    use proptest::prelude::*;

    /// ISO 9613-2:1996 Table 2: atmospheric attenuation, dB/km, octaves 63 Hz to 8 kHz.
    #[test]
    fn the_table_of_iso_9613_2_is_met() {
        let table = [
            (10.0, 70.0, [0.1, 0.4, 1.0, 1.9, 3.7, 9.7, 32.8, 117.0]),
            (20.0, 70.0, [0.1, 0.3, 1.1, 2.8, 5.0, 9.0, 22.9, 76.6]),
            (30.0, 70.0, [0.1, 0.3, 1.0, 3.1, 7.4, 12.7, 23.1, 59.3]),
            (15.0, 20.0, [0.3, 0.6, 1.2, 2.7, 8.2, 28.2, 88.8, 202.0]),
            (15.0, 50.0, [0.1, 0.5, 1.2, 2.2, 4.2, 10.8, 36.2, 129.0]),
            (15.0, 80.0, [0.1, 0.3, 1.1, 2.4, 4.1, 8.3, 23.7, 82.8]),
        ];
        for (temperature, humidity, row) in table {
            let air = Air::new(temperature, Fraction::from_per_cent(humidity), REFERENCE_PRESSURE).unwrap();
            for (o, &printed) in Octave::all().skip(1).zip(&row) {
                let ours = 1000.0 * air.absorption_db_per_m(o.centre_hz()).unwrap();
                // Half of the last printed digit; 4.1511 is printed as 4.1 at 15 degC, 80 %, 1 kHz.
                let half = if printed > 100.0 { 0.5 } else { 0.0512 };
                assert!(
                    (ours - printed).abs() <= half,
                    "{temperature} C {humidity} % {}: {ours} for {printed}",
                    o.label()
                );
            }
        }
    }

    /// ISO 9613-1: 343.2 m/s at 20 degC; 331.3 m/s at 0 degC is the textbook value.
    #[test]
    fn sound_speed() {
        assert_eq!(Air::default().sound_speed_m_per_s(), 343.2);
        let cold = Air::at(0.0).unwrap();
        assert!((cold.sound_speed_m_per_s() - 331.3).abs() < 0.05);
    }

    #[test]
    fn bad_air_says_what_it_should_be() {
        let said = |r: Result<Air, AirError>| r.unwrap_err().to_string();
        assert!(
            said(Air::new(20.0, Fraction(0.0), Pascals(101.3e3))).contains("must be 1 to 100 %; 0 % is not")
        );
        assert!(said(Air::new(f64::NAN, Fraction(0.5), Pascals(101.3e3))).contains("-50 to 60 degC"));
        assert!(said(Air::new(20.0, Fraction(0.5), Pascals(1013e3))).contains("101.3 kPa); 1013 kPa is not"));
        assert!(Air::default().absorption_db_per_m(0.0).is_err());
    }

    proptest! {
        #[test]
        fn absorption_is_a_positive_number_that_grows_with_frequency(
            t in -50.0f64..60.0, h in 0.01f64..1.0, p in 50e3f64..120e3,
        ) {
            let bands = Air::new(t, Fraction(h), Pascals(p)).unwrap().band_absorption_db_per_m();
            prop_assert!(bands.iter().all(|a| a.is_finite() && *a > 0.0));
            prop_assert!(bands.windows(2).all(|w| w[0] < w[1]));
        }
    }
}
