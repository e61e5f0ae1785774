//! The colours of levels, on plans and in perspective as on the app's map on pale ground: bands of 3 dB from pale sand to dusk, at
//! equal distances in OKLab, twelve from the loudest down. What is quieter is left clear. `checks/test_perspective.py` works
//! them out anew. Each band is painted as the whole region above its lower limit, one over the other from quiet to loud, which
//! leaves no seams between bands.

use super::field::LevelField;
use super::spot::{Spot, View};
use super::svg::{Paint, Svg};
use loamline_geometry::Point2;
use loamline_limits::go_on;

/// Width of a band, dB.
pub const STEP_DB: f64 = 3.0;
/// From quiet to loud.
pub const COLOURS: [&str; 12] = [
    "#faf7e7", "#f3e5ba", "#efce93", "#ebb673", "#e79b5e", "#dc8355", "#cd6c52", "#b95a5a", "#a24b60",
    "#883f64", "#6c3766", "#4e3063",
];

/// The top of the scale that suits a field: on a whole band at or above its loudest place; none where nothing is heard.
pub fn top_db(field: &LevelField) -> Option<f64> {
    let loudest_db = loudest_db(field);
    (loudest_db > 0.0).then(|| (loudest_db / STEP_DB).ceil() * STEP_DB)
}

fn loudest_db(field: &LevelField) -> f64 {
    field.levels_db.iter().copied().filter(|l| l.is_finite()).fold(f64::NEG_INFINITY, f64::max)
}

/// One filled band, [`STEP_DB`] wide.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Lower limit, dB.
    pub from_db: f64,
    /// Fill.
    pub colour: &'static str,
}

/// A band with the rings that enclose where it is so loud or louder.
#[derive(Debug, Clone, PartialEq)]
pub struct Painted {
    /// The band.
    pub band: Band,
    /// Closed outlines, site coordinates.
    pub rings: Vec<Vec<Point2>>,
}

/// The bands of a scale, the quietest first.
pub fn bands(top_db: f64) -> Vec<Band> {
    let from = |k: usize| top_db - STEP_DB * (COLOURS.len() - k) as f64;
    COLOURS.into_iter().enumerate().map(|(k, colour)| Band { from_db: from(k), colour }).collect()
}

/// The bands of a field as it is when everything is turned down: those that some place lies in, the quietest first.
pub fn bands_of(field: &LevelField, top_db: f64, turned_down_db: f64) -> Vec<Band> {
    let quietest_db = quietest_db(field) - turned_down_db;
    let loudest_db = loudest_db(field) - turned_down_db;
    // All of a quieter one would lie under the bands above.
    let is_seen = |b: &Band| b.from_db + STEP_DB > quietest_db && b.from_db <= loudest_db;
    bands(top_db).into_iter().filter(is_seen).collect()
}

/// The same with what they enclose, to be painted one over the other.
pub fn painted(field: &LevelField, top_db: f64, turned_down_db: f64) -> Vec<Painted> {
    let spread_out = spread(field);
    let paint = |band: Band| {
        go_on();
        let rings = spread_out.outlines(band.from_db + turned_down_db);
        (!rings.is_empty()).then_some(Painted { band, rings })
    };
    bands_of(field, top_db, turned_down_db).into_iter().filter_map(paint).collect()
}

/// Draws a field on a plan, on the scale that suits it, inside the clip group that is open.
pub fn draw(svg: &mut Svg, view: &View, field: &LevelField) {
    svg.open("levels");
    let all = top_db(field).map(|top_db| painted(field, top_db, 0.0));
    for Painted { band, rings } in all.unwrap_or_default() {
        let rings: Vec<Vec<Spot>> = rings.iter().map(|r| view.spots(r)).collect();
        svg.rings(&rings, &Paint::fill(band.colour));
    }
    svg.close();
}

/// A field in which places where nothing is heard, inside houses, have the mean level of those beside them, three places deep:
/// between a place in a house and one before it the level falls without end, and the ground along walls would be left clear.
fn spread(field: &LevelField) -> LevelField {
    let (columns, rows) = (field.columns, field.rows());
    let mut levels_db = field.levels_db.clone();
    for _ in 0..3 {
        let before = levels_db.clone();
        for (i, level_db) in levels_db.iter_mut().enumerate().filter(|(i, _)| !is_heard(before[*i])) {
            let (c, r) = (i % columns.max(1), i / columns.max(1));
            let (west, east) = (c.saturating_sub(1), (c + 2).min(columns));
            let beside = (r.saturating_sub(1)..(r + 2).min(rows)).flat_map(|r| {
                let row = &before[r * columns..(r + 1) * columns];
                row[west..east].iter().copied().filter(|l| is_heard(*l))
            });
            let (count, sum) = beside.fold((0.0, 0.0), |(n, sum), l| (n + 1.0, sum + l));
            if count > 0.0 {
                *level_db = sum / count;
            }
        }
    }
    LevelField { levels_db, ..field.clone() }
}

/// The quietest place where anything is heard, dB.
fn quietest_db(field: &LevelField) -> f64 {
    field.levels_db.iter().copied().filter(|l| is_heard(*l)).fold(f64::INFINITY, f64::min)
}

fn is_heard(level_db: f64) -> bool {
    level_db.is_finite() && level_db > 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scale_ends_at_or_above_the_loudest_place() {
        let field = |levels_db: Vec<f64>| LevelField {
            origin: Point2::default(),
            step_m: 1.0,
            columns: 2,
            levels_db,
        };
        assert_eq!(top_db(&field(vec![61.0, 70.2, -200.0, f64::NEG_INFINITY])), Some(72.0));
        assert_eq!(top_db(&field(vec![69.0; 4])), Some(69.0));
        assert_eq!(top_db(&field(vec![-200.0; 4])), None);
        let spread_out = spread(&field(vec![60.0, -200.0, 66.0, 66.0]));
        assert_eq!(spread_out.levels_db, [60.0, 64.0, 66.0, 66.0]);
        assert_eq!(quietest_db(&field(vec![-200.0, 61.0, 64.0, 58.5])), 58.5);
        let bands = bands(72.0);
        assert_eq!((bands[0].from_db, bands[11].from_db), (36.0, 69.0));
    }

    #[test]
    fn bands_that_no_place_lies_in_are_neither_painted_nor_told() {
        // From 61 dB in the west to 70 dB in the east, and silence in a house.
        let mut levels_db: Vec<f64> = (0..40).map(|k| 61.0 + f64::from(k % 10)).collect();
        levels_db[15] = -200.0;
        let field = LevelField { origin: Point2::default(), step_m: 1.0, columns: 10, levels_db };
        let from = |down_db: f64| -> Vec<f64> {
            painted(&field, 72.0, down_db).iter().map(|p| p.band.from_db).collect()
        };
        assert_eq!(from(0.0), [60.0, 63.0, 66.0, 69.0]);
        // Six decibels lower are two bands lower; far lower, what is left of the scale.
        assert_eq!(from(6.0), [54.0, 57.0, 60.0, 63.0]);
        assert_eq!(from(30.0), [36.0, 39.0]);
        assert_eq!(from(40.0), [0.0; 0]);
        let told: Vec<f64> = bands_of(&field, 72.0, 6.0).iter().map(|b| b.from_db).collect();
        assert_eq!(told, from(6.0));
        // The quietest of them covers all there is, the house too.
        let whole = &painted(&field, 72.0, 0.0)[0].rings;
        assert_eq!(whole.len(), 1);
    }
}
