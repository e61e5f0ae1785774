//! Rows settled on the full field: a row moves, stretches and turns as one, so that it stays even; an area keeps one tap.
//!
//! As `refine`, which settles loudspeakers one by one: all variants of all rows are worked out in one go, then taken up one
//! after another while the whole gets better.

use crate::back_to_back::on_one_stake;
use crate::candidates::{BRACKET_TURN_DEG, faces_wall, is_all_round, turn};
use crate::choose::Fixed;
use crate::error::BriefProblem;
use crate::mirror::{Axis, are_mirrored};
use crate::places::{Rules, nearest_in};
use crate::refine::{Plan, Sums, near_taps};
use crate::site::Site;
use crate::spacing::{even, lacking_m};
use crate::types::{Gains, LevelBand, Pose, Row};
use loamline_geometry::{Point2, direction};
use std::ops::Range;

/// How far rows are moved, by what part they are stretched, and how far they are turned in each round: metres, part,
/// degrees.
const ROUNDS: [(f64, f64, f64); 3] = [(0.6, 0.12, 16.0), (0.3, 0.06, 9.0), (0.15, 0.03, 5.0)];
/// Rounds of taking variants up at one step.
const PASSES: usize = 3;
/// Rows that are mirrored leave that only where it is worth so much, and where an area cannot be mirrored a row is shifted along
/// its line only for as much: people see it.
const MIRRORED: f64 = 0.6;
/// Weight of a loudspeaker that stands too near one of another area or one that stays, and not on one stake, per metre that lacks.
/// Where it weighs less, a row stays where it is; where it weighs more, levels are given up for it.
const NEAR: f64 = 15.0;

/// What is known of a variant of a row.
struct Variant {
    poses: Vec<Pose>,
    /// Whether it takes the row out of the middle of its line.
    shifted: bool,
}

/// Settles the rows of some areas on the full field; those of the others stay as they are.
pub(crate) fn settle_rows(
    site: &Site<'_>,
    rules: &Rules<'_>,
    fixed: &Fixed,
    (poses, rows, gains): (&[Pose], &[Range<usize>], &Gains),
    (band, axes): (&LevelBand, &[Vec<Axis>]),
    (rounds, moving): (usize, &[bool]),
) -> Result<Plan, BriefProblem> {
    let energies = site.exact(&site.fine, poses, None)?;
    let mut plan = Plan { rows: energies, poses: poses.to_vec(), gains: gains.clone() };
    for step in ROUNDS.into_iter().take(rounds) {
        let moves = |r: &Range<usize>| plan.poses.get(r.start).is_some_and(|p| moving[p.zone]);
        let of = |r: &Range<usize>| {
            if moves(r) { variants(site, rules, &plan.poses, r, step) } else { Vec::new() }
        };
        let all: Vec<Vec<Variant>> = rows.iter().map(of).collect();
        let (mut flat, mut like) = (Vec::new(), Vec::new());
        for (row, of) in rows.iter().zip(&all) {
            for v in of {
                flat.extend_from_slice(&v.poses);
                like.extend(row.clone());
            }
        }
        let given = site.exact(&site.fine, &flat, Some((&like, &plan.rows)))?;
        take_up(site, &mut plan, fixed, (band, moving, axes), (rows, &all, &given));
    }
    Ok(plan)
}

/// Takes up variants and taps while the whole gets better.
fn take_up(
    site: &Site<'_>,
    plan: &mut Plan,
    fixed: &Fixed,
    (band, moving, axes): (&LevelBand, &[bool], &[Vec<Axis>]),
    (rows, all, given): (&[Range<usize>], &[Vec<Variant>], &[Row]),
) {
    let apart_m = site.job.document().brief.wishes.apart_m;
    let mut sums = Sums::of(site, plan, fixed);
    let mut now = sums.penalty(site, band);
    let all_near = |plan: &Plan| -> f64 {
        rows.iter().map(|row| nearness(plan, fixed, row, &plan.poses[row.clone()], apart_m)).sum()
    };
    for _ in 0..PASSES {
        let before = now + all_near(&*plan);
        let mut start = 0;
        for (row, of) in rows.iter().zip(all) {
            let shift = |sums: &mut Sums, poses: &[Pose], energies: &[Row], sign: f64, gains: &Gains| {
                poses.iter().zip(energies).for_each(|(p, r)| sums.add(r, sign * gains.of(p) * p.tap_w));
            };
            shift(&mut sums, &plan.poses[row.clone()], &plan.rows[row.clone()], -1.0, &plan.gains);
            let tap_w = plan.poses.get(row.start).map_or(1.0, |p| p.tap_w);
            let own_axes = plan.poses.get(row.start).and_then(|p| axes.get(p.zone));
            let own_axes = own_axes.map_or(&[][..], Vec::as_slice);
            let was = are_mirrored(site, own_axes, &with_row(plan, row, &plan.poses[row.clone()]));
            let near = nearness(plan, fixed, row, &plan.poses[row.clone()], apart_m);
            let mut best: Option<(f64, usize)> = None;
            for (v, variant) in of.iter().enumerate() {
                let n = variant.poses.len();
                let rows = &given[start + v * n..start + (v + 1) * n];
                let poses: Vec<Pose> = variant.poses.iter().map(|p| Pose { tap_w, ..*p }).collect();
                if !stands_evenly(plan, row, &poses, apart_m) || crowds(plan, row, &poses, apart_m) {
                    continue;
                }
                shift(&mut sums, &poses, rows, 1.0, &plan.gains);
                let leaves = if own_axes.is_empty() {
                    variant.shifted
                } else {
                    was && !are_mirrored(site, own_axes, &with_row(plan, row, &poses))
                };
                let penalty = sums.penalty(site, band)
                    + nearness(plan, fixed, row, &poses, apart_m)
                    + if leaves { MIRRORED } else { 0.0 };
                shift(&mut sums, &poses, rows, -1.0, &plan.gains);
                if best.is_none_or(|b| penalty < b.0 - 1e-9) {
                    best = Some((penalty, v));
                }
            }
            if let Some((_, v)) = best.filter(|b| b.0 < now + near - 1e-6) {
                let n = row.len();
                for (k, i) in row.clone().enumerate() {
                    plan.poses[i] = Pose { tap_w, ..of[v].poses[k] };
                    plan.rows[i] = given[start + v * n + k].clone();
                }
            }
            shift(&mut sums, &plan.poses[row.clone()], &plan.rows[row.clone()], 1.0, &plan.gains);
            now = sums.penalty(site, band);
            start += of.iter().map(|v| v.poses.len()).sum::<usize>();
        }
        for z in (0..site.zones.len()).filter(|z| moving[*z]) {
            now = settle_tap(site, plan, &mut sums, band, z, now);
        }
        if now + all_near(&*plan) > before - 0.02 {
            break;
        }
    }
}

/// The tap of all loudspeakers of an area that is best.
fn settle_tap(
    site: &Site<'_>,
    plan: &mut Plan,
    sums: &mut Sums,
    band: &LevelBand,
    zone: usize,
    now: f64,
) -> f64 {
    let own: Vec<usize> = (0..plan.poses.len()).filter(|i| plan.poses[*i].zone == zone).collect();
    let Some(first) = own.first().map(|i| plan.poses[*i]) else { return now };
    let (mut best, mut least) = (first.tap_w, now);
    for tap_w in near_taps(site, &first) {
        let by = tap_w - first.tap_w;
        own.iter().for_each(|&i| sums.add(&plan.rows[i], by * plan.gains.of(&first)));
        let penalty = sums.penalty(site, band);
        own.iter().for_each(|&i| sums.add(&plan.rows[i], -by * plan.gains.of(&first)));
        if penalty < least - 1e-6 {
            (best, least) = (tap_w, penalty);
        }
    }
    let by = best - first.tap_w;
    for i in own {
        sums.add(&plan.rows[i], by * plan.gains.of(&first));
        plan.poses[i].tap_w = best;
    }
    least
}

/// Whether the loudspeakers of an area stand evenly with a row at these places.
fn stands_evenly(plan: &Plan, row: &Range<usize>, poses: &[Pose], apart_m: f64) -> bool {
    let places: Vec<Point2> = with_row(plan, row, poses).iter().map(|p| p.at).collect();
    even(&places, apart_m)
}

/// Whether a row at these places comes nearer to a loudspeaker of another area than they are to stand, and nearer than it was.
fn crowds(plan: &Plan, row: &Range<usize>, poses: &[Pose], apart_m: f64) -> bool {
    let nearest = |p: &Pose| {
        let others = plan.poses.iter().enumerate().filter(|(i, o)| !row.contains(i) && o.zone != p.zone);
        let away = others.map(|(_, o)| o.at).filter(|o| !on_one_stake(*o, p.at)).map(|o| o.distance(p.at));
        away.fold(f64::INFINITY, f64::min)
    };
    let least = |of: &[Pose]| of.iter().map(nearest).fold(f64::INFINITY, f64::min);
    let now = least(poses);
    now < apart_m && now < least(&plan.poses[row.clone()]) - 1e-9
}

/// What it counts that a row at these places stands too near loudspeakers of other areas, or ones that stay.
fn nearness(plan: &Plan, fixed: &Fixed, row: &Range<usize>, poses: &[Pose], apart_m: f64) -> f64 {
    let zone = poses.first().map(|p| p.zone);
    let others = plan.poses.iter().enumerate().filter(|(i, o)| !row.contains(i) && Some(o.zone) != zone);
    let others: Vec<Point2> = others.map(|(_, o)| o).chain(&fixed.poses).map(|o| o.at).collect();
    let of = |p: &Pose| others.iter().map(|o| lacking_m(p.at, *o, apart_m)).sum::<f64>();
    NEAR * poses.iter().map(of).sum::<f64>()
}

/// The loudspeakers of a row's area with the row at these places.
fn with_row(plan: &Plan, row: &Range<usize>, poses: &[Pose]) -> Vec<Pose> {
    let zone = poses.first().map(|p| p.zone);
    let others = plan.poses.iter().enumerate().filter(|(i, p)| !row.contains(i) && Some(p.zone) == zone);
    others.map(|(_, p)| *p).chain(poses.iter().copied()).collect()
}

/// Variants of a row within the rules, itself among them. Where others hang on its stakes it stays and only turns.
fn variants(
    site: &Site<'_>,
    rules: &Rules<'_>,
    all: &[Pose],
    of: &Range<usize>,
    (step_m, stretch, step_deg): (f64, f64, f64),
) -> Vec<Variant> {
    let row = &all[of.clone()];
    let shares = |p: &Pose| all.iter().enumerate().any(|(i, o)| !of.contains(&i) && on_one_stake(o.at, p.at));
    let stays = row.iter().any(shares);
    let mut out = vec![Variant { poses: row.to_vec(), shifted: false }];
    let Some(first) = row.first() else { return out };
    let middle = row.iter().fold(Point2::default(), |s, p| s + p.at) * (row.len() as f64).recip();
    let frame: Vec<(Point2, Point2)> = row.iter().map(|p| directions(site, row, p)).collect();
    let round = |v: f64| (100.0 * v).round() / 100.0;
    let mut moved = |by: &dyn Fn(usize) -> Point2, shifted: bool| {
        let one = |(i, p): (usize, &Pose)| {
            let to = p.at + by(i);
            let at = Point2::new(round(to.x), round(to.y));
            let free = match p.out_deg {
                Some(_) => rules.face(at) && faces_wall(site, at),
                None => rules.in_bed(at),
            };
            free.then_some(Pose { at, ..*p })
        };
        if let Some(poses) = row.iter().enumerate().map(one).collect::<Option<Vec<Pose>>>() {
            out.push(Variant { poses, shifted });
        }
    };
    for sign in [1.0, -1.0].into_iter().filter(|_| !stays) {
        moved(&|i| frame[i].0 * (sign * step_m), true);
        if first.out_deg.is_none() {
            moved(&|i| frame[i].1 * (sign * step_m), false);
        }
        if row.len() > 1 {
            moved(&|i| (row[i].at - middle) * (sign * stretch), false);
        }
    }
    if is_all_round(site, first) {
        return out;
    }
    let pitches = if first.out_deg.is_some() { (-60.0, 0.0) } else { (-10.0, 20.0) };
    for sign in [1.0, -1.0] {
        // A row turns its halves towards each other, or away.
        let turned = |(i, p): (usize, &Pose)| {
            let side = (p.at - middle).dot(frame[i].0);
            let half =
                if row.len() == 1 || side.abs() < 0.3 { f64::from(row.len() == 1) } else { side.signum() };
            let bearing_deg = (p.bearing_deg + sign * half * step_deg).round().rem_euclid(360.0);
            let free = p.out_deg.is_none_or(|o| turn(o, bearing_deg).abs() <= BRACKET_TURN_DEG);
            free.then_some(Pose { bearing_deg, ..*p })
        };
        if let Some(poses) = row.iter().enumerate().map(turned).collect::<Option<Vec<Pose>>>() {
            out.push(Variant { poses, shifted: false });
        }
        let pitch_deg = (first.pitch_deg + 0.5 * sign * step_deg).round();
        if (pitches.0..=pitches.1).contains(&pitch_deg) && pitch_deg != first.pitch_deg {
            let poses = row.iter().map(|p| Pose { pitch_deg, ..*p }).collect();
            out.push(Variant { poses, shifted: false });
        }
    }
    out
}

/// Along the row at one of its loudspeakers, and away from the area it serves.
fn directions(site: &Site<'_>, row: &[Pose], pose: &Pose) -> (Point2, Point2) {
    let unit = |v: Point2| v * v.norm().max(1e-9).recip();
    if let Some(out) = pose.out_deg {
        return (direction(out + 90.0, 0.0).plan(), direction(out, 0.0).plan());
    }
    let outline = &site.zones[pose.zone].area.outline;
    let away = unit(pose.at - nearest_in(outline, pose.at));
    let (a, b) = (row[0].at, row[row.len() - 1].at);
    let chord = unit(b - a);
    let straight = row.len() > 1 && row.iter().all(|p| (p.at - a).cross(chord).abs() < 0.2);
    if straight {
        let off = Point2::new(chord.y, -chord.x);
        return (chord, if off.dot(away) < 0.0 { off * -1.0 } else { off });
    }
    (Point2::new(-away.y, away.x), away)
}
