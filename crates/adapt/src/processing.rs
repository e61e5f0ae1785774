//! The document as the processing engine wants it: filters of a channel, and what the channel drives.

use crate::error::FilterError;
use indexmap::IndexMap;
use loamline_acoustics::FilterTable;
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::document::{Channel, Equaliser, EqualiserKind, Filter, FilterKind};
use loamline_model::{ChannelView, Job, PlacedLoudspeaker};
use loamline_processing::{Alignment, Chain, ChannelRole, EqKind, EqSection, Pass, PassFilter, SampleRate};
use std::sync::Arc;

/// Every loudspeaker on a channel.
pub fn loudspeakers_of_channel<'j>(job: &'j Job, c: &ChannelView<'j>) -> Vec<PlacedLoudspeaker<'j>> {
    c.lines.iter().flat_map(|l| job.loudspeakers_of_line(l)).collect()
}

/// What a channel drives: subwoofers when nothing else is on it.
pub fn role(job: &Job, c: &ChannelView<'_>) -> ChannelRole {
    let all = loudspeakers_of_channel(job, c);
    let bass = |l: &PlacedLoudspeaker<'_>| l.model.kind == LoudspeakerKind::Subwoofer;
    if !all.is_empty() && all.iter().all(bass) { ChannelRole::Subwoofers } else { ChannelRole::FullRange }
}

/// Rate at which responses of digital filters are worked out: that of most processors.
pub const SAMPLE_RATE_HZ: f64 = 48_000.0;

/// The filters of a channel as the processing engine wants them; gain, delay and polarity are left out, the sound
/// field takes those itself.
///
/// # Errors
/// A setting no filter can have.
pub fn filters_of(channel: &Channel) -> Result<Chain, FilterError> {
    filters(channel.high_pass.as_ref(), channel.low_pass.as_ref(), &channel.equaliser)
}

/// Filters as the processing engine wants them, wherever they are stated.
///
/// # Errors
/// A setting no filter can have.
pub fn filters(
    high_pass: Option<&Filter>,
    low_pass: Option<&Filter>,
    equaliser: &IndexMap<String, Equaliser>,
) -> Result<Chain, FilterError> {
    let alignment = |k: FilterKind| match k {
        FilterKind::Butterworth => Alignment::Butterworth,
        FilterKind::LinkwitzRiley => Alignment::LinkwitzRiley,
        FilterKind::Bessel => Alignment::Bessel,
    };
    let mut chain = Chain::default();
    for (pass, filter) in [(Pass::HighPass, high_pass), (Pass::LowPass, low_pass)] {
        if let Some(f) = filter {
            let made =
                PassFilter::new(alignment(f.kind), pass, f.order, f.corner_hz).map_err(FilterError::Pass)?;
            chain.passes.push(made);
        }
    }
    for (id, e) in equaliser {
        let kind = match e.kind {
            EqualiserKind::Bell => EqKind::Peaking,
            EqualiserKind::LowShelf => EqKind::LowShelf,
            EqualiserKind::HighShelf => EqKind::HighShelf,
        };
        let made = EqSection::new(kind, e.frequency_hz, e.gain_db, e.q)
            .map_err(|error| FilterError::Equaliser { section: id.clone(), error })?;
        chain.equaliser.push(made);
    }
    Ok(chain)
}

pub(crate) fn filter_table(channel: &Channel) -> Result<Option<Arc<FilterTable>>, FilterError> {
    table_of(&filters_of(channel)?)
}

/// The response of a chain's filters as the sound field takes it; none for a chain without filters.
///
/// # Errors
/// A setting no filter can have.
pub fn table_of(chain: &Chain) -> Result<Option<Arc<FilterTable>>, FilterError> {
    if chain.passes.is_empty() && chain.equaliser.is_empty() {
        return Ok(None);
    }
    let rate = SampleRate::new(SAMPLE_RATE_HZ).map_err(FilterError::Pass)?;
    // A twelfth of an octave from 16 Hz to 22 kHz: phase moves well under half a turn from row to row.
    let frequencies: Vec<f64> = (0..=125).map(|i| 16.0 * 2f64.powf(f64::from(i) / 12.0)).collect();
    let filters =
        Chain { passes: chain.passes.clone(), equaliser: chain.equaliser.clone(), ..Chain::default() };
    let response = filters.response(rate, &frequencies).map_err(FilterError::Pass)?;
    FilterTable::new(&frequencies, &response).map(|t| Some(Arc::new(t))).map_err(FilterError::Response)
}
