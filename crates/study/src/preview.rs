//! What is heard while something is being dragged: the job as an edit would leave it, at the cost of what moves.

use crate::lines::SolvedLines;
use crate::study::Study;
use loamline_adapt::{Sound, SoundErrors, laid_runs, sound};
use loamline_model::Job;
use loamline_model::document::{JobDocument, Loudspeaker};

/// Previews of one job by one person: what is kept from one to the next, apart from what is kept of the job as it stands.
#[derive(Debug, Default)]
pub struct Previews {
    lines: SolvedLines,
}

impl Previews {
    /// The sound of a job that an edit would change, from that of the job as it stands.
    ///
    /// While loudspeakers only move, turn, or change their polarity, they keep the voltages the lines gave before:
    /// the cable to a dragged loudspeaker grows by metres, which changes levels by less than 0.1 dB on a line within its
    /// loss limit, and nothing but the loudspeaker itself has to be worked out again. Whatever else changes, the lines
    /// concerned are solved anew.
    ///
    /// # Errors
    /// What is wrong with either scene.
    pub fn sound(&self, before: &Study, after: &Job) -> Result<Sound, SoundErrors> {
        let standing = before.sound();
        let heard = standing.as_ref().as_ref().map_err(Clone::clone)?;
        let parts = if only_loudspeakers_moved(before.job().document(), after.document()) {
            before.parts_of(after, &before.lines().loudspeakers)
        } else {
            before.parts_of(after, &self.lines.report(after, &laid_runs(after)).loudspeakers)
        };
        sound(Some(heard), &parts?)
    }
}

/// Whether nothing differs but where loudspeakers stand, how they point, and their polarity: whatever a line can feel is as it
/// was, but for the length of its cable.
fn only_loudspeakers_moved(before: &JobDocument, after: &JobDocument) -> bool {
    let same_thing = |a: &Loudspeaker, b: &Loudspeaker| {
        a.model == b.model && a.line == b.line && a.coils == b.coils && a.tap_w == b.tap_w
    };
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
