//! Equalisation fitted to a predicted response.
//!
//! Constrained least squares on band levels: sections are added one at a time where they help most, all of them
//! are refined together after each addition, and adding stops when the next section would not earn its place.
//! The fit finds its own offset: only shape matters, and how much of the middle is given away for it. Bringing
//! everything down to the weakest end makes an even response out of any, and leaves no level to play it at: a loss of
//! level in the middle beyond [`FREE_LOSS_DB`] counts as deviation, [`LOSS_WORTH`] of it. Limits: a bound on the boost of the whole
//! equaliser in every band, no lift at or below the high-pass, bells no narrower than the bands can show, few
//! sections. A dip is filled with wide bells only: narrow dips in an average are places where sound cancels, and
//! power poured into them comes out elsewhere. A slope at an end of the range may be taken down by a shelf; a shelf
//! never lifts, because it would go on lifting beyond the range, below the high-pass or where the tweeter ends.

use super::solve::least_squares;
use super::tidy::tidied;
use super::{TuneError, all_finite, range, same_length};
use crate::filters::{EqKind, EqSection, SampleRate, cascade_gain};
use loamline_limits::go_on;
use serde::{Deserialize, Serialize};

/// What the equaliser may do.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FitLimits {
    /// Most sections to use.
    pub most_sections: usize,
    /// Highest boost of the whole equaliser at any frequency, dB. More asks power and excursion for little.
    pub most_boost_db: f64,
    /// Deepest cut of one section, dB.
    pub most_cut_db: f64,
    /// Narrowest bell for a cut. Third octaves cannot show anything narrower than Q 4.3.
    pub highest_q: f64,
    /// Narrowest bell for a boost.
    pub highest_boost_q: f64,
    /// Corner of the channel's high-pass, Hz: nothing is fitted or lifted at or below it.
    pub lowest_hz: f64,
    /// Highest frequency to fit, Hz.
    pub highest_hz: f64,
    /// Improvement of the RMS deviation a section must bring to be used, dB.
    pub worthwhile_db: f64,
    /// Sample rate at which the sections will run.
    pub sample_rate: SampleRate,
}

impl FitLimits {
    /// Common practice, no source: five sections, 3 dB of boost, 9 dB of cut, Q up to 4 (1.5 for boosts),
    /// 0.15 dB per section, 48 kHz.
    pub const fn usual(high_pass_hz: f64) -> Self {
        Self {
            most_sections: 5,
            most_boost_db: 3.0,
            most_cut_db: 9.0,
            highest_q: 4.0,
            highest_boost_q: 1.5,
            lowest_hz: high_pass_hz,
            highest_hz: 12_500.0,
            worthwhile_db: 0.15,
            sample_rate: SampleRate::R48K,
        }
    }
}

/// The response to even out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitTarget<'a> {
    /// Band centres, Hz, rising.
    pub frequencies_hz: &'a [f64],
    /// Predicted level per band, dB, averaged over the areas.
    pub level_db: &'a [f64],
    /// Wanted shape per band, dB; its level does not matter.
    pub wanted_db: &'a [f64],
}

/// A fitted equaliser.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EqFit {
    /// Sections, rising in frequency, in steps any equipment can be set to.
    pub sections: Vec<EqSection>,
    /// Gain of the sections together per band of the input, dB.
    pub gain_db: Vec<f64>,
    /// RMS deviation from the wanted shape inside the range before, dB.
    pub before_rms_db: f64,
    /// RMS deviation from the wanted shape inside the range after, dB.
    pub after_rms_db: f64,
    /// Mean level change inside the range, dB: the channel's gain can take it back.
    pub mean_gain_db: f64,
}

/// Energy average of several areas' levels per band: `levels_db[area][band]`, one weight per area.
///
/// # Errors
/// No area, lists of different lengths, values that are not numbers, weights that do not add up to more than zero.
pub fn area_average_db(levels_db: &[Vec<f64>], weights: &[f64]) -> Result<Vec<f64>, TuneError> {
    let first = levels_db.first().ok_or(TuneError::Nothing("areas"))?;
    same_length("area weights", weights.len(), levels_db.len())?;
    all_finite("area weights", weights)?;
    let total: f64 = weights.iter().sum();
    range("the sum of area weights", 0.0, total)?;
    for levels in levels_db {
        same_length("band levels of an area", levels.len(), first.len())?;
        all_finite("band levels of an area", levels)?;
    }
    Ok((0..first.len())
        .map(|band| {
            let energy: f64 =
                levels_db.iter().zip(weights).map(|(l, w)| w.max(0.0) * 10_f64.powf(l[band] / 10.0)).sum();
            10.0 * (energy / total).max(1e-30).log10()
        })
        .collect())
}

/// Fits sections that bring `target.level_db` to the shape `target.wanted_db` within `limits`.
///
/// # Errors
/// Lists of different lengths, values that are not numbers, contradicting limits, fewer than three bands in range.
pub fn fit_equaliser(target: &FitTarget<'_>, limits: &FitLimits) -> Result<EqFit, TuneError> {
    let problem = Problem::new(target, limits)?;
    let before_rms_db = problem.rms(&[]);
    let (mut kept, mut score) = (Vec::new(), before_rms_db);
    while kept.len() < limits.most_sections {
        let Some(candidate) = problem.best_addition(&kept)? else { break };
        let trial = problem.score(&candidate);
        if score - trial < limits.worthwhile_db {
            break;
        }
        (kept, score) = (candidate, trial);
    }
    let mut kept = problem.of_fewer(kept)?;
    kept.sort_by(|a, b| a.frequency_hz().total_cmp(&b.frequency_hz()));
    let gain_db = problem.gain(&kept, target.frequencies_hz);
    let inside = problem.gain(&kept, &problem.frequencies_hz);
    Ok(EqFit {
        gain_db,
        before_rms_db,
        after_rms_db: problem.rms(&kept),
        mean_gain_db: inside.iter().sum::<f64>() / inside.len() as f64,
        sections: kept,
    })
}

/// The bands inside the range, and the limits.
struct Problem<'a> {
    limits: &'a FitLimits,
    frequencies_hz: Vec<f64>,
    /// Predicted less wanted, dB.
    error_db: Vec<f64>,
    /// Frequencies at and below the high-pass where nothing may be lifted.
    quiet_hz: [f64; 3],
}

/// Lift allowed at and below the high-pass, dB: the foot of a bell further up.
const FOOT_DB: f64 = 0.5;
/// A bell that lifts stands this far above the high-pass: a third of an octave. Beside a cut it could keep the foot low
/// while it works against the protection.
const LIFTED_FROM: f64 = 1.26;

impl<'a> Problem<'a> {
    fn new(target: &FitTarget<'_>, limits: &'a FitLimits) -> Result<Self, TuneError> {
        let n = target.frequencies_hz.len();
        same_length("predicted levels", target.level_db.len(), n)?;
        same_length("wanted levels", target.wanted_db.len(), n)?;
        all_finite("frequencies", target.frequencies_hz)?;
        all_finite("predicted levels", target.level_db)?;
        all_finite("wanted levels", target.wanted_db)?;
        range("the range to equalise (Hz)", limits.lowest_hz, limits.highest_hz)?;
        range("the Q of bells", LOWEST_Q, limits.highest_q.min(limits.highest_boost_q))?;
        range("the gain of sections (dB)", -limits.most_cut_db, limits.most_boost_db)?;
        // The widest allowed settings must exist; after this every setting inside the box does.
        EqSection::new(EqKind::Peaking, limits.lowest_hz, -limits.most_cut_db, limits.highest_q)?
            .section(limits.sample_rate)?;
        EqSection::new(EqKind::Peaking, limits.highest_hz, limits.most_boost_db, limits.highest_boost_q)?
            .section(limits.sample_rate)?;
        let (mut frequencies_hz, mut error_db) = (Vec::new(), Vec::new());
        for ((f, l), w) in target.frequencies_hz.iter().zip(target.level_db).zip(target.wanted_db) {
            if *f > limits.lowest_hz && *f <= limits.highest_hz {
                frequencies_hz.push(*f);
                error_db.push(l - w);
            }
        }
        if frequencies_hz.len() < 3 {
            let (lowest_hz, highest_hz) = (limits.lowest_hz, limits.highest_hz);
            return Err(TuneError::TooFewBands { found: frequencies_hz.len(), lowest_hz, highest_hz });
        }
        let quiet_hz = [1.0, 0.7, 0.5].map(|part| part * limits.lowest_hz);
        Ok(Self { limits, frequencies_hz, error_db, quiet_hz })
    }

    /// Gain of `sections` in dB at `frequencies_hz`.
    fn gain(&self, sections: &[EqSection], frequencies_hz: &[f64]) -> Vec<f64> {
        let rate = self.limits.sample_rate;
        let digital: Vec<_> = sections.iter().filter_map(|s| s.section(rate).ok()).collect();
        frequencies_hz
            .iter()
            .map(|f| 20.0 * cascade_gain(&digital, *f, rate).norm().max(1e-15).log10())
            .collect()
    }

    fn rms(&self, sections: &[EqSection]) -> f64 {
        self.rms_of(&self.gain(sections, &self.frequencies_hz))
    }

    /// Deviation with what is given away of the middle counted in, dB.
    fn score(&self, sections: &[EqSection]) -> f64 {
        go_on();
        let gain = self.gain(sections, &self.frequencies_hz);
        self.rms_of(&gain).hypot(LOSS_WORTH * self.loss_db(&gain))
    }

    /// Level lost in the middle beyond what is free, dB, for gains at the bands.
    fn loss_db(&self, gain_db: &[f64]) -> f64 {
        let in_middle = |f: &f64| (MIDDLE_HZ.0..=MIDDLE_HZ.1).contains(f);
        let middle = self.frequencies_hz.iter().zip(gain_db).filter(|x| in_middle(x.0));
        let (sum, n) = middle.fold((0.0, 0.0), |(s, n), (_, g)| (s + g, n + 1.0));
        if n > 0.0 { (-sum / n - FREE_LOSS_DB).max(0.0) } else { 0.0 }
    }

    fn rms_of(&self, gain: &[f64]) -> f64 {
        let after: Vec<f64> = gain.iter().zip(&self.error_db).map(|(g, e)| g + e).collect();
        let mean = after.iter().sum::<f64>() / after.len() as f64;
        (after.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / after.len() as f64).sqrt()
    }

    /// `kept` with the section added that leaves the least error, all refined together and rounded.
    fn best_addition(&self, kept: &[EqSection]) -> Result<Option<Vec<EqSection>>, TuneError> {
        let gain = self.gain(kept, &self.frequencies_hz);
        let left: Vec<f64> = gain.iter().zip(&self.error_db).map(|(g, e)| g + e).collect();
        let mean = left.iter().sum::<f64>() / left.len() as f64;
        let mut best: Option<(f64, EqSection)> = None;
        for (at, (f, e)) in self.frequencies_hz.iter().zip(&left).enumerate() {
            for (kind, q) in TRIED {
                // A shelf brings one side of its frequency to the other, a bell its centre to the mean.
                let (below, above) = (mean_of(&left[..=at]), mean_of(&left[at..]));
                let wanted = match kind {
                    EqKind::Peaking => mean - e,
                    EqKind::LowShelf => above - below,
                    EqKind::HighShelf => below - above,
                };
                let g = wanted.clamp(-self.limits.most_cut_db, self.limits.most_boost_db);
                let lift = g > 0.0 && (kind != EqKind::Peaking || *f < self.lifted_from_hz());
                if g.abs() < 0.25 || q > self.highest_q(kind, g) || lift {
                    continue;
                }
                let section = EqSection::new(kind, *f, g, q)?;
                let mut trial = kept.to_vec();
                trial.push(section);
                let score = self.score(&trial);
                if best.as_ref().is_none_or(|(b, _)| score < *b) {
                    best = Some((score, section));
                }
            }
        }
        let Some((_, added)) = best else { return Ok(None) };
        let mut sections = kept.to_vec();
        sections.push(added);
        let refined = self.refine(&sections)?;
        Ok(Some(self.within_boost(refined)?))
    }

    /// The same of fewer sections where some coincide or do next to nothing: refined again, or as they come to, which may
    /// give one bell the boost that several had. What is limited is the boost of the whole.
    fn of_fewer(&self, kept: Vec<EqSection>) -> Result<Vec<EqSection>, TuneError> {
        let (score, rms) = (self.score(&kept), self.rms(&kept));
        let worse_db = |s: &[EqSection]| (self.score(s) - score).max(self.rms(s) - rms);
        let refined = |s: &[EqSection]| self.within_boost(self.refine(s)?);
        let as_they_come = |s: &[EqSection]| self.within_boost(s.to_vec());
        tidied(kept, self.limits.most_cut_db, &worse_db, [&refined, &as_they_come])
    }

    /// Lowest frequency of a bell that lifts, Hz: a third of an octave above the high-pass.
    fn lifted_from_hz(&self) -> f64 {
        (LIFTED_FROM * self.limits.lowest_hz).min(self.limits.highest_hz)
    }

    /// Highest Q of a section of this kind and gain.
    const fn highest_q(&self, kind: EqKind, gain_db: f64) -> f64 {
        match kind {
            EqKind::Peaking if gain_db > 0.0 => self.limits.highest_boost_q,
            EqKind::Peaking => self.limits.highest_q,
            EqKind::LowShelf | EqKind::HighShelf => STEEPEST_SHELF_Q,
        }
    }

    /// All parameters of `sections` together: ln f, gain, ln Q of each, and the offset.
    fn refine(&self, sections: &[EqSection]) -> Result<Vec<EqSection>, TuneError> {
        let l = self.limits;
        let (mut x, mut lower, mut upper, mut step) = (vec![], vec![], vec![], vec![]);
        for s in sections {
            let boost = s.gain_db() > 0.0;
            x.extend([s.frequency_hz().ln(), s.gain_db(), s.q().ln()]);
            let lowest_hz = if boost { self.lifted_from_hz() } else { l.lowest_hz };
            lower.extend([lowest_hz.ln(), if boost { 0.0 } else { -l.most_cut_db }, LOWEST_Q.ln()]);
            upper.extend([
                l.highest_hz.ln(),
                if boost { l.most_boost_db } else { 0.0 },
                self.highest_q(s.kind(), s.gain_db()).ln(),
            ]);
            step.extend([1e-4, 1e-3, 1e-4]);
        }
        let error_mean = self.error_db.iter().sum::<f64>() / self.error_db.len() as f64;
        x.push(error_mean);
        lower.push(error_mean - 60.0);
        upper.push(error_mean + 60.0);
        step.push(1e-3);
        let kinds: Vec<EqKind> = sections.iter().map(EqSection::kind).collect();
        let residuals = |x: &[f64]| {
            let sections = sections_at(&kinds, x);
            let gain = self.gain(&sections, &self.frequencies_hz);
            let offset = x[x.len() - 1];
            let mut r: Vec<f64> = gain.iter().zip(&self.error_db).map(|(g, e)| g + e - offset).collect();
            r.extend(gain.iter().map(|g| 4.0 * (g - l.most_boost_db).max(0.0)));
            r.push((gain.len() as f64).sqrt() * LOSS_WORTH * self.loss_db(&gain));
            r.extend(self.gain(&sections, &self.quiet_hz).iter().map(|g| 4.0 * (g - 0.5 * FOOT_DB).max(0.0)));
            r
        };
        let (x, _) = least_squares(x, &lower, &upper, &step, &residuals);
        let settled = sections_at(&kinds, &x);
        settled.iter().map(|s| self.rounded(s, 1.0)).collect()
    }

    /// In steps that can be typed in: about 1 % in frequency, 0.1 dB, 0.05 in Q; boosts times `boost_share`.
    fn rounded(&self, s: &EqSection, boost_share: f64) -> Result<EqSection, TuneError> {
        let f = s.frequency_hz();
        let step = if f < 200.0 { 1.0 } else { 10_f64.powf(f.log10().floor() - 1.0) / 2.0 };
        let share = if s.gain_db() > 0.0 { boost_share } else { 1.0 };
        let f = ((f / step).round() * step).clamp(self.limits.lowest_hz, self.limits.highest_hz);
        let gain = (s.gain_db() * share * 10.0).round() / 10.0;
        let q = ((s.q() * 20.0).round() / 20.0).max(LOWEST_Q);
        Ok(EqSection::new(s.kind(), f, gain, q.min(self.highest_q(s.kind(), gain)))?)
    }

    /// The sections with their boosts lowered until the whole keeps the boost limit and the foot limit.
    fn within_boost(&self, sections: Vec<EqSection>) -> Result<Vec<EqSection>, TuneError> {
        let checked: Vec<f64> = (0..=240)
            .map(|i| {
                self.limits.lowest_hz
                    * (self.limits.highest_hz / self.limits.lowest_hz).powf(f64::from(i) / 240.0)
            })
            .collect();
        for tenth in (0..=20).rev() {
            let share = f64::from(tenth) / 20.0;
            let trial: Vec<EqSection> =
                sections.iter().map(|s| self.rounded(s, share)).collect::<Result<_, _>>()?;
            let top = self.gain(&trial, &checked).into_iter().fold(f64::MIN, f64::max);
            let foot = self.gain(&trial, &self.quiet_hz).into_iter().fold(f64::MIN, f64::max);
            if top <= self.limits.most_boost_db + 1e-9 && foot <= FOOT_DB {
                return Ok(trial.into_iter().filter(|s| s.gain_db() != 0.0).collect());
            }
        }
        Ok(sections.into_iter().filter(|s| s.gain_db() < 0.0).collect())
    }
}

/// The middle, whose level is what listeners call loudness, Hz; for subwoofers there is none.
const MIDDLE_HZ: (f64, f64) = (450.0, 2240.0);
/// Level that may be given away in the middle for an even response, dB (common practice, no source).
const FREE_LOSS_DB: f64 = 3.0;
/// Deviation, dB, that each further decibel given away counts as (common practice, no source).
const LOSS_WORTH: f64 = 0.4;

/// Widest bell; wider ones are a change of level.
const LOWEST_Q: f64 = 0.4;
/// Steepest shelf without overshoot, 0.707, in a step that can be typed in.
const STEEPEST_SHELF_Q: f64 = 0.7;
/// Kinds and Q tried at every band.
const TRIED: [(EqKind, f64); 6] = [
    (EqKind::Peaking, LOWEST_Q),
    (EqKind::Peaking, 0.8),
    (EqKind::Peaking, 1.5),
    (EqKind::Peaking, 3.0),
    (EqKind::LowShelf, STEEPEST_SHELF_Q),
    (EqKind::HighShelf, STEEPEST_SHELF_Q),
];

fn sections_at(kinds: &[EqKind], x: &[f64]) -> Vec<EqSection> {
    let each = x.chunks_exact(3).zip(kinds);
    each.filter_map(|(p, kind)| EqSection::new(*kind, p[0].exp(), p[1], p[2].exp()).ok()).collect()
}

fn mean_of(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

#[cfg(test)]
mod tests;
