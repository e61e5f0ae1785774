//! How a run of cable is laid: metres by laying method along its way, buried services it crosses, length to order.
//!
//! The way is cut where it enters or leaves a surface, at the ends of the sleeves it is drawn through, and every
//! 0.1 m where a face it could be clipped to is near. Each piece is then laid by the first of these that fits its
//! middle: through a sleeve the run names (within 0.3 m of the sleeve's line), clipped along a building or wall that
//! allows it (within 0.3 m of the face, or inside the building), or as the ground there is laid. Ground that is not
//! laid in, such as water, counts as a trench, the dearest, so that nothing is left out of the bill.

use loamline_geometry::{Crossing, Point2, Segment, project_on_segment, segments_cross};
use loamline_model::document::Laying;
use loamline_model::{Job, JobNode, RunView};
use loamline_routing::LengthRules;

/// How near a piece must be to a sleeve's line or a face to belong to it, metres.
const NEAR_M: f64 = 0.3;
/// Length of pieces near a face, metres: the error of where clipping starts is at most half of it.
const FINE_M: f64 = 0.1;

/// A stretch of a run laid in one way.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// How it is laid.
    pub laying: Laying,
    /// Along its way, metres.
    pub length_m: f64,
    /// What it goes through: id of the sleeve, building, wall or surface; empty on ground without a surface.
    pub through: String,
}

/// A run of cable as it is laid and ordered.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidRun {
    /// Tag of the run.
    pub run: String,
    /// Line it belongs to.
    pub line: String,
    /// Catalogue id of its cable.
    pub cable: String,
    /// Nearer to the rack.
    pub from: String,
    /// Farther from the rack.
    pub to: String,
    /// Stretches in order from `from`.
    pub stretches: Vec<Stretch>,
    /// Ids of buried services it crosses, in order; twice where it crosses twice.
    pub crossings: Vec<String>,
    /// Along its way, metres.
    pub path_m: f64,
    /// Up and down at both ends, metres.
    pub vertical_m: f64,
    /// Both service loops, metres.
    pub loops_m: f64,
    /// Length to cut: loops, rises and waste included; as stated in the document where it is stated, metres.
    pub cut_m: f64,
}

impl LaidRun {
    /// Metres by laying method, methods in the order they first come.
    pub fn by_method(&self) -> Vec<(Laying, f64)> {
        let mut out: Vec<(Laying, f64)> = Vec::new();
        for s in &self.stretches {
            match out.iter_mut().find(|(l, _)| *l == s.laying) {
                Some((_, m)) => *m += s.length_m,
                None => out.push((s.laying, s.length_m)),
            }
        }
        out
    }
}

/// Every run of a job, line by line, in the order of cutting and pulling.
pub fn laid_runs(job: &Job) -> Vec<LaidRun> {
    let lines: Vec<&str> = job.document().lines.keys().map(String::as_str).collect();
    lines.into_iter().flat_map(|line| job.runs(line).into_iter().map(move |run| laid(job, line, &run))).collect()
}

fn laid(job: &Job, line: &str, run: &RunView<'_>) -> LaidRun {
    let rules = job.catalogue().prices.as_ref().map_or_else(LengthRules::default, |p| LengthRules {
        service_loop_m: p.service_loop_m,
        waste_fraction: p.waste,
    });
    let vertical_m = end_height(job, run.from) + end_height(job, run.to);
    let length = rules.run(run.plan_length_m(), vertical_m);
    let mut stretches: Vec<Stretch> = Vec::new();
    let mut crossings = Vec::new();
    for pair in run.way.windows(2) {
        let piece = Segment::new(pair[0], pair[1]);
        add_stretches(job, run, piece, &mut stretches);
        add_crossings(job, piece, &mut crossings);
    }
    LaidRun {
        run: run.id.to_owned(),
        line: line.to_owned(),
        cable: run.cable_id.to_owned(),
        from: run.from.to_owned(),
        to: run.to.to_owned(),
        stretches,
        crossings,
        path_m: length.path_m,
        vertical_m,
        loops_m: length.loops_m,
        cut_m: run.run.length_m.unwrap_or(length.order_m),
    }
}

/// How far the cable climbs or drops at an end, metres.
fn end_height(job: &Job, node: &str) -> f64 {
    match job.node(node) {
        Some(JobNode::Rack(rack)) => rack.height_m,
        Some(JobNode::Loudspeaker(_)) => job.loudspeaker(node).map_or(0.0, |l| l.height_m.abs()),
        _ => 0.0,
    }
}

fn add_stretches(job: &Job, run: &RunView<'_>, piece: Segment, out: &mut Vec<Stretch>) {
    let length = piece.length();
    if length < 1e-9 {
        return;
    }
    let document = job.document();
    let mut cuts = vec![0.0, 1.0];
    for surface in document.surfaces.values() {
        cuts.extend(surface.outline.inside_intervals(piece).into_iter().flat_map(|(a, b)| [a, b]));
    }
    for sleeve in run.run.sleeves.iter().filter_map(|id| document.sleeves.get(id)) {
        cuts.extend(sleeve.line.iter().map(|&p| project_on_segment(p, piece).1));
    }
    if near_a_face(job, piece) {
        let pieces = (length / FINE_M).ceil();
        cuts.extend((1..pieces as usize).map(|k| k as f64 / pieces));
    }
    cuts.sort_by(f64::total_cmp);
    for w in cuts.windows(2) {
        let length_m = (w[1] - w[0]) * length;
        if length_m < 1e-9 {
            continue;
        }
        let (laying, through) = laid_at(job, run, piece.a.lerp(piece.b, (w[0] + w[1]) / 2.0));
        match out.last_mut() {
            Some(last) if last.laying == laying && last.through == through => last.length_m += length_m,
            _ => out.push(Stretch { laying, length_m, through }),
        }
    }
}

fn faces(job: &Job) -> impl Iterator<Item = (&str, Segment)> {
    let document = job.document();
    let buildings = document.buildings.iter().filter(|(_, b)| b.clip);
    let walls = document.walls.iter().filter(|(_, w)| w.clip);
    buildings
        .flat_map(|(id, b)| b.outline.sides().map(move |s| (id.as_str(), s)))
        .chain(walls.flat_map(|(id, w)| w.line.windows(2).map(move |p| (id.as_str(), Segment::new(p[0], p[1])))))
}

fn near_a_face(job: &Job, piece: Segment) -> bool {
    faces(job).any(|(_, face)| face.distance_to_segment(piece) <= NEAR_M)
}

fn laid_at(job: &Job, run: &RunView<'_>, at: Point2) -> (Laying, String) {
    let document = job.document();
    for id in &run.run.sleeves {
        let on = |line: &[Point2]| {
            line.windows(2).any(|p| Segment::new(p[0], p[1]).distance_to(at) <= NEAR_M)
        };
        if document.sleeves.get(id).is_some_and(|s| on(&s.line)) {
            return (Laying::Conduit, id.clone());
        }
    }
    if let Some((id, _)) = document.buildings.iter().find(|(_, b)| b.clip && b.outline.contains(at)) {
        return (Laying::Clipped, id.clone());
    }
    if let Some((id, _)) = faces(job).find(|(_, face)| face.distance_to(at) <= NEAR_M) {
        return (Laying::Clipped, id.to_owned());
    }
    let ground = job.ground(at);
    let through = ground.surface.map(|(id, _)| id.to_owned()).unwrap_or_default();
    (ground.laying.unwrap_or(Laying::Trench), through)
}

fn add_crossings(job: &Job, piece: Segment, out: &mut Vec<String>) {
    let mut found: Vec<(f64, &str)> = Vec::new();
    for (id, service) in &job.document().services {
        for pair in service.line.windows(2) {
            match segments_cross(piece, Segment::new(pair[0], pair[1])) {
                // A touch at the start of a piece was counted at the end of the one before.
                Some(Crossing::Proper(_, t) | Crossing::Touch(_, t)) if t > 0.0 => found.push((t, id)),
                _ => {}
            }
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    out.extend(found.into_iter().map(|(_, id)| id.to_owned()));
}
