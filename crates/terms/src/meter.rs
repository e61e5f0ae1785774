//! What line meters read at, and what they show.

use serde::{Deserialize, Serialize};

/// Frequencies a meter is asked for when none are given, hertz; 0 is direct current. Line meters read at 1 kHz or sweep
/// (common practice, no source); low and high ones, centres of third octaves, tell a coil from a cable.
pub const METER_FREQUENCIES_HZ: [f64; 5] = [0.0, 100.0, 315.0, 1000.0, 10_000.0];

/// What a line meter reads at, hertz: where nothing else is said, an impedance was read at it (common practice, no source).
pub const LINE_METER_HZ: f64 = 1000.0;

/// A reading as a meter shows it, the unit left to the caller: three digits, so that a limit is the same wherever it stands.
#[must_use]
pub fn meter_digits(value: f64) -> String {
    let places = if value < 10.0 { 2 } else { usize::from(value < 100.0) };
    crate::fixed(value, places)
}

/// The word for a reading that is no number: the meter shows more than its range.
pub const OPEN: &str = "open";

/// What a meter on a loop shows. Written as a number of ohms, or as [`OPEN`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(into = "Written", from = "Written")]
pub enum Shown {
    /// So many ohms.
    Ohm(f64),
    /// An open line: more than the meter's range.
    Open,
}

impl Shown {
    /// The ohms, where it shows any.
    #[must_use]
    pub fn ohm(self) -> Option<f64> {
        match self {
            Self::Ohm(ohm) => Some(ohm),
            Self::Open => None,
        }
    }
}

/// [`Shown`] as it stands in JSON.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(untagged)]
enum Written {
    /// So many ohms.
    Ohm(f64),
    /// An open line.
    Word(Word),
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Word {
    Open,
}

impl From<Shown> for Written {
    fn from(shown: Shown) -> Self {
        match shown {
            Shown::Ohm(ohm) => Self::Ohm(ohm),
            Shown::Open => Self::Word(Word::Open),
        }
    }
}

impl From<Written> for Shown {
    fn from(written: Written) -> Self {
        match written {
            Written::Ohm(ohm) => Self::Ohm(ohm),
            Written::Word(Word::Open) => Self::Open,
        }
    }
}

#[cfg(feature = "schema")]
impl utoipa::PartialSchema for Shown {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        use utoipa::openapi::schema::{ObjectBuilder, OneOfBuilder, Type};
        let ohm = ObjectBuilder::new().schema_type(Type::Number).description(Some("So many ohms."));
        let open = ObjectBuilder::new()
            .schema_type(Type::String)
            .enum_values(Some([OPEN]))
            .description(Some("An open line: more than the meter's range."));
        OneOfBuilder::new().item(ohm).item(open).description(Some("What a meter on a loop shows.")).into()
    }
}

#[cfg(feature = "schema")]
impl utoipa::ToSchema for Shown {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_meter_shows_is_a_number_or_the_word() {
        for (shown, written) in [(Shown::Ohm(14.5), "14.5"), (Shown::Open, "\"open\"")] {
            assert_eq!(serde_json::to_string(&shown).unwrap(), written);
            assert_eq!(serde_json::from_str::<Shown>(written).unwrap(), shown);
        }
        assert!(serde_json::from_str::<Shown>("\"closed\"").is_err());
        assert_eq!((Shown::Ohm(2.0).ohm(), Shown::Open.ohm()), (Some(2.0), None));
    }
}
