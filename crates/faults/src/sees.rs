//! What a reading on a good line is a reading of.

use loamline_electrics::{Connection, Load};
use serde::Serialize;

/// What a meter sees from where it is connected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Sees {
    /// No loudspeaker that conducts: cable alone.
    Cable,
    /// A steady current through transformers.
    PrimaryCopper,
    /// A steady current through loudspeakers without transformers.
    VoiceCoils,
    /// A steady current through some of each.
    PrimaryCopperAndVoiceCoils,
    /// An alternating current through transformers.
    LoudspeakersThroughTransformers,
    /// An alternating current through loudspeakers of which some or all have no transformer.
    Loudspeakers,
}

impl Sees {
    /// What is seen of `loads` at `frequency_hz` (0 is a steady current).
    pub(crate) fn of<'a>(loads: impl IntoIterator<Item = &'a Load>, frequency_hz: f64) -> Self {
        let steady = frequency_hz <= 0.0;
        let (mut with, mut without) = (false, false);
        // A capacitor in series stops a steady current.
        for load in loads.into_iter().filter(|load| !(steady && load.series_capacitor_f.is_some())) {
            match load.connection {
                Connection::Direct => without = true,
                Connection::Circuit(_) | Connection::Tapped { .. } => with = true,
            }
        }
        match (steady, with, without) {
            (_, false, false) => Self::Cable,
            (true, true, false) => Self::PrimaryCopper,
            (true, false, true) => Self::VoiceCoils,
            (true, true, true) => Self::PrimaryCopperAndVoiceCoils,
            (false, true, false) => Self::LoudspeakersThroughTransformers,
            (false, _, true) => Self::Loudspeakers,
        }
    }

    /// Each once, in the order they first come.
    pub fn distinct(all: impl IntoIterator<Item = Self>) -> Vec<Self> {
        let mut told = Vec::new();
        for one in all {
            if !told.contains(&one) {
                told.push(one);
            }
        }
        told
    }

    /// In words.
    #[must_use]
    pub const fn sentence(self) -> &'static str {
        match self {
            Self::Cable => {
                "Before the first loudspeaker there is cable alone: the meter shows an open line unless the far end is joined."
            }
            Self::PrimaryCopper => {
                "A steady current sees the cable and the primary's copper of each transformer alone; the loudspeakers behind \
                 them do not show."
            }
            Self::VoiceCoils => "A steady current sees the cable and the copper of the voice coils.",
            Self::PrimaryCopperAndVoiceCoils => {
                "A steady current sees the cable, the primary's copper of the transformers, and the voice coils of \
                 loudspeakers without one."
            }
            Self::LoudspeakersThroughTransformers => {
                "An alternating current sees the loudspeakers through their transformers."
            }
            Self::Loudspeakers => "An alternating current sees the loudspeakers themselves.",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_electrics::{Loudspeaker, Transformer};

    fn load(connection: Connection, series_capacitor_f: Option<f64>) -> Load {
        Load {
            name: "L1".to_owned(),
            at: "L1".to_owned(),
            connection,
            loudspeaker: Loudspeaker::resistance(8.0),
            nominal_ohm: 8.0,
            series_capacitor_f,
            in_series: false,
        }
    }

    #[test]
    fn transformers_voice_coils_and_bare_cable_are_told_apart() {
        let through = load(Connection::Circuit(Transformer::ideal(8.0)), None);
        let direct = load(Connection::Direct, None);
        let blocked = load(Connection::Direct, Some(1e-4));
        let told = |loads: &[&Load]| [0.0, 1000.0].map(|f| Sees::of(loads.iter().copied(), f));
        assert_eq!(told(&[]), [Sees::Cable, Sees::Cable]);
        assert_eq!(told(&[&through]), [Sees::PrimaryCopper, Sees::LoudspeakersThroughTransformers]);
        assert_eq!(told(&[&direct]), [Sees::VoiceCoils, Sees::Loudspeakers]);
        assert_eq!(told(&[&direct, &through]), [Sees::PrimaryCopperAndVoiceCoils, Sees::Loudspeakers]);
        assert_eq!(told(&[&blocked]), [Sees::Cable, Sees::Loudspeakers]);
        let twice = [Sees::Loudspeakers, Sees::Cable, Sees::Loudspeakers];
        assert_eq!(Sees::distinct(twice), [Sees::Loudspeakers, Sees::Cable]);
    }
}
