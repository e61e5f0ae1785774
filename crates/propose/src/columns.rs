//! Columns: whole rows of like loudspeakers for an area, each taken or left as one.
//!
//! A row stands evenly along a guide. A column is one row, or two on different guides with like spacings, all of one
//! model and, once it is driven, on one tap. What a column gives is the sum of what its loudspeakers give (energies add),
//! so thousands are looked at for the price of the places they share.

use crate::candidates::{Pool, aims};
use crate::error::BriefProblem;
use crate::guides::Guides;
use crate::mirror::{Axis, are_mirrored};
use crate::places::Spot;
use crate::price::Prices;
use crate::rows::rows_on;
use crate::site::{Site, pose_at};
use crate::spacing::even;
use crate::types::{LevelBand, Pose};
use crate::ways::ways;
use loamline_acoustics::{db_from_energy, energy_from_db};
use loamline_geometry::Point2;
use loamline_limits::{go_on, lent};
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::ops::Range;

/// Rows of one guide that go into pairs, and columns kept for each area: the cheapest that fill it, and those that come
/// nearest to filling it. More take time and hardly ever win.
const PAIRED: usize = 3;
const KEPT: usize = 70;
/// Columns of each model kept for each area, so that areas that touch find one in common; and mirrored ones, of any model.
const KEPT_OF_A_MODEL: usize = 6;
const KEPT_MIRRORED: usize = 24;
/// Loudspeakers screened at once.
const AT_ONCE: usize = 500;
/// Share of an area that a column fills which counts as filling it.
const FILLS: f64 = 0.93;
/// Ways are longer than straight lines by about this; the way from the rack is shared with other rows by about so much
/// (routed designs for the examples).
const DETOUR: f64 = 1.2;
const SHARED_WAY: f64 = 0.6;

/// Whole rows for an area.
#[derive(Debug, Clone)]
pub(crate) struct Column {
    pub zone: usize,
    pub model: usize,
    /// Its loudspeakers, by their place in the pool.
    pub poses: Vec<usize>,
    /// Which of them stand in one row.
    pub rows: Vec<Range<usize>>,
    /// What it gives at 1 W each and no gain: at every point, and of every limit.
    pub points: Vec<f32>,
    pub limits: Vec<f32>,
    /// The most it gives in each area.
    pub peaks: Vec<f32>,
    /// Installed with its cable and without amplification, tax included.
    pub cost: f64,
    /// Level of 1 W each at which most of its area lies within the band is to be raised by this, dB.
    pub raise_db: f64,
    /// Share of its area within the band then.
    pub share: f64,
    /// Whether it is mirrored, or its area cannot be.
    pub mirrored: bool,
    /// South-west and north-east corner of where it stands.
    pub bounds: (Point2, Point2),
}

/// The columns of all areas, with the pool they are made from.
pub(crate) struct Columns {
    pub pool: Pool,
    pub all: Vec<Column>,
}

/// A row: places among all, along its guide.
#[derive(Clone)]
struct Shape {
    guide: usize,
    closed: bool,
    spots: Vec<usize>,
}

/// A row of a model with what it gives in its own area.
struct Scored<'s> {
    shape: &'s Shape,
    energies: Vec<f64>,
    share: f64,
}

impl Columns {
    /// Every column worth looking at.
    pub fn of(
        site: &Site<'_>,
        guides: &Guides,
        prices: &Prices<'_>,
        band: &LevelBand,
    ) -> Result<Self, BriefProblem> {
        let (pool, by_spot) = row_pool(site, guides, prices)?;
        let apart_m = site.job.document().brief.wishes.apart_m;
        let mut shapes: Vec<Vec<Shape>> = vec![Vec::new(); site.zones.len()];
        for (g, guide) in guides.all.iter().enumerate() {
            let rows = rows_on(guide, &guides.spots, apart_m);
            shapes[guide.zone].extend(rows.into_iter().map(|spots| Shape {
                guide: g,
                closed: guide.closed,
                spots,
            }));
        }
        let ways = ways(site, guides, prices);
        let of_model = |(z, m): (usize, usize)| {
            let (pool, by_spot) = (&pool, &by_spot);
            let at = |spot: &usize| by_spot[*spot][m];
            go_on();
            let axes = guides.axes.get(z).map_or(&[][..], Vec::as_slice);
            of_model(
                site,
                pool,
                (z, m),
                &shapes[z],
                &at,
                (&guides.spots, &ways, apart_m),
                (band, axes),
                prices,
            )
        };
        let leave = lent();
        let models = site.models.len();
        let pairs: Vec<(usize, usize)> =
            (0..site.zones.len()).flat_map(|z| (0..models).map(move |m| (z, m))).collect();
        let found: Vec<Vec<Column>> = pairs.par_iter().map(|p| leave.lend(|| of_model(*p))).collect();
        let mut all = Vec::new();
        for z in 0..site.zones.len() {
            let own: Vec<&Column> = found[z * models..(z + 1) * models].iter().flatten().collect();
            all.extend(best(&own).into_iter().map(|i| own[i].clone()));
        }
        // What each gives everywhere only matters for those that are kept.
        let fill = |c: &mut Column| {
            go_on();
            c.points = vec![0.0; site.coarse.len()];
            c.limits = vec![0.0; site.limits.len()];
            for row in c.poses.iter().map(|&i| &pool.rows[i]) {
                c.points.iter_mut().zip(&row.points).for_each(|(s, e)| *s += e);
                c.limits.iter_mut().zip(&row.limits).for_each(|(s, e)| *s += e);
            }
            let most = |r: &Range<usize>| c.points[r.clone()].iter().copied().fold(0.0, f32::max);
            c.peaks = site.coarse.ranges.iter().map(most).collect();
        };
        all.par_iter_mut().for_each(|c| leave.lend(|| fill(c)));
        // What each loudspeaker gives is in what its columns give now.
        Ok(Self { pool: Pool { rows: Vec::new(), ..pool }, all })
    }

    /// The same for a brief that asks for so much more in every area, dB: columns are kept by the share they bring within
    /// the band at the level that suits them, which stays.
    pub fn raised(&self, site: &Site<'_>, by_db: f64) -> Self {
        let less = energy_from_db(-by_db) as f32;
        let mut all = self.all.clone();
        for c in &mut all {
            c.raise_db += by_db;
            c.points.iter_mut().chain(&mut c.peaks).for_each(|e| *e *= less);
            // What other programmes may add is told against an area's target too.
            let of_areas = c.limits.iter_mut().zip(&site.limits).filter(|(_, l)| !l.neighbour);
            of_areas.for_each(|(e, _)| *e *= less);
        }
        Self { pool: self.pool.clone(), all }
    }
}

/// Which of an area's columns to keep.
fn best(own: &[&Column]) -> Vec<usize> {
    let mut kept = BTreeSet::new();
    let mut take = |order: &dyn Fn(&usize, &usize) -> std::cmp::Ordering, most: usize, of: Vec<usize>| {
        let mut of = of;
        of.sort_by(order);
        kept.extend(of.into_iter().take(most));
    };
    let by_cost = |a: &usize, b: &usize| own[*a].cost.total_cmp(&own[*b].cost).then(a.cmp(b));
    let by_share = |a: &usize, b: &usize| {
        own[*b].share.total_cmp(&own[*a].share).then(own[*a].cost.total_cmp(&own[*b].cost)).then(a.cmp(b))
    };
    let fills = |i: &usize| own[*i].share >= FILLS;
    take(&by_cost, KEPT, (0..own.len()).filter(fills).collect());
    take(&by_share, KEPT, (0..own.len()).collect());
    let mirrored = || (0..own.len()).filter(|i| own[*i].mirrored);
    take(&by_cost, KEPT_MIRRORED, mirrored().filter(fills).collect());
    take(&by_share, KEPT_MIRRORED, mirrored().collect());
    let models: BTreeSet<usize> = own.iter().map(|c| c.model).collect();
    for m in models {
        let of = || (0..own.len()).filter(|i| own[*i].model == m);
        take(&by_cost, KEPT_OF_A_MODEL, of().filter(fills).collect());
        take(&by_share, KEPT_OF_A_MODEL, of().collect());
    }
    kept.into_iter().collect()
}

/// Where in the pool a model at a place stands: by place, then by model; none where it cannot stand.
type InPool = Vec<Vec<Option<usize>>>;

/// Every model at every place of the guides, with what it gives; and where in the pool each stands.
fn row_pool(site: &Site<'_>, guides: &Guides, prices: &Prices<'_>) -> Result<(Pool, InPool), BriefProblem> {
    let (mut poses, mut place, mut cost) = (Vec::new(), Vec::new(), Vec::new());
    let mut by_spot = vec![vec![None; site.models.len()]; guides.spots.len()];
    for guide in &guides.all {
        let alone = guide.places.len() == 1;
        for &k in guide.places.iter().flatten() {
            let spot = &guides.spots[k];
            for (m, offered) in site.models.iter().enumerate() {
                let fed = offered.supply == site.zones[guide.zone].supply;
                if offered.is_subwoofer() || !fed || !offered.fits(spot) {
                    continue;
                }
                let all = aims(site, spot, guide.zone, offered);
                // A row looks straight at its area; one that stands alone looks at its middle.
                let Some(&aim) = (if alone { all.last() } else { all.first() }) else { continue };
                by_spot[k][m] = Some(poses.len());
                poses.push(pose_at(spot, m, offered, aim, guide.zone));
                place.push(k);
                cost.push(offered.installed + prices.cable_per_m(spot.lay_per_m));
            }
        }
    }
    // A part at a time: each takes memory for every point.
    let mut rows = Vec::with_capacity(poses.len());
    for part in poses.chunks(AT_ONCE) {
        rows.extend(site.screen(part)?);
    }
    Ok((Pool { poses, rows, place, places: guides.spots.len(), too_near: Vec::new(), cost }, by_spot))
}

/// The columns of one model for an area.
#[expect(
    clippy::too_many_arguments,
    reason = "what a column is made from; all of it is borrowed and none of it belongs together elsewhere"
)]
fn of_model(
    site: &Site<'_>,
    pool: &Pool,
    (zone, model): (usize, usize),
    shapes: &[Shape],
    at: &dyn Fn(&usize) -> Option<usize>,
    (spots, ways, apart_m): (&[Spot], &[f64], f64),
    (band, axes): (&LevelBand, &[Axis]),
    prices: &Prices<'_>,
) -> Vec<Column> {
    let range = site.coarse.ranges[zone].clone();
    let half_db = band.half_db[zone];
    let mut rows: Vec<Scored<'_>> = Vec::new();
    for shape in shapes {
        let Some(poses) = shape.spots.iter().map(at).collect::<Option<Vec<usize>>>() else { continue };
        let mut energies = vec![0.0; range.len()];
        for i in poses {
            let own = &pool.rows[i].points[range.clone()];
            energies.iter_mut().zip(own).for_each(|(s, e)| *s += f64::from(*e));
        }
        let (share, _) = best_level(&energies, half_db);
        rows.push(Scored { shape, energies, share });
    }
    let column = |of: &[&Scored<'_>]| {
        let mut energies = vec![0.0; range.len()];
        of.iter().for_each(|r| energies.iter_mut().zip(&r.energies).for_each(|(s, e)| *s += e));
        let (share, raise_db) = best_level(&energies, half_db);
        let mut poses: Vec<usize> = Vec::new();
        let mut parts = Vec::new();
        for r in of {
            let start = poses.len();
            poses.extend(r.shape.spots.iter().filter_map(at));
            parts.push(start..poses.len());
        }
        let installed = poses.len() as f64 * site.models[model].installed;
        let way = of.iter().map(|r| ways[r.shape.guide]).fold(f64::INFINITY, f64::min);
        let places = of.iter().flat_map(|r| &r.shape.spots).map(|s| &spots[*s]);
        let cost = installed + SHARED_WAY * way + chain(prices, places.collect());
        let stand: Vec<Pose> = poses.iter().map(|i| pool.poses[*i]).collect();
        let mirrored = are_mirrored(site, axes, &stand);
        Column {
            zone,
            model,
            poses,
            rows: parts,
            points: Vec::new(),
            limits: Vec::new(),
            peaks: Vec::new(),
            cost,
            raise_db,
            share,
            mirrored,
            bounds: bounds(&stand),
        }
    };
    let mut out: Vec<Column> = rows.iter().map(|r| column(&[r])).collect();
    // Pairs of the better rows of different guides.
    let mut order: Vec<usize> = (0..rows.len()).filter(|i| !rows[*i].shape.closed).collect();
    order.sort_by(|&a, &b| rows[b].share.total_cmp(&rows[a].share).then(a.cmp(&b)));
    let mut of_guide = std::collections::BTreeMap::new();
    order.retain(|&i| {
        let n = of_guide.entry((rows[i].shape.guide, rows[i].shape.spots.len().min(4))).or_insert(0);
        *n += 1;
        *n <= PAIRED
    });
    for (k, &a) in order.iter().enumerate() {
        go_on();
        for &b in order[..k].iter().filter(|b| rows[**b].shape.guide != rows[a].shape.guide) {
            let (a, b) = (&rows[a], &rows[b]);
            let places: Vec<Point2> =
                a.shape.spots.iter().chain(&b.shape.spots).map(|s| spots[*s].at).collect();
            if even(&places, apart_m) {
                out.push(column(&[a, b]));
            }
        }
    }
    let own: Vec<&Column> = out.iter().collect();
    let kept = best(&own);
    kept.into_iter().map(|i| out[i].clone()).collect()
}

/// South-west and north-east corner of where loudspeakers stand.
fn bounds(poses: &[Pose]) -> (Point2, Point2) {
    let none = (Point2::new(f64::INFINITY, f64::INFINITY), Point2::new(f64::NEG_INFINITY, f64::NEG_INFINITY));
    poses.iter().fold(none, |(low, high), p| {
        (
            Point2::new(low.x.min(p.at.x), low.y.min(p.at.y)),
            Point2::new(high.x.max(p.at.x), high.y.max(p.at.y)),
        )
    })
}

/// Cable from one loudspeaker to the next, tax included.
fn chain(prices: &Prices<'_>, spots: Vec<&Spot>) -> f64 {
    let mut left = spots;
    let Some(first) = left.pop() else { return 0.0 };
    let mut reached = vec![first];
    let mut metres = 0.0;
    while !left.is_empty() {
        let gap = |s: &Spot| crate::price::nearest_m(s.at, reached.iter().map(|r| r.at));
        let Some(next) = (0..left.len()).min_by(|&a, &b| gap(left[a]).total_cmp(&gap(left[b]))) else {
            break;
        };
        metres += gap(left[next]);
        reached.push(left.swap_remove(next));
    }
    let lay = reached.iter().map(|s| s.lay_per_m).sum::<f64>() / reached.len() as f64;
    DETOUR * metres * prices.cable_per_m(lay)
}

/// The largest share of some energies that one level brings within a band, and how far they are to be raised for it, dB.
fn best_level(energies: &[f64], half_db: f64) -> (f64, f64) {
    let mut sorted: Vec<f64> = energies.iter().map(|e| e.max(1e-12)).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let widest = energy_from_db(2.0 * half_db);
    let (mut most, mut first, mut best) = (0, 0, (0, 0));
    for last in 0..sorted.len() {
        while sorted[last] > widest * sorted[first] {
            first += 1;
        }
        if last + 1 - first > most {
            most = last + 1 - first;
            best = (first, last);
        }
    }
    let Some((low, high)) = sorted.get(best.0).zip(sorted.get(best.1)) else { return (1.0, 0.0) };
    (most as f64 / sorted.len() as f64, -0.5 * (db_from_energy(*low) + db_from_energy(*high)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_best_level_is_the_middle_of_the_fullest_window() {
        // Levels 0, 1, 2, 3 and 20 dB: four of five lie within 2 dB of 1.5 dB.
        let energies = [0.0, 1.0, 2.0, 3.0, 20.0].map(|db: f64| 10f64.powf(db / 10.0));
        let (share, raise_db) = best_level(&energies, 2.0);
        assert!((share - 0.8).abs() < 1e-12 && (raise_db + 1.5).abs() < 1e-9, "{share} {raise_db}");
    }
}
