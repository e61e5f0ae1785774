//! Ways of using each spot: which model, for which area, pointing where; and what each would give.

use crate::back_to_back::{behind, look_apart, on_one_stake, other_side, towards};
use crate::error::BriefProblem;
use crate::models::Offered;
use crate::places::{Rules, Spot, nearest_in};
use crate::price::Prices;
use crate::site::{Site, pose_at};
use crate::types::{Pose, Row};
use loamline_geometry::{Point2, bearing_between};
use loamline_limits::go_on;
use loamline_model::catalogue::DirectivityKind;
use loamline_model::document::Mount;

/// A second area is also tried from a spot when it is this near, metres.
const SECOND_AREA_M: f64 = 7.0;
/// Two aims closer than this are one, degrees.
const SAME_AIM_DEG: f64 = 15.0;
/// A bracket turns this far to either side, degrees.
pub(crate) const BRACKET_TURN_DEG: f64 = 60.0;
/// Metres of cable that a loudspeaker adds to its line: about the distance to its neighbour with its share of the way
/// from the rack (routed designs for the examples come to 8 to 20 m for each). The finished design is priced as it is
/// routed.
const SHARE_M: f64 = 8.0;

/// Ways of using spots, each with what it gives at 1 W of tap and no gain.
#[derive(Clone)]
pub(crate) struct Pool {
    pub poses: Vec<Pose>,
    /// What each gives; none of them where only whole rows are taken.
    pub rows: Vec<Row>,
    /// Place of each; one place takes one loudspeaker.
    pub place: Vec<usize>,
    pub places: usize,
    /// Pairs of places of which one takes a loudspeaker: nearer than loudspeakers may stand.
    pub too_near: Vec<(usize, usize)>,
    /// Installed cost of each without amplification, tax included.
    pub cost: Vec<f64>,
}

/// Every way worth looking at, of the loudspeakers that are no subwoofers; two that look apart may share a stake.
pub(crate) fn pool(site: &Site<'_>, spots: &[Spot], prices: &Prices<'_>) -> Result<Pool, BriefProblem> {
    let (mut poses, mut place, mut cost) = (Vec::new(), Vec::new(), Vec::new());
    let mut places: Vec<Place> = Vec::new();
    // Both sides of a stake are heard from one place: its paths are followed once.
    let mut heard = Vec::new();
    for spot in spots {
        let share = SHARE_M * prices.cable_per_m(spot.lay_per_m);
        let ways = ways(site, spot);
        let shared = ways.iter().any(|w| w.1 == Side::Back);
        let first = places.len();
        for (pose, side) in ways {
            // A stake that nobody shares is one place for all.
            let side = if shared { side } else { Side::Alone };
            let known = places[first..].iter().position(|p| p.side == side);
            place.push(first + known.unwrap_or(places.len() - first));
            if known.is_none() {
                places.push(Place { at: spot.at, side });
            }
            cost.push(site.models[pose.model].installed + share);
            heard.push(Pose { at: spot.at, ..pose });
            poses.push(pose);
        }
    }
    let rows = site.screen(&heard)?;
    let too_near = too_near(&places, site.job.document().brief.wishes.apart_m);
    Ok(Pool { poses, rows, place, places: places.len(), too_near, cost })
}

/// A place that one loudspeaker takes: a spot, or one side of a stake there.
struct Place {
    at: Point2,
    side: Side,
}

/// On which side of a stake a loudspeaker hangs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    /// It shares it with none.
    Alone,
    /// Towards the nearest area.
    Front,
    /// Back to back with that.
    Back,
}

/// Ways of using a spot, each with the side of a stake it takes.
fn ways(site: &Site<'_>, spot: &Spot) -> Vec<(Pose, Side)> {
    let mut out = Vec::new();
    let zones = zones(site, spot);
    let Some(nearest) = zones.first() else { return out };
    let front_deg = towards(&site.zones[*nearest].area.outline, spot.at);
    for &zone in &zones {
        let beyond = other_side(&site.zones[zone].area.outline, spot.at);
        for (m, offered) in site.models.iter().enumerate() {
            let fed = offered.supply == site.zones[zone].supply;
            if offered.is_subwoofer() || !fed || !offered.fits(spot) {
                continue;
            }
            go_on();
            let stake = offered.model.mount == Mount::Stake && spot.out_deg.is_none();
            let aimed = stake && !sounds_alike(offered.model.directivity.kind);
            let both = beyond.filter(|_| aimed).map(|deg| (deg.round().rem_euclid(360.0), 0.0));
            for aim in aims(site, spot, zone, offered).into_iter().chain(both) {
                let side = match (aimed, look_apart(front_deg, aim.0)) {
                    (false, _) => Side::Alone,
                    (true, false) => Side::Front,
                    (true, true) => Side::Back,
                };
                let at = if side == Side::Back { behind(spot, aim.0) } else { *spot };
                out.push((pose_at(&at, m, offered, aim, zone), side));
            }
        }
    }
    out
}

/// Places of which one takes a loudspeaker: nearer to each other than loudspeakers are to stand, but for the two sides of a
/// stake.
fn too_near(places: &[Place], apart_m: f64) -> Vec<(usize, usize)> {
    let nearer = |a: &Place, b: &Place| {
        if on_one_stake(a.at, b.at) {
            a.side == Side::Alone || b.side == Side::Alone
        } else {
            a.at.distance(b.at) < apart_m - 1e-9
        }
    };
    let before = |b: usize| (0..b).filter(move |a| nearer(&places[*a], &places[b])).map(move |a| (a, b));
    (0..places.len()).flat_map(before).collect()
}

/// The area nearest to a spot, and the next if it is near too.
fn zones(site: &Site<'_>, spot: &Spot) -> Vec<usize> {
    let mut near: Vec<(f64, usize)> = site
        .zones
        .iter()
        .enumerate()
        .filter(|(_, z)| in_front(spot, nearest_in(&z.area.outline, spot.at)))
        .map(|(k, z)| (nearest_in(&z.area.outline, spot.at).distance(spot.at), k))
        .collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let first = near.first().map_or(0.0, |n| n.0);
    let also = |d: f64| d <= SECOND_AREA_M || d <= first + 0.5;
    near.iter().enumerate().filter(|(i, n)| *i == 0 || (*i < 3 && also(n.0))).map(|(_, n)| n.1).collect()
}

/// Whether a place lies in front of the wall a spot is on; always for the ground.
fn in_front(spot: &Spot, to: Point2) -> bool {
    let Some(out) = spot.out_deg else { return true };
    to.distance(spot.at) < 1e-6 || (to - spot.at).dot(loamline_geometry::direction(out, 0.0).plan()) > 0.0
}

/// Bearings and pitches worth trying: straight at the area, and at its middle.
pub(crate) fn aims(site: &Site<'_>, spot: &Spot, zone: usize, offered: &Offered<'_>) -> Vec<(f64, f64)> {
    let area = site.zones[zone].area;
    let nearest = nearest_in(&area.outline, spot.at);
    let deep = nearest.lerp(area.outline.centroid(), 0.5);
    let height = if spot.out_deg.is_some() { spot.height_m } else { offered.model.centre_height_m };
    let pitch = |to: Point2| {
        let down = (area.ear_m() - height).atan2(to.distance(spot.at).max(0.5)).to_degrees();
        if spot.out_deg.is_some() { down.round().clamp(-45.0, 0.0) } else { 0.0 }
    };
    if sounds_alike(offered.model.directivity.kind) {
        return vec![(0.0, 0.0)];
    }
    let mut out: Vec<(f64, f64)> = Vec::new();
    for to in [nearest, deep] {
        if to.distance(spot.at) < 0.05 {
            out.extend(spot.out_deg.map(|b| (b, pitch(deep))));
            continue;
        }
        let mut bearing = bearing_between(spot.at, to);
        if let Some(face) = spot.out_deg {
            bearing = face + turn(face, bearing).clamp(-BRACKET_TURN_DEG, BRACKET_TURN_DEG);
        }
        let bearing = bearing.round().rem_euclid(360.0);
        if out.iter().all(|a| turn(a.0, bearing).abs() > SAME_AIM_DEG) {
            out.push((bearing, pitch(deep)));
        }
    }
    out
}

/// Angle from one bearing to another, -180 to 180 degrees.
pub(crate) fn turn(from: f64, to: f64) -> f64 {
    (to - from + 180.0).rem_euclid(360.0) - 180.0
}

/// Loudspeakers near each other that may be moved: variants of a loudspeaker within the rules.
pub(crate) fn variants(
    site: &Site<'_>,
    rules: &Rules<'_>,
    pose: &Pose,
    step_m: f64,
    step_deg: f64,
) -> Vec<Pose> {
    let mut out = vec![*pose];
    let round = |v: f64| (100.0 * v).round() / 100.0;
    let all_round = is_all_round(site, pose);
    let moves: Vec<Point2> = match pose.out_deg {
        None => [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)].map(|(x, y)| Point2::new(x, y)).to_vec(),
        Some(out) => [90.0, -90.0].map(|a| loamline_geometry::direction(out + a, 0.0).plan()).to_vec(),
    };
    for m in moves {
        let to = pose.at + m * step_m;
        let at = Point2::new(round(to.x), round(to.y));
        let spot = Spot { at, out_deg: pose.out_deg, height_m: 0.0, lay_per_m: 0.0 };
        let on_face = pose.out_deg.is_none() || faces_wall(site, at);
        if on_face && rules.allows(&spot) {
            out.push(Pose { at, ..*pose });
        }
    }
    if !all_round {
        for turn_deg in [step_deg, -step_deg] {
            let bearing_deg = (pose.bearing_deg + turn_deg).round().rem_euclid(360.0);
            let free = pose.out_deg.is_none_or(|o| turn(o, bearing_deg).abs() <= BRACKET_TURN_DEG);
            if free {
                out.push(Pose { bearing_deg, ..*pose });
            }
        }
        let pitches = if pose.out_deg.is_some() { (-60.0, 0.0) } else { (-10.0, 20.0) };
        for tilt_deg in [0.5 * step_deg, -0.5 * step_deg] {
            let pitch_deg = (pose.pitch_deg + tilt_deg).round();
            if (pitches.0..=pitches.1).contains(&pitch_deg) && pitch_deg != pose.pitch_deg {
                out.push(Pose { pitch_deg, ..*pose });
            }
        }
    }
    out
}

/// Whether a loudspeaker sounds alike whichever way it looks.
pub(crate) fn is_all_round(site: &Site<'_>, pose: &Pose) -> bool {
    sounds_alike(site.models[pose.model].model.directivity.kind)
}

const fn sounds_alike(kind: DirectivityKind) -> bool {
    matches!(kind, DirectivityKind::AllRound | DirectivityKind::Omnidirectional)
}

/// Whether a bracket's place still is in front of a wall or building that takes loudspeakers.
pub(crate) fn faces_wall(site: &Site<'_>, at: Point2) -> bool {
    let d = site.job.document();
    let near = |m: f64| m <= crate::places::OFF_WALL_M + 0.05;
    d.walls
        .values()
        .filter(|w| w.loudspeakers)
        .any(|w| w.line.windows(2).any(|p| near(loamline_geometry::Segment::new(p[0], p[1]).distance_to(at))))
        || d.buildings.values().filter(|b| b.loudspeakers).any(|b| near(b.outline.distance_to_outline(at)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spots_nearer_than_loudspeakers_may_stand_are_pairs() {
        let alone = |x: f64, y: f64| Place { at: Point2::new(x, y), side: Side::Alone };
        let places = [alone(0.0, 0.0), alone(0.9, 1.2), alone(1.4, 0.0), alone(5.0, 0.0)];
        // 0.9, 1.2 and 1.5 are a right triangle: the first two stand as far apart as they must.
        assert_eq!(too_near(&places, 1.5), [(0, 2), (1, 2)]);
        assert!(too_near(&places, 0.0).is_empty());
    }

    #[test]
    fn two_sides_of_a_stake_take_a_loudspeaker_each_unless_something_else_stands_there() {
        let of = |x: f64, side: Side| Place { at: Point2::new(x, 0.0), side };
        let places = [of(0.0, Side::Front), of(0.0, Side::Back), of(0.0, Side::Alone), of(1.0, Side::Back)];
        assert_eq!(too_near(&places, 1.5), [(0, 2), (1, 2), (0, 3), (1, 3), (2, 3)]);
    }
}
