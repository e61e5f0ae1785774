use super::*;
use num_complex::Complex64;
use proptest::prelude::*;
use std::f64::consts::TAU;

const C: f64 = 343.2;

/// Free field of candidates at points on a line, 94 dB at 1 m: exp(i k r)/r, 1 Pa.
fn free_field(candidates: &[[f64; 2]], points: &[[f64; 2]], frequencies: &[f64]) -> BassField {
    let mut p = Vec::new();
    for x in points {
        for c in candidates {
            let r = (x[0] - c[0]).hypot(x[1] - c[1]);
            p.extend(frequencies.iter().map(|f| Complex64::from_polar(1.0 / r, TAU * f * r / C)));
        }
    }
    BassField::new(points.len(), candidates.len(), frequencies, &p).unwrap()
}

fn sub(candidate: usize) -> SubwooferSetting {
    SubwooferSetting { candidate, reversed: false, delay_s: 0.0 }
}

fn terrace() -> Vec<[f64; 2]> {
    (0..60).map(|i| [f64::from(i % 10) * 1.3, f64::from(i / 10) * 1.1]).collect()
}

const LINES: [f64; 6] = [31.5, 40.0, 50.0, 63.0, 80.0, 100.0];

fn places() -> Vec<[f64; 2]> {
    vec![
        [-2.0, -1.0],
        [6.0, -2.0],
        [14.0, -1.0],
        [14.0, 7.0],
        [6.0, 8.0],
        [-2.0, 7.0],
        [20.0, 3.0],
        [-6.0, 2.0],
    ]
}

/// Two sources in closed form: |e^(ikr1)/r1 + e^(ikr2)/r2|^2 = 1/r1^2 + 1/r2^2 + 2 cos(k (r1 - r2))/(r1 r2).
#[test]
fn two_sources_add_and_cancel_as_the_closed_form_says() {
    let points: Vec<[f64; 2]> = (0..40).map(|i| [f64::from(i) * 0.5 - 10.0, 6.0]).collect();
    let field = free_field(&[[-5.0, 0.0], [5.0, 0.0]], &points, &[63.0]);
    let got = bass_levels(&field, &[sub(0), sub(1)]).unwrap();
    for (p, x) in points.iter().enumerate() {
        let (r1, r2) = ((x[0] + 5.0).hypot(6.0), (x[0] - 5.0).hypot(6.0));
        let k = TAU * 63.0 / C;
        let square = r1.powi(-2) + r2.powi(-2) + 2.0 * (k * (r1 - r2)).cos() / (r1 * r2);
        let wanted = 10.0 * square.log10() + 20.0 * (1.0 / 20e-6f64).log10();
        assert!((got.points_db[p] - wanted).abs() < 1e-9);
    }
    // On the middle line both add: 6.02 dB over one; reversed, nothing is left.
    let middle = free_field(&[[-5.0, 0.0], [5.0, 0.0]], &[[0.0, 6.0]], &[63.0]);
    let level = |s: &[SubwooferSetting]| bass_levels(&middle, s).unwrap().level_db;
    assert!((level(&[sub(0), sub(1)]) - level(&[sub(0)]) - 6.0206).abs() < 1e-4);
    assert!(level(&[sub(0), SubwooferSetting { reversed: true, ..sub(1) }]) < -100.0);
    // A delay of half a period reverses too.
    assert!(level(&[sub(0), SubwooferSetting { delay_s: 0.5 / 63.0, ..sub(1) }]) < -100.0);
}

/// The far one's delay makes it arrive with the near one (time factor exp(-i w t)).
#[test]
fn a_delay_moves_the_near_one_to_the_far_one() {
    let field = free_field(&[[0.0, 0.0], [10.0, 0.0]], &[[13.0, 0.0]], &LINES);
    let aligned = [sub(0), SubwooferSetting { delay_s: 10.0 / C, ..sub(1) }];
    let level = bass_levels(&field, &aligned).unwrap();
    for band in &level.bands {
        let wanted = 20.0 * ((1.0f64 / 13.0 + 1.0 / 3.0) / 20e-6).log10();
        assert!((band.level_db - wanted).abs() < 1e-9);
    }
}

#[test]
fn cancellation_is_found_where_the_paths_differ_by_half_a_wavelength() {
    let half = 0.5 * C / 63.0;
    // On the line through both, beyond the second: the paths differ by the distance between them.
    let points: Vec<[f64; 2]> = (0..50).map(|i| [half + 40.0 + f64::from(i), 0.0]).collect();
    let field = free_field(&[[0.0, 0.0], [half, 0.0]], &points, &[63.0]);
    let found = cancellations(&field, &[sub(0), sub(1)]).unwrap();
    assert_eq!((found.len(), found[0].quieter_share), (1, 1.0));
    assert_eq!(found[0].worst_point, 49);
    assert!(found[0].gain_db < -25.0 && found[0].mean_gain_db < -20.0, "{found:?}");
    let alone = cancellations(&field, &[sub(0)]).unwrap();
    assert_eq!(alone[0].quieter_share, 0.0);
    assert!(alone[0].mean_gain_db.abs() < 1e-9);
}

/// Against plain nested loops over every set.
#[test]
fn a_search_that_fits_tries_every_set_and_ranks_it() {
    let field = free_field(&places(), &terrace(), &LINES);
    let search = BassSearch { delays_s: vec![0.005, 0.01], keep: 5, ..BassSearch::new(2) };
    let result = search_subwoofers(&field, &search).unwrap();
    // 28 pairs, 2 polarities, 3^2 - 2^2 = 5 delays.
    assert_eq!(result.coverage, SearchCoverage::Every { evaluated: 28 * 2 * 5 });
    let mut best: Option<(f64, f64)> = None;
    for a in 0..8 {
        for b in a + 1..8 {
            for reversed in [false, true] {
                for (da, db) in [(0.0, 0.0), (0.005, 0.0), (0.01, 0.0), (0.0, 0.005), (0.0, 0.01)] {
                    let set = [
                        SubwooferSetting { candidate: a, reversed: false, delay_s: da },
                        SubwooferSetting { candidate: b, reversed, delay_s: db },
                    ];
                    let l = bass_levels(&field, &set).unwrap();
                    let key = ((l.deviation_db / SPREAD_CLASS_DB).floor(), -l.level_db);
                    if best.is_none_or(|k| key < k) {
                        best = Some(key);
                    }
                }
            }
        }
    }
    let first = &result.ranking[0];
    let key = ((first.deviation_db / SPREAD_CLASS_DB).floor(), -first.level_db);
    assert_eq!(result.ranking.len(), 5);
    assert!(best.is_some_and(|b| b.0 == key.0 && (b.1 - key.1).abs() < 1e-9), "{best:?} {key:?}");
    for w in result.ranking.windows(2) {
        assert!((w[0].deviation_db / 0.25).floor() <= (w[1].deviation_db / 0.25).floor());
    }
    assert_eq!(first.bands.len(), LINES.len());
}

/// Where it does not fit, the shortened search says so, and comes near the best of the full one.
#[test]
fn a_search_that_does_not_fit_says_so_and_is_not_far_off() {
    let field = free_field(&places(), &terrace(), &LINES);
    for count in 2..=4 {
        let full = BassSearch {
            delays_s: vec![0.0, 0.004, 0.008],
            most_evaluations: 10_000_000,
            ..BassSearch::new(count)
        };
        let short = BassSearch { most_evaluations: 4000, ..full.clone() };
        let (all, part) = if count == 4 {
            // The full search of four is long; three delays of two polarities in the short one are enough.
            (None, search_subwoofers(&field, &short).unwrap())
        } else {
            let tight = BassSearch { most_evaluations: 400, ..short };
            (Some(search_subwoofers(&field, &full).unwrap()), search_subwoofers(&field, &tight).unwrap())
        };
        let most_allowed = if count == 4 { 4000 } else { 400 };
        match part.coverage {
            SearchCoverage::Part { evaluated, possible, .. } => {
                assert!(
                    evaluated as f64 <= possible && evaluated <= most_allowed + 100,
                    "{:?}",
                    part.coverage
                );
            }
            SearchCoverage::Every { evaluated } => assert!(count == 2 && evaluated <= 400),
        }
        if let Some(all) = all {
            assert!(matches!(all.coverage, SearchCoverage::Every { .. }));
            assert!(part.ranking[0].deviation_db <= all.ranking[0].deviation_db + 1.0);
        }
    }
}

#[test]
fn bad_fields_and_sets_are_refused() {
    let ok = [Complex64::new(1.0, 0.0); 4];
    assert!(matches!(BassField::new(0, 2, &[50.0], &[]), Err(BassError::Empty { .. })));
    assert!(matches!(
        BassField::new(2, 2, &[50.0], &ok[..3]),
        Err(BassError::Shape { expected: 4, given: 3 })
    ));
    assert!(matches!(BassField::new(2, 2, &[5.0], &ok), Err(BassError::Frequency { number: 1, .. })));
    let mut bad = ok;
    bad[2].im = f64::NAN;
    assert_eq!(
        BassField::new(2, 2, &[50.0], &bad).unwrap_err().to_string(),
        "the pressure of candidate 1 at point 2, 50 Hz, is not a finite number"
    );
    let field = BassField::new(2, 2, &[50.0], &ok).unwrap();
    assert!(matches!(bass_levels(&field, &[]), Err(BassError::Count { .. })));
    assert!(matches!(bass_levels(&field, &[sub(0), sub(0)]), Err(BassError::Candidate { number: 2, .. })));
    assert!(matches!(bass_levels(&field, &[sub(2)]), Err(BassError::Candidate { .. })));
    assert!(matches!(
        bass_levels(&field, &[SubwooferSetting { delay_s: -0.1, ..sub(0) }]),
        Err(BassError::Delay { .. })
    ));
    assert_eq!(
        search_subwoofers(&field, &BassSearch::new(3)).unwrap_err(),
        BassError::Count { count: 3, most: 2 }
    );
}

proptest! {
    /// A common delay and a common reversal change nothing; silence gives numbers.
    #[test]
    fn only_differences_between_members_matter(delay in 0.0f64..0.05, other in 0.0f64..0.05) {
        let field = free_field(&places(), &terrace(), &LINES);
        let set = [SubwooferSetting { candidate: 1, reversed: false, delay_s: 0.0 },
            SubwooferSetting { candidate: 4, reversed: true, delay_s: other }];
        let moved = set.map(|s| SubwooferSetting { reversed: !s.reversed, delay_s: s.delay_s + delay, ..s });
        let (a, b) = (bass_levels(&field, &set).unwrap(), bass_levels(&field, &moved).unwrap());
        prop_assert!((a.deviation_db - b.deviation_db).abs() < 1e-6);
        prop_assert!((a.level_db - b.level_db).abs() < 1e-9);
        let silent = BassField::new(1, 1, &[50.0], &[Complex64::default()]).unwrap();
        prop_assert!(bass_levels(&silent, &[sub(0)]).unwrap().level_db.is_finite());
        prop_assert!(cancellations(&silent, &[sub(0)]).unwrap()[0].mean_gain_db.is_finite());
    }
}
