//! The neighbours: levels by ISO 9613-2 against the limits of the brief.

use crate::against_limit::{Judged, NOT_NAMED_DB, ReflectedBy};
use crate::along_boundary::{Along, COARSE_M, finest_m, is_large, levels_along};
use crate::asked_limits::{When, hours_finding};
use crate::boundary_findings::finding;
use crate::error::NeighbourError;
use crate::finding::{Finding, Severity, Subject};
use crate::memo::MemoById;
use crate::names::{named, neighbour_words};
use indexmap::IndexMap;
use loamline_acoustics::{
    BoundaryProblem, BoundaryScene, FaceOf, ISO_OCTAVES, Judgement, LimitQuantity, NeighbourLimit,
    ReceiverLevel, judge,
};
use loamline_adapt::{
    NEIGHBOUR_SPACING_M, Sound, floor_of_receiver, neighbour_receivers, neighbour_scene, neighbour_spacing_m,
    sounding_walls,
};
use loamline_limits::{NEIGHBOUR_PAIRS, Unit};
use loamline_model::Job;
use loamline_model::document::{InStep, Neighbour};
use loamline_terms::{Measure, Sentence, say, template};
use serde::Serialize;

/// Levels at a neighbour.
#[derive(Debug, Clone, Serialize)]
pub struct NeighbourLevels {
    /// Its name.
    pub name: String,
    /// Levels at its points with the system as set for the day.
    pub receivers: Vec<ReceiverLevel>,
    /// By day: every limit with its worst point, floor by floor.
    pub day: Vec<Judged>,
    /// By night, turned down as the brief says.
    pub night: Vec<Judged>,
}

impl NeighbourLevels {
    /// The same without what each loudspeaker gives at each of its points.
    #[must_use]
    pub fn summed(&self) -> Self {
        Self {
            name: self.name.clone(),
            receivers: self.receivers.iter().map(ReceiverLevel::summed).collect(),
            day: self.day.clone(),
            night: self.night.clone(),
        }
    }
}

/// Levels at every neighbour by ISO 9613-2, with what wants attention.
pub fn neighbours(job: &Job, sound: &Sound) -> (IndexMap<String, NeighbourLevels>, Vec<Finding>) {
    neighbours_kept(job, sound, &KeptNeighbours::default())
}

/// Levels at neighbours kept by the scene they were worked out for: of a scene in which a few loudspeakers moved, only those
/// are worked out.
#[derive(Debug)]
pub(crate) struct KeptNeighbours(
    MemoById<(BoundaryScene, Along), Result<Vec<ReceiverLevel>, NeighbourError>>,
);

impl Default for KeptNeighbours {
    fn default() -> Self {
        Self(MemoById::new(2))
    }
}

impl KeptNeighbours {
    /// How many neighbours have been worked out, in whole or in part.
    pub(crate) fn made(&self) -> u64 {
        self.0.made()
    }
}

/// As [`neighbours`], with what is kept from before.
pub(crate) fn neighbours_kept(
    job: &Job,
    sound: &Sound,
    kept: &KeptNeighbours,
) -> (IndexMap<String, NeighbourLevels>, Vec<Finding>) {
    let mut findings = Vec::new();
    let mut all = IndexMap::new();
    if sound.sources.is_empty() {
        return (all, findings);
    }
    let spacing_m = match neighbour_spacing_m(job, sound.sources.len()) {
        Ok(spacing_m) => spacing_m,
        Err(more) => {
            let what = say!("Neighbours: {reason}.", reason = more.to_string());
            let told = Finding::new(Severity::Error, Subject::new("neighbours", ""), what);
            return (all, vec![told]);
        }
    };
    findings.extend(coarser(job, sound.sources.len(), spacing_m));
    findings.extend(hours_finding(job));
    for (id, n) in &job.document().neighbours {
        match neighbour(job, sound, (id, n), spacing_m, kept) {
            Ok(levels) => {
                for (when, judged) in [(When::Day, &levels.day), (When::Night, &levels.night)] {
                    let when = when.told(&job.document().brief);
                    findings.extend(judged.iter().filter_map(|j| finding(job, id, &when, j)));
                }
                all.insert(id.clone(), levels);
            }
            Err(why) => {
                findings.push(not_worked_out(job, &sound.sources, id, &why));
            }
        }
    }
    kept.0.keep_only(|id| job.document().neighbours.contains_key(id));
    (all, findings)
}

fn neighbour(
    job: &Job,
    sound: &Sound,
    (id, n): (&str, &Neighbour),
    spacing_m: f64,
    kept: &KeptNeighbours,
) -> Result<NeighbourLevels, NeighbourError> {
    let loudspeakers = sound.sources.len();
    let all = neighbour_receivers(job, n, finest_m(n, loudspeakers, spacing_m));
    let mut scene = neighbour_scene(job, sound, &all)?;
    let coarse_m = is_large(loudspeakers).then(|| spacing_m.max(COARSE_M));
    let worst = job.document().brief.neighbour_in_step == InStep::Worst;
    let along = Along::of(n, std::mem::take(&mut scene.receivers), coarse_m, worst);
    scene.receivers = along.first_receivers();
    let made = kept.0.get(id, (scene, along), |(scene, along), earlier| {
        let earlier = earlier.and_then(|((before, _), levels)| Some((before, levels.as_deref().ok()?)));
        Ok(levels_along(scene, along, earlier)?)
    });
    let day_levels = (*made).clone()?;
    let night_levels: Vec<ReceiverLevel> =
        day_levels.iter().map(|r| turned_down(r, job.document().brief.night_turn_down_db)).collect();
    let judged = |levels: &[ReceiverLevel], total: f64, octave: Option<f64>| {
        let worst_in_step = job.document().brief.neighbour_in_step == InStep::Worst;
        let limit = NeighbourLimit { total_dba: Some(total), octave_63_hz_db: octave, worst_in_step };
        let floor_by_floor = n.levels_m().into_iter().flat_map(|(floor, _)| {
            let on_it = |i: &usize| floor_of_receiver(n, *i) == floor;
            let places: Vec<usize> = (0..levels.len()).filter(on_it).collect();
            let of_floor: Vec<ReceiverLevel> = places.iter().map(|i| levels[*i].clone()).collect();
            let named = move |j: Judgement| Judged {
                floor: floor.map(str::to_owned),
                loudest_loudspeaker: sound.sources[j.loudest_source].clone(),
                reflected_by: reflected_by(job, &levels[places[j.receiver]], j.quantity),
                judgement: Judgement { receiver: places[j.receiver], ..j },
            };
            judge(&of_floor, &limit).into_iter().map(named)
        });
        floor_by_floor.collect()
    };
    let night = judged(&night_levels, n.night_dba.unwrap_or(n.day_dba), n.night_63hz_db.or(n.day_63hz_db));
    let day = judged(&day_levels, n.day_dba, n.day_63hz_db);
    Ok(NeighbourLevels { name: n.name.clone(), receivers: day_levels, day, night })
}

/// Why nothing is told of a neighbour: each reason once.
fn not_worked_out(job: &Job, loudspeakers: &[String], id: &str, why: &NeighbourError) -> Finding {
    let mut reasons: Vec<Sentence> = Vec::new();
    let mut inside = false;
    let problems: &[BoundaryProblem] = match why {
        NeighbourError::Scene(scene) => scene.problems.as_slice(),
        NeighbourError::Air(air) => {
            reasons.push(air.to_string().into());
            &[]
        }
    };
    for problem in problems {
        let reason = match problem {
            BoundaryProblem::Inside { what, number, building, height_m } => {
                inside = true;
                let at = |number: &usize| number.saturating_sub(1);
                let house = job.document().buildings.get_index(at(building));
                let house = match house {
                    Some((id, b)) => named(&b.name, template!("building {id}"), id),
                    None => say!("building {id}", id = building.to_string()),
                };
                let source = loudspeakers.get(at(number)).filter(|_| *what == "source");
                let who = match source {
                    Some(tag) => say!("loudspeaker {id}", id = tag),
                    None => say!("it"),
                };
                say!(
                    "{who} is drawn inside {house}, below its roof of {height}",
                    who = who,
                    house = house,
                    height = Measure::Length(*height_m)
                )
            }
            other => other.to_string().into(),
        };
        if !reasons.contains(&reason) {
            reasons.push(reason);
        }
    }
    let named = job.document().neighbours.get(id).map(|n| neighbour_words(id, n, None));
    let mut sentence = named.unwrap_or_else(|| say!("Neighbour {id}", id = id));
    for (number, reason) in reasons.into_iter().enumerate() {
        sentence = sentence + if number == 0 { ": " } else { "; " };
        sentence = sentence + reason;
    }
    let sentence = sentence + ".";
    let finding = Finding::new(Severity::Error, Subject::new("neighbours", id), sentence);
    if inside {
        finding.mend(say!(
            "Move it out of the building's outline, to the face or beyond, or say a height above the roof."
        ))
    } else {
        finding
    }
}

fn coarser(job: &Job, loudspeakers: usize, spacing_m: f64) -> Option<Finding> {
    let (id, _) = job.document().neighbours.iter().find(|(_, n)| n.line.len() > 1)?;
    let (usual_m, finer) = if is_large(loudspeakers) {
        (COARSE_M, say!(", more finely where it is loudest"))
    } else {
        (NEIGHBOUR_SPACING_M, Sentence::default())
    };
    if spacing_m <= usual_m {
        return None;
    }
    let most =
        Unit::Count.show(NEIGHBOUR_PAIRS.number / u64::try_from(loudspeakers.max(1)).unwrap_or(u64::MAX));
    let sentence = say!(
        "The boundary lines of the neighbours are looked at every {spacing} instead of every {usual}{finer}: with {count} \
         loudspeakers at most {most} places are worked out.",
        spacing = Measure::Length(spacing_m),
        usual = Measure::Length(usual_m),
        finer = finer,
        count = loudspeakers.to_string(),
        most = most
    );
    let about = Subject::new("neighbours", id);
    Some(
        Finding::new(Severity::Note, about, sentence)
            .mend(say!("Draw only the part of a boundary that faces the site.")),
    )
}

fn reflected_by(job: &Job, level: &ReceiverLevel, quantity: LimitQuantity) -> Vec<ReflectedBy> {
    let by_face = level.reflected_db(quantity.octave()).into_iter();
    by_face
        .filter(|(_, adds_db)| *adds_db >= NOT_NAMED_DB)
        .map(|(face, adds_db)| ReflectedBy { what: face_words(job, face), adds_db })
        .collect()
}

/// What a face belongs to: by its name, else by its id in the document.
fn face_words(job: &Job, face: FaceOf) -> Sentence {
    match face {
        FaceOf::Screen(i) => match sounding_walls(job).nth(i) {
            Some((id, w)) => named(&w.name, template!("wall {id}"), id),
            None => say!("wall"),
        },
        FaceOf::Building(i) => match job.document().buildings.get_index(i) {
            Some((id, b)) => named(&b.name, template!("building {id}"), id),
            None => say!("building"),
        },
        FaceOf::Step(_) => say!("a step in the ground"),
    }
}

fn turned_down(r: &ReceiverLevel, db: f64) -> ReceiverLevel {
    let mut r = r.clone();
    let less = |bands: &mut [f64; ISO_OCTAVES]| bands.iter_mut().for_each(|l| *l -= db);
    r.levels.lower(db);
    less(&mut r.in_step_bands_db);
    r.in_step_extension_31_hz_db = r.in_step_extension_31_hz_db.map(|l| l - db);
    r.in_step_dba -= db;
    for c in &mut r.contributions {
        c.levels.lower(db);
        less(&mut c.straight_bands_db);
        c.straight_dba -= db;
        c.reflections.iter_mut().for_each(|f| f.levels.lower(db));
    }
    r
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_acoustics::BoundarySceneError;
    use loamline_model::{SourceFile, read_job};

    /// A line looked at in eight places, all of them in one house: one sentence, with the name the house has.
    #[test]
    fn a_neighbour_inside_a_house_is_told_once_and_by_name() {
        let text = "format = 1\n[job]\nname = \"House\"\n[buildings.barn]\noutline = [[40, 0], [50, 0], [50, 9], [40, 9]]\nheight = 4\n\
                    [buildings.house]\noutline = [[0, 7], [16, 7], [16, 16], [0, 16]]\nheight = 12\n";
        let job = read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap();
        let inside = |what, number| BoundaryProblem::Inside { what, number, building: 2, height_m: 12.0 };
        let mut problems: Vec<BoundaryProblem> = (1..=8).map(|number| inside("receiver", number)).collect();
        let told = |problems: &[BoundaryProblem]| {
            let why = NeighbourError::Scene(BoundarySceneError { problems: problems.to_vec() });
            not_worked_out(&job, &["L1".to_owned(), "L2".to_owned()], "above", &why).sentence
        };
        let once = "Neighbour above: it is drawn inside building house, below its roof of 12.0 m";
        assert_eq!(told(&problems), format!("{once}."));
        problems.push(inside("source", 2));
        assert!(
            told(&problems).starts_with(once) && told(&problems).contains("; loudspeaker L2 is drawn inside")
        );
    }
}
