//! What makes the level at one point: every loudspeaker, every path.

use super::bundle::Tables;
use super::over_patch::{Work, alone_at};
use super::paths::{NO_FACE, Patch, Receiver};
use super::plain::{paths_to, transfer};
use super::points::Points;
use super::rows::screen_energy;
use crate::areas::{Arrival, ArrivalSpread, arrival_spread};
use crate::bands::{Band, BandValues};
use crate::level::{SILENCE_DB, db_from_energy};
use crate::scene::{Scene, SceneErrors, World};
use crate::weighting::Weighting;
use loamline_geometry::Point3;
use std::fmt;

/// What reflects: a wall or a building, by its index in the scene.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reflector {
    /// A wall.
    Wall(usize),
    /// A building.
    Building(usize),
}

impl fmt::Display for Reflector {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Wall(i) => write!(f, "wall {}", i + 1),
            Self::Building(i) => write!(f, "building {}", i + 1),
        }
    }
}

/// The way a path takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// Faces it meets, in order.
    pub reflectors: [Option<Reflector>; 2],
    /// Whether it meets the ground: the region there, or the default ground.
    pub ground: Option<GroundMet>,
    /// What an obstacle in the way, or just beside it, takes away at 1 kHz, dB; 0 when the way is clear.
    pub screened_db: f64,
}

/// Ground a path meets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GroundMet {
    /// Where no region lies.
    Default,
    /// A region by its index in the scene.
    Region(usize),
}

impl Way {
    /// The way in words, with what it meets called by `name`.
    #[must_use]
    pub fn words(&self, name: &dyn Fn(Reflector) -> String) -> String {
        let mut words = match (self.reflectors, self.ground) {
            ([None, _], None) => "straight".to_owned(),
            ([None, _], Some(_)) => "by the ground".to_owned(),
            ([Some(a), None], _) => format!("by {}", name(a)),
            ([Some(a), Some(b)], _) => format!("by {}, then {}", name(a), name(b)),
        };
        if self.reflectors[0].is_some() && self.ground.is_some() {
            words.push_str(" and the ground");
        }
        if self.screened_db >= 0.5 {
            let less = format!(", bent round what is in the way ({:.0} dB less at 1 kHz)", self.screened_db);
            words.push_str(&less);
        }
        words
    }
}

impl fmt::Display for Way {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words(&|reflector| reflector.to_string()))
    }
}

/// One path of one loudspeaker.
#[derive(Debug, Clone, PartialEq)]
pub struct PathShare {
    /// The way it takes.
    pub way: Way,
    /// Its length, metres.
    pub length_m: f64,
    /// When it arrives after the signal enters the channel, seconds.
    pub arrival_s: f64,
    /// Its own level per band at the band centre, dB.
    pub band_levels_db: BandValues,
    /// Its own A-weighted level, dB.
    pub level_dba: f64,
}

/// One loudspeaker at the point.
#[derive(Debug, Clone, PartialEq)]
pub struct SourceShare {
    /// Its index in the scene.
    pub source: usize,
    /// Level per band of this loudspeaker alone, dB.
    pub band_levels_db: BandValues,
    /// A-weighted level of this loudspeaker alone, dB.
    pub level_dba: f64,
    /// When its first sound arrives after the signal enters the channel, seconds.
    pub arrival_s: f64,
    /// Its paths, strongest first.
    pub paths: Vec<PathShare>,
}

/// What makes the level at a point.
#[derive(Debug, Clone, PartialEq)]
pub struct Probe {
    /// The point, raised to the lowest height above ground.
    pub point: Point3,
    /// Whether it lies inside a building; then nothing is heard.
    pub indoors: bool,
    /// Level per band, dB.
    pub band_levels_db: BandValues,
    /// A-weighted level, dB.
    pub level_dba: f64,
    /// Every loudspeaker, strongest first.
    pub sources: Vec<SourceShare>,
}

/// One line of an explanation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reason {
    /// Loudspeaker.
    pub source: usize,
    /// Path.
    pub way: Way,
    /// A-weighted level of the path alone, dB.
    pub level_dba: f64,
    /// How far that lies below the whole (negative when the whole is less, by cancellation), dB.
    pub below_total_db: f64,
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "loudspeaker {}, {}: {:.1} dBA", self.source + 1, self.way, self.level_dba)
    }
}

/// Explains one point.
///
/// # Errors
/// [`SceneErrors`] for a point that is not a place on a site.
pub fn probe(scene: &Scene, point: Point3) -> Result<Probe, SceneErrors> {
    let points = Points::new(scene, vec![point])?;
    let receiver = points.receivers[0];
    let total = super::compute::field(scene, &points);
    let tables = Tables::new(scene);
    let mut work = Work::new(scene.settings.lines_per_band);
    let mut sources = Vec::new();
    if !receiver.indoors {
        for index in 0..scene.placed.len() {
            sources.push(share(scene, &tables, &mut work, &receiver, index));
        }
    }
    sources.sort_by(|a, b| b.level_dba.total_cmp(&a.level_dba).then(a.source.cmp(&b.source)));
    Ok(Probe {
        point: receiver.at,
        indoors: receiver.indoors,
        band_levels_db: total.band_levels_db(0),
        level_dba: total.level_db(0, Weighting::A),
        sources,
    })
}

fn share(scene: &Scene, tables: &Tables, work: &mut Work, receiver: &Receiver, index: usize) -> SourceShare {
    let source = &scene.placed[index];
    work.nearby.gather(&scene.world, source, &Patch::around(&[*receiver]));
    let energy = alone_at(scene, tables, source, receiver, work);
    let band_levels_db: BandValues = std::array::from_fn(|b| db_from_energy(f64::from(energy[b])));
    let mut paths: Vec<PathShare> = paths_to(scene, source, receiver)
        .iter()
        .map(|path| {
            let mut levels = [0.0; crate::bands::BAND_COUNT];
            for b in Band::all() {
                let heard = transfer(scene, source, path, b.centre_hz(), b).norm_sqr();
                levels[b.index()] = db_from_energy(heard * f64::from(source.energy[b.index()]));
            }
            let length_m = path.length_m + path.detours.map_or(0.0, |d| d.extra_m());
            let c = scene.lines.c;
            PathShare {
                way: Way {
                    reflectors: path.faces.map(|f| reflector(&scene.world, f)),
                    ground: path.bounce.map(|b| match b.surface {
                        0 => GroundMet::Default,
                        i => GroundMet::Region(i as usize - 1),
                    }),
                    screened_db: path
                        .detours
                        .map_or(0.0, |d| -db_from_energy(screen_energy(&d, 1000.0, c)).min(0.0)),
                },
                length_m,
                arrival_s: source.source.delay_s + length_m / c,
                level_dba: Weighting::A.level_db(&levels),
                band_levels_db: levels,
            }
        })
        .collect();
    let arrival_s = paths.iter().map(|p| p.arrival_s).fold(f64::INFINITY, f64::min);
    paths.sort_by(|a, b| b.level_dba.total_cmp(&a.level_dba).then(a.length_m.total_cmp(&b.length_m)));
    SourceShare {
        source: index,
        level_dba: Weighting::A.level_db(&band_levels_db),
        band_levels_db,
        arrival_s,
        paths,
    }
}

fn reflector(world: &World, face: u32) -> Option<Reflector> {
    if face == NO_FACE {
        return None;
    }
    let obstacle = world.faces[face as usize].obstacle as usize;
    Some(match obstacle.checked_sub(world.walls) {
        None => Reflector::Wall(obstacle),
        Some(building) => Reflector::Building(building),
    })
}

impl Probe {
    /// The strongest paths, at most `most` of them, strongest first.
    pub fn why(&self, most: usize) -> Vec<Reason> {
        let mut reasons: Vec<Reason> = self
            .sources
            .iter()
            .flat_map(|s| {
                s.paths.iter().map(|p| Reason {
                    source: s.source,
                    way: p.way,
                    level_dba: p.level_dba,
                    below_total_db: self.level_dba - p.level_dba,
                })
            })
            .collect();
        reasons.sort_by(|a, b| b.level_dba.total_cmp(&a.level_dba).then(a.source.cmp(&b.source)));
        reasons.truncate(most);
        reasons
    }

    /// Spread of the first arrivals of the loudspeakers on the programme of the strongest; `first` and `last` are
    /// places in `sources`. `None` where nothing is heard.
    pub fn arrival_spread(&self, scene: &Scene) -> Option<ArrivalSpread> {
        let programme = |s: &SourceShare| scene.source(s.source).map(|s| s.programme);
        let own = programme(self.sources.first()?);
        let arrivals: Vec<Arrival> = self
            .sources
            .iter()
            .map(|s| Arrival {
                time_s: if programme(s) == own && s.level_dba > SILENCE_DB { s.arrival_s } else { f64::NAN },
                level_db: s.level_dba,
            })
            .collect();
        arrival_spread(&arrivals)
    }
}
