//! WAV files as recorders write them.

use loamline_processing::{WavFormat, read_recording, write_wav};
use std::io::Cursor;

pub fn recording(bytes: &[u8]) {
    let recording = match read_recording(bytes) {
        Ok(recording) => recording,
        Err(error) => return drop(error.to_string()),
    };
    let samples = recording.microphone.len() + recording.loop_back.as_ref().map_or(0, Vec::len);
    // A sample takes two bytes at least: nothing is made of nothing.
    assert!(2 * samples <= bytes.len(), "{samples} samples of {} bytes", bytes.len());
    let mut written = Cursor::new(Vec::new());
    match write_wav(&mut written, &recording.microphone, recording.sample_rate, WavFormat::Float32) {
        Ok(()) => {}
        Err(error) => {
            assert!(recording.microphone.iter().any(|x| !x.is_finite()), "{error}");
            return;
        }
    }
    let back = read_recording(written.get_ref().as_slice()).expect("what was written is read");
    assert_eq!(back.sample_rate, recording.sample_rate);
    assert_eq!(back.loop_back, None);
    // Samples of 32 bits as whole numbers have more digits than floating point keeps.
    let near = |(a, b): (&f64, &f64)| (a - b).abs() <= 1e-7 * a.abs().max(1e-30);
    assert_eq!(back.microphone.len(), recording.microphone.len());
    assert!(back.microphone.iter().zip(&recording.microphone).all(near), "samples changed");
}
