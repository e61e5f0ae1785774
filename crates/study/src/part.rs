//! A part of a job under study: a zone, a phase, or what both have in common.
//!
//! Two jobs stand behind it. What a part asks for (cable, ground, equipment, papers) is that of the part alone. What is heard
//! and what lines carry is that of the job as it stands once the part is handed over: the neighbouring zone plays too, the phase
//! after this one does not yet.
//!
//! A cable that lines of several parts share is laid by the part whose phase comes first, of those in one phase by that of
//! the first line in it; for the others it is there already. A trench is counted in every part that opens it.

use crate::finding::{Finding, Subject};
use crate::lines::LinesReport;
use crate::study::{Heard, Study};
use loamline_adapt::{LaidRun, laid_cables};
use loamline_model::document::JobDocument;
use loamline_model::{Job, Part};
use std::sync::Arc;

/// A part of a job under study.
#[derive(Debug, Clone)]
pub struct PartStudy {
    part: Part,
    standing: Study,
    own: Study,
}

impl PartStudy {
    /// The study of a part of the job under a study; nothing is worked out yet.
    pub fn of(whole: &Study, part: Part) -> Self {
        if part.is_whole() {
            return Self { part, standing: whole.clone(), own: whole.clone() };
        }
        let own = Study::new(part_alone(whole.job(), &whole.runs(), &part));
        let standing =
            if part.phase.is_none() { whole.clone() } else { Study::new(whole.job().standing(&part)) };
        Self { part, standing, own }
    }

    /// The part alone: what is bought, laid and drawn.
    pub const fn own(&self) -> &Study {
        &self.own
    }

    /// The job as it stands once the part is handed over: what is heard and measured.
    pub const fn standing(&self) -> &Study {
        &self.standing
    }

    /// The part.
    pub const fn part(&self) -> &Part {
        &self.part
    }

    /// The lines and channels of the part, as they are in the job that stands.
    pub fn lines(&self) -> Arc<LinesReport> {
        let all = self.standing.lines();
        if self.part.is_whole() {
            return all;
        }
        let d = self.own.job().document();
        let mut report = LinesReport::clone(&all);
        report.lines.retain(|id, _| d.lines.contains_key(id));
        report.channels.retain(|id, _| d.channels.contains_key(id));
        report.loudspeakers.retain(|id, _| d.loudspeakers.contains_key(id));
        report.racks.retain(|id, _| d.racks.contains_key(id));
        report.findings.retain(|f| self.concerns(&f.about));
        Arc::new(report)
    }

    /// What is heard in the areas of the part and at the neighbours, of all that plays by then.
    pub fn heard(&self) -> Arc<Heard> {
        let all = self.standing.heard();
        if self.part.is_whole() {
            return all;
        }
        let d = self.own.job().document();
        let mut heard = Heard::clone(&all);
        if let Some(levels) = &mut heard.levels {
            levels.areas.retain(|id, _| d.areas.contains_key(id));
        }
        heard.findings.retain(|f| self.concerns(&f.about));
        Arc::new(heard)
    }

    /// Everything that wants attention in the part, worst first.
    pub fn findings(&self) -> Arc<Vec<Finding>> {
        self.concerning(self.standing.findings())
    }

    /// The same without what is heard, which is not worked out for it.
    pub fn findings_without_levels(&self) -> Arc<Vec<Finding>> {
        self.concerning(self.standing.findings_without_levels())
    }

    fn concerning(&self, all: Arc<Vec<Finding>>) -> Arc<Vec<Finding>> {
        if self.part.is_whole() {
            return all;
        }
        Arc::new(all.iter().filter(|f| self.concerns(&f.about)).cloned().collect())
    }

    /// Whether a thing belongs to the part, or to the place as a whole.
    fn concerns(&self, about: &Subject) -> bool {
        has(self.own.job().document(), &self.part, about)
    }
}

/// Whether a document of a part has what a finding is about; what no part owns concerns every part.
fn has(d: &JobDocument, part: &Part, about: &Subject) -> bool {
    let id = about.id.split('/').next().unwrap_or_default();
    if id.is_empty() {
        return true;
    }
    match about.table {
        "areas" => d.areas.contains_key(id),
        "lines" => d.lines.contains_key(id),
        "loudspeakers" => d.loudspeakers.contains_key(id),
        "joints" => d.joints.contains_key(id),
        "racks" => d.racks.contains_key(id),
        "stubs" => d.stubs.contains_key(id),
        "amplifiers" => d.amplifiers.contains_key(id),
        "channels" => d.channels.contains_key(id),
        "sources" => d.sources.contains_key(id),
        "leads" => d.leads.contains_key(id),
        "links" => d.links.contains_key(id),
        "sleeves" => {
            d.lines.values().flat_map(|l| l.runs.values()).any(|r| r.sleeves.iter().any(|s| s == id))
        }
        "zones" => part.zone.as_deref().is_none_or(|zone| zone == id),
        "phases" => part.phase.as_deref().is_none_or(|phase| phase == id),
        _ => true,
    }
}

/// A part of a job as a job of its own; `runs` are those of the whole.
pub fn part_alone(job: &Job, runs: &[LaidRun], part: &Part) -> Job {
    job.part(part, &laid_by_others(job, runs, part))
}

/// Runs of the part's lines, line and run, that lie in a cable another part lays; `laid` are those of the whole.
fn laid_by_others(job: &Job, laid: &[LaidRun], part: &Part) -> Vec<(String, String)> {
    let d = job.document();
    let mut runs = Vec::new();
    for cable in laid_cables(job, laid) {
        if cable.existing || cable.carries.len() < 2 {
            continue;
        }
        let turn = |line: &str| d.turn_of_phase(d.owner_of_line(line).phase);
        // Of equals the first: the lead of the cable.
        let Some(layer) = cable.carries.iter().min_by_key(|c| turn(&c.line)) else { continue };
        if part.holds(d.owner_of_line(&layer.line)) {
            continue;
        }
        let own = cable.carries.iter().filter(|c| part.holds(d.owner_of_line(&c.line)));
        runs.extend(own.map(|c| (c.line.clone(), c.run.clone())));
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    /// Two lines of two zones, 12 m through one cable of two pairs; the second zone is built first.
    const TEXT: &str = r#"
format = 1
[job]
name = "Parts"
[phases.first]
[phases.second]
[zones.east]
phase = "second"
[zones.west]
phase = "first"
[areas.east]
outline = [[10, 2], [14, 2], [14, 6], [10, 6]]
target = 66
zone = "east"
[areas.west]
outline = [[10, -6], [14, -6], [14, -2], [10, -2]]
target = 66
zone = "west"
[racks.R1]
position = [0, 0]
zone = "west"
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
high_pass = { kind = "butterworth", order = 4, corner = "80 Hz" }
[channels.C2]
amplifier = "P1"
output = 2
high_pass = { kind = "butterworth", order = 4, corner = "80 Hz" }
[loudspeakers.E1]
model = "stake-110-wide"
position = [12, 1]
tap = "10 W"
line = "E"
[loudspeakers.W1]
model = "stake-110-wide"
position = [12, -1]
bearing = 180
tap = "10 W"
line = "W"
[joints.J1]
position = [11, 0]
[lines.E]
channel = "C1"
cable = "burial-4x2.5mm2"
pair = 1
zone = "east"
topology = "tree"
runs = { E-1 = { from = "R1", to = "J1" }, E-2 = { from = "J1", to = "E1" } }
[lines.W]
channel = "C2"
cable = "burial-4x2.5mm2"
pair = 2
zone = "west"
topology = "tree"
runs = { W-1 = { from = "R1", to = "J1" }, W-2 = { from = "J1", to = "W1" } }
"#;

    fn whole() -> Study {
        Study::new(read_job(&SourceFile::new("job.toml", TEXT), &[]).unwrap())
    }

    fn of(whole: &Study, zone: Option<&str>, phase: Option<&str>) -> PartStudy {
        PartStudy::of(whole, whole.job().document().part(zone, phase).unwrap())
    }

    #[test]
    fn a_shared_cable_is_laid_once_by_the_phase_that_comes_first() {
        let whole = whole();
        let metres = |study: &Study| -> f64 {
            laid_cables(study.job(), &study.runs()).iter().filter(|c| !c.existing).map(|c| c.order_m).sum()
        };
        let parts = [of(&whole, None, Some("first")), of(&whole, None, Some("second"))];
        let each = parts.each_ref().map(|p| metres(p.own()));
        // The first lays the 11 m that both use.
        assert!(each[0] > 11.0 && each[1] < 11.0, "{each:?}");
        assert!((each[0] + each[1] - metres(&whole)).abs() < 1e-9, "{each:?} of {}", metres(&whole));
    }

    #[test]
    fn a_phase_is_heard_with_those_before_it_and_a_zone_with_its_neighbours() {
        let whole = whole();
        let mean = |heard: &Heard, area: &str| heard.levels.as_ref().unwrap().areas[area].statistics.mean_dba;
        let first = of(&whole, None, Some("first")).heard();
        assert_eq!(first.levels.as_ref().unwrap().areas.keys().collect::<Vec<_>>(), ["west"]);
        // The other zone's loudspeaker adds to it once it plays.
        assert!(mean(&whole.heard(), "west") > mean(&first, "west"));
        let zone = of(&whole, Some("west"), None).heard();
        assert_eq!(mean(&zone, "west"), mean(&whole.heard(), "west"));
    }

    #[test]
    fn lines_and_findings_are_those_of_the_part() {
        let whole = whole();
        let east = of(&whole, Some("east"), None);
        let lines = east.lines();
        assert_eq!(lines.lines.keys().collect::<Vec<_>>(), ["E"]);
        assert!(Arc::ptr_eq(&lines.lines["E"], &whole.lines().lines["E"]));
        let foreign = |f: &&Finding| f.about.table == "lines" && f.about.id.starts_with('W');
        assert_eq!(east.findings().iter().filter(foreign).count(), 0);
        assert!(east.findings().len() <= whole.findings().len());
    }
}
