//! Rules of lines: a tree from the start that reaches every loudspeaker, fed in one way.

use super::broken::{broken, broken_with_hint, broken_with_hints};
use super::omitted::Omitted;
use super::stub_rules::pairs;
use super::tree::{self, LineTree, TreeFault};
use crate::catalogue::{Cable, Catalogue, LoudspeakerModel};
use crate::document::{JobDocument, Line, Loudspeaker, Supply};
use crate::reading::{Choice as _, Problem};
use indexmap::IndexMap;
use loamline_terms::{Sentence, say};

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
            say!(
                "\"{model}\" has no transformer, and line {line} is a {voltage} line",
                model = &loudspeaker.model,
                line = name,
                voltage = word
            ),
            say!("choose a model with a transformer, or a low-impedance line"),
        ),
        (Some(_), Some(_)) if loudspeaker.tap_w.is_none() => {
            let taps = taps_at(model, supply);
            let list = taps.iter().map(f64::to_string).collect::<Vec<_>>().join(", ");
            let at = format!("/loudspeakers/{id}");
            let rule = say!(
                "line {line} is a {voltage} line, so {tag} needs a transformer tap",
                line = name,
                voltage = word,
                tag = id
            );
            if let Some(first) = taps.first() {
                let model = &loudspeaker.model;
                let by_key = format!("\"{model}\" has taps at {word} of {list} W: write e.g. tap = {first}");
                let plain = say!(
                    "\"{model}\" has taps at {voltage} of {taps} W: choose one",
                    model = model,
                    voltage = word,
                    taps = list
                );
                broken_with_hints(problems, at, rule, plain, by_key);
            } else {
                let hint = say!(
                    "\"{model}\" has no taps at {voltage}: choose another model",
                    model = &loudspeaker.model,
                    voltage = word
                );
                broken_with_hint(problems, at, rule, hint);
            }
        }
        (None, _) if loudspeaker.tap_w.is_some() => broken_with_hints(
            problems,
            format!("/loudspeakers/{id}/tap"),
            say!("line {line} is low impedance, where a loudspeaker has no tap", line = name),
            say!("take the tap out, or choose another line voltage"),
            "take `tap` out, or give the line a constant-voltage `supply`",
        ),
        (None, _) if !model.low_impedance => broken_with_hint(
            problems,
            format!("/loudspeakers/{id}/line"),
            say!(
                "\"{model}\" cannot be fed past its transformer, and line {line} is low impedance",
                model = &loudspeaker.model,
                line = name
            ),
            say!("choose a model that takes low impedance, or a constant-voltage line"),
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
    let mut check = |at: String, who: Sentence, name: &str, pair: u32| {
        let Some(cable) = catalogue.cables.get(name).filter(|cable| 2 * pair > cable.conductors) else {
            return;
        };
        let rule = say!(
            "{who} uses pair {pair}, and the cable \"{cable}\" has {conductors} conductors, so {pairs} in all",
            who = who,
            pair = pair.to_string(),
            cable = name,
            conductors = cable.conductors.to_string(),
            pairs = pairs(cable.conductors)
        );
        broken(problems, at, rule);
    };
    let whole = || say!("line {id}", id = id);
    check(format!("/lines/{id}/pair"), whole(), &line.cable, line.pair);
    for (run, r) in &line.runs {
        let at = format!("/lines/{id}/runs/{run}");
        let name = r.cable.as_ref().unwrap_or(&line.cable);
        let cable = catalogue.cables.get(name);
        match (r.pair, &r.cable, cable) {
            (Some(pair), ..) => {
                let who = say!("run {run} of line {line}", run = run, line = id);
                check(format!("{at}/pair"), who, name, pair);
            }
            (None, Some(_), Some(cable)) => {
                check(format!("{at}/cable"), whole(), name, line.pair_in(cable));
            }
            _ => {}
        }
    }
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
                say!("nothing says where line {id} starts", id = id),
                say!("choose its channel, or the rack or stub-out it starts at"),
                "name its `channel`, or write `start` with the rack or stub-out it starts at",
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
            say!(
                "line {id} starts at rack {rack}, and the amplifier of its channel {channel} stands in rack {wanted}",
                id = id,
                rack = rack,
                channel = channel,
                wanted = wanted
            )
        } else {
            say!(
                "line {id} starts at stub-out {start}, which leads to rack {rack}, and the amplifier of its channel {channel} stands in rack {wanted}",
                id = id,
                start = start,
                rack = rack,
                channel = channel,
                wanted = wanted
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
                        say!(
                            "run {run} of line {id} ends at loudspeaker {end}, which hangs on line {other}",
                            run = run,
                            id = id,
                            end = end,
                            other = other
                        ),
                    ),
                    None => broken_with_hints(
                        problems,
                        at,
                        say!(
                            "run {run} of line {id} ends at loudspeaker {end}, which is on no line",
                            run = run,
                            id = id,
                            end = end
                        ),
                        say!("put {tag} on line {line}", tag = end, line = id),
                        format!("write line = \"{id}\" under [loudspeakers.{end}]"),
                    ),
                }
            } else if end != start && (document.racks.contains_key(end) || document.stubs.contains_key(end)) {
                broken(
                    problems,
                    at,
                    say!(
                        "run {run} ends at {end}, but line {id} starts at {start}; a line meets no other rack or stub-out",
                        run = run,
                        end = end,
                        id = id,
                        start = start
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
                        say!("run {run} starts and ends at {end}", run = &run, end = &ring[0]),
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
                            .map_or_else(|| say!("another"), |(o, _)| o.into());
                        broken_with_hint(
                            problems,
                            format!("/lines/{id}/runs/{run}"),
                            say!(
                                "runs {other} and {run} both join {first} and {second}",
                                other = other,
                                run = &run,
                                first = &ring[0],
                                second = &ring[1]
                            ),
                            say!("take one of them out"),
                        );
                    }
                    TreeFault::Loop { run, ring } => broken_with_hint(
                        problems,
                        format!("/lines/{id}/runs/{run}"),
                        say!("run {run} closes a loop: {ring}", run = &run, ring = ring.join(" - ")),
                        say!(
                            "line {id} must reach each of them one way only: take out one run of the loop",
                            id = id
                        ),
                    ),
                    TreeFault::Apart { runs, nodes } => broken_with_hint(
                        problems,
                        format!("/lines/{id}/runs/{}", runs[0]),
                        match runs.as_slice() {
                            [run] => say!(
                                "run {run} is not connected to {start}, where line {id} starts",
                                run = run,
                                start = start,
                                id = id
                            ),
                            several => say!(
                                "runs {runs} are not connected to {start}, where line {id} starts",
                                runs = several.join(", "),
                                start = start,
                                id = id
                            ),
                        },
                        say!("add a run that leads to one of: {nodes}", nodes = nodes.join(", ")),
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
                say!(
                    "line {id} is a {voltage} line, where every loudspeaker stands across the line",
                    id = id,
                    voltage = supply.word()
                ),
                say!("hang what is to stand in series on a low-impedance line"),
            );
        } else if !document.loudspeakers.contains_key(from) {
            broken_with_hint(
                problems,
                at,
                say!(
                    "run {run} leaves {from}, which is no loudspeaker to be in series with",
                    run = name,
                    from = from
                ),
                say!("let it leave the loudspeaker that the current goes through first"),
            );
        } else if !tree.behind(index).any(|node| document.loudspeakers.contains_key(node)) {
            broken_with_hint(
                problems,
                at,
                say!(
                    "no loudspeaker hangs behind run {run}, so that no current flows through {from}",
                    run = name,
                    from = from
                ),
                say!("lead it on to the loudspeaker that {from} is in series with", from = from),
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
            say!("no run of line {id} reaches {tag}", id = id, tag = tag),
            say!(
                "put {tag} on line {line} anew: its cable is led there; or choose no line",
                tag = tag,
                line = id
            ),
            format!("add a run to {tag} under [lines.{id}.runs], or take its `line` out"),
        );
    }
}
