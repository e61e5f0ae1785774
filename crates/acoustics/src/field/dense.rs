//! What the fast field is checked against: the plain formula on many lines per band.

use super::paths::{Path, Receiver};
use super::plain::{paths_to, transfer};
use crate::bands::{BAND_COUNT, Band, BandValues};
use crate::level::amplitude_from_db;
use crate::scene::{Placed, Scene};
use loamline_geometry::Point3;
use num_complex::Complex64;
use std::f64::consts::TAU;

/// What a source sends out at 1 m on axis at one frequency of a band, re 20 uPa.
pub(crate) fn drive(scene: &Scene, source: &Placed, hz: f64, band: Band) -> Complex64 {
    let s = &source.source;
    let programme = scene.programmes[s.programme].band_levels_re_full_scale_db()[band.index()];
    let level_db = s.full_scale_db + s.response_db[band.index()] + s.gain_db + programme;
    let filter = s.filter.as_ref().map_or(Complex64::ONE, |f| f.at(hz).conj());
    let delay = Complex64::cis(TAU * (hz * s.delay_s).fract());
    filter * delay * (if s.reversed { -1.0 } else { 1.0 } * amplitude_from_db(level_db))
}

/// Band energies at a point re 20 uPa: what the fast way is checked against. On `lines` frequencies per third octave spread evenly over its logarithm.
pub(crate) fn band_energies(scene: &Scene, point: Point3, lines: usize) -> BandValues {
    let mut energies = [0.0; BAND_COUNT];
    let receiver = Receiver::new(&scene.world, point);
    if receiver.indoors {
        return energies;
    }
    let all: Vec<Vec<Path>> = scene.placed.iter().map(|s| paths_to(scene, s, &receiver)).collect();
    for band in Band::all() {
        for line in 0..lines {
            let hz = band.centre_hz() * 10f64.powf(((line as f64 + 0.5) / lines as f64 - 0.5) / 10.0);
            let mut by_programme = vec![Complex64::ZERO; scene.programmes.len()];
            let mut energy = 0.0;
            for (s, paths) in scene.placed.iter().zip(&all) {
                let heard: Complex64 = paths.iter().map(|p| transfer(scene, s, p, hz, band)).sum();
                let p = heard * drive(scene, s, hz, band);
                if band.index() < scene.lines.coherent {
                    by_programme[s.source.programme] += p;
                } else {
                    energy += p.norm_sqr();
                }
            }
            energy += by_programme.iter().map(|p| p.norm_sqr()).sum::<f64>();
            energies[band.index()] += energy / lines as f64;
        }
    }
    energies
}
