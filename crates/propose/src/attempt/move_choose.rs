//! The move that chooses loudspeakers: those handed in first, then by a search of its own.

use super::machine::Event;
use super::{Attempt, Moved, Start};
use crate::api::Phase;
use crate::error::BriefProblem;
use crate::types::KnownGains;

/// Between the seeds of choices made one after another.
const APART: u64 = 0x9E37;

impl Attempt<'_, '_> {
    pub(super) fn choose(&mut self) -> Moved {
        if self.ends() && !self.first {
            return Ok(Event::Ends);
        }
        self.tell(Phase::Choosing);
        let (choice, poses) = match &self.wish.start {
            Start::Made(made) if self.first => (made.choice.clone(), made.poses.clone()),
            Start::Choice(choice) if self.first => (choice.clone(), choice.poses.clone()),
            _ => {
                if !self.first {
                    self.effort.seed = self.effort.seed.wrapping_add(APART);
                }
                let known = match (&self.gains, &self.wish.about) {
                    (Some(gains), _) => KnownGains::Exactly(gains),
                    (None, Some(gains)) => KnownGains::About(gains),
                    (None, None) => KnownGains::Nothing,
                };
                let (how, what) = ((self.effort, known), (&self.band, &self.fixed));
                let (found, _) = self.maker.choose(self.wish.likeness, what, how, self.reporter, false)?;
                let choice = found.into_iter().next().ok_or(BriefProblem::NothingTried)?;
                let poses = choice.poses.clone();
                (choice, poses)
            }
        };
        self.gains = Some(choice.gains.clone());
        (self.first, self.built) = (false, false);
        self.band.finished_db.fill(0.0);
        self.band.finished_at_db.clear();
        let possible = choice.meets;
        // What is too dear as chosen is dearer once its cable is laid.
        let dear = self.wish.below.is_some_and(|b| choice.cost > b);
        (self.choice, self.poses) = (Some(choice), poses);
        Ok(if dear || self.reporter.stopped() { Event::Ends } else { Event::Chosen { possible } })
    }
}
