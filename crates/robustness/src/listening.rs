//! Recordings of a sweep, made from bytes: shifted, weak, noisy, clipped, cut, with a loop-back or none, with samples that
//! are no numbers. Bytes that begin as a WAV file are read as one.

use arbitrary::Unstructured;
use loamline_processing::{ListenSettings, Recording, SampleRate, Sweep, SweepSpec, analyse, read_recording};

/// Samples a recording made here has at most.
const MOST: usize = 120_000;

pub fn listening(bytes: &[u8]) {
    if bytes.starts_with(b"RIFF") {
        let sweep = Sweep::new(SweepSpec { length_s: 0.5, ..SweepSpec::default() }).expect("a usual sweep");
        if let Ok(recording) = read_recording(bytes) {
            heard(&recording, &sweep, &ListenSettings::default());
        }
        return;
    }
    // Where bytes run out, zeros follow: there is always a recording.
    let _ended_early = made(&mut Unstructured::new(bytes));
}

fn made(u: &mut Unstructured<'_>) -> arbitrary::Result<()> {
    let choose = |u: &mut Unstructured<'_>, usual: f64, odd: &[f64]| -> arbitrary::Result<f64> {
        let n = usize::from(u.arbitrary::<u8>()?);
        Ok(odd.get(n).copied().unwrap_or(usual))
    };
    let spec = SweepSpec {
        start_hz: choose(u, 40.0, &[5.0, 20.0, 4000.0, 20_000.0, 0.0, f64::NAN, 43_999.0])?,
        end_hz: choose(u, 20_000.0, &[10.0, 100.0, 8000.0, 44_000.0, 22_050.0, f64::INFINITY, 41.0])?,
        length_s: choose(u, 0.5, &[0.6, 0.50001, 0.0, -1.0, f64::NAN])?,
        level_dbfs: choose(u, -12.0, &[0.0, -80.0, 1.0, f64::NAN])?,
    };
    let sweep = match Sweep::new(spec) {
        Ok(sweep) => sweep,
        Err(error) => {
            drop(error.to_string());
            return Ok(());
        }
    };
    let rate = SampleRate::COMMON[usize::from(u.arbitrary::<u8>()? % 3)];
    let mut played = match sweep.samples(rate) {
        Ok(samples) => samples,
        Err(error) => {
            drop(error.to_string());
            return Ok(());
        }
    };
    let gain = choose(u, 0.5, &[-0.5, 0.0, 1e-6, 4.0, 100.0, 1e300, f64::MAX])?;
    let silence = usize::from(u.arbitrary::<u16>()? % 20_000);
    let after = usize::from(u.arbitrary::<u16>()? % 20_000);
    let clip = choose(u, f64::INFINITY, &[1.0, 0.5, 0.01, 0.0])?;
    let noise = choose(u, 0.0, &[1e-4, 1e-2, 0.3, 10.0])?;
    let mut state = u64::from(u.arbitrary::<u32>()?) | 1;
    let mut hiss = || {
        // xorshift: noise enough to be in the way.
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        noise * ((state >> 11) as f64 / (1_u64 << 52) as f64 - 1.0)
    };
    let mut microphone = vec![0.0; silence];
    microphone.append(&mut played);
    microphone.resize(microphone.len() + after, 0.0);
    microphone.truncate(MOST);
    microphone.iter_mut().for_each(|x| *x = (*x * gain + hiss()).clamp(-clip, clip));
    let cut = usize::from(u.arbitrary::<u16>()?);
    if u.arbitrary::<u8>()? > 200 {
        microphone.truncate(cut);
    }
    let loop_back = match u.arbitrary::<u8>()? % 4 {
        0 => Some(microphone.iter().map(|x| -x).collect()),
        1 => Some(microphone.iter().skip(1).copied().collect()),
        _ => None,
    };
    for _ in 0..u.arbitrary::<u8>()? % 4 {
        let at = usize::from(u.arbitrary::<u16>()?);
        let value = choose(u, 0.0, &[f64::NAN, f64::INFINITY, -1e308, 1e308, 2.0])?;
        if let Some(sample) = microphone.get_mut(at) {
            *sample = value;
        }
    }
    let settings = ListenSettings {
        full_scale_db: match u.arbitrary::<u8>()? % 4 {
            0 => Some(choose(u, 110.0, &[0.0, 250.0, 300.0, f64::NAN])?),
            _ => None,
        },
        predicted_db: match u.arbitrary::<u8>()? % 4 {
            0 => Some(vec![choose(u, 70.0, &[f64::NAN, f64::INFINITY, 1e308])?; 31]),
            1 => Some(vec![70.0; 3]),
            _ => None,
        },
        window_s: choose(u, 0.5, &[0.02, 5.0, 0.0, f64::NAN, 1e9])?,
    };
    let recording = Recording { sample_rate: rate, microphone, loop_back };
    heard(&recording, &sweep, &settings);
    Ok(())
}

fn heard(recording: &Recording, sweep: &Sweep, settings: &ListenSettings) {
    match analyse(recording, sweep, settings) {
        Ok(heard) => {
            assert!(heard.arrival_s.is_finite() && heard.level_dbfs.is_finite(), "{}", heard.arrival_s);
            assert!(heard.impulse_arrival < heard.impulse_response.len().max(1));
            assert!(
                heard.impulse_response.iter().all(|x| x.is_finite()),
                "the response has a value that is none"
            );
            drop(serde_json::to_string(&heard.bands).expect("a response has a JSON form"));
        }
        Err(error) => drop(error.to_string()),
    }
}
