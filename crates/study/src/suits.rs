//! Findings about equipment that does not suit its place: held against what the job says is asked for there, by the local code
//! or whoever is responsible. Where the job asks for nothing, nothing is said; what the catalogue does not know is a note.
//!
//! That a cable crosses mains cable at a right angle, or nearly so, and does not lie beside it, is common practice, no source.

use crate::finding::{Finding, Remedy, Severity, Subject};
use crate::names::called;
use indexmap::IndexMap;
use loamline_adapt::{LaidRun, laid_cables};
use loamline_geometry::{Point2, Segment};
use loamline_limits::go_on;
use loamline_model::Job;
use loamline_model::catalogue::Withstands;
use loamline_model::document::{LocalFigures, ServiceKind, SurfaceKind};
use loamline_terms::{Measure, Sentence, all_of, say};
use std::f64::consts::SQRT_2;

/// Findings about loudspeakers, racks and cable that do not suit the place they are in.
pub(crate) fn suits_findings(job: &Job, runs: &[LaidRun]) -> Vec<Finding> {
    let mut found = loudspeakers_outdoors(job);
    found.extend(cable_in_the_air(job, runs));
    found.extend(near_water(job));
    found.extend(near_mains(job, runs));
    found
}

/// What is said of something that is held against what is asked for: how much it matters, and the rest of a sentence that
/// begins with what it is.
type Held = (Severity, Sentence);

/// Every model that stands outdoors, with the loudspeakers of it.
fn loudspeakers_outdoors(job: &Job) -> Vec<Finding> {
    let mut models: IndexMap<&str, Vec<&str>> = IndexMap::new();
    for l in job.loudspeakers() {
        models.entry(&l.placed.model).or_default().push(l.id);
    }
    let mut found = Vec::new();
    for (id, tags) in models {
        let Some(model) = job.catalogue().loudspeakers.get(id) else { continue };
        let named = say!("{tags} ({model})", tags = all_of(&tags), model = id);
        for (severity, rest) in held(&model.withstands, &job.document().site.local) {
            let sentence = named.clone() + ": " + rest;
            let about = Subject::new("loudspeakers", tags[0]);
            let mend = match severity {
                Severity::Note => say!("Ask its maker, and put it into the catalogue."),
                _ => say!("Use a model that is made for it, or ask its maker."),
            };
            found.push(Finding::new(severity, about, sentence).mend(mend));
        }
    }
    found
}

/// What a model withstands against what is asked for.
fn held(has: &Withstands, asked: &LocalFigures) -> Vec<Held> {
    let mut said: Vec<Held> = Vec::new();
    match (asked.protection, has.protection) {
        (Some(asked), Some(has)) if !has.meets(asked) => {
            let (has, asked) = (has.to_string(), asked.to_string());
            let what = say!("protection is {has}, {asked} is asked for here.", has = has, asked = asked);
            said.push((Severity::Error, what));
        }
        (Some(asked), None) => {
            let what = say!("protection is not known, {asked} is asked for here.", asked = asked.to_string());
            said.push((Severity::Note, what));
        }
        _ => {}
    }
    said.extend(in_air((has.coldest_c, has.hottest_c), asked));
    if asked.salt_air {
        match has.salt_air {
            Some(false) => {
                said.push((Severity::Warning, say!("not made for salt air, and the air here is.")))
            }
            None => said.push((
                Severity::Note,
                say!("whether it is made for salt air is not known, and the air here is."),
            )),
            Some(true) => {}
        }
    }
    if has.sunlight == Some(false) {
        said.push((Severity::Warning, say!("not made for sunlight; ultraviolet embrittles it.")));
    }
    said
}

/// A range of air, coldest and hottest, degrees Celsius, against that of the place.
fn in_air((coldest, hottest): (Option<f64>, Option<f64>), asked: &LocalFigures) -> Vec<Held> {
    let one = |may: Option<f64>, is: Option<f64>, too_far: fn(f64, f64) -> bool, end: Sentence| {
        let is = is?;
        match may {
            Some(may) if too_far(is, may) => Some((
                Severity::Warning,
                say!(
                    "made for air of {may} at the {end}, and it gets {is} here.",
                    may = Measure::Temperature(may),
                    end = end,
                    is = Measure::Temperature(is)
                ),
            )),
            Some(_) => None,
            None => Some((
                Severity::Note,
                say!(
                    "what air it may stand in at the {end} is not known; it gets {is} here.",
                    end = end,
                    is = Measure::Temperature(is)
                ),
            )),
        }
    };
    [
        one(coldest, asked.coldest_c, |is, may| is < may, say!("coldest")),
        one(hottest, asked.hottest_c, |is, may| is > may, say!("hottest")),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Types of cable to lay against the air of the place.
fn cable_in_the_air(job: &Job, runs: &[LaidRun]) -> Vec<Finding> {
    let mut types: IndexMap<String, Vec<String>> = IndexMap::new();
    for cable in laid_cables(job, runs).into_iter().filter(|c| !c.existing) {
        types.entry(cable.cable).or_default().push(cable.tag);
    }
    let mut found = Vec::new();
    for (id, tags) in &types {
        let Some(cable) = job.catalogue().cables.get(id) else { continue };
        let Some(run) = runs.iter().find(|r| r.cable == *id && !r.is_existing()) else { continue };
        for (severity, rest) in in_air((cable.coldest_c, cable.hottest_c), &job.document().site.local) {
            let sentence = say!("Cable {id} ({tags}): ", id = id, tags = all_of(tags)) + rest;
            let mend = say!("Use a cable that is made for it, or ask its maker.");
            found.push(Finding::new(severity, Subject::run(&run.line, &run.id), sentence).mend(mend));
        }
    }
    found
}

/// Loudspeakers and racks nearer to open water than is asked for.
fn near_water(job: &Job) -> Vec<Finding> {
    let d = job.document();
    let Some(asked) = d.site.local.from_water_m else { return Vec::new() };
    let loudspeakers = job.loudspeakers().map(|l| ("loudspeakers", l.id, l.placed.position));
    let racks = d.racks.iter().map(|(id, r)| ("racks", id.as_str(), r.position));
    let mut found = Vec::new();
    for (table, id, at) in loudspeakers.chain(racks) {
        go_on();
        // In water is told elsewhere.
        let waters =
            d.surfaces.iter().filter(|(_, s)| s.kind == SurfaceKind::Water && !s.outline.contains(at));
        for (water, surface) in waters {
            let is = surface.outline.distance_to_outline(at);
            if is < asked {
                let what = match table {
                    "racks" => say!("Rack {id}", id = id),
                    _ => say!("Loudspeaker {id}", id = id),
                };
                let sentence = say!(
                    "{what} is {is} from {water}; {asked} is asked for here.",
                    what = what,
                    is = Measure::Clearance(is),
                    water = called(&surface.name, water),
                    asked = Measure::Clearance(asked)
                );
                let mend = say!("Move it away from the water. The local code decides.");
                found.push(Finding::new(Severity::Error, Subject::new(table, id), sentence).mend(mend));
            }
        }
    }
    found
}

/// A stretch of a way nearer to a service than is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Beside {
    length_m: f64,
    nearest_m: f64,
}

/// Cables that lie beside buried mains cable, nearer than is asked for.
pub(crate) fn near_mains(job: &Job, runs: &[LaidRun]) -> Vec<Finding> {
    let d = job.document();
    let Some(asked) = d.site.local.from_mains_m.filter(|m| *m > 0.0) else { return Vec::new() };
    let mut found = Vec::new();
    for cable in laid_cables(job, runs).iter().filter(|c| !c.existing) {
        let Some(run) = runs.get(cable.lead) else { continue };
        for (id, service) in d.services.iter().filter(|(_, s)| s.kind == ServiceKind::Electric) {
            let Some(beside) = beside(&run.way, &service.line, asked) else { continue };
            let sentence = say!(
                "Run {run} lies {length} beside mains cable {service}, {nearest} from it at the nearest; {asked} is asked for here.",
                run = &cable.tag,
                length = Measure::Length(beside.length_m),
                service = id,
                nearest = Measure::Clearance(beside.nearest_m),
                asked = Measure::Clearance(asked)
            );
            let mend = say!(
                "Lead it farther away, and across only at a right angle. The local code decides what lies between."
            );
            let finding = Finding::new(Severity::Error, Subject::run(&run.line, &run.id), sentence);
            found.push(finding.mend(mend).by(Remedy::Routes));
        }
    }
    found
}

/// How finely a way is looked at, as a part of the distance asked for: what is told is right to that part.
const STEPS_A_DISTANCE: f64 = 10.0;
/// Most places a piece of a way is looked at.
const MOST_STEPS: f64 = 10_000.0;
/// Ways are written to the centimetre, so a corner is off by at most half the diagonal of one, metres: a way that keeps the
/// distance is not told for how it is written. More would let ways pass that a rule seen off by this would not.
const WRITTEN_M: f64 = 0.0075;
/// Shortest stretch that is told, metres: less is no length that anybody could measure or lead elsewhere.
const LEAST_M: f64 = 0.05;

/// All of a way that lies within `asked_m` of a service, but for crossings at 45 degrees or steeper; `None` where nothing does,
/// as ways are written.
fn beside(way: &[Point2], service: &[Point2], asked_m: f64) -> Option<Beside> {
    let pieces: Vec<Segment> = service.windows(2).map(|w| Segment::new(w[0], w[1])).collect();
    let distance = |at: Point2| pieces.iter().map(|s| s.distance_to(at)).fold(f64::INFINITY, f64::min);
    let kept_m = asked_m - WRITTEN_M;
    let mut all = Beside { length_m: 0.0, nearest_m: f64::INFINITY };
    let mut stretch = all;
    // A crossing at 45 degrees is as long as this within the distance on both sides; one step more is rounding.
    let crossing_m = 2.0 * asked_m * SQRT_2 + 2.0 * asked_m / STEPS_A_DISTANCE;
    let mut end = |stretch: &mut Beside| {
        let crosses = stretch.nearest_m <= asked_m / STEPS_A_DISTANCE;
        if stretch.length_m >= LEAST_M && !(crosses && stretch.length_m <= crossing_m) {
            all.length_m += stretch.length_m;
            all.nearest_m = all.nearest_m.min(stretch.nearest_m);
        }
        *stretch = Beside { length_m: 0.0, nearest_m: f64::INFINITY };
    };
    for w in way.windows(2) {
        go_on();
        let piece = Segment::new(w[0], w[1]);
        if pieces.iter().all(|s| s.distance_to_segment(piece) >= kept_m) {
            end(&mut stretch);
            continue;
        }
        let steps = (piece.length() * STEPS_A_DISTANCE / asked_m).ceil().clamp(1.0, MOST_STEPS);
        for step in 0..steps as u32 {
            let is = distance(w[0].lerp(w[1], (f64::from(step) + 0.5) / steps));
            if is < kept_m {
                stretch.length_m += piece.length() / steps;
                stretch.nearest_m = stretch.nearest_m.min(is);
            } else {
                end(&mut stretch);
            }
        }
    }
    end(&mut stretch);
    (all.length_m > 0.0).then_some(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn way(points: &[(f64, f64)]) -> Vec<Point2> {
        points.iter().map(|(x, y)| Point2::new(*x, *y)).collect()
    }

    /// By hand: 10 m side by side at 0.2 m; a crossing at a right angle is none of it, one at 10 degrees is.
    #[test]
    fn what_lies_beside_is_told_and_a_square_crossing_is_not() {
        let mains = way(&[(0.0, 0.0), (50.0, 0.0)]);
        let along = beside(&way(&[(10.0, 5.0), (10.0, 0.2), (20.0, 0.2), (20.0, 5.0)]), &mains, 0.5);
        let along = along.expect("lies beside");
        // The two legs add 0.3 m each until they are 0.5 m away.
        assert!((along.length_m - 10.6).abs() <= 0.2, "{along:?}");
        assert!((along.nearest_m - 0.2).abs() < 1e-9, "{along:?}");
        assert_eq!(beside(&way(&[(10.0, -5.0), (10.0, 5.0)]), &mains, 0.5), None);
        assert_eq!(beside(&way(&[(10.0, -5.0), (20.0, 5.0)]), &mains, 0.5), None, "45 degrees");
        let slope = 10.0 * 10f64.to_radians().tan();
        let flat = beside(&way(&[(10.0, -slope), (30.0, slope)]), &mains, 0.5).expect("lies beside");
        assert!((flat.length_m - 1.0 / 10f64.to_radians().sin()).abs() <= 0.2, "{flat:?}");
        assert_eq!(beside(&way(&[(0.0, 0.5), (50.0, 0.5)]), &mains, 0.5), None, "as far as is asked for");
    }

    /// Laid by hand: mains ends one foot (0.3048 m) east of a corner at x = 34.1376 m that a way goes round; to the centimetre that
    /// corner is at 34.14. A way that is truly nearer is told, however short its stretch is, down to what can be laid elsewhere.
    #[test]
    fn a_way_that_keeps_the_distance_is_not_told_for_being_written_to_the_centimetre() {
        let mains = way(&[(34.4424, 18.288), (36.0, 12.0)]);
        let round = |x: f64| beside(&way(&[(30.0, 18.29), (x, 18.29), (x, 25.0)]), &mains, 0.3048);
        assert_eq!(round(34.14), None, "as it is written");
        let nearer = round(34.20).expect("6 cm nearer than is asked for");
        assert!(nearer.length_m >= 0.05 && (nearer.nearest_m - 0.2424).abs() <= 0.01, "{nearer:?}");
        assert_eq!(
            beside(&way(&[(34.4424, 19.0), (34.4424, 18.55)]), &mains, 0.3048),
            None,
            "3 cm of an end"
        );
    }
}
