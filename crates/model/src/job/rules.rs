//! Rules between the parts of a job, lines excepted.

use super::broken::{broken, broken_with_hint, broken_with_hints, coldest_before_hottest};
use super::omitted::Omitted;
use super::source_rules::check_sources;
use super::stub_rules::check_stubs;
use crate::catalogue::Catalogue;
use crate::document::{Area, Done, JobDocument, MeasuredLevel, Neighbour, Reading, Wall, Work, WorkTask};
use crate::reading::{Choice, Problem, ProblemKind, did_you_mean};
use loamline_geometry::Polygon;
use loamline_limits::AREA_CM2;
use loamline_terms::Shown;
use std::collections::BTreeMap;

/// Reports every broken rule.
pub(super) fn check_rules(
    document: &JobDocument,
    catalogue: &Catalogue,
    left_out: &Omitted,
    problems: &mut Vec<Problem>,
) {
    tags(document, problems);
    let local = &document.site.local;
    coldest_before_hottest("/site/local", local.coldest_c, local.hottest_c, problems);
    planned_tasks(document, problems);
    areas(document, problems);
    for (id, n) in &document.neighbours {
        neighbour(id, n, problems);
    }
    for (id, w) in &document.walls {
        wall(id, w, problems);
    }
    for (id, area) in &document.areas {
        bass(id, area, document, problems);
    }
    outputs(document, catalogue, problems);
    coils(document, catalogue, problems);
    check_stubs(document, catalogue, left_out, problems);
    check_sources(document, catalogue, problems);
    for (visit, v) in &document.visits {
        for (id, r) in &v.readings {
            reading(&format!("/visits/{visit}/readings/{id}"), r, problems);
        }
        for (id, l) in &v.levels {
            level(&format!("/visits/{visit}/levels/{id}"), l, problems);
        }
        for (id, d) in v.done.iter().filter(|(id, _)| v.kept_of_done(id).is_none()) {
            done(&format!("/visits/{visit}/done/{id}"), d, document, problems);
        }
    }
}

/// What is said of tasks is said of those there are.
fn planned_tasks(document: &JobDocument, problems: &mut Vec<Problem>) {
    let words = || WorkTask::ALL.iter().map(|task| task.1);
    for task in document.work.tasks.keys().filter(|task| !words().any(|word| word == *task)) {
        let kind =
            ProblemKind::NotOffered { found: task.clone(), offered: words().map(str::to_owned).collect() };
        problems
            .push(Problem::with_key(format!("/work/tasks/{task}"), kind).hint(did_you_mean(task, words())));
    }
}

/// Whatever a run can end at shares one set of tags.
fn tags(document: &JobDocument, problems: &mut Vec<Problem>) {
    let mut seen: BTreeMap<&str, &str> = BTreeMap::new();
    let sections = [
        ("loudspeakers", "loudspeaker", document.loudspeakers.keys().collect::<Vec<_>>()),
        ("joints", "joint", document.joints.keys().collect()),
        ("racks", "rack", document.racks.keys().collect()),
        ("stubs", "stub-out", document.stubs.keys().collect()),
    ];
    for (section, called, ids) in sections {
        for id in ids {
            if let Some(other) = seen.insert(id, called) {
                let rule = format!(
                    "\"{id}\" is already the tag of a {other}; loudspeakers, joints, racks and stubs need tags of their own, since runs of cable end at any of them"
                );
                problems.push(Problem::with_key(format!("/{section}/{id}"), ProblemKind::Rule(rule)));
            }
        }
    }
}

/// A listening area holds somebody's ears, on the site.
fn areas(document: &JobDocument, problems: &mut Vec<Problem>) {
    for (id, area) in &document.areas {
        let path = format!("/areas/{id}/outline");
        if AREA_CM2.check_estimate(area.outline.area() * 1e4).is_err() {
            broken(problems, path, AREA_CM2.told(id));
        } else if let Some(site) = &document.site.outline
            && !overlap(&area.outline, site)
        {
            broken(
                problems,
                path,
                format!("listening area {id} lies off the property; move it or the outline"),
            );
        }
    }
}

/// Whether two outlines have a place in common.
fn overlap(a: &Polygon, b: &Polygon) -> bool {
    let inside = |o: &Polygon, of: &Polygon| o.corners().iter().any(|c| of.contains(*c));
    inside(a, b) || inside(b, a) || a.sides().any(|s| !b.inside_intervals(s).is_empty())
}

fn neighbour(id: &str, n: &Neighbour, problems: &mut Vec<Problem>) {
    if n.points.is_empty() && n.line.is_empty() {
        broken_with_hints(
            problems,
            format!("/neighbours/{id}"),
            "this neighbour has no place".into(),
            "draw the window, the balcony or the boundary it is judged at",
            "give it `points` (a window, a balcony) or a boundary `line`".into(),
        );
    }
    if n.line.len() == 1 {
        broken_with_hints(
            problems,
            format!("/neighbours/{id}/line"),
            "a boundary line needs at least 2 points, this one has 1".into(),
            "give it a second point, or draw it as a single place",
            "a single place belongs in `points`".into(),
        );
    }
}

/// A wall has one height: with it, foot and top say the same, and one of them is enough.
fn wall(id: &str, w: &Wall, problems: &mut Vec<Problem>) {
    if w.foot_m.is_some() && w.top_m.is_some() {
        broken_with_hints(
            problems,
            format!("/walls/{id}/top"),
            format!("wall {id} says both where its foot and where its top is"),
            "leave one of them empty: the height says the other",
            "take `foot` or `top` out: `height` says the other".into(),
        );
    }
}

/// Speech has no bass to ask for, and nobody can want more than at most.
fn bass(id: &str, area: &Area, document: &JobDocument, problems: &mut Vec<Problem>) {
    let Some(wanted_db) = area.bass_db else { return };
    let programme = match &area.programme {
        Some(named) => document.programmes.get_key_value(named),
        None => document.programmes.first(),
    };
    if let Some((name, _)) = programme.filter(|(_, p)| p.speech) {
        broken_with_hint(
            problems,
            format!("/areas/{id}/bass"),
            format!("area {id} asks for bass, and its programme {name} is speech, which no subwoofer plays"),
            "take the wish for bass out, or give the area another programme".into(),
        );
    }
    if area.bass_at_most_db.is_some_and(|most| most < wanted_db) {
        broken_with_hint(
            problems,
            format!("/areas/{id}/bass_at_most"),
            format!("area {id} asks for more bass than it wants at most"),
            "lower the bass wanted, or raise the most that is wanted".into(),
        );
    }
}

/// Only a model with two voice coils has coils to wire.
fn coils(document: &JobDocument, catalogue: &Catalogue, problems: &mut Vec<Problem>) {
    for (id, l) in &document.loudspeakers {
        let one = catalogue.loudspeakers.get(&l.model).is_some_and(|m| m.dual_coil.is_none());
        if l.coils.is_some() && one {
            broken_with_hint(
                problems,
                format!("/loudspeakers/{id}/coils"),
                format!("{id} has one voice coil: \"{}\" has no second one to wire", l.model),
                "take it out, or choose a model with two coils".into(),
            );
        }
    }
}

/// Outputs must exist on the amplifier, and be used once.
fn outputs(document: &JobDocument, catalogue: &Catalogue, problems: &mut Vec<Problem>) {
    let mut used: BTreeMap<(&str, u32), &str> = BTreeMap::new();
    for (id, channel) in &document.channels {
        let Some(amplifier) = document.amplifiers.get(&channel.amplifier) else { continue };
        let Some(model) = catalogue.amplifiers.get(&amplifier.model) else { continue };
        let at = format!("/channels/{id}/output");
        if channel.output > model.channels {
            broken(
                problems,
                at,
                format!(
                    "amplifier {} has no output {}: \"{}\" has outputs 1 to {}",
                    channel.amplifier, channel.output, amplifier.model, model.channels
                ),
            );
            continue;
        }
        let mut taken = vec![channel.output];
        if channel.bridged {
            let bridge = format!("/channels/{id}/bridged");
            if !model.bridges {
                broken(problems, bridge, format!("the outputs of \"{}\" cannot be bridged", amplifier.model));
            } else if channel.output + 1 > model.channels {
                broken_with_hint(
                    problems,
                    bridge,
                    format!("output {} has no next output to bridge with", channel.output),
                    format!("\"{}\" has outputs 1 to {}", amplifier.model, model.channels),
                );
            } else {
                taken.push(channel.output + 1);
            }
        }
        for output in taken {
            if let Some(other) = used.insert((&channel.amplifier, output), id) {
                let how = if output == channel.output { "is" } else { "(bridged with this one) is" };
                broken(
                    problems,
                    at.clone(),
                    format!(
                        "output {output} of amplifier {} {how} already used by channel {other}",
                        channel.amplifier
                    ),
                );
            }
        }
    }
}

/// One kind of reading each.
fn reading(at: &str, r: &Reading, problems: &mut Vec<Problem>) {
    let kinds = [
        ("impedance", r.impedance.is_some()),
        ("dc", r.dc.is_some()),
        ("leakage", r.leakage_ohm.is_some()),
        ("level", r.level_dba.is_some()),
    ];
    let given: Vec<&str> = kinds.iter().filter(|k| k.1).map(|k| k.0).collect();
    match given.as_slice() {
        [] => broken_with_hints(
            problems,
            at,
            "this reading has no value".into(),
            "state an impedance with its frequency, a resistance at direct current, a leakage or a level",
            "give it one of `impedance` (with `frequency`), `dc`, `leakage` or `level`".into(),
        ),
        [_] => {}
        several => broken_with_hint(
            problems,
            at,
            format!("this reading has {} values: {}", several.len(), several.join(", ")),
            "write each as a reading of its own".into(),
        ),
    }
    if r.impedance.is_some() && r.frequency_hz.is_none() {
        broken_with_hints(
            problems,
            format!("{at}/impedance"),
            "an impedance means nothing without the frequency it was read at".into(),
            "state the frequency, for example 1 kHz",
            "add `frequency`, e.g. frequency = \"1 kHz\"".into(),
        );
    }
    if let (Some(_), None) = (r.frequency_hz, r.impedance) {
        broken(problems, format!("{at}/frequency"), "only an impedance reading has a frequency".into());
    }
    if let (true, Some(Shown::Open)) = (r.above, r.dc.or(r.impedance)) {
        broken(problems, format!("{at}/above"), "an open line is no value to be above".into());
    }
    if r.above && r.level_dba.is_some() {
        broken(
            problems,
            format!("{at}/above"),
            "a level is never above a meter's range: take it again".into(),
        );
    }
}

/// A sound level is of one place, and says something.
fn level(at: &str, l: &MeasuredLevel, problems: &mut Vec<Problem>) {
    match (&l.area, &l.neighbour) {
        (Some(_), None) | (None, Some(_)) => {}
        (None, None) => broken_with_hint(
            problems,
            at,
            "this level does not say where it was measured".into(),
            "name the listening area or the neighbour".into(),
        ),
        (Some(_), Some(_)) => broken_with_hint(
            problems,
            at,
            "this level was measured in an area and at a neighbour".into(),
            "write each as a level of its own".into(),
        ),
    }
    if l.floor.is_some() && l.neighbour.is_none() {
        broken(problems, format!("{at}/floor"), "only a neighbour has floors".into());
    }
    if l.level_dba.is_none() && l.octave_63hz_db.is_none() {
        broken_with_hint(
            problems,
            at,
            "this level has no value".into(),
            "state `level`, in dBA, or `octave_63hz`, in dB".into(),
        );
    }
}

/// Work is done to what it can be done to.
fn done(at: &str, d: &Done, document: &JobDocument, problems: &mut Vec<Problem>) {
    let word = d.work.word();
    let at_loudspeaker = d.at.as_ref().is_some_and(|a| document.loudspeakers.contains_key(a));
    match d.work {
        Work::Laid => match (&d.line, &d.run) {
            (Some(_), Some(_)) => {}
            _ => broken_with_hints(
                problems,
                at,
                "this does not say which run was laid".into(),
                "state the line and the run",
                "add `line` and `run`".into(),
            ),
        },
        Work::Joint | Work::Opened | Work::Placed | Work::Hole | Work::Tap if d.at.is_none() => {
            broken_with_hints(
                problems,
                at,
                format!("work \"{word}\" does not say where it was done"),
                "state the joint or loudspeaker",
                "add `at` with the tag of a joint or loudspeaker".into(),
            )
        }
        Work::Placed | Work::Hole | Work::Tap
            if !at_loudspeaker && document.joints.contains_key(d.at.as_deref().unwrap_or_default()) =>
        {
            broken(
                problems,
                format!("{at}/at"),
                format!("work \"{word}\" is done at a loudspeaker; this is a joint"),
            );
        }
        _ => {}
    }
}
