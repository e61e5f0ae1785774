//! When the sound of several loudspeakers arrives.
//!
//! The precedence effect (Haas 1951): a repeat of the same sound is heard as one with the first up to about 30 ms
//! later, as an echo beyond that unless it is much weaker; 10 dB below the loudest counts as much weaker here.
//! Only loudspeakers that play the same programme belong in one list.

use crate::areas::statistics::percentile_sorted;
use serde::Serialize;

/// Arrivals later than this after the first may be heard as an echo, s.
pub const ECHO_TIME_S: f64 = 0.030;
/// Arrivals weaker than the loudest by more than this do not count, dB.
pub const ECHO_LEVEL_DB: f64 = 10.0;

/// One loudspeaker's direct sound at a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arrival {
    /// When, s: travel time plus any delay set.
    pub time_s: f64,
    /// How loud, dB (dBA by preference).
    pub level_db: f64,
}

/// Spread of the arrivals that count at a point.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ArrivalSpread {
    /// Last less first, s.
    pub spread_s: f64,
    /// Place of the first in the list, from 0.
    pub first: usize,
    /// Place of the last in the list, from 0.
    pub last: usize,
    /// Whether the spread exceeds [`ECHO_TIME_S`].
    pub echo_risk: bool,
}

/// Spread of arrivals at a point, of those within [`ECHO_LEVEL_DB`] of the loudest; `None` where nothing arrives.
/// Arrivals that are not finite do not count.
pub fn arrival_spread(arrivals: &[Arrival]) -> Option<ArrivalSpread> {
    let finite =
        || arrivals.iter().enumerate().filter(|(_, a)| a.time_s.is_finite() && a.level_db.is_finite());
    let loudest = finite().map(|(_, a)| a.level_db).fold(f64::NEG_INFINITY, f64::max);
    let counted = || finite().filter(move |(_, a)| a.level_db >= loudest - ECHO_LEVEL_DB);
    let (first, early) = counted().min_by(|a, b| a.1.time_s.total_cmp(&b.1.time_s))?;
    let (last, late) = counted().rev().max_by(|a, b| a.1.time_s.total_cmp(&b.1.time_s))?;
    let spread_s = late.time_s - early.time_s;
    Some(ArrivalSpread { spread_s, first, last, echo_risk: spread_s > ECHO_TIME_S })
}

/// Arrivals over an area.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AreaArrivals {
    /// Median spread, s.
    pub median_spread_s: f64,
    /// Largest spread, s.
    pub largest_spread_s: f64,
    /// Point with the largest spread, from 0.
    pub worst_point: usize,
    /// The arrivals that make it.
    pub worst: ArrivalSpread,
    /// Share of the points with an echo risk, 0 to 1.
    pub echo_share: f64,
}

/// Arrivals over an area, one list per point; `None` where nothing arrives at any point. Points without sound do
/// not count.
pub fn area_arrivals(points: &[Vec<Arrival>]) -> Option<AreaArrivals> {
    let spreads: Vec<(usize, ArrivalSpread)> =
        points.iter().enumerate().filter_map(|(i, a)| arrival_spread(a).map(|s| (i, s))).collect();
    let &(worst_point, worst) = spreads.iter().rev().max_by(|a, b| a.1.spread_s.total_cmp(&b.1.spread_s))?;
    let mut sorted: Vec<f64> = spreads.iter().map(|s| s.1.spread_s).collect();
    sorted.sort_by(f64::total_cmp);
    Some(AreaArrivals {
        median_spread_s: percentile_sorted(&sorted, 0.5),
        largest_spread_s: worst.spread_s,
        worst_point,
        worst,
        echo_share: spreads.iter().filter(|s| s.1.echo_risk).count() as f64 / spreads.len() as f64,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arrival(time_ms: f64, level_db: f64) -> Arrival {
        Arrival { time_s: time_ms / 1000.0, level_db }
    }

    #[test]
    fn only_strong_late_sound_is_an_echo() {
        let strong = arrival_spread(&[arrival(10.0, 80.0), arrival(45.0, 71.0)]).unwrap();
        assert!(strong.echo_risk && (strong.spread_s - 0.035).abs() < 1e-12);
        assert_eq!((strong.first, strong.last), (0, 1));
        assert!(!arrival_spread(&[arrival(10.0, 80.0), arrival(45.0, 69.0)]).unwrap().echo_risk);
        assert!(!arrival_spread(&[arrival(10.0, 80.0), arrival(39.0, 80.0)]).unwrap().echo_risk);
        // A weak first arrival before loud ones does not start the clock.
        let weak_first = arrival_spread(&[arrival(0.0, 60.0), arrival(40.0, 80.0)]).unwrap();
        assert_eq!((weak_first.spread_s, weak_first.echo_risk), (0.0, false));
    }

    #[test]
    fn nothing_and_nonsense() {
        assert_eq!(arrival_spread(&[]), None);
        assert_eq!(arrival_spread(&[arrival(f64::NAN, 80.0), arrival(1.0, f64::NEG_INFINITY)]), None);
        assert_eq!(area_arrivals(&[vec![], vec![]]), None);
    }

    #[test]
    fn an_area_names_its_worst_point() {
        let near = vec![arrival(1.0, 80.0), arrival(2.0, 80.0)];
        let far = vec![arrival(1.0, 80.0), arrival(60.0, 80.0)];
        let a = area_arrivals(&[near.clone(), vec![], far, near]).unwrap();
        assert_eq!((a.worst_point, a.worst.last), (2, 1));
        assert!((a.echo_share - 1.0 / 3.0).abs() < 1e-12);
        assert!((a.median_spread_s - 0.001).abs() < 1e-12);
    }
}
