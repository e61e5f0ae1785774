//! The high-pass that transformers and drivers need.
//!
//! A transformer's core carries a flux in proportion to voltage over frequency (Faraday's law): rated for V at
//! its low frequency f0, it takes V f / f0 below that before it saturates. Behind a high-pass of gain |H(f/fc)|
//! and at the highest voltage U of the line, the core stays below saturation at every frequency when
//! fc >= f0 (U / V) max_x |H(x)| / x, x = f / fc. The maximum is found on the filter itself, so any alignment
//! and order will do; for a Butterworth of order n >= 2 it is (n-1)^((n-1)/2n) / sqrt(n), which the test uses.
//! A driver asks for a corner no lower than the lowest frequency it is rated for: below that its cone moves
//! further for every octave without giving sound.

use super::{ProtectionError, positive};
use crate::filters::{Alignment, Pass, PassFilter};
use serde::{Deserialize, Serialize};

/// A line transformer, as far as a high-pass is concerned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TransformerNeed {
    /// What the crew calls its loudspeaker.
    pub name: String,
    /// Lowest frequency at which it takes its rated voltage, Hz.
    pub rated_low_frequency_hz: f64,
    /// Rated voltage, V RMS.
    pub rated_voltage_v: f64,
    /// Highest voltage it can see: the line's limiter threshold, or what the amplifier delivers, V RMS.
    pub highest_voltage_v: f64,
}

/// A driver, as far as a high-pass is concerned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DriverNeed {
    /// What the crew calls its loudspeaker.
    pub name: String,
    /// Lowest frequency it is rated for at full power, Hz.
    pub lowest_hz: f64,
}

/// Everything behind one amplifier channel that asks for a high-pass.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HighPassNeeds {
    /// Transformers on the line.
    pub transformers: Vec<TransformerNeed>,
    /// Drivers on the line.
    pub drivers: Vec<DriverNeed>,
    /// Corners the makers of the loudspeakers ask for, by model.
    #[serde(default)]
    pub makers: Vec<DriverNeed>,
    /// High-pass the amplifier's maker asks for on such a line, Hz.
    #[serde(default)]
    pub amplifier_hz: Option<f64>,
    /// The programme played and the lowest frequency it is to be played from.
    #[serde(default)]
    pub programme: Option<DriverNeed>,
    /// Alignment to use.
    pub alignment: Alignment,
    /// Order to use.
    pub order: u32,
}

/// Whose need decided the corner.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case", tag = "need", content = "name")]
pub enum HighPassReason {
    /// This loudspeaker's transformer would saturate with a lower corner.
    Transformer(String),
    /// This loudspeaker's driver is not rated lower.
    Driver(String),
    /// The maker of this model asks for it.
    Maker(String),
    /// The amplifier's maker asks for it.
    Amplifier,
    /// This programme is to be played from there up.
    Programme(String),
}

/// The chosen high-pass and what it was chosen from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct HighPassChoice {
    /// The filter; its corner is rounded up to a whole hertz below 100 Hz and to 5 Hz above.
    pub filter: PassFilter,
    /// The corner before rounding, Hz.
    pub needed_hz: f64,
    /// Whose need decided.
    pub reason: HighPassReason,
    /// Highest core flux behind the filter over the flux a core is rated for, over all transformers; 0 without one.
    pub core_use: f64,
}

/// The lowest high-pass corner that satisfies every need; the first of equal needs is named.
///
/// # Errors
/// No need at all, a value that is not a positive number, or a filter that cannot be set.
pub fn choose_high_pass(needs: &HighPassNeeds) -> Result<HighPassChoice, ProtectionError> {
    let steepest = steepest_flux(needs.alignment, needs.order)?;
    let mut best: Option<(f64, HighPassReason)> = None;
    let mut consider = |hz: f64, reason: HighPassReason| {
        if best.as_ref().is_none_or(|(b, _)| hz > *b) {
            best = Some((hz, reason));
        }
    };
    let mut core_hz = 0.0_f64;
    for t in &needs.transformers {
        let f0 = positive("the transformer's rated low frequency", " Hz", &t.name, t.rated_low_frequency_hz)?;
        let rated = positive("the transformer's rated voltage", " V", &t.name, t.rated_voltage_v)?;
        let highest = positive("the line's highest voltage", " V", &t.name, t.highest_voltage_v)?;
        let corner = f0 * highest / rated * steepest;
        core_hz = core_hz.max(corner);
        consider(corner, HighPassReason::Transformer(t.name.clone()));
    }
    for d in &needs.drivers {
        let lowest = positive("the lowest rated frequency", " Hz", &d.name, d.lowest_hz)?;
        consider(lowest, HighPassReason::Driver(d.name.clone()));
    }
    for m in &needs.makers {
        let corner = positive("the high-pass asked for", " Hz", &m.name, m.lowest_hz)?;
        consider(corner, HighPassReason::Maker(m.name.clone()));
    }
    if let Some(hz) = needs.amplifier_hz {
        let hz = positive("the high-pass asked for", " Hz", "the amplifier", hz)?;
        consider(hz, HighPassReason::Amplifier);
    }
    if let Some(p) = &needs.programme {
        let hz = positive("the lowest frequency of the programme", " Hz", &p.name, p.lowest_hz)?;
        consider(hz, HighPassReason::Programme(p.name.clone()));
    }
    let (needed_hz, reason) = best.ok_or(ProtectionError::NothingToProtect)?;
    let corner = settable_above(needed_hz);
    let filter = PassFilter::new(needs.alignment, Pass::HighPass, needs.order, corner)?;
    Ok(HighPassChoice { filter, needed_hz, reason, core_use: core_hz / corner })
}

/// max over x of |H(x)| / x for a high-pass with its corner at x = 1.
fn steepest_flux(alignment: Alignment, order: u32) -> Result<f64, ProtectionError> {
    // A corner of 1 kHz keeps all frequencies of the scan within the filter's range.
    let filter = PassFilter::new(alignment, Pass::HighPass, order, 1_000.0)?;
    let flux = |x: f64| filter.analogue_gain(1_000.0 * x).norm() / x;
    // 400 points per decade: the maximum is broad, so the grid's error is below one part in 10^5.
    Ok((-1_200..=800).map(|i| flux(10_f64.powf(f64::from(i) / 400.0))).fold(0.0, f64::max))
}

/// The next corner that any equipment can be set to.
fn settable_above(hz: f64) -> f64 {
    let step = if hz <= 100.0 { 1.0 } else { 5.0 };
    (hz / step - 1e-9).ceil().max(1.0) * step
}

#[cfg(test)]
mod tests {
    use super::*;

    fn needs(order: u32) -> HighPassNeeds {
        HighPassNeeds {
            transformers: vec![TransformerNeed {
                name: "L1".to_owned(),
                rated_low_frequency_hz: 60.0,
                rated_voltage_v: 70.7,
                highest_voltage_v: 70.7,
            }],
            drivers: vec![],
            makers: vec![],
            amplifier_hz: None,
            programme: None,
            alignment: Alignment::Butterworth,
            order,
        }
    }

    /// |H(x)|/x = x^(n-1)/sqrt(1+x^2n) is largest where x^2n = n-1, by setting its derivative to zero.
    #[test]
    fn transformer_corner_is_the_closed_form() {
        for order in 2..=8 {
            let n = f64::from(order);
            let closed = 60.0 * (n - 1.0).powf((n - 1.0) / (2.0 * n)) / n.sqrt();
            let choice = choose_high_pass(&needs(order)).unwrap();
            assert!(
                (choice.needed_hz / closed - 1.0).abs() < 2e-5,
                "order {order}: {} {closed}",
                choice.needed_hz
            );
            assert!(choice.core_use <= 1.0 && choice.core_use > 0.9);
        }
        assert!((choose_high_pass(&needs(1)).unwrap().needed_hz - 60.0).abs() < 1e-3);
    }

    #[test]
    fn the_core_never_carries_more_than_its_rating() {
        for alignment in [Alignment::Butterworth, Alignment::Bessel, Alignment::LinkwitzRiley] {
            let choice = choose_high_pass(&HighPassNeeds { alignment, ..needs(4) }).unwrap();
            for f in (5..200).map(f64::from) {
                let flux = choice.filter.analogue_gain(f).norm() * 60.0 / f;
                assert!(flux <= choice.core_use + 1e-4, "{alignment:?} at {f} Hz: {flux}");
            }
        }
    }

    #[test]
    fn the_greatest_need_decides() {
        let mut all = needs(4);
        all.drivers = vec![DriverNeed { name: "L2".to_owned(), lowest_hz: 71.5 }];
        let choice = choose_high_pass(&all).unwrap();
        assert_eq!(choice.reason, HighPassReason::Driver("L2".to_owned()));
        assert!((choice.filter.corner_hz() - 72.0).abs() < 1e-12);
        all.makers = vec![DriverNeed { name: "wide".to_owned(), lowest_hz: 88.0 }];
        let choice = choose_high_pass(&all).unwrap();
        assert_eq!(choice.reason, HighPassReason::Maker("wide".to_owned()));
        assert!((choice.filter.corner_hz() - 88.0).abs() < 1e-12);
        all.amplifier_hz = Some(101.0);
        let choice = choose_high_pass(&all).unwrap();
        assert_eq!(choice.reason, HighPassReason::Amplifier);
        assert!((choice.filter.corner_hz() - 105.0).abs() < 1e-12);
        let nothing = HighPassNeeds { transformers: vec![], drivers: vec![], amplifier_hz: None, ..needs(4) };
        assert_eq!(choose_high_pass(&nothing).unwrap_err(), ProtectionError::NothingToProtect);
    }
}
