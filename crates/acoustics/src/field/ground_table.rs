//! The spherical-wave reflection coefficient of a ground, tabulated over the length of the reflected path and the
//! cosine of its angle, all bands at once.
//!
//! Neither the height of the source nor that of the listener enters beyond these two, so one table serves every
//! loudspeaker and every image. Nodes lie evenly between powers of two: the place of a number among them is in the
//! leading bits of its floating-point form, no logarithm is taken. Between nodes the coefficient runs straight in both
//! directions; with 32 nodes per doubling of length and 16 per doubling of the cosine it is off by at most 6e-4, 0.005 dB
//! where direct and reflected sound do not cancel (a test sweeps it; fewer nodes err with the square of their
//! spacing, more cost memory). Blocks of nodes are filled when first asked for.

use super::ops::{Ops, Row};
use super::rows::GroundRows;
use crate::directivity::TABLE_LANES;
use crate::ground::Ground;
use pulp::{Arch, Simd, WithSimd};
use std::sync::OnceLock;

/// Bits of the fraction that number a node: 32 nodes per doubling of the length.
const LENGTH_BITS: u32 = 5;
/// The same for the cosine: 16 nodes per doubling.
const COS_BITS: u32 = 4;
/// Lengths from 1/16 m to 16 km; others go by the formula.
const LENGTHS: (f32, f32) = (0.0625, 16_384.0);
/// Cosines from 2^-13 (a hair above the ground) to 1.
const LEAST_COS: f32 = 1.0 / 8192.0;
/// Blocks span half a doubling of either.
const LENGTH_NODES: usize = 17;
const COS_NODES: usize = 9;
const LENGTH_BLOCKS: usize = 36;
const COS_BLOCKS: usize = 26;

/// Real and imaginary parts of all bands at a node.
type Node = [Row; 2];

/// The coefficient of one ground.
#[derive(Debug, Clone)]
pub(crate) struct GroundTable {
    rows: GroundRows,
    blocks: Vec<OnceLock<Box<[Node]>>>,
}

/// A place in the table: four nodes and their weights, or the formula.
pub(crate) enum Found<'a> {
    Nodes { nodes: [&'a Node; 4], weights: [f32; 4] },
    Formula { cos: f32, reflected_m: f32 },
}

/// Number of the node below a value and the fraction of the way to the next.
#[inline(always)]
fn below(value: f32, bits: u32) -> (u32, f32) {
    let shift = 23 - bits;
    let raw = value.to_bits();
    (raw >> shift, (raw & ((1 << shift) - 1)) as f32 * (1.0 / (1u32 << shift) as f32))
}

impl GroundTable {
    pub(crate) fn new(ground: Ground, c: f64) -> Self {
        let blocks = (0..LENGTH_BLOCKS * COS_BLOCKS).map(|_| OnceLock::new()).collect();
        Self { rows: GroundRows::new(ground, c), blocks }
    }

    /// Where a path of some length that meets the ground at some cosine from its normal lies.
    #[inline(always)]
    pub(crate) fn find(&self, cos: f32, reflected_m: f32) -> Found<'_> {
        if !(reflected_m >= LENGTHS.0 && reflected_m < LENGTHS.1 && cos >= LEAST_COS) {
            return Found::Formula { cos, reflected_m };
        }
        let (length, t) = below(reflected_m, LENGTH_BITS);
        let (slope, u) = below(cos.min(1.0 - f32::EPSILON / 2.0), COS_BITS);
        let length = length - (LENGTHS.0.to_bits() >> (23 - LENGTH_BITS));
        let slope = slope - (LEAST_COS.to_bits() >> (23 - COS_BITS));
        let (row, i) = (length as usize / (LENGTH_NODES - 1), length as usize % (LENGTH_NODES - 1));
        let (column, j) = (slope as usize / (COS_NODES - 1), slope as usize % (COS_NODES - 1));
        let block = self.blocks[row * COS_BLOCKS + column]
            .get_or_init(|| Arch::new().dispatch(Fill { table: self, row, column }));
        let at = i * COS_NODES + j;
        Found::Nodes {
            nodes: [&block[at], &block[at + 1], &block[at + COS_NODES], &block[at + COS_NODES + 1]],
            weights: [(1.0 - t) * (1.0 - u), (1.0 - t) * u, t * (1.0 - u), t * u],
        }
    }
}

/// Computes a block.
struct Fill<'a> {
    table: &'a GroundTable,
    row: usize,
    column: usize,
}

impl WithSimd for Fill<'_> {
    type Output = Box<[Node]>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Box<[Node]> {
        let node = |first: f32, bits: u32, number: usize| {
            f32::from_bits(((first.to_bits() >> (23 - bits)) + number as u32) << (23 - bits))
        };
        let mut nodes = vec![[[1.0; TABLE_LANES], [0.0; TABLE_LANES]]; LENGTH_NODES * COS_NODES];
        for (k, [re, im]) in nodes.iter_mut().enumerate() {
            let length = node(LENGTHS.0, LENGTH_BITS, self.row * (LENGTH_NODES - 1) + k / COS_NODES);
            let cos = node(LEAST_COS, COS_BITS, self.column * (COS_NODES - 1) + k % COS_NODES);
            self.table.rows.reflect(Ops(simd), cos, length, re, im);
        }
        nodes.into_boxed_slice()
    }
}

impl Found<'_> {
    /// The coefficient of all bands.
    #[inline(always)]
    pub(crate) fn coefficient<S: Simd>(&self, o: Ops<S>, table: &GroundTable, re: &mut Row, im: &mut Row) {
        match self {
            Self::Formula { cos, reflected_m } => {
                re.fill(1.0);
                im.fill(0.0);
                table.rows.reflect(o, *cos, *reflected_m, re, im);
            }
            Self::Nodes { nodes, weights } => {
                for (part, out) in [re, im].into_iter().enumerate() {
                    let out = S::as_mut_simd_f32s(out).0;
                    let (a, b) = (S::as_simd_f32s(&nodes[0][part]).0, S::as_simd_f32s(&nodes[1][part]).0);
                    let (c, d) = (S::as_simd_f32s(&nodes[2][part]).0, S::as_simd_f32s(&nodes[3][part]).0);
                    let [p, q, r, s] = *weights;
                    let (p, q, r, s) = (o.all(p), o.all(q), o.all(r), o.all(s));
                    for v in 0..out.len() {
                        let near = o.fma(b[v], q, o.mul(a[v], p));
                        let far = o.fma(d[v], s, o.mul(c[v], r));
                        out[v] = o.add(near, far);
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bands::Band;
    use num_complex::Complex64;

    struct Look<'a>(&'a GroundTable, f32, f32);
    impl WithSimd for Look<'_> {
        type Output = Node;
        #[inline(always)]
        fn with_simd<S: Simd>(self, simd: S) -> Node {
            let o = Ops(simd);
            let mut node = [[0.0; TABLE_LANES]; 2];
            let [re, im] = &mut node;
            self.0.find(self.1, self.2).coefficient(o, self.0, re, im);
            node
        }
    }

    #[test]
    fn the_table_meets_the_plain_formula() {
        let mut worst = 0.0f64;
        for flow in [1.0, 12.5, 200.0, 2000.0, 20_000.0, 200_000.0] {
            let ground = Ground::new(flow).unwrap();
            let table = GroundTable::new(ground, 343.2);
            // Between nodes, on nodes, and past the ends of the table.
            for length in 0..46 {
                let metres = 0.1f32 * 1.317f32.powi(length);
                for step in 0..60 {
                    let cos = (1.0 / (1.21f32.powi(step) * 1.0)).max(1e-5);
                    let [re, im] = Arch::new().dispatch(Look(&table, cos, metres));
                    for b in Band::all() {
                        let (m, c) = (f64::from(metres), f64::from(cos));
                        let plain = ground.reflection(b.centre_hz(), m, c, 343.2);
                        let fast = Complex64::new(f64::from(re[b.index()]), f64::from(im[b.index()]));
                        worst = worst.max((plain - fast).norm());
                    }
                }
            }
        }
        assert!(worst < 6e-4, "worst {worst:e}");
        assert!(worst > 1e-6, "nothing was read from the table");
    }
}
