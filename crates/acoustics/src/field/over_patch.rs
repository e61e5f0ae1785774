//! One loudspeaker over the points of a patch.
//!
//! For each point the path finder lists the paths; a path through the air and the one by the ground on the same way
//! make a bundle of complex rows over bands. Bands up to the transition: each bundle is carried to the lines of the
//! band and summed as waves. Bands above: bundles add in energy with their cross terms averaged over the band.

use super::bundle::{Bundle, Tables};
use super::detour::Scratch;
use super::line_sum::sum_lines;
use super::ops::{Ops, Row};
use super::pair_energy::add_pairs;
use super::paths::{Nearby, Path, Receiver, find};
use super::wave::{Wave, eight};
use crate::directivity::TABLE_LANES;
use crate::scene::{Placed, Scene, SpectralLines};
use pulp::{Arch, Simd, WithSimd};

/// Space for one thread.
#[derive(Default)]
pub(crate) struct Work {
    /// What may matter between the source and the patch: gathered before [`over_patch`].
    pub(crate) nearby: Nearby,
    /// Waves of a patch while they are summed.
    pub(crate) waves: Vec<Wave>,
    scratch: Scratch,
    paths: Vec<Path>,
    bundles: Vec<Bundle>,
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
pub(crate) struct PointResponse<'a> {
    /// Energy per band above the transition.
    pub(crate) above: Row,
    /// Sum of its paths on every line of the coherent bands.
    pub(crate) re: &'a [Row],
    pub(crate) im: &'a [Row],
}

impl PointResponse<'_> {
    /// Energy per band, driven, of this source alone.
    #[inline(always)]
    pub(crate) fn alone(&self, lines: &SpectralLines, source: &Placed) -> Row {
        let mut total = self.above;
        for (t, e) in total.iter_mut().zip(&source.energy) {
            *t *= e;
        }
        for e in 0..lines.eights() {
            let into = &mut total.as_chunks_mut::<8>().0[e];
            for l in 0..lines.in_vector(e, 8) {
                let (d_re, d_im) = (eight(&source.drive_re[l], e), eight(&source.drive_im[l], e));
                let (re, im) = (eight(&self.re[l], e), eight(&self.im[l], e));
                for b in 0..8 {
                    into[b] += (d_re[b] * d_re[b] + d_im[b] * d_im[b]) * (re[b] * re[b] + im[b] * im[b]);
                }
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
    mut each: impl FnMut(usize, PointResponse),
) {
    for (i, receiver) in receivers.iter().enumerate() {
        if !receiver.indoors {
            each(i, at_point(simd, scene, tables, source, receiver, work));
        }
    }
}

/// One source at one point.
#[inline(always)]
fn at_point<'a, S: Simd>(
    simd: S,
    scene: &Scene,
    tables: &Tables,
    source: &Placed,
    receiver: &Receiver,
    work: &'a mut Work,
) -> PointResponse<'a> {
    let o = Ops(simd);
    let lines = &*scene.lines;
    find(&scene.world, source, &work.nearby, receiver, &mut work.scratch, &mut work.paths);
    if work.bundles.len() < work.paths.len() {
        work.bundles.resize_with(work.paths.len(), Bundle::default);
    }
    let mut above = [0.0; TABLE_LANES];
    let (mut count, mut at) = (0, 0);
    while at < work.paths.len() {
        let path = &work.paths[at];
        let paired = path.bounce.is_none()
            && work.paths.get(at + 1).is_some_and(|p| p.bounce.is_some() && p.faces == path.faces);
        let next = at + 1 + usize::from(paired);
        work.bundles[count].fill(o, scene, tables, source, &work.paths[at..next], &mut above);
        (count, at) = (count + 1, next);
    }
    let bundles = &work.bundles[..count];
    sum_lines(o, lines, bundles, &mut work.line_re, &mut work.line_im);
    if lines.coherent < crate::bands::BAND_COUNT {
        add_pairs(o, lines, bundles, &mut above);
    }
    // The first vector may reach down into bands that are added as waves.
    above[..lines.coherent].fill(0.0);
    PointResponse { above, re: &work.line_re, im: &work.line_im }
}

/// One loudspeaker at points that it was gathered for.
pub(crate) struct One<'a, F> {
    pub(crate) scene: &'a Scene,
    pub(crate) tables: &'a Tables,
    pub(crate) source: &'a Placed,
    pub(crate) receivers: &'a [Receiver],
    pub(crate) work: &'a mut Work,
    pub(crate) each: F,
}

impl<F: FnMut(usize, PointResponse)> WithSimd for One<'_, F> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        over_patch(simd, self.scene, self.tables, self.source, self.receivers, self.work, self.each);
    }
}

/// One loudspeaker alone at one point.
struct Alone<'a> {
    scene: &'a Scene,
    tables: &'a Tables,
    source: &'a Placed,
    receiver: &'a Receiver,
    work: &'a mut Work,
}

impl WithSimd for Alone<'_> {
    type Output = Row;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Row {
        let Self { scene, tables, source, receiver, work } = self;
        at_point(simd, scene, tables, source, receiver, work).alone(&scene.lines, source)
    }
}

/// One loudspeaker alone at one point that it was gathered for, driven: energy per band.
pub(crate) fn alone_at(
    scene: &Scene,
    tables: &Tables,
    source: &Placed,
    receiver: &Receiver,
    work: &mut Work,
) -> Row {
    Arch::new().dispatch(Alone { scene, tables, source, receiver, work })
}
