//! A line with everything that predictions of its readings need, wherever on it a meter is connected.

use std::borrow::Cow;

use loamline_electrics::{Change, Line, Load, Network};

use crate::error::FaultError;
use crate::hypotheses::{FINE, Fault, Hypothesis, Priors, hypotheses};
use crate::places::{Place, Tree, cut_at};
use crate::predict::Predictor;
use crate::swapped_at::{SwappedAt, swapped_at};
use crate::tolerances::Tolerances;

/// The line with all that predictions need.
pub(crate) struct LineUnderTest<'a> {
    pub(crate) line: &'a Line,
    pub(crate) network: Network,
    pub(crate) tree: Tree,
    /// What may be on its terminals instead: other lines, and itself with one of them behind a joint.
    swap_candidates: Vec<(Cow<'a, Line>, Network)>,
    pub(crate) hypotheses: Vec<Hypothesis>,
    pub(crate) tolerances: &'a Tolerances,
}

impl<'a> LineUnderTest<'a> {
    pub(crate) fn new(
        line: &'a Line,
        others: &[&'a Line],
        tolerances: &'a Tolerances,
        priors: &Priors,
    ) -> Result<Self, FaultError> {
        tolerances.check()?;
        let network = Network::build(line)?;
        let tree = Tree::new(&network);
        let mut swaps = Vec::new();
        let mut swap_candidates = Vec::new();
        for &other in others {
            swaps.push(Fault::Swapped { line: other.name.clone() });
            swap_candidates.push((Cow::Borrowed(other), Network::build(other)?));
        }
        for SwappedAt { fault, line } in swapped_at(line, others) {
            let network = Network::build(&line)?;
            swaps.push(fault);
            swap_candidates.push((Cow::Owned(line), network));
        }
        let hypotheses = hypotheses(line, &network, &swaps, priors, FINE);
        Ok(Self { line, network, tree, swap_candidates, hypotheses, tolerances })
    }

    /// The predictor at a place of this line.
    ///
    /// # Errors
    /// A joint the line does not have or that cannot be parted from the rack.
    pub(crate) fn predictor(
        &self,
        place: &Place,
        frequencies_hz: &[f64],
        phases: bool,
    ) -> Result<Predictor<'a>, FaultError> {
        let Place::Downstream(name) = place else {
            return Predictor::new(
                self.line,
                &self.network,
                Vec::new(),
                frequencies_hz,
                phases,
                self.tolerances,
            );
        };
        let (joint, run) = self.joint(name)?;
        let cut: Vec<Change> = vec![cut_at(&self.network, run, joint)];
        let seen =
            self.network.seen_from(name).ok_or_else(|| FaultError::NoSuchJoint { joint: name.clone() })?;
        Predictor::new(self.line, &seen, cut, frequencies_hz, phases, self.tolerances)
    }

    /// The predictor at a place of what is on the terminals instead of this line; `None` where there is no such line.
    ///
    /// # Errors
    /// As [`Self::predictor`].
    pub(crate) fn swapped_predictor(
        &self,
        candidate: usize,
        place: &Place,
        frequencies_hz: &[f64],
        phases: bool,
    ) -> Result<Option<Predictor<'a>>, FaultError> {
        let Some((line, network)) = self.swap_candidates.get(candidate) else { return Ok(None) };
        let (network, cut) = match place {
            Place::Rack => (Cow::Borrowed(network), Vec::new()),
            Place::Downstream(name) => {
                // As far as where they are swapped the runs are this line's own.
                let (_, own) = self.joint(name)?;
                let run = self.network.run_names().nth(own);
                let run = run.and_then(|own| network.run_names().position(|other| other == own));
                let there = network.joint_index(name).zip(run).zip(network.seen_from(name));
                let Some(((joint, run), seen)) = there else { return Ok(None) };
                (Cow::Owned(seen), vec![cut_at(network, run, joint)])
            }
        };
        Predictor::new(line, &network, cut, frequencies_hz, phases, self.tolerances).map(Some)
    }

    /// Index of a joint and of the run to take off there.
    pub(crate) fn joint(&self, name: &str) -> Result<(usize, usize), FaultError> {
        let joint = self
            .network
            .joint_index(name)
            .ok_or_else(|| FaultError::NoSuchJoint { joint: name.to_owned() })?;
        let run = self.tree.upstream[joint];
        let run = run.ok_or_else(|| FaultError::NotBehindTheRack { joint: name.to_owned() })?;
        Ok((joint, run))
    }

    /// Every joint a meter can look away from the rack at.
    pub(crate) fn joints_behind_the_rack(&self) -> impl Iterator<Item = Place> + '_ {
        let joints = self.network.joints().iter().zip(&self.tree.upstream);
        joints.filter(|(_, run)| run.is_some()).map(|(joint, _)| Place::Downstream(joint.clone()))
    }

    /// Loads between the place and the far ends.
    pub(crate) fn loads_seen_from(&self, place: &Place) -> Vec<&'a Load> {
        let here = match place {
            Place::Rack => None,
            Place::Downstream(name) => self.network.joint_index(name),
        };
        let seen = |load: &&Load| match (here, self.network.joint_index(&load.at)) {
            (Some(here), Some(at)) => self.tree.behind(at, here),
            _ => true,
        };
        self.line.loads.iter().filter(seen).collect()
    }

    /// Joints a short at which a meter at the place sees.
    pub(crate) fn shorts_seen_from(&self, place: &Place) -> Vec<usize> {
        let seen = |joint: usize| match place {
            Place::Rack => joint != self.network.source_index(),
            // A short at the joint itself is at the meter.
            Place::Downstream(name) => self.joint(name).is_ok_and(|(here, _)| {
                let fault = Fault::ShortAt { joint: self.network.joints()[joint].clone() };
                joint != here && self.tree.seen_from(&self.network, self.line, here, &fault)
            }),
        };
        (0..self.network.joints().len()).filter(|&joint| seen(joint)).collect()
    }
}
