//! Loudspeakers that a design does as well without are not bought.
//!
//! Where the report would say that nothing leaves its band without a loudspeaker, the design is built and held against
//! the brief once more without it. What the brief, or the evenness that was paid for, needs after all stays, and the report
//! says so.

use crate::api::Phase;
use crate::attempt::Made;
use crate::error::BriefProblem;
use crate::make::Maker;
use crate::measure::{Kept, SHARE_STAYS, missed, reasons};
use crate::pick::EVENER_DB;
use crate::reporter::Reporter;
use crate::types::Likeness;
use std::collections::BTreeMap;

/// Designs without a loudspeaker that are made in vain before no more is tried: the least needed comes first, so that others are
/// needed even more.
const IN_VAIN: usize = 3;

impl Maker<'_> {
    /// A design without what it does not need; with `even`, without what it would be as even without.
    pub fn without_spare(
        &self,
        mut made: Made,
        even: bool,
        reporter: &Reporter<'_>,
    ) -> Result<Made, BriefProblem> {
        let mut tried = 0;
        loop {
            let mut kept = BTreeMap::new();
            let (mut better, mut in_vain) = (None, 0);
            for (i, tag) in self.seemingly_spare(&made)? {
                if reporter.stopped() {
                    return Ok(made);
                }
                if made.likeness == Likeness::Rows && i < made.poses.len() {
                    kept.insert(tag, Kept::Row);
                    continue;
                }
                if reporter.time_is_up() || in_vain >= IN_VAIN {
                    kept.insert(tag, Kept::Untried { tried });
                    continue;
                }
                tried += 1;
                reporter.tell(|t| t.phase = Phase::Building);
                reporter.spend(self.build_s(made.poses.len()));
                match self.without(&made, i, even, reporter)? {
                    Ok(less) => {
                        better = Some(less);
                        break;
                    }
                    Err(why) => kept.insert(tag, why),
                };
                in_vain += 1;
            }
            match better {
                Some(less) => made = less,
                None => return Ok(Made { kept, ..made }),
            }
        }
    }

    /// Loudspeakers that seem not to be needed, with their tags, the least needed first: places in the layout, subwoofers
    /// behind the others.
    fn seemingly_spare(&self, made: &Made) -> Result<Vec<(usize, String)>, BriefProblem> {
        let reasons = reasons(&made.built, &BTreeMap::new())?;
        let several_subs = made.subs.len() > 1;
        let mut found: Vec<(f64, f64, usize, String)> = Vec::new();
        for (i, pose) in made.poses.iter().chain(&made.subs).enumerate() {
            let sub = i >= made.poses.len();
            let tag = made.tag_of(self.site.models[pose.model].id, pose.at);
            let reason = reasons.iter().find(|r| Some(&r.loudspeaker) == tag.as_ref());
            if let (Some(tag), Some(r)) = (tag, reason)
                && r.share_lost <= SHARE_STAYS
                && (!sub || several_subs)
            {
                found.push((r.share_lost, r.most_lost_db, i, tag));
            }
        }
        found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
        Ok(found.into_iter().map(|f| (f.2, f.3)).collect())
    }

    /// The design without one of its loudspeakers, or why that stays.
    fn without(
        &self,
        made: &Made,
        i: usize,
        even: bool,
        reporter: &Reporter<'_>,
    ) -> Result<Result<Made, Kept>, BriefProblem> {
        let (mut poses, mut subs) = (made.poses.clone(), made.subs.clone());
        let gone = if i < poses.len() { poses.remove(i) } else { subs.remove(i - poses.len()) };
        let mut layout = poses.clone();
        layout.extend(subs.iter().copied());
        if layout.is_empty() && self.pinned.is_empty() {
            return Ok(Err(Kept::Brief));
        }
        let (built, figures) = match self.finish(&layout, made.own_gains) {
            Ok(finished) => finished,
            Err(BriefProblem::NothingHeard) => return Ok(Err(Kept::Brief)),
            Err(problem) if problem.of_one_design() => return Ok(Err(Kept::Brief)),
            Err(problem) => return Err(problem),
        };
        reporter.spend(self.beyond_s(poses.len(), built.done));
        let missed = missed(&built, &figures);
        if !missed.nothing() {
            return Ok(Err(Kept::Brief));
        }
        let spread_db = figures.worst_spread_db;
        if even && spread_db > made.figures.worst_spread_db + EVENER_DB {
            return Ok(Err(Kept::Evenness { spread_db }));
        }
        if figures.price >= made.figures.price {
            return Ok(Err(Kept::Price));
        }
        let mut choice = made.choice.clone();
        if i < made.poses.len() {
            // Subwoofers are in no choice.
            choice.cost -= self.site.models[gone.model].installed;
        }
        let (own_gains, likeness, kept) = (made.own_gains, made.likeness, BTreeMap::new());
        let (robust_share, wished) = (0.0, self.left_to_wish(likeness, &poses));
        let mut less = Made {
            built,
            figures,
            missed,
            likeness,
            choice,
            robust_share,
            wished,
            poses,
            subs,
            own_gains,
            kept,
        };
        less.robust_share = crate::robust::robust_share(self, &less)?;
        Ok(Ok(less))
    }
}
