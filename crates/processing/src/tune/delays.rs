//! Delays for the listening areas, and where not to bother.
//!
//! Two arrivals of the same sound fuse while they are close; more than about 30 ms apart and within 10 dB they
//! begin to be heard as an echo (precedence effect, Haas 1951). A delay acts on a whole channel, so it helps where
//! two channels meet and does nothing between loudspeakers of one channel. The delays minimise, over all points of
//! all areas, the energy-weighted variance of the arrival times that can be heard (within 10 dB of the loudest):
//! a linear least-squares problem. They are then kept only as far as they lower the share of points with an echo
//! without raising it in any area; where they do not, the advice is to leave the delays at zero.

use super::solve::solve_linear;
use super::{TuneError, all_finite, range};
use loamline_limits::go_on;
use serde::{Deserialize, Serialize};

/// Sound from one loudspeaker at one point.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Arrival {
    /// Index of the channel that feeds it.
    pub channel: usize,
    /// Travel time, s.
    pub time_s: f64,
    /// Level, dB.
    pub level_db: f64,
}

/// Arrivals at the points of one area.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AreaArrivals {
    /// What the crew calls it.
    pub name: String,
    /// Importance relative to the other areas, more than zero.
    pub weight: f64,
    /// Per point, the arrivals from every loudspeaker.
    pub points: Vec<Vec<Arrival>>,
}

/// When two arrivals make an echo, and what the equipment offers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DelayLimits {
    /// Time between two arrivals from which an echo may be heard, s.
    pub echo_after_s: f64,
    /// How far below the loudest an arrival still counts, dB.
    pub echo_within_db: f64,
    /// Longest delay a channel can be given, s.
    pub longest_s: f64,
    /// Delays shorter than this are left at zero, s.
    pub worthwhile_s: f64,
}

impl Default for DelayLimits {
    /// 30 ms and 10 dB (Haas 1951), at most 200 ms, nothing below 2 ms (the last two: common practice, no source).
    fn default() -> Self {
        Self { echo_after_s: 0.030, echo_within_db: 10.0, longest_s: 0.200, worthwhile_s: 0.002 }
    }
}

/// What a delay does for an area.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum DelayVerdict {
    /// No point hears an echo without delays: leave it.
    NotNeeded,
    /// The suggested delays lower the share of points with an echo.
    Helps,
    /// The echoes are between loudspeakers of one channel: a delay cannot reach them.
    OneChannel,
    /// Points of this or another area need opposite delays: nothing gained without losing elsewhere.
    CannotHelp,
}

/// One area before and after the suggested delays.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AreaDelayReport {
    /// The area.
    pub name: String,
    /// Longest time between audible arrivals at any of its points without delays, s.
    pub spread_before_s: f64,
    /// The same with the delays, s.
    pub spread_after_s: f64,
    /// Share of points with an echo without delays, 0 to 1.
    pub echo_share_before: f64,
    /// The same with the delays.
    pub echo_share_after: f64,
    /// What the delays do here.
    pub verdict: DelayVerdict,
}

/// Suggested delays.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DelayAdvice {
    /// Delay per channel, s, in steps of 0.1 ms; all zero when delays are not worth the bother.
    pub delay_s: Vec<f64>,
    /// Per area, in the order given.
    pub areas: Vec<AreaDelayReport>,
}

/// Delays for `channels` channels from the arrivals in every area.
///
/// # Errors
/// No channel, an arrival of a channel that does not exist, values that are not numbers.
pub fn suggest_delays(
    areas: &[AreaArrivals],
    channels: usize,
    limits: &DelayLimits,
) -> Result<DelayAdvice, TuneError> {
    check(areas, channels, limits)?;
    let none = vec![0.0; channels];
    let before: Vec<AreaTiming> = areas.iter().map(|a| heard(a, &none, limits)).collect();
    let mut best = (none.clone(), before.clone());
    if before.iter().any(|h| h.echo_share > 0.0) {
        let wanted = least_variance(areas, channels, limits);
        for share in [1.0, 0.75, 0.5, 0.25] {
            let delays = settable(&wanted, share, limits);
            let after: Vec<AreaTiming> = areas.iter().map(|a| heard(a, &delays, limits)).collect();
            let worse = after.iter().zip(&before).any(|(a, b)| a.echo_share > b.echo_share + 1e-12);
            if !worse && total_echo(areas, &after) < total_echo(areas, &best.1) - 1e-12 {
                best = (delays, after);
            }
        }
    }
    let (delay_s, after) = best;
    let reports = areas.iter().zip(before.iter().zip(&after)).map(|(area, (b, a))| AreaDelayReport {
        name: area.name.clone(),
        spread_before_s: b.spread_s,
        spread_after_s: a.spread_s,
        echo_share_before: b.echo_share,
        echo_share_after: a.echo_share,
        verdict: if b.echo_share <= 0.0 {
            DelayVerdict::NotNeeded
        } else if a.echo_share < b.echo_share {
            DelayVerdict::Helps
        } else if b.between_channels {
            DelayVerdict::CannotHelp
        } else {
            DelayVerdict::OneChannel
        },
    });
    Ok(DelayAdvice { areas: reports.collect(), delay_s })
}

fn check(areas: &[AreaArrivals], channels: usize, limits: &DelayLimits) -> Result<(), TuneError> {
    if channels == 0 {
        return Err(TuneError::Nothing("channels"));
    }
    range("the delay of a channel (s)", 0.0, limits.longest_s)?;
    range("the time to an echo (s)", 0.0, limits.echo_after_s)?;
    all_finite(
        "delay limits",
        &[limits.longest_s, limits.echo_after_s, limits.echo_within_db, limits.worthwhile_s],
    )?;
    for area in areas {
        all_finite("the weight of an area", &[area.weight])?;
        range("the weight of an area", 0.0, area.weight)?;
        for arrival in area.points.iter().flatten() {
            all_finite("arrival time and level", &[arrival.time_s, arrival.level_db])?;
            if arrival.channel >= channels {
                return Err(TuneError::NoSuchChannel { channel: arrival.channel, channels });
            }
        }
    }
    Ok(())
}

/// What an area hears with given delays.
#[derive(Debug, Clone, Copy, PartialEq)]
struct AreaTiming {
    spread_s: f64,
    echo_share: f64,
    /// Whether any echo is between two channels.
    between_channels: bool,
}

fn audible<'a>(point: &'a [Arrival], limits: &DelayLimits) -> impl Iterator<Item = &'a Arrival> + use<'a> {
    let floor = point.iter().map(|a| a.level_db).fold(f64::MIN, f64::max) - limits.echo_within_db;
    point.iter().filter(move |a| a.level_db >= floor)
}

fn heard(area: &AreaArrivals, delays: &[f64], limits: &DelayLimits) -> AreaTiming {
    go_on();
    let (mut spread_s, mut echoes, mut between_channels) = (0.0_f64, 0_usize, false);
    for point in &area.points {
        let mut times: Vec<(f64, usize)> =
            audible(point, limits).map(|a| (a.time_s + delays[a.channel], a.channel)).collect();
        times.sort_by(|a, b| a.0.total_cmp(&b.0));
        if let (Some(first), Some(last)) = (times.first(), times.last()) {
            let spread = last.0 - first.0;
            spread_s = spread_s.max(spread);
            if spread > limits.echo_after_s {
                echoes += 1;
                between_channels |= times
                    .iter()
                    .any(|t| times.iter().any(|u| t.1 != u.1 && (t.0 - u.0).abs() > limits.echo_after_s));
            }
        }
    }
    let points = area.points.len().max(1) as f64;
    AreaTiming { spread_s, echo_share: echoes as f64 / points, between_channels }
}

fn total_echo(areas: &[AreaArrivals], heard: &[AreaTiming]) -> f64 {
    areas.iter().zip(heard).map(|(a, h)| a.weight * h.echo_share).sum()
}

/// The delays of least energy-weighted arrival variance, the earliest of channels heard together at zero.
fn least_variance(areas: &[AreaArrivals], channels: usize, limits: &DelayLimits) -> Vec<f64> {
    let mut matrix = vec![vec![0.0; channels]; channels];
    let mut right = vec![0.0; channels];
    for area in areas {
        let share = area.weight / area.points.len().max(1) as f64;
        for point in &area.points {
            let loud: Vec<&Arrival> = audible(point, limits).collect();
            let top = loud.iter().map(|a| a.level_db).fold(f64::MIN, f64::max);
            let energy = |a: &Arrival| 10_f64.powf((a.level_db - top) / 10.0);
            let total: f64 = loud.iter().map(|a| energy(a)).sum();
            go_on();
            for (i, a) in loud.iter().enumerate() {
                for b in loud.iter().skip(i + 1).filter(|b| b.channel != a.channel) {
                    let v = share * energy(a) * energy(b) / total;
                    let apart = a.time_s - b.time_s;
                    matrix[a.channel][a.channel] += v;
                    matrix[b.channel][b.channel] += v;
                    matrix[a.channel][b.channel] -= v;
                    matrix[b.channel][a.channel] -= v;
                    right[a.channel] -= v * apart;
                    right[b.channel] += v * apart;
                }
            }
        }
    }
    let groups = heard_together(&matrix);
    let scale: f64 = (0..channels).map(|c| matrix[c][c]).sum::<f64>().max(1e-12);
    for (c, row) in matrix.iter_mut().enumerate() {
        row[c] += 1e-6 * scale;
    }
    let mut delays = solve_linear(matrix, right).unwrap_or_else(|| vec![0.0; channels]);
    for group in 0..channels {
        let members = || (0..channels).filter(|c| groups[*c] == group);
        let earliest = members().map(|c| delays[c]).fold(f64::MAX, f64::min);
        for c in members() {
            delays[c] -= earliest;
        }
    }
    delays
}

/// Per channel the lowest channel it is linked to, directly or through others.
fn heard_together(matrix: &[Vec<f64>]) -> Vec<usize> {
    let mut groups: Vec<usize> = (0..matrix.len()).collect();
    for _ in 0..matrix.len() {
        for (i, row) in matrix.iter().enumerate() {
            for (j, link) in row.iter().enumerate() {
                if i != j && *link != 0.0 {
                    let low = groups[i].min(groups[j]);
                    (groups[i], groups[j]) = (low, low);
                }
            }
        }
    }
    groups
}

fn settable(delays: &[f64], share: f64, limits: &DelayLimits) -> Vec<f64> {
    delays
        .iter()
        .map(|d| {
            let d = ((share * d).min(limits.longest_s) * 1e4).round() / 1e4;
            if d < limits.worthwhile_s { 0.0 } else { d }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arrival(channel: usize, distance_m: f64, level_db: f64) -> Arrival {
        Arrival { channel, time_s: distance_m / 343.2, level_db }
    }

    fn area(name: &str, points: Vec<Vec<Arrival>>) -> AreaArrivals {
        AreaArrivals { name: name.to_owned(), weight: 1.0, points }
    }

    /// A far terrace hears the main loudspeakers 20 m away and its own at 3 m: 17 m late is 49.5 ms (343.2 m/s).
    #[test]
    fn fills_are_delayed_to_the_mains() {
        let points = (0..5)
            .map(f64::from)
            .map(|x| vec![arrival(0, 20.0 + x, 78.0), arrival(1, 3.0 + x, 80.0)])
            .collect();
        let advice = suggest_delays(&[area("far terrace", points)], 2, &DelayLimits::default()).unwrap();
        assert!(advice.delay_s[0].abs() < 1e-12);
        assert!((advice.delay_s[1] - 17.0 / 343.2).abs() < 1e-4, "{:?}", advice.delay_s);
        assert_eq!(advice.areas[0].verdict, DelayVerdict::Helps);
        assert!((advice.areas[0].echo_share_before - 1.0).abs() < 1e-12);
        assert!(advice.areas[0].spread_after_s < 1e-4);
    }

    #[test]
    fn says_where_not_to_bother() {
        let near = area("court", vec![vec![arrival(0, 4.0, 80.0), arrival(1, 9.0, 76.0)]]);
        let one = area("long walk", vec![vec![arrival(0, 2.0, 80.0), arrival(0, 16.0, 74.0)]]);
        let advice = suggest_delays(&[near, one], 2, &DelayLimits::default()).unwrap();
        assert_eq!(advice.delay_s, [0.0, 0.0]);
        assert_eq!(advice.areas[0].verdict, DelayVerdict::NotNeeded);
        assert_eq!(advice.areas[1].verdict, DelayVerdict::OneChannel);
    }

    /// Two areas on either side of two loudspeakers want opposite delays: helping one would harm the other.
    #[test]
    fn opposite_needs_are_left_alone() {
        let left = area("left", vec![vec![arrival(0, 3.0, 80.0), arrival(1, 15.0, 74.0)]]);
        let right = area("right", vec![vec![arrival(1, 3.0, 80.0), arrival(0, 15.0, 74.0)]]);
        let advice = suggest_delays(&[left, right], 2, &DelayLimits::default()).unwrap();
        assert_eq!(advice.delay_s, [0.0, 0.0]);
        assert!(advice.areas.iter().all(|a| a.verdict == DelayVerdict::CannotHelp));
    }

    #[test]
    fn quiet_arrivals_do_not_count() {
        let a = area("lawn", vec![vec![arrival(0, 3.0, 80.0), arrival(1, 30.0, 69.0)]]);
        let advice = suggest_delays(&[a], 2, &DelayLimits::default()).unwrap();
        assert_eq!(advice.areas[0].verdict, DelayVerdict::NotNeeded);
        let wrong = area("lawn", vec![vec![arrival(2, 3.0, 80.0)]]);
        assert!(suggest_delays(&[wrong], 2, &DelayLimits::default()).is_err());
    }
}
