//! What a loudspeaker gives at every point and limit, at 1 W of tap and no gain.
//!
//! Two ways. [`Site::screen`] is quick: paths are followed once per spot for a source alike all round, then weighed with
//! each model's directivity towards the point (what arrives by walls, with its average over all directions).
//! [`Site::exact`] follows every path of every loudspeaker by the engines. The search starts from the first; every design
//! is settled on the second and judged by the prediction.
//!
//! Both count with the equaliser to come: its channel's mean response over the area it serves is evened out, within what
//! an equaliser is allowed, so that levels are those of the tuned system.

use crate::error::BriefProblem;
use crate::grid::Grid;
use crate::site::Site;
use crate::types::{Pose, Row};
use loamline_acoustics::{
    Aim, BAND_COUNT, Band, BandValues, BoundarySource, EnergyMatrix, OctavePower, Scene, Source, Weighting,
    boundary_levels, energy_from_db, energy_matrix, octave_directivity_db, octave_sums_db, sum_db,
};
use loamline_adapt::neighbour_surroundings;
use loamline_geometry::Point3;
use loamline_limits::{CALCULATION_BYTES, go_on, lent};
use loamline_terms::{A_OCTAVES_DB, MID, POWER_OVER_LEVEL_DB};
use rayon::prelude::*;

/// Bytes of one loudspeaker alone at one point, all bands.
const BYTES_PER_PAIR: usize = 128;

/// What an equaliser may do, dB, as the tuning allows it, and up to where.
const CUT_DB: f64 = 9.0;
const BOOST_DB: f64 = 3.0;
const EVEN_TO_HZ: f64 = 10_000.0;
/// Areas farther than this from a loudspeaker hardly hear what it does when it moves a little, metres.
const FAR_M: f64 = 30.0;

impl Site<'_> {
    /// What loudspeakers give by the engines. With `like`, each loudspeaker is a small variation of one whose row is
    /// known: areas far from it keep what that row says.
    pub fn exact(
        &self,
        grid: &Grid,
        poses: &[Pose],
        like: Option<(&[usize], &[Row])>,
    ) -> Result<Vec<Row>, BriefProblem> {
        let limits = self.limits_of(poses)?;
        let mut points = vec![vec![0f32; grid.len()]; poses.len()];
        let mut weights = vec![[0.0; BAND_COUNT]; poses.len()];
        // Own areas first: they say how each is equalised.
        for own in [true, false] {
            for (z, part) in grid.parts.iter().enumerate() {
                let range = grid.ranges[z].clone();
                let mut heard = Vec::new();
                for (i, pose) in poses.iter().enumerate().filter(|(_, p)| (p.zone == z) == own) {
                    match like {
                        Some((of, rows)) if !own && self.is_far(z, pose) => {
                            points[i][range.clone()].copy_from_slice(&rows[of[i]].points[range.clone()]);
                        }
                        _ => heard.push(i),
                    }
                }
                if heard.is_empty() || part.is_empty() {
                    continue;
                }
                let playing: Vec<Pose> = heard.iter().map(|&i| poses[i]).collect();
                let matrix = energy_matrix(&self.scene(&playing)?, part)?;
                let target = energy_from_db(self.zones[z].area.target_dba);
                let leave = lent();
                let slice = |k: usize, i: usize| {
                    let w = if own { self.even(&poses[i], &mean(&matrix, k)) } else { weights[i] };
                    let at = |p: usize| {
                        let row = matrix.band_energies(p, k);
                        let e: f64 = row.iter().zip(&w).map(|(e, w)| f64::from(*e) * w).sum();
                        (e / target) as f32
                    };
                    (w, (0..part.len()).map(at).collect())
                };
                let slices: Vec<(BandValues, Vec<f32>)> =
                    heard.par_iter().enumerate().map(|(k, &i)| leave.lend(|| slice(k, i))).collect();
                for (&i, (w, slice)) in heard.iter().zip(slices) {
                    weights[i] = w;
                    points[i][range.clone()].copy_from_slice(&slice);
                }
            }
        }
        let rows = poses.iter().zip(points).zip(limits).map(|((pose, points), limits)| {
            let limits = self.with_others(grid, pose, &points, limits);
            Row { points, limits }
        });
        Ok(rows.collect())
    }

    fn is_far(&self, zone: usize, pose: &Pose) -> bool {
        let outline = &self.zones[zone].area.outline;
        crate::places::nearest_in(outline, pose.at).distance(pose.at) > FAR_M
    }

    /// Weights of the bands for the A-weighted level of a loudspeaker that gives these energies on average where it
    /// serves: A-weighting, the high-pass and the equaliser to come.
    fn even(&self, pose: &Pose, mean: &BandValues) -> BandValues {
        let a = Weighting::A.band_gains_db();
        let hz = self.models[pose.model].model.high_pass_hz;
        let programme = &self.programmes[self.zones.get(pose.zone).map_or(0, |z| z.programme)];
        let transfer: BandValues = std::array::from_fn(|b| mean[b] / energy_from_db(programme[b]));
        let mid = MID.mean(&transfer);
        let (cut, boost) = (energy_from_db(-CUT_DB), energy_from_db(BOOST_DB));
        loamline_acoustics::band_values(|b: Band| {
            let i = b.index();
            let even = mid / transfer[i];
            let equalised = even.is_finite() && (hz..=EVEN_TO_HZ).contains(&b.centre_hz());
            let gain = if equalised { even.clamp(cut, boost) } else { 1.0 };
            gain * energy_from_db(a[i]) / (1.0 + (hz / b.centre_hz()).powi(8))
        })
    }

    /// Fills in the shares of the limits on other programmes.
    fn with_others(&self, grid: &Grid, pose: &Pose, points: &[f32], mut limits: Vec<f32>) -> Vec<f32> {
        let own = self.zones.get(pose.zone).map_or(0, |z| z.programme);
        for (limit, share) in self.limits.iter().zip(&mut limits).filter(|(l, _)| !l.neighbour) {
            let range = grid.ranges[limit.receiver].clone();
            let n = range.len().max(1) as f64;
            *share = if self.zones[limit.receiver].programme == own {
                0.0
            } else {
                let mean = points[range].iter().map(|e| f64::from(*e)).sum::<f64>() / n;
                (mean / limit.energy) as f32
            };
        }
        limits
    }

    /// Shares of the neighbours' limits; those on other programmes stay 0.
    fn limits_of(&self, poses: &[Pose]) -> Result<Vec<Vec<f32>>, BriefProblem> {
        let zero = vec![0f32; self.limits.len()];
        if self.receivers.is_empty() || poses.is_empty() {
            return Ok(vec![zero; poses.len()]);
        }
        // The way from a spot to a neighbour is the same for every aim there: it is worked out once.
        let mut heights: Vec<Point3> = Vec::new();
        let mut slot = Vec::with_capacity(poses.len());
        let mut known = std::collections::BTreeMap::new();
        for p in poses {
            let h = p.height_m.unwrap_or(self.models[p.model].model.centre_height_m).max(0.0);
            let key =
                ((p.at.x * 1e3).round() as i64, (p.at.y * 1e3).round() as i64, (h * 50.0).round() as i64);
            slot.push(*known.entry(key).or_insert_with(|| {
                heights.push(self.job.above_ground(p.at, h));
                heights.len() - 1
            }));
        }
        let sources = heights.iter().map(|&position| BoundarySource {
            id: None,
            position,
            ground_m: self.job.ground(position.plan()).elevation_m,
            sound_power_db: OctavePower { extension_db: None, bands_db: [0.0; 8] },
            directivity_db: Vec::new(),
            aimed: None,
            programme: None,
        });
        let scene = neighbour_surroundings(self.job, sources.collect(), &self.receivers)?;
        let ways = boundary_levels(&scene)?;
        let one = |(pose, slot): (&Pose, &usize)| {
            let programme = self.zones.get(pose.zone).map_or(0, |z| z.programme);
            let octaves = octave_sums_db(&self.fed_db(pose.model, programme));
            let aim = Aim::new(pose.bearing_deg, pose.pitch_deg, 0.0);
            let towards: Vec<[f64; 8]> = self
                .receivers
                .iter()
                .zip(&ways)
                .map(|(r, way)| {
                    let dc = |to: Point3| {
                        if self.tables[pose.model].0.is_omni() {
                            return [0.0; 9];
                        }
                        octave_directivity_db(&self.tables[pose.model].0, &aim, heights[*slot], to)
                    };
                    let from = &way.contributions[*slot];
                    let straight = (dc(*r), &from.straight_bands_db);
                    let by_faces = from.reflections.iter().map(|f| (dc(f.at), &f.levels.bands_db));
                    let ways: Vec<_> = by_faces.chain([straight]).collect();
                    std::array::from_fn(|o| {
                        let sum = sum_db(ways.iter().map(|(dc, bands)| dc[o + 1] + bands[o]));
                        octaves[o + 1] + POWER_OVER_LEVEL_DB + sum
                    })
                })
                .collect();
            self.limits
                .iter()
                .map(|l| {
                    if !l.neighbour {
                        return 0.0;
                    }
                    let bands = &towards[l.receiver];
                    let energy = if l.octave_63 {
                        energy_from_db(bands[0])
                    } else {
                        bands.iter().zip(A_OCTAVES_DB).map(|(b, a)| energy_from_db(b + a)).sum()
                    };
                    (energy / l.energy) as f32
                })
                .collect()
        };
        let leave = lent();
        Ok(poses.par_iter().zip(&slot).map(|of| leave.lend(|| one(of))).collect())
    }

    /// What loudspeakers give on the coarse grid, quickly.
    pub fn screen(&self, poses: &[Pose]) -> Result<Vec<Row>, BriefProblem> {
        let grid = &self.coarse;
        let mut centres: Vec<Point3> = Vec::new();
        let mut known = std::collections::BTreeMap::new();
        let mut slot = Vec::with_capacity(poses.len());
        for p in poses {
            let c = self.centre(p);
            let key = ((c.x * 1e3).round() as i64, (c.y * 1e3).round() as i64, (c.z * 8.0).round() as i64);
            slot.push(*known.entry(key).or_insert_with(|| {
                centres.push(c);
                centres.len() - 1
            }));
        }
        let sources: Vec<Source> = centres.iter().map(|&c| Source::omni(c, 0.0)).collect();
        // All areas at once, with and without walls.
        let bytes =
            [grid.len(), centres.len(), 2 * BYTES_PER_PAIR].into_iter().fold(1, usize::saturating_mul);
        CALCULATION_BYTES.check(bytes)?;
        let field = |scene: &Scene| -> Result<Vec<EnergyMatrix>, BriefProblem> {
            let scene = scene.with_sources(sources.clone())?;
            let each = grid.parts.iter().map(|p| energy_matrix(&scene, p));
            Ok(each.collect::<Result<_, _>>()?)
        };
        let leave = lent();
        let (all, open) =
            rayon::join(|| leave.lend(|| field(&self.unit)), || leave.lend(|| field(&self.open)));
        let (all, open) = (all?, open?);
        let limits = self.limits_of(poses)?;
        let one = |(s, limits): (usize, Vec<f32>)| {
            let pose = &poses[s];
            let ways = Ways { all: &all, open: &open, source: slot[s], from: centres[slot[s]] };
            let fed = self.fed_db(pose.model, self.zones.get(pose.zone).map_or(0, |z| z.programme));
            // The unit scene spreads one watt's worth evenly over the bands.
            let fed: [f32; BAND_COUNT] =
                std::array::from_fn(|b| (energy_from_db(fed[b]) * BAND_COUNT as f64) as f32);
            let mean = ways.mean(self, grid, pose, &fed);
            // The high-pass is in what it is fed already.
            let hz = self.models[pose.model].model.high_pass_hz;
            let even = self.even(pose, &mean);
            let weights: [f32; BAND_COUNT] = loamline_acoustics::band_values(|b: Band| {
                even[b.index()] * (1.0 + (hz / b.centre_hz()).powi(8)) * f64::from(fed[b.index()])
            })
            .map(|w| w as f32);
            let mut points = vec![0f32; grid.len()];
            for (z, range) in grid.ranges.iter().enumerate() {
                go_on();
                let target = energy_from_db(self.zones[z].area.target_dba);
                for (p, e) in points[range.clone()].iter_mut().enumerate() {
                    let bands = ways.bands(self, grid, pose, (z, p));
                    let sum: f32 = bands.iter().zip(&weights).map(|(e, w)| e * w).sum();
                    *e = (f64::from(sum) / target) as f32;
                }
            }
            let limits = self.with_others(grid, pose, &points, limits);
            Row { points, limits }
        };
        Ok(limits.into_par_iter().enumerate().map(|of| leave.lend(|| one(of))).collect())
    }
}

/// Mean energy per band of one loudspeaker over all points of a matrix.
fn mean(matrix: &EnergyMatrix, source: usize) -> BandValues {
    let n = matrix.points().max(1) as f64;
    let mut sum = [0.0; BAND_COUNT];
    for p in 0..matrix.points() {
        sum.iter_mut().zip(matrix.band_energies(p, source)).for_each(|(s, e)| *s += f64::from(*e) / n);
    }
    sum
}

/// The ways from a spot to all points, for a source alike all round.
struct Ways<'a> {
    /// By area, with walls and buildings.
    all: &'a [EnergyMatrix],
    /// By area, without.
    open: &'a [EnergyMatrix],
    source: usize,
    from: Point3,
}

impl Ways<'_> {
    /// What arrives at a point with a loudspeaker's directivity, per band.
    fn bands(
        &self,
        site: &Site<'_>,
        grid: &Grid,
        pose: &Pose,
        (zone, point): (usize, usize),
    ) -> [f32; BAND_COUNT] {
        let (table, mean) = &site.tables[pose.model];
        let aim = Aim::new(pose.bearing_deg, pose.pitch_deg, 0.0);
        let v = aim.to_local(grid.parts[zone].places()[point] - self.from);
        let towards = table.amplitudes(v.x as f32, v.y as f32, v.z as f32);
        let (h, o) = (
            self.all[zone].band_energies(point, self.source),
            self.open[zone].band_energies(point, self.source),
        );
        std::array::from_fn(|b| {
            let d = towards[b] * towards[b];
            let beyond = h[b] - o[b];
            if beyond > 0.0 { o[b] * d + beyond * mean[b] as f32 } else { h[b] * d }
        })
    }

    /// Mean over the area it serves of what a loudspeaker gives there, per band.
    fn mean(&self, site: &Site<'_>, grid: &Grid, pose: &Pose, fed: &[f32; BAND_COUNT]) -> BandValues {
        let n = grid.parts[pose.zone].len();
        let mut sum = [0f64; BAND_COUNT];
        for p in 0..n {
            let bands = self.bands(site, grid, pose, (pose.zone, p));
            for b in 0..BAND_COUNT {
                sum[b] += f64::from(bands[b] * fed[b]) / n.max(1) as f64;
            }
        }
        sum
    }
}
