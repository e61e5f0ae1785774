//! Directivity of all third octaves, tabulated over the sphere for the field kernel.
//!
//! A look-up costs one square root (sources alike all round their axis) or a few multiplications (all others) and
//! blends two or four rows of 32 single-precision amplitudes, one per third octave and one spare, so a row is
//! whole vector registers. Axial: rows even in sin(t/2), t the angle off the axis. Others: the octahedral map
//! (Engelhardt and Dachsbacher 2008), its centre on the axis, bilinear; the fold at the rim needs no special case.
//! Each band is an energy mean over five lines spread through it. Blending error, checked by a sweep: at most
//! 0.006 of the on-axis amplitude for coverage angles from 40 degrees and pistons up to 0.3 m; narrower beams
//! and coarser data are worse in proportion to the square of 40 degrees over the angle.

use super::Directivity;
use super::lines::AtLines;
use crate::bands::{BAND_COUNT, Band};
use loamline_geometry::Point3;
use loamline_limits::lent;
use rayon::prelude::*;

/// Values in a table row: a third octave each, and one spare that is always 0.
pub const TABLE_LANES: usize = 32;
/// Amplitudes of all third octaves towards one direction.
pub type TableRow = [f32; TABLE_LANES];

/// Rows along the angle off the axis: 0.22 degrees near the axis. Fewer would smear the lobes of a large piston;
/// more would push the 64 KiB table out of the second-level cache.
const AXIAL_CELLS: usize = 512;
/// Cells along a side of the octahedral square: about 2 degrees each, 1.2 MB for a table.
const SQUARE_CELLS: usize = 96;
/// Lines per third octave that a band's amplitude is averaged over.
const LINES: usize = 5;

/// Amplitudes of all third octaves by direction, re straight ahead.
#[derive(Debug, Clone, PartialEq)]
pub struct DirectivityTable {
    map: Map,
    rows: Vec<TableRow>,
    phases: Option<Vec<TableRow>>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Map {
    Constant,
    Axial,
    Square,
}

/// Rows to blend for a direction, with weights that add to one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LookUp {
    /// Row numbers in [`DirectivityTable::rows`].
    pub rows: [u32; 4],
    /// Weight of each.
    pub weights: [f32; 4],
    /// How many of them count, from the first: 1, 2 or 4; the rest have weight 0.
    pub used: usize,
}

impl Directivity {
    /// Energy of a third octave towards a direction, re straight ahead: mean over lines spread evenly through
    /// the band on a logarithmic scale.
    pub fn band_energy(&self, band: Band, sound_speed_m_per_s: f64, direction: Point3) -> f64 {
        let energy =
            |line: usize| self.amplitude(line_hz(band, line), sound_speed_m_per_s, direction).powi(2);
        (0..LINES).map(energy).sum::<f64>() / LINES as f64
    }
}

/// Frequency of a line of a band.
fn line_hz(band: Band, line: usize) -> f64 {
    let place = (line as f64 + 0.5) / LINES as f64 - 0.5;
    band.centre_hz() * 10f64.powf(0.1 * place)
}

impl DirectivityTable {
    /// Tabulates a directivity at a speed of sound. Takes up to about 0.1 s and 1.2 MB (twice that with phases):
    /// make one per model, not one per loudspeaker.
    pub fn new(directivity: &Directivity, sound_speed_m_per_s: f64) -> Self {
        let (map, directions) = if matches!(directivity, Directivity::Omni) {
            (Map::Constant, vec![Point3::new(1.0, 0.0, 0.0)])
        } else if directivity.is_axial() {
            (Map::Axial, (0..=AXIAL_CELLS).map(axial_direction).collect())
        } else {
            let side = SQUARE_CELLS + 1;
            (Map::Square, (0..side * side).map(|i| square_direction(i % side, i / side)).collect())
        };
        let leave = lent();
        let tabulate = |row: &(dyn Fn(Point3) -> TableRow + Sync)| -> Vec<TableRow> {
            directions.par_iter().map(|&d| leave.lend(|| row(d))).collect()
        };
        let lines_hz: Vec<f64> =
            Band::all().flat_map(|b| (0..LINES).map(move |line| line_hz(b, line))).collect();
        let ready = AtLines::new(directivity, &lines_hz, sound_speed_m_per_s);
        let rows = tabulate(&|d| {
            let mut lines = [0.0; BAND_COUNT * LINES];
            ready.amplitudes(d, &mut lines);
            let mut row = [0.0; TABLE_LANES];
            for (r, of) in row.iter_mut().zip(lines.chunks_exact(LINES)) {
                *r = (of.iter().map(|a| a * a).sum::<f64>() / LINES as f64).sqrt() as f32;
            }
            row
        });
        let phases = matches!(directivity, Directivity::Measured(_)).then(|| {
            tabulate(&|d| {
                let phase = |b: Band| directivity.phase_rad(b.centre_hz(), d) as f32;
                std::array::from_fn(|i| Band::from_index(i).map_or(0.0, phase))
            })
        });
        Self { map, rows, phases }
    }

    /// Whether every direction is alike, so that a look-up may be skipped.
    pub fn is_omni(&self) -> bool {
        self.map == Map::Constant
    }

    /// The rows that [`LookUp`] numbers.
    pub fn rows(&self) -> &[TableRow] {
        &self.rows
    }

    /// Phase at each band centre re straight ahead, radians, by the same row numbers; `None` unless measured.
    /// Rows hold wrapped phases: blend their sines and cosines, not the angles.
    pub fn phase_rows(&self) -> Option<&[TableRow]> {
        self.phases.as_deref()
    }

    /// Rows and weights for a direction (loudspeaker frame, any length above zero; no length or a number that is
    /// not finite counts as straight ahead).
    #[inline(always)]
    pub fn look_up(&self, x: f32, y: f32, z: f32) -> LookUp {
        let across = y * y + z * z;
        let length = (x * x + across).sqrt();
        match self.map {
            Map::Constant => LookUp { rows: [0; 4], weights: [1.0, 0.0, 0.0, 0.0], used: 1 },
            Map::Axial => {
                // sin(t/2); from the sine near the axis, where 1 - cos t loses its digits.
                let half = if x > 0.0 {
                    (across / (2.0 * length * (length + x))).sqrt()
                } else {
                    ((length - x) / (2.0 * length)).sqrt()
                };
                let place = finite_or(half, 0.0).clamp(0.0, 1.0) * AXIAL_CELLS as f32;
                let cell = (place as u32).min(AXIAL_CELLS as u32 - 1);
                let t = place - cell as f32;
                LookUp { rows: [cell, cell + 1, 0, 0], weights: [1.0 - t, t, 0.0, 0.0], used: 2 }
            }
            Map::Square => {
                let sum = x.abs() + y.abs() + z.abs();
                let (mut u, mut v) = (y / sum, z / sum);
                if x < 0.0 {
                    (u, v) = ((1.0 - v.abs()).copysign(u), (1.0 - u.abs()).copysign(v));
                }
                let split = |a: f32| {
                    let place = (0.5 + 0.5 * finite_or(a, 0.0)).clamp(0.0, 1.0) * SQUARE_CELLS as f32;
                    let cell = (place as u32).min(SQUARE_CELLS as u32 - 1);
                    (cell, place - cell as f32)
                };
                let ((i, s), (j, t)) = (split(u), split(v));
                let side = SQUARE_CELLS as u32 + 1;
                let first = j * side + i;
                LookUp {
                    rows: [first, first + 1, first + side, first + side + 1],
                    weights: [(1.0 - s) * (1.0 - t), s * (1.0 - t), (1.0 - s) * t, s * t],
                    used: 4,
                }
            }
        }
    }

    /// Amplitudes of all third octaves towards a direction, as [`DirectivityTable::look_up`].
    pub fn amplitudes(&self, x: f32, y: f32, z: f32) -> TableRow {
        let found = self.look_up(x, y, z);
        let mut out = [0.0; TABLE_LANES];
        for k in 0..found.used {
            let row = &self.rows[found.rows[k] as usize];
            for (o, r) in out.iter_mut().zip(row) {
                *o += found.weights[k] * r;
            }
        }
        out
    }

    /// Amplitude of one band towards a direction, as [`DirectivityTable::look_up`].
    pub fn amplitude(&self, band: Band, direction: Point3) -> f64 {
        let row = self.amplitudes(direction.x as f32, direction.y as f32, direction.z as f32);
        f64::from(row[band.index().min(BAND_COUNT - 1)])
    }

    /// Bytes the table holds.
    pub fn size_bytes(&self) -> usize {
        (self.rows.len() + self.phases.as_ref().map_or(0, Vec::len)) * size_of::<TableRow>()
    }
}

fn finite_or(a: f32, other: f32) -> f32 {
    if a.is_finite() { a } else { other }
}

fn axial_direction(row: usize) -> Point3 {
    let half = row as f64 / AXIAL_CELLS as f64;
    Point3::new(1.0 - 2.0 * half * half, 2.0 * half * (1.0 - half * half).max(0.0).sqrt(), 0.0)
}

fn square_direction(i: usize, j: usize) -> Point3 {
    let at = |k: usize| 2.0 * k as f64 / SQUARE_CELLS as f64 - 1.0;
    let (u, v) = (at(i), at(j));
    let x = 1.0 - u.abs() - v.abs();
    let (y, z) = if x < 0.0 { ((1.0 - v.abs()).copysign(u), (1.0 - u.abs()).copysign(v)) } else { (u, v) };
    let d = Point3::new(x, y, z);
    d * d.norm().recip()
}
