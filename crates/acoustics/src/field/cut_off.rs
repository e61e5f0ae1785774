//! Which loudspeakers count one by one at a patch of points, and which are lumped.
//!
//! A loudspeaker far from a patch is computed once, at the patch's middle, and carried to its points by the slope of
//! spherical spreading and air absorption. What that leaves out is second order: with the patch's points within p of
//! its middle and the loudspeaker r away, 1/r^2 is off by at most 3 (p/r)^2 of itself to that order, so r is held
//! above p sqrt(3 / (10^(x/10) - 1)) for an error of at most x dB even where all sound comes from far away. The bound
//! is that of spreading; lobes and ground dips finer than a patch are not in it, so it is held for the A-weighted
//! level (a test on scattered loudspeakers that dominate), not for each band, and is off unless asked for. Lumped
//! loudspeakers add in energy in all bands, hence only those farther than waves are taken to keep in step over moving
//! air ([`Settings::in_step_m`](crate::Settings::in_step_m)). A loudspeaker with an obstacle or a reflecting face that
//! may matter at the patch, and a patch whose points differ in height, are never lumped: nothing jumps within a lump.
//! Skipping instead of lumping would not do: on a plane, rings of equal loudspeakers at every distance bring the same
//! energy, less what the air takes.

use super::paths::Receiver;
use super::points::Points;
use super::tile::Work;
use crate::scene::{Placed, Scene};
use loamline_geometry::Point2;

/// Heights within a patch that count as one, metres.
const LEVEL_M: f64 = 0.05;

/// The loudspeakers at a patch.
pub(crate) struct Kept {
    list: Vec<(u32, u32)>,
    ends: Vec<usize>,
    /// Loudspeakers to lump.
    pub(crate) far: Vec<u32>,
    /// Where they are computed.
    pub(crate) middle: Receiver,
}

impl Kept {
    /// `without` is left out.
    pub(crate) fn choose(
        scene: &Scene,
        points: &Points,
        patch: usize,
        without: Option<usize>,
        work: &mut Work,
    ) -> Self {
        let (range, patch) = &points.patches[patch];
        let receivers = &points.receivers[range.clone()];
        let middle = middle(receivers);
        let reach_m = receivers.iter().map(|r| r.at.plan().distance(middle.at.plan())).fold(0.0, f64::max);
        let level = receivers.iter().all(|r| {
            (r.height_m - middle.height_m).abs() <= LEVEL_M && (r.at.z - middle.at.z).abs() <= LEVEL_M
        });
        let allowed = 10f64.powf(scene.settings.cut_off_db / 10.0) - 1.0;
        let far_m = scene.settings.in_step_m.max(reach_m * (3.0 / allowed.max(1e-12)).sqrt());
        let mut kept = Self {
            list: Vec::with_capacity(scene.placed.len()),
            ends: Vec::with_capacity(scene.programmes.len()),
            far: Vec::new(),
            middle,
        };
        for programme in 0..scene.programmes.len() {
            for (i, source) in scene.placed.iter().enumerate() {
                if source.source.programme != programme || Some(i) == without {
                    continue;
                }
                let slot = kept.list.len();
                if work.nearby.len() <= slot {
                    work.nearby.resize_with(slot + 1, Default::default);
                }
                let nearby = &mut work.nearby[slot];
                nearby.gather(&scene.world, source, patch);
                let distance_m = source.at.plan().distance(middle.at.plan());
                if level && distance_m > far_m && nearby.nothing_matters() {
                    kept.far.push(i as u32);
                } else {
                    kept.list.push((i as u32, slot as u32));
                }
            }
            kept.ends.push(kept.list.len());
        }
        kept
    }

    /// Loudspeakers of a programme that count one by one, each with the number of its gathered neighbours.
    pub(crate) fn of_programme(&self, programme: usize) -> &[(u32, u32)] {
        let start = if programme == 0 { 0 } else { self.ends[programme - 1] };
        &self.list[start..self.ends[programme]]
    }
}

fn middle(receivers: &[Receiver]) -> Receiver {
    let n = receivers.len().max(1) as f64;
    let sum = receivers.iter().fold(Point2::default(), |s, r| s + r.at.plan());
    let mean = |f: &dyn Fn(&Receiver) -> f64| receivers.iter().map(f).sum::<f64>() / n;
    Receiver {
        at: (sum * (1.0 / n)).at_height(mean(&|r| r.at.z)),
        height_m: mean(&|r| r.height_m),
        indoors: false,
    }
}

/// Relative change of a far loudspeaker's energy per metre towards it: 2/r, and twice the absorption on top.
pub(crate) fn slope(source: &Placed, middle: &Receiver) -> (Point2, f64) {
    let away = middle.at.plan() - source.at.plan();
    let r = away.norm().max(1e-3);
    (away * (1.0 / r), 2.0 / r)
}
