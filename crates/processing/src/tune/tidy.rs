//! Sections of a fitted equaliser made as few as they can be: those that stand at one place become one of their sum, and
//! what is too small to matter goes.
//!
//! A fit that adds one section at a time, each held to a gain of its own, puts a second at the place of the first where
//! cuts beside it leave room. That is one bell to whoever types it in. Two bells of one frequency and Q are one of the sum
//! of their gains but for a few hundredths of a decibel (half of its gain in dB lies at the same two frequencies, whatever
//! the gain: the cookbook's definition of Q).

use super::TuneError;
use crate::filters::EqSection;

/// Frequencies nearer to each other than this ratio, a sixth of an octave, are one place: third octaves cannot tell them
/// apart.
const SAME_PLACE: f64 = 1.122_462;
/// Of Q within this ratio the same: wider apart they are two shapes, as a bell on a hill is.
const SAME_WIDTH: f64 = 1.5;
/// A section of less gain than this is heard by nobody (common practice, no source), dB.
const LEAST_GAIN_DB: f64 = 0.5;
/// What fewer sections may cost, dB of deviation over all that is made fewer.
const MOST_WORSE_DB: f64 = 0.1;

/// Whether two sections are of one kind at one place and about as wide.
fn coincide(a: &EqSection, b: &EqSection) -> bool {
    let apart = |x: f64, y: f64| (x / y).max(y / x);
    a.kind() == b.kind()
        && apart(a.frequency_hz(), b.frequency_hz()) < SAME_PLACE
        && apart(a.q(), b.q()) < SAME_WIDTH
}

/// The one section two that coincide come to, no deeper than `most_cut_db`: gains added, the rest weighed by them.
fn sum_of(a: &EqSection, b: &EqSection, most_cut_db: f64) -> Result<EqSection, TuneError> {
    let (wa, wb) = (a.gain_db().abs().max(1e-3), b.gain_db().abs().max(1e-3));
    let mean = |x: f64, y: f64| ((wa * x.ln() + wb * y.ln()) / (wa + wb)).exp();
    let gain_db = (a.gain_db() + b.gain_db()).max(-most_cut_db);
    Ok(EqSection::new(a.kind(), mean(a.frequency_hz(), b.frequency_hz()), gain_db, mean(a.q(), b.q()))?)
}

/// What remains with one section less, the smallest left out first, then each pair at one place as one.
fn one_less(sections: &[EqSection], most_cut_db: f64) -> Result<Vec<Vec<EqSection>>, TuneError> {
    let mut all = Vec::new();
    let without = |out: &[usize]| -> Vec<EqSection> {
        let kept = sections.iter().enumerate().filter(|(i, _)| !out.contains(i));
        kept.map(|(_, s)| *s).collect()
    };
    let mut small: Vec<usize> =
        (0..sections.len()).filter(|&i| sections[i].gain_db().abs() < LEAST_GAIN_DB).collect();
    small.sort_by(|&a, &b| sections[a].gain_db().abs().total_cmp(&sections[b].gain_db().abs()));
    all.extend(small.iter().map(|&i| without(&[i])));
    for (i, a) in sections.iter().enumerate() {
        for (j, b) in sections.iter().enumerate().skip(i + 1) {
            if coincide(a, b) {
                let mut merged = without(&[i, j]);
                merged.push(sum_of(a, b, most_cut_db)?);
                all.push(merged);
            }
        }
    }
    Ok(all)
}

/// A way of bringing sections within the limits again.
pub(super) type Settle<'a> = &'a dyn Fn(&[EqSection]) -> Result<Vec<EqSection>, TuneError>;

/// The same equaliser of fewer sections. `worse_db` says by how much sections fit worse than those given; `settled` are
/// tried in turn on what is left, and all that is made fewer costs 0.1 dB of deviation at most.
///
/// # Errors
/// What a section cannot be set to.
pub(super) fn tidied(
    sections: Vec<EqSection>,
    most_cut_db: f64,
    worse_db: &dyn Fn(&[EqSection]) -> f64,
    settled: [Settle<'_>; 2],
) -> Result<Vec<EqSection>, TuneError> {
    let mut kept = sections;
    while let Some(fewer) = first_good(&kept, most_cut_db, worse_db, settled)? {
        kept = fewer;
    }
    Ok(kept)
}

fn first_good(
    kept: &[EqSection],
    most_cut_db: f64,
    worse_db: &dyn Fn(&[EqSection]) -> f64,
    settled: [Settle<'_>; 2],
) -> Result<Option<Vec<EqSection>>, TuneError> {
    for fewer in one_less(kept, most_cut_db)? {
        for settle in settled {
            let trial = settle(&fewer)?;
            if trial.len() < kept.len() && worse_db(&trial) <= MOST_WORSE_DB {
                return Ok(Some(trial));
            }
        }
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::filters::{EqKind, SampleRate, cascade_gain};

    fn bell(f: f64, g: f64, q: f64) -> EqSection {
        EqSection::new(EqKind::Peaking, f, g, q).unwrap()
    }

    fn gain_db(sections: &[EqSection]) -> Vec<f64> {
        let rate = SampleRate::R48K;
        let digital: Vec<_> = sections.iter().map(|s| s.section(rate).unwrap()).collect();
        let bands = (-13..=10).map(|n| 1_000.0 * 10_f64.powf(f64::from(n) / 10.0));
        bands.map(|f| 20.0 * cascade_gain(&digital, f, rate).norm().log10()).collect()
    }

    /// Root mean square of what two equalisers differ by.
    fn apart_db(a: &[EqSection], b: &[EqSection]) -> f64 {
        let (a, b) = (gain_db(a), gain_db(b));
        (a.iter().zip(&b).map(|(x, y)| (x - y).powi(2)).sum::<f64>() / a.len() as f64).sqrt()
    }

    /// Tidied as it stands, without a fit: what is told is held against the sections given.
    fn tidy(sections: &[EqSection]) -> Vec<EqSection> {
        let as_it_is = |s: &[EqSection]| Ok(s.to_vec());
        let worse = |s: &[EqSection]| apart_db(s, sections);
        tidied(sections.to_vec(), 9.0, &worse, [&as_it_is, &as_it_is]).unwrap()
    }

    /// A channel of a garden was given 675 Hz, +2.8 dB, Q 1.5 twice. By the cookbook's formula in floating point, worked out
    /// apart from this program, one bell of +5.6 dB differs from the two by 0.014 dB RMS, 0.027 dB at most.
    #[test]
    fn two_bells_at_one_place_are_one_of_their_sum() {
        let rest = [bell(167.0, -7.8, 0.65), bell(1_300.0, -3.6, 1.3)];
        let twice = [rest[0], bell(675.0, 2.8, 1.5), bell(675.0, 2.8, 1.5), rest[1]];
        let fewer = tidy(&twice);
        assert_eq!(fewer.len(), 3, "{fewer:?}");
        let one = fewer.iter().find(|s| s.gain_db() > 0.0).unwrap();
        assert!((one.frequency_hz() - 675.0).abs() < 1e-6 && (one.q() - 1.5).abs() < 1e-9, "{one:?}");
        assert!((one.gain_db() - 5.6).abs() < 1e-9, "{one:?}");
        assert!(apart_db(&fewer, &twice) < 0.03);
    }

    #[test]
    fn what_nobody_hears_goes_and_what_counts_stays() {
        let heard = [bell(160.0, -6.0, 1.4), bell(2_500.0, 2.0, 1.0)];
        assert_eq!(tidy(&[heard[0], heard[1], bell(500.0, 0.2, 4.0)]), heard);
        // Far from each other, of another width, or of another kind they are two.
        let two_widths = [bell(500.0, -3.0, 0.5), bell(500.0, -3.0, 3.0)];
        assert_eq!(tidy(&two_widths), two_widths);
        // A lift and a cut of one size at one place are nothing.
        assert_eq!(tidy(&[bell(500.0, 3.0, 1.0), bell(500.0, -3.0, 1.0)]), []);
    }

    /// One section cuts 9 dB at most: of two that would come to 14 dB none is given up, for 5 dB would be missing.
    #[test]
    fn a_sum_beyond_the_limit_stays_two() {
        let two = [bell(500.0, -7.0, 1.0), bell(510.0, -7.0, 1.0)];
        assert_eq!(tidy(&two).len(), 2);
    }
}
