//! Whether a design keeps its promise when things are not quite as reckoned: sensitivities, aims and places drawn at random.
//!
//! What each loudspeaker gives a little turned and a little moved is worked out once; a draw then only weighs what is known
//! (in decibels, in proportion to how far it is turned or moved), so that hundreds of draws cost less than one settling.
//! Levels are those of the built design: its areas' means are kept. Left out: the ground's own class, which moves all
//! loudspeakers of an area alike and is taken out again by the level set at the handing over.

use crate::attempt::Made;
use crate::candidates::is_all_round;
use crate::error::BriefProblem;
use crate::make::Maker;
use crate::types::{Pose, Row};
use loamline_chance::Draws;
use loamline_geometry::{Point2, direction};

/// Draws.
const DRAWS: u64 = 200;
/// How far at most, either way, each equally likely: sensitivity, dB; aim, degrees; place, metres each way.
const SENSITIVITY_DB: f64 = 1.5;
const AIM_DEG: f64 = 5.0;
const PLACE_M: f64 = 0.3;
/// Share of every area that is to stay within its band.
const STAYS: f64 = 0.9;

/// Share of the draws in which a design keeps nine tenths of every area within its band.
pub(crate) fn robust_share(maker: &Maker<'_>, made: &Made) -> Result<f64, BriefProblem> {
    let site = &maker.site;
    let n = made.poses.len();
    if n == 0 {
        return Ok(1.0);
    }
    // Each as it is, turned either way, moved four ways.
    let all: Vec<Pose> = made.poses.iter().flat_map(|p| about(maker, p)).collect();
    let rows = site.exact(&site.coarse, &all, None)?;
    let each = all.len() / n;
    let points = site.coarse.len();
    let mut fixed = vec![0.0; points];
    for (p, r) in maker.fixed.poses.iter().zip(&maker.fixed.coarse) {
        let drive = made.choice.gains.of(p) * p.tap_w;
        fixed.iter_mut().zip(&r.points).for_each(|(s, e)| *s += drive * f64::from(*e));
    }
    let ln = |r: &Row, p: usize| f64::from(r.points[p]).max(1e-12).ln();
    // What the built design plays each area louder than the sum of energies, as a factor.
    let mut base = fixed.clone();
    for (i, pose) in made.poses.iter().enumerate() {
        let drive = made.choice.gains.of(pose) * pose.tap_w;
        base.iter_mut().zip(&rows[i * each].points).for_each(|(s, e)| *s += drive * f64::from(*e));
    }
    let mut louder = vec![1.0; points];
    for (z, range) in site.coarse.ranges.iter().enumerate() {
        let levels = base[range.clone()].iter().map(|e| 10.0 * e.max(1e-12).log10());
        let mean_db = levels.sum::<f64>() / range.len().max(1) as f64;
        let played = made.figures.areas.get(site.zones[z].id).map_or(0.0, |a| a.mean_dba - a.target_dba);
        louder[range.clone()].fill(10f64.powf((played - mean_db) / 10.0));
    }
    let held = (0..DRAWS).filter(|draw| {
        let mut random = Draws::new(*draw);
        let mut sum = fixed.clone();
        for (i, pose) in made.poses.iter().enumerate() {
            let of = &rows[i * each..(i + 1) * each];
            let gain_db = SENSITIVITY_DB * random.between(-1.0, 1.0);
            let drive = made.choice.gains.of(pose) * pose.tap_w * 10f64.powf(gain_db / 10.0);
            let pulls: Vec<(usize, f64)> = (0..3)
                .map(|k| {
                    let by = random.between(-1.0, 1.0);
                    (1 + 2 * k + usize::from(by < 0.0), by.abs())
                })
                .collect();
            for (p, s) in sum.iter_mut().enumerate() {
                let here = ln(&of[0], p);
                let there: f64 = pulls.iter().map(|(k, by)| by * (ln(&of[*k], p) - here)).sum();
                *s += drive * (here + there).exp();
            }
        }
        site.coarse.ranges.iter().enumerate().all(|(z, range)| {
            let within = site.zones[z].area.within_db;
            let inside = range.clone().filter(|p| (10.0 * (sum[*p] * louder[*p]).log10()).abs() <= within);
            inside.count() as f64 >= STAYS * range.len() as f64
        })
    });
    Ok(held.count() as f64 / DRAWS as f64)
}

/// A loudspeaker as it is, turned right and left, moved east, west, north and south.
fn about(maker: &Maker<'_>, pose: &Pose) -> Vec<Pose> {
    let turned = |by: f64| {
        let still = is_all_round(&maker.site, pose);
        Pose { bearing_deg: pose.bearing_deg + if still { 0.0 } else { by }, ..*pose }
    };
    // A bracket is put off along its wall only, and nothing is put off into a building.
    let along = pose.out_deg.map(|out| direction(out + 90.0, 0.0).plan());
    let buildings = &maker.site.job.document().buildings;
    let moved = |x: f64, y: f64| {
        let by = along.map_or(Point2::new(x, y), |a| a * (x + y));
        let at = pose.at + by;
        let inside = buildings.values().any(|b| b.outline.contains(at));
        Pose { at: if inside { pose.at } else { at }, ..*pose }
    };
    vec![
        *pose,
        turned(AIM_DEG),
        turned(-AIM_DEG),
        moved(PLACE_M, 0.0),
        moved(-PLACE_M, 0.0),
        moved(0.0, PLACE_M),
        moved(0.0, -PLACE_M),
    ]
}
