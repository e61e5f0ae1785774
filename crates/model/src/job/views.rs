//! The parts of a job with what they refer to: nothing left to look up.

use super::Job;
use super::tree::LineTree;
use crate::catalogue::{AmplifierModel, Cable, LoudspeakerModel};
use crate::document::{
    Amplifier, Area, Channel, Coils, Joint, Line, Loudspeaker, Mount, Programme, Rack, Run, Spectrum, Stub,
    Supply,
};
use loamline_geometry::{Point2, Point3, polyline_length};

/// Loudspeakers on stakes nearer to each other than this hang on one stake, metres: nobody drives two so close.
pub const ONE_STAKE_M: f64 = 0.05;

/// A loudspeaker in its place, with its model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedLoudspeaker<'j> {
    /// Its tag.
    pub id: &'j str,
    /// What the document says.
    pub placed: &'j Loudspeaker,
    /// Its model.
    pub model: &'j LoudspeakerModel,
    /// Its acoustic centre: metres from the datum, z above the datum.
    pub position: Point3,
    /// Height of its acoustic centre above the ground under it, metres.
    pub height_m: f64,
    /// How it is fixed: as stated, or usual for the model.
    pub mount: Mount,
}

impl LoudspeakerModel {
    /// Nominal impedance with its coils wired so, ohm: of two coils in series or parallel, else that of the catalogue.
    pub fn wired_ohm(&self, coils: Option<Coils>) -> f64 {
        match (&self.dual_coil, coils) {
            (Some(coil), Some(Coils::Series)) => 2.0 * coil.each_ohm,
            (Some(coil), Some(Coils::Parallel)) => 0.5 * coil.each_ohm,
            _ => self.nominal_ohm,
        }
    }
}

impl PlacedLoudspeaker<'_> {
    /// Nominal impedance as it is wired, ohm.
    pub fn nominal_ohm(&self) -> f64 {
        self.model.wired_ohm(self.placed.coils)
    }
}

/// A line with its tree and what feeds it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineView<'j> {
    /// Its id.
    pub id: &'j str,
    /// What the document says.
    pub line: &'j Line,
    /// How its loudspeakers are fed: the line's own word, or the brief's.
    pub supply: Supply,
    /// Its cable, where a run does not name another.
    pub cable: &'j Cable,
    /// Its runs in order from the start.
    pub tree: &'j LineTree,
    /// The rack it comes from; `None` while neither a start nor a channel is named.
    pub rack: Option<(&'j str, &'j Rack)>,
    /// The stub it starts at, where it does not start at the rack itself.
    pub stub: Option<(&'j str, &'j Stub)>,
}

/// A run of a line, turned away from the line's start.
#[derive(Debug, Clone, PartialEq)]
pub struct RunView<'j> {
    /// Its tag.
    pub id: &'j str,
    /// What the document says.
    pub run: &'j Run,
    /// The end nearer to the start.
    pub from: &'j str,
    /// The end farther from the start.
    pub to: &'j str,
    /// Index of the run that feeds it, in the order of [`Job::runs`]; `None` at the start.
    pub fed_by: Option<usize>,
    /// Its cable.
    pub cable: &'j Cable,
    /// Catalogue id of its cable.
    pub cable_id: &'j str,
    /// Its way in plan, both ends included, from `from` to `to`.
    pub way: Vec<Point2>,
}

impl RunView<'_> {
    /// Length of its way in plan, metres: without rises, service loops and waste.
    pub fn plan_length_m(&self) -> f64 {
        polyline_length(&self.way)
    }
}

/// A channel with its amplifier and what it plays.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelView<'j> {
    /// Its id.
    pub id: &'j str,
    /// What the document says.
    pub channel: &'j Channel,
    /// The amplifier.
    pub amplifier: &'j Amplifier,
    /// The amplifier's model.
    pub model: &'j AmplifierModel,
    /// Id of the programme it plays; `None` while the job names none at all.
    pub programme_id: Option<&'j str>,
    /// Ids of the lines it feeds, in the order of the document.
    pub lines: Vec<&'j str>,
}

/// Something a run can end at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum JobNode<'j> {
    /// A loudspeaker.
    Loudspeaker(&'j Loudspeaker),
    /// A joint.
    Joint(&'j Joint),
    /// A rack.
    Rack(&'j Rack),
    /// A stub.
    Stub(&'j Stub),
}

impl JobNode<'_> {
    /// Where it is, in plan.
    pub fn position(&self) -> Point2 {
        match self {
            Self::Loudspeaker(l) => l.position,
            Self::Joint(j) => j.position,
            Self::Rack(r) => r.position,
            Self::Stub(s) => s.position,
        }
    }
}

impl Job {
    /// A loudspeaker by its tag.
    pub fn loudspeaker(&self, id: &str) -> Option<PlacedLoudspeaker<'_>> {
        let (id, placed) = self.document().loudspeakers.get_key_value(id)?;
        let model = self.catalogue().loudspeakers.get(&placed.model)?;
        let height_m = placed.height_m.unwrap_or(model.centre_height_m);
        Some(PlacedLoudspeaker {
            id,
            placed,
            model,
            position: self.above_ground(placed.position, height_m),
            height_m,
            mount: placed.mount.unwrap_or(model.mount),
        })
    }

    /// Every loudspeaker, in the order of the document.
    pub fn loudspeakers(&self) -> impl Iterator<Item = PlacedLoudspeaker<'_>> {
        self.document().loudspeakers.keys().filter_map(|id| self.loudspeaker(id))
    }

    /// The loudspeaker whose stake another hangs on: the first in the order of the document that stands on a stake at the
    /// same place, to within [`ONE_STAKE_M`]. `None` for one that has a stake of its own, or none.
    pub fn stake_of(&self, id: &str) -> Option<&str> {
        let own = self.loudspeaker(id).filter(|l| l.mount == Mount::Stake)?;
        let first = self.loudspeakers().find(|l| {
            l.mount == Mount::Stake && l.placed.position.distance(own.placed.position) <= ONE_STAKE_M
        })?;
        (first.id != own.id).then_some(first.id)
    }

    /// Stakes to drive: loudspeakers back to back share one.
    pub fn stakes(&self) -> usize {
        let stands = |l: &PlacedLoudspeaker<'_>| l.mount == Mount::Stake && self.stake_of(l.id).is_none();
        self.loudspeakers().filter(stands).count()
    }

    /// The loudspeakers of a line, in the order of its runs; in the order of the document while it has no runs.
    pub fn loudspeakers_of_line(&self, line: &str) -> Vec<PlacedLoudspeaker<'_>> {
        match self.trees.get(line) {
            Some(tree) if !tree.runs.is_empty() => {
                tree.runs.iter().filter_map(|r| self.loudspeaker(&r.to)).collect()
            }
            _ => self.loudspeakers().filter(|l| l.placed.line.as_deref() == Some(line)).collect(),
        }
    }

    /// A line by its id.
    pub fn line(&self, id: &str) -> Option<LineView<'_>> {
        let document = self.document();
        let (id, line) = document.lines.get_key_value(id)?;
        let tree = self.trees.get(id)?;
        let stub = document.stubs.get_key_value(&tree.start).map(|(id, s)| (id.as_str(), s));
        let rack_id = stub.map_or(Some(tree.start.as_str()), |(_, s)| document.rack_of_stub(s));
        let rack = rack_id.and_then(|id| document.racks.get_key_value(id));
        Some(LineView {
            id,
            line,
            supply: document.supply_of_line(line),
            cable: self.catalogue().cables.get(&line.cable)?,
            tree,
            rack: rack.map(|(id, r)| (id.as_str(), r)),
            stub,
        })
    }

    /// Every line, in the order of the document.
    pub fn lines(&self) -> impl Iterator<Item = LineView<'_>> {
        self.document().lines.keys().filter_map(|id| self.line(id))
    }

    /// The runs of a line in tree order: each after the run that feeds it, a chain from end to end. The order of
    /// cutting and pulling.
    pub fn runs(&self, line: &str) -> Vec<RunView<'_>> {
        let Some(view) = self.line(line) else { return Vec::new() };
        let one = |r: &'_ super::TreeRun| {
            let (id, run) = view.line.runs.get_key_value(&r.id)?;
            let (from, to) = if r.reversed { (&run.to, &run.from) } else { (&run.from, &run.to) };
            let cable_id = run.cable.as_ref().unwrap_or(&view.line.cable);
            let mut way = vec![self.node(&run.from)?.position()];
            way.extend(&run.via);
            way.push(self.node(&run.to)?.position());
            if r.reversed {
                way.reverse();
            }
            let cable = self.catalogue().cables.get(cable_id)?;
            Some(RunView { id, run, from, to, fed_by: r.fed_by, cable, cable_id, way })
        };
        view.tree.runs.iter().filter_map(one).collect()
    }

    /// A channel by its id.
    pub fn channel(&self, id: &str) -> Option<ChannelView<'_>> {
        let document = self.document();
        let (id, channel) = document.channels.get_key_value(id)?;
        let amplifier = document.amplifiers.get(&channel.amplifier)?;
        let lines = document.lines.iter().filter(|(_, l)| l.channel.as_ref() == Some(id));
        Some(ChannelView {
            id,
            channel,
            amplifier,
            model: self.catalogue().amplifiers.get(&amplifier.model)?,
            programme_id: self.programme_or_first(channel.programme.as_deref()),
            lines: lines.map(|(id, _)| id.as_str()).collect(),
        })
    }

    /// Every channel, in the order of the document.
    pub fn channels(&self) -> impl Iterator<Item = ChannelView<'_>> {
        self.document().channels.keys().filter_map(|id| self.channel(id))
    }

    fn programme_or_first<'j>(&'j self, id: Option<&'j str>) -> Option<&'j str> {
        id.or_else(|| self.document().programmes.keys().next().map(String::as_str))
    }

    /// The programme under an id; without an id, the usual one (simulated programme, crest factor 12 dB).
    pub fn programme(&self, id: Option<&str>) -> Programme {
        id.and_then(|id| self.document().programmes.get(id)).cloned().unwrap_or_else(usual_programme)
    }

    /// Id of the programme wanted in an area; `None` while the job names none at all.
    pub fn programme_of_area<'j>(&'j self, area: &'j Area) -> Option<&'j str> {
        self.programme_or_first(area.programme.as_deref())
    }

    /// The pair that a run uses in its cable, from 1: its own, else its line's, else the only one there is.
    pub fn pair_of_run(&self, line: &str, run: &str, cable: &str) -> u32 {
        let Some(line) = self.document().lines.get(line) else { return 1 };
        let stated = line.runs.get(run).and_then(|r| r.pair);
        let of_line = || self.catalogue().cables.get(cable).map_or(1, |cable| line.pair_in(cable));
        stated.unwrap_or_else(of_line)
    }

    /// Whatever carries a tag that a run can end at.
    pub fn node(&self, id: &str) -> Option<JobNode<'_>> {
        let d = self.document();
        None.or_else(|| d.loudspeakers.get(id).map(JobNode::Loudspeaker))
            .or_else(|| d.joints.get(id).map(JobNode::Joint))
            .or_else(|| d.racks.get(id).map(JobNode::Rack))
            .or_else(|| d.stubs.get(id).map(JobNode::Stub))
    }
}

impl LineView<'_> {
    /// Rated line voltage, volts RMS; `None` for low impedance.
    pub fn line_v(&self) -> Option<f64> {
        self.supply.line_v()
    }

    /// Where its cable starts, in plan: the stub's end or the rack; `None` while it has neither.
    pub fn start_position(&self) -> Option<Point2> {
        self.stub.map(|(_, s)| s.position).or(self.rack.map(|(_, r)| r.position))
    }
}

/// What a programme is when nothing is said about it: the defaults of the record.
fn usual_programme() -> Programme {
    Programme {
        name: String::new(),
        spectrum: Spectrum::SimulatedProgramme,
        levels_db: None,
        crest_factor_db: 12.0,
        speech: false,
        low_cut_hz: None,
        supply: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::{DocumentPlace, Node, NodeValue, Record as _};
    use indexmap::IndexMap;

    #[test]
    fn the_usual_programme_is_the_empty_record() {
        let empty = Node::without_place(NodeValue::Table(IndexMap::new()));
        let read = Programme::read(&empty, &DocumentPlace::ROOT, &mut Vec::new());
        assert_eq!(read, Some(usual_programme()));
    }
}
