//! One proposal in the making: the brief read once, then a design for each width of the band.

use super::api::Figures;
use super::api::{OptionKind, Phase, ProposeOptions, ProposeProgress, Watch};
use super::bass::{Subwoofers, subwoofers};
use super::build::{Built, build, cleared};
use super::candidates::{Pool, pool};
use super::choose::{Band, Choice, Fixed, all_taps, best_gain, covering};
use super::measure::{Missed, SHARE_WITHIN, figures, missed};
use super::models::offered;
use super::places::{Rules, Spot};
use super::price::Prices;
use super::refine::refine;
use super::site::{Pose, Site};
use loamline_design::{Effort, Progress};
use loamline_model::{Edit, JobFile};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

/// Spots to look at for each metre round the areas, and within what numbers.
const SPOTS_PER_M: f64 = 1.0;
const SPOTS: (f64, f64) = (110.0, 520.0);
/// Work of the search, in energies added, that two usual cores do in a second (measured; it only scales the effort).
const WORK_PER_S: f64 = 4.0e8;
/// Part of the work that goes into choosing; the rest goes into settling and building.
const CHOOSING: f64 = 0.15;
/// Walks of the search: enough for two cores and for luck.
const WALKS: usize = 4;
/// Moves looked at in a step.
const MOVES: usize = 900;
/// Band kept narrower while searching than the brief's: what coherent bass, the equaliser and half-decibel gains
/// cost, dB; and points kept inside beyond those that must be, as a share.
const KEPT_DB: f64 = 0.3;
const KEPT_SHARE: f64 = 0.01;
/// Designs built for one width of the band before giving up: each narrower where the last one missed.
const ATTEMPTS: usize = 5;
/// Times one choice is settled and built before another is made.
const SETTLINGS: usize = 3;
/// A choice is settled again when no area is farther than this from its share within the band.
const WORTH_SETTLING: f64 = 0.12;
/// How much narrower the band is made where a design missed, dB.
const NARROWER_DB: f64 = 0.25;
/// Rounds of settling.
const ROUNDS: usize = 3;

/// What came of an attempt.
pub(super) enum Outcome {
    Met(Box<Made>),
    Unmet { choice: Choice, missed: Option<Missed> },
}

/// A design that meets the brief.
pub(super) struct Made {
    pub built: Built,
    pub figures: Figures,
    pub choice_cost: f64,
}

/// Tells the watcher, and remembers that it wants to stop.
pub(super) struct Teller<'w> {
    watch: Watch<'w>,
    stopped: AtomicBool,
    state: Mutex<ProposeProgress>,
}

impl<'w> Teller<'w> {
    pub fn new(watch: Watch<'w>) -> Self {
        let start = ProposeProgress {
            phase: Phase::Candidates,
            option: None,
            done: 0.0,
            best_cost: None,
            bound: None,
        };
        Self { watch, stopped: AtomicBool::new(false), state: Mutex::new(start) }
    }

    /// Changes what is told, and tells it; whether to go on.
    pub fn tell(&self, change: impl FnOnce(&mut ProposeProgress)) -> bool {
        let told = match self.state.lock() {
            Ok(mut state) => {
                change(&mut state);
                state.clone()
            }
            Err(poisoned) => poisoned.into_inner().clone(),
        };
        if !(self.watch)(&told) {
            self.stopped.store(true, Ordering::Relaxed);
        }
        !self.stopped()
    }

    pub fn stopped(&self) -> bool {
        self.stopped.load(Ordering::Relaxed)
    }
}

/// The brief read, with everything the designs share.
pub(super) struct Maker<'j> {
    pub site: Site<'j>,
    pub rules: Rules<'j>,
    pub prices: Prices<'j>,
    pub spots: Vec<Spot>,
    pub pool: Pool,
    pub fixed: Fixed,
    pub subs: Subwoofers,
    pub pinned: Vec<(String, Pose)>,
    /// Whether subwoofers are to be as even as can be rather than cheap.
    even: bool,
    bare: &'j JobFile,
    clear: Edit,
}

/// The job without what is not pinned, to make a [`Maker`] of.
pub(super) fn bare(file: &JobFile) -> Result<(JobFile, Edit), Vec<String>> {
    cleared(file).map_err(|e| vec![e])
}

impl<'j> Maker<'j> {
    pub fn new(bare: &'j JobFile, clear: Edit, even: bool) -> Result<Self, Vec<String>> {
        let one = |e: String| vec![e];
        let job = bare.job();
        let d = job.document();
        let mut missing = Vec::new();
        if d.areas.is_empty() {
            missing.push("There is no listening area to design for: draw one under [areas].".to_owned());
        }
        if d.racks.is_empty() {
            missing.push("There is no rack for amplifiers: add one under [racks].".to_owned());
        }
        if !missing.is_empty() {
            return Err(missing);
        }
        let prices = Prices::new(job);
        let site = Site::new(job, offered(job, &prices)?)?;
        let rules = Rules::new(job);
        let round: f64 = d.areas.values().map(|a| a.outline.perimeter()).sum();
        let most = (SPOTS_PER_M * round).clamp(SPOTS.0, SPOTS.1);
        let spots = rules.spots(most as usize);
        if spots.is_empty() {
            return Err(vec!["There is no place for a loudspeaker within 14 m of an area: beds, gravel and soil take them, or say so on a surface, wall or building (loudspeakers = true).".into()]);
        }
        let pool = pool(&site, &spots, &prices).map_err(one)?;
        let subs = subwoofers(&site, &spots, even, 0.0).map_err(one)?;
        let pinned = pinned(&site).map_err(one)?;
        let poses: Vec<Pose> = pinned.iter().map(|p| p.1).collect();
        let coarse = site.exact(&site.coarse, &poses, None).map_err(one)?;
        let fine = site.exact(&site.fine, &poses, None).map_err(one)?;
        let mut fixed = Fixed { coarse, fine, poses, ..Fixed::default() };
        fixed.take(&site, &subs);
        Ok(Self { site, rules, prices, spots, pool, fixed, subs, pinned, even, bare, clear })
    }

    /// The band of the brief, narrowed to a part of its width.
    pub fn band(&self, part: f64) -> Band {
        let kept = |w: f64| (w * part - KEPT_DB).max(0.3);
        Band {
            half_db: self.site.zones.iter().map(|z| kept(z.area.within_db)).collect(),
            lower_db: vec![0.0; self.site.zones.len()],
            ignored: vec![false; self.site.zones.len()],
            outside: 1.0 - SHARE_WITHIN - KEPT_SHARE,
            limits_db: 0.0,
        }
    }

    /// Effort of one search for so many seconds' work.
    pub fn effort(&self, options: &ProposeOptions) -> Effort {
        let points = 2.0 * self.site.coarse.len() as f64 / self.site.zones.len().max(1) as f64;
        let steps =
            CHOOSING * options.work_s.min(super::TRY_S) * WORK_PER_S / (WALKS * MOVES) as f64 / points;
        Effort { walks: WALKS, steps: (steps as usize).clamp(60, 6000), moves: MOVES, seed: options.seed }
    }

    /// Chooses among the candidates, at the working gain that suits best unless one is given; the bound too when
    /// asked.
    pub fn choose(
        &self,
        (band, fixed): (&Band, &Fixed),
        (effort, gain_db): (Effort, Option<f64>),
        teller: &Teller<'_>,
        with_bound: bool,
    ) -> Result<(Choice, Option<f64>), String> {
        let (site, pool) = (&self.site, &self.pool);
        let gain = match gain_db {
            Some(known) => known,
            None => best_gain(site, pool, fixed, &self.prices, band, effort.seed)?,
        };
        let c = covering((site, &site.coarse), pool, fixed, &self.prices, band, gain, all_taps(site));
        let bound = c.bound();
        if with_bound {
            let subs: f64 = self.subs.poses.iter().map(|p| site.models[p.model].installed).sum();
            let proven = bound.cost + subs;
            teller.tell(|t| t.bound = Some(proven));
        }
        let told = |p: Progress| {
            teller.tell(|t| {
                if p.best_cost.is_finite() && with_bound {
                    t.best_cost = Some(t.best_cost.map_or(p.best_cost, |b| b.min(p.best_cost)));
                }
            })
        };
        let choice = c.search(pool, effort, &bound.guide, &told)?;
        Ok((choice, with_bound.then_some(bound.cost)))
    }

    /// A design for a part of the band's width.
    pub fn attempt(
        &self,
        part: f64,
        options: &ProposeOptions,
        kind: OptionKind,
        teller: &Teller<'_>,
    ) -> Result<(Outcome, Option<f64>), String> {
        let mut band = self.band(part);
        let (mut subs, mut fixed) = (self.subs.clone(), self.fixed.clone());
        let (mut extra_db, mut gain_db) = (0.0, None);
        let mut bound = None;
        let mut last: Option<(Choice, Option<Missed>)> = None;
        for attempt in 0..ATTEMPTS {
            teller.tell(|t| {
                t.phase = Phase::Choosing;
                t.option = Some(kind);
            });
            let first = attempt == 0 && part >= 1.0;
            let effort = (self.effort(options), gain_db);
            let (choice, proven) = self.choose((&band, &fixed), effort, teller, first)?;
            bound = bound.or(proven);
            gain_db = Some(choice.gain_db);
            if teller.stopped() {
                return Ok((Outcome::Unmet { choice, missed: None }, bound));
            }
            if !choice.meets && last.is_some() {
                break;
            }
            let possible = choice.meets;
            let mut poses = choice.poses.clone();
            let mut what_missed = None;
            let mut resettle = true;
            // The same loudspeakers are settled again where little is missing, before others are chosen.
            for _ in 0..SETTLINGS {
                if resettle {
                    teller.tell(|t| t.phase = Phase::Refining);
                    let start = (poses.as_slice(), choice.gain_db);
                    let rounds = (ROUNDS, options.seed);
                    poses =
                        refine(&self.site, &self.rules, &self.prices, &fixed, start, &band, rounds)?.poses;
                }
                teller.tell(|t| t.phase = Phase::Building);
                let mut layout = poses.clone();
                layout.extend(subs.poses.iter().copied());
                if layout.is_empty() && self.pinned.is_empty() {
                    // Silence is the only plan within the limits: nothing to build.
                    return Ok((Outcome::Unmet { choice, missed: None }, bound));
                }
                let mut built =
                    build(&self.site, &self.prices, self.bare, &self.clear, &self.pinned, &layout)?;
                teller.tell(|t| t.phase = Phase::Checking);
                let found = figures(&mut built)?;
                let missed = missed(&mut built, &found);
                if missed.nothing() {
                    let price = found.price;
                    // Before this, what was told were estimates without the ways of the cable.
                    teller.tell(|t| {
                        t.best_cost = Some(t.best_cost.filter(|_| part < 1.0).map_or(price, |b| b.min(price)))
                    });
                    let made = Made { built, figures: found, choice_cost: choice.cost };
                    return Ok((Outcome::Met(Box::new(made)), bound));
                }
                if teller.stopped() {
                    return Ok((Outcome::Unmet { choice, missed: Some(missed) }, bound));
                }
                self.narrow(&mut band, &missed);
                if missed.bass_db > 0.0 {
                    extra_db += missed.bass_db + 0.3;
                    let more = subwoofers(&self.site, &self.spots, self.even, extra_db)?;
                    if more.short.is_empty() {
                        fixed.take(&self.site, &more);
                        subs = more;
                    }
                }
                resettle = !missed.areas.is_empty() || missed.neighbours_db > 0.0;
                let far = found.worst_share_within < SHARE_WITHIN - WORTH_SETTLING;
                what_missed = Some(missed);
                if far {
                    break;
                }
            }
            last = Some((choice, what_missed));
            if !possible {
                break;
            }
        }
        let (choice, missed) = last.ok_or("nothing was tried")?;
        Ok((Outcome::Unmet { choice, missed }, bound))
    }

    /// Narrows a band where a design missed.
    fn narrow(&self, band: &mut Band, missed: &Missed) {
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

    /// Fewest loudspeakers that fill the areas, by a quick search in which each costs the same.
    pub fn fewest(&self, band: &Band, effort: Effort) -> Result<Option<usize>, String> {
        let gain = best_gain(&self.site, &self.pool, &self.fixed, &self.prices, band, effort.seed)?;
        let mut c = covering(
            (&self.site, &self.site.coarse),
            &self.pool,
            &self.fixed,
            &self.prices,
            band,
            gain,
            all_taps(&self.site),
        );
        c.problem.at_most = c.problem.places;
        c.problem.supplies.clear();
        c.problem.candidates.iter_mut().for_each(|x| x.cost = 1.0);
        let found = c.search(&self.pool, effort, &[], &|_| true)?;
        Ok(found.meets.then_some(found.poses.len()))
    }

    /// Builds and measures a layout that was not searched for.
    pub fn finish(&self, layout: &[Pose]) -> Result<(Built, Figures), String> {
        let mut built = build(&self.site, &self.prices, self.bare, &self.clear, &self.pinned, layout)?;
        let found = figures(&mut built)?;
        Ok((built, found))
    }
}

/// The loudspeakers that stay, as the search sees them.
fn pinned(site: &Site<'_>) -> Result<Vec<(String, Pose)>, String> {
    let mut out = Vec::new();
    for l in site.job.loudspeakers() {
        let model = site.models.iter().position(|m| m.id == l.placed.model).ok_or_else(|| {
            format!(
                "Loudspeaker {} is pinned, and \"{}\" cannot be used at the brief's supply or by its wishes.",
                l.id, l.placed.model
            )
        })?;
        let taps = &site.models[model].taps_w;
        let near = |z: &super::site::Zone<'_>| {
            super::places::nearest_in(&z.area.outline, l.placed.position).distance(l.placed.position)
        };
        let zone =
            (0..site.zones.len()).min_by(|&a, &b| near(&site.zones[a]).total_cmp(&near(&site.zones[b])));
        let pose = Pose {
            model,
            at: l.placed.position,
            height_m: l.placed.height_m,
            out_deg: None,
            bearing_deg: l.placed.bearing_deg,
            pitch_deg: l.placed.pitch_deg,
            zone: zone.unwrap_or(0),
            tap_w: l.placed.tap_w.or(taps.get(taps.len() / 3).copied()).unwrap_or(1.0),
            reversed: l.placed.polarity == loamline_model::document::Polarity::Reversed,
        };
        out.push((l.id.to_owned(), pose));
    }
    Ok(out)
}
