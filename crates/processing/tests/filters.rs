//! Properties every filter must have, over the whole range of settings.

use loamline_processing::{
    Alignment, EqKind, EqSection, Pass, PassFilter, SampleRate, SettingError, cascade_gain,
};
use num_complex::Complex64;
use proptest::prelude::*;

fn alignment() -> impl Strategy<Value = (Alignment, u32)> {
    prop_oneof![
        (1..=8_u32).prop_map(|n| (Alignment::Butterworth, n)),
        (1..=4_u32).prop_map(|n| (Alignment::LinkwitzRiley, 2 * n)),
        (1..=8_u32).prop_map(|n| (Alignment::Bessel, n)),
    ]
}

fn pass() -> impl Strategy<Value = Pass> {
    prop_oneof![Just(Pass::HighPass), Just(Pass::LowPass)]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn every_pass_filter_is_stable((kind, order) in alignment(), response in pass(), place in 0.0..1.0_f64,
                                   rate in 0..3_usize) {
        let rate = SampleRate::COMMON[rate];
        let corner = (1.0_f64.ln() + place * (0.489 * rate.hz()).ln()).exp();
        let sections = PassFilter::new(kind, response, order, corner).unwrap().sections(rate).unwrap();
        let count = if kind == Alignment::LinkwitzRiley { 2 * order.div_ceil(4) } else { order.div_ceil(2) };
        prop_assert_eq!(sections.len(), count as usize);
        for s in &sections {
            prop_assert!(s.pole_radius() < 1.0, "{:?}", s);
        }
        // Pass band at one, stop band at nothing, and never louder than the input.
        let (open, shut) = match response {
            Pass::LowPass => (0.0, rate.hz() / 2.0),
            Pass::HighPass => (rate.hz() / 2.0, 0.0),
        };
        prop_assert!((cascade_gain(&sections, open, rate).norm() - 1.0).abs() < 1e-3);
        prop_assert!(cascade_gain(&sections, shut, rate).norm() < 1e-5);
        let at_corner = 20.0 * cascade_gain(&sections, corner, rate).norm().log10();
        let expected = if kind == Alignment::LinkwitzRiley { -6.020_6 } else { -3.010_3 };
        prop_assert!((at_corner - expected).abs() < 1e-3, "{} dB at the corner", at_corner);
    }

    #[test]
    fn every_equaliser_section_is_stable(kind in 0..3_usize, place in 0.0..1.0_f64, gain in -30.0..18.0_f64,
                                         q in 0.1..20.0_f64, rate in 0..3_usize) {
        let rate = SampleRate::COMMON[rate];
        let kind = [EqKind::Peaking, EqKind::LowShelf, EqKind::HighShelf][kind];
        let f = (place * (0.489 * rate.hz()).ln()).exp();
        let s = EqSection::new(kind, f, gain, q).unwrap().section(rate).unwrap();
        prop_assert!(s.pole_radius() < 1.0, "{:?}", s);
    }

    /// Linkwitz 1976: the two halves of a pair add up to an all-pass; orders 2 and 6 with one half turned over.
    #[test]
    fn linkwitz_riley_pairs_add_up_to_an_all_pass(half in 1..=4_u32, corner in 20.0..18_000.0_f64,
                                                  f in 20.0..20_000.0_f64, rate in 0..3_usize) {
        let rate = SampleRate::COMMON[rate];
        let order = 2 * half;
        let gain = |response| {
            let sections = PassFilter::new(Alignment::LinkwitzRiley, response, order, corner).unwrap().sections(rate);
            cascade_gain(&sections.unwrap(), f, rate)
        };
        let sign = if half % 2 == 1 { -1.0 } else { 1.0 };
        let sum: Complex64 = gain(Pass::LowPass) + gain(Pass::HighPass) * sign;
        prop_assert!((sum.norm() - 1.0).abs() < 1e-6, "{}", sum.norm());
    }
}

#[test]
fn refusals_say_what_to_set_instead() {
    let error = PassFilter::new(Alignment::LinkwitzRiley, Pass::HighPass, 3, 80.0).unwrap_err();
    assert_eq!(error, SettingError::OddLinkwitzRiley { order: 3 });
    assert_eq!(
        error.to_string(),
        "a Linkwitz-Riley filter of order 3 does not exist: it is two Butterworth filters of half the order in a \
         row, so choose 2, 4, 6 or 8"
    );
    let error =
        PassFilter::new(Alignment::Bessel, Pass::LowPass, 2, 30_000.0).unwrap().sections(SampleRate::R48K);
    assert_eq!(
        error.unwrap_err().to_string(),
        "a frequency of 30000 Hz cannot be set at a sample rate of 48000 Hz: it must lie between 0.48 Hz and \
         23520 Hz; choose a higher sample rate or another frequency"
    );
    assert!(PassFilter::new(Alignment::Bessel, Pass::LowPass, 2, f64::NAN).is_err());
    assert!(PassFilter::new(Alignment::Bessel, Pass::LowPass, 9, 100.0).is_err());
    let from_json: Result<PassFilter, _> =
        serde_json::from_str(r#"{"kind":"linkwitz-riley","response":"low-pass","order":5,"corner_hz":80}"#);
    assert!(from_json.unwrap_err().to_string().contains("order 5 does not exist"));
}
