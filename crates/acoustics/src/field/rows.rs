//! Per-band rows of the model in 32-bit vector arithmetic: ground reflection and screening.

use super::detour::Detours;
use super::ops::{Ops, Row, ten_lg};
use crate::bands::Band;
use crate::directivity::TABLE_LANES;
use crate::ground::Ground;
use crate::screen::{GRAZING_LOSS_DB, loss_db};
use pulp::Simd;
use std::f64::consts::{PI, TAU};
use std::sync::LazyLock;

/// Terms of the rational series for the Faddeeva function (Weideman, SIAM J. Numer. Anal. 31 (1994)). In 32-bit
/// arithmetic more terms gain nothing.
const TERMS: usize = 16;

struct Weideman {
    l: f32,
    a: [f32; TERMS],
}

static WEIDEMAN: LazyLock<Weideman> = LazyLock::new(|| {
    let n = TERMS as f64;
    let l = (n / 2f64.sqrt()).sqrt();
    let m = 2 * TERMS as i32;
    let a = std::array::from_fn(|j| {
        let order = j as f64 + 1.0;
        let sum: f64 = (1 - m..m)
            .map(|k| {
                let theta = f64::from(k) * PI / f64::from(m);
                let t = l * (0.5 * theta).tan();
                (-t * t).exp() * (l * l + t * t) * (order * theta).cos()
            })
            .sum();
        (sum / f64::from(2 * m)) as f32
    });
    Weideman { l: l as f32, a }
});

/// Admittance of one ground by band.
#[derive(Debug, Clone)]
pub(crate) struct GroundRows {
    re: Row,
    im: Row,
    /// sqrt(k) / 2.
    half_sqrt_k: Row,
}

impl GroundRows {
    pub(crate) fn new(ground: Ground, c: f64) -> Self {
        let mut rows = Self { re: [1.0; 32], im: [0.0; 32], half_sqrt_k: [1.0; 32] };
        for b in Band::all() {
            let y = ground.impedance(b.centre_hz()).inv();
            rows.re[b.index()] = y.re as f32;
            rows.im[b.index()] = y.im as f32;
            rows.half_sqrt_k[b.index()] = (0.5 * (TAU * b.centre_hz() / c).sqrt()) as f32;
        }
        rows
    }

    /// Multiplies a complex row by the spherical-wave reflection coefficient. Absolute error of the coefficient
    /// below 1e-4 (a test sweeps it): under 0.02 dB on a sum down to 25 dB below the direct sound.
    #[inline(always)]
    pub(crate) fn reflect<S: Simd>(&self, o: Ops<S>, cos: f32, reflected_m: f32, re: &mut Row, im: &mut Row) {
        let table = &*WEIDEMAN;
        let root = o.all(reflected_m.sqrt());
        let cos = o.all(cos);
        let (zero, one) = (o.all(0.0), o.all(1.0));
        let l = o.all(table.l);
        let b_re = S::as_simd_f32s(&self.re).0;
        let b_im = S::as_simd_f32s(&self.im).0;
        let half_k = S::as_simd_f32s(&self.half_sqrt_k).0;
        let (re, im) = (S::as_mut_simd_f32s(re).0, S::as_mut_simd_f32s(im).0);
        for v in 0..re.len() {
            let (s, t) = (o.add(cos, b_re[v]), b_im[v]);
            // Plane-wave coefficient (cos - b)/(cos + b) = 1 - 2 b/(cos + b); keep u = b/(cos + b).
            let norm = o.div(one, o.fma(s, s, o.mul(t, t)));
            let u_re = o.mul(o.fma(b_re[v], s, o.mul(t, t)), norm);
            let u_im = o.mul(o.mul(t, cos), norm);
            let g = o.mul(half_k[v], root);
            let (x, y) = (o.mul(g, o.sub(s, t)), o.mul(g, o.add(s, t)));
            // Z = (l + i w)/(l - i w), with i w = -y + i x.
            let (p, q) = (o.sub(l, y), o.add(l, y));
            let down = o.div(one, o.fma(q, q, o.mul(x, x)));
            let z_re = o.mul(o.fnma(x, x, o.mul(p, q)), down);
            let z_im = o.mul(o.mul(x, o.add(l, l)), down);
            let mut f_re = o.all(table.a[TERMS - 1]);
            let mut f_im = zero;
            for k in (0..TERMS - 1).rev() {
                let next = o.fma(f_re, z_re, o.fnma(f_im, z_im, o.all(table.a[k])));
                f_im = o.fma(f_re, z_im, o.mul(f_im, z_re));
                f_re = next;
            }
            // h = 1/(l - i w) = (q + i x) down; W = 2 f h^2 + h / sqrt(pi).
            let (h_re, h_im) = (o.mul(q, down), o.mul(x, down));
            let a_re = o.fma(o.add(f_re, f_re), h_re, o.fnma(o.add(f_im, f_im), h_im, o.all(0.564_189_6)));
            let a_im = o.fma(o.add(f_re, f_re), h_im, o.mul(o.add(f_im, f_im), h_re));
            let w_re = o.fnma(a_im, h_im, o.mul(a_re, h_re));
            let w_im = o.fma(a_re, h_im, o.mul(a_im, h_re));
            // F = 1 + i sqrt(pi) w W.
            let root_pi = o.all(1.772_453_9);
            let f_re = o.fnma(root_pi, o.fma(x, w_im, o.mul(y, w_re)), one);
            let f_im = o.mul(root_pi, o.fnma(y, w_im, o.mul(x, w_re)));
            // Q = 1 - 2u + 2u F = 1 - 2u (1 - F).
            let (d_re, d_im) = (o.sub(one, f_re), o.sub(zero, f_im));
            let (u_re, u_im) = (o.add(u_re, u_re), o.add(u_im, u_im));
            let q_re = o.fma(u_im, d_im, o.fnma(u_re, d_re, one));
            let q_im = o.sub(zero, o.fma(u_re, d_im, o.mul(u_im, d_re)));
            let kept = re[v];
            re[v] = o.fnma(im[v], q_im, o.mul(kept, q_re));
            im[v] = o.fma(kept, q_im, o.mul(im[v], q_re));
        }
    }
}

/// Steps per band of the screening tables; 10 lg N moves by exactly 1 from band to band, so a row is one slice.
const STEPS: usize = 16;
/// 10 lg of the least Fresnel number told from 0.
const LEAST: f32 = -60.0;
/// Entries of a table: 10 lg N from -60 to 60, and a row more.
const ENTRIES: usize = 120 + TABLE_LANES + 1;

struct ScreenTables {
    /// Energy that passes an edge in the way.
    bent: Vec<[f32; ENTRIES]>,
    /// Energy that passes clear of an edge.
    clear: Vec<[f32; ENTRIES]>,
    /// Share of the other ways that still counts, clear of an edge.
    fade: Vec<[f32; ENTRIES]>,
}

static SCREENS: LazyLock<ScreenTables> = LazyLock::new(|| {
    let table = |f: &dyn Fn(f64) -> f64| -> Vec<[f32; ENTRIES]> {
        (0..=STEPS)
            .map(|step| {
                std::array::from_fn(|i| {
                    let x = f64::from(LEAST) + i as f64 + step as f64 / STEPS as f64;
                    f(10f64.powf(x / 10.0)) as f32
                })
            })
            .collect()
    };
    ScreenTables {
        bent: table(&|n| 10f64.powf(-loss_db(n) / 10.0)),
        clear: table(&|n| 10f64.powf(-loss_db(-n) / 10.0)),
        fade: table(&|n| loss_db(-n) / GRAZING_LOSS_DB),
    }
});

/// A place in the tables: one slice of `TABLE_LANES` in each of two neighbouring steps, and the blend.
#[inline(always)]
fn place(detour_m: f64, lowest_per_m: f32) -> (usize, usize, f32) {
    let n = 2.0 * detour_m.abs() as f32 * lowest_per_m;
    let x = (ten_lg(n.max(1e-6)) - LEAST).clamp(0.0, 119.99);
    let whole = x as usize;
    let fine = (x - whole as f32) * STEPS as f32;
    let step = (fine as usize).min(STEPS - 1);
    (whole, step, fine - step as f32)
}

#[inline(always)]
fn add_row(table: &[[f32; ENTRIES]], at: (usize, usize, f32), out: &mut Row) {
    let (whole, step, t) = at;
    let (a, b) = (&table[step][whole..whole + TABLE_LANES], &table[step + 1][whole..whole + TABLE_LANES]);
    for ((o, a), b) in out.iter_mut().zip(a).zip(b) {
        *o += a + (b - a) * t;
    }
}

/// Energy that gets past what stands in the way, per band: at most 1. `lowest_per_m` is 20 Hz in waves per metre.
/// Straight lines between table entries are at most 0.02 dB off.
#[inline(always)]
pub(crate) fn screen_row(d: &Detours, lowest_per_m: f32) -> Row {
    let tables = &*SCREENS;
    let mut row = [0.0; TABLE_LANES];
    for other in d.other_m {
        add_row(&tables.bent, place(other, lowest_per_m), &mut row);
    }
    let at = place(d.near_m, lowest_per_m);
    if d.near_m >= 0.0 {
        add_row(&tables.bent, at, &mut row);
    } else {
        let mut fade = [0.0; TABLE_LANES];
        add_row(&tables.fade, at, &mut fade);
        for (r, f) in row.iter_mut().zip(fade) {
            *r *= f;
        }
        add_row(&tables.clear, at, &mut row);
    }
    row.iter_mut().for_each(|energy| *energy = energy.min(1.0));
    row
}

/// The same in full figures, for one frequency.
pub(crate) fn screen_energy(d: &Detours, hz: f64, c: f64) -> f64 {
    let bent = |m: f64| 10f64.powf(-loss_db(crate::screen::fresnel_number(m, hz, c)) / 10.0);
    let others = bent(d.other_m[0]) + bent(d.other_m[1]);
    let fade = if d.near_m >= 0.0 {
        1.0
    } else {
        loss_db(crate::screen::fresnel_number(d.near_m, hz, c)) / GRAZING_LOSS_DB
    };
    (bent(d.near_m) + fade * others).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use num_complex::Complex64;
    use pulp::{Arch, WithSimd};

    struct Reflect<'a>(&'a GroundRows, f32, f32, &'a mut Row, &'a mut Row);
    impl WithSimd for Reflect<'_> {
        type Output = ();
        #[inline(always)]
        fn with_simd<S: Simd>(self, simd: S) {
            self.0.reflect(Ops(simd), self.1, self.2, self.3, self.4);
        }
    }

    #[test]
    fn ground_rows_meet_the_plain_formula() {
        let mut worst = 0.0f64;
        for flow in [12.5, 80.0, 500.0, 2000.0, 20_000.0, 200_000.0] {
            let ground = Ground::new(flow).unwrap();
            let rows = GroundRows::new(ground, 343.2);
            for metres in [0.3f32, 1.0, 3.0, 10.0, 30.0, 100.0, 400.0] {
                for step in 0..40 {
                    let cos = (step as f32 / 39.0).powi(3).max(1e-4);
                    let (mut re, mut im) = ([1.0; 32], [0.0; 32]);
                    Arch::new().dispatch(Reflect(&rows, cos, metres, &mut re, &mut im));
                    for b in Band::all() {
                        let plain =
                            ground.reflection(b.centre_hz(), f64::from(metres), f64::from(cos), 343.2);
                        let fast = Complex64::new(f64::from(re[b.index()]), f64::from(im[b.index()]));
                        worst = worst.max((plain - fast).norm());
                    }
                }
            }
        }
        assert!(worst < 1e-4, "worst {worst:e}");
    }

    #[test]
    fn screen_rows_meet_the_plain_formula() {
        let per_m = (Band::all().next().unwrap().centre_hz() / 343.2) as f32;
        for near in [-2.0, -0.3, -0.02, -1e-3, 0.0, 1e-4, 0.01, 0.2, 3.0] {
            let d = Detours { near_m: near, other_m: [0.7, 12.0] };
            let row = screen_row(&d, per_m);
            for b in Band::all() {
                let plain = screen_energy(&d, b.centre_hz(), 343.2);
                let off = 10.0 * (f64::from(row[b.index()]) / plain).log10();
                assert!(off.abs() < 0.02, "{near} m, {}: {off} dB", b.label());
            }
        }
    }
}
