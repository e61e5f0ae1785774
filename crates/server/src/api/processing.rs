//! Processing: what is typed in, what it does, the order of work.

use super::extract::In;
use crate::app::App;
use crate::background::Work;
use crate::error::{ApiError, ErrorBody, cannot, not_yet};
use crate::jobs::Snapshot;
use crate::told::Told;
use axum::extract::State;
use indexmap::IndexMap;
use loamline_adapt::{SAMPLE_RATE_HZ, filters_of};
use loamline_processing::{Chain, OrderOfWork, SampleRate};
use loamline_terms::Phrases;
use loamline_tune::{SettingReason, Tuned, tuned};
use serde::Serialize;
use std::collections::BTreeMap;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(processing))
}

/// Processing worked out for the whole job; not carried out: send its edit.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ProcessingAnswer {
    /// Revision of the job it is for.
    revision: u64,
    /// What is worked out.
    #[serde(flatten)]
    tuned: Tuned,
    /// Frequencies of the curves, Hz: a twelfth of an octave apart from 20 Hz to 20 kHz.
    frequencies_hz: Vec<f64>,
    /// The filters of each channel as curves, by its id.
    curves: IndexMap<String, ChannelCurves>,
    /// Why each channel's settings are what they are, by its id.
    reasons: IndexMap<String, Vec<SettingReason>>,
    /// The order of work in the languages that say it otherwise, by their names: `en-us`, `es`.
    order_spoken: BTreeMap<String, Vec<OrderOfWork>>,
}

/// An order of work in every other language.
fn order_spoken(order: &[OrderOfWork]) -> BTreeMap<String, Vec<OrderOfWork>> {
    let in_language =
        |phrases: &Phrases| -> Vec<OrderOfWork> { order.iter().map(|stage| stage.spoken(phrases)).collect() };
    Phrases::others().map(|(name, phrases)| (name.to_owned(), in_language(phrases))).collect()
}

/// What a channel's filters do, without the gain.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ChannelCurves {
    /// Filters that stand in the job, dB over the frequencies.
    before_db: Vec<f64>,
    /// Filters worked out, dB over the frequencies.
    after_db: Vec<f64>,
}

fn frequencies_hz() -> Vec<f64> {
    (0..=120).map(|i| 20.0 * 1000f64.powf(f64::from(i) / 120.0)).collect()
}

/// Response of a chain's filters alone, dB; silence is -200 dB.
fn curve_db(chain: &Chain, hz: &[f64]) -> Result<Vec<f64>, ApiError> {
    let filters =
        Chain { passes: chain.passes.clone(), equaliser: chain.equaliser.clone(), ..Chain::default() };
    let rate = SampleRate::new(SAMPLE_RATE_HZ).map_err(cannot)?;
    let response = filters.response(rate, hz).map_err(cannot)?;
    Ok(response.iter().map(|g| 20.0 * g.norm().max(1e-10).log10()).collect())
}

/// Works out filters, gains, delays and limiters. Nothing is changed.
#[utoipa::path(get, path = "/api/jobs/{id}/processing", tag = "Cable",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = ProcessingAnswer), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn processing(State(app): State<App>, In(id): In<String>) -> Result<Told, ApiError> {
    app.shared(Work::Settings, "processing", id, |job| {
        let Snapshot { study, revision, .. } = job.now();
        let tuned = tuned(&study);
        let tuned = tuned.as_ref().as_ref().map_err(|why| not_yet(why.told()))?;
        let hz = frequencies_hz();
        let mut curves = IndexMap::new();
        for (id, c) in &tuned.channels {
            let before =
                study.job().channel(id).map(|v| filters_of(v.channel)).transpose().map_err(cannot)?;
            let before_db = curve_db(&before.unwrap_or_default(), &hz)?;
            curves.insert(id.clone(), ChannelCurves { before_db, after_db: curve_db(&c.plan.chain, &hz)? });
        }
        let reasons = tuned.channels.iter().map(|(id, c)| (id.clone(), c.reasons())).collect();
        let tuned = tuned.clone();
        let order_spoken = order_spoken(&tuned.order);
        Ok(ProcessingAnswer { revision, tuned, frequencies_hz: hz, curves, reasons, order_spoken })
    })
    .await
}
