//! Analyses a recorded sweep and prints what it says as JSON; the reference checks run it.
//!
//! `analyse_recording FILE.wav START_HZ END_HZ LENGTH_S LEVEL_DBFS [FULL_SCALE_DB]`. A refusal is printed as
//! `{"refused": "..."}`.
#![expect(clippy::print_stdout, reason = "an example prints its answer")]

use loamline_processing::{ListenSettings, Sweep, SweepSpec, analyse, read_recording};
use std::error::Error;
use std::fs::File;
use std::io::BufReader;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [path, numbers @ ..] = arguments.as_slice() else {
        return Err("give a WAV file, then start, end, length and level of the sweep".into());
    };
    let numbers: Vec<f64> = numbers.iter().map(|n| n.parse()).collect::<Result<_, _>>()?;
    let [start_hz, end_hz, length_s, level_dbfs, calibration @ ..] = numbers.as_slice() else {
        return Err("give start (Hz), end (Hz), length (s) and level (dB re full scale) of the sweep".into());
    };
    let spec =
        SweepSpec { start_hz: *start_hz, end_hz: *end_hz, length_s: *length_s, level_dbfs: *level_dbfs };
    let settings =
        ListenSettings { full_scale_db: calibration.first().copied(), ..ListenSettings::default() };
    let recording = read_recording(BufReader::new(File::open(path)?))?;
    let answer = match analyse(&recording, &Sweep::new(spec)?, &settings) {
        Ok(heard) => serde_json::to_string(&heard)?,
        Err(refusal) => serde_json::json!({ "refused": refusal.to_string() }).to_string(),
    };
    println!("{answer}");
    Ok(())
}
