//! A brief read once, with everything its designs share: places, candidates, subwoofers, what is pinned.

use crate::alike::{bound, choose_alike};
use crate::api::Figures;
use crate::bass::subwoofers;
use crate::build::{Built, build};
use crate::candidates::{Pool, pool};
use crate::choose::{Fixed, all_taps, covering};
use crate::columns::Columns;
use crate::error::{BriefProblem, BriefProblems};
use crate::gains::best_gains;
use crate::measure::figures;
use crate::mirror::{Axis, missed};
use crate::models::{Offered, offered};
use crate::one_model::one_model;
use crate::places::{REACH_M, Rules, Spot};
use crate::price::Prices;
use crate::reporter::Reporter;
use crate::site::Site;
use crate::spacing::crowding;
use crate::types::{
    Choice, Gains, KnownGains, LevelBand, Likeness, Limit, Pose, Row, SHARE_WITHIN, Subwoofers,
};
use loamline_acoustics::energy_from_db;
use loamline_design::{Effort, Progress};
use loamline_limits::{GUIDE_PAIRS, lent};
use loamline_model::document::Matching;
use loamline_model::{Edit, JobFile};
use loamline_quotation::PriceBook;
use std::sync::OnceLock;

/// Spots to look at for each metre round the areas, and within what numbers.
const SPOTS_PER_M: f64 = 1.0;
const SPOTS: (f64, f64) = (110.0, 520.0);
/// LevelBand kept narrower while searching than the brief's: what coherent bass, the equaliser and half-decibel gains
/// cost, dB; and points kept inside beyond those that must be, as a share.
const KEPT_DB: f64 = 0.3;
pub(crate) const KEPT_SHARE: f64 = 0.01;
/// Places on guides, at most; fewer where there are so many points that what each gives at all of them takes too much
/// memory (a loudspeaker of each height at each place): [`GUIDE_PAIRS`].
const GUIDE_PLACES: f64 = 420.0;

/// The brief read, with everything the designs share.
pub(crate) struct Maker<'j> {
    pub site: Site<'j>,
    pub rules: Rules<'j>,
    pub prices: Prices<'j>,
    pub spots: Vec<Spot>,
    /// Loudspeakers each for itself, and whole rows: made when they are first asked for.
    pool: OnceLock<Pool>,
    columns: OnceLock<Columns>,
    /// Lines that each area is mirrored over.
    axes: OnceLock<Vec<Vec<Axis>>>,
    one_model: OnceLock<Vec<Option<usize>>>,
    /// Whether the brief wants the loudspeakers of an area alike.
    pub matching: Matching,
    pub fixed: Fixed,
    pub subs: Subwoofers,
    pub pinned: Vec<(String, Pose)>,
    pub pinned_only: &'j JobFile,
    pub clear: Edit,
}

impl<'j> Maker<'j> {
    pub fn new(pinned_only: &'j JobFile, clear: Edit, book: &'j PriceBook) -> Result<Self, BriefProblems> {
        Self::like(None, (pinned_only, clear), book)
    }

    /// The same, where another was made for almost the same job: directivities that it knows are not tabulated again.
    pub fn like(
        other: Option<&Maker<'_>>,
        (pinned_only, clear): (&'j JobFile, Edit),
        book: &'j PriceBook,
    ) -> Result<Self, BriefProblems> {
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
        let prices = Prices::new(job, book);
        let site = Site::new(job, offered(job, &prices)?, other.map(|o| &o.site))?;
        let rules = Rules::new(job);
        let round: f64 = d.areas.values().map(|a| a.outline.perimeter()).sum();
        let most = (SPOTS_PER_M * round).clamp(SPOTS.0, SPOTS.1);
        let spots = rules.spots(most as usize);
        if spots.is_empty() {
            return Err(BriefProblem::NoPlace { reach_m: REACH_M }.into());
        }
        let fits = |s: &Spot| site.models.iter().any(|m| !m.is_subwoofer() && m.fits(s));
        if d.loudspeakers.is_empty() && !spots.iter().any(fits) {
            return Err(BriefProblem::NothingFits.into());
        }
        let matching = d.brief.wishes.matching;
        let subs = subwoofers(&site, &spots, 0.0)?;
        let pinned = pinned(&site)?;
        let poses: Vec<Pose> = pinned.iter().map(|p| p.1).collect();
        let coarse = site.exact(&site.coarse, &poses, None)?;
        let fine = site.exact(&site.fine, &poses, None)?;
        let mut fixed = Fixed { coarse, fine, poses, ..Fixed::default() };
        fixed.set_subwoofers(&site, &subs);
        let (pool, columns, axes, one_model) =
            (OnceLock::new(), OnceLock::new(), OnceLock::new(), OnceLock::new());
        Ok(Self {
            site,
            rules,
            prices,
            spots,
            pool,
            columns,
            axes,
            one_model,
            matching,
            fixed,
            subs,
            pinned,
            pinned_only,
            clear,
        })
    }

    /// The maker for a job that is like this one's but asks for so much more in every area, dB: places, rows, what stays and the
    /// scenes are taken over.
    pub fn raised<'k>(
        &self,
        (pinned_only, clear): (&'k JobFile, Edit),
        by_db: f64,
        book: &'k PriceBook,
    ) -> Result<Maker<'k>, BriefProblem>
    where
        'j: 'k,
    {
        let job = pinned_only.job();
        let site = self.site.with_targets(job);
        let subs = subwoofers(&site, &self.spots, 0.0)?;
        let less = |rows: &[Row]| rows.iter().map(|r| lowered(&site, r, by_db)).collect();
        let mut fixed = Fixed {
            coarse: less(&self.fixed.coarse),
            fine: less(&self.fixed.fine),
            poses: self.fixed.poses.clone(),
            ..Fixed::default()
        };
        fixed.set_subwoofers(&site, &subs);
        let columns = self.columns.get().map_or_else(OnceLock::new, |c| c.raised(&site, by_db).into());
        let axes = self.axes.get().map_or_else(OnceLock::new, |a| a.clone().into());
        Ok(Maker {
            rules: Rules::new(job),
            prices: Prices::new(job, book),
            spots: self.spots.clone(),
            pool: OnceLock::new(),
            columns,
            axes,
            one_model: OnceLock::new(),
            matching: self.matching,
            fixed,
            subs,
            pinned: self.pinned.clone(),
            pinned_only,
            clear,
            site,
        })
    }

    /// How alike the brief wants the loudspeakers of an area.
    pub fn wished(&self) -> Likeness {
        match self.matching {
            Matching::Alike => Likeness::Rows,
            Matching::Mixed => Likeness::Any,
        }
    }

    /// Ways of using each place for itself.
    pub fn pool(&self) -> Result<&Pool, BriefProblem> {
        if let Some(made) = self.pool.get() {
            return Ok(made);
        }
        let made = pool(&self.site, &self.spots, &self.prices)?;
        Ok(self.pool.get_or_init(|| made))
    }

    /// Whole rows for each area.
    pub fn columns(&self) -> Result<&Columns, BriefProblem> {
        if let Some(made) = self.columns.get() {
            return Ok(made);
        }
        let points = self.site.coarse.len().max(1) as f64;
        let most = GUIDE_PLACES.min(GUIDE_PAIRS.number as f64 / points) as usize;
        let guides = self.rules.guides(&self.spots, most, self.axes());
        let made = Columns::of(&self.site, &guides, &self.prices, &self.band(1.0))?;
        Ok(self.columns.get_or_init(|| made))
    }

    /// Lines that each area, with the ground round it, is mirrored over.
    pub fn axes(&self) -> &[Vec<Axis>] {
        if let Some(made) = self.axes.get() {
            return made;
        }
        let made = self.rules.axes();
        self.axes.get_or_init(|| made)
    }

    /// What a design of rows leaves to be wished, in money: areas that could be mirrored and are not, loudspeakers of two areas that
    /// stand too near each other.
    pub fn left_to_wish(&self, likeness: Likeness, poses: &[Pose]) -> f64 {
        if likeness != Likeness::Rows {
            return 0.0;
        }
        let apart_m = self.site.job.document().brief.wishes.apart_m;
        let costs = self.columns.get().map_or(&[][..], |c| c.pool.cost.as_slice());
        let usual = costs.iter().sum::<f64>() / costs.len().max(1) as f64;
        missed(&self.site, self.axes(), poses) + usual * crowding(poses, apart_m)
    }

    /// Places looked at, and ways of using them: whole rows for whole areas where they are to be alike.
    pub fn looked_at(&self) -> (usize, usize) {
        if let Some(columns) = self.columns.get() {
            let taps = columns.all.iter().map(|c| self.site.models[c.model].taps_w.len());
            return (columns.pool.places, taps.sum());
        }
        let Some(pool) = self.pool.get() else { return (self.spots.len(), 0) };
        (self.spots.len(), pool.poses.iter().map(|p| self.site.models[p.model].taps_w.len()).sum())
    }

    /// The band of the brief, narrowed to a part of its width.
    pub fn band(&self, part: f64) -> LevelBand {
        let kept = |w: f64| (w * part - KEPT_DB).max(0.3);
        let at_most = self.site.job.document().brief.wishes.at_most;
        LevelBand {
            half_db: self.site.zones.iter().map(|z| kept(z.area.within_db)).collect(),
            lower_db: vec![0.0; self.site.zones.len()],
            finished_db: vec![0.0; self.site.zones.len()],
            finished_at_db: Vec::new(),
            ignored: vec![false; self.site.zones.len()],
            model: vec![None; self.site.zones.len()],
            outside: 1.0 - SHARE_WITHIN - KEPT_SHARE,
            limits_db: 0.0,
            at_most: at_most.map_or(usize::MAX, |n| n as usize),
        }
    }

    /// The same for loudspeakers that are so alike.
    pub fn band_of(&self, part: f64, likeness: Likeness, seed: u64) -> Result<LevelBand, BriefProblem> {
        let mut band = self.band(part);
        if likeness == Likeness::OneModel {
            band.model = self.model_of_each_area(seed)?;
        }
        Ok(band)
    }

    /// The model that suits each area best for itself, found once.
    fn model_of_each_area(&self, seed: u64) -> Result<Vec<Option<usize>>, BriefProblem> {
        if let Some(made) = self.one_model.get() {
            return Ok(made.clone());
        }
        let made = one_model(&self.site, self.pool()?, &self.fixed, &self.prices, &self.band(1.0), seed)?;
        Ok(self.one_model.get_or_init(|| made).clone())
    }

    /// Chooses among the candidates, at the working gains that suit best unless they are given: the best choice first,
    /// then others that meet everything. The bound too when asked.
    pub fn choose(
        &self,
        likeness: Likeness,
        (band, fixed): (&LevelBand, &Fixed),
        (effort, gains): (Effort, KnownGains<'_>),
        reporter: &Reporter<'_>,
        with_bound: bool,
    ) -> Result<(Vec<Choice>, Option<f64>), BriefProblem> {
        if likeness == Likeness::Rows {
            return self.choose_rows((band, fixed), (effort.seed, gains), reporter, with_bound);
        }
        let (site, pool) = (&self.site, self.pool()?);
        let gains = match gains {
            KnownGains::Exactly(known) => known.clone(),
            KnownGains::Nothing | KnownGains::About(_) => {
                best_gains(site, pool, fixed, &self.prices, band, effort.seed)?
            }
        };
        let c = covering((site, &site.coarse), pool, fixed, &self.prices, band, &gains, all_taps(site));
        let prove = || {
            let bound = with_bound.then(|| c.bound().cost)?;
            self.tell_bound(reporter, Some(bound));
            Some(bound)
        };
        // What a choice is reckoned to cost is no price of a design: those are told once they are quoted.
        let told = |_: Progress| reporter.tell(|_| {});
        let leave = lent();
        let search = || leave.lend(|| c.search_several(pool, effort, &[], &told));
        let (choices, bound) = rayon::join(search, || leave.lend(prove));
        Ok((choices?, bound))
    }

    /// The same of whole rows.
    fn choose_rows(
        &self,
        (band, fixed): (&LevelBand, &Fixed),
        (seed, gains): (u64, KnownGains<'_>),
        reporter: &Reporter<'_>,
        with_bound: bool,
    ) -> Result<(Vec<Choice>, Option<f64>), BriefProblem> {
        reporter.spend(self.choose_rows_s());
        let columns = self.columns()?;
        let (site, prices) = (&self.site, &self.prices);
        let choices = choose_alike(site, columns, fixed, prices, band, (gains, seed))?;
        let best = choices.first().filter(|c| c.meets && with_bound);
        let bound = best.map(|c| self.rows_bound((band, fixed), &c.gains)).transpose()?;
        if bound.is_some() {
            self.tell_bound(reporter, bound);
        }
        Ok((choices, bound))
    }

    /// Tells what is proven of a choice, the subwoofers beside it.
    pub fn tell_bound(&self, reporter: &Reporter<'_>, bound: Option<f64>) {
        let subs: f64 = self.subs.poses.iter().map(|p| self.site.models[p.model].installed).sum();
        reporter.tell(|t| t.bound = bound.map(|b| b + subs));
    }

    /// What no choice of whole rows that keeps to a band can cost less than at some gains.
    pub fn rows_bound(
        &self,
        (band, fixed): (&LevelBand, &Fixed),
        gains: &Gains,
    ) -> Result<f64, BriefProblem> {
        Ok(bound(&self.site, self.columns()?, fixed, &self.prices, band, gains))
    }

    /// As [`Maker::finish`]; where areas cannot have lines of their own (too few pairs of an existing cable lead there),
    /// without. Also says which.
    pub fn finish_as_can_be(
        &self,
        layout: &[Pose],
        own_gains: bool,
    ) -> Result<(Built, Figures, bool), BriefProblem> {
        match self.finish(layout, own_gains) {
            Err(problem) if own_gains && problem.of_one_design() => self.finish_as_can_be(layout, false),
            finished => finished.map(|(built, figures)| (built, figures, own_gains)),
        }
    }

    /// Builds and measures a layout; with gains of their own for areas where the amplifiers bought have channels left.
    pub fn finish(&self, layout: &[Pose], own_gains: bool) -> Result<(Built, Figures), BriefProblem> {
        let before = (self.pinned_only, &self.clear);
        let built = build(&self.site, &self.prices, before, &self.pinned, layout, own_gains)?;
        let found = figures(&built)?;
        Ok((built, found))
    }
}

/// What a loudspeaker gives where targets are so much higher, dB: less of them, and as much at the neighbours.
fn lowered(site: &Site<'_>, row: &Row, by_db: f64) -> Row {
    let less = energy_from_db(-by_db) as f32;
    let limit = |(share, limit): (&f32, &Limit)| if limit.neighbour { *share } else { less * share };
    let limits = row.limits.iter().zip(&site.limits).map(limit).collect();
    Row { points: row.points.iter().map(|e| less * e).collect(), limits }
}

/// The loudspeakers that stay, as the search sees them.
pub(crate) fn pinned(site: &Site<'_>) -> Result<Vec<(String, Pose)>, BriefProblem> {
    let mut out = Vec::new();
    for l in site.job.loudspeakers() {
        let near = |z: &crate::types::Zone<'_>| {
            crate::places::nearest_in(&z.area.outline, l.placed.position).distance(l.placed.position)
        };
        let zone =
            (0..site.zones.len()).min_by(|&a, &b| near(&site.zones[a]).total_cmp(&near(&site.zones[b])));
        let supply = zone.map(|z| site.zones[z].supply);
        let usable = |m: &Offered<'_>| m.id == l.placed.model && supply.is_none_or(|s| s == m.supply);
        let model = site.models.iter().position(usable).ok_or_else(|| BriefProblem::PinnedUnusable {
            tag: l.id.to_owned(),
            model: l.placed.model.clone(),
        })?;
        let taps = &site.models[model].taps_w;
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
