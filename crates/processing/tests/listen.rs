//! The analysis of recorded sweeps: what it finds in simulated recordings and what it refuses.

#![expect(clippy::unwrap_used, reason = "a test helper may stop at the first surprise")]

use loamline_chance::Draws;
use loamline_processing::{
    BandResponse, HeardPolarity, ListenError, ListenSettings, Listening, Recording, SampleRate, Sweep,
    SweepSpec, analyse,
};

const SPEC: SweepSpec = SweepSpec { start_hz: 50.0, end_hz: 18_000.0, length_s: 3.0, level_dbfs: -12.0 };

fn sweep() -> Sweep {
    Sweep::new(SPEC).unwrap()
}

/// A recording of `sweep` through a path of `gain` that takes `delay` samples after `lead` samples of silence.
fn recording(sweep: &Sweep, rate: SampleRate, lead: usize, delay: usize, gain: f64) -> Recording {
    let played = sweep.samples(rate).unwrap();
    let n = lead + played.len() + (1.5 * rate.hz()) as usize;
    let at = |shift: usize, gain: f64| {
        let mut x = vec![0.0; n];
        for (i, p) in played.iter().enumerate() {
            x[i + shift] = gain * p;
        }
        x
    };
    Recording { sample_rate: rate, microphone: at(lead + delay, gain), loop_back: Some(at(lead, 0.7)) }
}

/// Noise, the same every time.
fn add_noise(samples: &mut [f64], amplitude: f64) {
    let mut draws = Draws::new(1);
    for x in samples {
        *x += draws.between(-amplitude, amplitude);
    }
}

fn listened(recording: &Recording) -> Result<Listening, ListenError> {
    analyse(recording, &sweep(), &ListenSettings::default())
}

#[test]
fn finds_delay_level_and_polarity_at_every_rate() {
    for rate in SampleRate::COMMON {
        for (delay, gain, polarity) in
            [(0, 0.5, HeardPolarity::Normal), (1_234, -0.25, HeardPolarity::Reversed)]
        {
            let mut r = recording(&sweep(), rate, 20_000, delay, gain);
            add_noise(&mut r.microphone, 1e-4);
            let heard = listened(&r).unwrap();
            assert!((heard.arrival_s * rate.hz() - delay as f64).abs() < 0.1, "{}", heard.arrival_s);
            assert_eq!(heard.polarity, polarity);
            assert!(heard.relative_to_loop_back);
            for b in &heard.bands {
                let expected = 20.0 * gain.abs().log10();
                assert!((b.gain_db - expected).abs() < 0.1, "{} Hz: {} dB", b.frequency_hz, b.gain_db);
                assert!((b.level_dbfs - (b.gain_db - 12.0)).abs() < 1e-12);
                assert!(b.is_trustworthy());
            }
        }
    }
}

#[test]
fn compares_with_a_prediction() {
    let mut r = recording(&sweep(), SampleRate::R48K, 9_600, 480, 0.5);
    add_noise(&mut r.microphone, 1e-5);
    // A full-scale sine is 110 dB: the sweep at -12 dB through -6.02 dB is 91.98 dB (worked by hand).
    let settings = ListenSettings {
        full_scale_db: Some(110.0),
        predicted_db: Some(vec![90.0; 31]),
        ..ListenSettings::default()
    };
    let heard = analyse(&r, &sweep(), &settings).unwrap();
    assert!((heard.level_db.unwrap() - 91.979).abs() < 0.05);
    let comparison = heard.comparison.unwrap();
    assert!((comparison.mean_db - 1.979).abs() < 0.05 && comparison.spread_db < 0.05);
    assert_eq!(comparison.bands, heard.bands.len());
    let settings = ListenSettings { predicted_db: Some(vec![90.0; 30]), ..settings };
    assert!(matches!(
        analyse(&r, &sweep(), &settings),
        Err(ListenError::Prediction { found: 30, expected: 31 })
    ));
}

/// White noise of RMS s against the sweep, spectral division: the noise in a band of the response is
/// s^2 * window / mean |X|^2, so ten times the noise is 20 dB less of signal over noise.
#[test]
fn signal_over_noise_follows_the_noise() {
    let quiet = |amplitude| {
        let mut r = recording(&sweep(), SampleRate::R48K, 9_600, 480, 0.5);
        add_noise(&mut r.microphone, amplitude);
        listened(&r).unwrap()
    };
    let (low, high) = (quiet(1e-3), quiet(1e-2));
    // Where noise is small beside the sweep in both, so that it does not add to the sweep's own level.
    let clear = |b: &&BandResponse| b.signal_to_noise_db.unwrap() > 20.0;
    assert!(high.bands.iter().filter(clear).count() >= 15);
    for (a, b) in low.bands.iter().zip(&high.bands).filter(|(_, b)| clear(b)) {
        let drop = a.signal_to_noise_db.unwrap() - b.signal_to_noise_db.unwrap();
        assert!((drop - 20.0).abs() < 0.5, "{} Hz: {drop} dB", a.frequency_hz);
    }
}

#[test]
fn a_mono_recording_counts_from_its_start() {
    let mut r = recording(&sweep(), SampleRate::R48K, 12_000, 0, 0.3);
    r.loop_back = None;
    let heard = listened(&r).unwrap();
    assert!((heard.arrival_s - 0.25).abs() < 1e-5 && !heard.relative_to_loop_back);
    let peak = heard.impulse_response.iter().fold(0.0_f64, |m, x| m.max(*x));
    assert!((heard.impulse_response[heard.impulse_arrival] - peak).abs() < 1e-12);
}

#[test]
fn refuses_what_proves_nothing() {
    let rate = SampleRate::R48K;
    let good = recording(&sweep(), rate, 9_600, 480, 0.5);
    let with = |microphone: Vec<f64>| Recording { microphone, loop_back: None, ..good.clone() };

    let clipped = with(good.microphone.iter().map(|x| (x * 12.0).clamp(-1.0, 1.0)).collect());
    assert!(matches!(listened(&clipped), Err(ListenError::Clipped { channel: "microphone", .. })));

    let quiet = with(good.microphone.iter().map(|x| x * 1e-3).collect());
    let words = listened(&quiet).unwrap_err().to_string();
    assert!(
        words.starts_with("the microphone is too quiet: its peak is -78.0 dB re full scale and -60 is"),
        "{words}"
    );

    let mut noise = vec![0.0; 300_000];
    add_noise(&mut noise, 0.1);
    assert!(matches!(listened(&with(noise)), Err(ListenError::NotTheSweep { .. })));

    let other = Sweep::new(SweepSpec { length_s: 2.5, ..SPEC }).unwrap();
    let other = recording(&other, rate, 9_600, 480, 0.5);
    assert!(matches!(listened(&with(other.microphone)), Err(ListenError::NotTheSweep { .. })));

    let mut backwards = good.microphone.clone();
    backwards.reverse();
    assert!(matches!(listened(&with(backwards)), Err(ListenError::NotTheSweep { .. })));

    assert!(matches!(listened(&with(vec![0.1; 48_000])), Err(ListenError::TooShort { .. })));
    let cut = good.microphone[..9_600 + 480 + 144_000 - 4_800].to_vec();
    match listened(&with(cut)) {
        Err(ListenError::CutOff { starts_s, missing_s }) => {
            assert!((starts_s - 0.21).abs() < 1e-3 && (missing_s - 0.1).abs() < 1e-3);
        }
        other => panic!("{other:?}"),
    }
    let late = good.microphone[9_600 + 480 + 9_600..].to_vec();
    match listened(&with(late)) {
        Err(ListenError::StartsEarly { missing_s }) => assert!((missing_s - 0.2).abs() < 1e-3),
        other => panic!("{other:?}"),
    }

    let mut damaged = good.microphone.clone();
    damaged[7] = f64::NAN;
    assert!(matches!(listened(&with(damaged)), Err(ListenError::NotANumber { index: 7, .. })));
}

#[test]
fn tells_a_wrong_rate_from_a_wrong_sweep() {
    // Recorded at 44.1 kHz, but the file says 48 kHz.
    let mut r = recording(&sweep(), SampleRate::R44_1K, 9_600, 480, 0.5);
    r.sample_rate = SampleRate::R48K;
    match listened(&r) {
        Err(ListenError::WrongRate { stated_hz, likely_hz, .. }) => {
            assert!((stated_hz - 48_000.0).abs() < 1e-9 && (likely_hz - 44_100.0).abs() < 1e-9);
        }
        other => panic!("{other:?}"),
    }
    r.sample_rate = SampleRate::new(22_050.0).unwrap();
    assert!(matches!(listened(&r), Err(ListenError::RateNotTaken { .. })));
}
