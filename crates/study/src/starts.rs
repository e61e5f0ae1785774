//! Where lines start: at their rack or at the end of existing cable, whichever costs least in all.

use crate::no_way::{RouteProblem, RouteProblems};
use crate::routes::{Routed, route, route_each_alone};
use loamline_model::{Edit, Job, JobFile, LineView, Operation};
use serde_json::json;
use std::collections::BTreeMap;

/// Where each line whose start may be moved starts, by line: the rack of its channel (`None`) or a stub.
type Starts = BTreeMap<String, Option<String>>;

/// Routes every line of a job anew from where it costs least in all: from the rack of its channel, or from a stub of that
/// rack's existing cable with a pair to spare. A line with runs that are fixed or existing keeps its start, and so does
/// one that starts at a rack other than its channel's. Loss counts: a start from which a loudspeaker loses more than the
/// brief allows is taken only where every other start loses as much.
///
/// Lines are moved one at a time, the cheapest move first, until none pays; once from where they start now and once from
/// the stubs, as far as their pairs go.
///
/// # Errors
/// What stands in the way wherever the lines start, sentence by sentence.
pub fn route_from_best_starts(file: &JobFile) -> Result<Routed, RouteProblems> {
    let (alone, moved) = best_starts(file)?;
    let ways = alone.ways;
    let routed = match file.preview(&moved) {
        _ if moved.operations.is_empty() => route(file.job())?,
        Ok(job) => route(&job)?,
        Err(_) => alone,
    };
    Ok(after(moved, Routed { ways, ..routed }))
}

/// The same, every line in cable of its own and of one type: for a design whose cable is chosen after.
///
/// # Errors
/// As [`route_from_best_starts`].
pub fn route_each_alone_from_best_starts(file: &JobFile) -> Result<Routed, RouteProblems> {
    let (routed, moved) = best_starts(file)?;
    Ok(after(moved, routed))
}

/// Routes after the edit that moves the starts.
fn after(moved: Edit, mut routed: Routed) -> Routed {
    let mut edit = moved;
    edit.operations.append(&mut routed.edit.operations);
    routed.edit = edit;
    routed
}

/// Every line routed alone from the best starts, and the edit that moves them there.
fn best_starts(file: &JobFile) -> Found {
    let job = file.job();
    let stubs = usable_stubs(job);
    let now = movable(job);
    let mut ways = Ways { file, now: &now, keys: BTreeMap::new(), best: None };
    let mut best = now.clone();
    if !stubs.is_empty() && !now.is_empty() {
        for first in [now.clone(), all_at_stubs(job, &now, &stubs)] {
            let found = descend(&mut ways, first, &stubs);
            if is_better(ways.key(&found), ways.key(&best)) {
                best = found;
            }
        }
    }
    ways.routed(&best)
}

/// Fewest loudspeakers out of reach, then fewest limits broken, then the price.
type Key = (usize, usize, f64);

/// The routes of a way of starting the lines, and the edit that moves the starts.
type Found = Result<(Routed, Edit), RouteProblems>;

/// Ways of starting the lines that were looked at. Each is routed once, however often the search comes by.
struct Ways<'f> {
    file: &'f JobFile,
    now: &'f Starts,
    /// What each comes to.
    keys: BTreeMap<Starts, Key>,
    /// The best of them with its routes; to keep those of all would take a large job's memory many times over.
    best: Option<(Starts, Found)>,
}

impl Ways<'_> {
    /// What a way comes to.
    fn key(&mut self, starts: &Starts) -> Key {
        if let Some(known) = self.keys.get(starts) {
            return *known;
        }
        let found = from(self.file, self.now, starts);
        let key = key(&found);
        let held = self.best.as_ref().and_then(|(at, _)| self.keys.get(at)).copied();
        if held.is_none_or(|held| is_better(key, held)) {
            self.best = Some((starts.clone(), found));
        }
        self.keys.insert(starts.clone(), key);
        key
    }

    /// The routes of one, told with how many were routed to find it.
    fn routed(mut self, starts: &Starts) -> Found {
        self.key(starts);
        let found = match self.best {
            Some((at, found)) if at == *starts => found,
            _ => from(self.file, self.now, starts),
        };
        let ways = self.keys.len();
        found.map(|(routed, moves)| (Routed { ways, ..routed }, moves))
    }
}

/// Lines routed from where they are to start.
fn from(file: &JobFile, now: &Starts, starts: &Starts) -> Found {
    let moves = moves(file.job(), now, starts);
    if moves.operations.is_empty() {
        return route_each_alone(file.job()).map(|routed| (routed, moves));
    }
    match file.preview(&moves) {
        Ok(moved) => route_each_alone(&moved).map(|routed| (routed, moves)),
        // A start the document does not bear is no start.
        Err(_) => Err(RouteProblems(Vec::new())),
    }
}

fn key(found: &Found) -> Key {
    match found {
        Ok((routed, _)) => {
            let findings = routed.groups.iter().flat_map(|g| &g.findings);
            let errors = findings.filter(|f| f.is_error()).count();
            (0, errors, routed.groups.iter().map(|g| g.totals.price).sum())
        }
        Err(problems) if problems.0.is_empty() => (usize::MAX, 0, 0.0),
        Err(problems) => (problems.0.iter().map(RouteProblem::cut_off).sum(), 0, 0.0),
    }
}

/// Whether a way is better than another, and not just by rounding.
fn is_better((a, b, less): Key, (c, d, price): Key) -> bool {
    (a, b) < (c, d) || ((a, b) == (c, d) && less < price - 0.005)
}

/// Moves one line at a time, the cheapest move first, until none pays.
fn descend(ways: &mut Ways<'_>, first: Starts, stubs: &[String]) -> Starts {
    let file = ways.file;
    let job = file.job();
    let mut best = first;
    let mut least = ways.key(&best);
    loop {
        let at = best.clone();
        for (line, start) in &at {
            let places = stubs.iter().map(|s| Some(s.clone())).chain([None]);
            for place in places.filter(|p| p != start) {
                let mut moved = at.clone();
                moved.insert(line.clone(), place);
                if !fits(job, &moved) {
                    continue;
                }
                let key = ways.key(&moved);
                if is_better(key, least) {
                    (best, least) = (moved, key);
                }
            }
        }
        if best == at {
            return best;
        }
    }
}

/// Lines that may start elsewhere, each with where it starts now.
fn movable(job: &Job) -> Starts {
    let d = job.document();
    let free = |line: &LineView<'_>| !line.line.runs.values().any(|r| r.fixed || r.existing);
    job.lines()
        .filter(free)
        .filter_map(|v| match v.line.start.as_deref() {
            None => Some((v.id.to_owned(), None)),
            Some(at) if d.stubs.contains_key(at) => Some((v.id.to_owned(), Some(at.to_owned()))),
            Some(at) => (rack_of(job, v.id) == Some(at)).then(|| (v.id.to_owned(), None)),
        })
        .collect()
}

fn rack_of<'j>(job: &'j Job, line: &str) -> Option<&'j str> {
    let d = job.document();
    let channel = d.channels.get(d.lines.get(line)?.channel.as_deref()?)?;
    d.amplifiers.get(&channel.amplifier).map(|a| a.rack.as_str())
}

/// Stubs a line can be led from: those whose cable is known, with its length ([`crate::Study::findings`] tells of others).
fn usable_stubs(job: &Job) -> Vec<String> {
    let d = job.document();
    let usable = |s: &&loamline_model::document::Stub| {
        s.length_m.is_some() && d.rack_of_stub(s).is_some() && d.most_pairs_of_stub(s, job.catalogue()) > 0
    };
    d.stubs.iter().filter(|(_, s)| usable(s)).map(|(id, _)| id.clone()).collect()
}

/// Whether every line starts at its own rack's cable, and no stub has more lines than pairs.
fn fits(job: &Job, starts: &Starts) -> bool {
    let d = job.document();
    d.stubs.iter().all(|(id, stub)| {
        let moved: Vec<&String> =
            starts.iter().filter(|(_, at)| at.as_ref() == Some(id)).map(|(line, _)| line).collect();
        let pairs = |line: &str| d.lines.get(line).map_or(1, |l| l.stub_pairs.len().max(1));
        let staying = d.lines_at_stub(id).filter(|(line, _)| !starts.contains_key(*line));
        let wanted: usize = staying
            .map(|(line, _)| pairs(line))
            .chain(moved.iter().map(|line| pairs_after(job, line, id)))
            .sum();
        let own = |line: &&String| rack_of(job, line).is_none_or(|rack| d.rack_of_stub(stub) == Some(rack));
        wanted <= d.most_pairs_of_stub(stub, job.catalogue()) && moved.iter().all(own)
    })
}

/// Pairs a line takes at a stub: those it names there now, else one.
fn pairs_after(job: &Job, line: &str, stub: &str) -> usize {
    let written = job.document().lines.get(line);
    written.filter(|l| l.start.as_deref() == Some(stub)).map_or(1, |l| l.stub_pairs.len().max(1))
}

/// As many lines at stubs as there are pairs, each at the stub nearest to its loudspeakers that has one left.
fn all_at_stubs(job: &Job, now: &Starts, stubs: &[String]) -> Starts {
    let d = job.document();
    let mut starts = now.clone();
    for line in now.keys() {
        let places = job.loudspeakers_of_line(line);
        let away = |stub: &String| {
            let at = d.stubs.get(stub).map(|s| s.position);
            places.iter().filter_map(|l| Some(l.placed.position.distance(at?))).fold(f64::INFINITY, f64::min)
        };
        let mut nearest: Vec<&String> = stubs.iter().collect();
        nearest.sort_by(|a, b| away(a).total_cmp(&away(b)));
        for stub in nearest {
            let mut moved = starts.clone();
            moved.insert(line.clone(), Some(stub.clone()));
            if fits(job, &moved) {
                starts = moved;
                break;
            }
        }
    }
    starts
}

/// The edit that moves starts. A line that moves loses its runs: they lead from where it started.
fn moves(job: &Job, now: &Starts, starts: &Starts) -> Edit {
    let d = job.document();
    let mut operations = Vec::new();
    for (line, at) in starts.iter().filter(|(line, at)| now.get(*line) != Some(at)) {
        let path = |key: &str| format!("/lines/{line}/{key}");
        let Some(written) = d.lines.get(line) else { continue };
        if !written.runs.is_empty() {
            operations.push(Operation::Remove { path: path("runs") });
        }
        if !written.stub_pairs.is_empty() {
            operations.push(Operation::Remove { path: path("stub_pairs") });
        }
        match at {
            Some(stub) => {
                operations.push(Operation::Add { path: path("start"), value: json!(stub), before: None });
            }
            None if written.start.is_some() => operations.push(Operation::Remove { path: path("start") }),
            None => {}
        }
    }
    Edit { operations }
}
