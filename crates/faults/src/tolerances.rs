//! What makes a true line read otherwise than drawn.

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
    /// The meter and its leads.
    Meter,
}

impl Cause {
    /// Every cause, as a working tells them.
    pub const ALL: [Self; 5] =
        [Self::Length, Self::CableMake, Self::Temperature, Self::Loudspeakers, Self::Meter];
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
    /// Resistance of the transformer's windings.
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
