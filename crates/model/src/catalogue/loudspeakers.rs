//! Loudspeakers of the catalogue.

use crate::document::{Equaliser, Filter, Limiter, Mount};
use crate::units::Quantity;
use indexmap::IndexMap;
use loamline_terms::IpCode;
use rust_decimal::Decimal;

choice! {
    /// What sort of loudspeaker it is.
    LoudspeakerKind {
        /// Two-way cabinet.
        TwoWay = "two-way",
        /// Radiates all round in the horizontal plane.
        Bollard = "bollard",
        /// Small satellite, meant to be used with a subwoofer.
        Satellite = "satellite",
        /// Looks like a rock.
        Rock = "rock",
        /// Bass only.
        Subwoofer = "subwoofer",
    }
}

choice! {
    /// Where sensitivity was measured.
    ReferenceSpace {
        /// Full space, no boundary near.
        FreeField = "free field",
        /// Over or in a large hard plane.
        HalfSpace = "half space",
    }
}

choice! {
    /// How directivity is stated.
    DirectivityKind {
        /// A circular piston of a diameter.
        Piston = "piston",
        /// Stated coverage angles by frequency.
        Coverage = "coverage",
        /// All round in the horizontal plane, with a vertical coverage angle by frequency.
        AllRound = "all round",
        /// The same in every direction.
        Omnidirectional = "omnidirectional",
    }
}

record! {
    /// How sound spreads with direction.
    Directivity {
        /// How it is stated.
        kind: DirectivityKind = "kind" => word::<DirectivityKind>().required(),
        /// Diameter of the piston.
        diameter_m: Option<f64> = "diameter" => quantity(Quantity::Length, 0.01..=1.0).like("110 mm or 4.3 in").optional(),
        /// Coverage angle by frequency, horizontal: full angle between the -6 dB directions.
        horizontal_deg: Option<Coverage> = "horizontal" => over_frequency(quantity(Quantity::Angle, 5.0..=360.0).like("120 deg")).optional(),
        /// Coverage angle by frequency, vertical: full angle between the -6 dB directions.
        vertical_deg: Option<Coverage> = "vertical" => over_frequency(quantity(Quantity::Angle, 5.0..=360.0).like("90 deg")).optional(),
    }
}

/// Coverage angle by frequency: pairs of hertz and degrees, ascending.
pub type Coverage = Vec<(f64, f64)>;

record! {
    /// Thiele-Small parameters that set the impedance.
    ThieleSmall {
        /// Resistance of the voice coil.
        re_ohm: f64 = "re" => quantity(Quantity::Impedance, 0.5..=64.0).like("6.4 ohm").required(),
        /// Inductance of the voice coil.
        le_h: f64 = "le" => quantity(Quantity::Inductance, 0.0..=0.02).like("0.3 mH").required(),
        /// Resonance frequency in its enclosure.
        fs_hz: f64 = "fs" => quantity(Quantity::Frequency, 10.0..=500.0).like("80 Hz").required(),
        /// Mechanical quality factor.
        qms: f64 = "qms" => quantity(Quantity::Number, 0.2..=20.0).like("4").required(),
        /// Electrical quality factor.
        qes: f64 = "qes" => quantity(Quantity::Number, 0.1..=10.0).like("0.8").required(),
    }
}

record! {
    /// Impedance beyond the nominal value: Thiele-Small parameters or a measured table.
    ImpedanceModel {
        /// Thiele-Small parameters.
        thiele_small: Option<ThieleSmall> = "thiele_small" => nested::<ThieleSmall>().optional(),
        /// Magnitude by frequency.
        magnitude_ohm: Option<Vec<(f64, f64)>> = "magnitude" => over_frequency(quantity(Quantity::Impedance, 0.5..=1000.0).like("8 ohm")).optional(),
        /// Phase by frequency, at the same frequencies as the magnitude; 0 when absent.
        phase_deg: Option<Vec<(f64, f64)>> = "phase" => over_frequency(quantity(Quantity::Angle, -90.0..=90.0)).optional(),
    }
}

record! {
    /// Constant-voltage transformer with its taps.
    TransformerModel {
        /// Taps at 25 V, watts.
        taps_25v_w: Vec<f64> = "taps_25v" => list(quantity(Quantity::Power, 0.1..=2000.0).like("10 W"), 0..=12).or(Vec::new()),
        /// Taps at 70.7 V, watts.
        taps_70v_w: Vec<f64> = "taps_70v" => list(quantity(Quantity::Power, 0.1..=2000.0).like("10 W"), 0..=12).or(Vec::new()),
        /// Taps at 100 V, watts.
        taps_100v_w: Vec<f64> = "taps_100v" => list(quantity(Quantity::Power, 0.1..=2000.0).like("10 W"), 0..=12).or(Vec::new()),
        /// Loss between tap power and loudspeaker, dB.
        insertion_loss_db: f64 = "insertion_loss" => quantity(Quantity::Level, 0.0..=3.0).like("0.8 dB").or(0.8),
        /// Lowest frequency at which it takes its full rated voltage.
        low_frequency_hz: f64 = "low_frequency" => quantity(Quantity::Frequency, 15.0..=500.0).like("60 Hz").or(60.0),
        /// Magnetising inductance seen from the line, at the largest tap.
        magnetising_h: Option<f64> = "magnetising" => quantity(Quantity::Inductance, 0.01..=1000.0).like("6 H").optional(),
        /// Resistance of the primary to direct current, at its tap of least impedance (V^2/P over all its line voltages).
        /// Absent: half of the loss that is not the core's, with a wide tolerance.
        primary_ohm: Option<f64> = "primary_resistance" => quantity(Quantity::Impedance, 0.01..=10_000.0).like("40 ohm").optional(),
        /// Share of a tap's power that the core takes in the middle of the band. Absent: a tenth of the insertion loss.
        core_loss: Option<f64> = "core_loss" => quantity(Quantity::Fraction, 0.0..=0.5).like("5 %").optional(),
        /// Leakage inductance seen from the line, at the tap of least impedance. Absent: a third of that impedance at 20 kHz.
        leakage_h: Option<f64> = "leakage" => quantity(Quantity::Inductance, 0.0..=1.0).like("20 mH").optional(),
    }
}

impl TransformerModel {
    /// Its taps with their line voltages, V and W.
    pub fn taps(&self) -> [(f64, &[f64]); 3] {
        [(25.0, &self.taps_25v_w), (70.7, &self.taps_70v_w), (100.0, &self.taps_100v_w)]
    }

    /// Impedance of its tap of least impedance, ohm: V^2/P. `None` without taps.
    pub fn least_tap_ohm(&self) -> Option<f64> {
        let every = self.taps().into_iter().flat_map(|(v, taps)| taps.iter().map(move |w| v * v / w));
        every.reduce(f64::min)
    }
}

record! {
    /// Two voice coils of their own.
    DualCoil {
        /// Nominal impedance of one coil.
        each_ohm: f64 = "each" => quantity(Quantity::Impedance, 1.0..=32.0).like("8 ohm").required(),
    }
}

record! {
    /// Its leads, by colour.
    Leads {
        /// Of its coil, or of the first of two: positive, negative.
        coil: Vec<String> = "coil" => list(text(), 0..=2).or(Vec::new()),
        /// Of the second coil: positive, negative.
        second_coil: Vec<String> = "second_coil" => list(text(), 0..=2).or(Vec::new()),
        /// Of the transformer, towards the line: positive, negative.
        transformer: Vec<String> = "transformer" => list(text(), 0..=2).or(Vec::new()),
    }
}

record! {
    /// Size of a cabinet.
    Dimensions {
        /// Width.
        width_m: f64 = "width" => quantity(Quantity::Length, 0.02..=3.0).like("200 mm or 8 in").required(),
        /// Depth.
        depth_m: f64 = "depth" => quantity(Quantity::Length, 0.02..=3.0).like("200 mm or 8 in").required(),
        /// Height.
        height_m: f64 = "height" => quantity(Quantity::Length, 0.02..=3.0).like("300 mm or 12 in").required(),
    }
}

record! {
    /// Hole it needs.
    Hole {
        /// Length.
        length_m: f64 = "length" => quantity(Quantity::Length, 0.02..=3.0).like("300 mm or 12 in").required(),
        /// Width.
        width_m: f64 = "width" => quantity(Quantity::Length, 0.02..=3.0).like("200 mm or 8 in").required(),
        /// Depth.
        depth_m: f64 = "depth" => quantity(Quantity::Length, 0.05..=3.0).like("300 mm or 12 in").required(),
    }
}

record! {
    /// Settings the maker of a loudspeaker asks for.
    MakerSettings {
        /// Day or edition of them, as the maker states it: so that a crew sees that the newest were loaded.
        date: String = "date" => text().required(),
        /// High-pass filter.
        high_pass: Option<Filter> = "high_pass" => nested::<Filter>().optional(),
        /// Low-pass filter.
        low_pass: Option<Filter> = "low_pass" => nested::<Filter>().optional(),
        /// Equaliser sections, by name.
        equaliser: IndexMap<String, Equaliser> = "equaliser" => map_of::<Equaliser>(),
        /// Limiter; thresholds at the loudspeaker's own terminals, behind its transformer where it has one.
        limiter: Option<Limiter> = "limiter" => nested::<Limiter>().optional(),
    }
}

record! {
    /// What it withstands outdoors, as its maker states it; what is absent is not known.
    Withstands {
        /// Protection against solids and water.
        protection: Option<IpCode> = "protection" => ip_code().optional(),
        /// Coldest air it may stand in.
        coldest_c: Option<f64> = "coldest" => quantity(Quantity::Temperature, -70.0..=30.0).like("-20 C or -4 F").optional(),
        /// Hottest air it may stand in.
        hottest_c: Option<f64> = "hottest" => quantity(Quantity::Temperature, 0.0..=100.0).like("50 C or 122 F").optional(),
        /// Whether it is made for salt air.
        salt_air: Option<bool> = "salt_air" => flag().optional(),
        /// Whether it is made for sunlight (ultraviolet).
        sunlight: Option<bool> = "sunlight" => flag().optional(),
    }
}

record! {
    /// A loudspeaker of the catalogue.
    LoudspeakerModel {
        /// What it is, for the papers.
        description: String = "description" => text().required(),
        /// What sort it is.
        kind: LoudspeakerKind = "kind" => word::<LoudspeakerKind>().required(),
        /// Level at 1 m on axis for 1 W into the nominal impedance.
        sensitivity_db: f64 = "sensitivity" => quantity(Quantity::Level, 60.0..=115.0).like("86 dB").required(),
        /// Where that was measured.
        reference: ReferenceSpace = "reference" => word::<ReferenceSpace>().or(ReferenceSpace::FreeField),
        /// On-axis response relative to the sensitivity, by frequency.
        response_db: Vec<(f64, f64)> = "response" => over_frequency(quantity(Quantity::Level, -80.0..=20.0).like("-3 dB")).required(),
        /// Nominal impedance.
        nominal_ohm: f64 = "nominal" => quantity(Quantity::Impedance, 1.0..=600.0).like("8 ohm").required(),
        /// Impedance beyond the nominal value.
        impedance: Option<ImpedanceModel> = "impedance" => nested::<ImpedanceModel>().optional(),
        /// Rated continuous power of the loudspeaker itself.
        rated_w: f64 = "rated" => quantity(Quantity::Power, 0.5..=5000.0).like("40 W").required(),
        /// Rated peak power of the loudspeaker itself; 6 dB over the continuous one counts when absent (common practice, no
        /// source).
        rated_peak_w: Option<f64> = "rated_peak" => quantity(Quantity::Power, 0.5..=50_000.0).like("160 W").optional(),
        /// How sound spreads with direction.
        directivity: Directivity = "directivity" => nested::<Directivity>().required(),
        /// Its transformer; absent for low impedance only.
        transformer: Option<TransformerModel> = "transformer" => nested::<TransformerModel>().optional(),
        /// Whether it can also be fed past its transformer.
        low_impedance: bool = "low_impedance" => flag().or(true),
        /// Two voice coils, where it has them.
        dual_coil: Option<DualCoil> = "dual_coil" => nested::<DualCoil>().optional(),
        /// Its leads, where it has leads and no terminals.
        leads: Option<Leads> = "leads" => nested::<Leads>().optional(),
        /// Lowest corner of high-pass filter that protects it.
        high_pass_hz: f64 = "high_pass" => quantity(Quantity::Frequency, 10.0..=500.0).like("80 Hz").required(),
        /// Settings its maker asks for.
        settings: Option<MakerSettings> = "settings" => nested::<MakerSettings>().optional(),
        /// How it is usually fixed.
        mount: Mount = "mount" => word::<Mount>().required(),
        /// Height of its acoustic centre above ground when fixed that way.
        centre_height_m: f64 = "centre_height" => quantity(Quantity::Length, 0.0..=20.0).like("0.3 m or 1 ft").required(),
        /// Size of the cabinet.
        size: Option<Dimensions> = "size" => nested::<Dimensions>().optional(),
        /// Hole it needs, when mounted in the ground.
        hole: Option<Hole> = "hole" => nested::<Hole>().optional(),
        /// Depth of the pilot hole for its stake.
        pilot_depth_m: Option<f64> = "pilot_depth" => quantity(Quantity::Length, 0.1..=1.0).like("0.3 m or 12 in").optional(),
        /// Mass.
        mass_kg: Option<f64> = "mass" => quantity(Quantity::Mass, 0.05..=500.0).like("2.5 kg or 5.5 lb").optional(),
        /// What it withstands outdoors.
        withstands: Withstands = "withstands" => nested_or_empty::<Withstands>(),
        /// Price of one.
        price: Decimal = "price" => money().required(),
        /// Labour to put it up and connect it.
        labour_s: f64 = "labour" => quantity(Quantity::Duration, 0.0..=360_000.0).like("30 min").or(1800.0),
    }
}
