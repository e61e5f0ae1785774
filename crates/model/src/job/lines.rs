//! Rules of lines: a tree from the start that reaches every loudspeaker, fed in one way.

use super::broken::{broken, broken_with_hint, broken_with_hints};
use super::omitted::Omitted;
use super::tree::{self, LineTree, TreeFault};
use crate::catalogue::{Cable, Catalogue, LoudspeakerModel};
use crate::document::{JobDocument, Line, Loudspeaker, Supply};
use crate::reading::{Choice as _, Problem};
use indexmap::IndexMap;

/// Reports every broken rule of the lines; the trees of those that are whole.
pub(super) fn check_lines(
    document: &JobDocument,
    catalogue: &Catalogue,
    left_out: &Omitted,
    problems: &mut Vec<Problem>,
) -> IndexMap<String, LineTree> {
    for (id, loudspeaker) in &document.loudspeakers {
        feeding(id, loudspeaker, document, catalogue, problems);
    }
    let mut trees = IndexMap::new();
    for (id, line) in &document.lines {
        pair(id, line, catalogue, problems);
        let start = start(id, line, document, left_out, problems);
        let partly_unread =
            line.runs.values().any(|r| left_out.has_run_end(&r.from) || left_out.has_run_end(&r.to));
        let Some(start) = start.filter(|_| !partly_unread) else { continue };
        let found = problems.len();
        ends(id, line, start, document, problems);
        if let (Some(tree), true) = (layout(id, line, start, problems), problems.len() == found) {
            reach(id, line, &tree, document, problems);
            in_series(id, line, &tree, document, problems);
            trees.insert(id.clone(), tree);
        }
    }
    trees
}

/// Taps belong to constant-voltage lines, and only there; transformers likewise.
fn feeding(
    id: &str,
    loudspeaker: &Loudspeaker,
    document: &JobDocument,
    catalogue: &Catalogue,
    problems: &mut Vec<Problem>,
) {
    let Some(name) = &loudspeaker.line else { return };
    let (Some(line), Some(model)) =
        (document.lines.get(name), catalogue.loudspeakers.get(&loudspeaker.model))
    else {
        return;
    };
    let supply = document.supply_of_line(line);
    let word = supply.word();
    match (supply.line_v(), &model.transformer) {
        (Some(_), None) => broken_with_hint(
            problems,
            format!("/loudspeakers/{id}/line"),
            format!("\"{}\" has no transformer, and line {name} is a {word} line", loudspeaker.model),
            "choose a model with a transformer, or a low-impedance line".into(),
        ),
        (Some(_), Some(_)) if loudspeaker.tap_w.is_none() => {
            let taps = taps_at(model, supply);
            let list = taps.iter().map(f64::to_string).collect::<Vec<_>>().join(", ");
            let at = format!("/loudspeakers/{id}");
            let rule = format!("line {name} is a {word} line, so {id} needs a transformer tap");
            if let Some(first) = taps.first() {
                let taps = format!("\"{}\" has taps at {word} of {list} W", loudspeaker.model);
                let by_key = format!("{taps}: write e.g. tap = {first}");
                broken_with_hints(problems, at, rule, format!("{taps}: choose one"), by_key);
            } else {
                let hint = format!("\"{}\" has no taps at {word}: choose another model", loudspeaker.model);
                broken_with_hint(problems, at, rule, hint);
            }
        }
        (None, _) if loudspeaker.tap_w.is_some() => broken_with_hints(
            problems,
            format!("/loudspeakers/{id}/tap"),
            format!("line {name} is low impedance, where a loudspeaker has no tap"),
            "take the tap out, or choose another line voltage",
            "take `tap` out, or give the line a constant-voltage `supply`".into(),
        ),
        (None, _) if !model.low_impedance => broken_with_hint(
            problems,
            format!("/loudspeakers/{id}/line"),
            format!(
                "\"{}\" cannot be fed past its transformer, and line {name} is low impedance",
                loudspeaker.model
            ),
            "choose a model that takes low impedance, or a constant-voltage line".into(),
        ),
        _ => {}
    }
}

/// Taps a model offers on a supply, watts.
fn taps_at(model: &LoudspeakerModel, supply: Supply) -> &[f64] {
    match (&model.transformer, supply) {
        (Some(t), Supply::Volts25) => &t.taps_25v_w,
        (Some(t), Supply::Volts70) => &t.taps_70v_w,
        (Some(t), Supply::Volts100) => &t.taps_100v_w,
        _ => &[],
    }
}

impl Line {
    /// The pair it uses in a run of some cable, from 1: its own, or the only one there is.
    pub fn pair_in(&self, cable: &Cable) -> u32 {
        if cable.conductors < 4 { 1 } else { self.pair }
    }
}

/// The pair of conductors used must be in the cable, of the line and of every run that differs from it.
fn pair(id: &str, line: &Line, catalogue: &Catalogue, problems: &mut Vec<Problem>) {
    let mut check = |at: String, who: String, name: &str, pair: u32| {
        let Some(cable) = catalogue.cables.get(name).filter(|cable| 2 * pair > cable.conductors) else {
            return;
        };
        let rule = format!(
            "{who} uses pair {pair}, and the cable \"{name}\" has {} conductors, so {} in all",
            cable.conductors,
            plural(cable.conductors as usize / 2, "pair", "pairs"),
        );
        broken(problems, at, rule);
    };
    check(format!("/lines/{id}/pair"), format!("line {id}"), &line.cable, line.pair);
    for (run, r) in &line.runs {
        let at = format!("/lines/{id}/runs/{run}");
        let name = r.cable.as_ref().unwrap_or(&line.cable);
        let cable = catalogue.cables.get(name);
        match (r.pair, &r.cable, cable) {
            (Some(pair), ..) => check(format!("{at}/pair"), format!("run {run} of line {id}"), name, pair),
            (None, Some(_), Some(cable)) => {
                check(format!("{at}/cable"), format!("line {id}"), name, line.pair_in(cable));
            }
            _ => {}
        }
    }
}

pub(super) fn plural(n: usize, one: &str, more: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { more })
}

/// Where a line starts: as written, or the rack of its channel's amplifier.
fn start<'d>(
    id: &str,
    line: &'d Line,
    document: &'d JobDocument,
    left_out: &Omitted,
    problems: &mut Vec<Problem>,
) -> Option<&'d str> {
    let amplifier = line.channel.as_ref().and_then(|c| document.channels.get(c)).map(|c| &c.amplifier);
    let amplifier_rack = amplifier.and_then(|a| document.amplifiers.get(a)).map(|a| a.rack.as_str());
    let Some(start) = line.start.as_deref() else {
        let unread = line.channel.as_ref().is_some_and(|c| left_out.has("channels", c))
            || amplifier.is_some_and(|a| left_out.has("amplifiers", a));
        if amplifier_rack.is_none() && !unread && !line.runs.is_empty() {
            broken_with_hints(
                problems,
                format!("/lines/{id}"),
                format!("nothing says where line {id} starts"),
                "choose its channel, or the rack or stub-out it starts at",
                "name its `channel`, or write `start` with the rack or stub-out it starts at".into(),
            );
        }
        return amplifier_rack.filter(|r| document.racks.contains_key(*r)).or_else(|| {
            // A line that is not laid out yet may still be without a start.
            line.runs.is_empty().then_some("").filter(|_| !unread)
        });
    };
    let rack = match document.stubs.get(start) {
        // Without a rack that is told at the stub.
        Some(stub) => match document.rack_of_stub(stub) {
            Some(rack) => rack,
            None => return Some(start),
        },
        None if document.racks.contains_key(start) => start,
        None => return None,
    };
    if let Some(wanted) = amplifier_rack.filter(|w| *w != rack) {
        let channel = line.channel.as_deref().unwrap_or_default();
        let rule = if rack == start {
            format!(
                "line {id} starts at rack {rack}, and the amplifier of its channel {channel} stands in rack {wanted}"
            )
        } else {
            format!(
                "line {id} starts at stub-out {start}, which leads to rack {rack}, and the amplifier of its channel {channel} stands in rack {wanted}"
            )
        };
        broken(problems, format!("/lines/{id}/start"), rule);
    }
    Some(start)
}

/// Runs join two different things, each of which belongs on the line.
fn ends(id: &str, line: &Line, start: &str, document: &JobDocument, problems: &mut Vec<Problem>) {
    for (run, r) in &line.runs {
        for (key, end) in [("from", &r.from), ("to", &r.to)] {
            let at = format!("/lines/{id}/runs/{run}/{key}");
            if let Some(l) = document.loudspeakers.get(end) {
                match &l.line {
                    Some(other) if other == id => {}
                    Some(other) => broken(
                        problems,
                        at,
                        format!(
                            "run {run} of line {id} ends at loudspeaker {end}, which hangs on line {other}"
                        ),
                    ),
                    None => broken_with_hints(
                        problems,
                        at,
                        format!("run {run} of line {id} ends at loudspeaker {end}, which is on no line"),
                        format!("put {end} on line {id}"),
                        format!("write line = \"{id}\" under [loudspeakers.{end}]"),
                    ),
                }
            } else if end != start && (document.racks.contains_key(end) || document.stubs.contains_key(end)) {
                broken(
                    problems,
                    at,
                    format!(
                        "run {run} ends at {end}, but line {id} starts at {start}; a line meets no other rack or stub-out"
                    ),
                );
            }
        }
    }
}

/// The tree of the runs, or what keeps them from being one.
fn layout(id: &str, line: &Line, start: &str, problems: &mut Vec<Problem>) -> Option<LineTree> {
    match tree::build(line, start) {
        Ok(tree) => Some(tree),
        Err(faults) => {
            for fault in faults {
                match fault {
                    TreeFault::Loop { run, ring } if ring.len() < 3 => broken(
                        problems,
                        format!("/lines/{id}/runs/{run}"),
                        format!("run {run} starts and ends at {}", ring[0]),
                    ),
                    TreeFault::Loop { run, ring } if ring.len() == 3 => {
                        let other = line
                            .runs
                            .iter()
                            .find(|(o, r)| {
                                **o != run
                                    && [&r.from, &r.to].contains(&&ring[0])
                                    && [&r.from, &r.to].contains(&&ring[1])
                            })
                            .map_or("another", |(o, _)| o.as_str());
                        broken_with_hint(
                            problems,
                            format!("/lines/{id}/runs/{run}"),
                            format!("runs {other} and {run} both join {} and {}", ring[0], ring[1]),
                            "take one of them out".into(),
                        );
                    }
                    TreeFault::Loop { run, ring } => broken_with_hint(
                        problems,
                        format!("/lines/{id}/runs/{run}"),
                        format!("run {run} closes a loop: {}", ring.join(" - ")),
                        format!(
                            "line {id} must reach each of them one way only: take out one run of the loop"
                        ),
                    ),
                    TreeFault::Apart { runs, nodes } => broken_with_hint(
                        problems,
                        format!("/lines/{id}/runs/{}", runs[0]),
                        format!(
                            "{} {} not connected to {start}, where line {id} starts",
                            if runs.len() == 1 { "run" } else { "runs" },
                            if runs.len() == 1 {
                                format!("{} is", runs[0])
                            } else {
                                format!("{} are", runs.join(", "))
                            }
                        ),
                        format!("add a run that leads to one of: {}", nodes.join(", ")),
                    ),
                }
            }
            None
        }
    }
}

/// What is in series is in series with a loudspeaker, on low impedance, and closes a circuit.
fn in_series(id: &str, line: &Line, tree: &LineTree, document: &JobDocument, problems: &mut Vec<Problem>) {
    let supply = document.supply_of_line(line);
    for (index, run) in tree.runs.iter().enumerate() {
        if !line.runs.get(&run.id).is_some_and(|r| r.in_series) {
            continue;
        }
        let at = format!("/lines/{id}/runs/{}/in_series", run.id);
        let (from, name) = (&run.from, &run.id);
        if supply.line_v().is_some() {
            broken_with_hint(
                problems,
                at,
                format!(
                    "line {id} is a {} line, where every loudspeaker stands across the line",
                    supply.word()
                ),
                "hang what is to stand in series on a low-impedance line".into(),
            );
        } else if !document.loudspeakers.contains_key(from) {
            broken_with_hint(
                problems,
                at,
                format!("run {name} leaves {from}, which is no loudspeaker to be in series with"),
                "let it leave the loudspeaker that the current goes through first".into(),
            );
        } else if !tree.behind(index).any(|node| document.loudspeakers.contains_key(node)) {
            broken_with_hint(
                problems,
                at,
                format!("no loudspeaker hangs behind run {name}, so that no current flows through {from}"),
                format!("lead it on to the loudspeaker that {from} is in series with"),
            );
        }
    }
}

/// Every loudspeaker of a line that is laid out must be reached.
fn reach(id: &str, line: &Line, tree: &LineTree, document: &JobDocument, problems: &mut Vec<Problem>) {
    if line.runs.is_empty() {
        return;
    }
    let reached: std::collections::BTreeSet<&str> = tree.nodes().collect();
    for (tag, _) in document
        .loudspeakers
        .iter()
        .filter(|(tag, l)| l.line.as_deref() == Some(id) && !reached.contains(tag.as_str()))
    {
        broken_with_hints(
            problems,
            format!("/loudspeakers/{tag}/line"),
            format!("no run of line {id} reaches {tag}"),
            format!("put {tag} on line {id} anew: its cable is led there; or choose no line"),
            format!("add a run to {tag} under [lines.{id}.runs], or take its `line` out"),
        );
    }
}
