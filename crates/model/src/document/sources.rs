//! Where music comes from, and the leads that bring it to the amplifiers.

use crate::units::Quantity;
use rust_decimal::Decimal;

choice! {
    /// What a source is.
    SourceKind {
        /// A player of records, files or streams.
        Player = "player",
        /// A television.
        Television = "television",
        /// A computer.
        Computer = "computer",
        /// A mixer that adds other sources.
        Mixer = "mixer",
        /// The receiver of a wireless microphone.
        MicrophoneReceiver = "microphone receiver",
        /// A microphone that calls people, with the button that opens it.
        PagingStation = "paging station",
        /// An instrument or its preamplifier.
        Instrument = "instrument",
        /// Anything else.
        Other = "other",
    }
}

choice! {
    /// Whether what plays is the same on both sides.
    SourceSignal {
        /// A left and a right side that differ.
        Stereo = "stereo",
        /// One signal.
        Mono = "mono",
    }
}

choice! {
    /// How a source gives its signal.
    SourceOutput {
        /// One conductor and its screen.
        Unbalanced = "unbalanced",
        /// Two conductors of opposite sign and a screen.
        Balanced = "balanced",
        /// Light, both sides in one lead.
        Optical = "optical",
    }
}

choice! {
    /// A connector of a source or of an amplifier's input.
    SignalConnector {
        /// Pin in the middle, ring around it.
        Phono = "phono",
        /// Jack of 6.3 mm; with three contacts where the signal is balanced.
        LargeJack = "jack 6.3 mm",
        /// Jack of 3.5 mm; with three contacts where the signal is balanced.
        SmallJack = "jack 3.5 mm",
        /// Round, three pins.
        Xlr = "XLR",
        /// Bare wire under screws.
        ScrewTerminals = "screw terminals",
        /// Socket for a light guide.
        Optical = "optical",
    }
}

record! {
    /// Something that plays, with what its output gives.
    Source {
        /// What it is.
        name: String = "name" => text().or(""),
        /// What sort it is.
        kind: SourceKind = "kind" => word::<SourceKind>().required(),
        /// Rack it stands in.
        rack: String = "rack" => text().required(),
        /// Whether it has two sides that differ.
        signal: SourceSignal = "signal" => word::<SourceSignal>().required(),
        /// How it gives its signal.
        output: SourceOutput = "output" => word::<SourceOutput>().required(),
        /// Its connector.
        connector: SignalConnector = "connector" => word::<SignalConnector>().required(),
        /// Level of one side while it plays as loud as it is meant to, RMS. When absent -10 dBV from an unbalanced output and
        /// +4 dBu from a balanced one (common practice, no source); an optical output has none.
        nominal_v: Option<f64> = "nominal" => quantity(Quantity::SignalVoltage, 1.0e-4..=20.0).optional(),
        /// Largest sine one side can give, RMS: full scale of a digital one.
        highest_v: Option<f64> = "highest" => quantity(Quantity::SignalVoltage, 1.0e-4..=40.0).like("7.75 V or +20 dBu").optional(),
        /// Noise of one side at its output, A-weighted, RMS.
        noise_v: Option<f64> = "noise" => quantity(Quantity::SignalVoltage, 1.0e-8..=1.0).like("-90 dBu").optional(),
        /// How urgent it is: while it plays, sources of lower priority on the same channel are turned down. 0 is music.
        priority: u32 = "priority" => whole(0..=9).or(0u32),
        /// How far those of lower priority are turned down while it plays; silenced when absent.
        turns_down_db: Option<f64> = "turns_down" => quantity(Quantity::Level, 0.0..=80.0).like("20 dB").optional(),
        /// Note for the crew.
        note: String = "note" => text().or(""),
    }
}

choice! {
    /// What a lead brings.
    LeadSide {
        /// The left side.
        Left = "left",
        /// The right side.
        Right = "right",
        /// All there is: the one signal of a mono source, both sides through a light guide.
        Both = "both",
    }
}

record! {
    /// A lead from a source to one input of an amplifier.
    Lead {
        /// Source it comes from.
        source: String = "source" => text().required(),
        /// What it brings.
        side: LeadSide = "side" => word::<LeadSide>().or(LeadSide::Both),
        /// Amplifier it goes to.
        amplifier: String = "amplifier" => text().required(),
        /// Input of the amplifier, from 1; the optical ones count on after the others.
        input: u32 = "input" => whole(1..=64).required(),
        /// Its length.
        length_m: Option<f64> = "length" => quantity(Quantity::Length, 0.05..=500.0).like("2 m or 6.5 ft").optional(),
        /// Link between racks it comes through, where its source stands in another rack than its amplifier.
        link: Option<String> = "link" => text().optional(),
        /// Note for the crew.
        note: String = "note" => text().or(""),
    }
}

choice! {
    /// How a link between racks carries sound.
    LinkKind {
        /// As numbers, over a network.
        Network = "network",
        /// As a voltage.
        Analogue = "analogue",
    }
}

record! {
    /// A link that brings sound from one rack to another.
    Link {
        /// What it is.
        name: String = "name" => text().or(""),
        /// Rack it comes from.
        from: String = "from" => text().required(),
        /// Rack it goes to.
        to: String = "to" => text().required(),
        /// How it carries sound.
        kind: LinkKind = "kind" => word::<LinkKind>().or(LinkKind::Network),
        /// How much later sound comes out of it than it went in. Channels that are fed through it play so much later.
        delay_s: f64 = "delay" => quantity(Quantity::Duration, 0.0..=2.0).like("10 ms").or(0.0),
        /// Length of its cable.
        length_m: Option<f64> = "length" => quantity(Quantity::Length, 0.05..=20_000.0).like("30 m or 100 ft").optional(),
        /// Price of its cable and its ends as laid, labour included: what the quotation asks for it. In no bill when absent.
        price: Option<Decimal> = "price" => money().optional(),
        /// Note for the crew.
        note: String = "note" => text().or(""),
    }
}

/// Level of consumer equipment, -10 dBV (common practice, no source).
const UNBALANCED_NOMINAL_V: f64 = 0.316_227_766_016_837_94;
/// Level of studio equipment, +4 dBu (common practice, no source): 0.774597 V is 1 mW in 600 ohm.
const BALANCED_NOMINAL_V: f64 = 1.227_652_987_983_88;

impl Source {
    /// Level of one side as stated, or as usual for its output; `None` for an optical one.
    pub fn level_v(&self) -> Option<f64> {
        match self.output {
            SourceOutput::Optical => None,
            SourceOutput::Unbalanced => Some(self.nominal_v.unwrap_or(UNBALANCED_NOMINAL_V)),
            SourceOutput::Balanced => Some(self.nominal_v.unwrap_or(BALANCED_NOMINAL_V)),
        }
    }

    /// Whether light comes out of it.
    pub fn is_optical(&self) -> bool {
        self.output == SourceOutput::Optical
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// -10 dBV and +4 dBu by their definitions, 1 V and 1 mW in 600 ohm.
    #[test]
    fn the_usual_levels_are_what_they_are_called() {
        assert!((20.0 * UNBALANCED_NOMINAL_V.log10() + 10.0).abs() < 1e-9);
        assert!((20.0 * (BALANCED_NOMINAL_V / 0.6_f64.sqrt()).log10() - 4.0).abs() < 1e-9);
    }
}
