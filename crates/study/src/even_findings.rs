//! What is said of how evenly an area is heard: from place to place, and in its bass.

use crate::finding::{Finding, Remedy, Severity, Subject};
use crate::names::area_words;
use loamline_acoustics::AreaStatistics;
use loamline_model::document::Area;
use loamline_terms::say;

/// Bass this near to what is wanted is as wanted, dB: settings go by half decibels, and nobody hears less.
const BASS_OFF_DB: f64 = 1.0;
/// Bass so far below what is wanted anybody misses, dB; less is worth knowing (from memory: 3 dB is a step that is plainly heard).
const BASS_MISSED_DB: f64 = 3.0;

/// Below this nothing sounds at all, dBA: no loudspeaker is driven. Silence counts as [`loamline_acoustics::SILENCE_DB`].
pub const NOTHING_DBA: f64 = -100.0;

/// Findings of an area that is heard unevenly, or with another bass than is wanted: of the job as it is set, and of settings that
/// are worked out for it.
#[must_use]
pub fn even_findings(id: &str, area: &Area, s: &AreaStatistics) -> Vec<Finding> {
    let mut found = Vec::new();
    if s.mean_dba < NOTHING_DBA {
        return found;
    }
    let about = || Subject::new("areas", id);
    let named = area_words(id, area);
    if s.spread_db > 2.0 * area.within_db {
        found.push(
            Finding::new(
                Severity::Warning,
                about(),
                say!(
                    "{area} is uneven: a tenth of it is below {low} dBA, a tenth above {high} dBA; {share} % lies within {within} dB \
                     of the {wanted} dBA wanted.",
                    area = named.clone(),
                    low = loamline_terms::fixed(s.p10_dba, 1),
                    high = loamline_terms::fixed(s.p90_dba, 1),
                    share = loamline_terms::fixed(100.0 * s.share_within, 0),
                    within = loamline_terms::fixed(area.within_db, 0),
                    wanted = loamline_terms::fixed(area.target_dba, 0)
                ),
            )
            .mend(say!("More loudspeakers on lower taps, or a change of place or aim.")),
        );
    }
    let over_db = area.bass_at_most_db.map(|most| s.bass_over_mid_db - most);
    if let Some(over_db) = over_db.filter(|over| *over > BASS_OFF_DB) {
        let what = say!(
            "{area} has too much bass: {bass} dB over the middle, {over} dB more than is wanted at most.",
            area = named.clone(),
            bass = format!("{:+.1}", s.bass_over_mid_db),
            over = loamline_terms::fixed(over_db, 1)
        );
        found.push(
            Finding::new(Severity::Warning, about(), what)
                .mend(say!("Lower its subwoofers, or have its programme played from a higher frequency up."))
                .by(Remedy::Processing),
        );
    }
    let short_db = area.bass_db.map(|wanted| wanted - s.bass_over_mid_db);
    if let Some(short_db) = short_db.filter(|short| *short > BASS_OFF_DB) {
        let what = say!(
            "{area} has too little bass: {bass} dB over the middle, {short} dB less than is wanted.",
            area = named,
            bass = format!("{:+.1}", s.bass_over_mid_db),
            short = loamline_terms::fixed(short_db, 1)
        );
        let severity = if short_db > BASS_MISSED_DB { Severity::Warning } else { Severity::Note };
        found.push(
            Finding::new(severity, about(), what)
                .mend(say!("Raise its subwoofers or add one, as far as the neighbours' limits allow."))
                .by(Remedy::Processing),
        );
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_acoustics::{BAND_COUNT, BandValues, area_statistics};
    use loamline_model::{Job, SourceFile, read_job};

    /// A terrace of 68 dBA within 3 dB with a wish for bass, and what is said of it where every place has these levels.
    fn told(bass: &str, places: &[BandValues]) -> Vec<(Severity, String)> {
        let text = format!(
            "format = 1\n[job]\nname = \"Even\"\n[areas.terrace]\nname = \"Terrace\"\ntarget = \"68 dBA\"\n{bass}\n\
             outline = [[0, 0], [4, 0], [4, 4], [0, 4]]\n"
        );
        let job: Job = read_job(&SourceFile::new("job.toml", text), &[]).unwrap_or_else(|e| panic!("{e}"));
        let area = &job.document().areas["terrace"];
        let statistics = area_statistics(places, area.target_dba, area.within_db).unwrap();
        even_findings("terrace", area, &statistics)
            .into_iter()
            .map(|f| (f.severity, f.sentence.to_string()))
            .collect()
    }

    /// Every third octave alike: the octaves 31.5 to 125 Hz and those from 500 Hz to 2 kHz are three each, so that the bass is 0 dB
    /// over the middle.
    #[test]
    fn a_bass_that_falls_short_of_the_wish_is_told() {
        let flat = [[50.0; BAND_COUNT]];
        assert!(told("", &flat).is_empty());
        assert!(told("bass = \"0.9 dB\"", &flat).is_empty());
        let found = told("bass = \"1.5 dB\"", &flat);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].0, Severity::Note);
        assert!(found[0].1.starts_with("Terrace has too little bass:"), "{found:?}");
        assert!(found[0].1.ends_with("dB over the middle, 1.5 dB less than is wanted."), "{found:?}");
        assert_eq!(told("bass = \"4 dB\"", &flat)[0].0, Severity::Warning);
    }

    /// Half of the places 12 dB louder than the others: from the 10th to the 90th of a hundred it is 12 dB, twice 3 dB are allowed.
    #[test]
    fn an_area_uneven_from_place_to_place_is_told() {
        let places: Vec<BandValues> =
            (0..10).map(|k| [if k < 5 { 40.0 } else { 52.0 }; BAND_COUNT]).collect();
        let found = told("", &places);
        assert!(found.len() == 1 && found[0].1.starts_with("Terrace is uneven:"), "{found:?}");
    }
}
