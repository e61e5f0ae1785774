//! Which loudspeakers count point by point over a patch of points, and which are lumped into
//! one expansion about its middle.
//!
//! A loudspeaker far from a patch is computed once, at the patch's middle, and carried to its points by the slope of
//! spherical spreading and air absorption. What that leaves out is second order: with the patch's points within p of
//! its middle and the loudspeaker r away, 1/r^2 is off by at most 3 (p/r)^2 of itself to that order, so r is held
//! above p sqrt(3 / (10^(x/10) - 1)) for an error of at most x dB even where all sound comes from far away. The bound
//! is that of spreading. Lobes and ground dips finer than a patch are not in it; at x = 0.1 dB tests on hundreds of
//! far loudspeakers hold LAeq and each band up to 6.3 kHz to 0.1 dB, and the bands above, which the air takes over such
//! distances, to 0.4 dB. Lumped loudspeakers add in energy in all bands, hence only those farther than waves are taken
//! to keep in step over moving air ([`Settings::in_step_m`](crate::Settings::in_step_m)). A loudspeaker with an obstacle
//! or a reflecting face that may matter at the patch, and a patch whose points differ in height, are never lumped:
//! nothing jumps within a lump. The rule holds for groups of patches as for patches (see `distant`).
//! Skipping instead of lumping would not do: on a plane, rings of equal loudspeakers at every distance bring the same
//! energy, less what the air takes.

use super::ops::Row;
use super::paths::{Nearby, Receiver};
use super::taut_string::apart;
use crate::directivity::TABLE_LANES;
use crate::scene::{Placed, Scene};
use loamline_geometry::Point2;

/// Heights within a patch that count as one, metres.
const LEVEL_M: f64 = 0.05;

/// What lumping needs to know of a patch or a group of patches.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Middle {
    /// Where lumped loudspeakers are computed.
    at: Receiver,
    /// Distance in plan of the farthest point.
    reach_m: f64,
    /// Whether the points lie at one height.
    level: bool,
}

impl Middle {
    pub(crate) fn of(receivers: &[Receiver]) -> Self {
        let n = receivers.len().max(1) as f64;
        let sum = receivers.iter().fold(Point2::default(), |s, r| s + r.at.plan());
        let mean = |f: &dyn Fn(&Receiver) -> f64| receivers.iter().map(f).sum::<f64>() / n;
        let at = Receiver {
            at: (sum * (1.0 / n)).at_height(mean(&|r| r.at.z)),
            height_m: mean(&|r| r.height_m),
            indoors: false,
        };
        let reach_m = receivers.iter().map(|r| apart(r.at.plan(), at.at.plan())).fold(0.0, f64::max);
        let level = receivers
            .iter()
            .all(|r| (r.height_m - at.height_m).abs() <= LEVEL_M && (r.at.z - at.at.z).abs() <= LEVEL_M);
        Self { at, reach_m, level }
    }
}

/// What is lumped over a patch or a group of patches: energy at its middle and how it falls from there, to first order.
pub(crate) struct LocalExpansion {
    /// Middle of the patch, where lumped loudspeakers are computed.
    pub(crate) middle: Receiver,
    far_m: f64,
    energy: Row,
    east: Row,
    north: Row,
    /// What was taken away.
    taken: Row,
    any: bool,
}

impl LocalExpansion {
    pub(crate) fn new(scene: &Scene, middle: &Middle) -> Self {
        let Middle { at: middle, reach_m, level } = *middle;
        let allowed = 10f64.powf(scene.settings.cut_off_db / 10.0) - 1.0;
        let far_m = if level && allowed > 0.0 {
            scene.settings.in_step_m.max(reach_m * (3.0 / allowed).sqrt())
        } else {
            f64::INFINITY
        };
        let zero = [0.0; TABLE_LANES];
        Self { middle, far_m, energy: zero, east: zero, north: zero, taken: zero, any: false }
    }

    /// Whether a loudspeaker is far enough away to be lumped.
    pub(crate) fn is_far(&self, source: &Placed) -> bool {
        apart(source.at.plan(), self.middle.at.plan()) > self.far_m
    }

    /// Whether a loudspeaker may be lumped; `nearby` is what was gathered for it and the patch.
    pub(crate) fn takes(&self, source: &Placed, nearby: &Nearby) -> bool {
        self.is_far(source) && nearby.nothing_matters()
    }

    /// Adds `sign` times a loudspeaker whose energy at the middle is given.
    pub(crate) fn add(&mut self, scene: &Scene, source: &Placed, energy: &Row, sign: f32) {
        self.any = true;
        let (away, spreading) = slope(source, &self.middle);
        let (x, y, spreading) = (away.x as f32, away.y as f32, spreading as f32);
        for (b, (energy, alpha)) in energy.iter().zip(&scene.lines.absorption_np_per_m).enumerate() {
            let energy = sign * energy;
            let falls = energy * (spreading + 2.0 * alpha);
            self.energy[b] += energy;
            self.taken[b] += (-energy).max(0.0);
            self.east[b] -= falls * x;
            self.north[b] -= falls * y;
        }
    }

    /// Whether some point is left with less than a share of what was taken away from it.
    pub(crate) fn leaves_rounding(&self, receivers: &[Receiver], rows: &[Row], least_share: f32) -> bool {
        self.any
            && receivers.iter().zip(rows).any(|(receiver, row)| {
                !receiver.indoors
                    && row.iter().zip(&self.taken).any(|(left, taken)| *left < least_share * taken)
            })
    }

    /// Adds the lump to the energy at every point.
    pub(crate) fn spread(&self, receivers: &[Receiver], rows: &mut [Row]) {
        if !self.any {
            return;
        }
        for (receiver, row) in receivers.iter().zip(rows).filter(|(r, _)| !r.indoors) {
            let offset = receiver.at.plan() - self.middle.at.plan();
            let (x, y) = (offset.x as f32, offset.y as f32);
            let slopes = self.east.iter().zip(&self.north);
            for ((row, energy), (east, north)) in row.iter_mut().zip(&self.energy).zip(slopes) {
                *row = (*row + energy + east * x + north * y).max(0.0);
            }
        }
    }
}

/// Relative change of a far loudspeaker's energy per metre towards it: 2/r, and twice the absorption on top.
fn slope(source: &Placed, middle: &Receiver) -> (Point2, f64) {
    let away = middle.at.plan() - source.at.plan();
    let r = apart(source.at.plan(), middle.at.plan()).max(1e-3);
    (away * (1.0 / r), 2.0 / r)
}
