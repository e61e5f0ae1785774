//! Trunks of cable: what lies in each sleeve, how full that makes it, and the longest pull between places to pull from.
//!
//! A cable is pulled from where it goes in, or from a pull pit, to the next pit or to where it comes out. Sleeves that a run goes
//! through one after the other, end to end and without a pit at the joint, are one pull. How far a cable may be pulled is what its
//! catalogue states, or whoever is responsible at the place; where neither says it, nothing is held against it.

use crate::finding::{Finding, Severity, Subject};
use crate::names::tagged;
use indexmap::IndexMap;
use loamline_adapt::{LaidCable, LaidRun, laid_cables};
use loamline_geometry::{Point2, polyline_length};
use loamline_model::Job;
use loamline_model::document::Sleeve;
use loamline_routing::conduit_fill;
use loamline_terms::{Measure, each_of, say, template};
use serde::Serialize;

/// Ends of sleeves nearer to each other than this are joined, and a pit nearer than this to an end is at it, metres: what
/// drawings are good to.
const JOINED_M: f64 = 0.3;

/// What lies in a sleeve.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DuctUse {
    /// Tags of the cables drawn through it.
    pub cables: Vec<String>,
    /// Lines in them, in the order of the cables.
    pub lines: Vec<String>,
    /// Share of its inside that they and what it holds already fill.
    pub fill_fraction: f64,
    /// Share that may be filled.
    pub limit_fraction: f64,
    /// Longest pull that goes through it, metres.
    pub longest_pull_m: f64,
}

/// One pull of a run.
struct Pull<'j> {
    sleeves: Vec<&'j str>,
    length_m: f64,
}

/// What lies in each sleeve, in the order of the document; those with no cable to draw are left out.
pub fn ducts(job: &Job, runs: &[LaidRun]) -> IndexMap<String, DuctUse> {
    let cables = laid_cables(job, runs);
    let mut all = IndexMap::new();
    for (id, sleeve) in &job.document().sleeves {
        let drawn: Vec<&LaidCable> = drawn_through(id, &cables, runs);
        if drawn.is_empty() {
            continue;
        }
        let Some((fill_fraction, limit_fraction)) = fill_of(job, sleeve, &drawn) else { continue };
        let mut lines: Vec<String> = Vec::new();
        for line in drawn.iter().flat_map(|c| c.lines()) {
            if !lines.iter().any(|known| known == line) {
                lines.push(line.to_owned());
            }
        }
        let pulls = drawn.iter().filter_map(|c| runs.get(c.lead)).flat_map(|run| pulls(job, run));
        let longest_pull_m =
            pulls.filter(|p| p.sleeves.contains(&id.as_str())).map(|p| p.length_m).fold(0.0, f64::max);
        let cables = drawn.iter().map(|c| c.tag.clone()).collect();
        all.insert(id.clone(), DuctUse { cables, lines, fill_fraction, limit_fraction, longest_pull_m });
    }
    all
}

/// Cables that are drawn through a sleeve; what lies there already is not.
fn drawn_through<'c>(id: &str, cables: &'c [LaidCable], runs: &[LaidRun]) -> Vec<&'c LaidCable> {
    let through = |c: &&LaidCable| {
        !c.existing && runs.get(c.lead).is_some_and(|run| run.sleeves.iter().any(|s| s == id))
    };
    cables.iter().filter(through).collect()
}

/// Shares of a sleeve's inside that are filled and that may be.
fn fill_of(job: &Job, sleeve: &Sleeve, drawn: &[&LaidCable]) -> Option<(f64, f64)> {
    let outside = |c: &&LaidCable| Some(1000.0 * job.catalogue().cables.get(&c.cable)?.outside_diameter_m);
    let holds = sleeve.holds_m.iter().map(|m| 1000.0 * m);
    let all: Vec<f64> = holds.chain(drawn.iter().filter_map(outside)).collect();
    let length_m = polyline_length(&sleeve.line);
    let fill = conduit_fill(1000.0 * sleeve.inside_diameter_m, &all, Some(length_m)).ok()?;
    Some((fill.fill_fraction, fill.limit_fraction))
}

/// Pulls longer than the cable or the place allows.
pub(crate) fn pull_findings(job: &Job, runs: &[LaidRun]) -> Vec<Finding> {
    let d = job.document();
    let mut found = Vec::new();
    let said = d.site.local.longest_pull_m.is_some()
        || job.catalogue().cables.values().any(|c| c.longest_pull_m.is_some());
    if !said || d.sleeves.is_empty() {
        return found;
    }
    for cable in laid_cables(job, runs).iter().filter(|c| !c.existing) {
        let stated = job.catalogue().cables.get(&cable.cable).and_then(|c| c.longest_pull_m);
        let (most_m, by) = match (stated, d.site.local.longest_pull_m) {
            (Some(cable_m), Some(local_m)) if local_m < cable_m => (local_m, say!("at this place")),
            (Some(cable_m), _) => (cable_m, say!("for this cable")),
            (None, Some(local_m)) => (local_m, say!("at this place")),
            (None, None) => continue,
        };
        let Some(run) = runs.get(cable.lead) else { continue };
        for pull in pulls(job, run).into_iter().filter(|p| p.length_m > most_m) {
            let named = |id: &&str| match d.sleeves.get(*id) {
                Some(sleeve) => tagged(&sleeve.name, template!("sleeve {id}"), id),
                None => (*id).into(),
            };
            let what = say!(
                "Cable {cable} is pulled {length} through {sleeves} without a pit between, at most {most} is allowed {by}.",
                cable = &cable.tag,
                length = Measure::Length(pull.length_m),
                sleeves = each_of(pull.sleeves.iter().map(named)),
                most = Measure::Length(most_m),
                by = by.clone()
            );
            found.push(
                Finding::new(Severity::Warning, Subject::run(&run.line, &run.id), what).mend(say!(
                    "Put a pull pit between and say where, or pull it from the middle both ways."
                )),
            );
        }
    }
    found
}

/// The pulls of a run through its sleeves, in their order.
fn pulls<'j>(job: &'j Job, run: &LaidRun) -> Vec<Pull<'j>> {
    let d = job.document();
    let sleeves: Vec<(&str, &Sleeve)> = run
        .sleeves
        .iter()
        .filter_map(|id| d.sleeves.get_key_value(id))
        .map(|(id, s)| (id.as_str(), s))
        .collect();
    let mut done: Vec<Pull<'j>> = Vec::new();
    // The pull under way; where the run last came out.
    let mut under_way: Option<Pull<'j>> = None;
    let mut came_out: Option<Point2> = None;
    for (place, (id, sleeve)) in sleeves.iter().enumerate() {
        let next = sleeves.get(place + 1).map(|(_, s)| *s);
        let Some(led) = led_through(sleeve, came_out, next) else { continue };
        let joined = came_out.is_some_and(|end| end.distance(led.entered) <= JOINED_M);
        if !joined || led.pit_at_entry {
            done.extend(under_way.take());
        }
        let begun = |sleeves: Vec<&'j str>| Pull { sleeves, length_m: 0.0 };
        let mut pull = under_way.take().unwrap_or_else(|| begun(Vec::new()));
        pull.sleeves.push(*id);
        for (k, stretch_m) in led.stretches_m.iter().enumerate() {
            if k > 0 {
                done.push(std::mem::replace(&mut pull, begun(vec![*id])));
            }
            pull.length_m += stretch_m;
        }
        if led.pit_at_exit {
            done.push(pull);
        } else {
            under_way = Some(pull);
        }
        came_out = Some(led.left);
    }
    done.extend(under_way);
    done
}

/// A sleeve as a run is led through it.
struct Led {
    entered: Point2,
    left: Point2,
    /// Lengths between its pits, in the order they are passed, metres.
    stretches_m: Vec<f64>,
    pit_at_entry: bool,
    pit_at_exit: bool,
}

/// Where a run goes into a sleeve and comes out, and the stretches between its pits. It goes in at the end nearer to where it
/// came from, else at the one farther from the next sleeve, else at the first.
fn led_through(sleeve: &Sleeve, before: Option<Point2>, next: Option<&Sleeve>) -> Option<Led> {
    let (first, last) = (*sleeve.line.first()?, *sleeve.line.last()?);
    let to_next = |from: Point2| {
        let ends = next.iter().flat_map(|s| [s.line.first(), s.line.last()]).flatten();
        ends.map(|end| end.distance(from)).fold(f64::INFINITY, f64::min)
    };
    let turned = match before {
        Some(end) => end.distance(last) < end.distance(first),
        None => to_next(first) < to_next(last),
    };
    let length_m = polyline_length(&sleeve.line);
    let mut pits: Vec<f64> =
        sleeve.pits_m.iter().map(|at| if turned { length_m - at } else { *at }).collect();
    pits.sort_by(f64::total_cmp);
    let pit_at_entry = pits.first().is_some_and(|at| *at <= JOINED_M);
    let pit_at_exit = pits.last().is_some_and(|at| length_m - at <= JOINED_M);
    pits.retain(|at| *at > JOINED_M && length_m - at > JOINED_M);
    let ends: Vec<f64> = [0.0].into_iter().chain(pits).chain([length_m]).collect();
    let stretches_m = ends.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let (entered, left) = if turned { (last, first) } else { (first, last) };
    Some(Led { entered, left, stretches_m, pit_at_entry, pit_at_exit })
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_adapt::laid_runs;
    use loamline_model::{SourceFile, read_job};

    /// A line through two sleeves end to end, 40 m and 30 m, the second drawn the other way round; `more` goes into the first.
    fn job(more: &str, local: &str) -> Job {
        let text = format!(
            r#"
format = 1
[job]
name = "Ducts"
[site]
{local}
[racks.R1]
position = [0, 0]
[sleeves.D1]
line = [[0, 2], [40, 2]]
inside_diameter = "40 mm"
{more}
[sleeves.D2]
line = [[40, 32], [40, 2]]
inside_diameter = "40 mm"
[loudspeakers.L1]
model = "stake-110-wide"
position = [40, 34]
tap = "10 W"
line = "A"
[lines.A]
start = "R1"
cable = "burial-2x2.5mm2"
runs = {{ A-1 = {{ from = "R1", to = "L1", via = [[0, 2], [40, 2], [40, 32]], sleeves = ["D1", "D2"] }} }}
"#
        );
        read_job(&SourceFile::new("job.toml", text), &[]).unwrap()
    }

    fn pulled(job: &Job) -> Vec<(String, f64)> {
        let runs = laid_runs(job);
        pulls(job, &runs[0]).into_iter().map(|p| (p.sleeves.join("+"), p.length_m)).collect()
    }

    #[test]
    fn sleeves_end_to_end_are_one_pull_unless_a_pit_is_between() {
        assert_eq!(pulled(&job("", "")), [("D1+D2".to_owned(), 70.0)]);
        // At the joint, 40 m along the first.
        assert_eq!(pulled(&job("pits = [\"40 m\"]", "")), [("D1".to_owned(), 40.0), ("D2".to_owned(), 30.0)]);
        // 25 m along the first: 25 m, then 15 m and the 30 m of the second.
        assert_eq!(
            pulled(&job("pits = [\"25 m\"]", "")),
            [("D1".to_owned(), 25.0), ("D1+D2".to_owned(), 45.0)]
        );
    }

    #[test]
    fn a_pull_longer_than_the_place_allows_is_told_with_both_lengths() {
        let told = |more: &str, local: &str| {
            let job = job(more, local);
            let runs = laid_runs(&job);
            pull_findings(&job, &runs).into_iter().map(|f| f.sentence.to_string()).collect::<Vec<_>>()
        };
        assert!(told("", "").is_empty(), "nobody says how far it may be pulled");
        let all = told("", "local = { longest_pull = \"60 m\" }");
        assert_eq!(all.len(), 1, "{all:?}");
        assert!(all[0].contains("70.0 m") && all[0].contains("at most 60.0 m"), "{all:?}");
        assert!(told("pits = [\"25 m\"]", "local = { longest_pull = \"60 m\" }").is_empty());
    }

    #[test]
    fn a_sleeve_tells_what_lies_in_it_and_how_full_it_is() {
        let job = job("holds = [\"10 mm\"]", "");
        let all = ducts(&job, &laid_runs(&job));
        let first = &all["D1"];
        assert_eq!((first.cables.join(","), first.lines.join(",")), ("A-1".to_owned(), "A".to_owned()));
        let outside_mm = 1000.0 * job.catalogue().cables["burial-2x2.5mm2"].outside_diameter_m;
        // Sections as squares of diameters.
        let share = (outside_mm.powi(2) + 100.0) / 1600.0;
        assert!((first.fill_fraction - share).abs() < 1e-12, "{} against {share}", first.fill_fraction);
        assert!((first.longest_pull_m - 70.0).abs() < 1e-9);
    }
}
