//! Everything a signal passes on its way to one amplifier channel, and its complex response.

use super::equaliser::EqSection;
use super::pass::PassFilter;
use super::rate::SampleRate;
use super::section::{Section, cascade_gain};
use super::setting::SettingError;
use loamline_terms::Polarity;
use num_complex::Complex64;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// Gain, polarity, delay and filters in a row. The default changes nothing.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Chain {
    /// Gain, dB.
    #[serde(default)]
    pub gain_db: f64,
    /// Polarity.
    #[serde(default)]
    pub polarity: Polarity,
    /// Delay, seconds, zero or more.
    #[serde(default)]
    pub delay_s: f64,
    /// High-pass and low-pass filters.
    #[serde(default)]
    pub passes: Vec<PassFilter>,
    /// Equaliser sections.
    #[serde(default)]
    pub equaliser: Vec<EqSection>,
}

impl Chain {
    /// All filters as second-order sections at `rate` (gain, polarity and delay are not in them).
    ///
    /// # Errors
    /// A filter frequency that cannot be set at this sample rate.
    pub fn sections(&self, rate: SampleRate) -> Result<Vec<Section>, SettingError> {
        let mut sections = Vec::new();
        for pass in &self.passes {
            sections.extend(pass.sections(rate)?);
        }
        for eq in &self.equaliser {
            sections.push(eq.section(rate)?);
        }
        Ok(sections)
    }

    /// Complex gain at each frequency (Hz), one value per frequency in the same order, ready to multiply a
    /// source's complex strength. Phase convention exp(+j w t): a delay of t turns the phase by -2 pi f t. An
    /// engine written for exp(-i w t) takes the conjugate.
    ///
    /// # Errors
    /// A filter frequency that cannot be set at this sample rate.
    pub fn response(&self, rate: SampleRate, frequencies_hz: &[f64]) -> Result<Vec<Complex64>, SettingError> {
        let sections = self.sections(rate)?;
        let gain = self.polarity.sign() * 10_f64.powf(self.gain_db / 20.0);
        Ok(frequencies_hz
            .iter()
            .map(|f| {
                cascade_gain(&sections, *f, rate) * Complex64::from_polar(gain, 0.0) * self.delay_turn(*f)
            })
            .collect())
    }

    /// Level change at each frequency (Hz), dB; -300 dB where nothing passes.
    ///
    /// # Errors
    /// A filter frequency that cannot be set at this sample rate.
    pub fn gain_at_db(&self, rate: SampleRate, frequencies_hz: &[f64]) -> Result<Vec<f64>, SettingError> {
        Ok(self.response(rate, frequencies_hz)?.iter().map(|h| 20.0 * h.norm().max(1e-15).log10()).collect())
    }

    /// The first `length` samples of the response to a single sample of one. The delay is rounded to the
    /// nearest whole sample, as most equipment does.
    ///
    /// # Errors
    /// A filter frequency that cannot be set at this sample rate.
    pub fn impulse_response(&self, rate: SampleRate, length: usize) -> Result<Vec<f64>, SettingError> {
        let sections = self.sections(rate)?;
        let mut samples = vec![0.0; length];
        let at = (self.delay_s.max(0.0) * rate.hz()).round() as usize;
        if let Some(sample) = samples.get_mut(at) {
            *sample = self.polarity.sign() * 10_f64.powf(self.gain_db / 20.0);
        }
        for section in sections {
            section.filter(&mut samples);
        }
        Ok(samples)
    }

    fn delay_turn(&self, frequency_hz: f64) -> Complex64 {
        Complex64::from_polar(1.0, -2.0 * PI * frequency_hz * self.delay_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::filters::{Alignment, EqKind, Pass};

    #[test]
    fn impulse_response_and_table_agree() {
        let rate = SampleRate::R48K;
        let chain = Chain {
            gain_db: -3.0,
            polarity: Polarity::Reversed,
            delay_s: 96.0 / 48_000.0,
            passes: vec![PassFilter::new(Alignment::LinkwitzRiley, Pass::HighPass, 4, 300.0).unwrap()],
            equaliser: vec![EqSection::new(EqKind::Peaking, 1_000.0, -5.0, 2.0).unwrap()],
        };
        let h = chain.impulse_response(rate, 8_000).unwrap();
        for f in [100.0, 300.0, 1_000.0, 5_000.0] {
            let direct: Complex64 = h
                .iter()
                .enumerate()
                .map(|(n, x)| Complex64::from_polar(1.0, -2.0 * PI * f * n as f64 / rate.hz()) * *x)
                .sum();
            let table = chain.response(rate, &[f]).unwrap()[0];
            assert!((direct - table).norm() < 1e-9, "{f} Hz: {direct} {table}");
        }
    }
}
