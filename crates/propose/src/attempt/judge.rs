//! What follows for the next design from what one missed.

use crate::make::{KEPT_SHARE, Maker};
use crate::measure::Missed;
use crate::types::LevelBand;

/// How much narrower the band is made where a design missed, dB, and how narrow at most.
const NARROWER_DB: f64 = 0.25;
const NARROWEST_DB: f64 = 0.3;
/// Kept below a limit beyond what a design overran it, dB.
const BEYOND_DB: f64 = 0.2;

/// Narrows a band where a design missed.
pub(super) fn narrow(maker: &Maker<'_>, band: &mut LevelBand, missed: &Missed) {
    let ids: Vec<&str> = maker.site.zones.iter().map(|z| z.id).collect();
    narrow_by(&ids, band, missed);
}

fn narrow_by(areas: &[&str], band: &mut LevelBand, missed: &Missed) {
    for (id, half) in areas.iter().zip(&mut band.half_db) {
        if missed.areas.iter().any(|a| a == id) {
            *half = (*half - NARROWER_DB).max(NARROWEST_DB);
        }
    }
    if !missed.areas.is_empty() {
        band.outside = (band.outside - KEPT_SHARE).max(0.0);
    }
    if missed.neighbours_db > 0.0 {
        band.limits_db += missed.neighbours_db + BEYOND_DB;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn band() -> LevelBand {
        LevelBand {
            half_db: vec![2.7, 2.7],
            lower_db: vec![0.0; 2],
            finished_db: vec![0.0; 2],
            finished_at_db: Vec::new(),
            ignored: vec![false; 2],
            model: vec![None; 2],
            outside: 0.04,
            limits_db: 0.0,
            at_most: 9,
        }
    }

    #[test]
    fn only_what_was_missed_is_narrowed() {
        let mut b = band();
        narrow_by(&["lawn", "court"], &mut b, &Missed { areas: vec!["court".into()], ..Missed::default() });
        assert_eq!(b.half_db[0], 2.7);
        assert!(b.half_db[1] < 2.7 && b.outside < 0.04 && b.limits_db == 0.0);
        let mut b = band();
        narrow_by(&["lawn", "court"], &mut b, &Missed { neighbours_db: 1.0, ..Missed::default() });
        assert_eq!((b.half_db.clone(), b.outside), (band().half_db, band().outside));
        assert!(b.limits_db > 1.0, "a little more than was missed");
    }

    #[test]
    fn a_band_never_closes() {
        let mut b = band();
        for _ in 0..100 {
            narrow_by(
                &["lawn", "court"],
                &mut b,
                &Missed { areas: vec!["lawn".into()], ..Missed::default() },
            );
        }
        assert!(b.half_db[0] >= NARROWEST_DB && b.outside >= 0.0);
    }
}
