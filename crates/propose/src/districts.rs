//! The districts of a large site: areas whose loudspeakers are heard in each other, with the neighbours' allowance shared out
//! among them.
//!
//! What an area of a mean level gives elsewhere is reckoned as from a source over a half space that gives this level over the
//! area's square metres: at a distance d from its outline, level - 10 lg(2 pi d^2 / S). Loudspeakers that look away give less, and
//! those that look there up to 6 dB more. It only decides what is designed together; the finished design is held against the brief
//! with everything that plays.

use crate::error::BriefProblem;
use crate::places::{REACH_M, nearest_in};
use indexmap::IndexMap;
use loamline_acoustics::{db_from_energy, energy_from_db};
use loamline_adapt::{neighbour_receivers, neighbour_spacing_m};
use loamline_geometry::{Point2, Polygon};
use loamline_model::document::{Area, JobDocument};
use loamline_model::{Edit, EditError, Job, JobFile, Operation};
use loamline_terms::pointer::escape;
use serde_json::json;
use std::f64::consts::TAU;

/// Areas of which one gives this much less than the target of the other, or more, are designed together, dB: what stays below
/// adds less than half a decibel.
const HEARD_BELOW_DB: f64 = 10.0;

/// Areas nearer to each other are designed together whatever they play, metres: a loudspeaker of one could stand in the other or
/// too near to who listens there.
const APART_M: f64 = REACH_M + 6.0;

/// The lowest limit a neighbour can be given, dB or dBA: nothing quieter can be measured outdoors.
const LEAST_LIMIT_DB: f64 = 10.0;

/// Areas in districts, by their places in the document; each ascending, in the order of their first areas.
pub(crate) fn districts(d: &JobDocument) -> Vec<Vec<usize>> {
    let areas: Vec<&Area> = d.areas.values().collect();
    let mut of: Vec<usize> = (0..areas.len()).collect();
    for a in 0..areas.len() {
        for b in 0..a {
            if of[a] != of[b] && belong_together(areas[a], areas[b]) {
                let (first, other) = (of[a].min(of[b]), of[a].max(of[b]));
                of.iter_mut().filter(|set| **set == other).for_each(|set| *set = first);
            }
        }
    }
    let mut found: IndexMap<usize, Vec<usize>> = IndexMap::new();
    for (area, set) in of.into_iter().enumerate() {
        found.entry(set).or_default().push(area);
    }
    found.into_values().collect()
}

fn belong_together(a: &Area, b: &Area) -> bool {
    let apart_m = between_m(&a.outline, &b.outline);
    let heard = |from: &Area, to: &Area| {
        let spread = TAU * apart_m * apart_m / from.outline.area().max(1e-6);
        from.target_dba - db_from_energy(spread.max(1.0)) > to.target_dba - HEARD_BELOW_DB
    };
    apart_m < APART_M || heard(a, b) || heard(b, a)
}

/// Least distance from a corner of one outline to the inside of the other, metres.
fn between_m(a: &Polygon, b: &Polygon) -> f64 {
    let from = |a: &Polygon, b: &Polygon| {
        a.corners().iter().map(|p| nearest_in(b, *p).distance(*p)).fold(f64::INFINITY, f64::min)
    };
    from(a, b).min(from(b, a))
}

/// The share of each neighbour's allowance that each district may take, as energy, by the neighbour's id: as what they give there
/// at their targets. At every place of the neighbour the shares of all, each falling off with distance from the place that hears it
/// most, come to no more than the whole.
pub(crate) fn shares(
    job: &Job,
    districts: &[Vec<usize>],
) -> Result<IndexMap<String, Vec<f64>>, BriefProblem> {
    let spacing_m = neighbour_spacing_m(job, 1)?;
    let mut all = IndexMap::new();
    for (id, n) in &job.document().neighbours {
        let places: Vec<Point2> =
            neighbour_receivers(job, n, spacing_m).iter().map(|receiver| receiver.plan()).collect();
        let gives = given(job.document(), districts, &places);
        let together = (0..places.len()).map(|p| gives.iter().map(|one| one[p]).sum::<f64>());
        let loudest = together.fold(0.0, f64::max);
        let share = |one: &Vec<f64>| {
            let most = one.iter().copied().fold(0.0, f64::max);
            if loudest > 0.0 { most / loudest } else { 1.0 }
        };
        all.insert(id.clone(), gives.iter().map(share).collect());
    }
    Ok(all)
}

/// What each district gives at each place, re one another.
fn given(d: &JobDocument, districts: &[Vec<usize>], places: &[Point2]) -> Vec<Vec<f64>> {
    let from = |area: &Area, to: Point2| {
        let away_m = nearest_in(&area.outline, to).distance(to).max(1.0);
        energy_from_db(area.target_dba) * area.outline.area() / (away_m * away_m)
    };
    let of = |district: &Vec<usize>, to: Point2| -> f64 {
        district.iter().filter_map(|&a| d.areas.get_index(a)).map(|(_, area)| from(area, to)).sum()
    };
    districts.iter().map(|district| places.iter().map(|p| of(district, *p)).collect()).collect()
}

/// The job of a district: its areas and the loudspeakers that stay there, with its part of the neighbours' allowance, and
/// without what is wished of the whole.
pub(crate) fn part(
    file: &JobFile,
    district: &[usize],
    allowed: impl Fn(&str) -> f64,
) -> Result<JobFile, EditError> {
    let d = file.job().document();
    let mut operations = Vec::new();
    let mut remove = |path: String| operations.push(Operation::Remove { path });
    for (k, id) in d.areas.keys().enumerate() {
        if !district.contains(&k) {
            remove(format!("/areas/{}", escape(id)));
        }
    }
    for (id, l) in &d.loudspeakers {
        if !nearest_area(d, l.position).is_some_and(|area| district.contains(&area)) {
            remove(format!("/loudspeakers/{}", escape(id)));
        }
    }
    for wish in ["/brief/budget", "/brief/wishes/at_most"] {
        if file.raw().pointer(wish).is_some() {
            remove(wish.to_owned());
        }
    }
    for (id, n) in &d.neighbours {
        let lower_db = db_from_energy(allowed(id).clamp(1e-6, 1.0));
        let limits = [
            ("day", Some(n.day_dba)),
            ("night", n.night_dba),
            ("day_63hz", n.day_63hz_db),
            ("night_63hz", n.night_63hz_db),
        ];
        for (key, limit) in limits {
            let Some(limit) = limit else { continue };
            let value = json!(((10.0 * (limit + lower_db)).round() / 10.0).max(LEAST_LIMIT_DB));
            let path = format!("/neighbours/{}/{key}", escape(id));
            operations.push(Operation::Add { path, value, before: None });
        }
    }
    let mut part = file.clone();
    part.apply(&Edit { operations })?;
    Ok(part)
}

/// The area nearest to a place, by its place in the document.
pub(crate) fn nearest_area(d: &JobDocument, at: Point2) -> Option<usize> {
    let away_m = |area: &Area| nearest_in(&area.outline, at).distance(at);
    let areas = d.areas.values().map(away_m).enumerate();
    areas.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(area, _)| area)
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, shipped_catalogue};

    /// Areas of 10 m by 10 m with their south-west corners and targets, and a neighbour's line along the south.
    fn job(areas: &[(f64, f64, f64)]) -> JobFile {
        let mut text = String::from(
            "format = 1\n[job]\nname = \"Areas\"\n[site]\noutline = [[-50, -80], [950, -80], [950, 950], [-50, 950]]\n",
        );
        for (k, (x, y, target)) in areas.iter().enumerate() {
            let (east, north) = (x + 10.0, y + 10.0);
            let outline = format!("[[{x}, {y}], [{east}, {y}], [{east}, {north}], [{x}, {north}]]");
            text += &format!("[areas.a{k}]\noutline = {outline}\ntarget = \"{target} dBA\"\n");
        }
        text += "[neighbours.south]\nline = [[-40, -60], [900, -60]]\nheight = \"4 m\"\nday = \"55 dBA\"\nnight = \"45 dBA\"\n";
        JobFile::from_text(&SourceFile::new("job.toml", text), shipped_catalogue().unwrap()).unwrap()
    }

    #[test]
    fn areas_that_hear_each_other_are_one_district() {
        // By hand, of 100 square metres: 10 dB below at sqrt(10 x 100 / 2 pi) = 12.6 m, 20 dB below at 39.9 m. So of like targets
        // the least distance decides; an area of 10 dB more reaches 39.9 m.
        let of = |areas: &[(f64, f64, f64)]| districts(job(areas).job().document());
        assert_eq!(of(&[(0.0, 0.0, 70.0), (29.0, 0.0, 70.0)]), [vec![0, 1]]);
        assert_eq!(of(&[(0.0, 0.0, 70.0), (31.0, 0.0, 70.0)]), [vec![0], vec![1]]);
        assert_eq!(of(&[(0.0, 0.0, 80.0), (49.0, 0.0, 70.0)]), [vec![0, 1]]);
        assert_eq!(of(&[(0.0, 0.0, 80.0), (51.0, 0.0, 70.0)]), [vec![0], vec![1]]);
        // By way of a third.
        let three = [(0.0, 0.0, 70.0), (200.0, 0.0, 70.0), (56.0, 0.0, 70.0), (28.0, 0.0, 70.0)];
        assert_eq!(of(&three), [vec![0, 2, 3], vec![1]]);
    }

    #[test]
    fn what_districts_may_take_comes_to_no_more_than_the_whole_anywhere() {
        let areas: Vec<(f64, f64, f64)> = (0..12u32)
            .map(|k| (70.0 * f64::from(k % 4), 60.0 * f64::from(k / 4), 66.0 + f64::from(k % 3)))
            .collect();
        let file = job(&areas);
        let (job, d) = (file.job(), file.job().document());
        let districts = districts(d);
        assert_eq!(districts.len(), 12);
        let shares = &shares(job, &districts).unwrap()["south"];
        // Against places of its own, between those that were looked at.
        let places: Vec<Point2> =
            (0..470u32).map(|k| Point2::new(2.0 * f64::from(k) - 39.0, -60.0)).collect();
        let gives = given(d, &districts, &places);
        let mut most = 0.0_f64;
        for p in 0..places.len() {
            let taken = gives.iter().zip(shares).map(|(one, share)| {
                let loudest = one.iter().copied().fold(0.0, f64::max);
                share * one[p] / loudest
            });
            most = most.max(taken.sum());
        }
        assert!(most < 1.01, "{most} of the allowance");
        assert!(most > 0.9, "{most} of the allowance: more could be taken");
        assert!(shares[0] > 4.0 * shares[8], "the nearest row has most of it: {shares:?}");
    }

    #[test]
    fn the_job_of_a_district_has_its_areas_and_its_part_of_the_allowance() {
        let file = job(&[(0.0, 0.0, 70.0), (300.0, 0.0, 70.0)]);
        let part = part(&file, &[1], |_| 0.5).unwrap();
        let d = part.job().document();
        assert_eq!(d.areas.keys().collect::<Vec<_>>(), ["a1"]);
        let n = &d.neighbours["south"];
        // Half of the energy is 3.0 dB less.
        assert!((n.day_dba - 52.0).abs() < 1e-9 && (n.night_dba.unwrap() - 42.0).abs() < 1e-9, "{n:?}");
    }
}
