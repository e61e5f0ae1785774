//! How a lead is wired, contact by contact.
//!
//! Balanced to balanced: screen to screen, plus to plus, minus to minus; on a round three-pin connector pins 1, 2 and 3
//! (AES14; IEC 61076-2-103). Unbalanced to balanced: the signal to plus, the screen to minus and common, joined at the
//! amplifier (common practice, no source; grounding of equipment as in AES48). Balanced to unbalanced: plus to the signal,
//! screen to screen, minus stays open (common practice, no source). A jack of a stereo source carries left at its tip and
//! right at its ring (common practice, no source).

use loamline_model::catalogue::AmplifierInputs;
use loamline_model::document::{LeadSide, SignalConnector, Source, SourceOutput, SourceSignal};

/// What a contact is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    Plus,
    Minus,
    Screen,
}

/// A contact of a connector.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Contact {
    /// Key of its name in the language file.
    pub name: &'static str,
    pub purpose: Purpose,
}

/// How a lead is wired.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeadWiring {
    /// Contacts used at the source, from the top.
    pub source: Vec<Contact>,
    /// Contacts at the amplifier, from the top.
    pub amplifier: Vec<Contact>,
    /// Conductors: places among the source's contacts and among the amplifier's.
    pub wires: Vec<(usize, usize)>,
    /// Whether minus and screen are joined at the amplifier.
    pub joined: bool,
}

/// The wiring of a lead; `None` where light is led, or where a voltage meets light.
pub fn lead_wiring(
    source: &Source,
    side: LeadSide,
    inputs: &AmplifierInputs,
    input: u32,
) -> Option<LeadWiring> {
    if source.is_optical() || inputs.is_optical(input) {
        return None;
    }
    let balanced = source.output == SourceOutput::Balanced;
    let right_of_stereo = source.signal == SourceSignal::Stereo && side == LeadSide::Right;
    let from = contacts(source.connector, balanced, right_of_stereo);
    let to = contacts(inputs.connector, inputs.balanced, false);
    let place = |all: &[Contact], purpose: Purpose| all.iter().position(|c| c.purpose == purpose);
    let wire = |purpose: Purpose| place(&from, purpose).zip(place(&to, purpose));
    let wires: Vec<(usize, usize)> =
        [Purpose::Plus, Purpose::Minus, Purpose::Screen].into_iter().filter_map(wire).collect();
    Some(LeadWiring { joined: !balanced && inputs.balanced, source: from, amplifier: to, wires })
}

/// The contacts of a connector, from the top: plus, minus, screen; an unbalanced one has no minus.
fn contacts(connector: SignalConnector, balanced: bool, right_of_stereo: bool) -> Vec<Contact> {
    let [plus, minus, screen] = match connector {
        SignalConnector::Phono => ["pin.centre", "pin.ring", "pin.outside"],
        SignalConnector::LargeJack | SignalConnector::SmallJack if !balanced && right_of_stereo => {
            ["pin.ring", "pin.ring", "pin.sleeve"]
        }
        SignalConnector::LargeJack | SignalConnector::SmallJack => ["pin.tip", "pin.ring", "pin.sleeve"],
        SignalConnector::Xlr => ["pin.two", "pin.three", "pin.one"],
        SignalConnector::ScrewTerminals | SignalConnector::Optical => ["pin.plus", "pin.minus", "pin.common"],
    };
    let all = [(plus, Purpose::Plus), (minus, Purpose::Minus), (screen, Purpose::Screen)];
    let used = all.into_iter().filter(|(_, purpose)| balanced || *purpose != Purpose::Minus);
    used.map(|(name, purpose)| Contact { name, purpose }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::document::SourceKind;

    fn source(output: SourceOutput, connector: SignalConnector) -> Source {
        Source {
            name: String::new(),
            kind: SourceKind::Player,
            rack: "R1".to_owned(),
            signal: SourceSignal::Stereo,
            output,
            connector,
            nominal_v: None,
            highest_v: None,
            noise_v: None,
            priority: 0,
            turns_down_db: None,
            note: String::new(),
        }
    }

    fn inputs(connector: SignalConnector, balanced: bool) -> AmplifierInputs {
        AmplifierInputs {
            count: 4,
            connector,
            balanced,
            sensitivity_v: 0.775,
            greatest_v: 8.0,
            impedance_ohm: None,
            lowest_gain_db: -80.0,
            highest_gain_db: 12.0,
            optical: 1,
        }
    }

    /// Pairs of contacts a wiring joins, by name.
    fn joins(w: &LeadWiring) -> Vec<(&'static str, &'static str)> {
        w.wires.iter().map(|(a, b)| (w.source[*a].name, w.amplifier[*b].name)).collect()
    }

    /// AES14 and IEC 61076-2-103: pin 1 screen, pin 2 plus, pin 3 minus.
    #[test]
    fn balanced_goes_pin_for_pin() {
        let from = source(SourceOutput::Balanced, SignalConnector::Xlr);
        let w = lead_wiring(&from, LeadSide::Left, &inputs(SignalConnector::Xlr, true), 1).unwrap();
        assert_eq!(joins(&w), [("pin.two", "pin.two"), ("pin.three", "pin.three"), ("pin.one", "pin.one")]);
        assert!(!w.joined);
    }

    /// Common practice, no source: the screen to minus and common, joined at the amplifier.
    #[test]
    fn unbalanced_joins_minus_and_common_at_the_amplifier() {
        let from = source(SourceOutput::Unbalanced, SignalConnector::Phono);
        let w =
            lead_wiring(&from, LeadSide::Left, &inputs(SignalConnector::ScrewTerminals, true), 1).unwrap();
        assert_eq!(joins(&w), [("pin.centre", "pin.plus"), ("pin.outside", "pin.common")]);
        assert!(w.joined && w.amplifier.len() == 3);
        let jack = source(SourceOutput::Unbalanced, SignalConnector::SmallJack);
        let right = lead_wiring(&jack, LeadSide::Right, &inputs(SignalConnector::Phono, false), 2).unwrap();
        assert_eq!(joins(&right), [("pin.ring", "pin.centre"), ("pin.sleeve", "pin.outside")]);
        assert!(!right.joined);
    }

    #[test]
    fn minus_stays_open_at_an_unbalanced_input_and_light_has_no_pins() {
        let from = source(SourceOutput::Balanced, SignalConnector::LargeJack);
        let w = lead_wiring(&from, LeadSide::Left, &inputs(SignalConnector::Phono, false), 1).unwrap();
        assert_eq!(joins(&w), [("pin.tip", "pin.centre"), ("pin.sleeve", "pin.outside")]);
        let all = inputs(SignalConnector::Phono, false);
        assert_eq!(lead_wiring(&from, LeadSide::Left, &all, 5), None);
        let light = source(SourceOutput::Optical, SignalConnector::Optical);
        assert_eq!(lead_wiring(&light, LeadSide::Both, &all, 5), None);
    }
}
