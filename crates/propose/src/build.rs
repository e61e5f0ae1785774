//! From loudspeakers in their places to a whole job: lines, amplifiers, ways of the cable, cable sizes, processing.

use crate::avoidable::Avoidable;
use crate::error::BriefProblem;
use crate::price::{Cost, Prices};
use crate::site::Site;
use crate::types::{Pose, RESERVE_DB};
use crate::wire::{Wiring, wire};
use loamline_adapt::pair;
use loamline_model::catalogue::{CableRating, DirectivityKind};
use loamline_model::document::{Mount, Supply};
use loamline_model::{Choice as _, Edit, Job, JobFile, Operation};
use loamline_study::{Routed, Study, in_pieces, route_each_alone, route_each_alone_from_best_starts};
use loamline_terms::Siemens;
use loamline_terms::pointer::escape;
use loamline_tune::tune;
use serde_json::{Map, Value, json};
use std::collections::BTreeSet;

/// A whole design.
pub(crate) struct Built {
    pub edit: Edit,
    pub study: Study,
    pub cost: Cost,
    /// What it took to make it, with what it was chosen from.
    pub done: Done,
}

/// What was done for a design, counted: what the search is held to.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Done {
    /// Layouts built.
    pub builds: usize,
    /// Ways of starting their lines that were routed.
    pub ways: usize,
}

impl Done {
    /// The same with what else was done.
    pub const fn and(self, more: Self) -> Self {
        Self { builds: self.builds + more.builds, ways: self.ways + more.ways }
    }
}

/// The job without anything that is not pinned, and the edit that makes it so. Designs are made without the visits, which
/// nothing in them depends on; the edit leaves them alone.
pub(crate) fn without_unpinned(file: &JobFile) -> Result<(JobFile, Edit), BriefProblem> {
    let d = file.job().document();
    let mut operations = Vec::new();
    let mut remove = |path: String| operations.push(Operation::Remove { path });
    for (section, ids) in [
        ("lines", d.lines.keys().collect::<Vec<_>>()),
        ("channels", d.channels.keys().collect()),
        ("leads", d.leads.keys().collect()),
        ("amplifiers", d.amplifiers.keys().collect()),
        ("joints", d.joints.keys().collect()),
    ] {
        ids.into_iter().for_each(|id| remove(format!("/{section}/{}", escape(id))));
    }
    for (id, l) in &d.loudspeakers {
        if !l.pinned {
            remove(format!("/loudspeakers/{}", escape(id)));
        } else if l.line.is_some() {
            remove(format!("/loudspeakers/{}/line", escape(id)));
        }
    }
    let mut pinned_only = file.clone();
    if file.raw().get("visits").is_some() {
        let path = "/visits".to_owned();
        pinned_only.apply(&Edit::new([Operation::Remove { path }]))?;
    }
    let edit = Edit { operations };
    pinned_only.apply(&edit)?;
    Ok((pinned_only, edit))
}

/// Tags that are free in a job.
struct Tags(BTreeSet<String>);

impl Tags {
    fn of(job: &Job) -> Self {
        let d = job.document();
        let all = d.loudspeakers.keys().chain(d.racks.keys()).chain(d.stubs.keys()).chain(d.joints.keys());
        Self(all.cloned().collect())
    }

    fn next(&mut self, letter: &str) -> String {
        let mut n = 1;
        while !self.0.insert(format!("{letter}{n}")) {
            n += 1;
        }
        format!("{letter}{n}")
    }
}

/// Builds a layout into a job: `pinned_only` has only what is pinned and `clear` made it so, `pinned` are the tags and poses of
/// that. With `own_gains`, channels left over are used to give areas gains of their own.
pub(crate) fn build(
    site: &Site<'_>,
    prices: &Prices<'_>,
    (pinned_only, clear): (&JobFile, &Edit),
    pinned: &[(String, Pose)],
    layout: &[Pose],
    own_gains: bool,
) -> Result<Built, BriefProblem> {
    let mut all: Vec<Pose> = pinned.iter().map(|p| p.1).collect();
    all.extend_from_slice(layout);
    let wiring = wire(site, prices, &all, own_gains)?;
    let mut free = Tags::of(pinned_only.job());
    let mut tags: Vec<String> = pinned.iter().map(|p| p.0.clone()).collect();
    // Tags run along the lines, as a crew meets them.
    tags.resize(all.len(), String::new());
    let (mains, subs): (Vec<_>, Vec<_>) = wiring.channels.iter().partition(|c| !c.subwoofers);
    for (channels, letter) in [(mains, "L"), (subs, "S")] {
        for &i in channels.iter().flat_map(|c| &c.members) {
            if tags[i].is_empty() {
                tags[i] = free.next(letter);
            }
        }
    }
    let mut file = pinned_only.clone();
    let mut edit = clear.clone();
    let placed = place((site, prices), pinned_only, &wiring, &all, pinned.len(), &tags);
    apply_and_append(&mut file, &mut edit, placed)?;
    let (mut study, ways) = lay_cable(site, prices, &mut file, &mut edit)?;
    let tuned = tune(&study)?;
    apply_and_append(&mut file, &mut edit, tuned.edit.clone())?;
    study = study.next(file.job().clone());
    let cost = prices.cost(file.job(), &study.runs())?;
    Ok(Built { edit, study, cost, done: Done { builds: 1, ways } })
}

/// Lays the cable with conductors thick enough, from where the lines start at least cost. Existing cable may be too thin
/// for what hangs on it, which only shows once new cable is as thick as it gets: then lines start at their racks, unless
/// that leaves as much to mend. Also says in how many ways lines were routed.
fn lay_cable(
    site: &Site<'_>,
    prices: &Prices<'_>,
    file: &mut JobFile,
    edit: &mut Edit,
) -> Result<(Study, usize), BriefProblem> {
    let laid = |routed: Routed| -> Result<_, BriefProblem> {
        let (mut file, mut edit) = (file.clone(), edit.clone());
        apply_and_append(&mut file, &mut edit, routed.edit)?;
        let mut study = Study::beside(file.job().clone(), site.prepared()?);
        // From the thinnest to the thickest there is, then in pieces that spools hold; service loops at joints lose a little more.
        for _ in 0..2 * cables(file.job(), prices).len() + 2 {
            let mut next = thicker(&study, prices);
            if next.operations.is_empty() {
                next = on_spools(&study, prices);
            }
            if next.operations.is_empty() {
                break;
            }
            apply_and_append(&mut file, &mut edit, next)?;
            study = study.next(file.job().clone());
        }
        let key = (Avoidable::of(&study), prices.cost(file.job(), &study.runs())?.total);
        Ok((key, file, edit, study))
    };
    let routed = route_each_alone_from_best_starts(file)?;
    let mut ways = routed.ways;
    let mut best = laid(routed)?;
    if !file.job().document().stubs.is_empty()
        && let Ok(from_racks) = route_each_alone(file.job())
    {
        ways += from_racks.ways;
        let other = laid(from_racks)?;
        if other.0 < best.0 {
            best = other;
        }
    }
    let (_, laid, written, study) = best;
    (*file, *edit) = (laid, written);
    Ok((study, ways))
}

fn apply_and_append(file: &mut JobFile, edit: &mut Edit, more: Edit) -> Result<(), BriefProblem> {
    file.apply(&more)?;
    edit.operations.extend(more.operations);
    Ok(())
}

/// Loudspeakers, lines, channels and amplifiers as an edit.
fn place(
    (site, prices): (&Site<'_>, &Prices<'_>),
    pinned_only: &JobFile,
    wiring: &Wiring,
    all: &[Pose],
    pinned: usize,
    tags: &[String],
) -> Edit {
    let d = site.job.document();
    let mut operations = Vec::new();
    for section in ["loudspeakers", "lines", "amplifiers", "channels"] {
        if pinned_only.raw().get(section).is_none() {
            let path = format!("/{section}");
            operations.push(Operation::Add { path, value: json!({}), before: None });
        }
    }
    let mut add = |path: String, value: Value| operations.push(Operation::Add { path, value, before: None });
    for (k, (model, rack)) in wiring.amplifiers.iter().enumerate() {
        add(format!("/amplifiers/P{}", k + 1), json!({ "model": model, "rack": rack }));
    }
    let mut names: Vec<String> = Vec::new();
    let outputs = pinned_only.job().document().output_tags();
    for ((k, c), output) in wiring.channels.iter().enumerate().zip(outputs) {
        let mut channel = Map::new();
        channel.insert("amplifier".into(), json!(format!("P{}", c.amplifier + 1)));
        channel.insert("output".into(), json!(c.output));
        if let Some(id) = d.programmes.keys().nth(c.programme) {
            channel.insert("programme".into(), json!(id));
        }
        channel.insert("gain".into(), json!(-RESERVE_DB));
        add(format!("/channels/{output}"), Value::Object(channel));
        let name = letters(k);
        let members: Vec<&Pose> = c.members.iter().map(|&i| &all[i]).collect();
        let rack = d.racks.get(&wiring.amplifiers[c.amplifier].1).map(|r| r.position);
        let cable = cable(site, prices, &members, rack.unwrap_or_default());
        add(format!("/lines/{name}"), json!({ "channel": output, "cable": cable }));
        names.push(name);
    }
    let line_of = |i: usize| {
        wiring
            .channels
            .iter()
            .position(|c| c.members.contains(&i))
            .map(|k| names[k].clone())
            .unwrap_or_default()
    };
    let mut order: Vec<usize> =
        wiring.channels.iter().filter(|c| !c.subwoofers).flat_map(|c| c.members.clone()).collect();
    order.extend(wiring.channels.iter().filter(|c| c.subwoofers).flat_map(|c| c.members.clone()));
    for i in order {
        let at = format!("/loudspeakers/{}", escape(&tags[i]));
        let pose = &all[i];
        if i < pinned {
            add(format!("{at}/line"), json!(line_of(i)));
            let stated = d.loudspeakers.get(&tags[i]).is_some_and(|l| l.tap_w.is_some());
            if !stated && site.models[pose.model].supply != Supply::LowImpedance {
                add(format!("{at}/tap"), json!(pose.tap_w));
            }
            continue;
        }
        add(at, loudspeaker(site, pose, &line_of(i)));
    }
    Edit { operations }
}

fn loudspeaker(site: &Site<'_>, pose: &Pose, line: &str) -> Value {
    let m = &site.models[pose.model];
    let cm = |v: f64| (v * 100.0).round() / 100.0;
    let mut l = Map::new();
    l.insert("model".into(), json!(m.id));
    l.insert("position".into(), json!([cm(pose.at.x), cm(pose.at.y)]));
    if let Some(h) = pose.height_m {
        l.insert("height".into(), json!(cm(h)));
    }
    let aimed =
        !matches!(m.model.directivity.kind, DirectivityKind::Omnidirectional | DirectivityKind::AllRound);
    if aimed {
        l.insert("bearing".into(), json!(pose.bearing_deg));
    }
    if aimed && pose.pitch_deg != 0.0 {
        l.insert("pitch".into(), json!(pose.pitch_deg));
    }
    if let Some(mount) = m.mount_at(pose.out_deg.is_some()) {
        l.insert(
            "mount".into(),
            json!(if mount == Mount::Bracket { Mount::Bracket.word() } else { mount.word() }),
        );
    }
    if m.supply != Supply::LowImpedance {
        l.insert("tap".into(), json!(pose.tap_w));
    }
    if pose.reversed {
        l.insert("polarity".into(), json!("reversed"));
    }
    l.insert("line".into(), json!(line));
    Value::Object(l)
}

/// A, B, ... Z, AA, AB, ...
fn letters(k: usize) -> String {
    let letter = char::from(b'A' + (k % 26) as u8);
    if k < 26 { letter.to_string() } else { format!("{}{letter}", letters(k / 26 - 1)) }
}

/// Two-conductor cables fit for burial, thinnest first.
fn cables<'j>(job: &'j Job, prices: &Prices<'_>) -> Vec<(&'j str, f64)> {
    let mut all: Vec<(&str, f64, f64)> = job
        .catalogue()
        .cables
        .iter()
        .filter(|(_, c)| c.conductors == 2 && c.ratings.contains(&CableRating::Burial))
        .filter_map(|(id, c)| {
            let ohm_per_m = pair(id, c).ok()?.loop_resistance_ohm_per_m;
            Some((id.as_str(), ohm_per_m, prices.cable(id, c.price_per_m)))
        })
        .collect();
    all.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.2.total_cmp(&b.2)));
    // A thicker cable that is no dearer makes a thinner one pointless.
    let mut kept: Vec<(&str, f64, f64)> = Vec::new();
    for c in all {
        kept.retain(|k| k.2 < c.2);
        kept.push(c);
    }
    kept.into_iter().map(|c| (c.0, c.1)).collect()
}

/// Share of the way to the farthest loudspeaker that a line's current flows through, about: half of the chain.
const CHAIN_SHARE: f64 = 0.6;
/// Ways are longer than straight lines by about this.
const DETOUR: f64 = 1.3;

/// The thinnest cable whose loss should stay within the limit, by a quick reckoning; checked on the solved line.
fn cable(site: &Site<'_>, prices: &Prices<'_>, members: &[&Pose], rack: loamline_geometry::Point2) -> String {
    let all = cables(site.job, prices);
    let limit_db = site.job.document().brief.loss_limit_db.max(0.05);
    let nearest = crate::price::nearest_m(rack, members.iter().map(|p| p.at));
    let reach: f64 = members.windows(2).map(|w| w[0].at.distance(w[1].at)).sum();
    let metres = DETOUR * (nearest + CHAIN_SHARE * reach) + 2.0;
    let supply = members.first().map(|p| site.models[p.model].supply);
    let load_ohm = match supply.and_then(Supply::line_v) {
        Some(v) => v * v / members.iter().map(|p| p.tap_w).sum::<f64>().max(1.0),
        None => {
            let all: Siemens = members.iter().filter_map(|p| site.models[p.model].conductance).sum();
            1.0 / all.0.max(1e-3)
        }
    };
    let loss = |ohm_per_m: f64| 20.0 * (1.0 + ohm_per_m * metres / load_ohm).log10();
    let fitting = all.iter().find(|c| loss(c.1) <= limit_db).or(all.last());
    fitting.map_or_else(String::new, |c| c.0.to_owned())
}

/// The next thicker cable for every line that loses more than it may.
fn thicker(study: &Study, prices: &Prices<'_>) -> Edit {
    let lines = study.lines();
    let job = study.job();
    let all = cables(job, prices);
    let limit_db = job.document().brief.loss_limit_db;
    let operations = lines.lines.iter().filter_map(|(id, solved)| {
        let worst = solved.loads.iter().map(|l| l.loss_1khz_db).fold(0.0, f64::max);
        let now = &job.document().lines.get(id)?.cable;
        let at = all.iter().position(|c| c.0 == now)?;
        let next = all.get(at + 1).filter(|_| worst > limit_db && limit_db > 0.0)?;
        Some(Operation::Add { path: format!("/lines/{id}/cable"), value: json!(next.0), before: None })
    });
    Edit { operations: operations.collect() }
}

/// Joints in runs that no spool of their cable holds. Where there is no place for one, the next thicker cable that is sold on longer
/// spools.
fn on_spools(study: &Study, prices: &Prices<'_>) -> Edit {
    let job = study.job();
    let pieces = in_pieces(job, &study.runs());
    if pieces.whole.is_empty() {
        return pieces.edit;
    }
    let all = cables(job, prices);
    let longest_m = |id: &str| {
        let spools = job.catalogue().cables.get(id).map(|c| c.spools_m.iter().copied());
        spools.map_or(0.0, |all| all.fold(0.0, f64::max))
    };
    let longer = pieces.whole.iter().filter_map(|line| {
        let now = &job.document().lines.get(line)?.cable;
        let at = all.iter().position(|c| c.0 == now)?;
        let next = all.iter().skip(at + 1).find(|c| longest_m(c.0) > longest_m(now.as_str()))?;
        let path = format!("/lines/{}/cable", escape(line));
        Some(Operation::Add { path, value: json!(next.0), before: None })
    });
    let operations: Vec<Operation> = longer.collect();
    if operations.is_empty() { pieces.edit } else { Edit { operations } }
}
