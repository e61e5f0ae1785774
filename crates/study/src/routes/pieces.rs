//! Runs that no spool of their cable holds, in pieces with a buried joint between each two.
//!
//! A joint is made where a crew gets at it again: in a bed, gravel, bare soil or woodland, or in a lawn; never under paving or a
//! deck, in a sleeve, along a face, indoors, or within what a buried service is to be kept clear by. A run is cut into the
//! fewest pieces; of the ways to do that into those with the fewest joints in a lawn, and of these into those whose longest
//! piece is shortest (common practice, no source). Left as they are: runs that a person fixed, whose length was stated, that
//! stand in series, or that are there already.

use super::draw::{Names, exactly, run_value, to_the_centimetre};
use crate::spools::no_spool_holds;
use loamline_adapt::{LaidPiece, LaidRun, laid_cables, length_rules};
use loamline_geometry::{Point2, Segment, polyline_length};
use loamline_limits::go_on;
use loamline_model::document::{JobDocument, Joint, JointKind, Laying, Run, SurfaceKind};
use loamline_model::{Edit, Job, Operation};
use loamline_terms::pointer::escape;
use serde_json::{Map, Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// Places looked at along a run: so far apart, metres, and about so many at most. Nearer together tells nothing that a spade
/// would keep to; more take time that grows with their square.
const STEP_M: f64 = 0.5;
const MOST_PLACES: f64 = 400.0;
/// Distance of a joint from the edge of the ground it lies in, from a corner of the way and from the ends of the run, metres:
/// room to dig, a corner that stays one corner, and no two joints in one hole.
const ASIDE_M: f64 = 0.3;
const OFF_CORNER_M: f64 = 0.05;
const OFF_END_M: f64 = 1.0;
/// Kept on a spool for what is measured off: up to a whole foot, and places to the centimetre.
const MEASURED_OFF_M: f64 = 0.35;

/// What it takes to lay every run of a job in pieces that spools hold.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct InPieces {
    /// The edit that puts the joints in; without operations where there is nothing to divide.
    pub edit: Edit,
    /// Lines with a run that no spool of its cable holds and that cannot be divided.
    pub whole: BTreeSet<String>,
}

/// What it takes to lay every run of a job in pieces that spools hold; `runs` are those of the job as they lie.
pub fn in_pieces(job: &Job, runs: &[LaidRun]) -> InPieces {
    divide(job, runs).0
}

/// A place for a joint on the way of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Place {
    /// From the beginning of the way, metres.
    along_m: f64,
    /// The corner of the way it comes after.
    after: usize,
    at: Point2,
    in_lawn: bool,
}

/// The joints of each run that is divided, by line and tag.
type Joints<'a> = BTreeMap<(&'a str, &'a str), Vec<(Place, String)>>;

/// The same, with the job divided where anything is.
pub(super) fn divide(job: &Job, runs: &[LaidRun]) -> (InPieces, Option<Job>) {
    let mut found = InPieces::default();
    let cables = laid_cables(job, runs);
    if cables.iter().all(|c| no_spool_holds(job, c).is_none()) {
        return (found, None);
    }
    let mut names = Names::of(job);
    let mut document = job.document().clone();
    let mut joints = Joints::new();
    for cable in &cables {
        let Some((spool_m, lead)) = no_spool_holds(job, cable).zip(runs.get(cable.lead)) else { continue };
        let free = cable.carries.iter().all(|c| may_be_divided(job, &c.line, &c.run));
        let Some(places) = free.then(|| places_of_joints(job, lead, spool_m)).flatten() else {
            found.whole.extend(cable.carries.iter().map(|c| c.line.clone()));
            continue;
        };
        let tagged: Vec<(Place, String)> = places.into_iter().map(|p| (p, names.joint())).collect();
        for (place, tag) in &tagged {
            found.edit.operations.extend(add_joint(&mut document, tag, place.at));
        }
        for c in &cable.carries {
            joints.insert((c.line.as_str(), c.run.as_str()), tagged.clone());
        }
    }
    if joints.is_empty() {
        return (found, None);
    }
    let lines: BTreeSet<&str> = joints.keys().map(|(line, _)| *line).collect();
    for line in lines {
        found.edit.operations.extend(write_runs(job, &mut document, line, runs, &joints));
    }
    match job.with_lines_of(document) {
        Some(divided) => (found, Some(divided)),
        None => {
            found.whole.extend(joints.keys().map(|(line, _)| (*line).to_owned()));
            (InPieces { edit: Edit::default(), ..found }, None)
        }
    }
}

/// Whether a run is anybody's but a person's to divide.
fn may_be_divided(job: &Job, line: &str, run: &str) -> bool {
    let run = job.document().lines.get(line).and_then(|l| l.runs.get(run));
    run.is_some_and(|r| !(r.fixed || r.existing || r.in_series || r.length_m.is_some()))
}

fn add_joint(document: &mut JobDocument, tag: &str, at: Point2) -> Vec<Operation> {
    let add = |path: String, value: Value| Operation::Add { path, value, before: None };
    let mut operations = Vec::new();
    if document.joints.is_empty() {
        operations.push(add("/joints".to_owned(), json!({})));
    }
    operations
        .push(add(format!("/joints/{}", escape(tag)), json!({ "position": exactly(at), "kind": "buried" })));
    let joint = Joint { position: at, kind: JointKind::Buried, note: String::new() };
    document.joints.insert(tag.to_owned(), joint);
    operations
}

/// Writes the runs of a line anew, those that are divided in pieces.
fn write_runs(
    job: &Job,
    document: &mut JobDocument,
    line: &str,
    runs: &[LaidRun],
    joints: &Joints<'_>,
) -> Option<Operation> {
    let mut written = job.document().lines.get(line)?.clone();
    let mut divided: Vec<Run> = Vec::new();
    for (tag, run) in &written.runs {
        let laid = runs.iter().find(|r| r.line == line && r.id == *tag);
        match (joints.get(&(line, tag.as_str())), laid) {
            (Some(joints), Some(laid)) => divided.extend(pieces(job, run, laid, joints)),
            _ => divided.push(run.clone()),
        }
    }
    let tags: Vec<String> = document.run_tags(line).take(divided.len()).collect();
    written.runs = tags.into_iter().zip(divided).collect();
    let values: Map<String, Value> = written.runs.iter().map(|(id, r)| (id.clone(), run_value(r))).collect();
    document.lines.insert(line.to_owned(), written);
    let path = format!("/lines/{}/runs", escape(line));
    Some(Operation::Add { path, value: Value::Object(values), before: None })
}

/// The pieces of a run between its joints, from the start of its line on.
fn pieces(job: &Job, run: &Run, laid: &LaidRun, joints: &[(Place, String)]) -> Vec<Run> {
    let last = laid.way.len().saturating_sub(1);
    let ends = joints.iter().map(|(p, tag)| (p.after + 1, Some(p.at), tag.clone()));
    let ends = ends.chain([(last, laid.way.last().copied(), laid.to.clone())]);
    let (mut from, mut at, mut first) = (laid.from.clone(), laid.way.first().copied(), 1);
    let mut all: Vec<Run> = Vec::new();
    let mut ways: Vec<Vec<Point2>> = Vec::new();
    for (next, end, to) in ends {
        let via = laid.way.get(first..next).unwrap_or_default().to_vec();
        ways.push(at.into_iter().chain(via.iter().copied()).chain(end).collect());
        let from = std::mem::replace(&mut from, to.clone());
        all.push(Run { from, to, via, sleeves: Vec::new(), ..run.clone() });
        (at, first) = (end, next);
    }
    // A joint lies in no sleeve: each is of the one piece that goes through the middle of it.
    for id in &run.sleeves {
        let Some(sleeve) = job.document().sleeves.get(id) else { continue };
        let Some((_, middle)) = at_length(&sleeve.line, 0.5 * polyline_length(&sleeve.line)) else {
            continue;
        };
        let away = |way: &Vec<Point2>| {
            let legs = way.windows(2).map(|w| Segment::new(w[0], w[1]).distance_to(middle));
            legs.fold(f64::INFINITY, f64::min)
        };
        let nearest = ways.iter().map(away).enumerate().min_by(|a, b| a.1.total_cmp(&b.1));
        if let Some(piece) = nearest.and_then(|(i, _)| all.get_mut(i)) {
            piece.sleeves.push(id.clone());
        }
    }
    all
}

/// Where to put joints in a run, so that every piece comes off a spool; `None` where they cannot be.
fn places_of_joints(job: &Job, run: &LaidRun, spool_m: f64) -> Option<Vec<Place>> {
    let rules = length_rules(job);
    let reach_m = spool_m / (1.0 + rules.waste_fraction)
        - 2.0 * rules.service_loop_m
        - run.length.vertical_m
        - MEASURED_OFF_M;
    fewest(&places(job, run), polyline_length(&run.way), reach_m)
}

/// Every place for a joint that is looked at, in order along a run.
fn places(job: &Job, run: &LaidRun) -> Vec<Place> {
    let whole_m = polyline_length(&run.way);
    let step_m = (whole_m / MOST_PLACES).max(STEP_M);
    let mut found = Vec::new();
    let mut begin_m = 0.0;
    for piece in &run.pieces {
        go_on();
        let (low_m, high_m) = (begin_m + ASIDE_M, begin_m + piece.length_m - ASIDE_M);
        begin_m += piece.length_m;
        let Some(in_lawn) = can_be_opened(job, piece).filter(|_| low_m <= high_m) else { continue };
        let (first, last) = ((low_m / step_m).ceil() as usize, (high_m / step_m).floor() as usize);
        let mut along: Vec<f64> = (first..=last).map(|k| step_m * k as f64).collect();
        if along.is_empty() {
            along.push(0.5 * (low_m + high_m));
        }
        let of_run = |m: &f64| *m >= OFF_END_M && *m <= whole_m - OFF_END_M;
        for along_m in along.into_iter().filter(of_run) {
            let Some((after, at)) = at_length(&run.way, along_m) else { continue };
            let on_corner = run.way.iter().skip(after).take(2).any(|c| c.distance(at) < OFF_CORNER_M);
            if !on_corner && !near_a_service(job, at) {
                found.push(Place { along_m, after, at: to_the_centimetre(at), in_lawn });
            }
        }
    }
    found
}

/// Whether ground that a run crosses can be opened for a joint, and is a lawn then.
fn can_be_opened(job: &Job, piece: &LaidPiece) -> Option<bool> {
    let d = job.document();
    let kind = match &piece.surface {
        Some(id) => d.surfaces.get(id)?.kind,
        None => d.site.ground,
    };
    let in_ground = matches!(piece.laying, Some(Laying::Staked | Laying::Slit | Laying::Trench));
    match kind {
        SurfaceKind::Bed | SurfaceKind::Gravel | SurfaceKind::Soil | SurfaceKind::Woodland if in_ground => {
            Some(false)
        }
        SurfaceKind::Lawn if in_ground => Some(true),
        _ => None,
    }
}

/// Whether a hole for a joint comes nearer to a buried service than it is to be kept clear by.
fn near_a_service(job: &Job, at: Point2) -> bool {
    job.document().services.values().any(|s| {
        let clear_m = s.clearance_m + ASIDE_M;
        s.line.windows(2).any(|w| Segment::new(w[0], w[1]).distance_to(at) < clear_m)
    })
}

/// The point of a way that lies so far along it, metres, and the corner it comes after.
fn at_length(way: &[Point2], along_m: f64) -> Option<(usize, Point2)> {
    let mut begin_m = 0.0;
    for (after, w) in way.windows(2).enumerate() {
        let leg_m = w[0].distance(w[1]);
        if along_m <= begin_m + leg_m {
            return Some((after, w[0].lerp(w[1], (along_m - begin_m) / leg_m.max(1e-9))));
        }
        begin_m += leg_m;
    }
    None
}

/// How a way is divided as far as a place.
#[derive(Clone, Copy)]
struct Division {
    pieces: usize,
    in_lawn: usize,
    longest_m: f64,
    /// The place before.
    before: Option<usize>,
}

impl Division {
    fn is_better_than(&self, other: &Self) -> bool {
        let key = |d: &Self| (d.pieces, d.in_lawn);
        key(self) < key(other) || (key(self) == key(other) && self.longest_m < other.longest_m - 1e-9)
    }
}

/// Of places in order along a way those that divide it best into pieces of a length at most; `None` where none do.
fn fewest(places: &[Place], whole_m: f64, reach_m: f64) -> Option<Vec<Place>> {
    // As far as each place, and last as far as the end of the way.
    let mut divisions: Vec<Option<Division>> = Vec::with_capacity(places.len() + 1);
    for i in 0..=places.len() {
        go_on();
        let (along_m, lawn) = places.get(i).map_or((whole_m, 0), |p| (p.along_m, usize::from(p.in_lawn)));
        let whole = Division { pieces: 1, in_lawn: lawn, longest_m: along_m, before: None };
        let mut best = (along_m <= reach_m).then_some(whole);
        for (k, earlier) in divisions.iter().enumerate().rev() {
            let piece_m = along_m - places[k].along_m;
            if piece_m > reach_m {
                break;
            }
            let Some(so_far) = earlier else { continue };
            let one = Division {
                pieces: so_far.pieces + 1,
                in_lawn: so_far.in_lawn + lawn,
                longest_m: so_far.longest_m.max(piece_m),
                before: Some(k),
            };
            if best.as_ref().is_none_or(|b| one.is_better_than(b)) {
                best = Some(one);
            }
        }
        divisions.push(best);
    }
    let mut before = divisions.last().copied().flatten()?.before;
    let mut found = Vec::new();
    while let Some(k) = before {
        found.push(places[k]);
        before = divisions[k].and_then(|d| d.before);
    }
    found.reverse();
    Some(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_way_is_divided_best_of_all_there_is() {
        let place =
            |along_m: f64, in_lawn: bool| Place { along_m, after: 0, at: Point2::new(along_m, 0.0), in_lawn };
        let places = [place(2.0, false), place(5.0, true), place(6.0, false), place(9.0, false)];
        let along = |reach_m: f64| {
            fewest(&places, 10.0, reach_m).map(|all| all.iter().map(|p| p.along_m).collect::<Vec<_>>())
        };
        assert_eq!(along(10.0), Some(vec![]));
        // Both 5 and 6 do, and 6 is in no lawn.
        assert_eq!(along(6.0), Some(vec![6.0]));
        assert_eq!(along(5.0), Some(vec![5.0]));
        assert_eq!(along(4.0), Some(vec![2.0, 6.0]));
        assert_eq!(along(2.9), None, "from 2 it is 3 to the next");
    }
}
