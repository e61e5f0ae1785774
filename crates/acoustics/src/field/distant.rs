//! Loudspeakers so far away that they are lumped for many patches at once.
//!
//! Patches are grouped by four, the groups by four again, up to one group of all points. From the largest group down,
//! whatever the rule of [`LocalExpansion`](super::local_expansion::LocalExpansion) lets a group lump is computed once at its middle, and nothing
//! below computes it again. At constant density of loudspeakers and points, a loudspeaker then costs the points within
//! the distance over which waves keep in step, and a bounded number of groups each time distance and groups double.

use super::bundle::Tables;
use super::local_expansion::LocalExpansion;
use super::over_patch::{Work, alone_at};
use super::paths::Patch;
use super::points::Points;
use crate::scene::Scene;
use loamline_limits::{go_on, lent};
use rayon::prelude::*;

/// What the groups of patches lump.
#[derive(Default)]
pub(crate) struct DistantSources {
    /// Level by level as [`Points::groups`]; none where nothing is far away.
    levels: Vec<Vec<GroupExpansion>>,
}

struct GroupExpansion {
    expansion: LocalExpansion,
    /// Of each loudspeaker in the list, whether this group or one above it has lumped it.
    taken: Vec<bool>,
}

impl DistantSources {
    /// Lumps what may be lumped of loudspeakers with +1 or -1.
    pub(crate) fn new(scene: &Scene, tables: &Tables, points: &Points, which: &[(usize, f32)]) -> Self {
        let (Some(all), Some(top)) = (Patch::around_all(&points.receivers), points.groups.last()) else {
            return Self::default();
        };
        let reach_m = 0.5 * all.low.distance(all.high);
        let middle = all.low.lerp(all.high, 0.5);
        let farthest_m = |i: usize| scene.placed[i].at.plan().distance(middle) + reach_m;
        if scene.settings.cut_off_db <= 0.0
            || top.is_empty()
            || which.iter().all(|w| farthest_m(w.0) <= scene.settings.in_step_m)
        {
            return Self::default();
        }
        let leave = lent();
        let mut levels: Vec<Vec<GroupExpansion>> = Vec::new();
        for level in (0..points.groups.len()).rev() {
            let above = levels.last();
            let groups = points.groups[level]
                .par_iter()
                .map_init(
                    || Work::new(scene.settings.lines_per_band),
                    |work, group| {
                        leave.lend(|| {
                            let mut expansion = LocalExpansion::new(scene, &group.middle);
                            let mut taken = match above {
                                Some(above) => above[group.above].taken.clone(),
                                None => vec![false; which.len()],
                            };
                            for (taken, &(index, sign)) in taken.iter_mut().zip(which) {
                                let source = &scene.placed[index];
                                if *taken || !expansion.is_far(source) {
                                    continue;
                                }
                                go_on();
                                work.nearby.gather(&scene.world, source, &group.patch);
                                if expansion.takes(source, &work.nearby) {
                                    let energy = alone_at(scene, tables, source, &expansion.middle, work);
                                    expansion.add(scene, source, &energy, sign);
                                    *taken = true;
                                }
                            }
                            GroupExpansion { expansion, taken }
                        })
                    },
                )
                .collect();
            levels.push(groups);
        }
        levels.reverse();
        Self { levels }
    }

    /// Whether a loudspeaker, by its place in the list, is lumped over a patch.
    #[inline]
    pub(crate) fn takes(&self, points: &Points, patch: usize, place: usize) -> bool {
        self.levels.first().is_some_and(|groups| groups[points.group_of[patch]].taken[place])
    }

    /// The lumps a patch lies under.
    pub(crate) fn over<'a>(
        &'a self,
        points: &'a Points,
        patch: usize,
    ) -> impl Iterator<Item = &'a LocalExpansion> {
        let mut group = points.group_of.get(patch).copied().unwrap_or(0);
        self.levels.iter().zip(&points.groups).map(move |(expansions, groups)| {
            let expansion = &expansions[group].expansion;
            group = groups[group].above;
            expansion
        })
    }
}
