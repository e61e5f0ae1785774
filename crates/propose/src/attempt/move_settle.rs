//! The move that settles what is chosen on the full field: rows as rows, else loudspeakers one by one.

use super::judge::narrow;
use super::machine::Event;
use super::{Attempt, Moved, Start};
use crate::api::Phase;
use crate::error::BriefProblem;
use crate::measure::Missed;
use crate::mirror::joined;
use crate::refine::{energies, refine, shares};
use crate::settle_rows::settle_rows;
use crate::types::{LevelBand, Likeness, SHARE_WITHIN};

/// Rounds of settling, and how many loudspeakers times points are worth more than one: on large sites each takes longer than
/// building, and the building shows what is to be settled again.
const ROUNDS: usize = 3;
const SEVERAL_ROUNDS: usize = 60_000;
/// A design that is this far from its share within the band by the sum of energies is not built.
const WORTH_BUILDING: f64 = 0.04;

impl Attempt<'_, '_> {
    pub(super) fn settle(&mut self) -> Moved {
        self.tell(Phase::Refining);
        let (maker, band) = (self.maker, &self.band);
        let moving = self.moving();
        let movable = self.poses.iter().filter(|p| moving[p.zone]).count();
        self.reporter.spend(maker.settle_s(movable));
        let choice = self.choice.as_ref().ok_or(BriefProblem::NothingTried)?;
        let plan = if self.wish.likeness == Likeness::Rows {
            // Rows that mirror each other move as one, until a design shows that this will not do.
            let axes = maker.axes();
            let rows = if self.built {
                choice.rows.clone()
            } else {
                joined(&maker.site, axes, &self.poses, &choice.rows)
            };
            let start = (self.poses.as_slice(), rows.as_slice(), &choice.gains);
            let large = movable * maker.site.fine.len() > SEVERAL_ROUNDS;
            let rounds = if large { 1 } else { ROUNDS };
            settle_rows(&maker.site, &maker.rules, &self.fixed, start, (band, axes), (rounds, &moving))?
        } else {
            let start = (self.poses.as_slice(), &choice.gains);
            let cheaper = !matches!(self.wish.start, Start::Made(_)) && !self.built;
            let how = (ROUNDS, self.effort.seed, cheaper);
            refine(&maker.site, &maker.rules, &maker.prices, &self.fixed, start, (band, &moving), how)?
        };
        let (finished_db, finished_at_db) = (band.finished_db.clone(), band.finished_at_db.clone());
        let brief = LevelBand { finished_db, finished_at_db, ..maker.band(1.0) };
        let within = shares(&maker.site, &plan, &self.fixed, &brief);
        self.settled = energies(&maker.site, &plan, &self.fixed);
        self.poses = plan.poses;
        let hopeless = |s: &f64| *s < SHARE_WITHIN - WORTH_BUILDING;
        if !within.iter().any(hopeless) || self.is_last() {
            return Ok(Event::Settled);
        }
        let areas = maker.site.zones.iter().zip(&within).filter(|(_, s)| hopeless(s));
        let missed = Missed { areas: areas.map(|(z, _)| z.id.to_owned()).collect(), ..Missed::default() };
        narrow(maker, &mut self.band, &missed);
        self.missed = Some(missed);
        Ok(Event::Hopeless)
    }

    /// Areas whose loudspeakers are to be settled: once a choice was built, those that it missed, so that what is right
    /// stays right.
    fn moving(&self) -> Vec<bool> {
        let zones = &self.maker.site.zones;
        match self.missed.as_ref().filter(|m| self.built && m.neighbours_db <= 0.0 && !m.areas.is_empty()) {
            Some(m) => zones.iter().map(|z| m.areas.iter().any(|id| id == z.id)).collect(),
            None => vec![true; zones.len()],
        }
    }
}
