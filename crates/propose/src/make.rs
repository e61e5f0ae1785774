//! A brief read once, with everything its designs share: places, candidates, subwoofers, what is pinned.

use crate::api::{Figures, ProposeOptions};
use crate::bass::subwoofers;
use crate::build::{Built, build};
use crate::candidates::{Pool, pool};
use crate::choose::{Fixed, all_taps, covering};
use crate::error::{BriefProblem, BriefProblems};
use crate::gains::best_gains;
use crate::measure::figures;
use crate::models::offered;
use crate::places::{REACH_M, Rules, Spot};
use crate::price::Prices;
use crate::reporter::Reporter;
use crate::site::Site;
use crate::types::{Choice, Gains, LevelBand, Pose, SHARE_WITHIN, Subwoofers, TRY_S};
use loamline_design::{Effort, Progress};
use loamline_model::{Edit, JobFile};

/// Spots to look at for each metre round the areas, and within what numbers.
const SPOTS_PER_M: f64 = 1.0;
const SPOTS: (f64, f64) = (110.0, 520.0);
/// Seconds one drawn change takes on a usual core, about: so much, and so much for each point of an area it is felt in
/// (measured; it only scales the effort).
const DRAW_S: (f64, f64) = (5.0e-7, 2.5e-9);
/// Part of the work that goes into choosing; the rest goes into settling and building.
const CHOOSING: f64 = 0.2;
/// Points of the coarse grid of a usual garden. A try takes less work on sites with fewer and more on those with more,
/// within these factors.
const USUAL_POINTS: f64 = 240.0;
const SIZES: (f64, f64) = (0.2, 2.0);
/// Work that goes into settling and building other choices than the best, as a part of that of a try, and what one takes,
/// seconds: so much, and so much for each loudspeaker and point (measured; it only scales their number).
const FINALS: f64 = 0.3;
const FINAL_S: (f64, f64) = (0.1, 3e-5);
/// Choices that are settled and built, at most, and how much dearer than the best one of them may be.
const MOST_FINALS: usize = 3;
const DEARER: f64 = 1.1;
/// Walks of the search: enough for two cores and for luck.
const WALKS: usize = 8;
/// LevelBand kept narrower while searching than the brief's: what coherent bass, the equaliser and half-decibel gains
/// cost, dB; and points kept inside beyond those that must be, as a share.
const KEPT_DB: f64 = 0.3;
pub(crate) const KEPT_SHARE: f64 = 0.01;
/// The brief read, with everything the designs share.
pub(crate) struct Maker<'j> {
    pub site: Site<'j>,
    pub rules: Rules<'j>,
    pub prices: Prices<'j>,
    pub spots: Vec<Spot>,
    pub pool: Pool,
    pub fixed: Fixed,
    pub subs: Subwoofers,
    pub pinned: Vec<(String, Pose)>,
    /// Whether subwoofers are to be as even as can be rather than cheap.
    pub even: bool,
    pub pinned_only: &'j JobFile,
    pub clear: Edit,
}

impl<'j> Maker<'j> {
    pub fn new(pinned_only: &'j JobFile, clear: Edit, even: bool) -> Result<Self, BriefProblems> {
        let job = pinned_only.job();
        let d = job.document();
        let mut missing = Vec::new();
        if d.areas.is_empty() {
            missing.push(BriefProblem::NoArea);
        }
        if d.racks.is_empty() {
            missing.push(BriefProblem::NoRack);
        }
        if !missing.is_empty() {
            return Err(BriefProblems(missing));
        }
        let prices = Prices::new(job);
        let site = Site::new(job, offered(job, &prices)?)?;
        let rules = Rules::new(job);
        let round: f64 = d.areas.values().map(|a| a.outline.perimeter()).sum();
        let most = (SPOTS_PER_M * round).clamp(SPOTS.0, SPOTS.1);
        let spots = rules.spots(most as usize);
        if spots.is_empty() {
            return Err(BriefProblem::NoPlace { reach_m: REACH_M }.into());
        }
        let pool = pool(&site, &spots, &prices)?;
        let subs = subwoofers(&site, &spots, even, 0.0)?;
        let pinned = pinned(&site)?;
        let poses: Vec<Pose> = pinned.iter().map(|p| p.1).collect();
        let coarse = site.exact(&site.coarse, &poses, None)?;
        let fine = site.exact(&site.fine, &poses, None)?;
        let mut fixed = Fixed { coarse, fine, poses, ..Fixed::default() };
        fixed.set_subwoofers(&site, &subs);
        Ok(Self { site, rules, prices, spots, pool, fixed, subs, pinned, even, pinned_only, clear })
    }

    /// The band of the brief, narrowed to a part of its width.
    pub fn band(&self, part: f64) -> LevelBand {
        let kept = |w: f64| (w * part - KEPT_DB).max(0.3);
        LevelBand {
            half_db: self.site.zones.iter().map(|z| kept(z.area.within_db)).collect(),
            lower_db: vec![0.0; self.site.zones.len()],
            finished_db: vec![0.0; self.site.zones.len()],
            ignored: vec![false; self.site.zones.len()],
            outside: 1.0 - SHARE_WITHIN - KEPT_SHARE,
            limits_db: 0.0,
        }
    }

    /// Seconds' work of one try: more on sites that are larger than a usual garden, less on smaller ones.
    fn try_s(&self, options: &ProposeOptions) -> f64 {
        self.size() * options.work_s.min(TRY_S)
    }

    fn size(&self) -> f64 {
        (self.site.coarse.len() as f64 / USUAL_POINTS).clamp(SIZES.0, SIZES.1)
    }

    /// How many tries the work allowed is enough for.
    pub fn tries(&self, options: &ProposeOptions) -> u64 {
        let each_s = TRY_S * self.size().min(1.0);
        (options.work_s / each_s).floor().clamp(1.0, 120.0) as u64
    }

    /// Effort of one search.
    pub fn effort(&self, options: &ProposeOptions) -> Effort {
        let points = 2.0 * self.site.coarse.len() as f64 / self.site.zones.len().max(1) as f64;
        let core_s = 2.0 * CHOOSING * self.try_s(options);
        let draws = core_s / WALKS as f64 / (DRAW_S.0 + DRAW_S.1 * points);
        Effort { walks: WALKS, draws: (draws as usize).clamp(20_000, 4_000_000), seed: options.seed }
    }

    /// Chooses among the candidates, at the working gains that suit best unless they are given: the best choice first,
    /// then others that meet everything. The bound too when asked.
    pub fn choose(
        &self,
        (band, fixed): (&LevelBand, &Fixed),
        (effort, gains): (Effort, Option<&Gains>),
        reporter: &Reporter<'_>,
        with_bound: bool,
    ) -> Result<(Vec<Choice>, Option<f64>), BriefProblem> {
        let (site, pool) = (&self.site, &self.pool);
        let gains = match gains {
            Some(known) => known.clone(),
            None => best_gains(site, pool, fixed, &self.prices, band, effort.seed)?,
        };
        let c = covering((site, &site.coarse), pool, fixed, &self.prices, band, &gains, all_taps(site));
        let prove = || {
            let bound = with_bound.then(|| c.bound().cost)?;
            let subs: f64 = self.subs.poses.iter().map(|p| site.models[p.model].installed).sum();
            reporter.tell(|t| t.bound = Some(bound + subs));
            Some(bound)
        };
        let told = |p: Progress| {
            reporter.tell(|t| {
                if p.best_cost.is_finite() && with_bound {
                    t.best_cost = Some(t.best_cost.map_or(p.best_cost, |b| b.min(p.best_cost)));
                }
            })
        };
        let (choices, bound) = rayon::join(|| c.search_several(pool, effort, &[], &told), prove);
        Ok((choices?, bound))
    }

    /// Which of some choices, the best first, to settle and build: what the ways of the cable cost shows only then. Where
    /// few differ, some come again, to be settled in another way.
    pub fn finals(&self, mut choices: Vec<Choice>, options: &ProposeOptions) -> Vec<Choice> {
        let Some(best) = choices.first() else { return choices };
        let each_s = FINAL_S.0 + FINAL_S.1 * (best.poses.len() * self.site.fine.len()) as f64;
        let more = FINALS * self.try_s(options) / each_s;
        let dearest = DEARER * best.cost;
        choices.retain(|c| c.cost <= dearest);
        let count = (1 + more as usize).min(MOST_FINALS);
        choices.truncate(count);
        let differ = choices.len();
        choices.extend((differ..count).map(|k| choices[k % differ].clone()).collect::<Vec<_>>());
        choices
    }

    /// Fewest loudspeakers that fill the areas, by a quick search in which each costs the same.
    pub fn fewest(&self, band: &LevelBand, effort: Effort) -> Result<Option<usize>, BriefProblem> {
        let gains = best_gains(&self.site, &self.pool, &self.fixed, &self.prices, band, effort.seed)?;
        let mut c = covering(
            (&self.site, &self.site.coarse),
            &self.pool,
            &self.fixed,
            &self.prices,
            band,
            &gains,
            all_taps(&self.site),
        );
        c.problem.at_most = c.problem.places;
        c.problem.supplies.clear();
        c.problem.candidates.iter_mut().for_each(|x| x.cost = 1.0);
        let found = c.search(&self.pool, effort, &[], &|_| true)?;
        Ok(found.meets.then_some(found.poses.len()))
    }

    /// Builds and measures a layout; with gains of their own for areas where the amplifiers bought have channels left.
    pub fn finish(&self, layout: &[Pose], own_gains: bool) -> Result<(Built, Figures), BriefProblem> {
        let before = (self.pinned_only, &self.clear);
        let built = build(&self.site, &self.prices, before, &self.pinned, layout, own_gains)?;
        let found = figures(&built)?;
        Ok((built, found))
    }
}

/// The loudspeakers that stay, as the search sees them.
fn pinned(site: &Site<'_>) -> Result<Vec<(String, Pose)>, BriefProblem> {
    let mut out = Vec::new();
    for l in site.job.loudspeakers() {
        let model = site.models.iter().position(|m| m.id == l.placed.model).ok_or_else(|| {
            BriefProblem::PinnedUnusable { tag: l.id.to_owned(), model: l.placed.model.clone() }
        })?;
        let taps = &site.models[model].taps_w;
        let near = |z: &crate::types::Zone<'_>| {
            crate::places::nearest_in(&z.area.outline, l.placed.position).distance(l.placed.position)
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
