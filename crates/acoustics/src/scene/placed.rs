//! A loudspeaker made ready: where it really sits, what it sends out on every line, its images in faces.

use super::input::{Mounting, Source};
use super::problem::Problem;
use super::spectral_lines::SpectralLines;
use super::world::{Face, OFF_FACE_M, ON_FACE_M, World};
use crate::bands::BandValues;
use crate::directivity::{DirectivityTable, TABLE_LANES};
use crate::ground::LOWEST_HEIGHT_M;
use loamline_geometry::{Point2, Point3};
use num_complex::Complex64;
use std::sync::Arc;

/// Farthest face a flush loudspeaker may sit in, metres.
const FLUSH_REACH_M: f64 = 0.5;

/// The loudspeaker as seen in one face, or in two one after the other.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Image {
    /// Place in plan.
    pub(crate) at: Point2,
    /// Faces in the order sound meets them.
    pub(crate) first: u32,
    pub(crate) second: Option<u32>,
    /// Place in plan of the image in the first face alone.
    pub(crate) between: Point2,
    /// Whether what leaves towards this image leaves as the direct sound does.
    pub(crate) flush: bool,
}

/// A loudspeaker ready for the field.
#[derive(Debug, Clone)]
pub(crate) struct Placed {
    pub(crate) source: Source,
    pub(crate) at: Point3,
    /// Height above the ground under it, metres.
    pub(crate) height_m: f64,
    pub(crate) table: Arc<DirectivityTable>,
    /// What it sends out at 1 m on axis per line, re 20 uPa, weighted so that squares add to band energy; 0 in bands
    /// above the transition.
    pub(crate) drive_re: Vec<[f32; TABLE_LANES]>,
    pub(crate) drive_im: Vec<[f32; TABLE_LANES]>,
    /// Energy at 1 m on axis per band.
    pub(crate) energy: [f32; TABLE_LANES],
    pub(crate) images: Vec<Image>,
}

impl Placed {
    pub(crate) fn new(
        world: &World,
        lines: &SpectralLines,
        programme_db: &BandValues,
        table: Arc<DirectivityTable>,
        second_order: bool,
        source: Source,
    ) -> Result<Self, Problem> {
        let mut at = source.position;
        let facing = source.aim.forward().plan();
        let near = world.nearest_face(at, facing).filter(|n| n.1 <= FLUSH_REACH_M);
        let mut flush_face = None;
        if source.mounting == Mounting::InFace {
            let Some((face, _)) = near else { return Err(Problem::NoFaceNear) };
            flush_face = Some(face);
            at = off_face(at, &world.faces[face]);
        } else if let Some((face, distance_m)) = near
            && distance_m <= ON_FACE_M
        {
            let face = &world.faces[face];
            if face.ahead_m(at.plan()) < OFF_FACE_M {
                at = off_face(at, face);
            }
        }
        let ground_m = world.map.elevation_m(at.plan());
        let height_m = if source.mounting == Mounting::InGround {
            LOWEST_HEIGHT_M
        } else {
            (at.z - ground_m).max(LOWEST_HEIGHT_M)
        };
        at.z = ground_m + height_m;
        if let Some(building) = world.building_at(at) {
            return Err(Problem::InsideBuilding {
                building,
                x: at.x,
                y: at.y,
                z: at.z,
                roof_m: world.obstacles[world.walls + building].top_m,
                inside_m: world.depth_m(building, at.plan()),
            });
        }
        let (drive_re, drive_im, energy) = drive(lines, programme_db, &source);
        let images = images(world, at, flush_face, second_order);
        Ok(Self { source, at, height_m, table, drive_re, drive_im, energy, images })
    }
}

fn off_face(at: Point3, face: &Face) -> Point3 {
    let plan = at.plan() + face.normal * (OFF_FACE_M - face.ahead_m(at.plan()));
    plan.at_height(at.z)
}

fn images(world: &World, at: Point3, flush_face: Option<usize>, second_order: bool) -> Vec<Image> {
    let mirror = |p: Point2, f: &Face| p - f.normal * (2.0 * f.ahead_m(p));
    let ahead = |p: Point2, f: &Face| f.ahead_m(p) > 1e-6;
    let mut images = Vec::new();
    for (i, f) in world.faces.iter().enumerate().filter(|(_, f)| ahead(at.plan(), f)) {
        let between = mirror(at.plan(), f);
        let flush = flush_face == Some(i);
        images.push(Image { at: between, first: i as u32, second: None, between, flush });
        if second_order {
            for (j, g) in world.faces.iter().enumerate() {
                // The first image must lie ahead of the second face, and some of the first face as well.
                if i != j && ahead(between, g) && (ahead(f.a, g) || ahead(f.b, g)) {
                    let second = Some(j as u32);
                    images.push(Image { at: mirror(between, g), first: i as u32, second, between, flush });
                }
            }
        }
    }
    images
}

type Rows = Vec<[f32; TABLE_LANES]>;

/// Complex pressure at 1 m on axis, time factor exp(-i w t), so a filter's table (exp(+j w t)) is conjugated and a
/// delay turns the phase forward.
fn drive(
    lines: &SpectralLines,
    programme_db: &BandValues,
    source: &Source,
) -> (Rows, Rows, [f32; TABLE_LANES]) {
    let sign = if source.reversed { -1.0 } else { 1.0 };
    let count = lines.offset.len();
    let (mut re, mut im) = (vec![[0.0; TABLE_LANES]; count], vec![[0.0; TABLE_LANES]; count]);
    let mut energy = [0.0f32; TABLE_LANES];
    for (band, (programme, response)) in programme_db.iter().zip(&source.response_db).enumerate() {
        let level_db = source.full_scale_db + response + source.gain_db + programme;
        // Below -150 dB nothing is heard and 32-bit squares would vanish anyway; above 250 dB they would overflow.
        let amplitude = if level_db > -150.0 { 10f64.powf(level_db.min(250.0) / 20.0) } else { 0.0 };
        let mut sum = 0.0;
        for line in 0..count {
            let hz = lines.hz[line][band];
            let filter = source.filter.as_ref().map_or(Complex64::ONE, |f| f.at(hz).conj());
            let delay = Complex64::cis(std::f64::consts::TAU * (hz * source.delay_s).fract());
            let d = filter * delay * (sign * amplitude * lines.weight[line][band].sqrt());
            // Bands that add in energy have no waves: whole vectors may be added without asking which lane counts.
            if band < lines.coherent {
                re[line][band] = d.re as f32;
                im[line][band] = d.im as f32;
            }
            sum += d.norm_sqr();
        }
        energy[band] = sum as f32;
    }
    (re, im, energy)
}
