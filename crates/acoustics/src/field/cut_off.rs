//! Which loudspeakers count at a patch of points.

use super::paths::Patch;
use super::tile::Work;
use crate::scene::Scene;

/// The loudspeakers that count at a patch, programme by programme, each with the number of its gathered neighbours.
pub(crate) struct Kept {
    list: Vec<(u32, u32)>,
    ends: Vec<usize>,
}

impl Kept {
    pub(crate) fn choose(scene: &Scene, patch: &Patch, without: Option<usize>, work: &mut Work) -> Self {
        let mut list = Vec::with_capacity(scene.placed.len());
        let mut ends = Vec::with_capacity(scene.programmes.len());
        for programme in 0..scene.programmes.len() {
            for (i, s) in scene.placed.iter().enumerate() {
                if s.source.programme == programme && Some(i) != without {
                    list.push((i as u32, list.len() as u32));
                }
            }
            ends.push(list.len());
        }
        if work.nearby.len() < list.len() {
            work.nearby.resize_with(list.len(), Default::default);
        }
        for &(index, slot) in &list {
            work.nearby[slot as usize].gather(&scene.world, &scene.placed[index as usize], patch);
        }
        Self { list, ends }
    }

    pub(crate) fn of_programme(&self, programme: usize) -> &[(u32, u32)] {
        let start = if programme == 0 { 0 } else { self.ends[programme - 1] };
        &self.list[start..self.ends[programme]]
    }
}
