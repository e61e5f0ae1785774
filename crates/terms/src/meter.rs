//! What line meters read at.

/// Frequencies a meter is asked for when none are given, hertz; 0 is direct current. Line meters read at 1 kHz, at 330 Hz
/// or sweep (common practice, no source); low and high ones tell a coil from a cable.
pub const METER_FREQUENCIES_HZ: [f64; 5] = [0.0, 100.0, 330.0, 1000.0, 10_000.0];

/// What a line meter reads at, hertz: where nothing else is said, an impedance was read at it (common practice, no source).
pub const LINE_METER_HZ: f64 = 1000.0;
