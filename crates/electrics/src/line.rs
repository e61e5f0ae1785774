//! The plain description of a line: named joints, runs of cable between them, loads, and the source.

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use crate::cable::PairConstants;
use crate::error::InputError;
use crate::loudspeaker::Loudspeaker;
use crate::tapped_transformer::TappedTransformer;
use crate::transformer::Transformer;

/// What a line is driven at.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Service {
    /// A constant-voltage line: full drive is `rated_v` V RMS (25, 70.7, 100).
    ConstantVoltage {
        /// Rated line voltage in V RMS.
        rated_v: f64,
    },
    /// Loudspeakers straight on the amplifier.
    LowImpedance,
}

/// A line: runs of one pair between named joints, fed at the source joint. Any layout that hangs together: chains,
/// trees, rings, and two runs in parallel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// Name or id of the line.
    pub name: String,
    /// What it is driven at.
    pub service: Service,
    /// The joint at the amplifier.
    pub source_joint: String,
    /// All joints by name, the source joint among them or not; left empty, the runs say which joints there are.
    #[serde(default)]
    pub joints: Vec<String>,
    /// Runs of cable.
    pub runs: Vec<Run>,
    /// Loudspeakers and groups of them.
    pub loads: Vec<Load>,
}

/// A run of one pair between two joints.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Run {
    /// Name or id, unique on the line.
    pub name: String,
    /// Joint at one end.
    pub from: String,
    /// Joint at the other end.
    pub to: String,
    /// Whether it leaves its `from` joint behind the load that stands in series there.
    #[serde(default)]
    pub in_series: bool,
    /// Length of the run in m (one way), above zero.
    pub length_m: f64,
    /// What the pair adds per metre.
    pub pair: PairConstants,
    /// How the cable lies, where that is known; only findings use it.
    #[serde(default)]
    pub laid: Option<LaidCable>,
}

/// A cable's ratings beside the way it is laid.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LaidCable {
    /// Name of the cable type.
    pub cable: String,
    /// What lies round this run.
    pub laying: Surroundings,
    /// The cable may lie in the ground without a conduit.
    pub rated_for_burial: bool,
    /// The cable may lie in a conduit that can stand in water.
    pub rated_for_conduit: bool,
}

/// What lies round a run of cable, where a cable has to be rated for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Surroundings {
    /// Straight in the ground, slit or trench.
    Buried,
    /// In a conduit or sleeve below ground.
    Conduit,
    /// On a wall, under a deck, indoors.
    Surface,
}

/// A loudspeaker, or a group that shares one transformer, at a joint.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Load {
    /// Name or id, unique on the line.
    pub name: String,
    /// The joint it hangs on.
    pub at: String,
    /// Whether it stands in series with what hangs on the runs that leave its joint in series: the current that goes on
    /// there goes through it first. Otherwise it stands across the line.
    #[serde(default)]
    pub in_series: bool,
    /// What stands between line and loudspeaker.
    pub connection: Connection,
    /// The loudspeaker.
    pub loudspeaker: Loudspeaker,
    /// Nominal impedance in ohm, which the loudspeaker's sensitivity refers to.
    pub nominal_ohm: f64,
    /// A blocking capacitor in series on the line side in F, where one is fitted.
    #[serde(default)]
    pub series_capacitor_f: Option<f64>,
}

/// What stands between a line and a loudspeaker.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Connection {
    /// Nothing: the loudspeaker is on the line itself.
    Direct,
    /// A transformer given by its circuit.
    Circuit(Transformer),
    /// A transformer set to a tap.
    Tapped {
        /// The transformer.
        transformer: TappedTransformer,
        /// The tap set, W at the transformer's rated voltage.
        tap_w: f64,
    },
}

/// The drive of a line: an ideal voltage behind a resistance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Open-circuit voltage in V RMS, above zero.
    pub open_circuit_v: f64,
    /// Output impedance in ohm, zero or more.
    #[serde(default)]
    pub output_impedance_ohm: f64,
}

impl Source {
    /// An ideal source of `volts`.
    #[must_use]
    pub fn ideal(volts: f64) -> Self {
        Self { open_circuit_v: volts, output_impedance_ohm: 0.0 }
    }

    /// Checks both values.
    ///
    /// # Errors
    /// The first value outside its range.
    pub fn check(&self) -> Result<(), InputError> {
        InputError::check_positive("source", "open-circuit voltage", "V", self.open_circuit_v)?;
        InputError::check_not_negative("source", "output impedance", "ohm", self.output_impedance_ohm)
    }
}

/// A load's behaviour at one frequency, all that the network needs of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoadResponse {
    /// Admittance in S, across the line or from joint to joint.
    pub admittance_s: Complex64,
    /// Voltage at the loudspeaker's terminals over the voltage the load stands across.
    pub loudspeaker_ratio: Complex64,
    /// Power in the loudspeaker in W for 1 V RMS across the load.
    pub loudspeaker_w_per_v2: f64,
}

impl Load {
    /// Checks every value.
    ///
    /// # Errors
    /// The first value outside its range.
    pub fn check(&self) -> Result<(), InputError> {
        let place = format!("load {} at joint {}", self.name, self.at);
        self.loudspeaker.check(&place)?;
        InputError::check_positive(&place, "nominal impedance", "ohm", self.nominal_ohm)?;
        if let Some(capacitor) = self.series_capacitor_f {
            InputError::check_positive(&place, "series capacitor", "F", capacitor)?;
        }
        match &self.connection {
            Connection::Direct => Ok(()),
            Connection::Circuit(transformer) => transformer.check(&place),
            Connection::Tapped { transformer, tap_w } => {
                transformer.check(&place)?;
                InputError::check_positive(&place, "tap", "W", *tap_w)
            }
        }
    }

    /// The transformer, where it is given by its taps.
    #[must_use]
    pub fn tapped(&self) -> Option<&TappedTransformer> {
        match &self.connection {
            Connection::Tapped { transformer, .. } => Some(transformer),
            Connection::Direct | Connection::Circuit(_) => None,
        }
    }

    /// The transformer's circuit, if there is one.
    #[must_use]
    pub fn circuit(&self) -> Option<Transformer> {
        match &self.connection {
            Connection::Direct => None,
            Connection::Circuit(transformer) => Some(*transformer),
            Connection::Tapped { transformer, tap_w } => Some(transformer.at_tap(*tap_w)),
        }
    }

    /// Power in W the load is counted with on a line of `service`: its tap scaled to the line's voltage, or for a
    /// direct load on a constant-voltage line V^2/Zn. `None` for a direct load on a low-impedance line.
    #[must_use]
    pub fn counted_w(&self, service: Service) -> Option<f64> {
        match (service, &self.connection) {
            (Service::ConstantVoltage { rated_v }, Connection::Tapped { transformer, tap_w }) => {
                Some(tap_w * (rated_v / transformer.rated_v).powi(2))
            }
            (Service::ConstantVoltage { rated_v }, Connection::Circuit(t)) => {
                Some(rated_v * rated_v / t.mid_band_ohm(self.nominal_ohm))
            }
            (Service::ConstantVoltage { rated_v }, Connection::Direct) => {
                Some(rated_v * rated_v / self.nominal_ohm)
            }
            (Service::LowImpedance, _) => None,
        }
    }

    /// Behaviour at `frequency_hz` (0 is DC). Values must have passed [`Load::check`].
    #[must_use]
    pub fn response(&self, frequency_hz: f64) -> LoadResponse {
        respond(self.circuit().as_ref(), self.series_capacitor_f, &self.loudspeaker, frequency_hz)
    }
}

/// A load of less impedance counts as this much: a short never becomes an infinite admittance.
const SMALLEST_OHM: f64 = 1e-9;

pub(crate) fn respond(
    transformer: Option<&Transformer>,
    series_capacitor_f: Option<f64>,
    loudspeaker: &Loudspeaker,
    frequency_hz: f64,
) -> LoadResponse {
    let terminals = loudspeaker.impedance_ohm(frequency_hz);
    let (behind, ratio) = match transformer {
        Some(transformer) => transformer.primary(terminals, frequency_hz),
        None => (terminals, Complex64::new(1.0, 0.0)),
    };
    let (total, ratio) = match series_capacitor_f {
        Some(_) if frequency_hz <= 0.0 => {
            return LoadResponse {
                admittance_s: Complex64::new(0.0, 0.0),
                loudspeaker_ratio: Complex64::new(0.0, 0.0),
                loudspeaker_w_per_v2: 0.0,
            };
        }
        Some(capacitor) => {
            let total =
                behind + Complex64::new(0.0, -1.0 / (std::f64::consts::TAU * frequency_hz * capacitor));
            (total, ratio * behind / total)
        }
        None => (behind, ratio),
    };
    let total =
        if total.norm_sqr() < SMALLEST_OHM * SMALLEST_OHM { Complex64::from(SMALLEST_OHM) } else { total };
    LoadResponse {
        admittance_s: total.inv(),
        loudspeaker_ratio: ratio,
        loudspeaker_w_per_v2: ratio.norm_sqr() * terminals.re / terminals.norm_sqr(),
    }
}
