//! The fit against responses made of known sections, and its limits on hard ones.

use super::*;

fn bands() -> Vec<f64> {
    (-17..=13).map(|n| 1_000.0 * 10_f64.powf(f64::from(n) / 10.0)).collect()
}

fn spoiled_by(sections: &[EqSection]) -> Vec<f64> {
    let rate = SampleRate::R48K;
    let digital: Vec<_> = sections.iter().map(|s| s.section(rate).unwrap()).collect();
    bands().iter().map(|f| 80.0 + 20.0 * cascade_gain(&digital, *f, rate).norm().log10()).collect()
}

fn fit(level_db: &[f64], limits: &FitLimits) -> EqFit {
    let wanted = vec![0.0; level_db.len()];
    fit_equaliser(&FitTarget { frequencies_hz: &bands(), level_db, wanted_db: &wanted }, limits).unwrap()
}

/// Two bells are undone by two opposite bells: a response made of them is brought back to flat.
#[test]
fn undoes_what_two_bells_did() {
    let bell = |f, g, q| EqSection::new(EqKind::Peaking, f, g, q).unwrap();
    let level = spoiled_by(&[bell(160.0, 6.0, 1.4), bell(2_500.0, 4.0, 2.0)]);
    let fit = fit(&level, &FitLimits::usual(60.0));
    assert_eq!(fit.sections.len(), 2, "{fit:?}");
    assert!(fit.after_rms_db < 0.1 && fit.before_rms_db > 1.0, "{fit:?}");
    assert!((fit.sections[0].frequency_hz() - 160.0).abs() < 5.0);
    assert!((fit.sections[0].gain_db() + 6.0).abs() < 0.3);
}

/// A low shelf is undone by one opposite low shelf, which no single bell could do as well.
#[test]
fn undoes_a_shelf_with_a_shelf() {
    let level = spoiled_by(&[EqSection::new(EqKind::LowShelf, 250.0, 6.0, 0.7).unwrap()]);
    let fit = fit(&level, &FitLimits::usual(60.0));
    assert_eq!(fit.sections.len(), 1, "{fit:?}");
    assert_eq!(fit.sections[0].kind(), EqKind::LowShelf);
    assert!(fit.after_rms_db < 0.1 && fit.before_rms_db > 2.0, "{fit:?}");
    assert!((fit.sections[0].gain_db() + 6.0).abs() < 0.3, "{fit:?}");
}

/// The equaliser that one channel of a garden was given, turned into the response that asks for it: the lift at 675 Hz
/// is more than one bell may give by itself, and no two sections of the answer stand at one place with one width.
#[test]
fn no_two_sections_are_one() {
    let bell = |f, g, q| EqSection::new(EqKind::Peaking, f, g, q).unwrap();
    let shelf = EqSection::new(EqKind::LowShelf, 510.0, 2.6, 0.7).unwrap();
    let level = spoiled_by(&[bell(167.0, 7.8, 0.65), shelf, bell(675.0, -5.6, 1.5), bell(1_300.0, 3.6, 1.3)]);
    let fit = fit(&level, &FitLimits::usual(100.0));
    assert!(fit.after_rms_db < fit.before_rms_db, "{fit:?}");
    for pair in fit.sections.windows(2) {
        let same = pair[0].kind() == pair[1].kind()
            && (pair[1].frequency_hz() / pair[0].frequency_hz()).ln().abs() < 0.01
            && (pair[1].q() / pair[0].q()).ln().abs() < 0.05;
        assert!(!same, "{pair:?}");
    }
}

/// A shelf may cut but not lift: a response short of bass is not lifted below the high-pass.
#[test]
fn no_shelf_lifts() {
    let level = spoiled_by(&[EqSection::new(EqKind::LowShelf, 250.0, -6.0, 0.7).unwrap()]);
    let fit = fit(&level, &FitLimits::usual(60.0));
    assert!(fit.sections.iter().all(|s| s.kind() == EqKind::Peaking || s.gain_db() < 0.0), "{fit:?}");
    assert!(fit.after_rms_db < fit.before_rms_db);
}

#[test]
fn keeps_every_limit_on_a_hard_case() {
    // A deep hole below and above, and a falling treble: nothing the limits allow can fill it.
    let level: Vec<f64> = bands()
        .iter()
        .map(|f| 80.0 - 15.0 * (-(f / 90.0).ln().powi(2) * 3.0).exp() - 12.0 * (f / 4_000.0).ln().max(0.0))
        .collect();
    let limits = FitLimits::usual(80.0);
    let fit = fit(&level, &limits);
    assert!(!fit.sections.is_empty() && fit.sections.len() <= limits.most_sections);
    assert!(fit.after_rms_db < fit.before_rms_db);
    for s in &fit.sections {
        assert!(s.frequency_hz() >= if s.gain_db() > 0.0 { 100.0 } else { 80.0 }, "{s:?}");
        assert!(s.gain_db() >= -limits.most_cut_db && s.gain_db() <= limits.most_boost_db, "{s:?}");
    }
    let rate = limits.sample_rate;
    let digital: Vec<_> = fit.sections.iter().map(|s| s.section(rate).unwrap()).collect();
    for i in 0..=300 {
        let f = 20.0 * 1_000_f64.powf(f64::from(i) / 300.0);
        let gain = 20.0 * cascade_gain(&digital, f, rate).norm().log10();
        let limit = if f <= 80.0 { FOOT_DB } else { limits.most_boost_db };
        assert!(gain <= limit + 0.02, "{gain} dB at {f} Hz");
    }
}

/// A bump above a weak low end: the bell that would fill it stands clear of the high-pass.
#[test]
fn lifts_nothing_at_the_high_pass() {
    for bump_hz in [100.0, 125.0, 160.0, 200.0, 315.0] {
        let level: Vec<f64> = bands()
            .iter()
            .map(|f| 80.0 + 9.0 * (-(f / bump_hz).ln().powi(2) * 6.0).exp() - 6.0 * (95.0 / f).powi(2))
            .collect();
        let fit = fit(&level, &FitLimits::usual(95.0));
        assert!(fit.sections.iter().all(|s| s.gain_db() < 0.0 || s.frequency_hz() > 118.0), "{fit:?}");
    }
}

/// A response whose ends are weak is not brought down to them: at most about the free loss and a little more goes.
#[test]
fn does_not_give_the_middle_away() {
    let level: Vec<f64> = bands()
        .iter()
        .map(|f| 80.0 - 12.0 * (90.0 / f).min(1.5).powi(2) - 10.0 * (f / 4_000.0).ln().max(0.0))
        .collect();
    let fit = fit(&level, &FitLimits::usual(75.0));
    let middle: Vec<f64> =
        bands().iter().zip(&fit.gain_db).filter(|x| (450.0..2240.0).contains(x.0)).map(|x| *x.1).collect();
    let lost = -mean_of(&middle);
    assert!((0.0..6.0).contains(&lost), "{lost} dB of the middle given away: {fit:?}");
    assert!(fit.after_rms_db < 0.8 * fit.before_rms_db, "{fit:?}");
}

#[test]
fn leaves_an_even_response_alone() {
    let fit = fit(&[80.0; 31], &FitLimits::usual(60.0));
    assert!(fit.sections.is_empty() && fit.gain_db.iter().all(|g| g.abs() < 1e-12));
}

#[test]
fn refuses_what_cannot_be_fitted() {
    let target = FitTarget { frequencies_hz: &bands(), level_db: &[80.0; 31], wanted_db: &[0.0; 30] };
    assert_eq!(
        fit_equaliser(&target, &FitLimits::usual(60.0)).unwrap_err().to_string(),
        "wanted levels: 30 values were given where 31 are needed"
    );
    let target = FitTarget { wanted_db: &[0.0; 31], ..target };
    let limits = FitLimits { highest_hz: 90.0, ..FitLimits::usual(60.0) };
    assert_eq!(
        fit_equaliser(&target, &limits).unwrap_err().to_string(),
        "only 2 bands lie between 60 Hz and 90 Hz: at least 3 are needed to fit an equaliser; widen the range"
    );
}

#[test]
fn areas_average_in_energy() {
    let mean = area_average_db(&[vec![80.0], vec![90.0]], &[1.0, 1.0]).unwrap();
    assert!((mean[0] - 87.403_6).abs() < 1e-3);
}
