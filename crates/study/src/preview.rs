//! What is heard while something is being dragged: the job as an edit would leave it, at the cost of what moves.

use crate::laid::laid_runs;
use crate::lines::{LineKeeper, LinesReport};
use crate::sound::{Sound, moved, sound};
use loamline_model::Job;
use loamline_model::document::{JobDocument, Loudspeaker};

/// The sound of a job that an edit has changed, from that of the job before.
///
/// Loudspeakers that only move, turn, or change their tap or polarity are replaced one by one, on the voltages the
/// lines gave before: the cable to a dragged loudspeaker grows by metres, which changes levels by less than 0.1 dB on
/// any line within its loss limit. Whatever else changes is worked out anew.
///
/// # Errors
/// As [`sound`], in sentences.
pub fn preview(before: &Job, lines: &LinesReport, heard: &Sound, after: &Job) -> Result<Sound, Vec<String>> {
    match moved_loudspeakers(before.document(), after.document()) {
        Some(tags) => {
            let mut out = heard.clone();
            for tag in tags {
                moved(&mut out, after, lines, tag).map_err(|e| vec![format!("Loudspeaker {tag}: {e}")])?;
            }
            Ok(out)
        }
        None => {
            let lines = LineKeeper::default().report(after, &laid_runs(after));
            sound(after, &lines)
        }
    }
}

/// Tags of the loudspeakers that differ, when nothing else does and each is still the same thing on the same line.
fn moved_loudspeakers<'a>(before: &'a JobDocument, after: &JobDocument) -> Option<Vec<&'a str>> {
    let same_thing =
        |a: &Loudspeaker, b: &Loudspeaker| a.model == b.model && a.line == b.line && a.coils == b.coils;
    let mut tags = Vec::new();
    if !before.loudspeakers.keys().eq(after.loudspeakers.keys()) {
        return None;
    }
    for ((tag, a), b) in before.loudspeakers.iter().zip(after.loudspeakers.values()) {
        if a != b {
            if !same_thing(a, b) {
                return None;
            }
            tags.push(tag.as_str());
        }
    }
    let rest = |d: &JobDocument| {
        let mut d = d.clone();
        d.loudspeakers.clear();
        d.visits.clear();
        d
    };
    (rest(before) == rest(after)).then_some(tags)
}
