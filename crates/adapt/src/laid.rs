//! The runs of a job as they lie: way, length to cut, ground crossed. A line that starts at a stub begins with the run
//! of existing cable that leads there from the rack.

use crate::beside::{along_a_wall, in_sleeve, inside_sleeve, mouths};
use crate::existing::existing_run;
use crate::openings::{inside_a_building, wall_openings};
use crate::run::{ExistingRun, LaidPiece, LaidRun};
use loamline_geometry::{Crossing, Point2, Segment, segments_cross};
use loamline_limits::go_on;
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
    job.document().lines.keys().flat_map(|line| laid_runs_of(job, line)).collect()
}

/// The runs of one line, as [`laid_runs`] has them.
pub fn laid_runs_of(job: &Job, line: &str) -> Vec<LaidRun> {
    let rules = length_rules(job);
    let own = job.runs(line).into_iter().map(|run| laid_run(job, line, &run, &rules));
    existing_run(job, line).into_iter().chain(own).collect()
}

fn laid_run(job: &Job, line: &str, run: &RunView<'_>, rules: &LengthRules) -> LaidRun {
    go_on();
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
        pairs: vec![job.pair_of_run(line, run.id, run.cable_id)],
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
        in_series: run.run.in_series,
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
        // Up to a rack on a wall, or down to one in a cellar.
        Some(JobNode::Rack(r)) => r.height_m.abs(),
        Some(JobNode::Loudspeaker(_)) => job.loudspeaker(node).map_or(0.0, |l| l.height_m.max(0.0)),
        Some(JobNode::Joint(_) | JobNode::Stub(_)) | None => 0.0,
    }
}

/// Difference of ground height along the way, metres: at its corners, and wherever it passes from one surface to another. Along
/// the edge of a raised surface it stays on the side it came from: a crew does not climb it again and again.
fn climb_m(job: &Job, run: &RunView<'_>) -> f64 {
    let height = |p: Point2| job.ground(p).elevation_m;
    let (Some(first), Some(last)) = (run.way.first(), run.way.last()) else { return 0.0 };
    let (mut at, mut climb) = (height(*first), 0.0);
    for w in run.way.windows(2) {
        let leg = Segment::new(w[0], w[1]);
        let aside = aside(leg);
        let middles =
            cut_at_surfaces(job, &[], leg).into_iter().map(|(a, b)| leg.a.lerp(leg.b, 0.5 * (a + b)));
        for p in middles.chain([w[1]]) {
            let sides = [p, p + aside, p - aside].map(height);
            let next = sides.into_iter().min_by(|a, b| (a - at).abs().total_cmp(&(b - at).abs()));
            let next = next.unwrap_or(at);
            climb += (next - at).abs();
            at = next;
        }
    }
    climb + (height(*last) - at).abs()
}

/// Across a leg, as far as a crew chooses its line.
fn aside(leg: Segment) -> Point2 {
    let d = leg.b - leg.a;
    Point2::new(-d.y, d.x) * (STRIP_M / d.norm().max(1e-9))
}

/// Shortest piece worth telling apart, metres; smaller ones are where corners of surfaces just touch.
const SHORTEST_PIECE_M: f64 = 0.02;

fn pieces(job: &Job, run: &RunView<'_>) -> Vec<LaidPiece> {
    let mut all: Vec<LaidPiece> = Vec::new();
    for w in run.way.windows(2) {
        let leg = Segment::new(w[0], w[1]);
        for (a, b) in cut_at_surfaces(job, &run.run.sleeves, leg) {
            let middle = leg.a.lerp(leg.b, 0.5 * (a + b));
            let length_m = leg.length() * (b - a);
            let (surface, ground_laying) = match inside_a_building(job, middle) {
                true => (None, Some(Laying::Indoors)),
                false => softer_side(job, leg, middle),
            };
            let laying = if inside_sleeve(job, &run.run.sleeves, middle) {
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
    let aside = aside(leg);
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

/// The parts of a leg between crossings of surface outlines, of the strips along walls and of the mouths of sleeves, as
/// fractions.
fn cut_at_surfaces(job: &Job, sleeves: &[String], leg: Segment) -> Vec<(f64, f64)> {
    let mut cuts = vec![0.0, 1.0];
    let ends = [leg.a, leg.b];
    let (surfaces, buildings) = (job.surfaces_along(&ends), job.buildings_along(&ends));
    let outlines = surfaces.map(|(_, s)| &s.outline).chain(buildings.map(|(_, b)| &b.outline));
    cuts.extend(outlines.flat_map(|o| o.inside_intervals(leg)).flat_map(|(a, b)| [a, b]));
    cuts.extend(mouths(job, sleeves, leg));
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

/// Where a way crosses buried services in the ground: what is drawn through a sleeve, clipped to a face or led indoors
/// crosses above what is buried.
fn crossings(job: &Job, way: &[Point2], sleeves: &[String]) -> Vec<(String, Point2)> {
    let mut crossed: Vec<(String, Point2)> = Vec::new();
    for (id, service) in job.services_along(way) {
        for w in way.windows(2) {
            for s in service.line.windows(2) {
                let met = segments_cross(Segment::new(w[0], w[1]), Segment::new(s[0], s[1]));
                if let Some(Crossing::Proper(at, _) | Crossing::Touch(at, _)) = met
                    && !in_sleeve(job, sleeves, at)
                    && !along_a_wall(job, at)
                    && !inside_a_building(job, at)
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

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    /// What a run `off` metres in front of a house crosses, where a drain comes out of it, and how the run is laid.
    fn in_front_of_the_house(clip: bool, off: f64) -> (Vec<String>, Option<Laying>) {
        let y = 10.0 - off;
        let text = format!(
            r#"
format = 1
[job]
name = "A drain out of the house"
[site]
outline = [[0, 0], [40, 0], [40, 30], [0, 30]]
[buildings.house]
outline = [[10, 10], [30, 10], [30, 20], [10, 20]]
height = 5
clip = {clip}
[services.drain]
kind = "drain"
line = [[20, 12], [20, 0]]
[racks.R1]
position = [12, {y}]
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
[loudspeakers.L1]
model = "stake-110-wide"
position = [28, {y}]
tap = "10 W"
line = "A"
[lines.A]
channel = "C1"
cable = "burial-2x14awg"
runs = {{ A1 = {{ from = "R1", to = "L1" }} }}
"#
        );
        let job = read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap();
        let run = laid_runs(&job).remove(0);
        (run.crosses, run.pieces.first().and_then(|p| p.laying))
    }

    /// Along the edge of a bed 1.2 m up and down to the ground again: 1.2 m each way, by hand; beside it, nothing. A straight
    /// line along an edge once climbed it at every rounding of a coordinate.
    #[test]
    fn a_run_along_an_edge_climbs_it_once() {
        let climbed = |via: &str| {
            let text = format!(
                "format = 1\n[job]\nname = \"Edge\"\n[surfaces.bed]\noutline = [[66.1, 18.43], [80, 18.43], [80, 28.7], [66.1, 28.7]]\n\
                 kind = \"bed\"\nelevation = 1.2\n[racks.R1]\nposition = [62.26, 33.3]\nheight = 0\n\
                 [amplifiers.P1]\nmodel = \"line-4x280\"\nrack = \"R1\"\n[channels.C1]\namplifier = \"P1\"\noutput = 1\n\
                 [joints.J1]\nposition = [60, 10.1]\n[lines.A]\nchannel = \"C1\"\ncable = \"burial-2x14awg\"\n\
                 runs = {{ A1 = {{ from = \"R1\", to = \"J1\", via = [{via}] }} }}\n"
            );
            let job = read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap();
            laid_runs(&job).remove(0).length.vertical_m
        };
        assert!(climbed("[66.1, 28.7], [66.1, 18.43]").abs() < 1e-9);
        assert!(climbed("[66.1, 32], [66.1, 20.1], [66.1, 12]").abs() < 1e-9);
        assert!((climbed("[70, 32], [70, 12]") - 2.4).abs() < 1e-9);
    }

    #[test]
    fn what_is_clipped_to_a_face_crosses_nothing_that_is_buried() {
        assert_eq!(in_front_of_the_house(true, 0.0), (vec![], Some(Laying::Clipped)));
        for (clip, off) in [(true, 1.0), (false, 0.0), (false, 1.0)] {
            let (crosses, laying) = in_front_of_the_house(clip, off);
            assert_eq!(crosses, ["drain"], "{clip} {off}");
            assert_ne!(laying, Some(Laying::Clipped));
        }
    }
}
