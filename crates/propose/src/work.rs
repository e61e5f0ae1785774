//! Work reckoned in seconds of a usual core: what a search may take, and what has been done. Reckoned from sizes and never
//! measured, so that the answer is the same on any machine.

use crate::api::ProposeOptions;
use crate::build::Done;
use crate::make::Maker;
use crate::types::{Choice, TRY_S};
use loamline_design::Effort;

/// Seconds one drawn change takes on a usual core, about: so much, and so much for each point of an area it is felt in
/// (measured; it only scales the effort).
const DRAW_S: (f64, f64) = (5.0e-7, 2.5e-9);
/// Part of the work that goes into choosing; the rest goes into settling and building.
const CHOOSING: f64 = 0.2;
/// Points of the coarse grid of a usual garden. A try takes less work on sites with fewer and more on those with more,
/// within these factors.
const USUAL_POINTS: f64 = 240.0;
const SIZES: (f64, f64) = (0.2, 2.0);
/// Seconds that all offers take for a usual garden on two cores (measured).
const USUAL_S: f64 = 20.0;
/// Most times longer than for a usual garden that is usually taken.
const MOST_TIMES: f64 = 6.0;
/// Work that goes into settling and building other choices than the best, as a part of that of a try, and what one takes,
/// seconds: so much, and so much for each loudspeaker and point (measured; it only scales their number).
const FINALS: f64 = 0.3;
const FINAL_S: (f64, f64) = (0.1, 3e-5);
/// Choices that are settled and built, at most, and how much dearer than the best one of them may be.
const MOST_FINALS: usize = 3;
const DEARER: f64 = 1.1;
/// Walks of the search: enough for two cores and for luck.
const WALKS: usize = 8;
/// Work of settling and of building a design, seconds on a usual core, about: so much, so much for each loudspeaker, and so
/// much for each loudspeaker and thousand points (measured; it only counts what is done against the time asked).
const SETTLE_S: (f64, f64, f64) = (0.2, 0.004, 0.007);
const BUILD_S: (f64, f64, f64) = (0.3, 0.02, 0.006);
/// Work of routing the lines from other starts than the first way of a build, seconds for each: so much, and so much for each
/// loudspeaker (measured: seven ways of ten loudspeakers in five lines took 1.1 s).
const WAY_S: (f64, f64, f64) = (0.03, 0.012, 0.0);
/// The same of choosing rows for a usual garden; it grows with the square of the points, since areas do too.
const CHOOSE_S: f64 = 0.5;

impl Maker<'_> {
    /// About the seconds of one core that settling and building so many loudspeakers takes.
    pub fn settle_s(&self, loudspeakers: usize) -> f64 {
        self.seconds(SETTLE_S, loudspeakers)
    }

    /// The same for building.
    pub fn build_s(&self, loudspeakers: usize) -> f64 {
        self.seconds(BUILD_S, loudspeakers + self.subs.poses.len() + self.pinned.len())
    }

    /// The same for what building turned out to take beyond one layout with its lines routed once: lines were routed from
    /// several starts, or the layout was built in several ways.
    pub fn beyond_s(&self, loudspeakers: usize, done: Done) -> f64 {
        let all = loudspeakers + self.subs.poses.len() + self.pinned.len();
        let way_s = self.seconds(WAY_S, all);
        let builds_s = done.builds.saturating_sub(1) as f64 * self.build_s(loudspeakers);
        builds_s + done.ways.saturating_sub(done.builds) as f64 * way_s
    }

    /// The same for choosing rows.
    pub fn choose_rows_s(&self) -> f64 {
        CHOOSE_S * (self.site.coarse.len() as f64 / USUAL_POINTS).powi(2)
    }

    fn seconds(&self, (once, each, each_point): (f64, f64, f64), loudspeakers: usize) -> f64 {
        let n = loudspeakers as f64;
        once + each * n + each_point * n * self.site.fine.len() as f64 / 1000.0
    }

    /// Seconds that all offers usually take on a site of this size: a garden's, and up to six times as long.
    pub fn usual_s(&self) -> f64 {
        USUAL_S * (self.site.coarse.len() as f64 / USUAL_POINTS).clamp(0.5, MOST_TIMES)
    }

    /// Whether the site is larger than a garden.
    pub fn is_large(&self) -> bool {
        self.usual_s() > 2.0 * USUAL_S
    }

    /// Seconds' work of one try: more on sites that are larger than a usual garden, less on smaller ones.
    fn try_s(&self, options: &ProposeOptions) -> f64 {
        self.size() * options.work_s.unwrap_or(TRY_S).min(TRY_S)
    }

    fn size(&self) -> f64 {
        (self.site.coarse.len() as f64 / USUAL_POINTS).clamp(SIZES.0, SIZES.1)
    }

    /// How many tries the work allowed is enough for.
    pub fn tries(&self, options: &ProposeOptions) -> u64 {
        let each_s = 4.0 * TRY_S * self.size().min(1.0);
        (options.work_s.unwrap_or(TRY_S) / each_s).floor().clamp(1.0, 120.0) as u64
    }

    /// Effort of one search.
    pub fn effort(&self, options: &ProposeOptions) -> Effort {
        let points = 2.0 * self.site.coarse.len() as f64 / self.site.zones.len().max(1) as f64;
        let core_s = 2.0 * CHOOSING * self.try_s(options);
        let draws = core_s / WALKS as f64 / (DRAW_S.0 + DRAW_S.1 * points);
        Effort { walks: WALKS, draws: (draws as usize).clamp(20_000, 4_000_000), seed: options.seed }
    }

    /// Which of some choices, the best first, to settle and build: what the ways of the cable cost shows only then. Where
    /// few differ, some come again, to be settled in another way; rows are settled one way only.
    pub fn finals(&self, mut choices: Vec<Choice>, options: &ProposeOptions) -> Vec<Choice> {
        let Some(best) = choices.first() else { return choices };
        let each_s = FINAL_S.0 + FINAL_S.1 * (best.poses.len() * self.site.fine.len()) as f64;
        let more = FINALS * self.try_s(options) / each_s;
        let dearest = DEARER * best.cost;
        choices.retain(|c| c.cost <= dearest);
        let count = (1 + more as usize).min(MOST_FINALS);
        choices.truncate(count);
        let differ = choices.len();
        if choices.iter().any(|c| !c.rows.is_empty()) {
            return choices;
        }
        choices.extend((differ..count).map(|k| choices[k % differ].clone()).collect::<Vec<_>>());
        choices
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::build::without_unpinned;
    use crate::types::Pose;
    use loamline_model::{JobFile, SourceFile, shipped_catalogue};
    use loamline_quotation::PriceBook;

    /// A seat beside a bed; an old cable leads from the rack to the seat.
    const SEAT: &str = r#"format = 1
[job]
name = "Seat"
currency = "EUR"
[brief]
supply = "70.7 V"
[programmes.one]
[areas.seat]
outline = [[0, 0], [5, 0], [5, 4], [0, 4]]
target = "64 dBA"
[site]
outline = [[-4, -4], [12, -4], [12, 9], [-4, 9]]
ground = "paving"
[surfaces.bed]
outline = [[0, -1.8], [5, -1.8], [5, -0.3], [0, -0.3]]
kind = "bed"
[racks.R1]
position = [-2, 5]
[stubs.T1]
position = [5.5, 0]
cable = "burial-4x14awg"
rack = "R1"
length = "9 m"
free_pairs = [1, 2]
"#;

    /// One line: from the rack, from the cable's end, and from the rack once more with cable as thick as it gets.
    #[test]
    fn lines_routed_from_several_starts_count_as_so_many() {
        let source = SourceFile::new("job.toml", SEAT);
        let file = JobFile::from_text(&source, shipped_catalogue().unwrap()).unwrap();
        let (pinned_only, clear) = without_unpinned(&file).unwrap();
        let book = PriceBook::default();
        let maker = Maker::new(&pinned_only, clear, &book).unwrap();
        let first = maker.pool().unwrap().poses[0];
        let pose = Pose { tap_w: maker.site.models[first.model].taps_w[0], ..first };
        let (built, _) = maker.finish(&[pose], false).unwrap();
        assert_eq!(built.done, Done { builds: 1, ways: 3 });
        let each_s = maker.seconds(WAY_S, 1);
        assert!((maker.beyond_s(1, built.done) - 2.0 * each_s).abs() < 1e-12);
        assert_eq!(maker.beyond_s(1, Done { builds: 1, ways: 1 }), 0.0);
        let twice = built.done.and(built.done);
        assert!((maker.beyond_s(1, twice) - maker.build_s(1) - 4.0 * each_s).abs() < 1e-12);
    }
}
