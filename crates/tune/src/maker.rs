//! Settings that makers ask for: where the settings of a channel start, and what they must not go below.
//!
//! Of every loudspeaker on a channel the highest high-pass corner, the lowest low-pass corner, the steepest orders and the
//! lowest limiter count. The sections of an equaliser are made for one model: they are taken where all loudspeakers of the
//! channel ask for the same.

use crate::report::SettingsLoaded;
use loamline_adapt::{FilterError, filters, loudspeakers_of_channel};
use loamline_model::catalogue::MakerSettings;
use loamline_model::{ChannelView, Job, PlacedLoudspeaker};
use loamline_processing::{Alignment, DriverNeed, EqSection, PEAK_OVER_RMS, ProtectedLoad};
use loamline_study::{Finding, Severity, Subject};
use loamline_terms::{Sentence, one_after_another, say};

/// What makers ask of a channel.
#[derive(Debug, Default)]
pub(crate) struct MakersAsk {
    /// The models that ask, and the dates.
    pub loaded: Vec<SettingsLoaded>,
    /// Corners of their high-passes, by model.
    pub corners: Vec<DriverNeed>,
    /// Steepest order of their high-passes; 0 where none is asked for.
    pub order: u32,
    /// Lowest corner of their low-passes, Hz.
    pub low_pass_hz: Option<f64>,
    /// Steepest order of their low-passes; 0 where none is asked for.
    pub low_pass_order: u32,
    /// Sections all of them ask for.
    pub sections: Vec<EqSection>,
}

/// What the makers of a channel's loudspeakers ask for.
///
/// # Errors
/// Settings no filter can have.
pub(crate) fn asked(
    job: &Job,
    c: &ChannelView<'_>,
    findings: &mut Vec<Finding>,
) -> Result<MakersAsk, FilterError> {
    let driven = loudspeakers_of_channel(job, c);
    let mut ask = MakersAsk::default();
    let mut different: Vec<(&str, Option<&MakerSettings>)> = Vec::new();
    for l in &driven {
        let (model, settings) = (l.placed.model.as_str(), l.model.settings.as_ref());
        if different.iter().any(|(m, _)| *m == model) {
            continue;
        }
        different.push((model, settings));
        let Some(s) = settings else { continue };
        ask.loaded.push(SettingsLoaded { model: model.to_owned(), date: s.date.clone() });
        if let Some(f) = &s.high_pass {
            ask.corners.push(DriverNeed { name: model.to_owned(), lowest_hz: f.corner_hz });
            ask.order = ask.order.max(f.order);
        }
        if let Some(f) = &s.low_pass {
            ask.low_pass_hz = ask.low_pass_hz.into_iter().chain([f.corner_hz]).reduce(f64::min);
            ask.low_pass_order = ask.low_pass_order.max(f.order);
        }
    }
    let first = different.first().and_then(|d| d.1);
    if different.iter().all(|d| d.1.map(|s| &s.equaliser) == first.map(|s| &s.equaliser))
        && let Some(s) = first
    {
        ask.sections = filters(None, None, &s.equaliser)?.equaliser;
    }
    if !ask.loaded.is_empty() && different.iter().any(|d| !same(d.1, first)) {
        let each = different.iter().map(|(model, s)| match s {
            Some(s) => Sentence::from(format!("{model} ({})", s.date)),
            None => say!("{model} (none)", model = *model),
        });
        let what = say!(
            "Channel {channel} feeds loudspeakers whose makers ask for different settings: {models}. The strictest protection of them \
             holds, and no equaliser of a maker is loaded.",
            channel = c.id,
            models = one_after_another(each)
        );
        findings.push(
            Finding::new(Severity::Warning, Subject::new("channels", c.id), what)
                .mend(say!("Give each model a line and a channel of its own.")),
        );
    }
    Ok(ask)
}

/// Whether two models ask for the same, whatever the date.
fn same(a: Option<&MakerSettings>, b: Option<&MakerSettings>) -> bool {
    let plain = |s: &MakerSettings| MakerSettings { date: String::new(), ..s.clone() };
    a.map(plain) == b.map(plain)
}

impl MakersAsk {
    /// Order of a high-pass that is at least as steep as asked: even for Linkwitz-Riley, which has no other.
    pub fn order(&self, usual: u32, alignment: Alignment) -> u32 {
        possible(usual.max(self.order), alignment)
    }

    /// The same of a low-pass.
    pub fn low_pass_order(&self, usual: u32, alignment: Alignment) -> u32 {
        possible(usual.max(self.low_pass_order), alignment)
    }
}

/// An order that filters of a family have, no lower than `order`.
fn possible(order: u32, alignment: Alignment) -> u32 {
    if alignment == Alignment::LinkwitzRiley { order.next_multiple_of(2) } else { order }
}

/// A load with no more than the limiter its maker asks for, and whether that is less than its own rating.
pub(crate) fn limited(own: ProtectedLoad, l: &PlacedLoudspeaker<'_>) -> (ProtectedLoad, bool) {
    let Some(limiter) = l.model.settings.as_ref().and_then(|s| s.limiter.as_ref()) else {
        return (own, false);
    };
    // What a volt at the terminals is at the line: both take the same power, one by the nominal impedance.
    let up = (own.impedance_ohm / l.nominal_ohm()).sqrt();
    let (rms_v, peak_v) = (limiter.rms_v * up, limiter.peak_v.unwrap_or(PEAK_OVER_RMS * limiter.rms_v) * up);
    let thermal_v = (own.rated_power_w * own.impedance_ohm).sqrt();
    let rated_v = own.transformer_voltage_v.unwrap_or(thermal_v);
    let lowered = rms_v < thermal_v.min(rated_v);
    let rated_power_w = own.rated_power_w.min(rms_v * rms_v / own.impedance_ohm);
    let rated_peak_v = own.peak_voltage_v.unwrap_or(PEAK_OVER_RMS * thermal_v);
    (ProtectedLoad { rated_power_w, peak_voltage_v: Some(peak_v.min(rated_peak_v)), ..own }, lowered)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_order_is_at_least_what_is_asked() {
        let ask = |order| MakersAsk { order, ..MakersAsk::default() };
        assert_eq!(ask(0).order(4, Alignment::Butterworth), 4);
        assert_eq!(ask(5).order(4, Alignment::Butterworth), 5);
        // Linkwitz-Riley is two equal filters in a row.
        assert_eq!(ask(5).order(4, Alignment::LinkwitzRiley), 6);
        assert_eq!(ask(7).order(4, Alignment::LinkwitzRiley), 8);
        let low = MakersAsk { low_pass_order: 5, ..MakersAsk::default() };
        assert_eq!(low.low_pass_order(4, Alignment::Butterworth), 5);
        assert_eq!(low.low_pass_order(4, Alignment::LinkwitzRiley), 6);
        assert_eq!(low.order(4, Alignment::LinkwitzRiley), 4);
    }
}
