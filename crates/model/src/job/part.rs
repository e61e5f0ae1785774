//! A part of a job: a zone, a phase, or the share of a zone that is built in a phase, as a job of its own.
//!
//! What belongs to the part is there, and what that hangs on: the rack a line starts at, the amplifier behind its channel. What
//! hangs on the other way is left out. Ground, buildings, services and neighbours stay, since a crew meets all of them.

use super::Job;
use super::beside::Beside;
use crate::document::{JobDocument, Owner, Visit};
use crate::reading::did_you_mean;
use indexmap::IndexMap;
use loamline_geometry::Point2;
use std::collections::BTreeSet;
use thiserror::Error;

/// A zone, a phase, or what both have in common.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Part {
    /// Id of the zone; all of them when absent.
    pub zone: Option<String>,
    /// Id of the phase; all of them when absent.
    pub phase: Option<String>,
}

/// Marks farther than this from whatever a part has are of no use to its crew, metres: no tape is so long (common practice, no
/// source).
const TAPED_M: f64 = 60.0;

/// A part that a job does not have.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("there is no {kind} \"{asked}\": {hint}")]
pub struct NoPart {
    kind: &'static str,
    asked: String,
    hint: String,
}

impl NoPart {
    /// Whether a zone is missing; else it is a phase.
    pub fn is_of_a_zone(&self) -> bool {
        self.kind == "zone"
    }
}

impl Part {
    /// Whether it is the whole job.
    pub const fn is_whole(&self) -> bool {
        self.zone.is_none() && self.phase.is_none()
    }

    /// Whether what an owner has belongs to it.
    pub fn holds(&self, owner: Owner<'_>) -> bool {
        let same = |wanted: &Option<String>, is: Option<&str>| {
            wanted.as_ref().is_none_or(|wanted| is == Some(wanted.as_str()))
        };
        same(&self.zone, owner.zone) && same(&self.phase, owner.phase)
    }
}

impl JobDocument {
    /// The part of a zone and a phase, each by its id or by the name somebody gave it.
    ///
    /// # Errors
    /// When the job has none of that name.
    pub fn part(&self, zone: Option<&str>, phase: Option<&str>) -> Result<Part, NoPart> {
        let zones: Vec<(&str, &str)> =
            self.zones.iter().map(|(id, z)| (id.as_str(), z.name.as_str())).collect();
        let phases: Vec<(&str, &str)> =
            self.phases.iter().map(|(id, p)| (id.as_str(), p.name.as_str())).collect();
        let zone = zone.map(|asked| found(asked, "zone", &zones)).transpose()?;
        let phase = phase.map(|asked| found(asked, "phase", &phases)).transpose()?;
        Ok(Part { zone, phase })
    }

    /// What people call a part: its names, or the ids where nobody gave it one; empty for the whole.
    pub fn part_name(&self, part: &Part) -> String {
        let named = |id: &String, name: Option<&String>| match name {
            Some(name) if !name.is_empty() => name.clone(),
            _ => id.clone(),
        };
        let zone = part.zone.as_ref().map(|id| named(id, self.zones.get(id).map(|z| &z.name)));
        let phase = part.phase.as_ref().map(|id| named(id, self.phases.get(id).map(|p| &p.name)));
        zone.into_iter().chain(phase).collect::<Vec<_>>().join(", ")
    }
}

fn found(asked: &str, kind: &'static str, known: &[(&str, &str)]) -> Result<String, NoPart> {
    let by_id = known.iter().find(|(id, _)| *id == asked);
    if let Some((id, _)) = by_id.or_else(|| known.iter().find(|(_, name)| *name == asked)) {
        return Ok((*id).to_owned());
    }
    let ids = || known.iter().map(|(id, _)| *id);
    let hint = match did_you_mean(asked, ids()) {
        Some(near) => near.to_string(),
        None if known.is_empty() => format!("the job has no {kind}s"),
        None => format!("there is {}", ids().collect::<Vec<_>>().join(", ")),
    };
    Err(NoPart { kind, asked: asked.to_owned(), hint })
}

impl Job {
    /// The job as it stands once a part is handed over: without what later phases bring, zones of which nothing is there yet
    /// among it. The job itself where the part names no phase.
    #[must_use]
    pub fn standing(&self, part: &Part) -> Self {
        let Some(phase) = part.phase.as_deref() else { return self.clone() };
        let d = self.document();
        let turn = d.turn_of_phase(Some(phase));
        let mut job = self.restricted(|owner| d.turn_of_phase(owner.phase) <= turn);
        let mut document = JobDocument::clone(&job.document);
        let comes_later: Vec<String> =
            d.zones.keys().filter(|id| d.zone_has_any(id) && !document.zone_has_any(id)).cloned().collect();
        document.zones.retain(|id, _| !comes_later.contains(id));
        job.document = document.into();
        job
    }

    /// What belongs to no phase, and is there before the first, as a job of its own.
    #[must_use]
    pub fn before_phases(&self) -> Self {
        self.restricted(|owner| owner.phase.is_none())
    }

    /// A part as a job of its own, for its papers, its bill and its plan of work. `laid_by_others` are the runs, line and run, of
    /// a cable that another part lays: there already for this one.
    #[must_use]
    pub fn part(&self, part: &Part, laid_by_others: &[(String, String)]) -> Self {
        if part.is_whole() {
            return self.clone();
        }
        let mut job = self.restricted(|owner| part.holds(owner));
        let whole = self.document();
        let mut document = JobDocument::clone(&job.document);
        for (line, run) in laid_by_others {
            if let Some(run) = document.lines.get_mut(line).and_then(|l| l.runs.get_mut(run)) {
                run.existing = true;
            }
        }
        let places: Vec<Point2> = (document.loudspeakers.values().map(|l| l.position))
            .chain(document.joints.values().map(|j| j.position))
            .chain(document.racks.values().map(|r| r.position))
            .collect();
        document.marks.retain(|_, mark| places.iter().any(|at| at.distance(mark.position) <= TAPED_M));
        let zone = part.zone.as_ref().and_then(|id| whole.zones.get(id));
        let phase = part.phase.as_ref().and_then(|id| whole.phases.get(id));
        document.about.name = format!("{}: {}", whole.about.name, whole.part_name(part));
        document.about.allowance =
            zone.map_or_else(|| phase.and_then(|p| p.allowance), |zone| zone.allowance);
        document.brief.budget = zone.map_or_else(|| phase.and_then(|p| p.budget), |zone| zone.budget);
        if let Some(phase) = phase.filter(|p| !p.first_day.is_empty()) {
            document.work.first_day = phase.first_day.clone();
        }
        job.document = document.into();
        job
    }

    /// Amplifiers that are bought and mounted with this job: all but those another part brings.
    pub fn amplifiers_to_mount(&self) -> impl Iterator<Item = (&String, &crate::document::Amplifier)> {
        self.document().amplifiers.iter().filter(|(id, _)| !self.beside.amplifiers.contains(*id))
    }

    /// Channels that are set up with this job: all but those another part brings.
    pub fn channels_to_set_up(&self) -> impl Iterator<Item = (&String, &crate::document::Channel)> {
        self.document().channels.iter().filter(|(id, _)| !self.beside.channels.contains(*id))
    }

    /// Whether a rack is of this job; else it stands there for what hangs on it, and another part brings it.
    pub fn brings_rack(&self, id: &str) -> bool {
        !self.beside.racks.contains(id)
    }

    /// A job of what `kept` says belongs to it, with what that hangs on.
    fn restricted<'j>(&'j self, kept: impl Fn(Owner<'j>) -> bool) -> Self {
        let whole: &'j JobDocument = self.document();
        let mut d = whole.clone();
        d.areas.retain(|id, _| kept(whole.owner_of_area(id)));
        d.lines.retain(|id, _| kept(whole.owner_of_line(id)));
        let lines = &d.lines;
        d.loudspeakers.retain(|id, l| match &l.line {
            Some(line) => lines.contains_key(line),
            None => kept(whole.owner_of_loudspeaker(id)),
        });
        let met: BTreeSet<&str> =
            lines.values().flat_map(|l| l.runs.values()).flat_map(|r| [r.from.as_str(), &r.to]).collect();
        d.joints.retain(|id, _| met.contains(id.as_str()));

        let fed: BTreeSet<&str> = lines.values().filter_map(|l| l.channel.as_deref()).collect();
        let feeds = |id: &str| whole.lines.values().any(|l| l.channel.as_deref() == Some(id));
        d.channels
            .retain(|id, _| fed.contains(id.as_str()) || (!feeds(id) && kept(whole.owner_of_channel(id))));
        let behind: BTreeSet<&str> = d.channels.values().map(|c| c.amplifier.as_str()).collect();
        d.amplifiers.retain(|id, _| behind.contains(id.as_str()) || kept(whole.owner_of_amplifier(id)));
        let amplifiers = &d.amplifiers;
        d.leads.retain(|_, lead| amplifiers.contains_key(&lead.amplifier));
        let leading: BTreeSet<&str> = d.leads.values().map(|l| l.source.as_str()).collect();
        d.sources.retain(|id, s| leading.contains(id.as_str()) || kept(whole.owner_of_rack(&s.rack)));

        let through: BTreeSet<&str> = d.leads.values().filter_map(|l| l.link.as_deref()).collect();
        let leads = |id: &str| whole.leads.values().any(|l| l.link.as_deref() == Some(id));
        d.links.retain(|id, link| {
            through.contains(id.as_str()) || (!leads(id) && kept(whole.owner_of_rack(&link.from)))
        });

        let started: BTreeSet<&str> = lines.values().filter_map(|l| l.start.as_deref()).collect();
        let starts = |id: &str| whole.lines_at_stub(id).next().is_some();
        d.stubs.retain(|id, stub| {
            let of_rack = || whole.rack_of_stub(stub).is_some_and(|rack| kept(whole.owner_of_rack(rack)));
            started.contains(id.as_str()) || (!starts(id) && of_rack())
        });
        let racks: BTreeSet<&str> = (lines.values().filter_map(|l| whole.rack_of_line(l)))
            .chain(d.stubs.values().filter_map(|s| whole.rack_of_stub(s)))
            .chain(d.amplifiers.values().map(|a| a.rack.as_str()))
            .chain(d.sources.values().map(|s| s.rack.as_str()))
            .chain(d.links.values().flat_map(|l| [l.from.as_str(), l.to.as_str()]))
            .collect();
        d.racks.retain(|id, _| racks.contains(id.as_str()) || kept(whole.owner_of_rack(id)));

        let beside = Beside {
            amplifiers: (d.amplifiers.keys().filter(|id| !kept(whole.owner_of_amplifier(id))).cloned())
                .collect(),
            channels: (d.channels.keys().filter(|id| !kept(whole.owner_of_channel(id))).cloned()).collect(),
            racks: (d.racks.keys().filter(|id| !kept(whole.owner_of_rack(id))).cloned()).collect(),
        };
        let mut visits = std::mem::take(&mut d.visits);
        visits.values_mut().for_each(|visit| of_part(visit, &d));
        d.visits = visits;
        let trees: IndexMap<_, _> = self
            .trees
            .iter()
            .filter(|(id, _)| d.lines.contains_key(*id))
            .map(|(id, t)| (id.clone(), t.clone()))
            .collect();
        Self { beside, ..Self::of(d, self.catalogue.clone(), trees) }
    }
}

/// Leaves of a visit what was read and done at what a document has; notes and meters stay.
fn of_part(visit: &mut Visit, d: &JobDocument) {
    let is_there = |id: &str| {
        d.loudspeakers.contains_key(id)
            || d.joints.contains_key(id)
            || d.racks.contains_key(id)
            || d.stubs.contains_key(id)
    };
    visit.readings.retain(|_, r| d.lines.contains_key(&r.line));
    visit.levels.retain(|_, l| l.area.as_ref().is_none_or(|area| d.areas.contains_key(area)));
    visit.done.retain(|_, done| match (&done.line, &done.at) {
        (Some(line), _) => d.lines.contains_key(line),
        (None, Some(at)) => is_there(at),
        (None, None) => true,
    });
    visit.photos.retain(|_, photo| photo.at.as_deref().is_none_or(is_there));
    visit.lines.retain(|_, kept| d.lines.contains_key(&kept.line));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::read_job;
    use crate::source::SourceFile;

    /// A house with a terrace now and a lawn later; the lawn's line hangs on the house's amplifier, the pool's on one of its own.
    const ESTATE: &str = r#"
format = 1
[job]
name = "Estate"
allowance = 100
[phases.now]
name = "This year"
[phases.later]
name = "Next year"
first_day = "in spring"
allowance = 40
[zones.house]
name = "House"
phase = "now"
[zones.garden]
name = "Garden"
phase = "later"
[areas.terrace]
outline = [[0, 0], [6, 0], [6, 4], [0, 4]]
target = 68
zone = "house"
[areas.lawn]
outline = [[0, 10], [6, 10], [6, 14], [0, 14]]
target = 68
zone = "garden"
[racks.R1]
position = [-2, 0]
zone = "house"
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[amplifiers.P2]
model = "line-4x280"
rack = "R1"
phase = "later"
[channels.C1]
amplifier = "P1"
output = 1
[channels.C2]
amplifier = "P1"
output = 2
[channels.C3]
amplifier = "P2"
output = 1
[loudspeakers.L1]
model = "stake-110-wide"
position = [2, 1]
tap = "10 W"
line = "A"
[loudspeakers.L2]
model = "stake-110-wide"
position = [2, 11]
tap = "10 W"
line = "B"
[loudspeakers.L3]
model = "stake-110-wide"
position = [4, 11]
tap = "10 W"
line = "C"
[joints.J1]
position = [0, 8]
[lines.A]
channel = "C1"
cable = "burial-2x2.5mm2"
runs = { A1 = { from = "R1", to = "L1" } }
[lines.B]
channel = "C2"
cable = "burial-2x2.5mm2"
zone = "garden"
runs = { B1 = { from = "R1", to = "J1" }, B2 = { from = "J1", to = "L2" } }
[lines.C]
channel = "C3"
cable = "burial-2x2.5mm2"
zone = "garden"
runs = { C1 = { from = "R1", to = "L3" } }
[marks.M1]
name = "Gate post"
position = [0, 0]
[marks.M2]
name = "Far oak"
position = [200, 0]
[visits.v]
date = "one day"
[visits.v.readings.r1]
line = "A"
dc = "4 ohm"
[visits.v.readings.r2]
line = "B"
dc = "5 ohm"
"#;

    fn estate() -> Job {
        read_job(&SourceFile::new("job.toml", ESTATE), &[]).unwrap()
    }

    fn ids<T>(table: &IndexMap<String, T>) -> Vec<&str> {
        table.keys().map(String::as_str).collect()
    }

    #[test]
    fn a_zone_has_its_own_and_what_that_hangs_on() {
        let whole = estate();
        let part = whole.document().part(Some("Garden"), None).unwrap();
        assert_eq!(part.zone.as_deref(), Some("garden"));
        let garden = whole.part(&part, &[("B".into(), "B1".into())]);
        let d = garden.document();
        assert_eq!(d.about.name, "Estate: Garden");
        assert_eq!(
            (ids(&d.areas), ids(&d.lines), ids(&d.loudspeakers)),
            (vec!["lawn"], vec!["B", "C"], vec!["L2", "L3"])
        );
        assert_eq!((ids(&d.joints), ids(&d.racks)), (vec!["J1"], vec!["R1"]));
        assert_eq!((ids(&d.amplifiers), ids(&d.channels)), (vec!["P1", "P2"], vec!["C2", "C3"]));
        // Both amplifiers stand in the house's rack: the house brings them. What feeds the garden's lines is set up with them.
        assert_eq!(garden.amplifiers_to_mount().count(), 0);
        assert_eq!(garden.channels_to_set_up().count(), 2);
        assert!(d.lines["B"].runs["B1"].existing && !d.lines["B"].runs["B2"].existing);
        assert_eq!(ids(&d.visits["v"].readings), ["r2"]);
        assert_eq!(garden.lines().count(), 2);
        assert_eq!((ids(&d.marks), whole.document().marks.len()), (vec!["M1"], 2));
        assert_eq!(d.about.allowance, None);
    }

    #[test]
    fn phases_share_out_the_job_and_stand_on_each_other() {
        let whole = estate();
        let part = |phase: &str| whole.document().part(None, Some(phase)).unwrap();
        let (now, later) = (part("now"), part("later"));
        let mounted = |part: &Part| -> Vec<String> {
            whole.part(part, &[]).amplifiers_to_mount().map(|(id, _)| id.clone()).collect()
        };
        assert_eq!((mounted(&now), mounted(&later)), (vec!["P1".to_owned()], vec!["P2".to_owned()]));
        assert_eq!(ids(&whole.standing(&now).document().loudspeakers), ["L1"]);
        assert_eq!(ids(&whole.standing(&later).document().loudspeakers), ["L1", "L2", "L3"]);
        let later = whole.part(&later, &[]);
        assert_eq!(later.document().work.first_day, "in spring");
        assert_eq!(later.document().about.allowance.map(|a| a.to_string()).as_deref(), Some("40"));
        // Line by line, channel by channel nothing is lost and nothing comes twice.
        let all = [part("now"), part("later")];
        let counted: usize = all.iter().map(|p| whole.part(p, &[]).lines().count()).sum();
        assert_eq!(counted, whole.lines().count());
        let set_up: usize = all.iter().map(|p| whole.part(p, &[]).channels_to_set_up().count()).sum();
        assert_eq!(set_up, whole.channels().count());
    }

    #[test]
    fn of_what_comes_later_neither_its_zone_nor_its_rack_is_there_to_ask_about() {
        let text = ESTATE.to_owned()
            + "[racks.R2]\nposition = [4, 14]\nzone = \"garden\"\n[links.N]\nfrom = \"R1\"\nto = \"R2\"\n[zones.empty]\n";
        let whole = read_job(&SourceFile::new("job.toml", text), &[]).unwrap_or_else(|e| panic!("{e}"));
        let now = whole.standing(&whole.document().part(None, Some("now")).unwrap());
        let later = whole.standing(&whole.document().part(None, Some("later")).unwrap());
        // The link of the house's rack brings the garden's along.
        assert_eq!(ids(&now.document().racks), ["R1", "R2"]);
        assert_eq!(
            (now.brings_rack("R1"), now.brings_rack("R2"), later.brings_rack("R2")),
            (true, false, true)
        );
        assert_eq!(
            ids(&later.document().zones),
            ["house", "garden", "empty"],
            "a zone with nothing in it stays"
        );
        let bare = estate();
        let now = bare.standing(&bare.document().part(None, Some("now")).unwrap());
        assert_eq!(ids(&now.document().zones), ["house"]);
    }

    #[test]
    fn the_whole_is_the_job_itself() {
        let whole = estate();
        assert_eq!(whole.part(&Part::default(), &[]), whole);
        assert_eq!(whole.standing(&Part::default()), whole);
    }

    #[test]
    fn what_is_not_there_is_told_with_what_there_is() {
        let whole = estate();
        let told = |zone, phase| whole.document().part(zone, phase).unwrap_err().to_string();
        assert!(told(Some("gardn"), None).contains("garden"), "{}", told(Some("gardn"), None));
        assert!(told(None, Some("in a hundred years")).contains("now, later"));
    }
}
