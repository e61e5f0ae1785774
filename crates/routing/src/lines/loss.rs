//! Loss along a line, for the search alone: enough to tell a line that is too long from one that is not.
//!
//! [`ConstantVoltage`] is direct current over resistances: each loudspeaker is V^2/P at the rated voltage, each
//! run its length times the loop resistance. For a tree that is exact (currents summed from the ends, voltages
//! worked out from the feed). Left out: inductance, capacitance, transformer losses and the loudspeaker's
//! impedance over frequency; a caller that has those brings its own [`LossModel`].

/// A joint of a line under study.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineNode {
    /// The joint the cable comes from, as an index into the nodes; `None` at the feed. Parents come first.
    pub parent: Option<usize>,
    /// Length of the cable from there, metres; 0 at the feed.
    pub length_m: f64,
    /// Tap power of the loudspeaker here, watts; 0 where there is none.
    pub watts: f64,
}

/// Works out how much level a line loses.
pub trait LossModel: Sync {
    /// Loss at the worst loudspeaker, dB, 0 or more, of a line given from its feed outwards. `feed_ohm` is the
    /// loop resistance of cable that is there already between amplifier and feed.
    fn worst_loss_db(&self, line: &[LineNode], feed_ohm: f64) -> f64;
}

/// A constant-voltage line of resistances.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConstantVoltage {
    /// Rated voltage of the line, volts.
    pub volts: f64,
    /// Loop resistance of the cable, both conductors, ohm per metre.
    pub loop_ohm_per_m: f64,
}

impl LossModel for ConstantVoltage {
    fn worst_loss_db(&self, line: &[LineNode], feed_ohm: f64) -> f64 {
        let n = line.len();
        let run_ohm = |i: usize| {
            if line[i].parent.is_some() { line[i].length_m * self.loop_ohm_per_m } else { feed_ohm }
        };
        // Conductance seen at each joint, then at the start of its cable.
        let mut siemens: Vec<f64> = line.iter().map(|j| j.watts / (self.volts * self.volts)).collect();
        for i in (1..n).rev() {
            if let Some(p) = line[i].parent {
                siemens[p] += siemens[i] / (1.0 + siemens[i] * run_ohm(i));
            }
        }
        let mut share = vec![1.0; n];
        let mut least: f64 = 1.0;
        for i in 0..n {
            let before = line[i].parent.map_or(1.0, |p| share[p]);
            share[i] = before / (1.0 + siemens[i] * run_ohm(i));
            if line[i].watts > 0.0 {
                least = least.min(share[i]);
            }
        }
        -20.0 * least.log10()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_single_load_is_a_divider_and_a_chain_follows_ladder_arithmetic() {
        let model = ConstantVoltage { volts: 70.7, loop_ohm_per_m: 0.0166 };
        let node = |parent, length_m, watts| LineNode { parent, length_m, watts };
        let one = [node(None, 0.0, 0.0), node(Some(0), 100.0, 50.0)];
        let load = 70.7f64.powi(2) / 50.0;
        let expected = 20.0 * ((load + 1.66) / load).log10();
        assert!((model.worst_loss_db(&one, 0.0) - expected).abs() < 1e-12);
        // Two loads at 50 and 100 m by Kirchhoff: unknowns solved by hand from the far end.
        let two = [node(None, 0.0, 0.0), node(Some(0), 50.0, 50.0), node(Some(1), 50.0, 50.0)];
        let far = load + 0.83;
        let both = load * far / (load + far);
        let at_first = both / (both + 0.83);
        let at_second = at_first * load / far;
        assert!((model.worst_loss_db(&two, 0.0) + 20.0 * at_second.log10()).abs() < 1e-12);
        assert!(model.worst_loss_db(&two, 1.0) > model.worst_loss_db(&two, 0.0));
    }
}
