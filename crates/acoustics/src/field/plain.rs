//! The field by the plain formula: full figures, one path and one frequency at a time. Slow; explains a single point
//! and checks the fast way.

use super::detour::Scratch;
use super::paths::{NO_FACE, Nearby, Patch, Path, Receiver, find};
use super::rows::screen_energy;
use crate::bands::Band;
use crate::scene::{Placed, Scene};
use num_complex::Complex64;
use std::f64::consts::TAU;

/// Pressure along one path for unit pressure at 1 m on axis, time factor exp(-i w t).
pub(crate) fn transfer(scene: &Scene, source: &Placed, path: &Path, hz: f64, band: Band) -> Complex64 {
    let lines = &scene.lines;
    let directivity = &source.source.directivity;
    let mut size = directivity.amplitude(hz, lines.c, path.departure) / path.length_m;
    size *= (-f64::from(lines.absorption_np_per_m[band.index()]) * path.length_m).exp();
    for face in path.faces.iter().filter(|f| **f != NO_FACE) {
        let obstacle = scene.world.faces[*face as usize].obstacle as usize;
        size *= f64::from(scene.world.reflectance[obstacle][band.index()]);
    }
    let mut length_m = path.length_m;
    if let Some(d) = &path.detours {
        size *= screen_energy(d, hz, lines.c).sqrt();
        length_m += d.extra_m();
    }
    let mut p = Complex64::from_polar(size, TAU * (hz / lines.c * length_m).fract());
    // A measured phase is given for exp(+j w t).
    p *= Complex64::cis(-directivity.phase_rad(hz, path.departure));
    if let Some(b) = path.bounce {
        let ground = scene.world.grounds[b.surface as usize];
        p *= ground.reflection(hz, path.length_m, b.cos, lines.c);
    }
    p
}

/// All paths from one source to one point.
pub(crate) fn paths_to(scene: &Scene, source: &Placed, receiver: &Receiver) -> Vec<Path> {
    let mut nearby = Nearby::default();
    nearby.gather(&scene.world, source, &Patch::around(&[*receiver]));
    let mut out = Vec::new();
    find(&scene.world, source, &nearby, receiver, &mut Scratch::default(), &mut out);
    out
}
