//! Where a neighbour's levels are worked out: everywhere on small sites; along the boundary lines of large ones coarsely first, and
//! then finely where the level is near its highest.
//!
//! What is asked of a boundary is its highest level. Of two places next to each other that were worked out, the stretch between is
//! halved as long as one of them is within [`margin_db`] of the highest so far, until places are as near together as on a small
//! site. The margin is no bound: a gap between houses may let a narrow beam through anywhere. Held against every place of estates
//! (`bench/tests`), the highest level is within 0.05 dB of that of all.

use loamline_acoustics::{
    BoundaryReceiver, BoundaryScene, BoundarySceneError, ReceiverLevel, SILENCE_DB, boundary_levels,
    boundary_levels_after,
};
use loamline_adapt::NEIGHBOUR_SPACING_M;
use loamline_geometry::polyline_length;
use loamline_limits::NEIGHBOUR_PAIRS;
use loamline_model::document::Neighbour;
use std::collections::{BTreeMap, BTreeSet};

/// Up to so many loudspeakers every place is worked out.
const EVERYWHERE: usize = 128;

/// Between places of large sites that are worked out first, metres. Wider, a house hides between two; narrower, most of the work is
/// done before it is known where to look.
pub(crate) const COARSE_M: f64 = 16.0;

/// Finest spacing is given up for lines with more places than this.
const PLACES_OF_A_LINE: f64 = 10_000.0;

/// Whether a site is looked at coarsely first.
pub(crate) fn is_large(loudspeakers: usize) -> bool {
    loudspeakers > EVERYWHERE
}

/// Spacing of all places along a line that may be worked out, metres, where `usual_m` would be that of a small site.
pub(crate) fn finest_m(n: &Neighbour, loudspeakers: usize, usual_m: f64) -> f64 {
    if is_large(loudspeakers) {
        NEIGHBOUR_SPACING_M.max(polyline_length(&n.line) / PLACES_OF_A_LINE)
    } else {
        usual_m
    }
}

/// How much higher than at both of its ends it is looked for within a stretch, dB.
fn margin_db(stretch_m: f64) -> f64 {
    (0.25 * stretch_m).clamp(0.5, 3.0)
}

/// The places of a neighbour, and in which order they are looked at.
#[derive(Debug, PartialEq)]
pub(crate) struct Along {
    /// Place by place, at each its floors.
    all: Vec<BoundaryReceiver>,
    floors: usize,
    /// Single places, which come before those of the line.
    points: usize,
    /// Places that are worked out in any case, ascending.
    first: Vec<usize>,
    /// Between places of the line, metres.
    step_m: f64,
    /// Whether loudspeakers count as in step.
    worst: bool,
    /// Whether the 63 Hz octave is limited as well.
    octave_63_hz: bool,
}

impl Along {
    /// The places of a neighbour; with `coarse_m`, along its line only those that far apart are worked out in any case.
    pub(crate) fn of(n: &Neighbour, all: Vec<BoundaryReceiver>, coarse_m: Option<f64>, worst: bool) -> Self {
        let floors = n.levels_m().len().max(1);
        let (places, points) = (all.len() / floors, n.points.len());
        let steps = places.saturating_sub(points + 1);
        let step_m = polyline_length(&n.line) / steps.max(1) as f64;
        let every = coarse_m.map_or(1, |coarse_m| ((coarse_m / step_m.max(1e-9)) as usize).max(1));
        let first = (0..places)
            .filter(|p| *p < points || (*p - points).is_multiple_of(every) || *p + 1 == places)
            .collect();
        let octave_63_hz = n.day_63hz_db.is_some() || n.night_63hz_db.is_some();
        Self { all, floors, points, first, step_m, worst, octave_63_hz }
    }

    /// Receivers of the places that are worked out in any case.
    pub(crate) fn first_receivers(&self) -> Vec<BoundaryReceiver> {
        self.receivers(&self.first)
    }

    fn receivers(&self, places: &[usize]) -> Vec<BoundaryReceiver> {
        let of = |p: &usize| self.all[p * self.floors..(p + 1) * self.floors].iter().cloned();
        places.iter().flat_map(of).collect()
    }

    /// Levels that are limited.
    fn limited(&self) -> Vec<fn(&ReceiverLevel) -> f64> {
        let mut all: Vec<fn(&ReceiverLevel) -> f64> = vec![if self.worst { in_step_dba } else { total_dba }];
        if self.octave_63_hz {
            all.push(if self.worst { in_step_63_hz } else { total_63_hz });
        }
        all
    }

    /// Middles of the stretches that are to be halved.
    fn wanted(&self, done: &BTreeMap<usize, Vec<ReceiverLevel>>) -> Vec<usize> {
        let on_line: Vec<usize> = done.keys().copied().filter(|p| *p >= self.points).collect();
        let mut wanted = BTreeSet::new();
        for floor in 0..self.floors {
            for value in self.limited() {
                let level = |place: usize| {
                    done.get(&place).and_then(|floors| floors.get(floor)).map_or(SILENCE_DB, value)
                };
                let highest = done.keys().map(|p| level(*p)).fold(SILENCE_DB, f64::max);
                for w in on_line.windows(2).filter(|w| w[1] - w[0] > 1) {
                    let stretch_m = (w[1] - w[0]) as f64 * self.step_m;
                    if level(w[0]).max(level(w[1])) >= highest - margin_db(stretch_m) {
                        wanted.insert(usize::midpoint(w[0], w[1]));
                    }
                }
            }
        }
        wanted.into_iter().collect()
    }
}

fn total_dba(level: &ReceiverLevel) -> f64 {
    level.levels.total_dba
}

fn in_step_dba(level: &ReceiverLevel) -> f64 {
    level.in_step_dba
}

fn total_63_hz(level: &ReceiverLevel) -> f64 {
    level.levels.bands_db[0]
}

fn in_step_63_hz(level: &ReceiverLevel) -> f64 {
    level.in_step_bands_db[0]
}

/// Levels at the places of a neighbour that were worked out, in their order. `scene` has the receivers of those worked out in any
/// case; `earlier` is such a scene from before with what came of it.
///
/// # Errors
/// What is wrong with the scene.
pub(crate) fn levels_along(
    scene: &BoundaryScene,
    along: &Along,
    earlier: Option<(&BoundaryScene, &[ReceiverLevel])>,
) -> Result<Vec<ReceiverLevel>, BoundarySceneError> {
    let aligned = earlier.and_then(|(before, levels)| Some((before, aligned(before, levels)?)));
    let earlier = aligned.as_ref().map(|(before, levels)| (*before, levels.as_slice()));
    let first = boundary_levels_after(scene, earlier)?;
    let mut done = BTreeMap::new();
    enter(&mut done, &along.first, first, along.floors);
    // As much again as half of what all neighbours may take.
    let mut left = NEIGHBOUR_PAIRS.most() / 2 / scene.sources.len().max(1) / along.floors;
    loop {
        let mut wanted = along.wanted(&done);
        wanted.truncate(left);
        if wanted.is_empty() {
            return Ok(done.into_values().flatten().collect());
        }
        left -= wanted.len();
        let more = BoundaryScene { receivers: along.receivers(&wanted), ..scene.clone() };
        enter(&mut done, &wanted, boundary_levels(&more)?, along.floors);
    }
}

/// Of the levels of an earlier scene those of its own receivers, in their order; none where one is missing.
fn aligned<'l>(before: &BoundaryScene, levels: &'l [ReceiverLevel]) -> Option<Vec<&'l ReceiverLevel>> {
    let mut rest = levels.iter();
    before.receivers.iter().map(|r| rest.find(|level| level.position == r.position)).collect()
}

fn enter(
    done: &mut BTreeMap<usize, Vec<ReceiverLevel>>,
    places: &[usize],
    levels: Vec<ReceiverLevel>,
    floors: usize,
) {
    let mut levels = levels.into_iter();
    for place in places {
        done.insert(*place, levels.by_ref().take(floors).collect());
    }
}
