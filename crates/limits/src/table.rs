//! The table. One row per bound; a constant names each, [`rows`] are all of them in the order of the page. A file for each subject.

use crate::bound::Bound;

mod connections;
mod documents;
mod edits;
mod files;
mod job;
mod lines;
mod proposals;
mod sound;
mod turns;

pub use connections::*;
pub use documents::*;
pub use edits::*;
pub use files::*;
pub use job::*;
pub use lines::*;
pub use proposals::*;
pub use sound::*;
pub use turns::*;

/// Every bound, in the order of the page.
pub fn rows() -> impl Iterator<Item = &'static Bound> {
    [
        documents::ROWS,
        edits::ROWS,
        files::ROWS,
        job::ROWS,
        sound::ROWS,
        lines::ROWS,
        proposals::ROWS,
        turns::ROWS,
        connections::ROWS,
    ]
    .into_iter()
    .flatten()
    .copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bound::Side;

    #[test]
    fn every_row_is_whole_and_fits() {
        for b in rows() {
            assert!(b.number > 0 && usize::try_from(b.number).is_ok(), "{}", b.of);
            assert!(b.reason.len() > 20 && !b.reason.ends_with('.'), "{}", b.of);
            assert!(b.told("A1").contains(&b.shown()), "{}", b.of);
            // A number just below a bound would be shown like it.
            assert!(b.side == Side::Most || !b.sentence.contains("{found}"), "{}", b.of);
            assert!(!b.told("A1").replace("{found}", "").contains('{'), "{}", b.of);
            assert!(!b.of.contains('|') && !b.reason.contains('|'), "{}", b.of);
        }
        let mut names: Vec<&str> = rows().map(|b| b.of).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), rows().count());
    }

    /// What leans on something else keeps its distance to it.
    #[test]
    fn bounds_that_belong_together_fit_together() {
        assert!(DOCUMENT_BYTES.number >= 4 * JOB_FILE_BYTES.number);
        assert!(
            EDIT_BYTES.number >= DOCUMENT_BYTES.number && EDIT_VALUES.number >= EDIT_DOCUMENT_VALUES.number
        );
        assert!(PROBLEMS_TOLD.number < PROBLEMS_COUNTED.number);
        // Fifty places and more for every area, whatever else there is.
        assert!(JOB_PAIRS.number / AREAS.number / LOUDSPEAKERS.number >= 50);
        assert!(160 * AREA_PAIRS.number < CALCULATION_BYTES.number);
        assert!(AREA_CELLS.number < GRID_POINTS.number && GRID_POINTS.number < OUTLINE_PLACES.number);
        assert!(FOLDER_LIST_BYTES.number >= 1000 * FOLDER_FILES.number);
        let files_of_a_job = 1 + CATALOGUE_FILES.number + ATTACHMENTS.number;
        assert!(files_of_a_job <= FOLDER_FILES.number, "what goes out as a folder comes in as one");
        assert!(
            JOB_FILE_BYTES.number < READ_AT_ONCE_BYTES.number
                && READ_AT_ONCE_BYTES.number < 2 * JOB_FILE_BYTES.number
        );
        assert!(MADE_UP_CHARACTERS.number < TICKET_CHARACTERS.number.min(EDIT_ID_CHARACTERS.number));
        assert!(CODE_SHOWN_S.number < CODE_GOOD_S.number, "whoever reads a code has time to type it in");
        assert!(
            TOKEN_OVERLAP_S.number < TOKEN_RENEWED_S.number
                && 10 * TOKEN_RENEWED_S.number < TOKEN_GOOD_S.number
        );
        assert_eq!(SIGNAL_SAMPLES.number, RECORDING_SAMPLES.number);
        assert!(
            FOLDER_BYTES.number <= JOB_ROOM_BYTES.number,
            "a folder taken in fits into the job it becomes"
        );
        assert!(PROPOSALS_KEPT.number > WAITING_FOR_PROPOSALS.number + PROPOSALS_AT_ONCE.number);
        assert_eq!(PROPOSALS_S.number, 6 * PROPOSAL_WORK_S.number);
        // A worker that is killed is replaced within fifteen seconds: its silence, a look, and a second until another begins.
        assert!(
            WORKER_LOST_S.number + WORKER_HEARD_S.number + 1 < 15
                && WORKER_LOST_S.number >= 3 * WORKER_HEARD_S.number
        );
        assert!(2 * OWN_HANDLES.number < HANDLES.number && NETWORK_CONNECTIONS.number < HANDLES.number / 2);
    }
}
