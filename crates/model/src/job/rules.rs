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
use loamline_terms::{Sentence, Shown, say};
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
                let other = match other {
                    "loudspeaker" => say!("loudspeaker"),
                    "joint" => say!("joint"),
                    "rack" => say!("rack"),
                    _ => say!("stub-out"),
                };
                let rule = say!(
                    "\"{id}\" is already the tag of a {other}; loudspeakers, joints, racks and stubs need tags of their own, since runs of cable end at any of them",
                    id = id,
                    other = other
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
            let values = vec![("which", id.into()), ("least", AREA_CM2.shown().into())];
            broken(problems, path, Sentence::of(AREA_CM2.sentence, values));
        } else if let Some(site) = &document.site.outline
            && !overlap(&area.outline, site)
        {
            broken(
                problems,
                path,
                say!("listening area {id} lies off the property; move it or the outline", id = id),
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
            say!("this neighbour has no place"),
            say!("draw the window, the balcony or the boundary it is judged at"),
            "give it `points` (a window, a balcony) or a boundary `line`",
        );
    }
    if n.line.len() == 1 {
        broken_with_hints(
            problems,
            format!("/neighbours/{id}/line"),
            say!("a boundary line needs at least 2 points, this one has 1"),
            say!("give it a second point, or draw it as a single place"),
            "a single place belongs in `points`",
        );
    }
}

/// A wall has one height: with it, foot and top say the same, and one of them is enough.
fn wall(id: &str, w: &Wall, problems: &mut Vec<Problem>) {
    if w.foot_m.is_some() && w.top_m.is_some() {
        broken_with_hints(
            problems,
            format!("/walls/{id}/top"),
            say!("wall {id} says both where its foot and where its top is", id = id),
            say!("leave one of them empty: the height says the other"),
            "take `foot` or `top` out: `height` says the other",
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
            say!(
                "area {id} asks for bass, and its programme {programme} is speech, which no subwoofer plays",
                id = id,
                programme = name
            ),
            say!("take the wish for bass out, or give the area another programme"),
        );
    }
    if area.bass_at_most_db.is_some_and(|most| most < wanted_db) {
        broken_with_hint(
            problems,
            format!("/areas/{id}/bass_at_most"),
            say!("area {id} asks for more bass than it wants at most", id = id),
            say!("lower the bass wanted, or raise the most that is wanted"),
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
                say!(
                    "{tag} has one voice coil: \"{model}\" has no second one to wire",
                    tag = id,
                    model = &l.model
                ),
                say!("take it out, or choose a model with two coils"),
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
                say!(
                    "amplifier {amplifier} has no output {output}: \"{model}\" has outputs 1 to {last}",
                    amplifier = &channel.amplifier,
                    output = channel.output.to_string(),
                    model = &amplifier.model,
                    last = model.channels.to_string()
                ),
            );
            continue;
        }
        let mut taken = vec![channel.output];
        if channel.bridged {
            let bridge = format!("/channels/{id}/bridged");
            if !model.bridges {
                let rule = say!("the outputs of \"{model}\" cannot be bridged", model = &amplifier.model);
                broken(problems, bridge, rule);
            } else if channel.output + 1 > model.channels {
                broken_with_hint(
                    problems,
                    bridge,
                    say!(
                        "output {output} has no next output to bridge with",
                        output = channel.output.to_string()
                    ),
                    say!(
                        "\"{model}\" has outputs 1 to {last}",
                        model = &amplifier.model,
                        last = model.channels.to_string()
                    ),
                );
            } else {
                taken.push(channel.output + 1);
            }
        }
        for output in taken {
            if let Some(other) = used.insert((&channel.amplifier, output), id) {
                let own = output == channel.output;
                let bridged = if own { Sentence::default() } else { say!(" (bridged with this one)") };
                let rule = say!(
                    "output {output} of amplifier {amplifier}{bridged} is already used by channel {other}",
                    output = output.to_string(),
                    amplifier = &channel.amplifier,
                    bridged = bridged,
                    other = other
                );
                broken(problems, at.clone(), rule);
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
            say!("this reading has no value"),
            say!(
                "state an impedance with its frequency, a resistance at direct current, a leakage or a level"
            ),
            "give it one of `impedance` (with `frequency`), `dc`, `leakage` or `level`",
        ),
        [_] => {}
        several => broken_with_hint(
            problems,
            at,
            say!(
                "this reading has {count} values: {values}",
                count = several.len().to_string(),
                values = several.join(", ")
            ),
            say!("write each as a reading of its own"),
        ),
    }
    if r.impedance.is_some() && r.frequency_hz.is_none() {
        broken_with_hints(
            problems,
            format!("{at}/impedance"),
            say!("an impedance means nothing without the frequency it was read at"),
            say!("state the frequency, for example 1 kHz"),
            "add `frequency`, e.g. frequency = \"1 kHz\"",
        );
    }
    if let (Some(_), None) = (r.frequency_hz, r.impedance) {
        broken(problems, format!("{at}/frequency"), say!("only an impedance reading has a frequency"));
    }
    if let (true, Some(Shown::Open)) = (r.above, r.dc.or(r.impedance)) {
        broken(problems, format!("{at}/above"), say!("an open line is no value to be above"));
    }
    if r.above && r.level_dba.is_some() {
        broken(
            problems,
            format!("{at}/above"),
            say!("a level is never above a meter's range: take it again"),
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
            say!("this level does not say where it was measured"),
            say!("name the listening area or the neighbour"),
        ),
        (Some(_), Some(_)) => broken_with_hint(
            problems,
            at,
            say!("this level was measured in an area and at a neighbour"),
            say!("write each as a level of its own"),
        ),
    }
    if l.floor.is_some() && l.neighbour.is_none() {
        broken(problems, format!("{at}/floor"), say!("only a neighbour has floors"));
    }
    if l.level_dba.is_none() && l.octave_63hz_db.is_none() {
        broken_with_hint(
            problems,
            at,
            say!("this level has no value"),
            "state `level`, in dBA, or `octave_63hz`, in dB",
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
                say!("this does not say which run was laid"),
                say!("state the line and the run"),
                "add `line` and `run`",
            ),
        },
        Work::Joint | Work::Opened | Work::Placed | Work::Hole | Work::Tap if d.at.is_none() => {
            broken_with_hints(
                problems,
                at,
                format!("work \"{word}\" does not say where it was done"),
                say!("state the joint or loudspeaker"),
                "add `at` with the tag of a joint or loudspeaker",
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
