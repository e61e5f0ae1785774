//! Gain structure: from what arrives at an amplifier's inputs to the voltage a channel's loudspeakers want.
//!
//! Voltages are RMS; dBu is relative to 0.7746 V. An input of sensitivity S drives its output to full scale, a sine of voltage F
//! which is the amplifier's own and hangs on no load, while the channel's gain is 0 dB: a level V at it stands 20 lg(V/S) below
//! full scale. What an output gives into the load that is there may be less (its most): a gain that asks for more cuts peaks
//! off. A programme whose peaks just reach
//! full scale lies below a full-scale sine by its crest factor c less 3.01 dB, a sine's own; a channel `below` full scale
//! is meant to give F * 10^((below - (c - 3.01)) / 20). The gain wanted is the difference. Sides that a channel adds are
//! taken to differ: their energies add for the level. For clipping they are taken to be alike, and their voltages add.
//! Light carries full scale as such: its peaks are taken to reach it. Two outputs bridged give their voltages one on top of
//! the other; on a line whose voltage one of them gives alone that is twice full output.
//!
//! Noise of a source passes the gain its signal gets, noises add by energy, and both are voltages weighted by A: over
//! loudspeakers that are even where the ear is keen, the level they make is that of a full-scale sine less F over their
//! voltage. Left out: noise of input stages at high gain, hum, what leads lose (an input takes thousands of ohms).
//!
//! Sources: the definitions of dBu and dBV; Ohm's law. Levels that sources are usually meant to have are common practice,
//! no source. Checked by hand here and by a program of its own in `checks/test_sources.py`.

use crate::protect::dbu;
use serde::Serialize;
use std::f64::consts::SQRT_2;

/// What arrives at one input a channel adds.
#[derive(Debug, Clone, PartialEq)]
pub struct InputSignal {
    /// Lead that brings it.
    pub lead: String,
    /// Input, from 1.
    pub input: u32,
    /// What it is.
    pub arriving: Arriving,
}

/// What arrives at an input.
#[derive(Debug, Clone, PartialEq)]
pub enum Arriving {
    /// A voltage.
    Voltage {
        /// Level of the programme, V RMS.
        nominal_v: f64,
        /// Largest sine the source gives, V RMS, where it is known.
        highest_v: Option<f64>,
        /// Noise of the source, A-weighted, V RMS, where it is known.
        noise_v: Option<f64>,
        /// Sine at the input that drives the output to full at a gain of 0 dB, V RMS.
        sensitivity_v: f64,
        /// Largest sine the input takes, V RMS.
        greatest_v: f64,
    },
    /// Light, with one side or both in it.
    Light {
        /// Sides in it.
        sides: u32,
    },
}

/// A source, as a channel gets it.
#[derive(Debug, Clone, PartialEq)]
pub struct FeedingSource {
    /// Its id.
    pub source: String,
    /// Its inputs.
    pub inputs: Vec<InputSignal>,
}

/// A channel, as far as its gain is concerned.
#[derive(Debug, Clone, PartialEq)]
pub struct GainAsked {
    /// Sources it adds.
    pub sources: Vec<FeedingSource>,
    /// Full scale, V RMS of a sine.
    pub full_output_v: f64,
    /// Largest sine the output gives into what hangs on it, V RMS: full scale or less.
    pub most_output_v: f64,
    /// What the outputs give together while an input stands at its sensitivity, re full output: 2 for two bridged on a line
    /// whose voltage each of them gives, else 1.
    pub together: f64,
    /// How far below full scale the programme's peaks are meant to stay: its gain in the design, dB.
    pub below_full_scale_db: f64,
    /// Peak over RMS of the programme, dB.
    pub crest_factor_db: f64,
    /// Noise of the amplifier at its output, A-weighted, V RMS, where it is known.
    pub amplifier_noise_v: Option<f64>,
    /// Level of a full-scale sine at the nearest listener, dB, where it is known.
    pub full_scale_db: Option<f64>,
}

/// The gain structure of a channel.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GainStructure {
    /// Full scale, V RMS of a sine.
    pub full_output_v: f64,
    /// Largest sine the output gives into what hangs on it, V RMS: full scale or less.
    pub most_output_v: f64,
    /// Level at the output that the design means, V RMS.
    pub wanted_v: f64,
    /// The same in dBu.
    pub wanted_dbu: f64,
    /// Peaks of that level, both sides of a source alike, V.
    pub peak_v: f64,
    /// How far those peaks stay below the largest sine, dB; negative where they are cut off.
    pub clipping_margin_db: f64,
    /// Gain to set between inputs and output, dB: the most that any of its sources needs; absent without a source.
    pub gain_db: Option<f64>,
    /// Its sources.
    pub sources: Vec<SourceGain>,
    /// Noise of all sources at the output, A-weighted, V RMS; absent where none is known.
    pub source_noise_v: Option<f64>,
    /// Noise of the amplifier at the output, A-weighted, V RMS; absent where it is not known.
    pub amplifier_noise_v: Option<f64>,
    /// Level of the noise that is known, at the nearest listener, dBA; absent where none is known or nothing sounds.
    pub noise_dba: Option<f64>,
}

/// What a channel does with one of its sources.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SourceGain {
    /// Its id.
    pub source: String,
    /// Inputs it arrives at.
    pub inputs: Vec<InputStage>,
    /// Level of its programme, all its inputs added, dB re full scale at a gain of 0 dB.
    pub level_db: f64,
    /// Gain it needs, dB.
    pub needed_gain_db: f64,
    /// How far it is to be turned down in this channel's mix, so that it is as loud as the weakest source, dB.
    pub turn_down_db: f64,
}

/// Level at an input.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct InputStage {
    /// Input, from 1.
    pub input: u32,
    /// Lead that ends there.
    pub lead: String,
    /// Level of the programme, V RMS; absent for light.
    pub level_v: Option<f64>,
    /// The same in dBu.
    pub level_dbu: Option<f64>,
    /// Largest sine that arrives, V RMS: as the source states it, else the one whose peaks are the programme's.
    pub highest_v: Option<f64>,
    /// How far that stays below what the input takes, dB; negative where the input clips. Absent for light.
    pub headroom_db: Option<f64>,
}

/// Works the gain structure of a channel out.
pub fn gain_structure(asked: &GainAsked) -> GainStructure {
    let over_sine_db = asked.crest_factor_db - SINE_CREST_DB;
    let wanted_db = asked.below_full_scale_db - over_sine_db;
    let wanted_v = asked.full_output_v * ratio(wanted_db);
    let mut sources: Vec<SourceGain> =
        asked.sources.iter().map(|s| source_gain(s, asked, wanted_db, over_sine_db)).collect();
    let gain_db = sources.iter().map(|s| s.needed_gain_db).reduce(f64::max);
    for s in &mut sources {
        s.turn_down_db = gain_db.map_or(0.0, |g| g - s.needed_gain_db);
    }
    // What both sides alike add over both sides different, for the source where that is most.
    let alike = asked.sources.iter().map(|s| alike_over_different(s, over_sine_db)).fold(1.0, f64::max);
    let peak_v = wanted_v * alike * SQRT_2 * ratio(over_sine_db);
    let source_noise_v = source_noise_v(asked, &sources);
    let known: Vec<f64> = source_noise_v.into_iter().chain(asked.amplifier_noise_v).collect();
    let all_v = known.iter().map(|v| v * v).sum::<f64>().sqrt();
    GainStructure {
        full_output_v: asked.full_output_v,
        most_output_v: asked.most_output_v,
        wanted_v,
        wanted_dbu: dbu(wanted_v),
        peak_v,
        clipping_margin_db: decibels(SQRT_2 * asked.most_output_v / peak_v),
        gain_db,
        sources,
        source_noise_v,
        amplifier_noise_v: asked.amplifier_noise_v,
        noise_dba: asked
            .full_scale_db
            .filter(|_| !known.is_empty())
            .map(|full| full + decibels(all_v / asked.full_output_v)),
    }
}

/// Crest factor of a sine, dB: 20 lg sqrt 2.
const SINE_CREST_DB: f64 = 3.010_299_956_639_812;

fn ratio(db: f64) -> f64 {
    10_f64.powf(db / 20.0)
}

fn decibels(ratio: f64) -> f64 {
    20.0 * ratio.log10()
}

/// Voltages of a source's sides re full scale at a gain of 0 dB.
fn sides(s: &FeedingSource, over_sine_db: f64) -> Vec<f64> {
    let of = |i: &InputSignal| match i.arriving {
        Arriving::Voltage { nominal_v, sensitivity_v, .. } => vec![nominal_v / sensitivity_v],
        Arriving::Light { sides } => vec![ratio(-over_sine_db); sides as usize],
    };
    s.inputs.iter().flat_map(of).collect()
}

fn source_gain(s: &FeedingSource, asked: &GainAsked, wanted_db: f64, over_sine_db: f64) -> SourceGain {
    let energy: f64 = sides(s, over_sine_db).iter().map(|v| v * v).sum();
    let level_db = 10.0 * energy.log10() + decibels(asked.together);
    SourceGain {
        source: s.source.clone(),
        inputs: s.inputs.iter().map(|i| stage(i, over_sine_db)).collect(),
        level_db,
        needed_gain_db: wanted_db - level_db,
        turn_down_db: 0.0,
    }
}

fn stage(i: &InputSignal, over_sine_db: f64) -> InputStage {
    let (level_v, highest_v, headroom_db) = match i.arriving {
        Arriving::Voltage { nominal_v, highest_v, greatest_v, .. } => {
            let highest_v = highest_v.unwrap_or(nominal_v * ratio(over_sine_db));
            (Some(nominal_v), Some(highest_v), Some(decibels(greatest_v / highest_v)))
        }
        Arriving::Light { .. } => (None, None, None),
    };
    InputStage {
        input: i.input,
        lead: i.lead.clone(),
        level_v,
        level_dbu: level_v.map(dbu),
        highest_v,
        headroom_db,
    }
}

/// Voltage of all sides added in phase over the same added by energy.
fn alike_over_different(s: &FeedingSource, over_sine_db: f64) -> f64 {
    let sides = sides(s, over_sine_db);
    let energy: f64 = sides.iter().map(|v| v * v).sum();
    if energy > 0.0 { sides.iter().sum::<f64>() / energy.sqrt() } else { 1.0 }
}

/// Noise of the sources at the output, each behind the gain its signal gets.
fn source_noise_v(asked: &GainAsked, gains: &[SourceGain]) -> Option<f64> {
    let mut energy = None;
    for (s, g) in asked.sources.iter().zip(gains) {
        for i in &s.inputs {
            if let Arriving::Voltage { noise_v: Some(noise_v), sensitivity_v, .. } = i.arriving {
                let at_output_v =
                    asked.together * asked.full_output_v * noise_v / sensitivity_v * ratio(g.needed_gain_db);
                *energy.get_or_insert(0.0) += at_output_v * at_output_v;
            }
        }
    }
    energy.map(f64::sqrt)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn side(input: u32, nominal_v: f64) -> InputSignal {
        let arriving = Arriving::Voltage {
            nominal_v,
            highest_v: Some(2.0),
            noise_v: Some(1e-5),
            sensitivity_v: 1.0,
            greatest_v: 8.0,
        };
        InputSignal { lead: format!("W{input}"), input, arriving }
    }

    /// 100 V full output, meant 6.02 dB below full scale, a crest factor of 12.04 dB: peaks of 70.71 V, so 17.68 V RMS.
    fn asked(sources: Vec<FeedingSource>) -> GainAsked {
        GainAsked {
            sources,
            full_output_v: 100.0,
            most_output_v: 100.0,
            together: 1.0,
            below_full_scale_db: -20.0 * 2_f64.log10(),
            crest_factor_db: 20.0 * 4_f64.log10(),
            amplifier_noise_v: Some(3e-3),
            full_scale_db: Some(110.0),
        }
    }

    fn near(found: f64, expected: f64) {
        assert!((found - expected).abs() < 1e-9 * expected.abs().max(1.0), "{found}, expected {expected}");
    }

    /// Worked by hand: peaks half of 141.4 V are 70.71 V, a quarter of that is the RMS.
    #[test]
    fn one_side_takes_the_gain_that_is_missing() {
        let one = FeedingSource { source: "Q1".to_owned(), inputs: vec![side(1, 0.1)] };
        let g = gain_structure(&asked(vec![one]));
        near(g.wanted_v, 100.0 * SQRT_2 / 8.0);
        near(g.peak_v, 100.0 / SQRT_2);
        near(g.clipping_margin_db, 20.0 * 2_f64.log10());
        // 17.68 V wanted, 0.1 V of 1 V give 10 V: 1.768 times as much.
        near(g.gain_db.unwrap_or(f64::NAN), 20.0 * (SQRT_2 / 0.8).log10());
        near(g.sources[0].inputs[0].headroom_db.unwrap_or(f64::NAN), 20.0 * 4_f64.log10());
        // 10 uV of noise times 100 times 1.768 and 3 mV together, below 110 dB at 100 V.
        let noise_v = (1e-5 * 100.0 * SQRT_2 / 0.8).hypot(3e-3);
        near(g.noise_dba.unwrap_or(f64::NAN), 110.0 + 20.0 * (noise_v / 100.0).log10());
    }

    /// Two sides that differ are 3.01 dB more than one; alike they are 6.02 dB more, so their peaks come nearer by 3.01 dB.
    #[test]
    fn two_sides_add_by_energy_and_clip_by_voltage() {
        let one = FeedingSource { source: "Q1".to_owned(), inputs: vec![side(1, 0.1)] };
        let two = FeedingSource { source: "Q1".to_owned(), inputs: vec![side(1, 0.1), side(2, 0.1)] };
        let (one, two) = (gain_structure(&asked(vec![one])), gain_structure(&asked(vec![two])));
        let more = 10.0 * 2_f64.log10();
        near(two.sources[0].level_db - one.sources[0].level_db, more);
        near(one.clipping_margin_db - two.clipping_margin_db, more);
        near(two.wanted_v, one.wanted_v);
    }

    /// Light arrives at full scale: at a gain of 0 dB one side of it is 0 dB below full scale at its peaks.
    #[test]
    fn light_needs_the_gain_of_the_design() {
        let inputs =
            vec![InputSignal { lead: "W1".to_owned(), input: 5, arriving: Arriving::Light { sides: 1 } }];
        let g = gain_structure(&asked(vec![FeedingSource { source: "Q1".to_owned(), inputs }]));
        near(g.gain_db.unwrap_or(f64::NAN), -20.0 * 2_f64.log10());
        assert_eq!((g.source_noise_v, g.sources[0].inputs[0].headroom_db), (None, None));
    }

    /// Two outputs in series give 6.02 dB more: so much less gain, and no other noise of the source.
    #[test]
    fn bridged_outputs_need_half_the_voltage_at_the_input() {
        let of = |together| {
            let one = FeedingSource { source: "Q1".to_owned(), inputs: vec![side(1, 0.1)] };
            gain_structure(&GainAsked { together, ..asked(vec![one]) })
        };
        let (one, two) = (of(1.0), of(2.0));
        let less = one.gain_db.unwrap_or(f64::NAN) - two.gain_db.unwrap_or(f64::NAN);
        near(less, 20.0 * 2_f64.log10());
        near(two.source_noise_v.unwrap_or(f64::NAN), one.source_noise_v.unwrap_or(f64::INFINITY));
        near(two.clipping_margin_db, one.clipping_margin_db);
    }

    /// An output that gives 40 V of its 100 V into what hangs on it: the gain to set is the same, the peaks of 70.71 V are more than
    /// the 56.57 V of that sine by 20 lg 1.25.
    #[test]
    fn a_load_takes_from_the_margin_and_not_from_the_gain() {
        let one = || vec![FeedingSource { source: "Q1".to_owned(), inputs: vec![side(1, 0.1)] }];
        let (free, held) = (
            gain_structure(&asked(one())),
            gain_structure(&GainAsked { most_output_v: 40.0, ..asked(one()) }),
        );
        near(held.gain_db.unwrap_or(f64::NAN), free.gain_db.unwrap_or(f64::NAN));
        near(held.clipping_margin_db, -20.0 * 1.25_f64.log10());
    }

    #[test]
    fn the_weakest_source_sets_the_gain_and_the_others_are_turned_down() {
        let of = |id: &str, v| FeedingSource { source: id.to_owned(), inputs: vec![side(1, v)] };
        let g = gain_structure(&asked(vec![of("Q1", 1.0), of("Q2", 0.1)]));
        near(g.sources[0].turn_down_db, 20.0);
        near(g.sources[1].turn_down_db, 0.0);
        near(g.gain_db.unwrap_or(f64::NAN), g.sources[1].needed_gain_db);
    }

    /// A source that does not state its largest sine: the sine whose peaks are those of its programme.
    #[test]
    fn peaks_stand_in_for_a_largest_sine_that_is_not_stated() {
        let arriving = Arriving::Voltage {
            nominal_v: 1.0,
            highest_v: None,
            noise_v: None,
            sensitivity_v: 1.0,
            greatest_v: 2.0,
        };
        let inputs = vec![InputSignal { lead: "W1".to_owned(), input: 1, arriving }];
        let g = gain_structure(&GainAsked {
            amplifier_noise_v: None,
            ..asked(vec![FeedingSource { source: "Q1".to_owned(), inputs }])
        });
        // Peaks of 4 V are those of a sine of 2.83 V RMS, 3.01 dB more than the 2 V taken.
        near(g.sources[0].inputs[0].headroom_db.unwrap_or(f64::NAN), -10.0 * 2_f64.log10());
        assert_eq!(g.noise_dba, None);
    }

    #[test]
    fn without_a_source_nothing_is_to_be_set() {
        let g = gain_structure(&asked(Vec::new()));
        assert_eq!((g.gain_db, g.sources.len()), (None, 0));
        near(g.clipping_margin_db, 20.0 * 2_f64.log10());
    }
}
