//! How a frequency is written.

/// A frequency with its unit as people say it: hertz below 1 kHz to so many decimals, kilohertz from there on, to the hertz, without
/// needless zeros: `70 Hz`, `177.5 Hz`, `1 kHz`, `9.95 kHz`.
#[must_use]
pub fn hertz(frequency_hz: f64, decimals: usize) -> String {
    let trimmed = |text: String| match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    };
    // What rounds to 1000 Hz is 1 kHz.
    if crate::fixed(frequency_hz, decimals).parse::<f64>().is_ok_and(|shown| shown >= 1000.0) {
        format!("{} kHz", trimmed(crate::fixed(frequency_hz / 1000.0, 3)))
    } else {
        format!("{} Hz", trimmed(crate::fixed(frequency_hz, decimals)))
    }
}

#[cfg(test)]
mod tests {
    use super::hertz;

    /// 1 kHz is 1000 Hz.
    #[test]
    fn from_a_thousand_hertz_on_it_is_kilohertz() {
        let told = [0.0, 70.0, 177.46, 999.96, 1000.0, 9950.0, 10_000.0, 12_345.0].map(|f| hertz(f, 1));
        assert_eq!(told, ["0 Hz", "70 Hz", "177.5 Hz", "1 kHz", "1 kHz", "9.95 kHz", "10 kHz", "12.345 kHz"]);
        assert_eq!(hertz(315.4, 0), "315 Hz");
    }
}
