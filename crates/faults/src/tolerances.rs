//! What makes a true line read otherwise than drawn.

use loamline_electrics::{PRIMARY_PART_OF_COPPER, TappedTransformer};
use serde::{Deserialize, Serialize};

use crate::error::FaultError;

/// A kind of thing that differs from line to line though nothing is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// Lengths as laid against lengths as drawn.
    Length,
    /// Inductance and capacitance of the cable per metre.
    CableMake,
    /// Temperature of conductors, windings and voice coils.
    Temperature,
    /// Loudspeakers and their transformers.
    Loudspeakers,
    /// What is not known of a model's windings: how its loss is shared between primary, core and secondary, and its leakage.
    Windings,
    /// The meter and its leads.
    Meter,
}

impl Cause {
    /// Every cause, as a working tells them.
    pub const ALL: [Self; 6] =
        [Self::Length, Self::CableMake, Self::Temperature, Self::Loudspeakers, Self::Windings, Self::Meter];
}

/// Standard deviations of everything that makes a true line read otherwise than drawn. Defaults are common practice,
/// no source.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Tolerances {
    /// Length of each run on its own, relative.
    pub length: f64,
    /// Length of all runs together (the drawing, the slack a crew leaves), relative.
    pub length_common: f64,
    /// Temperature of conductors, windings and coils against the one the line was described at, K.
    pub temperature_k: f64,
    /// Inductance of the cable per metre, relative.
    pub cable_inductance: f64,
    /// Capacitance of the cable per metre, relative.
    pub cable_capacitance: f64,
    /// Loudspeakers and transformers.
    pub load: LoadTolerances,
    /// Share of a loudspeaker's variance that all of one model on the line have in common, because they come from one
    /// batch; 0..=1.
    pub batch_share: f64,
    /// What is not known of a transformer model's windings, the same in all of that model on the line.
    pub windings: WindingTolerances,
    /// Meter, relative.
    pub meter: f64,
    /// Meter and leads, ohm.
    pub meter_floor_ohm: f64,
    /// Phase shown by the meter, degrees.
    pub meter_phase_deg: f64,
    /// Above this the meter shows an open line, ohm.
    pub meter_range_ohm: f64,
}

/// Standard deviations of a loudspeaker's parts, relative. Of a loudspeaker described by a resistance or a table, `coil`
/// moves every ohm and `resonance` the frequencies.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LoadTolerances {
    /// Resistance of the voice coil.
    pub coil: f64,
    /// Inductance of the voice coil.
    pub inductance: f64,
    /// Resonance.
    pub resonance: f64,
    /// Mechanical Q.
    pub mechanical_q: f64,
    /// Electrical Q.
    pub electrical_q: f64,
    /// Resistance of the transformer's copper, primary and secondary.
    pub winding: f64,
    /// Magnetising inductance of the transformer.
    pub magnetising: f64,
    /// Turns ratio of the transformer.
    pub turns: f64,
}

impl Default for LoadTolerances {
    fn default() -> Self {
        Self {
            coil: 0.05,
            inductance: 0.1,
            resonance: 0.08,
            mechanical_q: 0.15,
            electrical_q: 0.1,
            winding: 0.08,
            magnetising: 0.2,
            turns: 0.01,
        }
    }
}

/// Standard deviations of what makers leave unsaid of a transformer model's windings, the insertion loss being as stated.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct WindingTolerances {
    /// Share of the copper loss that is the primary's, where its resistance is not stated: 0.3 to 0.7 evenly have this
    /// deviation from their middle.
    pub primary_share: f64,
    /// Where it is stated: the power of the turns by which it differs from one wire throughout, on the way from the tap it is
    /// stated at to another. Thinner wire on the outer turns has more ohms than their number says.
    pub primary_by_turns: f64,
    /// Core loss, relative; a quarter of that where it is stated.
    pub core: f64,
    /// Leakage, relative; a quarter of that where it is stated.
    pub leakage: f64,
}

impl Default for WindingTolerances {
    fn default() -> Self {
        Self { primary_share: 0.1155, primary_by_turns: 0.25, core: 0.4, leakage: 0.4 }
    }
}

impl WindingTolerances {
    /// Number of things that are not known.
    pub(crate) const PARTS: usize = 3;

    /// Deviations of the primary's resistance (at `tap_w`), the core's loss and the leakage of a model, relative.
    pub(crate) fn parts(&self, transformer: &TappedTransformer, tap_w: f64) -> [f64; Self::PARTS] {
        let stated = &transformer.windings;
        let part = |of: Option<f64>, deviation: f64| if of.is_some() { 0.25 * deviation } else { deviation };
        let primary = match stated.primary_resistance_ohm {
            None => self.primary_share / PRIMARY_PART_OF_COPPER,
            Some(_) => self.primary_by_turns * transformer.turns_from_stated(tap_w).ln().abs(),
        };
        [primary, part(stated.core_share, self.core), part(stated.leakage_inductance_h, self.leakage)]
    }
}

impl LoadTolerances {
    /// Number of parts that vary.
    pub(crate) const PARTS: usize = 8;

    /// Every tolerance times `factor`.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        let [coil, inductance, resonance, mechanical_q, electrical_q, winding, magnetising, turns] =
            self.parts().map(|part| part * factor);
        Self { coil, inductance, resonance, mechanical_q, electrical_q, winding, magnetising, turns }
    }

    /// In the order of the fields.
    pub(crate) fn parts(&self) -> [f64; Self::PARTS] {
        [
            self.coil,
            self.inductance,
            self.resonance,
            self.mechanical_q,
            self.electrical_q,
            self.winding,
            self.magnetising,
            self.turns,
        ]
    }
}

impl Default for Tolerances {
    fn default() -> Self {
        Self {
            length: 0.04,
            length_common: 0.02,
            temperature_k: 8.0,
            cable_inductance: 0.1,
            cable_capacitance: 0.2,
            load: LoadTolerances::default(),
            batch_share: 0.25,
            windings: WindingTolerances::default(),
            meter: 0.01,
            meter_floor_ohm: 0.05,
            meter_phase_deg: 1.0,
            meter_range_ohm: 20_000.0,
        }
    }
}

impl Tolerances {
    /// What is added to ohms before their logarithm is taken, ohm: four times the meter's own error, so that a reading
    /// near nothing, where that error rules, is as good as normal too.
    #[must_use]
    pub fn offset_ohm(&self) -> f64 {
        4.0 * self.meter_floor_ohm
    }

    /// Checks every value.
    ///
    /// # Errors
    /// The first one outside its range.
    pub fn check(&self) -> Result<(), FaultError> {
        let load = self.load.parts().into_iter().map(|part| ("component tolerance", part));
        let relative = [
            ("length tolerance", self.length),
            ("common length tolerance", self.length_common),
            ("cable inductance tolerance", self.cable_inductance),
            ("cable capacitance tolerance", self.cable_capacitance),
            ("share of copper in the primary", self.windings.primary_share),
            ("power of the turns", self.windings.primary_by_turns),
            ("core loss tolerance", self.windings.core),
            ("leakage tolerance", self.windings.leakage),
            ("meter error", self.meter),
        ];
        for (name, value) in relative.into_iter().chain(load) {
            within(name, value, 0.0, 0.5, "from 0 to 0.5 (50 %)")?;
        }
        within("share of a batch", self.batch_share, 0.0, 1.0, "from 0 to 1")?;
        within("temperature spread", self.temperature_k, 0.0, 60.0, "from 0 to 60 K")?;
        within("phase error of the meter", self.meter_phase_deg, 0.01, 45.0, "from 0.01 to 45 degrees")?;
        within("meter floor", self.meter_floor_ohm, 1e-4, 1e3, "from 0.0001 to 1000 ohm")?;
        within("meter range", self.meter_range_ohm, 10.0, 1e9, "from 10 ohm to 1 Gohm")
    }
}

fn within(
    name: &'static str,
    value: f64,
    low: f64,
    high: f64,
    expected: &'static str,
) -> Result<(), FaultError> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(FaultError::BadTolerance { name, value, expected })
}
