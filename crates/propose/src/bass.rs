//! Subwoofers for the areas that ask for a bass level: the coherent search over places and polarities, cheapest set that
//! reaches the level first.

use crate::error::BriefProblem;
use crate::models::Offered;
use crate::places::{Spot, nearest_in};
use crate::site::{Site, pose_at};
use crate::types::{Pose, RESERVE_DB, Row, Subwoofers};
use loamline_acoustics::{
    BassSearch, Points, RankedSetting, db_from_energy, energy_from_db, search_subwoofers, sum_db, waves,
};
use loamline_model::document::Mount;
use loamline_study::Sampling;

/// Places looked at for the subwoofers of an area: sets of three of them are all tried.
const SPOTS: usize = 14;
/// Farthest a subwoofer stands from the area, metres.
const REACH_M: f64 = 12.0;
/// Most subwoofers proposed for one area.
const MOST: usize = 3;
/// Spacing of the points the bass is looked at, metres: a quarter of a wavelength at 80 Hz.
const SPACING_M: f64 = 1.0;

struct Found {
    cost: f64,
    deviation_db: f64,
    poses: Vec<Pose>,
    limits: Vec<f64>,
}

/// The set for an area, and the level it reaches, dB: what is wanted, else the most that any does.
struct ForArea {
    found: Option<Found>,
    reached_db: f64,
}

/// Places subwoofers: of the sets that cost least, the most even.
pub(crate) fn subwoofers(site: &Site<'_>, spots: &[Spot], extra_db: f64) -> Result<Subwoofers, BriefProblem> {
    let mut out = Subwoofers { limits: vec![0.0; site.limits.len()], ..Subwoofers::default() };
    let pinned = site
        .job
        .loudspeakers()
        .any(|l| l.model.kind == loamline_model::catalogue::LoudspeakerKind::Subwoofer);
    for (z, zone) in site.zones.iter().enumerate() {
        let Some(over_mid_db) = zone.area.bass_db else { continue };
        if pinned {
            continue;
        }
        // What the mains give of it need not come from the subwoofers.
        let all_db = site.mid_db(z) + over_mid_db + extra_db;
        let rest = energy_from_db(all_db) - energy_from_db(site.mains_bass_db(z));
        let wanted_db = db_from_energy(rest.max(0.25 * energy_from_db(all_db)));
        let set = for_area(site, spots, z, wanted_db, &out)?;
        if set.reached_db < wanted_db - 1e-9 {
            out.short.push((z, over_mid_db + set.reached_db - wanted_db));
        }
        // What reaches most is proposed where nothing reaches all of it.
        if let Some(found) = set.found {
            out.limits.iter_mut().zip(&found.limits).for_each(|(s, l)| *s += l);
            out.poses.extend(found.poses);
        }
    }
    Ok(out)
}

/// The set for one area: the best that reaches the level, else the one that reaches most within the limits.
fn for_area(
    site: &Site<'_>,
    spots: &[Spot],
    z: usize,
    wanted_db: f64,
    before: &Subwoofers,
) -> Result<ForArea, BriefProblem> {
    let near = near_spots(site, spots, z, before);
    let mut best: Option<Found> = None;
    let mut most: Option<(f64, Found)> = None;
    let fed = |o: &Offered<'_>| o.is_subwoofer() && o.supply == site.zones[z].supply;
    for (m, offered) in site.models.iter().enumerate().filter(|(_, o)| fed(o)) {
        let ground =
            matches!(offered.model.mount, Mount::InGround | Mount::Surface | Mount::Base | Mount::Stake);
        if !ground || near.is_empty() {
            continue;
        }
        let poses: Vec<Pose> = near.iter().map(|s| pose_at(s, m, offered, (0.0, 0.0), z)).collect();
        let scene = site.scene(&poses)?;
        let area = site.zones[z].area;
        let spacing_m = Sampling::for_bass_at(area, SPACING_M, poses.len()).spacing_m;
        let points = Points::grid(&scene, &area.outline, area.ear_m(), spacing_m)?;
        let field = waves(&scene, &points)?.bass_field()?;
        let rows = site.exact(&site.coarse, &poses, None)?;
        for count in 1..=MOST.min(poses.len()) {
            let search = BassSearch { most_evaluations: 40_000, keep: 40, ..BassSearch::new(count) };
            let found = search_subwoofers(&field, &search)?;
            for set in &found.ranking {
                // The crossover takes away what lies above about 100 Hz.
                let low = set.bands.iter().filter(|b| b.band.centre_hz() < 105.0).map(|b| b.level_db);
                let low_db = sum_db(low);
                // Levels are for 1 W of tap and no gain; the largest tap with the reserve kept is what can be had.
                let top_w = offered.taps_w.last().copied().unwrap_or(1.0);
                let most_db = low_db + 10.0 * top_w.log10() - RESERVE_DB;
                let taps = &offered.taps_w;
                // Within the limits, at the level wanted or the most there is.
                let mut level_db = most_db.min(wanted_db);
                let used = limits(site, &rows, set, level_db - low_db);
                let over = used.iter().zip(&before.limits).map(|(a, b)| a / (1.0 - b).max(1e-6));
                let over = over.fold(0.0, f64::max);
                if over > 1.0 {
                    level_db -= 10.0 * over.log10();
                }
                let reaches = level_db >= wanted_db - 1e-9;
                let drive = |t: &f64| low_db + 10.0 * t.log10() - RESERVE_DB >= level_db - 1e-9;
                let enough = taps.iter().position(drive).unwrap_or(taps.len() - 1);
                // The next tap where there is one: rooms and beds take their decibels, and gains only go down.
                let tap_w = taps[(enough + 1).min(taps.len() - 1)];
                let limits = limits(site, &rows, set, level_db - low_db);
                let cost = count as f64 * offered.installed;
                let found = Found {
                    cost,
                    deviation_db: set.deviation_db,
                    poses: set
                        .setting
                        .iter()
                        .map(|s| Pose { tap_w, reversed: s.reversed, ..poses[s.candidate] })
                        .collect(),
                    limits,
                };
                if !reaches {
                    if most.as_ref().is_none_or(|m| level_db > m.0 + 1e-9) {
                        most = Some((level_db, found));
                    }
                    continue;
                }
                let key = |f: &Found| (f.cost, f.deviation_db);
                if best.as_ref().is_none_or(|b| key(&found) < key(b)) {
                    best = Some(found);
                }
            }
        }
    }
    Ok(match (best, most) {
        (Some(found), _) => ForArea { found: Some(found), reached_db: wanted_db },
        (None, Some((reached_db, found))) => ForArea { found: Some(found), reached_db },
        (None, None) => ForArea { found: None, reached_db: f64::NEG_INFINITY },
    })
}

/// Shares of the limits of a set driven to a level.
fn limits(site: &Site<'_>, rows: &[Row], set: &RankedSetting, drive_db: f64) -> Vec<f64> {
    let drive = energy_from_db(drive_db);
    let share = |l: usize| set.setting.iter().map(|s| f64::from(rows[s.candidate].limits[l])).sum::<f64>();
    (0..site.limits.len()).map(|l| drive * share(l)).collect()
}

/// Spots for subwoofers of an area, far from each other, the nearest first.
fn near_spots(site: &Site<'_>, spots: &[Spot], z: usize, before: &Subwoofers) -> Vec<Spot> {
    let outline = &site.zones[z].area.outline;
    let away = |s: &Spot| nearest_in(outline, s.at).distance(s.at);
    let mut left: Vec<Spot> = spots
        .iter()
        .filter(|s| s.out_deg.is_none() && away(s) <= REACH_M)
        .filter(|s| before.poses.iter().all(|p| p.at.distance(s.at) > 1.0))
        .copied()
        .collect();
    left.sort_by(|a, b| away(a).total_cmp(&away(b)));
    let mut kept: Vec<Spot> = Vec::new();
    while kept.len() < SPOTS && !left.is_empty() {
        let gap = |s: &Spot| kept.iter().map(|k| k.at.distance(s.at)).fold(f64::INFINITY, f64::min);
        // Far from those kept, and near to the area.
        let worth = |s: &Spot| gap(s).min(20.0) - 0.8 * away(s);
        let best =
            (0..left.len()).reduce(|a, b| if worth(&left[b]) > worth(&left[a]) + 1e-9 { b } else { a });
        let Some(i) = best else { break };
        kept.push(left.remove(i));
    }
    kept
}
