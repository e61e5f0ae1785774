//! One design: chosen, settled, built, held against the brief; and again, narrower, where it missed.

use crate::api::{Figures, OptionKind, Phase};
use crate::bass::subwoofers;
use crate::build::Built;
use crate::error::BriefProblem;
use crate::make::{KEPT_SHARE, Maker};
use crate::measure::{Missed, missed};
use crate::refine::{means_db, refine, shares};
use crate::reporter::Reporter;
use crate::types::{Choice, Gains, LevelBand, Pose, SHARE_WITHIN};
use loamline_design::Effort;

/// Times one choice is settled and built before another is made.
const SETTLINGS: usize = 4;
/// A choice is settled again when no area is farther than this from its share within the band.
const WORTH_SETTLING: f64 = 0.12;
/// A design that is this far from its share within the band by the sum of energies is not built.
const WORTH_BUILDING: f64 = 0.04;
/// Most that equaliser and gains are taken to change an area's level, dB: more is a fault of something else.
const FINISHED_DB: f64 = 3.0;
/// How much narrower the band is made where a design missed, dB.
const NARROWER_DB: f64 = 0.25;
/// Settling a design again changes its price by no more than this factor, about.
const DEARER: f64 = 1.03;
/// Rounds of settling.
const ROUNDS: usize = 3;

/// What a design is to be.
pub(crate) struct Wish<'a> {
    pub kind: OptionKind,
    /// Part of the brief's band that is designed for: smaller is evener.
    pub part: f64,
    pub effort: Effort,
    /// Working gains, where they are known.
    pub gains: Option<Gains>,
    /// What to start from.
    pub start: Start<'a>,
    /// What a design before missed: the band is narrower there.
    pub missed: Option<&'a Missed>,
    /// Choices made before giving up, each narrower where the last one missed.
    pub attempts: usize,
    /// Price from which on it is not worth finishing, tax included.
    pub below: Option<f64>,
    /// Whether it is the first: what was told before were estimates without the ways of the cable.
    pub first: bool,
}

/// What a design is made from.
pub(crate) enum Start<'a> {
    /// Loudspeakers yet to choose.
    Nothing,
    /// A choice to settle.
    Choice(Choice),
    /// A design to settle again.
    Made(&'a Made),
}

/// What came of an attempt.
pub(crate) enum Outcome {
    Met(Box<Made>),
    Unmet { choice: Box<Choice>, missed: Option<Missed> },
}

impl Outcome {
    /// Price of a design that meets the brief, tax included.
    pub fn price(&self) -> Option<f64> {
        match self {
            Self::Met(made) => Some(made.figures.price),
            Self::Unmet { .. } => None,
        }
    }
}

/// A design that meets the brief.
pub(crate) struct Made {
    pub built: Built,
    pub figures: Figures,
    pub choice: Choice,
    /// Its loudspeakers as settled, subwoofers left out.
    pub poses: Vec<Pose>,
}

impl Maker<'_> {
    /// A design as wished.
    pub fn attempt(&self, wish: &Wish<'_>, reporter: &Reporter<'_>) -> Result<Outcome, BriefProblem> {
        let mut band = self.band(wish.part);
        if let Some(missed) = wish.missed {
            self.narrow(&mut band, missed);
        }
        let (mut subs, mut fixed) = (self.subs.clone(), self.fixed.clone());
        let (mut extra_db, mut gains) = (0.0, wish.gains.clone());
        let mut effort = wish.effort;
        let mut last: Option<(Choice, Option<Missed>)> = None;
        for attempt in 0..wish.attempts {
            reporter.tell(|t| {
                t.phase = Phase::Choosing;
                t.option = Some(wish.kind);
            });
            let (choice, mut poses) = match &wish.start {
                Start::Made(made) if attempt == 0 => (made.choice.clone(), made.poses.clone()),
                Start::Choice(choice) if attempt == 0 => (choice.clone(), choice.poses.clone()),
                _ => {
                    let (found, _) =
                        self.choose((&band, &fixed), (effort, gains.as_ref()), reporter, false)?;
                    let choice = found.into_iter().next().ok_or(BriefProblem::NothingTried)?;
                    let poses = choice.poses.clone();
                    (choice, poses)
                }
            };
            gains = Some(choice.gains.clone());
            if reporter.stopped() {
                return Ok(Outcome::Unmet { choice: Box::new(choice), missed: None });
            }
            if !choice.meets && last.is_some() {
                break;
            }
            let possible = choice.meets;
            let mut what_missed = None;
            let mut means = Vec::new();
            band.finished_db.fill(0.0);
            let mut resettle = true;
            // The same loudspeakers are settled again where little is missing, before others are chosen.
            for settling in 0..SETTLINGS {
                if resettle {
                    reporter.tell(|t| t.phase = Phase::Refining);
                    let start = (poses.as_slice(), &choice.gains);
                    let cheaper = !matches!(wish.start, Start::Made(_));
                    let how = (ROUNDS, effort.seed, cheaper);
                    let plan = refine(&self.site, &self.rules, &self.prices, &fixed, start, &band, how)?;
                    let brief = LevelBand { finished_db: band.finished_db.clone(), ..self.band(1.0) };
                    let within = shares(&self.site, &plan, &fixed, &brief);
                    means = means_db(&self.site, &plan, &fixed);
                    poses = plan.poses;
                    let hopeless = |s: &f64| *s < SHARE_WITHIN - WORTH_BUILDING;
                    if within.iter().any(hopeless) && attempt + 1 < wish.attempts {
                        let areas = self.site.zones.iter().zip(&within).filter(|(_, s)| hopeless(s));
                        let areas = areas.map(|(z, _)| z.id.to_owned()).collect();
                        let missed = Missed { areas, ..Missed::default() };
                        self.narrow(&mut band, &missed);
                        what_missed = Some(missed);
                        break;
                    }
                }
                reporter.tell(|t| t.phase = Phase::Building);
                let mut layout = poses.clone();
                layout.extend(subs.poses.iter().copied());
                if layout.is_empty() && self.pinned.is_empty() {
                    // Silence is the only plan within the limits: nothing to build.
                    return Ok(Outcome::Unmet { choice: Box::new(choice), missed: None });
                }
                // A line for several areas is cheaper; gains for each are tried where that missed, or where evenness is asked.
                let own_gains = settling > 0 || attempt > 0 || wish.kind != OptionKind::LeastCost;
                let (built, figures) = self.finish(&layout, own_gains)?;
                reporter.tell(|t| t.phase = Phase::Checking);
                let missed = missed(&built, &figures);
                if missed.nothing() {
                    let (price, first) = (figures.price, wish.first);
                    reporter.tell(|t| {
                        t.best_cost = Some(t.best_cost.filter(|_| !first).map_or(price, |b| b.min(price)));
                    });
                    return Ok(Outcome::Met(Box::new(Made { built, figures, choice, poses })));
                }
                let dear = wish.below.is_some_and(|b| figures.price > DEARER * b);
                if dear || reporter.stopped() {
                    return Ok(Outcome::Unmet { choice: Box::new(choice), missed: Some(missed) });
                }
                self.narrow(&mut band, &missed);
                let played = figures.areas.values().map(|a| a.mean_dba - a.target_dba);
                for ((finished, played), mean) in band.finished_db.iter_mut().zip(played).zip(&means) {
                    *finished = (played - mean).clamp(-FINISHED_DB, FINISHED_DB);
                }
                if missed.bass_db > 0.0 {
                    extra_db += missed.bass_db + 0.3;
                    let more = subwoofers(&self.site, &self.spots, self.even, extra_db)?;
                    if more.short.is_empty() {
                        fixed.set_subwoofers(&self.site, &more);
                        subs = more;
                    }
                }
                resettle = !missed.areas.is_empty() || missed.neighbours_db > 0.0;
                // What a check found wrong with the lines stays wrong however the same loudspeakers are settled.
                let stuck = !resettle && missed.bass_db <= 0.0;
                let far = figures.worst_share_within < SHARE_WITHIN - WORTH_SETTLING;
                what_missed = Some(missed);
                if far || stuck {
                    break;
                }
            }
            last = Some((choice, what_missed));
            if !possible {
                break;
            }
            effort.seed = effort.seed.wrapping_add(0x9E37);
        }
        let (choice, missed) = last.ok_or(BriefProblem::NothingTried)?;
        Ok(Outcome::Unmet { choice: Box::new(choice), missed })
    }

    /// Narrows a band where a design missed.
    fn narrow(&self, band: &mut LevelBand, missed: &Missed) {
        for (z, half) in self.site.zones.iter().zip(&mut band.half_db) {
            if missed.areas.iter().any(|a| a == z.id) {
                *half = (*half - NARROWER_DB).max(0.3);
            }
        }
        if !missed.areas.is_empty() {
            band.outside = (band.outside - KEPT_SHARE).max(0.0);
        }
        if missed.neighbours_db > 0.0 {
            band.limits_db += missed.neighbours_db + 0.2;
        }
    }
}
