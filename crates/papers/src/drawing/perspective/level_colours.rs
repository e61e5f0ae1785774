//! The colours of levels as the app's map has them on pale ground: bands of 3 dB from pale sand to dusk, at equal distances in
//! OKLab, twelve from the loudest down. What is quieter is left clear. `checks/test_perspective.py` works them out anew.

use crate::drawing::field::{Band, LevelField};

/// Width of a band, dB.
pub const STEP_DB: f64 = 3.0;
/// From quiet to loud.
pub const COLOURS: [&str; 12] = [
    "#faf7e7", "#f3e5ba", "#efce93", "#ebb673", "#e79b5e", "#dc8355", "#cd6c52", "#b95a5a", "#a24b60",
    "#883f64", "#6c3766", "#4e3063",
];

/// The top of the scale that suits a field: on a whole band at or above its loudest place; none where nothing is heard.
pub fn top_db(field: &LevelField) -> Option<f64> {
    let loudest = field.levels_db.iter().copied().filter(|l| l.is_finite()).fold(f64::NEG_INFINITY, f64::max);
    (loudest > 0.0).then(|| (loudest / STEP_DB).ceil() * STEP_DB)
}

/// The bands of a scale, the quietest first.
pub fn bands(top_db: f64) -> Vec<Band> {
    let from = |k: usize| top_db - STEP_DB * (COLOURS.len() - k) as f64;
    COLOURS.into_iter().enumerate().map(|(k, colour)| Band { from_db: from(k), colour }).collect()
}

/// A field in which places where nothing is heard, inside houses, have the mean level of those beside them, three places deep:
/// between a place in a house and one before it the level falls without end, and the ground along walls would be left clear.
pub fn spread(field: &LevelField) -> LevelField {
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
pub fn quietest_db(field: &LevelField) -> f64 {
    field.levels_db.iter().copied().filter(|l| is_heard(*l)).fold(f64::INFINITY, f64::min)
}

fn is_heard(level_db: f64) -> bool {
    level_db.is_finite() && level_db > 0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_geometry::Point2;

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
}
