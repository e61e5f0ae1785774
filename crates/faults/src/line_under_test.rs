//! A line with everything that predictions of its readings need, wherever on it a meter is connected.

use loamline_electrics::{Change, Line, Load, Network};

use crate::error::FaultError;
use crate::hypotheses::{FINE, Fault, Hypothesis, Priors, hypotheses};
use crate::places::{Place, Tree, cut_at};
use crate::predict::Predictor;
use crate::tolerances::Tolerances;

/// The line with all that predictions need.
pub(crate) struct LineUnderTest<'a> {
    pub(crate) line: &'a Line,
    pub(crate) network: Network,
    pub(crate) tree: Tree,
    swap_candidates: Vec<(&'a Line, Network)>,
    pub(crate) hypotheses: Vec<Hypothesis>,
    pub(crate) tolerances: &'a Tolerances,
}

impl<'a> LineUnderTest<'a> {
    pub(crate) fn new(
        line: &'a Line,
        swap_candidates: &[&'a Line],
        tolerances: &'a Tolerances,
        priors: &Priors,
    ) -> Result<Self, FaultError> {
        tolerances.check()?;
        let network = Network::build(line)?;
        let hypotheses = hypotheses(line, &network, swap_candidates, priors, FINE);
        let tree = Tree::new(&network);
        let swap_candidates = swap_candidates
            .iter()
            .map(|&line| Ok((line, Network::build(line)?)))
            .collect::<Result<Vec<_>, FaultError>>()?;
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

    /// Predictors at the rack of the lines this one may have been swapped with.
    pub(crate) fn swapped_predictors(
        &self,
        frequencies_hz: &[f64],
        phases: bool,
    ) -> Result<Vec<Predictor<'a>>, FaultError> {
        let predictor = |(line, network): &(&Line, Network)| {
            Predictor::new(line, network, Vec::new(), frequencies_hz, phases, self.tolerances)
        };
        self.swap_candidates.iter().map(predictor).collect()
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
