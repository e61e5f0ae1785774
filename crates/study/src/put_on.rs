//! Putting loudspeakers on a line, or taking them off, with the cable and the tap that go with it.
//!
//! On a line that is laid out already each loudspeaker gets one run of its own: the cheapest way over the ground from the
//! nearest things on the line. What lies already stays as it lies; routing the whole line again may find less cable.

use crate::no_way::NoWay;
use crate::routes::{onto_wall, point};
use loamline_adapt::{ground_plan, taps_w};
use loamline_geometry::Point2;
use loamline_model::document::Mount;
use loamline_model::{Edit, EditError, Job, JobFile, JobNode, LineView, Operation};
use loamline_routing::{CableToLay, GroundMap, Path, RunEnd};
use loamline_terms::{Measure, Sentence, say};
use rust_decimal::prelude::ToPrimitive;
use serde_json::{Map, Value, json};

/// Ends of cable that are tried from each loudspeaker, nearest first: more finds a cheaper way now and then and costs a
/// search of the whole ground each.
const NEAREST: usize = 4;

/// Loudspeakers put on a line or taken off it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PutOn {
    /// The edit, whole.
    pub edit: Edit,
    /// What it does besides, in sentences.
    pub told: Vec<Sentence>,
}

/// Why loudspeakers cannot be put on a line.
#[derive(Debug, thiserror::Error)]
pub enum PutOnError {
    /// The job would make no sense, or there is no such thing.
    #[error(transparent)]
    Edit(#[from] EditError),
    /// There is no way for the cable, or none can be looked for.
    #[error(transparent)]
    NoWay(#[from] NoWay),
}

/// The edit that puts loudspeakers on a line, or on none; carried out after `first`.
///
/// # Errors
/// [`PutOnError`], with the loudspeaker it is about.
pub fn put_on(
    file: &JobFile,
    first: &Edit,
    loudspeakers: &[String],
    line: Option<&str>,
) -> Result<PutOn, PutOnError> {
    let before = file;
    let mut file = file.clone();
    let mut out = PutOn::default();
    carry_out(&mut file, first.clone(), &mut out)?;
    for id in loudspeakers {
        if file.job().loudspeaker(id).is_some_and(|l| l.placed.line.as_deref() == line) {
            continue;
        }
        let off = file.unhook(id).map_err(EditError::from)?;
        out.told.extend(off.cable);
        carry_out(&mut file, off.edit, &mut out)?;
        if let Some(line) = line {
            let (edit, told) = hooked(file.job(), id, line)?;
            out.told.extend(told);
            carry_out(&mut file, edit, &mut out)?;
        }
    }
    out.told.extend(before.readings_kept_told(&out.edit));
    Ok(out)
}

fn carry_out(file: &mut JobFile, edit: Edit, out: &mut PutOn) -> Result<(), PutOnError> {
    if !edit.operations.is_empty() {
        file.apply(&edit)?;
        out.edit.operations.extend(edit.operations);
    }
    Ok(())
}

/// The edit that hangs a loudspeaker that is on no line on one, and what it does besides.
fn hooked(job: &Job, id: &str, line: &str) -> Result<(Edit, Vec<Sentence>), PutOnError> {
    let mut operations =
        vec![Operation::Add { path: format!("/loudspeakers/{id}/line"), value: json!(line), before: None }];
    let mut told = Vec::new();
    if let Some(view) = job.line(line) {
        operations.extend(tap(job, &view, id, &mut told));
        if !view.line.runs.is_empty() {
            let (path, run) = led_there(job, &view, id, &mut told)?;
            operations.push(Operation::Add { path, value: run, before: None });
        }
    }
    // What cannot be (no such line, no transformer for it) the check of the edit says.
    Ok((Edit::new(operations), told))
}

/// A line of constant voltage wants a tap: the one in the middle of the model's, where none is chosen. A low-impedance line
/// wants none.
fn tap(job: &Job, view: &LineView<'_>, id: &str, told: &mut Vec<Sentence>) -> Option<Operation> {
    let l = job.loudspeaker(id)?;
    let path = format!("/loudspeakers/{id}/tap");
    let Some(rated_v) = view.line_v() else {
        l.placed.tap_w?;
        told.push(say!("{tag} has no tap any more: line {line} is low impedance.", tag = id, line = view.id));
        return Some(Operation::Remove { path });
    };
    if l.placed.tap_w.is_some() {
        return None;
    }
    let taps = taps_w(l.model.transformer.as_ref()?, rated_v);
    let middle = taps.get(taps.len().saturating_sub(1) / 2)?;
    told.push(say!("{tag} is set to its {tap} W tap.", tag = id, tap = middle.to_string()));
    Some(Operation::Add { path, value: json!(middle), before: None })
}

/// The run that leads to a loudspeaker from the line: its place in the document and what it is.
fn led_there(
    job: &Job,
    view: &LineView<'_>,
    id: &str,
    told: &mut Vec<Sentence>,
) -> Result<(String, Value), NoWay> {
    let unknown = || NoWay::NoLoudspeaker { tag: id.to_owned() };
    let l = job.loudspeaker(id).ok_or_else(unknown)?;
    let at = |p: Point2, mount: Mount| match mount {
        Mount::Bracket | Mount::Eaves => onto_wall(job, p),
        Mount::Stake | Mount::Surface | Mount::InGround | Mount::Base => p,
    };
    let to = at(l.placed.position, l.mount);
    let mut ends: Vec<(&str, Point2)> = view
        .tree
        .nodes()
        .filter_map(|n| {
            let node = job.node(n)?;
            let place = node.position();
            Some(match node {
                JobNode::Loudspeaker(_) => (n, at(place, job.loudspeaker(n)?.mount)),
                JobNode::Rack(_) => (n, onto_wall(job, place)),
                JobNode::Joint(_) | JobNode::Stub(_) => (n, place),
            })
        })
        .collect();
    ends.sort_by(|a, b| a.1.distance(to).total_cmp(&b.1.distance(to)).then(a.0.cmp(b.0)));
    let plan = ground_plan(job).ok_or(NoWay::EmptySite)?;
    let ground = GroundMap::new(plan).map_err(NoWay::Ground)?;
    let cable = CableToLay {
        price_per_m: view.cable.price_per_m.to_f64().unwrap_or(1.0),
        outside_diameter_mm: 1000.0 * view.cable.outside_diameter_m,
    };
    let mut best: Option<(f64, &str, Path)> = None;
    let mut refused = None;
    for (name, from) in ends.into_iter().take(NEAREST) {
        let place = |name: &str, at| RunEnd { name: name.to_owned(), at };
        match ground.path(&place(name, from), &place(&format!("loudspeaker {id}"), to), &cable) {
            Ok(path) => {
                let cost = path.cost(cable.price_per_m);
                if best.as_ref().is_none_or(|b| cost < b.0) {
                    best = Some((cost, name, path));
                }
            }
            Err(e) => refused = refused.or(Some(e)),
        }
    }
    let Some((_, from, path)) = best else {
        let (tag, line) = (id.to_owned(), view.id.to_owned());
        return Err(match refused {
            Some(error) => NoWay::Refused { tag, line, error: Box::new(error) },
            None => NoWay::NothingToJoin { tag, line },
        });
    };
    let mut tags = job.document().run_tags(view.id).skip(view.line.runs.len());
    let tag = tags.find(|t| !view.line.runs.contains_key(t)).unwrap_or_default();
    told.push(say!(
        "Run {run} leads to it from {from}, {way} along the ground.",
        run = &tag,
        from = from,
        way = Measure::Length(path.length_m)
    ));
    Ok((format!("/lines/{}/runs/{tag}", view.id), run_value(from, id, &path)))
}

fn run_value(from: &str, to: &str, path: &Path) -> Value {
    let mut run = Map::new();
    run.insert("from".into(), json!(from));
    run.insert("to".into(), json!(to));
    let inner = path.waypoints.len().saturating_sub(2);
    let via: Vec<Value> = path.waypoints.iter().skip(1).take(inner).map(|w| point(w.at)).collect();
    if !via.is_empty() {
        run.insert("via".into(), Value::Array(via));
    }
    if !path.sleeves.is_empty() {
        run.insert("sleeves".into(), json!(path.sleeves));
    }
    Value::Object(run)
}
