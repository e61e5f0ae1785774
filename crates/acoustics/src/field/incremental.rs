//! A field that is brought up to date while loudspeakers change one after another, as in dragging one about.
//!
//! Kept per point: the sums of all loudspeakers but the one in hand, in full and as [`AllButOne`] to be read at every step.
//! A change of the loudspeaker in hand costs that one loudspeaker over all points. Taking another in hand costs two
//! more, once: what was in hand joins the sums, what is taken up leaves them. Leaving is a subtraction; where it leaves so little that rounding would show, the sums of
//! that patch are computed anew, so that however long the drags, the field is that of [`field`](crate::field) within
//! 0.01 dB.

use super::all_but_one::{AllButOne, AllButOneHere};
use super::bundle::Tables;
use super::compute::{add_waves, by_patch};
use super::distant::DistantSources;
use super::local_expansion::{LocalExpansion, Middle};
use super::ops::Row;
use super::over_patch::{Work, alone_at, over_patch};
use super::paths::{Patch, Receiver};
use super::points::Points;
use super::result::Field;
use super::superposition::{Superpose, Superposition};
use super::wave::{NO_WAVE, Wave};
use crate::bands::Band;
use crate::directivity::TABLE_LANES;
use crate::scene::{Placed, Scene, SceneErrors, Settings, Source};
use loamline_limits::lent;
use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;
use std::sync::Arc;

/// The field at a list of points, kept up to date while loudspeakers change.
///
/// Memory per point: 260 bytes and, for each programme, 8 bytes per line of each coherent band (1.5 kB as
/// [`Settings`](crate::Settings) come); and 0.9 kB while a loudspeaker is in hand. The result does not depend on the number of threads.
///
/// A change that was left off half way ([`loamline_limits::go_on`]) leaves sums of neither scene: such a field is dropped.
#[derive(Debug, Clone)]
pub struct IncrementalField {
    scene: Scene,
    points: Points,
    tables: Tables,
    energy: Vec<Row>,
    waves: Vec<Wave>,
    /// The loudspeaker the sums leave out.
    in_hand: Option<InHand>,
    field: Field,
}

#[derive(Debug, Clone)]
struct InHand {
    index: usize,
    others: AllButOne,
}

impl IncrementalField {
    /// Computes the field of a scene at points made for it; costs as much as [`field`](crate::field).
    pub fn new(scene: &Scene, points: Points) -> Self {
        let n = points.receivers.len();
        let each = scene.lines.waves_per_point() * scene.programmes.len();
        let field = Field::new(&points, vec![[0.0; TABLE_LANES]; n]);
        let mut kept = Self {
            scene: scene.clone(),
            points,
            tables: Tables::new(scene),
            energy: vec![[0.0; TABLE_LANES]; n],
            waves: vec![NO_WAVE; n * each],
            in_hand: None,
            field,
        };
        let all: Vec<(usize, f32)> = (0..scene.placed.len()).map(|i| (i, 1.0)).collect();
        kept.add(&all);
        kept.show();
        kept
    }

    /// About how many bytes a field of so many points takes, with a loudspeaker in hand, in a scene of so many programmes
    /// that add as waves up to a frequency (Hz) on [`Settings`](crate::Settings)' lines.
    pub fn bytes(points: f64, programmes: usize, coherent_to_hz: f64) -> f64 {
        let lines = Settings::default().lines_per_band;
        let coherent = Band::all().filter(|b| b.centre_hz() <= coherent_to_hz).count() + 1;
        // Kept in groups of eight bands.
        let waves = coherent.next_multiple_of(8) * lines * size_of::<Wave>() * programmes.max(1);
        points * (260.0 + 900.0 + waves as f64)
    }

    /// About how many bytes it takes, as [`IncrementalField::bytes`].
    pub fn own_bytes(&self) -> f64 {
        let scene = &self.scene;
        Self::bytes(self.points.len() as f64, scene.programmes.len(), scene.settings.coherent_to_hz)
    }

    /// The scene as it is now.
    pub fn scene(&self) -> &Scene {
        &self.scene
    }

    /// The points.
    pub fn points(&self) -> &Points {
        &self.points
    }

    /// The field as it is now.
    pub fn field(&self) -> &Field {
        &self.field
    }

    /// Moves, turns or re-drives one loudspeaker and brings the field up to date.
    ///
    /// # Errors
    /// [`SceneErrors`] as for a new scene; everything is left as it was.
    pub fn set_source(&mut self, index: usize, source: Source) -> Result<(), SceneErrors> {
        let mut scene = self.scene.clone();
        scene.set_source(index, source)?;
        self.take_in_hand(index);
        self.scene = scene;
        self.show();
        Ok(())
    }

    /// Brings the field up to date with a scene derived from this one ([`Scene::with_input`],
    /// [`Scene::set_source`]): at the cost of the loudspeakers that differ while those are few and nothing else
    /// does, else at that of a new field. Points keep their elevations.
    pub fn set_scene(&mut self, scene: &Scene) {
        let changed: Vec<usize> = (0..scene.placed.len())
            .filter(|&i| self.scene.placed.get(i).is_none_or(|p| !Arc::ptr_eq(p, &scene.placed[i])))
            .collect();
        let same = self.scene.shares_surroundings(scene) && self.scene.placed.len() == scene.placed.len();
        // Beyond a few, taking each away and adding it again costs as much as starting anew.
        if !same || 3 * changed.len() > scene.placed.len().max(3) {
            let points = self.points.on(scene);
            *self = Self::new(scene, points);
            return;
        }
        if let [one] = changed[..] {
            self.take_in_hand(one);
            self.scene = scene.clone();
        } else if !changed.is_empty() {
            self.put_down();
            for i in changed {
                self.take_away(i, &[(i, -1.0)]);
                self.scene.placed[i] = scene.placed[i].clone();
                self.add(&[(i, 1.0)]);
            }
            self.scene = scene.clone();
        } else {
            return;
        }
        self.show();
    }

    /// Takes a loudspeaker in hand: the sums are then those of all others.
    fn take_in_hand(&mut self, index: usize) {
        let before = self.in_hand.as_ref().map(|held| held.index);
        if before == Some(index) {
            return;
        }
        self.in_hand = None;
        let mut which = vec![(index, -1.0)];
        which.extend(before.map(|i| (i, 1.0)));
        self.take_away(index, &which);
        let programme = self.scene.placed[index].source.programme;
        let others = AllButOne::new(&self.scene, &self.points, &self.energy, &self.waves, programme);
        self.in_hand = Some(InHand { index, others });
    }

    fn put_down(&mut self) {
        if let Some(held) = self.in_hand.take() {
            self.add(&[(held.index, 1.0)]);
        }
    }

    fn add(&mut self, which: &[(usize, f32)]) {
        self.change(which, &[]);
    }

    /// Takes a loudspeaker out of the sums of all, by changing `which`.
    fn take_away(&mut self, index: usize, which: &[(usize, f32)]) {
        let others: Vec<(usize, f32)> =
            (0..self.scene.placed.len()).filter(|i| *i != index).map(|i| (i, 1.0)).collect();
        self.change(which, &others);
    }

    /// Adds loudspeakers to the sums or takes them away; patches where that leaves rounding are computed anew from
    /// `anew`.
    fn change(&mut self, which: &[(usize, f32)], anew: &[(usize, f32)]) {
        let Self { scene, points, tables, energy, waves, .. } = self;
        let (scene, points, tables) = (&*scene, &*points, &*tables);
        let run = |distant: &DistantSources,
                   which: &[(usize, f32)],
                   patch: usize,
                   sums: Superposition,
                   work: &mut Work| {
            Arch::new().dispatch(Superpose { scene, tables, points, patch, which, distant, sums, work })
        };
        let leave = lent();
        let space = || Work::new(scene.settings.lines_per_band);
        let distant = DistantSources::new(scene, tables, points, which);
        let parts = by_patch(points, energy).into_par_iter().zip(by_patch(points, waves)).enumerate();
        let rounding: Vec<bool> = parts
            .map_init(space, |work, (patch, (energy, waves))| {
                leave.lend(|| run(&distant, which, patch, Superposition { energy, waves }, work))
            })
            .collect();
        if !rounding.contains(&true) {
            return;
        }
        let distant = DistantSources::new(scene, tables, points, anew);
        let parts = by_patch(points, energy).into_par_iter().zip(by_patch(points, waves)).enumerate();
        parts.filter(|(patch, _)| rounding[*patch]).for_each_init(space, |work, (patch, (energy, waves))| {
            let mut sums = Superposition { energy, waves };
            sums.clear();
            leave.lend(|| run(&distant, anew, patch, sums, work));
        });
    }

    /// Brings the field up to date with the sums and the loudspeaker in hand.
    fn show(&mut self) {
        let Self { scene, points, tables, energy, waves, in_hand, field } = self;
        let (scene, points, tables) = (&*scene, &*points, &*tables);
        let leave = lent();
        let Some(InHand { index, others }) = in_hand else {
            let parts = by_patch(points, &mut field.energy).into_par_iter().zip(by_patch(points, waves));
            parts.zip(&points.patches).for_each(|((rows, waves), (range, _))| {
                rows.copy_from_slice(&energy[range.clone()]);
                leave.lend(|| add_waves(scene, waves, rows));
            });
            return;
        };
        let distant = DistantSources::new(scene, tables, points, &[(*index, 1.0)]);
        let parts = by_patch(points, &mut field.energy).into_par_iter().enumerate();
        parts.for_each_init(
            || Work::new(scene.settings.lines_per_band),
            |work, (number, rows)| {
                leave.lend(|| {
                    let (range, patch) = &points.patches[number];
                    let receivers = &points.receivers[range.clone()];
                    let others = others.at(&scene.lines, range.clone());
                    if distant.takes(points, number, 0) {
                        others.alone(&scene.lines, receivers, rows);
                        distant.over(points, number).for_each(|expansion| expansion.spread(receivers, rows));
                    } else {
                        let (middle, source) = (&points.middles[number], &*scene.placed[*index]);
                        Arch::new().dispatch(Show {
                            scene,
                            tables,
                            receivers,
                            patch,
                            middle,
                            source,
                            others,
                            rows,
                            work,
                        });
                    }
                })
            },
        );
    }
}

/// The others at a patch and the loudspeaker in hand.
struct Show<'a> {
    scene: &'a Scene,
    tables: &'a Tables,
    receivers: &'a [Receiver],
    patch: &'a Patch,
    middle: &'a Middle,
    source: &'a Placed,
    others: AllButOneHere<'a>,
    rows: &'a mut [Row],
    work: &'a mut Work,
}

impl WithSimd for Show<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { scene, tables, receivers, patch, middle, source, others, rows, work } = self;
        let mut expansion = LocalExpansion::new(scene, middle);
        work.nearby.gather(&scene.world, source, patch);
        if expansion.takes(source, &work.nearby) {
            others.alone(&scene.lines, receivers, rows);
            let energy = alone_at(scene, tables, source, &expansion.middle, work);
            expansion.add(scene, source, &energy, 1.0);
            expansion.spread(receivers, rows);
            return;
        }
        over_patch(simd, scene, tables, source, receivers, work, |i, heard| {
            others.with(&scene.lines, i, source, &heard, &mut rows[i]);
        });
    }
}
