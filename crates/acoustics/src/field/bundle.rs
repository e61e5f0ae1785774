//! A loudspeaker or one of its images as heard at a point: the path through the air and the one by way of the ground,
//! as complex rows over bands (spreading, air, directivity, faces, ground, screening).
//!
//! The two leave in nearly the same direction over nearly the same length, so they share what they can: absorption
//! (that of the longer path is that of the shorter times a short series) and, where their phases differ by less than
//! [`TOGETHER_TURNS`] at the transition, one complex row for the sum over the lines of a band.

use super::detour::Detours;
use super::ground_table::GroundTable;
use super::ops::{Ops, Row};
use super::paths::{NO_FACE, Path};
use super::rows::screen_row;
use crate::directivity::{LookUp, TABLE_LANES};
use crate::scene::{Placed, Scene, SpectralLines};
use pulp::Simd;

/// Phase between the two paths, at the highest frequency added as waves, up to which they are carried along a band as
/// one: 0.8 rad, where a straight line between bands is off by at most 0.5 % of the weaker path at a band's edge.
/// More would smear the dip between the two, less would sum more rows.
const TOGETHER_TURNS: f32 = 0.127;

/// What the fast field needs of a scene besides the scene.
#[derive(Debug, Clone)]
pub(crate) struct Tables {
    grounds: Vec<GroundTable>,
    lowest_per_m: f32,
}

impl Tables {
    pub(crate) fn new(scene: &Scene) -> Self {
        let c = scene.lines.c;
        Self {
            grounds: scene.world.grounds.iter().map(|g| GroundTable::new(*g, c)).collect(),
            lowest_per_m: scene.lines.lowest_per_m,
        }
    }
}

/// Complex amplitudes of all bands. Aligned, so that no vector straddles two cache lines.
#[derive(Debug, Clone, Copy)]
#[repr(align(64))]
pub(crate) struct Rows {
    pub(crate) re: Row,
    pub(crate) im: Row,
}

const NOTHING: Rows = Rows { re: [0.0; TABLE_LANES], im: [0.0; TABLE_LANES] };

/// One or two paths.
#[derive(Debug, Clone)]
pub(crate) struct Bundle {
    /// The path through the air, or the only one.
    pub(crate) first: Rows,
    /// The path by way of the ground, if there are both.
    pub(crate) second: Rows,
    /// Both at each band's centre, less the phase of the first one's length.
    pub(crate) both: Rows,
    /// Length of the first, metres, for its phase.
    pub(crate) length_m: f32,
    /// What the second is longer; 0 if there is none.
    pub(crate) apart_m: f32,
    pub(crate) paired: bool,
    /// Whether `both` stands for the two on the lines of the coherent bands.
    pub(crate) together: bool,
    /// Rough amplitudes of the two added, for the decision whether a cross term matters.
    pub(crate) size: f32,
    /// The same squared before adding.
    pub(crate) size2: f32,
}

impl Default for Bundle {
    fn default() -> Self {
        Self {
            first: NOTHING,
            second: NOTHING,
            both: NOTHING,
            length_m: 0.0,
            apart_m: 0.0,
            paired: false,
            together: false,
            size: 0.0,
            size2: 0.0,
        }
    }
}

impl Bundle {
    /// Fills the rows from one path, or from a path through the air and one by the ground by way of the same faces;
    /// adds the energy of the bands above the transition.
    #[inline(always)]
    pub(crate) fn fill<S: Simd>(
        &mut self,
        o: Ops<S>,
        scene: &Scene,
        tables: &Tables,
        source: &Placed,
        paths: &[Path],
        energy: &mut Row,
    ) {
        let lines = &*scene.lines;
        let path = &paths[0];
        let mut weaker = [1.0; TABLE_LANES];
        let length = path.length_m as f32;
        attenuate(o, lines, length, &mut weaker);
        let mut reflected = 1.0;
        for face in path.faces.iter().filter(|f| **f != NO_FACE) {
            let reflectance = &scene.world.reflectance[scene.world.faces[*face as usize].obstacle as usize];
            scale(o, &mut weaker, reflectance);
            reflected *= reflectance[16];
        }
        self.length_m = row(o, tables, source, path, 1.0 / length, &weaker, &mut self.first);
        self.size = reflected / length;
        self.size2 = self.size * self.size;
        self.paired = paths.len() > 1;
        if !self.paired {
            self.apart_m = 0.0;
            self.together = false;
            return self.energy_of_one(o, lines, energy);
        }
        let other = &paths[1];
        let longer = other.length_m as f32;
        let extra = (other.length_m - path.length_m) as f32;
        attenuate_more(o, lines, extra, &mut weaker);
        let phase_m = row(o, tables, source, other, 1.0 / longer, &weaker, &mut self.second);
        // The difference in full figures: lengths of hundreds of metres would leave few.
        let bent = |p: &Path| p.detours.as_ref().map_or(0.0, Detours::extra_m);
        self.apart_m = if path.detours.is_some() || other.detours.is_some() {
            (other.length_m + bent(other) - path.length_m - bent(path)) as f32
        } else {
            extra
        };
        debug_assert!((phase_m - self.length_m - self.apart_m).abs() < 1e-2 + 1e-5 * phase_m);
        let size = reflected / longer;
        self.size += size;
        self.size2 += size * size;
        self.energy_of_two(o, lines, energy);
    }

    #[inline(always)]
    fn energy_of_one<S: Simd>(&self, o: Ops<S>, lines: &SpectralLines, energy: &mut Row) {
        let out = S::as_mut_simd_f32s(energy).0;
        let from = lines.coherent / (TABLE_LANES / out.len());
        let (re, im) = (S::as_simd_f32s(&self.first.re).0, S::as_simd_f32s(&self.first.im).0);
        for v in from..out.len() {
            out[v] = o.fma(re[v], re[v], o.fma(im[v], im[v], out[v]));
        }
    }

    /// The cross term of the two, averaged over each band: cos(2 pi f D) sin(pi B D)/(pi B D).
    #[inline(always)]
    fn energy_of_two<S: Simd>(&mut self, o: Ops<S>, lines: &SpectralLines, energy: &mut Row) {
        let out = S::as_mut_simd_f32s(energy).0;
        let lanes = TABLE_LANES / out.len();
        let from = lines.coherent / lanes;
        let apart_m = self.apart_m.abs();
        let highest = lines.coherent.max(1) - 1;
        self.together = lines.coherent > 0 && lines.centre_per_m[highest] * apart_m <= TOGETHER_TURNS;
        // Lines take their slope from the band above as well.
        let used = lines.coherent.div_ceil(lanes);
        let apart = o.all(self.apart_m);
        let (centre, width) = (S::as_simd_f32s(&lines.centre_per_m).0, S::as_simd_f32s(&lines.width_per_m).0);
        let (a_re, a_im) = (S::as_simd_f32s(&self.first.re).0, S::as_simd_f32s(&self.first.im).0);
        let (g_re, g_im) = (S::as_simd_f32s(&self.second.re).0, S::as_simd_f32s(&self.second.im).0);
        let both_re = S::as_mut_simd_f32s(&mut self.both.re).0;
        let both_im = S::as_mut_simd_f32s(&mut self.both.im).0;
        for v in 0..out.len() {
            if v < from && !(self.together && v <= used) {
                continue;
            }
            let (s, c) = o.sin_cos_turns(o.mul(centre[v], apart));
            let turned_re = o.fnma(g_im[v], s, o.mul(g_re[v], c));
            let turned_im = o.fma(g_re[v], s, o.mul(g_im[v], c));
            both_re[v] = o.add(a_re[v], turned_re);
            both_im[v] = o.add(a_im[v], turned_im);
            if v < from {
                continue;
            }
            let cross = o.fma(a_re[v], turned_re, o.mul(a_im[v], turned_im));
            let widest = lines.width_per_m[(v + 1) * lanes - 1] * apart_m;
            let x = o.mul(width[v], o.all(apart_m));
            let mean = if widest < 0.4 { o.sinc_near_nothing(x) } else { o.sinc(x) };
            let mut sum = o.fma(a_re[v], a_re[v], o.mul(a_im[v], a_im[v]));
            sum = o.fma(g_re[v], g_re[v], o.fma(g_im[v], g_im[v], sum));
            sum = o.fma(o.add(cross, cross), mean, sum);
            // A closed form of a mean may dip below nothing by rounding.
            out[v] = o.add(out[v], o.max(sum, o.all(0.0)));
        }
    }
}

/// What the air leaves of a pressure after a length.
#[inline(always)]
fn attenuate<S: Simd>(o: Ops<S>, lines: &SpectralLines, length_m: f32, out: &mut Row) {
    let length = o.all(length_m);
    let alpha = S::as_simd_f32s(&lines.absorption_np_per_m).0;
    for (out, alpha) in S::as_mut_simd_f32s(out).0.iter_mut().zip(alpha) {
        *out = o.decay(o.mul(*alpha, length));
    }
}

/// What the air leaves after a little more: a series good to 4e-4 up to 0.3 neper, past that the function.
#[inline(always)]
fn attenuate_more<S: Simd>(o: Ops<S>, lines: &SpectralLines, extra_m: f32, out: &mut Row) {
    let extra = o.all(extra_m);
    let alpha = S::as_simd_f32s(&lines.absorption_np_per_m).0;
    let most = lines.absorption_np_per_m[TABLE_LANES - 1] * extra_m;
    let one = o.all(1.0);
    for (out, alpha) in S::as_mut_simd_f32s(out).0.iter_mut().zip(alpha) {
        let x = o.mul(*alpha, extra);
        let left = if most < 0.3 {
            // 1 - x (1 - x/2 (1 - x/3))
            let inner = o.fnma(x, o.all(1.0 / 3.0), one);
            o.fnma(x, o.fnma(o.mul(x, o.all(0.5)), inner, one), one)
        } else {
            o.decay(x)
        };
        *out = o.mul(*out, left);
    }
}

/// Fills the row of one path, given what the air and the faces leave; returns the length that sets its phase, metres.
#[inline(always)]
fn row<S: Simd>(
    o: Ops<S>,
    tables: &Tables,
    source: &Placed,
    path: &Path,
    spread: f32,
    weaker: &Row,
    out: &mut Rows,
) -> f32 {
    let d = path.departure;
    let look = source.table.look_up(d.x as f32, d.y as f32, d.z as f32);
    blend(o, source.table.rows(), &look, spread, weaker, &mut out.re);
    let mut phase_m = path.length_m as f32;
    if let Some(d) = &path.detours {
        let mut passes = screen_row(d, tables.lowest_per_m);
        passes.iter_mut().for_each(|energy| *energy = energy.sqrt());
        scale(o, &mut out.re, &passes);
        phase_m += d.extra_m() as f32;
    }
    let phased = source.table.phase_rows().map(|phases| turn_by_phase(phases, &look, out));
    if let Some(b) = path.bounce {
        let table = &tables.grounds[b.surface as usize];
        let mut q = NOTHING;
        table.find(b.cos as f32, path.length_m as f32).coefficient(o, table, &mut q.re, &mut q.im);
        let (q_re, q_im) = (S::as_simd_f32s(&q.re).0, S::as_simd_f32s(&q.im).0);
        let (re, im) = (S::as_mut_simd_f32s(&mut out.re).0, S::as_mut_simd_f32s(&mut out.im).0);
        for v in 0..re.len() {
            let (a, b) = (re[v], im[v]);
            if phased.is_some() {
                re[v] = o.fnma(b, q_im[v], o.mul(a, q_re[v]));
                im[v] = o.fma(a, q_im[v], o.mul(b, q_re[v]));
            } else {
                re[v] = o.mul(a, q_re[v]);
                im[v] = o.mul(a, q_im[v]);
            }
        }
    } else if phased.is_none() {
        out.im = [0.0; TABLE_LANES];
    }
    phase_m
}

/// out = spread x weaker x the blend of directivity rows.
#[inline(always)]
fn blend<S: Simd>(o: Ops<S>, rows: &[Row], look: &LookUp, spread: f32, weaker: &Row, out: &mut Row) {
    let out = S::as_mut_simd_f32s(out).0;
    let weaker = S::as_simd_f32s(weaker).0;
    let (a, b) =
        (S::as_simd_f32s(&rows[look.rows[0] as usize]).0, S::as_simd_f32s(&rows[look.rows[1] as usize]).0);
    let [p, q, r, s] = look.weights;
    let (p, q) = (o.all(p * spread), o.all(q * spread));
    match look.used {
        1 => {
            for v in 0..out.len() {
                out[v] = o.mul(weaker[v], o.mul(a[v], p));
            }
        }
        2 => {
            for v in 0..out.len() {
                out[v] = o.mul(weaker[v], o.fma(b[v], q, o.mul(a[v], p)));
            }
        }
        _ => {
            let (c, d) = (
                S::as_simd_f32s(&rows[look.rows[2] as usize]).0,
                S::as_simd_f32s(&rows[look.rows[3] as usize]).0,
            );
            let (r, s) = (o.all(r * spread), o.all(s * spread));
            for v in 0..out.len() {
                let near = o.fma(b[v], q, o.mul(a[v], p));
                let far = o.fma(d[v], s, o.mul(c[v], r));
                out[v] = o.mul(weaker[v], o.add(near, far));
            }
        }
    }
}

#[inline(always)]
fn scale<S: Simd>(o: Ops<S>, row: &mut Row, by: &Row) {
    for (r, b) in S::as_mut_simd_f32s(row).0.iter_mut().zip(S::as_simd_f32s(by).0) {
        *r = o.mul(*r, *b);
    }
}

/// A measured phase is given for exp(+j w t); blend its sine and cosine, not the angle.
fn turn_by_phase(phases: &[Row], look: &LookUp, out: &mut Rows) {
    for (b, (re, im)) in out.re.iter_mut().zip(&mut out.im).enumerate() {
        let (mut s, mut c) = (0.0f32, 0.0f32);
        for (row, weight) in look.rows[..look.used].iter().zip(look.weights) {
            let (sine, cosine) = phases[*row as usize][b].sin_cos();
            s += weight * sine;
            c += weight * cosine;
        }
        let norm = s.hypot(c).max(1e-6);
        *im = -*re * s / norm;
        *re *= c / norm;
    }
}
