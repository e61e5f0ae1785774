//! The brief as numbers: points where people listen, limits at the neighbours, and what one loudspeaker gives at each.
//!
//! Two ways of telling what a loudspeaker gives. [`Site::screen`] is quick: paths are followed once per spot for a
//! source alike all round, then weighed with each model's directivity towards the point (what arrives by walls, with its
//! average over all directions). [`Site::exact`] follows every path of every loudspeaker by the engines. The search
//! starts from the first; every design is settled and judged by the second.

use super::models::Offered;
use super::places::Spot;
use crate::boundary;
use crate::sound::{Sound, surroundings};
use loamline_acoustics::{
    Aim, BAND_COUNT, Band, BandValues, BoundarySource, DirectivityTable, Mounting, OctavePower, Points,
    Programme, Scene, Settings, Source, Weighting, boundary_levels, energy_from_db, energy_matrix,
    octave_directivity_db, octave_sums_db,
};
use loamline_geometry::{Point2, Point3};
use loamline_model::Job;
use loamline_model::document::{Area, Mount};
use rayon::prelude::*;
use std::ops::Range;

/// Points of an area: about one for so many square metres, within these numbers. Fewer are quicker and miss hot spots
/// close to a loudspeaker; the finished design is judged on about 400.
const M2_PER_POINT: f64 = 1.3;
const POINTS: (f64, f64) = (50.0, 140.0);
/// Points at a neighbour that are looked at while searching, at most.
const RECEIVERS: usize = 12;
/// Level at 1 m on axis to sound power, dB: 10 lg(4 pi).
const POWER_OVER_LEVEL_DB: f64 = 10.992;
/// A-weighting of the octaves 63 Hz to 8 kHz, IEC 61672-1:2013 Table 3, dB.
const A_OCTAVES_DB: [f64; 8] = [-26.2, -16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1];
/// Programmes other than the one wanted stay this far below the target in an area, dB: less than that is a finding.
const OTHERS_BELOW_DB: f64 = 11.0;

/// A listening area as the search sees it.
pub(super) struct Zone<'j> {
    pub id: &'j str,
    pub area: &'j Area,
    /// Its points among all.
    pub points: Range<usize>,
    /// Place of its programme among the job's.
    pub programme: usize,
}

/// A limit: at a point of a neighbour, or on other programmes in an area.
pub(super) struct Limit {
    /// Neighbour, or area.
    pub id: String,
    /// Whether it is a neighbour's.
    pub neighbour: bool,
    /// Whether it is the limit of the 63 Hz octave.
    pub octave_63: bool,
    /// Whether the night, with the system turned down, is what limits.
    pub night: bool,
    /// The limit that stands in the brief, dB or dBA.
    pub stated_db: f64,
    /// Energy allowed by day, margin taken off.
    pub energy: f64,
    receiver: usize,
}

/// A loudspeaker as proposed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pose {
    /// Place among the models offered.
    pub model: usize,
    pub at: Point2,
    /// Height above the ground where it is not the usual one, metres.
    pub height_m: Option<f64>,
    /// On a wall: bearing away from its face, degrees.
    pub out_deg: Option<f64>,
    pub bearing_deg: f64,
    pub pitch_deg: f64,
    /// Area it serves.
    pub zone: usize,
    pub tap_w: f64,
    /// Wired the other way round.
    pub reversed: bool,
}

/// What a loudspeaker gives at 1 W of tap and no gain.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Row {
    /// A-weighted energy at every point, re the target there.
    pub points: Vec<f32>,
    /// Share of every limit.
    pub limits: Vec<f32>,
}

/// The brief as numbers.
pub(super) struct Site<'j> {
    pub job: &'j Job,
    pub zones: Vec<Zone<'j>>,
    pub limits: Vec<Limit>,
    pub models: Vec<Offered<'j>>,
    /// Directivity of each model, and its energy averaged over all directions, per band, re on axis.
    tables: Vec<(DirectivityTable, BandValues)>,
    pub points: Points,
    /// Level wanted at each point, energy.
    target: Vec<f64>,
    /// Surroundings with the directivities of all models made ready.
    scene: Scene,
    /// The same for a source alike all round with a level spectrum, with and without walls and buildings.
    unit: Scene,
    open: Scene,
    receivers: Vec<Point3>,
    /// Levels re full scale of each programme, dB.
    programmes: Vec<BandValues>,
    played: Vec<Programme>,
    programme_ids: Vec<String>,
}

impl<'j> Site<'j> {
    /// Reads the brief of a job whose loudspeakers are all there to stay.
    pub fn new(job: &'j Job, models: Vec<Offered<'j>>) -> Result<Self, Vec<String>> {
        let d = job.document();
        let (input, ids) = surroundings(job)?;
        let told = |e: loamline_acoustics::SceneErrors| vec![e.to_string()];
        let input_programmes = input.programmes.clone();
        let programmes = input.programmes.iter().map(Programme::band_levels_re_full_scale_db).collect();
        let flat = Programme::pink(3.02).map_err(|e| vec![e.to_string()])?;
        let mut plain = input.clone();
        plain.programmes = vec![flat];
        plain.settings = Settings { lines_per_band: 4, ..input.settings };
        let mut bare = plain.clone();
        bare.walls.clear();
        bare.buildings.clear();
        let mut scene = Scene::new(input).map_err(told)?;
        let (unit, open) = (Scene::new(plain).map_err(told)?, Scene::new(bare).map_err(told)?);
        let mut zones = Vec::new();
        let mut places: Vec<Point3> = Vec::new();
        let mut target = Vec::new();
        for (id, area) in &d.areas {
            let m2 = area.outline.area();
            let spacing = (m2 / (m2 / M2_PER_POINT).clamp(POINTS.0, POINTS.1)).sqrt();
            let own = Points::grid(&scene, &area.outline, area.ear_m(), spacing.clamp(0.05, 100.0))
                .map_err(told)?;
            let start = places.len();
            // Nobody listens inside a building.
            places.extend((0..own.len()).filter(|p| !own.is_indoors(*p)).map(|p| own.places()[p]));
            target.resize(places.len(), energy_from_db(area.target_dba));
            let programme =
                job.programme_of_area(area).and_then(|p| ids.iter().position(|x| x == p)).unwrap_or(0);
            zones.push(Zone { id, area, points: start..places.len(), programme });
        }
        let points = Points::new(&scene, places).map_err(told)?;
        // Tables of directivity are made once here and shared by every scene made from this one.
        let one_each = models
            .iter()
            .map(|m| Source { directivity: m.directivity.clone(), ..Source::omni(Point3::default(), 0.0) });
        scene = scene.with_sources(one_each.collect()).map_err(told)?;
        let tables = (0..models.len())
            .filter_map(|m| scene.directivity_table(m).cloned())
            .map(|t| {
                let mean = all_round(&t);
                (t, mean)
            })
            .collect();
        let mut site = Self {
            tables,
            played: input_programmes,
            programme_ids: ids,
            job,
            zones,
            limits: Vec::new(),
            models,
            points,
            target,
            scene,
            unit,
            open,
            receivers: Vec::new(),
            programmes,
        };
        site.read_limits();
        Ok(site)
    }

    fn read_limits(&mut self) {
        let d = self.job.document();
        let margin = d.brief.neighbour_margin_db;
        let down = d.brief.night_turn_down_db;
        for (id, n) in &d.neighbours {
            let all = boundary::receivers(n);
            let step = all.len().div_ceil(RECEIVERS).max(1);
            // Both ends of a line are kept.
            let kept = (0..all.len()).filter(|i| i % step == 0 || i + 1 == all.len());
            for i in kept {
                let receiver = self.receivers.len();
                self.receivers.push(all[i]);
                let dba = (n.day_dba, n.night_dba.unwrap_or(n.day_dba) + down);
                let low = n.night_63hz_db.or(n.day_63hz_db).map(|l| l + down);
                let octave = match (n.day_63hz_db, low) {
                    (Some(day), Some(night)) => Some((day, night)),
                    (None, Some(night)) => Some((f64::INFINITY, night)),
                    _ => None,
                };
                for (octave_63, (day, night)) in
                    std::iter::once((false, dba)).chain(octave.map(|o| (true, o)))
                {
                    self.limits.push(Limit {
                        id: id.clone(),
                        neighbour: true,
                        octave_63,
                        night: night < day,
                        stated_db: if night < day { night - down } else { day },
                        energy: energy_from_db(day.min(night) - margin),
                        receiver,
                    });
                }
            }
        }
        if self.zones.iter().any(|z| z.programme != self.zones[0].programme) {
            for (k, z) in self.zones.iter().enumerate() {
                self.limits.push(Limit {
                    id: z.id.to_owned(),
                    neighbour: false,
                    octave_63: false,
                    night: false,
                    stated_db: z.area.target_dba - OTHERS_BELOW_DB,
                    energy: energy_from_db(-OTHERS_BELOW_DB),
                    receiver: k,
                });
            }
        }
    }

    /// Programme of an area re full scale, per band, with the model's own high-pass, dB.
    fn fed_db(&self, model: usize, programme: usize) -> BandValues {
        let (m, p) = (&self.models[model], &self.programmes[programme]);
        loamline_acoustics::band_values(|b: Band| {
            let i = b.index();
            // Butterworth of fourth order at the model's protective corner.
            let x = (m.model.high_pass_hz / b.centre_hz()).powi(8);
            m.per_watt_db + m.response_db[i] + p[i] - 10.0 * (1.0 + x).log10()
        })
    }

    /// Acoustic centre of a loudspeaker.
    pub fn centre(&self, pose: &Pose) -> Point3 {
        self.job.above_ground(pose.at, pose.height_m.unwrap_or(self.models[pose.model].model.centre_height_m))
    }

    /// A loudspeaker as a source at 1 W of tap and no gain.
    pub fn source(&self, pose: &Pose) -> Source {
        let m = &self.models[pose.model];
        Source {
            position: self.centre(pose),
            aim: Aim::new(pose.bearing_deg, pose.pitch_deg, 0.0),
            mounting: if m.model.mount == Mount::InGround { Mounting::InGround } else { Mounting::Free },
            directivity: m.directivity.clone(),
            full_scale_db: m.per_watt_db,
            response_db: m.response_db,
            gain_db: 0.0,
            delay_s: 0.0,
            inverted: pose.reversed,
            filter: None,
            programme: self.zones.get(pose.zone).map_or(0, |z| z.programme),
        }
    }

    /// A scene of these loudspeakers, without gains.
    pub fn scene(&self, poses: &[Pose]) -> Result<Scene, String> {
        self.scene.with_sources(poses.iter().map(|p| self.source(p)).collect()).map_err(|e| e.to_string())
    }

    /// What loudspeakers give by the engines.
    pub fn exact(&self, poses: &[Pose]) -> Result<Vec<Row>, String> {
        let matrix = energy_matrix(&self.scene(poses)?, &self.points);
        let a = Weighting::A.band_gains_db();
        let limits = self.limits_of(poses)?;
        let one = |(s, limits): (usize, Vec<f32>)| {
            let pose = &poses[s];
            // What the high-pass of its channel will take away.
            let hz = self.models[pose.model].model.high_pass_hz;
            let weights: [f64; BAND_COUNT] = loamline_acoustics::band_values(|b: Band| {
                energy_from_db(a[b.index()]) / (1.0 + (hz / b.centre_hz()).powi(8))
            });
            let points: Vec<f32> = (0..matrix.points())
                .map(|p| {
                    let row = matrix.band_energies(p, s);
                    let e: f64 = row.iter().zip(&weights).map(|(e, w)| f64::from(*e) * w).sum();
                    (e / self.target[p]) as f32
                })
                .collect();
            let limits = self.with_others(pose, &points, limits);
            Row { points, limits }
        };
        Ok(limits.into_par_iter().enumerate().map(one).collect())
    }

    /// Fills in the shares of the limits on other programmes.
    fn with_others(&self, pose: &Pose, points: &[f32], mut limits: Vec<f32>) -> Vec<f32> {
        let own = self.zones.get(pose.zone).map_or(0, |z| z.programme);
        for (limit, share) in self.limits.iter().zip(&mut limits).filter(|(l, _)| !l.neighbour) {
            let zone = &self.zones[limit.receiver];
            let n = zone.points.len().max(1) as f64;
            *share = if zone.programme == own {
                0.0
            } else {
                let mean = points[zone.points.clone()].iter().map(|e| f64::from(*e)).sum::<f64>() / n;
                (mean / limit.energy) as f32
            };
        }
        limits
    }

    /// Shares of the neighbours' limits; those on other programmes stay 0.
    fn limits_of(&self, poses: &[Pose]) -> Result<Vec<Vec<f32>>, String> {
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
                heights.push(p.at.at_height(h));
                heights.len() - 1
            }));
        }
        let sources = heights.iter().map(|&position| BoundarySource {
            id: None,
            position,
            sound_power_db: OctavePower { extension_db: None, bands_db: [0.0; 8] },
            directivity_db: Vec::new(),
        });
        let scene = boundary::surroundings(self.job, sources.collect(), &self.receivers)?;
        let ways = boundary_levels(&scene).map_err(|e| e.to_string())?;
        let one = |(pose, slot): (&Pose, &usize)| {
            let programme = self.zones.get(pose.zone).map_or(0, |z| z.programme);
            let octaves = octave_sums_db(&self.fed_db(pose.model, programme));
            let aim = Aim::new(pose.bearing_deg, pose.pitch_deg, 0.0);
            let towards: Vec<[f64; 8]> = self
                .receivers
                .iter()
                .zip(&ways)
                .map(|(r, way)| {
                    let dc = if self.tables[pose.model].0.is_omni() {
                        [0.0; 9]
                    } else {
                        octave_directivity_db(&self.tables[pose.model].0, &aim, heights[*slot], *r)
                    };
                    std::array::from_fn(|o| {
                        octaves[o + 1]
                            + POWER_OVER_LEVEL_DB
                            + dc[o + 1]
                            + way.contributions[*slot].bands_db[o]
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
        Ok(poses.par_iter().zip(&slot).map(one).collect())
    }

    /// What loudspeakers give, quickly; all at spots.
    pub fn screen(&self, poses: &[Pose]) -> Result<Vec<Row>, String> {
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
        let field = |scene: &Scene| -> Result<_, String> {
            let scene = scene.with_sources(sources.clone()).map_err(|e| e.to_string())?;
            Ok(energy_matrix(&scene, &self.points))
        };
        let (all, open) = rayon::join(|| field(&self.unit), || field(&self.open));
        let (all, open) = (all?, open?);
        let a = Weighting::A.band_gains_db();
        let limits = self.limits_of(poses)?;
        let one = |(s, limits): (usize, Vec<f32>)| {
            let pose = &poses[s];
            let (table, mean) = &self.tables[pose.model];
            let programme = self.zones.get(pose.zone).map_or(0, |z| z.programme);
            let fed = self.fed_db(pose.model, programme);
            // The unit scene spreads one watt's worth evenly over the bands.
            let weights: [f32; BAND_COUNT] =
                std::array::from_fn(|b| (energy_from_db(fed[b] + a[b]) * BAND_COUNT as f64) as f32);
            let aim = Aim::new(pose.bearing_deg, pose.pitch_deg, 0.0);
            let from = centres[slot[s]];
            let points: Vec<f32> = self
                .points
                .places()
                .iter()
                .enumerate()
                .map(|(p, to)| {
                    let v = aim.to_local(*to - from);
                    let towards = table.amplitudes(v.x as f32, v.y as f32, v.z as f32);
                    let (h, o) = (all.band_energies(p, slot[s]), open.band_energies(p, slot[s]));
                    let mut e = 0.0;
                    for b in 0..BAND_COUNT {
                        let d = towards[b] * towards[b];
                        let beyond = h[b] - o[b];
                        e += weights[b]
                            * if beyond > 0.0 { o[b] * d + beyond * mean[b] as f32 } else { h[b] * d };
                    }
                    (f64::from(e) / self.target[p]) as f32
                })
                .collect();
            let limits = self.with_others(pose, &points, limits);
            Row { points, limits }
        };
        Ok(limits.into_par_iter().enumerate().map(one).collect())
    }

    /// Level at a distance on axis at 1 W of tap and no gain, dBA.
    pub fn near_dba(&self, pose: &Pose, distance_m: f64) -> f64 {
        let programme = self.zones.get(pose.zone).map_or(0, |z| z.programme);
        let fed = self.fed_db(pose.model, programme);
        Weighting::A.level_db(&fed) - 20.0 * distance_m.max(0.1).log10()
    }

    /// Level of the mid band (octaves 500 Hz to 2 kHz) in an area at its target, dB: what the bass is held against.
    pub fn mid_db(&self, zone: usize) -> f64 {
        let z = &self.zones[zone];
        let p = &self.programmes[z.programme];
        let octaves = octave_sums_db(p);
        let mid = loamline_acoustics::sum_db(octaves[4..7].iter().copied());
        z.area.target_dba + mid - Weighting::A.level_db(p)
    }

    /// The site as prepared, for studies of designs on it: what is made once is made once.
    pub fn prepared(&self) -> Result<Sound, String> {
        let ids = self.models.iter().map(|m| (m.id.to_owned(), m.directivity.clone())).collect();
        Ok(Sound {
            scene: self.scene.with_sources(Vec::new()).map_err(|e| e.to_string())?,
            sources: Vec::new(),
            programmes: self.programme_ids.clone(),
            played: self.played.clone(),
            directivities: ids,
            silent: Vec::new(),
        })
    }

    /// What mains give of the bass in an area at its target, dB: third octaves 125 and 160 Hz, by their places from
    /// 20 Hz on; lower ones are left to the subwoofers.
    pub fn mains_bass_db(&self, zone: usize) -> f64 {
        let z = &self.zones[zone];
        let p = &self.programmes[z.programme];
        loamline_acoustics::sum_db([p[8], p[9]]) + z.area.target_dba - Weighting::A.level_db(p)
    }
}

/// Directions a directivity is averaged over: within a few tenths of a decibel of the integral over the sphere.
const DIRECTIONS: usize = 400;

/// Energy averaged over all directions, per band, re on axis: directions on a golden spiral stand for like parts.
fn all_round(table: &DirectivityTable) -> BandValues {
    let mut sum = [0.0; BAND_COUNT];
    for k in 0..DIRECTIONS {
        let z = 1.0 - (2.0 * k as f64 + 1.0) / DIRECTIONS as f64;
        let (turn, r) = (2.399_963_229_728_653 * k as f64, (1.0 - z * z).sqrt());
        let row = table.amplitudes((r * turn.cos()) as f32, (r * turn.sin()) as f32, z as f32);
        sum.iter_mut().zip(row).for_each(|(s, a)| *s += f64::from(a * a));
    }
    sum.map(|s| s / DIRECTIONS as f64)
}

/// A spot with a model, an aim and an area.
pub(super) fn pose_at(
    spot: &Spot,
    model: usize,
    offered: &Offered<'_>,
    aim: (f64, f64),
    zone: usize,
) -> Pose {
    let usual = offered.model.centre_height_m;
    let on_wall = spot.out_deg.is_some();
    Pose {
        model,
        at: spot.at,
        height_m: (on_wall && (spot.height_m - usual).abs() > 0.01).then_some(spot.height_m),
        out_deg: spot.out_deg,
        bearing_deg: aim.0,
        pitch_deg: aim.1,
        zone,
        tap_w: offered.taps_w.first().copied().unwrap_or(1.0),
        reversed: false,
    }
}
