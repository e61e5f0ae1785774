//! What is heard while something is being dragged: the job as an edit would leave it, at the cost of what moves.

use crate::laid::laid_runs;
use crate::lines::{LineKeeper, LinesReport};
use crate::sound::{Sound, sound};
use loamline_model::Job;
use loamline_model::document::{JobDocument, Loudspeaker};

/// The sound of a job that an edit has changed, from that of the job before.
///
/// While loudspeakers only move, turn, or change their tap or polarity, they keep the voltages the lines gave before:
/// the cable to a dragged loudspeaker grows by metres, which changes levels by less than 0.1 dB on a line within its
/// loss limit, and nothing but the loudspeaker itself has to be worked out again. Whatever else changes, the lines
/// concerned are solved anew in `keeper`.
///
/// # Errors
/// What the engine finds wrong with the scene, in its words.
pub fn preview(
    before: &Job,
    lines: &LinesReport,
    heard: &Sound,
    after: &Job,
    keeper: &mut LineKeeper,
) -> Result<Sound, Vec<String>> {
    if only_loudspeakers_moved(before.document(), after.document()) {
        return sound(Some(heard), after, lines);
    }
    let lines = keeper.report(after, &laid_runs(after));
    sound(Some(heard), after, &lines)
}

/// Whether nothing differs but where loudspeakers stand, how they point, their taps and polarity.
fn only_loudspeakers_moved(before: &JobDocument, after: &JobDocument) -> bool {
    let same_thing =
        |a: &Loudspeaker, b: &Loudspeaker| a.model == b.model && a.line == b.line && a.coils == b.coils;
    let rest = |d: &JobDocument| {
        let mut d = d.clone();
        d.loudspeakers.clear();
        d.visits.clear();
        d
    };
    before.loudspeakers.keys().eq(after.loudspeakers.keys())
        && before.loudspeakers.values().zip(after.loudspeakers.values()).all(|(a, b)| same_thing(a, b))
        && rest(before) == rest(after)
}
