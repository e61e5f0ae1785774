//! What is heard over an area, together and from each loudspeaker: near ones followed to every point, far ones to a few.
//!
//! Of a thousand loudspeakers all but some tens are so far from a terrace that their sound differs little from one end of it to
//! the other, and is far below that of its own. Their means are taken over [`FEW`] points spread over the area; when their sound
//! arrives does not matter, since it never is within [`ECHO_LEVEL_DB`] of the loudest. Work then grows with the loudspeakers
//! around an area and not with all of them times its points.
//!
//! A loudspeaker is near when it stands no farther from the area than the area is wide, or plays its programme and comes within
//! [`MAY_COUNT_DB`] of the loudest somewhere among the few points. What that leaves out is held against every loudspeaker at every
//! point below: together the far ones are off by less than 0.05 dB of an area's level.

use super::compute::field;
use super::each_alone::{EnergyMatrix, arrivals_from, energy_matrix_of};
use super::points::Points;
use super::result::Field;
use crate::areas::{Arrival, ECHO_LEVEL_DB};
use crate::bands::{BAND_COUNT, BandValues};
use crate::level::{db_from_energy, energy_from_db};
use crate::scene::Scene;
use crate::weighting::Weighting;
use loamline_geometry::{Point2, Point3};
use loamline_limits::Exceeded;
use std::collections::BTreeSet;

/// Up to so many loudspeakers all are near: choosing among them costs more than it saves.
const ALL_NEAR: usize = 128;

/// Points that far loudspeakers are followed to. With fewer, a wall that hides part of an area is met by chance; more cost as much
/// as following everything.
const FEW: usize = 24;

/// How far below the loudest of its programme a loudspeaker may be at the few points and still be followed to all, dB: what counts
/// for echoes, and as much again for what a gap between walls or a lobe gives at a point that is none of the few.
const MAY_COUNT_DB: f64 = 2.0 * ECHO_LEVEL_DB;

/// The golden section: its multiples, less whole numbers, lie evenly over 0 to 1 however many are taken.
const GOLDEN: f64 = 0.618_033_988_749_894_9;

/// What each loudspeaker gives over an area.
#[derive(Debug, Clone)]
pub struct AreaShares {
    /// Those followed to every point, in the order of the scene.
    near: Vec<usize>,
    matrix: EnergyMatrix,
    /// Of every loudspeaker: mean energy per band over the points, re (20 uPa)^2.
    means: Vec<[f64; BAND_COUNT]>,
}

/// What is heard over an area: all loudspeakers together, and each of them.
#[derive(Debug, Clone)]
pub struct AreaHeard {
    /// The field at its points.
    pub field: Field,
    /// What each loudspeaker gives.
    pub shares: AreaShares,
}

/// Works out what is heard at the points of an area where a programme (by its place in the scene) is wanted.
///
/// On a site of more than some hundred loudspeakers, those that together give next to nothing and stand farther away than waves
/// keep in step ([`Settings::in_step_m`](crate::Settings::in_step_m)) are added as their mean over the area: LAeq is within
/// 0.1 dB of the field of all of them at every point.
///
/// # Errors
/// [`Exceeded`] when that is more than one calculation may take.
pub fn area_heard(scene: &Scene, points: &Points, programme: usize) -> Result<AreaHeard, Exceeded> {
    let (shares, coarse) = shares_and_coarse(scene, points, programme)?;
    let field = match &coarse {
        Some((coarse, few)) => field_with_far(scene, points, (coarse, few)),
        None => field(scene, points),
    };
    Ok(AreaHeard { field, shares })
}

/// What each loudspeaker alone gives over an area where a programme is wanted, without what they give together.
///
/// # Errors
/// [`Exceeded`] when that is more than one calculation may take.
pub fn area_shares(scene: &Scene, points: &Points, programme: usize) -> Result<AreaShares, Exceeded> {
    Ok(shares_and_coarse(scene, points, programme)?.0)
}

/// The shares, and what all loudspeakers give at a few points where there are far ones.
fn shares_and_coarse(
    scene: &Scene,
    points: &Points,
    programme: usize,
) -> Result<(AreaShares, Option<(EnergyMatrix, Points)>), Exceeded> {
    let sources = scene.source_count();
    let all: Vec<usize> = (0..sources).collect();
    let few = if sources > ALL_NEAR { few_of(scene, points) } else { None };
    let Some(few) = few else {
        let matrix = energy_matrix_of(scene, points, &all)?;
        let means = all.iter().map(|s| mean(&matrix, *s, matrix.points())).collect();
        return Ok((AreaShares { near: all, matrix, means }, None));
    };
    let coarse = energy_matrix_of(scene, &few, &all)?;
    let mut means: Vec<[f64; BAND_COUNT]> =
        all.iter().map(|s| outdoors_mean(&coarse, &few, points, *s)).collect();
    let near = near(scene, points, (&coarse, &few), programme);
    let matrix = energy_matrix_of(scene, points, &near)?;
    for (column, source) in near.iter().enumerate() {
        means[*source] = mean(&matrix, column, matrix.points());
    }
    Ok((AreaShares { near, matrix, means }, Some((coarse, few))))
}

/// The field of all but the far ones, and the far ones' mean at every point.
fn field_with_far(scene: &Scene, points: &Points, (coarse, few): (&EnergyMatrix, &Points)) -> Field {
    let far = far(scene, points, (coarse, few));
    let around: Vec<usize> = (0..scene.source_count()).filter(|s| !far.contains(s)).collect();
    let mut heard = field(&scene.of_some(&around), points);
    let outdoors = (0..few.len()).filter(|p| !few.is_indoors(*p)).count();
    let mut lump = [0.0; BAND_COUNT];
    for s in &far {
        lump.iter_mut().zip(mean(coarse, *s, outdoors)).for_each(|(sum, e)| *sum += e);
    }
    for (row, _) in heard.energy.iter_mut().zip(&points.receivers).filter(|(_, r)| !r.indoors) {
        row.iter_mut().zip(&lump).for_each(|(e, far)| *e += *far as f32);
    }
    heard
}

/// Loudspeakers that are heard as their mean over the area: beyond the distance over which waves keep in step, and so weak that
/// all of them together stay below [`FAR_SHARES`] of what is heard at each of the few points. The weakest come first.
fn far(scene: &Scene, points: &Points, (coarse, few): (&EnergyMatrix, &Points)) -> BTreeSet<usize> {
    if scene.settings.cut_off_db <= 0.0 {
        return BTreeSet::new();
    }
    let outdoors: Vec<usize> = (0..few.len()).filter(|p| !few.is_indoors(*p)).collect();
    let sources = scene.source_count();
    let weighed = |s: usize| -> Vec<[f64; CRITERIA]> {
        outdoors.iter().map(|p| criteria(coarse.band_energies(*p, s))).collect()
    };
    let each: Vec<Vec<[f64; CRITERIA]>> = (0..sources).map(weighed).collect();
    let mut most = vec![[0.0; CRITERIA]; outdoors.len()];
    for one in &each {
        add_to(&mut most, one);
    }
    for row in &mut most {
        row.iter_mut().zip(FAR_SHARES).for_each(|(most, share)| *most *= share);
    }
    let away_m = Away::from(points);
    let beyond =
        |s: &usize| scene.source(*s).is_some_and(|x| away_m.of(x.position.plan()) > scene.settings.in_step_m);
    let weight = |s: usize| {
        let shares = each[s].iter().zip(&most).flat_map(|(one, most)| one.iter().zip(most));
        shares.filter(|(e, _)| **e > 0.0).map(|(e, most)| e / most).fold(0.0, f64::max)
    };
    let mut order: Vec<(f64, usize)> = (0..sources).filter(beyond).map(|s| (weight(s), s)).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut sums = vec![[0.0; CRITERIA]; outdoors.len()];
    let fits = |(_, s): &(f64, usize)| {
        add_to(&mut sums, &each[*s]);
        sums.iter().flatten().zip(most.iter().flatten()).all(|(sum, most)| sum <= most)
    };
    order.into_iter().take_while(fits).map(|(_, s)| s).collect()
}

/// What is held against a share: the A-weighted energy, and that of each three bands together.
const CRITERIA: usize = 1 + BAND_COUNT.div_ceil(3);

/// Most that far loudspeakers together may have of what is heard at a point, A-weighted and in each three bands. What they give
/// differs over an area by some decibels from its mean, so that a hundredth is worth less than 0.1 dB; with more, a shadow in it
/// shows, with less they are followed one by one for nothing.
const FAR_SHARES: [f64; CRITERIA] = {
    let mut shares = [0.04; CRITERIA];
    shares[0] = 0.01;
    shares
};

fn criteria(row: &[f32]) -> [f64; CRITERIA] {
    let gains = Weighting::A.band_gains_db().map(energy_from_db);
    let mut sums = [0.0; CRITERIA];
    for (b, (e, gain)) in row.iter().zip(&gains).enumerate() {
        sums[0] += f64::from(*e) * gain;
        sums[1 + b / 3] += f64::from(*e);
    }
    sums
}

fn add_to(sums: &mut [[f64; CRITERIA]], one: &[[f64; CRITERIA]]) {
    for (sums, one) in sums.iter_mut().zip(one) {
        sums.iter_mut().zip(one).for_each(|(sum, e)| *sum += e);
    }
}

/// Distance from the box around an area.
struct Away {
    low: Point2,
    high: Point2,
}

impl Away {
    fn from(points: &Points) -> Self {
        let first = points.places().first().map_or(Point2::default(), |p| p.plan());
        let (low, high) = points.places().iter().fold((first, first), |(low, high), p| {
            (Point2::new(low.x.min(p.x), low.y.min(p.y)), Point2::new(high.x.max(p.x), high.y.max(p.y)))
        });
        Self { low, high }
    }

    /// Metres outside the box, 0 within.
    fn of(&self, p: Point2) -> f64 {
        let outside = |v: f64, low: f64, high: f64| (low - v).max(v - high).max(0.0);
        outside(p.x, self.low.x, self.high.x).hypot(outside(p.y, self.low.y, self.high.y))
    }

    /// From corner to corner, metres.
    fn wide_m(&self) -> f64 {
        self.low.distance(self.high)
    }
}

/// Points spread over an area; none where it has few anyway.
fn few_of(scene: &Scene, points: &Points) -> Option<Points> {
    let n = points.len();
    if n <= 2 * FEW {
        return None;
    }
    let place = |i: usize| (((i as f64 + 0.5) * GOLDEN).fract() * n as f64) as usize;
    let mut chosen: Vec<usize> = (0..FEW).map(place).collect();
    chosen.sort_unstable();
    chosen.dedup();
    let places: Vec<Point3> = chosen.into_iter().map(|i| points.places()[i]).collect();
    // They were points of this scene before; were they refused, all would be followed.
    Points::new(scene, places).ok().filter(|few| (0..few.len()).any(|p| !few.is_indoors(p)))
}

/// Mean energy of a column per band: its sum over all points of the matrix, shared out among some number of them.
fn mean(matrix: &EnergyMatrix, column: usize, among: usize) -> [f64; BAND_COUNT] {
    let mut sum = [0.0; BAND_COUNT];
    for p in 0..matrix.points() {
        sum.iter_mut().zip(matrix.band_energies(p, column)).for_each(|(sum, e)| *sum += f64::from(*e));
    }
    sum.map(|sum| sum / among.max(1) as f64)
}

/// The mean over all points by that over the few out of doors: nothing is heard at points inside buildings.
fn outdoors_mean(coarse: &EnergyMatrix, few: &Points, points: &Points, source: usize) -> [f64; BAND_COUNT] {
    let outdoors = |points: &Points| (0..points.len()).filter(|p| !points.is_indoors(*p)).count();
    let share = outdoors(points) as f64 / points.len().max(1) as f64;
    mean(coarse, source, outdoors(few)).map(|mean| mean * share)
}

/// Loudspeakers that are followed to every point, in the order of the scene.
fn near(
    scene: &Scene,
    points: &Points,
    (coarse, few): (&EnergyMatrix, &Points),
    programme: usize,
) -> Vec<usize> {
    let gains = Weighting::A.band_gains_db().map(energy_from_db);
    let heard = |p: usize, s: usize| -> f64 {
        coarse.band_energies(p, s).iter().zip(&gains).map(|(e, g)| f64::from(*e) * g).sum()
    };
    let plays = |s: usize| scene.source(s).is_some_and(|source| source.programme == programme);
    let sources = scene.source_count();
    let outdoors: Vec<usize> = (0..few.len()).filter(|p| !few.is_indoors(*p)).collect();
    let loudest = |p: usize| (0..sources).filter(|s| plays(*s)).map(|s| heard(p, s)).fold(0.0, f64::max);
    let floors: Vec<f64> = outdoors.iter().map(|p| loudest(*p) * energy_from_db(-MAY_COUNT_DB)).collect();
    let counts = |s: usize| outdoors.iter().zip(&floors).any(|(p, floor)| heard(*p, s) >= *floor);
    let away = Away::from(points);
    let close = |s: usize| scene.source(s).is_some_and(|x| away.of(x.position.plan()) <= away.wide_m());
    (0..sources).filter(|s| close(*s) || (plays(*s) && counts(*s))).collect()
}

impl AreaShares {
    /// How many loudspeakers were followed to every point.
    pub fn followed(&self) -> usize {
        self.near.len()
    }

    /// Energy per band of a loudspeaker at a point, re (20 uPa)^2; none for one that is not followed to every point, which gives
    /// about its [`AreaShares::mean`] everywhere.
    pub fn band_energies(&self, point: usize, source: usize) -> Option<&[f32]> {
        let column = self.near.binary_search(&source).ok()?;
        self.matrix.band_energies(point, column).get(..BAND_COUNT)
    }

    /// Mean energy per band of a loudspeaker over the points, re (20 uPa)^2.
    pub fn mean(&self, source: usize) -> &[f64; BAND_COUNT] {
        &self.means[source]
    }

    /// Mean level of each loudspeaker alone over the area, energy mean over its points, LAeq.
    pub fn levels_dba(&self) -> Vec<f64> {
        let gains = Weighting::A.band_gains_db().map(energy_from_db);
        let dba = |mean: &[f64; BAND_COUNT]| {
            db_from_energy(mean.iter().zip(&gains).map(|(e, g)| e * g).sum::<f64>())
        };
        self.means.iter().map(dba).collect()
    }

    /// Mean level of some of the loudspeakers together per band, added in energy, dB.
    pub fn together_db(&self, which: impl Fn(usize) -> bool) -> BandValues {
        let mut sum = [0.0; BAND_COUNT];
        for (_, mean) in self.means.iter().enumerate().filter(|(s, _)| which(*s)) {
            sum.iter_mut().zip(mean).for_each(|(sum, e)| *sum += e);
        }
        sum.map(db_from_energy)
    }

    /// First arrivals at every point from those of some loudspeakers that may count there, and who they are, in the order of
    /// every list.
    pub fn arrivals(
        &self,
        scene: &Scene,
        points: &Points,
        which: impl Fn(usize) -> bool,
    ) -> (Vec<usize>, Vec<Vec<Arrival>>) {
        let of: Vec<(usize, usize)> =
            self.near.iter().copied().enumerate().filter(|(_, source)| which(*source)).collect();
        let who = of.iter().map(|(_, source)| *source).collect();
        (who, arrivals_from(scene, points, &self.matrix, &of))
    }
}

#[cfg(test)]
#[path = "area_shares_tests.rs"]
mod tests;
