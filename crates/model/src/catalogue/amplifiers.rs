//! Amplifiers of the catalogue.

use crate::document::SignalConnector;
use crate::units::Quantity;
use rust_decimal::Decimal;

record! {
    /// An amplifier of the catalogue. Ratings are per channel, all channels driven.
    AmplifierModel {
        /// What it is, for the papers.
        description: String = "description" => text().required(),
        /// Number of channels.
        channels: u32 = "channels" => whole(1..=64).required(),
        /// Line voltages it can feed without an outside transformer, volts; empty for low impedance only.
        line_voltages_v: Vec<f64> = "line_voltages" => list(quantity(Quantity::Voltage, 10.0..=200.0), 0..=4).or(Vec::new()),
        /// Rated power of a channel on a constant-voltage line.
        line_power_w: Option<f64> = "line_power" => quantity(Quantity::Power, 1.0..=10_000.0).like("280 W").optional(),
        /// Rated power of a channel into 8 ohm.
        power_8ohm_w: Option<f64> = "power_8ohm" => quantity(Quantity::Power, 1.0..=10_000.0).like("150 W").optional(),
        /// Rated power of a channel into 4 ohm.
        power_4ohm_w: Option<f64> = "power_4ohm" => quantity(Quantity::Power, 1.0..=10_000.0).like("280 W").optional(),
        /// Rated power of a channel into 2 ohm.
        power_2ohm_w: Option<f64> = "power_2ohm" => quantity(Quantity::Power, 1.0..=10_000.0).like("280 W").optional(),
        /// Lowest load a channel may feed, low impedance.
        minimum_load_ohm: f64 = "minimum_load" => quantity(Quantity::Impedance, 1.0..=100.0).like("4 ohm").or(4.0),
        /// Highest output voltage, RMS: at low impedance what gain counts from.
        maximum_v: f64 = "maximum_voltage" => quantity(Quantity::Voltage, 1.0..=400.0).like("100 V").required(),
        /// Highest output current, RMS.
        maximum_a: f64 = "maximum_current" => quantity(Quantity::Current, 0.1..=200.0).like("10 A").required(),
        /// Output impedance.
        output_ohm: f64 = "output_impedance" => quantity(Quantity::Impedance, 0.0..=10.0).like("0.05 ohm").or(0.05),
        /// Whether neighbouring channels can be bridged.
        bridges: bool = "bridges" => flag().or(false),
        /// Lowest corner of high-pass filter its maker asks for on constant-voltage lines; absent when none is asked for.
        high_pass_hz: Option<f64> = "high_pass" => quantity(Quantity::Frequency, 5.0..=500.0).like("60 Hz").optional(),
        /// Whether it has processing of its own (filters, delay, limiters).
        processing: bool = "processing" => flag().or(true),
        /// Its inputs; absent when nothing is known of them.
        inputs: Option<AmplifierInputs> = "inputs" => nested::<AmplifierInputs>().optional(),
        /// Noise at an output, A-weighted, RMS.
        noise_v: Option<f64> = "noise" => quantity(Quantity::SignalVoltage, 1.0e-7..=1.0).like("-80 dBu").optional(),
        /// Mains power at idle.
        idle_w: f64 = "idle" => quantity(Quantity::Power, 0.0..=500.0).required(),
        /// Share of mains power above idle that reaches the outputs.
        efficiency: f64 = "efficiency" => quantity(Quantity::Fraction, 0.1..=0.98).or(0.8),
        /// Rack units of height, 44.45 mm each.
        rack_units: u32 = "rack_units" => whole(0..=20).or(1u32),
        /// Price of one.
        price: Decimal = "price" => money().required(),
        /// Labour to mount, load and set it.
        labour_s: f64 = "labour" => quantity(Quantity::Duration, 0.0..=360_000.0).like("90 min").or(5400.0),
    }
}

record! {
    /// Inputs of an amplifier, all alike but for the optical ones.
    AmplifierInputs {
        /// How many there are, the optical ones not counted.
        count: u32 = "count" => whole(0..=64).required(),
        /// Their connector.
        connector: SignalConnector = "connector" => word::<SignalConnector>().required(),
        /// Whether they are balanced.
        balanced: bool = "balanced" => flag().or(true),
        /// Sine at one input that drives an output to its full voltage while the channel's gain stands at 0 dB, RMS.
        sensitivity_v: f64 = "sensitivity" => quantity(Quantity::SignalVoltage, 0.001..=20.0).required(),
        /// Largest sine an input takes without clipping, RMS.
        greatest_v: f64 = "greatest" => quantity(Quantity::SignalVoltage, 0.01..=100.0).like("7.75 V or +20 dBu").required(),
        /// Impedance of an input; not known when absent.
        impedance_ohm: Option<f64> = "impedance" => quantity(Quantity::Impedance, 100.0..=10_000_000.0).like("20 kohm").optional(),
        /// Lowest gain that can be set between an input and an output.
        lowest_gain_db: f64 = "lowest_gain" => quantity(Quantity::Level, -120.0..=0.0).like("-80 dB").or(-80.0),
        /// Highest gain that can be set between an input and an output.
        highest_gain_db: f64 = "highest_gain" => quantity(Quantity::Level, 0.0..=60.0).like("12 dB").or(12.0),
        /// How many optical inputs there are besides, each for both sides; they count on after the others.
        optical: u32 = "optical" => whole(0..=16).or(0u32),
    }
}

impl AmplifierInputs {
    /// How many there are, the optical ones counted on after the others.
    pub fn all(&self) -> u32 {
        self.count + self.optical
    }

    /// Whether an input, from 1, is an optical one.
    pub fn is_optical(&self, input: u32) -> bool {
        input > self.count
    }
}
