//! Finds recordings whose tops are cut off.
//!
//! Two signs: three or more samples in a row at the format's full scale; or, below full scale, a recorder's input
//! that ran out before its converter. For the second, a 50 ms stretch that reaches the recording's peak is looked
//! at: a sine spends 6.4 % of its time within 0.5 % of its peak (arccos(0.995) / (pi/2)), one clipped by 0.25 dB
//! already 15 %. Only samples in runs of three count, so tones near a whole fraction of the sample rate, whose
//! samples repeat, are not mistaken; clipping below full scale above about an eighth of the sample rate is missed.

use super::refusal::ListenError;
use crate::filters::SampleRate;

/// Within one step of 16 bits of full scale.
const FULL_SCALE: f64 = 32_766.5 / 32_768.0;
const RUN: usize = 3;
/// Samples this close to the peak are part of its top.
const TOP: f64 = 0.995;
/// More than this share of a stretch in tops is clipping: a sine has 0.064.
const FLAT_SHARE: f64 = 0.15;
/// A whole period of the lowest sweep frequency fits in, s.
const STRETCH_S: f64 = 0.05;

/// Refuses samples with flat tops.
pub(super) fn refuse_clipped(
    channel: &'static str,
    samples: &[f64],
    rate: SampleRate,
    peak: f64,
) -> Result<(), ListenError> {
    let refusal = |flat: &Flat, level: f64| ListenError::Clipped {
        channel,
        samples: flat.samples,
        level_dbfs: 20.0 * level.log10(),
        first_s: flat.first as f64 / rate.hz(),
    };
    let full = flat_tops(samples, FULL_SCALE);
    if full.samples > 0 {
        return Err(refusal(&full, peak));
    }
    let length = (STRETCH_S * rate.hz()).round() as usize;
    for (index, stretch) in samples.chunks_exact(length.max(1)).enumerate() {
        let mut flat = flat_tops(stretch, TOP * peak);
        if flat.samples as f64 > FLAT_SHARE * length as f64 {
            flat.first += index * length;
            return Err(refusal(&flat, peak));
        }
    }
    Ok(())
}

struct Flat {
    samples: usize,
    first: usize,
}

/// Samples at or beyond `level`, one side at a time, in runs of at least [`RUN`].
fn flat_tops(samples: &[f64], level: f64) -> Flat {
    let mut flat = Flat { samples: 0, first: 0 };
    let (mut run, mut sign) = (0_usize, 0.0_f64);
    for (index, x) in samples.iter().chain(&[0.0]).enumerate() {
        let same = x.abs() >= level && (run == 0 || x.signum() == sign);
        if same {
            run += 1;
            sign = x.signum();
            continue;
        }
        if run >= RUN {
            if flat.samples == 0 {
                flat.first = index - run;
            }
            flat.samples += run;
        }
        run = usize::from(x.abs() >= level);
        sign = x.signum();
    }
    flat
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signals::{Sweep, SweepSpec};

    fn sweep(rate: SampleRate) -> Vec<f64> {
        Sweep::new(SweepSpec { start_hz: 20.0, end_hz: 20_000.0, length_s: 5.0, level_dbfs: -1.0 })
            .unwrap()
            .samples(rate)
            .unwrap()
    }

    fn clipped(samples: &[f64], rate: SampleRate) -> bool {
        let peak = samples.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
        refuse_clipped("microphone", samples, rate, peak).is_err()
    }

    #[test]
    fn a_clean_sweep_passes_at_every_rate_and_width() {
        for rate in SampleRate::COMMON {
            let x = sweep(rate);
            assert!(!clipped(&x, rate));
            let sixteen: Vec<f64> = x.iter().map(|v| (v * 32_767.0).round() / 32_768.0).collect();
            assert!(!clipped(&sixteen, rate));
        }
    }

    #[test]
    fn flat_tops_are_found_at_full_scale_and_below() {
        let rate = SampleRate::R48K;
        let over: Vec<f64> = sweep(rate).iter().map(|v| (v * 1.5).clamp(-1.0, 32_767.0 / 32_768.0)).collect();
        assert!(clipped(&over, rate));
        // Half a decibel lost in an input stage well below full scale.
        let analogue: Vec<f64> = sweep(rate).iter().map(|v| v.clamp(-0.84, 0.84) * 0.5).collect();
        assert!(clipped(&analogue, rate));
    }
}
