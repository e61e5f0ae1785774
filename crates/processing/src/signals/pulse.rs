//! A pulse that shows which way a loudspeaker moves first.
//!
//! Each pulse is a short raised-cosine push in the positive direction followed by a long, shallow return of the
//! same area, so that it carries no direct voltage and its first, tallest part is always positive. Played again
//! and again it can be read by ear, by a phase checker or from a recording.

use super::{SignalError, amplitude, sample_count};
use crate::filters::{SampleRate, SettingError};
use serde::{Deserialize, Serialize};
use std::f64::consts::TAU;

/// Pulses to make.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PulseSpec {
    /// Length of the positive push, s, from 0.1 ms to 20 ms: 0.5 ms for a two-way, 5 ms for a subwoofer.
    pub push_s: f64,
    /// Time from one pulse to the next, s, from 0.1 to 10.
    pub every_s: f64,
    /// How many, 1 to 600.
    pub count: u32,
    /// Level of the peak, dB re full scale.
    pub level_dbfs: f64,
    /// Sample rate.
    pub sample_rate: SampleRate,
}

/// How many times longer than the push the return is.
const RETURN_LENGTH: f64 = 8.0;

/// Samples of the pulses, between -1 and 1.
///
/// # Errors
/// A value outside its range, pulses that would run into each other, or more samples than are made.
pub fn polarity_pulse(spec: &PulseSpec) -> Result<Vec<f64>, SignalError> {
    let push = SettingError::check("the push", " s", spec.push_s, 1e-4, 0.02)?;
    let every = SettingError::check("the time between pulses", " s", spec.every_s, 0.1, 10.0)?;
    SettingError::check("the time between pulses", " s", every, 2.0 * push * (1.0 + RETURN_LENGTH), 10.0)?;
    let count = SettingError::check("the number of pulses", "", f64::from(spec.count), 1.0, 600.0)? as usize;
    let peak = amplitude(SettingError::check("the level", " dB re full scale", spec.level_dbfs, -80.0, 0.0)?);
    sample_count(every * count as f64, spec.sample_rate)?;
    let fs = spec.sample_rate.hz();
    let (push_n, period_n) = ((push * fs).round().max(4.0) as usize, (every * fs).round() as usize);
    let return_n = (push_n as f64 * RETURN_LENGTH).round() as usize;
    let bump = |i: usize, n: usize| 0.5 - 0.5 * (TAU * i as f64 / n as f64).cos();
    let mut one = vec![0.0; period_n];
    let (head, tail) = one.split_at_mut(push_n.min(period_n));
    for (i, x) in head.iter_mut().enumerate() {
        *x = peak * bump(i, push_n);
    }
    for (i, x) in tail.iter_mut().take(return_n).enumerate() {
        *x = -peak * bump(i, return_n) * push_n as f64 / return_n as f64;
    }
    Ok(one.repeat(count))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pushes_forward_first_and_carries_no_direct_voltage() {
        let spec = PulseSpec {
            push_s: 0.0005,
            every_s: 0.5,
            count: 3,
            level_dbfs: -6.0206,
            sample_rate: SampleRate::R48K,
        };
        let x = polarity_pulse(&spec).unwrap();
        assert_eq!(x.len(), 72_000);
        let peak = x.iter().fold(0.0_f64, |m, v| m.max(*v));
        let trough = x.iter().fold(0.0_f64, |m, v| m.min(*v));
        assert!((peak - 0.5).abs() < 1e-4 && trough.abs() < 0.13 * peak);
        assert!(x.iter().sum::<f64>().abs() < 1e-9);
        let crowded = PulseSpec { push_s: 0.02, every_s: 0.1, ..spec };
        assert!(polarity_pulse(&crowded).is_err());
    }
}
