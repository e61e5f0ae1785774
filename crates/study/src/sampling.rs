//! How finely a listening area is looked at: as the levels want it, and more coarsely where that would take more memory
//! or time than there is.
//!
//! An estimate before anything starts: places times loudspeakers is what both grow with (every pair has all bands). The
//! coarser spacing stands beside the figures, with a note that says why; only what no spacing can mend is refused.

use crate::finding::{Finding, Severity, Subject};
use crate::names::area_words;
use loamline_limits::{
    AREA_CELL_CORNERS, AREA_CELLS, AREA_PAIRS, AREA_PLACES, BASS_PAIRS, Bound, JOB_PAIRS, TUNE_PAIRS, Unit,
};
use loamline_model::document::Area;
use loamline_terms::{Measure, Sentence, say};

/// Points to aim for in an area: enough that percentiles settle within a tenth of a decibel or so.
const POINTS_PER_AREA: f64 = 400.0;

/// Spacing of the points of an area, metres: about 400 of them, from 0.25 m to 2 m apart.
fn wanted_m(area: &Area) -> f64 {
    (area.outline.area() / POINTS_PER_AREA).sqrt().clamp(0.25, 2.0)
}

/// Who is to be heard in how many areas.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Crowd {
    /// Loudspeakers.
    pub loudspeakers: usize,
    /// Areas of the job.
    pub areas: usize,
}

/// How an area is looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sampling {
    /// Between neighbouring places, metres.
    pub spacing_m: f64,
    /// What it would be if nothing were too much, metres.
    pub wanted_m: f64,
    /// Places that are worked out at most.
    most: u64,
}

impl Sampling {
    /// For the levels of an area.
    pub fn of(area: &Area, crowd: Crowd) -> Self {
        let areas = u64::try_from(crowd.areas.max(1)).unwrap_or(u64::MAX);
        let pairs = AREA_PAIRS.number.min(JOB_PAIRS.number / areas);
        Self::within(area, wanted_m(area), (pairs, crowd.loudspeakers))
    }

    /// For working out settings: every area is kept at once. `coarser` is the spacing over that of the levels.
    pub fn for_settings(area: &Area, crowd: Crowd, coarser: f64) -> Self {
        let areas = u64::try_from(crowd.areas.max(1)).unwrap_or(u64::MAX);
        let levels = Self::of(area, crowd);
        let wanted = coarser * levels.spacing_m;
        Self::within(area, wanted, (TUNE_PAIRS.number / areas, crowd.loudspeakers))
    }

    /// For the bass of so many subwoofers, no finer than `finest_m`.
    pub fn for_bass(area: &Area, finest_m: f64, subwoofers: usize) -> Self {
        Self::within(area, wanted_m(area).max(finest_m), (BASS_PAIRS.number, subwoofers))
    }

    /// For the bass of so many subwoofers at a spacing of one's own.
    pub fn for_bass_at(area: &Area, spacing_m: f64, subwoofers: usize) -> Self {
        Self::within(area, spacing_m, (BASS_PAIRS.number, subwoofers))
    }

    fn within(area: &Area, wanted_m: f64, (pairs, each): (u64, usize)) -> Self {
        let each = u64::try_from(each.max(1)).unwrap_or(u64::MAX);
        let most = (pairs / each).clamp(1, AREA_PLACES.number);
        let outline = &area.outline;
        let mut spacing_m = wanted_m.max((outline.area() / most as f64).sqrt());
        let size = outline.own_axes().size;
        let corners = outline.corners().len() as f64;
        let cells = (AREA_CELLS.number as f64).min(AREA_CELL_CORNERS.number as f64 / corners);
        let count = |s: f64| (size.x / s + 1.0) * (size.y / s + 1.0);
        while count(spacing_m) > cells {
            spacing_m *= 1.05;
        }
        Self { spacing_m, wanted_m, most }
    }

    /// Whether it is coarser than wanted.
    pub fn is_coarser(&self) -> bool {
        self.spacing_m > self.wanted_m
    }

    /// What there is to say about it: the spacing used and why. None where nothing was too much.
    pub fn note(&self, id: &str, area: &Area, loudspeakers: usize) -> Option<Sentence> {
        if !self.is_coarser() {
            return None;
        }
        let m2 = area.outline.area();
        let places = Unit::Count.show((m2 / (self.wanted_m * self.wanted_m)).round().max(0.0) as u64);
        let most = Unit::Count.show(self.most);
        let loudspeakers = match loudspeakers {
            1 => say!("1 loudspeaker"),
            _ => say!("{count} loudspeakers", count = loudspeakers.to_string()),
        };
        Some(say!(
            "{area} is looked at every {spacing} instead of every {wanted}: its {size} would give {places} places for \
             {loudspeakers}, and at most {most} are worked out.",
            area = area_words(id, area),
            spacing = Measure::Length(self.spacing_m),
            wanted = Measure::Length(self.wanted_m),
            size = Measure::Area(m2),
            places = places,
            loudspeakers = loudspeakers,
            most = most
        ))
    }

    /// The same as a finding.
    pub fn finding(&self, id: &str, area: &Area, loudspeakers: usize) -> Option<Finding> {
        let note = self.note(id, area, loudspeakers)?;
        Some(Finding::new(Severity::Note, Subject::new("areas", id), note).mend(say!(
            "Draw the part where people listen; a larger area needs no finer look for its average."
        )))
    }
}

/// How many trials of settings are worth their time at so many places.
pub(crate) fn trials(bound: &'static Bound, places: usize, wanted: usize) -> usize {
    wanted.min((bound.most() / places.max(1)).max(1000))
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_acoustics::grid_steps;
    use loamline_geometry::{Point2, Polygon};
    use loamline_model::document::Listeners;
    use proptest::prelude::*;

    fn area(width_m: f64, depth_m: f64) -> Area {
        Area {
            phase: None,
            zone: None,
            name: String::new(),
            outline: Polygon::rectangle(Point2::default(), Point2::new(width_m, depth_m)).unwrap(),
            listeners: Listeners::Standing,
            ear_height_m: None,
            target_dba: 70.0,
            within_db: 3.0,
            bass_db: None,
            bass_at_most_db: None,
            programme: None,
        }
    }

    #[test]
    fn a_garden_is_looked_at_as_it_always_was() {
        // About 400 places, 0.25 m to 2 m apart: a terrace of 10 x 6 m every 0.39 m, a lawn of 60 x 40 m every 2 m.
        for (a, spacing_m) in [(area(10.0, 6.0), 60.0f64.sqrt() / 20.0), (area(60.0, 40.0), 2.0)] {
            let s = Sampling::of(&a, Crowd { loudspeakers: 330, areas: 30 });
            assert_eq!((s.spacing_m, s.note("lawn", &a, 330)), (spacing_m, None));
        }
    }

    #[test]
    fn kilometres_are_looked_at_more_coarsely_and_the_note_says_so() {
        let field = area(3000.0, 3000.0);
        let s = Sampling::of(&field, Crowd { loudspeakers: 21, areas: 1 });
        // 1 500 000 pairs are 71 428 places, of which 50 000 are taken at most: 9e6 m2 / 50 000 = 180 m2 each.
        assert!((s.spacing_m - 180.0f64.sqrt()).abs() < 1e-9);
        let note = s.note("field", &field, 21).unwrap();
        for words in ["every 13.4 m instead of every 2.0 m", "9 000 000 m2", "2 250 000 places", "50 000"] {
            assert!(note.contains(words), "{note}");
        }
    }

    proptest! {
        /// Whatever the area and the crowd, the pairs stay within what is worked out, but for the rim of the outline.
        #[test]
        fn pairs_stay_within_the_bound(
            w in 0.1f64..90_000.0, d in 0.1f64..90_000.0, loudspeakers in 0usize..2001, areas in 1usize..201,
        ) {
            let a = area(w, d);
            let s = Sampling::of(&a, Crowd { loudspeakers, areas });
            let (columns, rows) = (grid_steps(w, s.spacing_m), grid_steps(d, s.spacing_m));
            // What is left over of a row or column may add one.
            let places = columns * rows - columns - rows;
            prop_assert!(places <= AREA_PLACES.number as f64 * 1.01);
            prop_assert!(places * loudspeakers as f64 <= AREA_PAIRS.number as f64 * 1.01);
            prop_assert!(s.spacing_m >= s.wanted_m);
            prop_assert_eq!(s.note("a", &a, loudspeakers).is_some(), s.spacing_m > s.wanted_m);
        }
    }
}
