//! The brief as numbers: points where people listen, limits at the neighbours, and what one loudspeaker gives at each.
//!
//! Points come in two grids: a coarse one for choosing, a fine one, about that of the prediction, for settling. What a
//! loudspeaker gives at them is worked out in `gives`.

use crate::error::{BriefProblem, BriefProblems};
use crate::grid::Grid;
use crate::models::{Offered, amplification_unit, supplies_of};
use crate::places::Spot;
use crate::types::{AmplificationUnit, Limit, Pose, Zone};
use loamline_acoustics::{
    Aim, BAND_COUNT, Band, BandValues, DirectivityTable, Mounting, Programme, Scene, Settings, Source,
    Weighting, energy_from_db, octave_sums_db,
};
use loamline_adapt::{Sound, floor_of_receiver, neighbour_receivers, neighbour_spacing_m, surroundings};
use loamline_geometry::Point3;
use loamline_model::Job;
use loamline_model::document::{Area, Mount};
use loamline_terms::MID;
use std::sync::Arc;

/// Points of an area in the coarse and in the fine grid: about one for so many square metres, within these numbers.
/// Fewer are quicker and miss hot spots close to a loudspeaker; the finished design is judged on about 400.
const COARSE: (f64, f64, f64) = (1.3, 50.0, 140.0);
const FINE: (f64, f64, f64) = (0.3, 120.0, 340.0);
/// Points at a neighbour that are looked at while searching, at most.
const RECEIVERS: usize = 12;
/// Programmes other than the one wanted stay this far below the target in an area, dB: they then add 0.6 dB. (From 10 dB
/// on the check says so; no brief asks for more, and terraces above each other cannot always have it.)
const OTHERS_BELOW_DB: f64 = 8.0;

/// The brief as numbers.
pub(crate) struct Site<'j> {
    pub job: &'j Job,
    pub zones: Vec<Zone<'j>>,
    /// In what its loudspeakers ask for amplification.
    pub amplification: AmplificationUnit,
    pub limits: Vec<Limit>,
    pub models: Vec<Offered<'j>>,
    /// Directivity of each model, and its energy averaged over all directions, per band, re on axis.
    pub(crate) tables: Vec<(Arc<DirectivityTable>, BandValues)>,
    pub coarse: Grid,
    pub fine: Grid,
    /// Surroundings with the directivities of all models made ready.
    scene: Scene,
    /// The same for a source alike all round with a level spectrum, with and without walls and buildings.
    pub(crate) unit: Scene,
    pub(crate) open: Scene,
    pub(crate) receivers: Vec<Point3>,
    /// Levels re full scale of each programme, dB.
    pub(crate) programmes: Vec<BandValues>,
    played: Vec<Programme>,
    programme_ids: Vec<String>,
}

impl<'j> Site<'j> {
    /// Reads the brief of a job whose loudspeakers are all there to stay. `like` is a site on which most models are known.
    pub fn new(
        job: &'j Job,
        models: Vec<Offered<'j>>,
        like: Option<&Site<'_>>,
    ) -> Result<Self, BriefProblems> {
        let d = job.document();
        let (input, ids) = surroundings(job)?;
        let input_programmes = input.programmes.clone();
        let programmes = input.programmes.iter().map(Programme::band_levels_re_full_scale_db).collect();
        let flat = Programme::pink(3.02)?;
        let mut plain = input.clone();
        plain.programmes = vec![flat];
        plain.settings = Settings { lines_per_band: 4, ..input.settings };
        let mut open_air = plain.clone();
        open_air.walls.clear();
        open_air.buildings.clear();
        let mut scene = Scene::new(input)?;
        if let Some(like) = like {
            scene = scene.knowing(&like.scene);
        }
        let (unit, open) = (Scene::new(plain)?, Scene::new(open_air)?);
        let areas: Vec<&Area> = d.areas.values().collect();
        let coarse = Grid::new(&scene, &areas, COARSE)?;
        let fine = Grid::new(&scene, &areas, FINE)?;
        let zones = zones(job, &ids);
        let amplification = amplification_unit(job, &supplies_of(job));
        // Tables of directivity are made once here and shared by every scene made from this one.
        let one_each = models
            .iter()
            .map(|m| Source { directivity: m.directivity.clone(), ..Source::omni(Point3::default(), 0.0) });
        scene = scene.with_sources(one_each.collect())?;
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
            amplification,
            limits: Vec::new(),
            models,
            coarse,
            fine,
            scene,
            unit,
            open,
            receivers: Vec::new(),
            programmes,
        };
        site.read_limits()?;
        Ok(site)
    }

    /// The same site with other targets, as a job has them that is like this one's but for that: what is made once is shared.
    pub fn with_targets<'k>(&self, job: &'k Job) -> Site<'k>
    where
        'j: 'k,
    {
        let zones = zones(job, &self.programme_ids);
        let mut limits = self.limits.clone();
        for l in limits.iter_mut().filter(|l| !l.neighbour) {
            l.stated_db = zones[l.receiver].area.target_dba - OTHERS_BELOW_DB;
        }
        Site {
            job,
            zones,
            amplification: self.amplification,
            limits,
            models: self.models.clone(),
            tables: self.tables.clone(),
            coarse: self.coarse.clone(),
            fine: self.fine.clone(),
            scene: self.scene.clone(),
            unit: self.unit.clone(),
            open: self.open.clone(),
            receivers: self.receivers.clone(),
            programmes: self.programmes.clone(),
            played: self.played.clone(),
            programme_ids: self.programme_ids.clone(),
        }
    }

    fn read_limits(&mut self) -> Result<(), BriefProblems> {
        let d = self.job.document();
        let margin = d.brief.neighbour_margin_db;
        let down = d.brief.night_turn_down_db;
        // Few of them are kept: as if one loudspeaker played.
        let spacing_m = neighbour_spacing_m(self.job, 1)?;
        for (id, n) in &d.neighbours {
            let all = neighbour_receivers(self.job, n, spacing_m);
            let floors = n.levels_m().len();
            let places = all.len() / floors;
            let step = places.div_ceil(RECEIVERS).max(1);
            // Both ends of a line are kept, and every floor at a place that is.
            let kept = (0..places).filter(|i| i % step == 0 || i + 1 == places);
            for i in kept.flat_map(|place| (0..floors).map(move |f| place * floors + f)) {
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
                        floor: floor_of_receiver(n, i).map(str::to_owned),
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
                    floor: None,
                    neighbour: false,
                    octave_63: false,
                    night: false,
                    stated_db: z.area.target_dba - OTHERS_BELOW_DB,
                    energy: energy_from_db(-OTHERS_BELOW_DB),
                    receiver: k,
                });
            }
        }
        Ok(())
    }

    /// Programme of an area re full scale, per band, with the model's own high-pass, dB.
    pub(crate) fn fed_db(&self, model: usize, programme: usize) -> BandValues {
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
            reversed: pose.reversed,
            filter: None,
            programme: self.zones.get(pose.zone).map_or(0, |z| z.programme),
        }
    }

    /// A scene of these loudspeakers, without gains.
    pub fn scene(&self, poses: &[Pose]) -> Result<Scene, BriefProblem> {
        Ok(self.scene.with_sources(poses.iter().map(|p| self.source(p)).collect())?)
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
        z.area.target_dba + MID.level_db(&octaves) - Weighting::A.level_db(p)
    }

    /// The site as prepared, for studies of designs on it: what is made once is made once.
    pub fn prepared(&self) -> Result<Sound, BriefProblem> {
        let ids = self.models.iter().map(|m| (m.id.to_owned(), m.directivity.clone())).collect();
        Ok(Sound {
            scene: self.scene.with_sources(Vec::new())?,
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

/// The areas of a job, with the place of what plays there among its programmes.
fn zones<'j>(job: &'j Job, programmes: &[String]) -> Vec<Zone<'j>> {
    let d = job.document();
    let zone = |(id, area): (&'j String, &'j Area)| {
        let programme = job.programme_of_area(area).and_then(|p| programmes.iter().position(|x| x == p));
        let supply = d.supply_of_programme(job.programme_of_area(area));
        Zone { id, area, programme: programme.unwrap_or(0), supply, chosen_at: 0 }
    };
    d.areas.iter().map(zone).collect()
}

/// A spot with a model, an aim and an area.
pub(crate) fn pose_at(
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

/// Directions a directivity is averaged over: within a few tenths of a decibel of the integral over the sphere.
const DIRECTIONS: usize = 400;

/// Energy averaged over all directions, per band, re on axis: directions on a golden spiral stand for like parts.
pub(crate) fn all_round(table: &DirectivityTable) -> BandValues {
    let mut sum = [0.0; BAND_COUNT];
    for k in 0..DIRECTIONS {
        let z = 1.0 - (2.0 * k as f64 + 1.0) / DIRECTIONS as f64;
        let (turn, r) = (2.399_963_229_728_653 * k as f64, (1.0 - z * z).sqrt());
        let row = table.amplitudes((r * turn.cos()) as f32, (r * turn.sin()) as f32, z as f32);
        sum.iter_mut().zip(row).for_each(|(s, a)| *s += f64::from(a * a));
    }
    sum.map(|s| s / DIRECTIONS as f64)
}
