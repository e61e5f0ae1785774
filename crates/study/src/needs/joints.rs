//! Joints: which conductor meets which, and the connectors that takes.
//!
//! Common practice, no source: a joint wherever cable ends meet away from a rack, at every loudspeaker and existing
//! cable end too; like colours join like, red or white positive, black or green negative in the two pairs of a
//! four-conductor cable; one gel-filled connector per conductor, for the thinnest and the thickest of its wires alike; a
//! conductor that goes no further is capped with a connector of its own; a strain relief for every cable end; a service loop on
//! every cable. Where no connector of the catalogue holds both, none is counted and the joint's sheet says so.
//!
//! Existing cable is joined in at its stub like any other: where a line takes several pairs of it, the conductors of
//! one polarity meet in one connector. Pairs in use for something else are left alone.
//!
//! A joint is a place. Lines that meet at it have their conductors side by side, and a cable they share counts once.

use loamline_adapt::{Carried, LaidCable};
use loamline_model::catalogue::{Cable, Connector};
use loamline_model::document::Polarity;
use loamline_model::{Job, JobNode};

/// A wire at a joint.
#[derive(Debug, Clone, PartialEq)]
pub struct Wire {
    /// Tag of the cable it is in.
    pub cable: String,
    /// Its colour, or its number where the catalogue gives no colours.
    pub colour: String,
}

/// One conductor of a joint: the wires that meet in a connector.
#[derive(Debug, Clone, PartialEq)]
pub struct JointConductor {
    /// Line whose signal it carries; none for a spare conductor.
    pub line: Option<String>,
    /// Whether it is the positive one of its pair.
    pub positive: bool,
    /// Wires of cables.
    pub wires: Vec<Wire>,
    /// Terminal of the loudspeaker that joins it: `+` or `-`; none where it does not.
    pub terminal: Option<char>,
    /// Thinnest and thickest of the wires of cables, mm².
    pub sizes_mm2: [f64; 2],
    /// Catalogue ids of the connectors it takes, one each; none where the catalogue has none for these sizes.
    pub connectors: Vec<String>,
}

impl JointConductor {
    /// Wires that meet, the loudspeaker's too.
    pub fn count(&self) -> usize {
        self.wires.len() + usize::from(self.terminal.is_some())
    }

    /// Colour of the first wire.
    pub fn colour(&self) -> &str {
        self.wires.first().map_or("", |w| w.colour.as_str())
    }

    /// Colours of its wires, each once, from the rack outwards: where existing cable is joined in they may differ.
    pub fn colours(&self) -> Vec<&str> {
        let mut colours: Vec<&str> = Vec::new();
        for wire in &self.wires {
            if !colours.contains(&wire.colour.as_str()) {
                colours.push(&wire.colour);
            }
        }
        colours
    }
}

/// A joint to make.
#[derive(Debug, Clone, PartialEq)]
pub struct JointNeed {
    /// Tag of the joint, loudspeaker or existing cable end.
    pub at: String,
    /// Lines that meet here.
    pub lines: Vec<String>,
    /// Tags of the cables that come from the rack; the tag of an existing cable end where it is picked up.
    pub arriving: Vec<String>,
    /// Tags of the cables that go on.
    pub onward: Vec<String>,
    /// Whether a loudspeaker is connected here.
    pub loudspeaker: bool,
    /// Conductors, in the order of the cables.
    pub conductors: Vec<JointConductor>,
}

impl JointNeed {
    /// Cable ends that meet here, each with a strain relief and a service loop.
    pub fn cable_ends(&self) -> usize {
        self.arriving.len() + self.onward.len()
    }
}

/// The end of a cable at a joint.
struct End<'a> {
    tag: &'a str,
    cable: &'a Cable,
    /// Lines in it, with their pairs.
    carries: Vec<(&'a str, u32)>,
    arriving: bool,
    /// Pairs that may be touched; all where there are none named.
    free: Option<Vec<u32>>,
    /// Lines that leave here behind the loudspeaker, in series with it.
    in_series: Vec<&'a str>,
}

impl End<'_> {
    fn wire(&self, number: u32) -> Option<Wire> {
        let index = number.checked_sub(1)? as usize;
        let colour = self.cable.colours.get(index).cloned().unwrap_or_else(|| number.to_string());
        (number <= self.cable.conductors).then(|| Wire { cable: self.tag.to_owned(), colour })
    }
}

/// The pair that says where a line's conductor stands among the others: the first it has.
fn pair_in(end: &End<'_>, line: &str) -> Option<u32> {
    end.carries.iter().find(|(l, _)| *l == line).map(|(_, pair)| *pair)
}

/// Number of the positive or negative conductor of a pair.
const fn number_of(pair: u32, positive: bool) -> u32 {
    pair * 2 - positive as u32
}

/// Every joint of a job, from the racks outwards in the order of the cables.
pub fn joint_needs(job: &Job, cables: &[LaidCable]) -> Vec<JointNeed> {
    let mut places: Vec<&str> = Vec::new();
    for cable in cables {
        let meets = match job.node(&cable.to) {
            Some(JobNode::Joint(_) | JobNode::Loudspeaker(_)) => true,
            Some(JobNode::Stub(_)) => cables.iter().any(|onward| onward.from == cable.to),
            Some(JobNode::Rack(_)) | None => false,
        };
        if meets && !places.contains(&cable.to.as_str()) {
            places.push(&cable.to);
        }
    }
    places.into_iter().map(|at| joint(job, at, &ends(job, at, cables))).collect()
}

fn ends<'a>(job: &'a Job, at: &'a str, cables: &'a [LaidCable]) -> Vec<End<'a>> {
    let mut ends: Vec<End<'a>> = Vec::new();
    for arriving in [true, false] {
        let here = cables.iter().filter(|c| if arriving { c.to == at } else { c.from == at });
        ends.extend(here.filter_map(|c| {
            let carries = c.carries.iter().map(|x| (x.line.as_str(), x.pair)).collect();
            let cable = job.catalogue().cables.get(&c.cable)?;
            // Of existing cable only what is free may be touched.
            let stub = job.document().stubs.get(&c.to).filter(|_| c.existing);
            let free = stub.map(|s| job.document().free_pairs_of_stub(s, job.catalogue()));
            let series = |x: &&Carried| {
                let line = job.document().lines.get(&x.line);
                !arriving && line.and_then(|l| l.runs.get(&x.run)).is_some_and(|run| run.in_series)
            };
            let in_series = c.carries.iter().filter(series).map(|x| x.line.as_str()).collect();
            Some(End { tag: &c.tag, cable, carries, arriving, free, in_series })
        }));
    }
    ends
}

fn joint(job: &Job, at: &str, ends: &[End<'_>]) -> JointNeed {
    let mut lines: Vec<&str> = Vec::new();
    for (line, _) in ends.iter().flat_map(|e| &e.carries) {
        if !lines.contains(line) {
            lines.push(line);
        }
    }
    let speaker = job.loudspeaker(at);
    let tags = |arriving: bool| {
        ends.iter().filter(|e| e.arriving == arriving).map(|e| e.tag.to_owned()).collect::<Vec<_>>()
    };
    JointNeed {
        at: at.to_owned(),
        arriving: tags(true),
        onward: tags(false),
        loudspeaker: speaker.is_some(),
        conductors: conductors(
            job,
            ends,
            &lines,
            speaker.and_then(|l| Some((l.placed.line.as_deref()?, l.placed.polarity))),
        ),
        lines: lines.into_iter().map(str::to_owned).collect(),
    }
}

fn conductors(
    job: &Job,
    ends: &[End<'_>],
    lines: &[&str],
    speaker: Option<(&str, Polarity)>,
) -> Vec<JointConductor> {
    let most = ends.iter().map(|e| e.cable.conductors).max().unwrap_or(0);
    let mut out: Vec<JointConductor> = Vec::new();
    // `first`: whether the loudspeaker's terminal here is the one that the current comes to first; none where it has none.
    let mut add = |line: Option<&str>, positive: bool, wires: Vec<Wire>, first: Option<bool>| {
        let connected = speaker.filter(|(own, _)| line == Some(*own));
        let terminal = connected.zip(first);
        let terminal = terminal
            .map(|((_, polarity), first)| if first == (polarity == Polarity::Normal) { '+' } else { '-' });
        let count = wires.len() + usize::from(terminal.is_some());
        let of_wire = |wire: &Wire| ends.iter().find(|e| e.tag == wire.cable).map(|e| e.cable.conductor_mm2);
        let sizes_mm2 = wires
            .iter()
            .filter_map(of_wire)
            .fold([f64::INFINITY, 0.0], |[thin, thick], mm2| [mm2.min(thin), mm2.max(thick)]);
        let connectors = connectors(job, sizes_mm2, count);
        let line = line.map(str::to_owned);
        out.push(JointConductor { line, positive, wires, terminal, sizes_mm2, connectors });
    };
    for number in 1..=most {
        let positive = number % 2 == 1;
        // A line's conductor stands where the first cable has it, the one from the rack.
        let first = |line: &str| ends.iter().find_map(|e| pair_in(e, line));
        for line in lines.iter().filter(|l| first(l).is_some_and(|pair| number_of(pair, positive) == number))
        {
            let wires = |e: &End<'_>| {
                let pairs = e.carries.iter().filter(|(l, _)| l == line);
                pairs.filter_map(|(_, pair)| e.wire(number_of(*pair, positive))).collect::<Vec<_>>()
            };
            let (behind, side_by_side): (Vec<_>, Vec<_>) =
                ends.iter().partition(|e| positive && e.in_series.contains(line));
            let on_here = |ends: Vec<&End<'_>>| ends.into_iter().flat_map(&wires).collect::<Vec<_>>();
            let in_series = ends.iter().any(|e| e.in_series.contains(line));
            // In series the loudspeaker stands between the positive wires, and the negative ones pass it by.
            let first = if in_series { positive.then_some(true) } else { Some(positive) };
            add(Some(line), positive, on_here(side_by_side), first);
            if !behind.is_empty() {
                add(Some(line), positive, on_here(behind), Some(false));
            }
        }
        let pair = number.div_ceil(2);
        let spare = ends.iter().filter(|e| {
            e.carries.iter().all(|(_, used)| pair != *used)
                && e.free.as_ref().is_none_or(|free| free.contains(&pair))
        });
        let wires: Vec<Wire> = spare.filter_map(|e| e.wire(number)).collect();
        if !wires.is_empty() {
            add(None, positive, wires, None);
        }
    }
    out
}

/// Connectors for so many wires between two sizes: the cheapest gel-filled one that takes them all; where none has room,
/// several of the largest in a row, each giving up one place to the next.
fn connectors(job: &Job, [thin_mm2, thick_mm2]: [f64; 2], wires: usize) -> Vec<String> {
    let fitting: Vec<(&String, &Connector)> = job
        .catalogue()
        .connectors
        .iter()
        .filter(|(_, c)| {
            c.gel_filled && c.smallest_mm2 <= thin_mm2 + 1e-9 && thick_mm2 <= c.largest_mm2 + 1e-9
        })
        .collect();
    let enough = fitting.iter().filter(|(_, c)| c.conductors as usize >= wires);
    if let Some((id, _)) = enough.min_by_key(|(_, c)| c.price) {
        return vec![(*id).clone()];
    }
    let Some((id, largest)) = fitting.iter().max_by_key(|(_, c)| c.conductors) else {
        return Vec::new();
    };
    let each = (largest.conductors as usize).saturating_sub(1).max(1);
    vec![(*id).clone(); wires.saturating_sub(1).div_ceil(each)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_adapt::{laid_cables, laid_runs};
    use loamline_model::{SourceFile, read_job};

    /// L1 between a cable of 2.5 mm² and one of another size, as [`JointNeed`] has it.
    fn between(second: &str) -> JointNeed {
        let text = format!(
            "format = 1\n[job]\nname = \"Two sizes\"\n[racks.R1]\nposition = [0, 0]\n\
             [amplifiers.P1]\nmodel = \"line-4x280\"\nrack = \"R1\"\n[channels.C1]\namplifier = \"P1\"\noutput = 1\n\
             [lines.A]\nchannel = \"C1\"\ncable = \"burial-2x2.5mm2\"\n[lines.A.runs]\n\
             A1 = {{ from = \"R1\", to = \"L1\" }}\nA2 = {{ from = \"L1\", to = \"L2\", cable = \"{second}\" }}\n\
             [loudspeakers.L1]\nmodel = \"stake-110-wide\"\nposition = [10, 3]\ntap = \"10 W\"\nline = \"A\"\n\
             [loudspeakers.L2]\nmodel = \"stake-110-wide\"\nposition = [20, 3]\ntap = \"10 W\"\nline = \"A\"\n"
        );
        let job = read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap();
        let runs = laid_runs(&job);
        joint_needs(&job, &laid_cables(&job, &runs)).into_iter().find(|j| j.at == "L1").unwrap()
    }

    /// ASTM B258: 14 AWG is 2.08 mm², 16 AWG 1.31 mm². The shipped connectors hold 0.75 to 2.1, 1.5 to 5.3 and 3.3 to 8.4 mm².
    #[test]
    fn a_connector_holds_the_thinnest_and_the_thickest_wire() {
        let of = |joint: JointNeed| joint.conductors.into_iter().map(|c| c.connectors).collect::<Vec<_>>();
        assert_eq!(of(between("burial-2x14awg")), [["gel-medium"], ["gel-medium"]]);
        let none = between("burial-2x16awg");
        assert!(
            none.conductors
                .iter()
                .all(|c| (c.sizes_mm2[0] - 1.31).abs() < 0.01 && (c.sizes_mm2[1] - 2.5).abs() < 1e-9)
        );
        assert_eq!(of(none), [[""; 0], [""; 0]]);
    }
}
