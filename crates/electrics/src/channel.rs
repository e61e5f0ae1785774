//! Limits of an amplifier channel, and what it can give into an actual impedance.
//!
//! A channel is a voltage source that stops at the first of three limits: its greatest voltage, its greatest current, or
//! its rated power taken as volt-amperes (a reactive load heats the output stage as a resistive one does). Of an amplifier
//! that is rated into several loads the voltage between two of them follows theirs in proportion; below the least it gives
//! the power of the least, above the greatest the voltage of the greatest (common practice, no source).
//! Bridging two like channels doubles voltage, power, minimum load and output impedance; the current limit stays.

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use crate::bands::{BAND_COUNT, third_octave_centres_hz};
use crate::error::InputError;

/// Share of a constant-voltage channel its taps may fill (common practice, no source).
pub const DEFAULT_SHARE: f64 = 0.8;

/// Points in a decade in the search for the lowest impedance, 1.4 % apart: with fewer a narrow dip is missed, more cost time
/// with every line.
const POINTS_PER_DECADE: f64 = 160.0;

/// A high-pass filter in front of a channel, Butterworth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct HighPass {
    /// -3 dB frequency in Hz, above zero.
    pub corner_hz: f64,
    /// Order, 1..=8 (each order 6 dB per octave).
    pub order: u32,
}

impl HighPass {
    /// Gain at `frequency_hz` as a voltage ratio.
    #[must_use]
    pub fn gain(&self, frequency_hz: f64) -> f64 {
        if frequency_hz <= 0.0 {
            return 0.0;
        }
        (1.0 + (self.corner_hz / frequency_hz).powf(2.0 * f64::from(self.order))).sqrt().recip()
    }
}

/// Rated power into one load.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Rating {
    /// The load in ohm.
    pub load_ohm: f64,
    /// Power into it in W.
    pub power_w: f64,
}

impl Rating {
    fn voltage_v(&self) -> f64 {
        (self.power_w * self.load_ohm).sqrt()
    }
}

/// One amplifier channel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Channel {
    /// Name or id shown in findings.
    pub name: String,
    /// Rated power in W: of a constant-voltage channel into any load; used for all loads where no ratings are given.
    pub rated_power_w: f64,
    /// Rated power into each load it is rated into, the least load first.
    #[serde(default)]
    pub ratings: Vec<Rating>,
    /// Greatest output in V RMS.
    pub max_voltage_v: f64,
    /// Greatest output in A RMS.
    pub max_current_a: f64,
    /// Lowest impedance in ohm it may be loaded with.
    pub min_load_ohm: f64,
    /// Output impedance in ohm.
    pub output_impedance_ohm: f64,
    /// High-pass the maker requires on this output, Hz; absent if none.
    pub required_high_pass_hz: Option<f64>,
    /// High-pass set in the processing; absent if none.
    pub high_pass: Option<HighPass>,
    /// Corner of the low-pass set in the processing, Hz; absent if none.
    #[serde(default)]
    pub low_pass_hz: Option<f64>,
}

/// What stops a channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Limit {
    /// Its greatest voltage.
    Voltage,
    /// Its greatest current.
    Current,
    /// Its rated power.
    Power,
}

impl Limit {
    /// As it is written.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Voltage => "voltage",
            Self::Current => "current",
            Self::Power => "power",
        }
    }
}

/// What a channel gives into an impedance, at the limit that comes first.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FullDrive {
    /// Voltage at the impedance in V RMS.
    pub voltage_v: f64,
    /// Current in A RMS.
    pub current_a: f64,
    /// Real power in W.
    pub power_w: f64,
    /// The limit reached.
    pub limit: Limit,
}

impl Channel {
    /// A constant-voltage channel: `rated_power_w` at `line_v`, no less than V^2/P of load.
    #[must_use]
    pub fn constant_voltage(name: impl Into<String>, rated_power_w: f64, line_v: f64) -> Self {
        Self {
            name: name.into(),
            rated_power_w,
            max_voltage_v: line_v,
            max_current_a: rated_power_w / line_v,
            min_load_ohm: line_v * line_v / rated_power_w,
            output_impedance_ohm: 0.0,
            required_high_pass_hz: None,
            high_pass: None,
            ratings: Vec::new(),
            low_pass_hz: None,
        }
    }

    /// A low-impedance channel: `rated_power_w` into `rated_load_ohm`, no less than that load.
    #[must_use]
    pub fn low_impedance(name: impl Into<String>, rated_power_w: f64, rated_load_ohm: f64) -> Self {
        let volts = (rated_power_w * rated_load_ohm).sqrt();
        Self::constant_voltage(name, rated_power_w, volts)
    }

    /// Two channels like this one bridged.
    #[must_use]
    pub fn bridged(&self) -> Self {
        Self {
            name: format!("{} bridged", self.name),
            rated_power_w: 2.0 * self.rated_power_w,
            max_voltage_v: 2.0 * self.max_voltage_v,
            min_load_ohm: 2.0 * self.min_load_ohm,
            output_impedance_ohm: 2.0 * self.output_impedance_ohm,
            ratings: self
                .ratings
                .iter()
                .map(|r| Rating { load_ohm: 2.0 * r.load_ohm, power_w: 2.0 * r.power_w })
                .collect(),
            ..self.clone()
        }
    }

    /// Rated power into a load of `ohm`, W.
    #[must_use]
    pub fn rated_into_w(&self, ohm: f64) -> f64 {
        let (Some(least), Some(greatest)) = (self.ratings.first(), self.ratings.last()) else {
            return self.rated_power_w;
        };
        if ohm <= least.load_ohm {
            return least.power_w;
        }
        let between = self.ratings.windows(2).find(|pair| ohm <= pair[1].load_ohm).map(|pair| {
            let share = (ohm - pair[0].load_ohm) / (pair[1].load_ohm - pair[0].load_ohm);
            pair[0].voltage_v() + (pair[1].voltage_v() - pair[0].voltage_v()) * share
        });
        let volts = between.unwrap_or_else(|| greatest.voltage_v());
        volts * volts / ohm
    }

    /// The band its filters pass, Hz: from the corner of the high-pass to that of the low-pass, the outermost centres of the
    /// third octaves where there is none. What a load is at other frequencies does not count.
    #[must_use]
    pub fn passed_hz(&self) -> [f64; 2] {
        // A quarter of a per cent outside 20 Hz and 20 kHz.
        let bands = third_octave_centres_hz();
        let (lowest, highest) = (bands[0], bands[BAND_COUNT - 1]);
        let low = self.high_pass.map_or(lowest, |filter| filter.corner_hz).clamp(lowest, highest);
        [low, self.low_pass_hz.unwrap_or(highest).clamp(low, highest)]
    }

    /// Frequencies at which a load is looked at for its lowest impedance: 160 to a decade, the centres of the third octaves
    /// among them, and both ends of the band passed.
    #[must_use]
    pub fn searched_hz(&self) -> Vec<f64> {
        let [low, high] = self.passed_hz();
        let first = (POINTS_PER_DECADE * low.log10()).ceil() as i32;
        let last = (POINTS_PER_DECADE * high.log10()).floor() as i32;
        let inside = (first..=last).map(|n| 10f64.powf(f64::from(n) / POINTS_PER_DECADE));
        let mut all = vec![low];
        all.extend(inside.filter(|f| *f > low * (1.0 + 1e-9) && *f < high * (1.0 - 1e-9)));
        all.push(high);
        all
    }

    /// Checks every value.
    ///
    /// # Errors
    /// The first value outside its range.
    pub fn check(&self) -> Result<(), InputError> {
        let place = format!("channel {}", self.name);
        InputError::check_positive(&place, "rated power", "W", self.rated_power_w)?;
        InputError::check_positive(&place, "greatest voltage", "V", self.max_voltage_v)?;
        InputError::check_positive(&place, "greatest current", "A", self.max_current_a)?;
        InputError::check_positive(&place, "minimum load", "ohm", self.min_load_ohm)?;
        InputError::check_not_negative(&place, "output impedance", "ohm", self.output_impedance_ohm)?;
        for rating in &self.ratings {
            InputError::check_positive(&place, "load it is rated into", "ohm", rating.load_ohm)?;
            InputError::check_positive(&place, "rated power", "W", rating.power_w)?;
        }
        if let Some(corner) = self.low_pass_hz {
            InputError::check_positive(&place, "low-pass corner", "Hz", corner)?;
        }
        if let Some(corner) = self.required_high_pass_hz {
            InputError::check_positive(&place, "required high-pass", "Hz", corner)?;
        }
        if let Some(filter) = self.high_pass {
            InputError::check_positive(&place, "high-pass corner", "Hz", filter.corner_hz)?;
            InputError::check_range(&place, "high-pass order", "", f64::from(filter.order), 1.0, 8.0)?;
        }
        Ok(())
    }

    /// Full drive into `impedance_ohm` (magnitude above zero).
    #[must_use]
    pub fn full_drive(&self, impedance_ohm: Complex64) -> FullDrive {
        let z = impedance_ohm.norm().max(1e-9);
        let by_voltage =
            self.max_voltage_v * z / (impedance_ohm + self.output_impedance_ohm).norm().max(1e-9);
        let by_current = self.max_current_a * z;
        let by_power = (self.rated_into_w(z) * z).sqrt();
        let (voltage_v, limit) = [(by_current, Limit::Current), (by_power, Limit::Power)].into_iter().fold(
            (by_voltage, Limit::Voltage),
            |best, other| {
                // The rated point meets all three at once: rounding must not decide the name of the limit.
                if other.0 < best.0 * (1.0 - 1e-9) { other } else { best }
            },
        );
        let current_a = voltage_v / z;
        FullDrive { voltage_v, current_a, power_w: current_a * current_a * impedance_ohm.re, limit }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rated_load_takes_the_rated_power() {
        let channel = Channel::low_impedance("1", 200.0, 4.0);
        let drive = channel.full_drive(Complex64::from(4.0));
        assert!((drive.power_w - 200.0).abs() < 1e-9 && drive.limit == Limit::Voltage);
    }

    #[test]
    fn a_light_load_stops_at_the_voltage_and_a_heavy_one_at_the_current() {
        let channel = Channel::low_impedance("1", 200.0, 4.0);
        assert!((channel.full_drive(Complex64::from(8.0)).power_w - 100.0).abs() < 1e-9);
        let heavy = channel.full_drive(Complex64::from(2.0));
        assert!(heavy.limit == Limit::Current && (heavy.power_w - 100.0).abs() < 1e-9);
    }

    #[test]
    fn a_bridged_pair_gives_both_powers_into_twice_the_load() {
        let pair = Channel::low_impedance("1", 200.0, 4.0).bridged();
        assert!((pair.full_drive(Complex64::from(8.0)).power_w - 400.0).abs() < 1e-9);
        assert!((pair.min_load_ohm - 8.0).abs() < 1e-12);
    }

    #[test]
    fn between_the_loads_it_is_rated_into_the_voltage_follows_and_outside_the_nearest_rating_holds() {
        // 250 W into 4 ohm is 31.62 V, 200 W into 8 ohm 40 V; the figures by hand.
        let ratings = [(4.0, 250.0), (8.0, 200.0)].map(|(load_ohm, power_w)| Rating { load_ohm, power_w });
        let channel = Channel { ratings: ratings.to_vec(), ..Channel::low_impedance("1", 250.0, 4.0) };
        assert!((channel.rated_into_w(6.0) - 35.811f64.powi(2) / 6.0).abs() < 0.01);
        assert!((channel.rated_into_w(3.4) - 250.0).abs() < 1e-9);
        assert!((channel.rated_into_w(16.0) - 100.0).abs() < 1e-9);
        let pair = channel.bridged();
        assert!(
            (pair.rated_into_w(8.0) - 500.0).abs() < 1e-9 && (pair.rated_into_w(32.0) - 200.0).abs() < 1e-9
        );
    }

    #[test]
    fn the_band_is_what_both_filters_pass() {
        let sub = Channel {
            high_pass: Some(HighPass { corner_hz: 30.0, order: 4 }),
            low_pass_hz: Some(100.0),
            ..Channel::low_impedance("1", 200.0, 4.0)
        };
        let searched = sub.searched_hz();
        assert_eq!(sub.passed_hz(), [30.0, 100.0]);
        assert_eq!((searched.first(), searched.last()), (Some(&30.0), Some(&100.0)));
        assert!(searched.windows(2).all(|two| two[0] < two[1] && two[1] / two[0] < 1.0146));
        // A low-pass below the high-pass leaves nothing but the corner.
        assert_eq!(Channel { low_pass_hz: Some(20.0), ..sub }.passed_hz(), [30.0, 30.0]);
    }

    #[test]
    fn a_butterworth_high_pass_is_3_db_down_at_its_corner() {
        let filter = HighPass { corner_hz: 80.0, order: 4 };
        assert!((20.0 * filter.gain(80.0).log10() + 3.0103).abs() < 1e-4);
        assert!((20.0 * (filter.gain(5.0) / filter.gain(10.0)).log10() + 24.08).abs() < 0.01);
    }
}
