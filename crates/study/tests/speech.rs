//! Speech over what else is heard, by a garden alike on both sides.
#![expect(clippy::panic, reason = "a test may stop at the first surprise")]

use loamline_model::{SourceFile, read_job};
use loamline_study::{Heard, Study};
use std::sync::Arc;

/// Two loudspeakers of one model face each other over a terrace midway: one speaks, one plays music of the same spectrum.
/// `gain` is the music's, `speech` what else the programme says, `more` what else the job has.
fn heard(music_gain: &str, speech: &str, more: &str) -> Arc<Heard> {
    let text = format!(
        "format = 1\n[job]\nname = \"Two voices\"\n[brief]\nsupply = \"70.7 V\"\n\
         [programmes.talk]\nspectrum = \"pink\"\n{speech}\n[programmes.music]\nspectrum = \"pink\"\n\
         [areas.R1]\noutline = [[9, -1], [11, -1], [11, 1], [9, 1]]\ntarget = \"60 dBA\"\nprogramme = \"talk\"\n\
         [racks.K1]\nposition = [0, -9]\n[amplifiers.P1]\nmodel = \"line-4x280\"\nrack = \"K1\"\n\
         [channels.C1]\namplifier = \"P1\"\noutput = 1\nprogramme = \"talk\"\ngain = \"-20 dB\"\n\
         high_pass = {{ order = 4, corner = \"120 Hz\" }}\n\
         [channels.C2]\namplifier = \"P1\"\noutput = 2\nprogramme = \"music\"\ngain = \"{music_gain}\"\n\
         high_pass = {{ order = 4, corner = \"120 Hz\" }}\n\
         [lines.A]\nchannel = \"C1\"\ncable = \"burial-2x14awg\"\nruns.A1 = {{ from = \"K1\", to = \"L1\", length = \"20 m\" }}\n\
         [lines.B]\nchannel = \"C2\"\ncable = \"burial-2x14awg\"\nruns.B1 = {{ from = \"K1\", to = \"L2\", length = \"20 m\" }}\n\
         [loudspeakers.L1]\nmodel = \"stake-110-wide\"\nposition = [0, 0]\nbearing = 90\ntap = \"10 W\"\nline = \"A\"\n\
         [loudspeakers.L2]\nmodel = \"stake-110-wide\"\nposition = [20, 0]\nbearing = 270\ntap = \"10 W\"\nline = \"B\"\n{more}"
    );
    let job = read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap_or_else(|r| panic!("{r}"));
    Study::new(job).heard()
}

fn over_db(heard: &Heard) -> Option<f64> {
    heard.levels.as_ref()?.areas["R1"].speech_over_others_db
}

fn said<'h>(heard: &'h Heard, part: &str) -> Option<&'h str> {
    heard.findings.iter().map(|f| f.sentence.as_str()).find(|s| s.contains(part))
}

#[test]
fn speech_stands_over_music_by_what_the_music_is_turned_down() {
    for (gain, db) in [("-20 dB", 0.0), ("-26 dB", 6.0), ("-30 dB", 10.0)] {
        let heard = heard(gain, "speech = true", "");
        let found = over_db(&heard).unwrap_or(f64::NAN);
        assert!((found - db).abs() < 0.05, "{gain}: {found} dB");
        let told = said(&heard, "other programmes mask it");
        assert_eq!(told.is_some(), db < 7.5, "{gain}: {told:?}");
    }
    // Music where no speech is wanted is judged by its level alone.
    let music = heard("-20 dB", "", "");
    assert_eq!(over_db(&music), None);
    assert!(said(&music, "hears other programmes at").is_some());
}

#[test]
fn speech_through_subwoofers_or_from_too_far_down_is_told() {
    let sub = "[loudspeakers.S1]\nmodel = \"ground-sub-320\"\nposition = [5, 5]\ntap = \"50 W\"\nline = \"D\"\n\
               [channels.C3]\namplifier = \"P1\"\noutput = 3\nprogramme = \"talk\"\nhigh_pass = { order = 4, corner = \"35 Hz\" }\n\
               [lines.D]\nchannel = \"C3\"\ncable = \"burial-2x14awg\"\nruns.D1 = { from = \"K1\", to = \"S1\" }\n";
    let heard = heard("-30 dB", "speech = true", sub);
    assert!(said(&heard, "Channel C3 plays the speech of programme talk through S1").is_some());
    assert!(
        said(&heard, "Channel C3 plays programme talk from 35 Hz up; it is to be played from 88 Hz")
            .is_some()
    );
    assert!(said(&heard, "Channel C1 plays programme talk").is_none(), "120 Hz is above 88 Hz");
    let higher = self::heard("-30 dB", "low_cut = \"150 Hz\"", "");
    assert!(
        said(&higher, "Channel C1 plays programme talk from 120 Hz up; it is to be played from 150 Hz")
            .is_some()
    );
}
