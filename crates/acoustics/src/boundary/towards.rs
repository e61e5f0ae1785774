//! How much more or less a source gives towards a place than on its axis.

use super::site::TOUCH_M;
use crate::bands::Octave;
use crate::directivity::{Aim, DirectivityTable};
use crate::level::{db_from_energy, mean_db};
use loamline_geometry::Point3;

/// Directivity correction from a source with a table and an aim towards a place, octaves 31.5 Hz to 8 kHz, dB re
/// the axis: energy means of three third octaves. Power levels that go with it are on-axis level at 1 m + 11 dB:
/// the correction then is the level towards the receiver relative to the axis; with a power level proper, add the
/// directivity index. A place no farther than the source itself (a face it is flush in) gets 0 dB: what the face
/// gives back leaves as what goes straight does, and the axis is the most there is.
pub fn octave_directivity_db(table: &DirectivityTable, aim: &Aim, from: Point3, to: Point3) -> [f64; 9] {
    if to.distance(from) <= TOUCH_M {
        return [0.0; 9];
    }
    let v = aim.to_local(to - from);
    let row = table.amplitudes(v.x as f32, v.y as f32, v.z as f32);
    let mut octaves = Octave::all();
    std::array::from_fn(|_| {
        octaves
            .next()
            .map_or(0.0, |o| mean_db(o.bands().map(|b| db_from_energy(f64::from(row[b.index()]).powi(2)))))
    })
}
