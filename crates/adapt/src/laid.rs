//! The runs of a job as they lie: way, length to cut, ground crossed. A line that starts at a stub begins with the run
//! of existing cable that leads there from the rack.

use crate::beside::{along_a_wall, in_sleeve};
use crate::existing::existing_run;
use crate::openings::{inside_a_building, wall_openings};
use crate::run::{ExistingRun, LaidPiece, LaidRun};
use loamline_geometry::{Crossing, Point2, Segment, segments_cross};
use loamline_model::document::Laying;
use loamline_model::{Job, JobNode, RunView};
use loamline_routing::{LengthRules, RunLength};

/// The allowances on every run: the price book's, else the usual ones.
pub fn length_rules(job: &Job) -> LengthRules {
    match &job.catalogue().prices {
        Some(p) => LengthRules { service_loop_m: p.service_loop_m, waste_fraction: p.waste },
        None => LengthRules::default(),
    }
}

/// Every run of every line as it lies, lines in the order of the document, runs from the rack on: the existing cable
/// of a line that starts at a stub, then those the document writes.
pub fn laid_runs(job: &Job) -> Vec<LaidRun> {
    let rules = length_rules(job);
    job.document()
        .lines
        .keys()
        .flat_map(|line| {
            let own = job.runs(line).into_iter().map(|run| laid_run(job, line, &run, &rules));
            existing_run(job, line).into_iter().chain(own).collect::<Vec<_>>()
        })
        .collect()
}

fn laid_run(job: &Job, line: &str, run: &RunView<'_>, rules: &LengthRules) -> LaidRun {
    let vertical_m = rise_m(job, run.from) + rise_m(job, run.to) + climb_m(job, run);
    let worked_out = rules.run(run.plan_length_m(), vertical_m);
    let length = match run.run.length_m {
        // A stated length is what was measured on site: loops and rises are in it, waste is not.
        Some(m) => RunLength {
            path_m: m,
            vertical_m: 0.0,
            loops_m: 0.0,
            waste_m: m * rules.waste_fraction,
            order_m: m * (1.0 + rules.waste_fraction),
        },
        None => worked_out,
    };
    // What lies there already opens no ground and crosses nothing again.
    let existing = run.run.existing.then(|| ExistingRun {
        stub: None,
        pairs: vec![job.document().lines.get(line).map_or(1, |l| l.pair)],
        length_known: true,
    });
    let (crosses, crossed_at) = match &existing {
        None => crossings(job, &run.way, &run.run.sleeves).into_iter().unzip(),
        Some(_) => (Vec::new(), Vec::new()),
    };
    LaidRun {
        line: line.to_owned(),
        id: run.id.to_owned(),
        from: run.from.to_owned(),
        to: run.to.to_owned(),
        cable: run.cable_id.to_owned(),
        way: run.way.clone(),
        length,
        length_stated: run.run.length_m.is_some(),
        pieces: if existing.is_none() { pieces(job, run) } else { Vec::new() },
        sleeves: run.run.sleeves.clone(),
        crosses,
        crossed_at,
        through: if existing.is_none() { wall_openings(job, &run.way, &run.run.sleeves) } else { Vec::new() },
        existing,
    }
}

/// Cable between the ground and where it is connected, metres.
fn rise_m(job: &Job, node: &str) -> f64 {
    match job.node(node) {
        Some(JobNode::Rack(r)) => r.height_m,
        Some(JobNode::Loudspeaker(_)) => job.loudspeaker(node).map_or(0.0, |l| l.height_m.max(0.0)),
        Some(JobNode::Joint(_) | JobNode::Stub(_)) | None => 0.0,
    }
}

/// Difference of ground height along the way, metres: at its corners, and wherever it passes from one surface to another.
fn climb_m(job: &Job, run: &RunView<'_>) -> f64 {
    let mut heights: Vec<f64> = run.way.first().map(|&p| job.ground(p).elevation_m).into_iter().collect();
    for w in run.way.windows(2) {
        let leg = Segment::new(w[0], w[1]);
        let middles = cut_at_surfaces(job, leg).into_iter().map(|(a, b)| leg.a.lerp(leg.b, 0.5 * (a + b)));
        heights.extend(middles.chain([w[1]]).map(|p| job.ground(p).elevation_m));
    }
    heights.windows(2).map(|w| (w[1] - w[0]).abs()).sum()
}

/// Shortest piece worth telling apart, metres; smaller ones are where corners of surfaces just touch.
const SHORTEST_PIECE_M: f64 = 0.02;

fn pieces(job: &Job, run: &RunView<'_>) -> Vec<LaidPiece> {
    let mut all: Vec<LaidPiece> = Vec::new();
    for w in run.way.windows(2) {
        let leg = Segment::new(w[0], w[1]);
        for (a, b) in cut_at_surfaces(job, leg) {
            let middle = leg.a.lerp(leg.b, 0.5 * (a + b));
            let length_m = leg.length() * (b - a);
            let (surface, ground_laying) = match inside_a_building(job, middle) {
                true => (None, Some(Laying::Indoors)),
                false => softer_side(job, leg, middle),
            };
            let laying = if in_sleeve(job, &run.run.sleeves, middle) {
                Some(Laying::Conduit)
            } else if ground_laying != Some(Laying::Indoors) && along_a_wall(job, middle) {
                Some(Laying::Clipped)
            } else {
                ground_laying
            };
            match all.last_mut() {
                Some(last) if last.surface == surface && last.laying == laying => last.length_m += length_m,
                Some(last) if length_m < SHORTEST_PIECE_M => last.length_m += length_m,
                _ => all.push(LaidPiece { surface, laying, length_m }),
            }
        }
    }
    all
}

/// Half the width of the strip in which a crew chooses its line, metres.
const STRIP_M: f64 = 0.05;

/// The ground at a place of a leg. Where a leg runs along the edge between two surfaces, cable is laid on the side
/// that is easier to open and that the brief allows.
fn softer_side(job: &Job, leg: Segment, at: Point2) -> (Option<String>, Option<Laying>) {
    let d = leg.b - leg.a;
    let aside = Point2::new(-d.y, d.x) * (STRIP_M / d.norm().max(1e-9));
    let allowed = &job.document().brief.laying;
    let effort = |laying: Option<Laying>| match laying {
        None => 1000,
        Some(l) if !allowed.is_empty() && !allowed.contains(&l) => 100 + l as usize,
        Some(l) => l as usize,
    };
    let sides = [at, at + aside, at - aside].map(|p| job.ground(p));
    let best = sides.iter().min_by_key(|g| effort(g.laying));
    best.map_or((None, None), |g| (g.surface.map(|(id, _)| id.to_owned()), g.laying))
}

/// The parts of a leg between crossings of surface outlines and of the strips along walls and sleeves, as fractions.
fn cut_at_surfaces(job: &Job, leg: Segment) -> Vec<(f64, f64)> {
    let mut cuts = vec![0.0, 1.0];
    let (surfaces, buildings) = (&job.document().surfaces, &job.document().buildings);
    let outlines = surfaces.values().map(|s| &s.outline).chain(buildings.values().map(|b| &b.outline));
    cuts.extend(outlines.flat_map(|o| o.inside_intervals(leg)).flat_map(|(a, b)| [a, b]));
    // Strips along walls and sleeves are found by stepping: a tenth of a metre is finer than a crew lays.
    let steps = (leg.length() / 0.1).ceil().clamp(1.0, 20_000.0) as usize;
    cuts.extend((1..steps).map(|i| i as f64 / steps as f64));
    cuts.sort_by(f64::total_cmp);
    cuts.dedup_by(|b, a| *b - *a < 1e-9);
    cuts.windows(2).map(|w| (w[0], w[1])).collect()
}

/// Crossings of one service nearer to each other than this are one place to dig, metres: a bend on the service is met by both
/// of its legs.
const ONE_CROSSING_M: f64 = 0.15;

fn crossings(job: &Job, way: &[Point2], sleeves: &[String]) -> Vec<(String, Point2)> {
    let mut crossed: Vec<(String, Point2)> = Vec::new();
    for (id, service) in &job.document().services {
        for w in way.windows(2) {
            for s in service.line.windows(2) {
                let met = segments_cross(Segment::new(w[0], w[1]), Segment::new(s[0], s[1]));
                if let Some(Crossing::Proper(at, _) | Crossing::Touch(at, _)) = met
                    && !in_sleeve(job, sleeves, at)
                    && !crossed
                        .iter()
                        .any(|(other, there)| other == id && at.distance(*there) < ONE_CROSSING_M)
                {
                    crossed.push((id.clone(), at));
                }
            }
        }
    }
    crossed
}
