//! How loudspeakers are fed.

words! {
    /// How loudspeakers are fed.
    Supply {
        /// Constant-voltage line, 25 V.
        Volts25 = "25 V",
        /// Constant-voltage line, 70.7 V.
        Volts70 = "70.7 V",
        /// Constant-voltage line, 100 V.
        Volts100 = "100 V",
        /// Loudspeakers' own impedance straight on the amplifier.
        LowImpedance = "low impedance",
    }
}

impl Supply {
    /// Rated line voltage, volts RMS; `None` for low impedance.
    pub const fn line_v(self) -> Option<f64> {
        match self {
            Self::Volts25 => Some(25.0),
            // 70.7 V is 100 V divided by the square root of two, rounded as the trade writes it.
            Self::Volts70 => Some(70.7),
            Self::Volts100 => Some(100.0),
            Self::LowImpedance => None,
        }
    }
}
