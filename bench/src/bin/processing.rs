//! How fast the processing engine is: a recorded sweep heard, an equaliser fitted, a chain's response tabled.
//!
//! The plain way beside it: the same impulse response found by correlating in the time domain, on a short stretch,
//! scaled to the whole. Run with `cargo run --release -p loamline-bench --bin processing`.
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use loamline_bench::timing::shortest;
use loamline_processing::{
    Alignment, Chain, FitLimits, FitTarget, ListenSettings, Pass, PassFilter, Recording, SampleRate, Sweep,
    SweepSpec, analyse, fit_equaliser,
};
use std::error::Error;

fn main() -> Result<(), Box<dyn Error>> {
    let rate = SampleRate::R48K;
    let sweep = Sweep::new(SweepSpec { length_s: 8.0, ..SweepSpec::default() })?;
    let played = sweep.samples(rate)?;
    let (delay, total) = (48_480, 480_000);
    let mut microphone = vec![0.0; total];
    for (x, p) in microphone.iter_mut().skip(delay).zip(&played) {
        *x = 0.3 * p;
    }
    let recording = Recording { sample_rate: rate, microphone, loop_back: None };
    let (listen_ms, heard) = shortest(5, || analyse(&recording, &sweep, &ListenSettings::default()));
    assert!((heard?.arrival_s * rate.hz() - delay as f64).abs() < 1.0, "the arrival is wrong");

    let lags = 200;
    let (plain_ms, strongest) = shortest(1, || {
        let correlation = |lag: usize| -> f64 {
            recording.microphone.iter().skip(lag).zip(&played).map(|(y, x)| x * y).sum()
        };
        (delay - lags / 2..delay + lags / 2).max_by(|a, b| correlation(*a).total_cmp(&correlation(*b)))
    });
    assert!(strongest.is_some_and(|l| l.abs_diff(delay) <= 1), "the plain way disagrees");
    let plain_all_ms = plain_ms * (total - played.len()) as f64 / lags as f64 / 2.0;

    let frequencies_hz: Vec<f64> = (-17..=13).map(|n| 1_000.0 * 10_f64.powf(f64::from(n) / 10.0)).collect();
    let level_db: Vec<f64> = frequencies_hz
        .iter()
        .map(|f| 80.0 + 4.0 * (2.0 * f.ln()).sin() - 2.0 * (f / 3_000.0).ln().max(0.0))
        .collect();
    let wanted_db = vec![0.0; frequencies_hz.len()];
    let target = FitTarget { frequencies_hz: &frequencies_hz, level_db: &level_db, wanted_db: &wanted_db };
    let (fit_ms, fit) = shortest(5, || fit_equaliser(&target, &FitLimits::usual(60.0)));
    let fit = fit?;
    assert!(fit.after_rms_db < fit.before_rms_db, "the equaliser makes it worse");

    let chain = Chain {
        passes: vec![PassFilter::new(Alignment::LinkwitzRiley, Pass::HighPass, 4, 80.0)?],
        equaliser: fit.sections.clone(),
        ..Chain::default()
    };
    let lines: Vec<f64> = (0..1_000).map(|i| 20.0 * 1_000_f64.powf(f64::from(i) / 999.0)).collect();
    let (table_ms, table) = shortest(20, || chain.response(rate, &lines));
    assert_eq!(table?.len(), lines.len());

    println!("hear a 10 s recording at 48 kHz      {listen_ms:9.2} ms   (asked: under 500 ms)");
    println!(
        "  plain correlation, every lag       {plain_all_ms:9.0} ms   {:.0} times as long",
        plain_all_ms / listen_ms
    );
    println!(
        "fit {} equaliser sections to 31 bands {fit_ms:9.2} ms   {:.2} dB RMS before, {:.2} dB after",
        fit.sections.len(),
        fit.before_rms_db,
        fit.after_rms_db
    );
    println!("response of a chain, 1000 lines      {table_ms:9.3} ms");
    Ok(())
}
