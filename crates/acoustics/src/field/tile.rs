//! The fast field over one patch of points.
//!
//! For each point and loudspeaker the path finder lists the paths; each path becomes a complex row over bands
//! (spreading, air, directivity, faces, ground, screening). Bands up to the transition: the row is carried to the
//! lines of the band by a straight line between neighbouring bands, turned by the path's phase there, and summed over
//! paths, then over the sources of one programme. Bands above: the paths of one source add in pairs, each pair's
//! cross term averaged over the band in closed form, cos(2 pi f D) sin(pi B D)/(pi B D) for a path difference D (in
//! seconds) and a bandwidth B; sources add in energy. A pair whose cross term cannot reach 2 % of the energy of its
//! source is left out.

use super::detour::Scratch;
use super::ops::{Ops, Row};
use super::paths::{NO_FACE, Nearby, Path, Receiver, find};
use super::rows::{GroundRows, screen_row};
use crate::directivity::TABLE_LANES;
use crate::scene::{Lines, Placed, Scene};
use pulp::Simd;

/// A cross term smaller than this share of the source's energy is left out: at most 0.09 dB.
const LEAST_CROSS: f32 = 0.02;

/// What the fast field needs of a scene besides the scene.
#[derive(Debug)]
pub(crate) struct Tables {
    grounds: Vec<GroundRows>,
    lowest_per_m: f32,
}

impl Tables {
    pub(crate) fn new(scene: &Scene) -> Self {
        let c = scene.lines.c;
        Self {
            grounds: scene.world.grounds.iter().map(|g| GroundRows::new(*g, c)).collect(),
            lowest_per_m: scene.lines.lowest_per_m,
        }
    }
}

/// One path as a row over bands.
#[derive(Clone, Copy)]
struct PathRow {
    re: Row,
    im: Row,
    /// Change of the row from band to band.
    slope_re: Row,
    slope_im: Row,
    length_m: f32,
    /// Rough size for the decision whether a cross term matters.
    size: f32,
}

/// Space for one thread.
#[derive(Default)]
pub(crate) struct Work {
    /// What may matter between the source and the patch: gathered before [`over_patch`].
    pub(crate) nearby: Nearby,
    /// Waves of a patch while they are summed.
    pub(crate) waves: Vec<f32>,
    scratch: Scratch,
    paths: Vec<Path>,
    rows: Vec<PathRow>,
    /// Sum of a source's paths per line.
    line_re: Vec<Row>,
    line_im: Vec<Row>,
}

impl Work {
    pub(crate) fn new(lines: usize) -> Self {
        let zero = vec![[0.0; TABLE_LANES]; lines];
        Self { line_re: zero.clone(), line_im: zero, ..Self::default() }
    }
}

/// What one source makes at one point, for unit drive.
pub(crate) struct Heard<'a> {
    /// Energy per band above the transition.
    pub(crate) above: Row,
    /// Sum of its paths on every line of the coherent bands.
    pub(crate) re: &'a [Row],
    pub(crate) im: &'a [Row],
}

impl Heard<'_> {
    /// Energy per band, driven, of this source alone.
    #[inline(always)]
    pub(crate) fn alone(&self, lines: &Lines, source: &Placed) -> Row {
        let mut total = self.above;
        for (t, e) in total.iter_mut().zip(&source.energy) {
            *t *= e;
        }
        for l in 0..self.re.len() {
            let bands = lines.kept_bands(l);
            let (d_re, d_im) = (&source.drive_re[l], &source.drive_im[l]);
            let (re, im) = (&self.re[l], &self.im[l]);
            for b in bands {
                total[b] += (d_re[b] * d_re[b] + d_im[b] * d_im[b]) * (re[b] * re[b] + im[b] * im[b]);
            }
        }
        total
    }
}

/// One source at the points of a patch: calls `each` with the place of every point that is not indoors and what is
/// heard there. `work.nearby` must have been gathered for the source and the patch.
#[inline(always)]
pub(crate) fn over_patch<S: Simd>(
    simd: S,
    scene: &Scene,
    tables: &Tables,
    source: &Placed,
    receivers: &[Receiver],
    work: &mut Work,
    mut each: impl FnMut(usize, Heard),
) {
    let o = Ops(simd);
    for (i, receiver) in receivers.iter().enumerate() {
        if receiver.indoors {
            continue;
        }
        find(&scene.world, source, &work.nearby, receiver, &mut work.scratch, &mut work.paths);
        work.rows.clear();
        for path in &work.paths {
            work.rows.push(path_row(o, scene, tables, source, path));
        }
        sum_lines(o, scene, &work.rows, &mut work.line_re, &mut work.line_im);
        let above = if scene.lines.coherent < crate::bands::BAND_COUNT {
            pair_energy(o, scene, &work.rows)
        } else {
            [0.0; TABLE_LANES]
        };
        each(i, Heard { above, re: &work.line_re, im: &work.line_im });
    }
}

#[inline(always)]
fn path_row<S: Simd>(o: Ops<S>, scene: &Scene, tables: &Tables, source: &Placed, path: &Path) -> PathRow {
    let length = path.length_m as f32;
    let mut re: Row = [0.0; TABLE_LANES];
    let mut im: Row = [0.0; TABLE_LANES];
    let look = {
        let d = path.departure;
        source.table.look_up(d.x as f32, d.y as f32, d.z as f32)
    };
    blend(o, source.table.rows(), &look.rows[..look.used], &look.weights, &mut re);
    {
        let spread = o.all(1.0 / length);
        let length = o.all(length);
        let alpha = S::as_simd_f32s(&scene.lines.absorption_np_per_m).0;
        for (r, a) in S::as_mut_simd_f32s(&mut re).0.iter_mut().zip(alpha) {
            *r = o.mul(*r, o.mul(spread, o.decay(o.mul(*a, length))));
        }
    }
    let mut size = 1.0 / length;
    for face in path.faces.iter().filter(|f| **f != NO_FACE) {
        let reflectance = &scene.world.reflectance[scene.world.faces[*face as usize].obstacle as usize];
        scale(&mut re, reflectance);
        size *= reflectance[16];
    }
    let mut phase_m = length;
    if let Some(d) = &path.detours {
        scale(&mut re, &screen_row(d, tables.lowest_per_m).map(f32::sqrt));
        phase_m += d.extra_m() as f32;
    }
    if let Some(phases) = source.table.phase_rows() {
        // A measured phase is given for exp(+j w t); blend its sine and cosine, not the angle.
        for b in 0..TABLE_LANES {
            let (mut s, mut c) = (0.0f32, 0.0f32);
            for (row, weight) in look.rows[..look.used].iter().zip(look.weights) {
                let (sine, cosine) = phases[*row as usize][b].sin_cos();
                s += weight * sine;
                c += weight * cosine;
            }
            let norm = s.hypot(c).max(1e-6);
            im[b] = -re[b] * s / norm;
            re[b] *= c / norm;
        }
    }
    if let Some(b) = path.bounce {
        tables.grounds[b.surface as usize].reflect(o, b.cos as f32, length, &mut re, &mut im);
    }
    let (slope_re, slope_im) = (slopes(&re), slopes(&im));
    PathRow { re, im, slope_re, slope_im, length_m: phase_m, size }
}

#[inline(always)]
fn blend<S: Simd>(o: Ops<S>, rows: &[Row], at: &[u32], weights: &[f32; 4], out: &mut Row) {
    let out = S::as_mut_simd_f32s(out).0;
    for (row, weight) in at.iter().zip(weights) {
        let weight = o.all(*weight);
        for (sum, value) in out.iter_mut().zip(S::as_simd_f32s(&rows[*row as usize]).0) {
            *sum = o.fma(*value, weight, *sum);
        }
    }
}

#[inline(always)]
fn scale(row: &mut Row, by: &Row) {
    for (r, b) in row.iter_mut().zip(by) {
        *r *= b;
    }
}

/// Half the difference of the neighbours; one-sided at the ends.
#[inline(always)]
fn slopes(row: &Row) -> Row {
    let mut s = [0.0; TABLE_LANES];
    for b in 1..TABLE_LANES - 2 {
        s[b] = 0.5 * (row[b + 1] - row[b - 1]);
    }
    s[0] = row[1] - row[0];
    s[TABLE_LANES - 2] = row[TABLE_LANES - 2] - row[TABLE_LANES - 3];
    s
}

#[inline(always)]
fn sum_lines<S: Simd>(o: Ops<S>, scene: &Scene, rows: &[PathRow], out_re: &mut [Row], out_im: &mut [Row]) {
    let lanes = TABLE_LANES / S::as_simd_f32s(&[0.0f32; TABLE_LANES]).0.len();
    let used = scene.lines.coherent.div_ceil(lanes);
    for (line, (re, im)) in out_re.iter_mut().zip(out_im).enumerate() {
        let offset = S::as_simd_f32s(&scene.lines.offset[line]).0;
        let per_m = S::as_simd_f32s(&scene.lines.per_m[line]).0;
        let (re, im) = (S::as_mut_simd_f32s(re).0, S::as_mut_simd_f32s(im).0);
        for v in scene.lines.first_band(line) / lanes..used {
            let (mut sum_re, mut sum_im) = (o.all(0.0), o.all(0.0));
            for row in rows {
                let (s, c) = o.sin_cos_turns(o.mul(per_m[v], o.all(row.length_m)));
                let a = o.fma(offset[v], S::as_simd_f32s(&row.slope_re).0[v], S::as_simd_f32s(&row.re).0[v]);
                let b = o.fma(offset[v], S::as_simd_f32s(&row.slope_im).0[v], S::as_simd_f32s(&row.im).0[v]);
                sum_re = o.fma(a, c, o.fnma(b, s, sum_re));
                sum_im = o.fma(a, s, o.fma(b, c, sum_im));
            }
            re[v] = sum_re;
            im[v] = sum_im;
        }
    }
}

#[inline(always)]
fn pair_energy<S: Simd>(o: Ops<S>, scene: &Scene, rows: &[PathRow]) -> Row {
    let lines = &scene.lines;
    let mut energy = [0.0; TABLE_LANES];
    let out = S::as_mut_simd_f32s(&mut energy).0;
    let lanes = TABLE_LANES / out.len();
    let from = lines.coherent / lanes;
    let width = S::as_simd_f32s(&lines.width_per_m).0;
    let centre = S::as_simd_f32s(&lines.centre_per_m).0;
    let mut total = 0.0;
    for row in rows {
        let (re, im) = (S::as_simd_f32s(&row.re).0, S::as_simd_f32s(&row.im).0);
        for v in from..out.len() {
            out[v] = o.fma(re[v], re[v], o.fma(im[v], im[v], out[v]));
        }
        total += row.size * row.size;
    }
    for (i, p) in rows.iter().enumerate() {
        for q in &rows[..i] {
            let apart_m = (p.length_m - q.length_m).abs();
            // Largest possible share of the cross term in each vector, by its narrowest band.
            let reach = p.size * q.size * std::f32::consts::FRAC_2_PI;
            let (p_re, p_im) = (S::as_simd_f32s(&p.re).0, S::as_simd_f32s(&p.im).0);
            let (q_re, q_im) = (S::as_simd_f32s(&q.re).0, S::as_simd_f32s(&q.im).0);
            let signed = o.all(p.length_m - q.length_m);
            for v in from..out.len() {
                let narrowest = lines.width_per_m[(v * lanes).max(lines.coherent).min(TABLE_LANES - 1)];
                if reach < LEAST_CROSS * total * narrowest * apart_m {
                    break;
                }
                let (s, c) = o.sin_cos_turns(o.mul(centre[v], signed));
                // Re(p q* exp(i phase)), with p q* = a + i b.
                let a = o.fma(p_re[v], q_re[v], o.mul(p_im[v], q_im[v]));
                let b = o.fnma(p_re[v], q_im[v], o.mul(p_im[v], q_re[v]));
                let cross = o.fnma(b, s, o.mul(a, c));
                // sin(pi x)/(pi x); half a turn is pi. Near 0 the quotient of two tiny numbers is still 1.
                let x = o.max(o.mul(width[v], o.all(apart_m)), o.all(1e-6));
                let half = o.mul(x, o.all(0.5));
                let (sine, _) = o.sin_cos_turns(half);
                let mean = o.div(sine, o.mul(x, o.all(std::f32::consts::PI)));
                out[v] = o.fma(o.add(cross, cross), mean, out[v]);
            }
        }
    }
    // A closed form of a mean may dip below nothing by rounding, or by the slope of the spectrum within a band.
    for v in &mut out[from..] {
        *v = o.max(*v, o.all(0.0));
    }
    // The first vector may reach down into bands that are added as waves.
    energy[..lines.coherent].fill(0.0);
    energy
}
