//! Speech: what carries it, and how far it stands above what else is heard.
//!
//! Of each octave a share is what it carries of speech (band importance of average speech, octave-band procedure of ANSI
//! S3.5-1997, from memory). Speech 15 dB or more above what masks it gives all of its octave, as far below it nothing, and in
//! between in proportion (the same standard's band audibility). The mean of the octaves' levels over the masker, each held
//! within those 15 dB and weighed by its share, is how far speech stands above the others. Left out: the spread of masking
//! from one octave to the next, the threshold of hearing, and loud speech being understood less well; in a garden at usual
//! levels each is small beside the others.

use crate::finding::{Finding, Remedy, Severity, Subject};
use crate::names::named;
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::{ChannelView, Job};
use loamline_terms::{OctaveValues, all_of, say, template};

/// What each octave from 250 Hz to 8 kHz carries of speech, as parts of one.
const CARRIES: [f64; 6] = [0.0617, 0.1671, 0.2373, 0.2648, 0.2142, 0.0549];
/// Place of the 250 Hz octave among the ten from 31.5 Hz on.
const FIRST: usize = 3;
/// Farther than this above or below the masker an octave gives all or nothing, dB.
const ALL_OR_NOTHING_DB: f64 = 15.0;
/// Speech this far above what masks it is understood well: an index of 0.75 (ANSI S3.5-1997, annex, from memory), (x + 15) / 30.
const WELL_DB: f64 = 7.5;
/// Below this it is understood badly: an index of 0.45.
const BADLY_DB: f64 = -1.5;

/// How far speech stands above what masks it, dB, octaves weighed by what they carry of it: from -15 to 15.
pub(crate) fn over_masker_db(speech_db: &OctaveValues, masker_db: &OctaveValues) -> f64 {
    let each = speech_db.iter().zip(masker_db).skip(FIRST).zip(CARRIES);
    each.map(|((s, m), share)| share * (s - m).clamp(-ALL_OR_NOTHING_DB, ALL_OR_NOTHING_DB)).sum()
}

/// What is said of an area in which speech stands so far above the other programmes.
pub(crate) fn masked(area: &str, name: &str, over_db: f64) -> Option<Finding> {
    if over_db >= WELL_DB {
        return None;
    }
    let how = if over_db < BADLY_DB { say!("is hardly understood") } else { say!("is not understood well") };
    let sentence = say!(
        "Speech in {place} {how}: other programmes mask it. Octaves weighed by what they carry of speech, it stands {over} dB over \
         them; {well} dB is wanted.",
        place = named(name, template!("area {id}"), area),
        how = how,
        over = format!("{over_db:+.1}"),
        well = WELL_DB.to_string()
    );
    let mend = say!(
        "Turn the other programmes' loudspeakers away or lower them, or bring the speech nearer to its listeners."
    );
    Some(Finding::new(Severity::Warning, Subject::new("areas", area), sentence).mend(mend))
}

/// Channels that play a programme lower than it is to be played, or speech through subwoofers.
pub(crate) fn speech_findings(job: &Job) -> Vec<Finding> {
    job.channels().flat_map(|c| channel(job, &c)).collect()
}

fn channel(job: &Job, c: &ChannelView<'_>) -> Vec<Finding> {
    let programme = job.programme(c.programme_id);
    let name = c.programme_id.unwrap_or_default();
    let about = || Subject::new("channels", c.id);
    let mut found = Vec::new();
    let mut driven = loamline_adapt::loudspeakers_of_channel(job, c).into_iter().peekable();
    if driven.peek().is_none() {
        return found;
    }
    let subwoofers: Vec<&str> =
        driven.filter(|l| l.model.kind == LoudspeakerKind::Subwoofer).map(|l| l.id).collect();
    if programme.speech && !subwoofers.is_empty() {
        let sentence = say!(
            "Channel {channel} plays the speech of programme {programme} through {subwoofers}: speech has nothing for a subwoofer, \
             and what it plays there masks words.",
            channel = c.id,
            programme = name,
            subwoofers = all_of(&subwoofers)
        );
        let mend = say!("Give the subwoofers a channel with another programme, or leave them out.");
        found.push(Finding::new(Severity::Warning, about(), sentence).mend(mend));
    }
    let set_hz = c.channel.high_pass.as_ref().map(|h| h.corner_hz);
    if let (Some(wanted_hz), Some(set_hz)) = (programme.lowest_hz(), set_hz)
        && set_hz < wanted_hz - 0.5
    {
        let sentence = say!(
            "Channel {channel} plays programme {programme} from {set} Hz up; it is to be played from {wanted} Hz.",
            channel = c.id,
            programme = name,
            set = loamline_terms::fixed(set_hz, 0),
            wanted = loamline_terms::fixed(wanted_hz, 0)
        );
        found.push(
            Finding::new(Severity::Warning, about(), sentence)
                .mend(say!("Raise the channel's high-pass."))
                .by(Remedy::Processing),
        );
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand from the standard's own definition of an index, (x + 15) / 30 in each octave.
    #[test]
    fn speech_is_held_against_its_masker_octave_by_octave() {
        assert!((CARRIES.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        let speech = [60.0; 10];
        let by = |db: f64| over_masker_db(&speech, &[60.0 - db; 10]);
        assert!(by(0.0).abs() < 1e-9);
        assert!((by(10.0) - 10.0).abs() < 1e-9 && (by(-4.0) + 4.0).abs() < 1e-9);
        // More than 15 dB adds nothing.
        assert!((by(40.0) - 15.0).abs() < 1e-9 && (by(-40.0) + 15.0).abs() < 1e-9);
        // A bass beat alone masks no word, however loud: below 250 Hz nothing is carried.
        let mut beat = [20.0; 10];
        beat[..3].fill(90.0);
        assert!((over_masker_db(&speech, &beat) - 15.0).abs() < 1e-9);
        // A masker as loud as the speech in the 1 and 2 kHz octaves alone: the four others give 15 dB each.
        let mut voices = [20.0; 10];
        voices[5..7].fill(60.0);
        let others = 0.0617 + 0.1671 + 0.2142 + 0.0549;
        assert!((over_masker_db(&speech, &voices) - 15.0 * others).abs() < 1e-9);
    }

    #[test]
    fn what_is_well_understood_is_not_told() {
        assert!(masked("terrace", "", 7.6).is_none());
        let told = |db: f64| masked("terrace", "", db).map(|f| f.sentence).unwrap_or_default();
        assert!(
            told(4.2).contains("is not understood well")
                && told(4.2).contains("stands +4.2 dB over them; 7.5 dB")
        );
        assert!(told(-3.0).contains("is hardly understood"));
    }
}
