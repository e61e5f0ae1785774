//! The move that builds what is settled and holds it against the brief.

use super::judge::narrow;
use super::machine::Event;
use super::{Attempt, Made, Moved, Start};
use crate::api::{OptionKind, Phase, Proposed};
use crate::as_made::as_made;
use crate::bass::subwoofers;
use crate::budget::budget;
use crate::error::BriefProblem;
use crate::measure::missed;
use crate::robust::robust_share;
use crate::types::SHARE_WITHIN;
use loamline_geometry::Point3;
use std::collections::BTreeMap;

/// A choice is settled again when no area is farther than this from its share within the band.
const WORTH_SETTLING: f64 = 0.12;
/// A design is near the brief where its areas are short of no more than this together, as shares.
const NEAR: f64 = 0.02;
/// Most that equaliser and gains are taken to change an area's level, dB: more is a fault of something else.
const FINISHED_DB: f64 = 3.0;
/// Settling a design again changes its price by no more than this factor, about.
const DEARER: f64 = 1.03;
/// Bass designed for beyond what a design was short of, dB.
const BASS_BEYOND_DB: f64 = 0.3;

impl Attempt<'_, '_> {
    pub(super) fn build(&mut self) -> Moved {
        self.tell(Phase::Building);
        self.reporter.spend(self.maker.build_s(self.poses.len()));
        let maker = self.maker;
        let mut layout = self.poses.clone();
        layout.extend(self.subs.poses.iter().copied());
        if layout.is_empty() && maker.pinned.is_empty() {
            // Silence is the only plan within the limits: nothing to build.
            return Ok(Event::Ends);
        }
        let choice = self.choice.clone().ok_or(BriefProblem::NothingTried)?;
        // A line for several areas is cheaper; gains for each are tried where that missed, or where evenness is asked.
        let least = matches!(self.wish.kind, OptionKind::LeastCost | OptionKind::LeastCostMixed);
        let own_gains = self.missed.is_some() || self.built || !least;
        self.built = true;
        if let Start::Made(before) = &self.wish.start
            && before.own_gains == own_gains
            && before.poses == self.poses
            && before.subs == self.subs.poses
        {
            // Settled to what it was before.
            return Ok(Event::Ends);
        }
        let finished = maker.finish_as_can_be(&layout, own_gains);
        let (built, figures, own_gains) = match finished.and_then(|f| maker.mended(&layout, f)) {
            // What was built before stands.
            Err(problem) if problem.of_one_design() && self.nearest.is_some() => return Ok(Event::Ends),
            finished => finished?,
        };
        self.reporter.spend(maker.beyond_s(self.poses.len(), built.done));
        self.tell(Phase::Checking);
        let missed = missed(&built, &figures);
        let mut made = Made {
            robust_share: 0.0,
            built,
            figures,
            missed: missed.clone(),
            likeness: self.wish.likeness,
            wished: maker.left_to_wish(self.wish.likeness, &self.poses),
            choice,
            poses: self.poses.clone(),
            subs: self.subs.poses.clone(),
            own_gains,
            kept: BTreeMap::new(),
        };
        self.keep(&made);
        if missed.nothing() {
            made.robust_share = robust_share(maker, &made)?;
            let (price, first) = (made.figures.price, self.wish.first);
            self.reporter.tell(|t| {
                t.best_cost = Some(t.best_cost.filter(|_| !first).map_or(price, |b| b.min(price)));
            });
            self.made = Some(made);
            return Ok(Event::Meets);
        }
        let dear = self.wish.below.is_some_and(|b| made.figures.price > DEARER * b);
        let far = made.figures.worst_share_within < SHARE_WITHIN - WORTH_SETTLING;
        self.learn(&made, &missed)?;
        let event = Event::Misses {
            levels: !missed.areas.is_empty() || missed.neighbours_db > 0.0,
            bass: missed.bass_db > 0.0,
            far,
            near: missed.share < NEAR && missed.neighbours_db <= 0.0 && !far,
        };
        self.missed = Some(missed);
        if self.nearest.as_ref().is_none_or(|n| made.missed.worse_by() < n.missed.worse_by()) {
            self.nearest = Some(made);
        }
        Ok(if dear || self.ends() { Event::Ends } else { event })
    }

    /// Keeps the design for when the search is left: one over the budget misses the brief by so many per cent.
    fn keep(&self, made: &Made) {
        let (maker, kind) = (self.maker, self.wish.kind);
        let budget = budget(maker.pinned_only);
        let price = made.figures.price;
        let over = budget.map_or(0.0, |most| 100.0 * (price / most.max(1.0) - 1.0).max(0.0));
        let design = || {
            // How much it holds when all varies is worked out for what is offered only.
            let design = Proposed { robust_share: None, ..as_made(maker, made, vec![kind], budget) };
            (design, maker.looked_at())
        };
        self.reporter.keep((made.missed.worse_by() + over, price), design);
    }

    /// Takes what a design missed into account for the next.
    fn learn(&mut self, made: &Made, missed: &crate::measure::Missed) -> Result<(), BriefProblem> {
        narrow(self.maker, &mut self.band, missed);
        let site = &self.maker.site;
        let played = made.figures.areas.values().map(|a| a.mean_dba - a.target_dba);
        for ((finished, played), range) in self.band.finished_db.iter_mut().zip(played).zip(&site.fine.ranges)
        {
            let own = self.settled.get(range.clone()).unwrap_or_default();
            let mean = db(own.iter().sum::<f64>() / own.len().max(1) as f64);
            *finished = (played - mean).clamp(-FINISHED_DB, FINISHED_DB);
        }
        self.band.finished_at_db = self.finished_at(made);
        if missed.bass_db > 0.0 {
            self.extra_bass_db += missed.bass_db + BASS_BEYOND_DB;
            let maker = self.maker;
            let more = subwoofers(&maker.site, &maker.spots, self.extra_bass_db)?;
            if more.short.is_empty() {
                self.fixed.set_subwoofers(&maker.site, &more);
                self.subs = more;
            }
        }
        Ok(())
    }

    /// How much higher each point of the fine grid plays in a built design than its energies say, dB: by the nearest point of
    /// the prediction.
    fn finished_at(&self, made: &Made) -> Vec<f64> {
        let site = &self.maker.site;
        let heard = made.built.study.heard();
        let Some(levels) = &heard.levels else { return Vec::new() };
        let mut finished = Vec::with_capacity(self.settled.len());
        for ((zone, part), range) in site.zones.iter().zip(&site.fine.parts).zip(&site.fine.ranges) {
            let Some(area) = levels.areas.get(zone.id) else { return Vec::new() };
            for (place, energy) in part.places().iter().zip(&self.settled[range.clone()]) {
                let away = |p: &Point3| (p.plan() - place.plan()).norm();
                let nearest = area.points.iter().min_by(|a, b| away(&a.0).total_cmp(&away(&b.0)));
                let Some((_, level_dba)) = nearest else { return Vec::new() };
                let higher = level_dba - area.target_dba - db(*energy);
                finished.push(higher.clamp(-FINISHED_DB, FINISHED_DB));
            }
        }
        finished
    }
}

fn db(energy: f64) -> f64 {
    10.0 * energy.max(1e-9).log10()
}
