//! Processing: what is typed in, what it does, the order of work.

use super::area_figures::AreaFigures;
use super::extract::In;
use super::findings::{FindingView, finding_views};
use super::patch::PatchOperation;
use super::sound::Limited;
use super::why::WhyView;
use crate::app::App;
use crate::error::{ApiError, ErrorBody, cannot};
use crate::jobs::Snapshot;
use axum::Json;
use axum::extract::State;
use indexmap::IndexMap;
use loamline_adapt::{SAMPLE_RATE_HZ, filters_of};
use loamline_model::Edit;
use loamline_processing::{Chain, OrderOfWork, Polarity, SampleRate};
use loamline_tune::{ChannelTuned, NeighbourTuned, tuned};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(processing))
}

/// Processing worked out for the whole job; not carried out: send the patch as an edit.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ProcessingView {
    /// Revision of the job it is for.
    revision: u64,
    /// Frequencies of the curves, Hz: a twelfth of an octave apart from 20 Hz to 20 kHz.
    frequencies_hz: Vec<f64>,
    /// Channels that drive a load, by id.
    channels: IndexMap<String, ChannelProcessing>,
    /// Areas by id.
    areas: IndexMap<String, AreaProcessing>,
    /// Neighbours with the settings worked out: every limit at its worst place.
    neighbours: Vec<NeighbourProcessing>,
    /// The order of work at the rack.
    order: Vec<StageView>,
    /// What wants attention.
    findings: Vec<FindingView>,
    /// The edit that writes the settings into the job.
    #[schema(value_type = Vec<PatchOperation>)]
    patch: Edit,
}

/// Processing of one channel.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ChannelProcessing {
    /// Filters that stand in the job, without the gain, dB over the frequencies.
    before_db: Vec<f64>,
    /// Filters worked out, without the gain, dB over the frequencies.
    after_db: Vec<f64>,
    /// Gain worked out, dB.
    gain_db: f64,
    /// Delay worked out, s.
    delay_s: f64,
    /// Whether its polarity is turned.
    inverted: bool,
    /// What is typed in, in the order it is entered.
    settings: Vec<SettingView>,
    /// Why they are what they are.
    reasons: Vec<WhyView>,
    /// RMS deviation from the wanted response before and after the equaliser, dB.
    equalised_rms_db: Option<[f64; 2]>,
}

/// A setting.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SettingView {
    /// What to set.
    setting: String,
    /// What to set it to, with units.
    value: String,
}

/// What processing does in an area.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct AreaProcessing {
    /// Its name.
    name: String,
    /// Level wanted, dBA.
    target_dba: f64,
    /// With the settings that stand.
    before: AreaFigures,
    /// With the settings worked out.
    after: AreaFigures,
    /// RMS deviation of the mean response with the settings that stand, dB.
    uneven_before_db: f64,
    /// The same with the settings worked out, dB.
    uneven_after_db: f64,
}

/// A limit of a neighbour with the settings worked out. Of day and night it is the one that is nearer.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct NeighbourProcessing {
    /// Id of the neighbour.
    neighbour: String,
    /// Its name.
    name: String,
    /// Whether it is the limit by night, the system turned down as the brief says; else that by day.
    by_night: bool,
    /// What is limited.
    quantity: Limited,
    /// Level at the worst place, dBA or dB.
    level_db: f64,
    /// Limit, dBA or dB.
    limit_db: f64,
    /// Limit less level, dB; negative above the limit.
    margin_db: f64,
}

impl From<&NeighbourTuned> for NeighbourProcessing {
    fn from(n: &NeighbourTuned) -> Self {
        Self {
            neighbour: n.neighbour.clone(),
            name: n.name.clone(),
            by_night: n.by_night,
            quantity: if n.octave_63_hz { Limited::Octave63Hz } else { Limited::TotalDba },
            level_db: n.level_db,
            limit_db: n.limit_db,
            margin_db: n.margin_db(),
        }
    }
}

/// A stage of the work at the rack.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct StageView {
    /// Its name.
    stage: String,
    /// Why it stands where it does.
    reason: String,
    /// Its steps.
    steps: Vec<StepView>,
}

/// A step of the work at the rack.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = WorkStepView)]
pub struct StepView {
    /// Channel or line it is about.
    about: Option<String>,
    /// What to do.
    action: String,
    /// What must be seen before going on.
    confirm: Option<String>,
    /// Whether a value is written down.
    write_down: bool,
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

/// A stage as it is sent.
pub fn stage(s: &OrderOfWork) -> StageView {
    StageView {
        stage: s.stage.clone(),
        reason: s.reason.clone(),
        steps: s
            .steps
            .iter()
            .map(|x| StepView {
                about: x.about.clone(),
                action: x.action.clone(),
                confirm: x.confirm.clone(),
                write_down: x.write_down,
            })
            .collect(),
    }
}

fn channel(before: &Chain, c: &ChannelTuned, hz: &[f64]) -> Result<ChannelProcessing, ApiError> {
    let setting = |s: &loamline_processing::SettingRow| SettingView {
        setting: s.setting.clone(),
        value: s.value.clone(),
    };
    Ok(ChannelProcessing {
        before_db: curve_db(before, hz)?,
        after_db: curve_db(&c.plan.chain, hz)?,
        gain_db: c.plan.chain.gain_db,
        delay_s: c.plan.chain.delay_s,
        inverted: c.plan.chain.polarity == Polarity::Inverted,
        settings: c.settings.iter().map(setting).collect(),
        reasons: c
            .reasons()
            .into_iter()
            .map(|r| WhyView { about: r.about.to_owned(), steps: r.steps, source: r.source.to_owned() })
            .collect(),
        equalised_rms_db: c.equalised_rms_db.map(|(before, after)| [before, after]),
    })
}

/// Works out filters, gains, delays and limiters. Nothing is changed.
#[utoipa::path(get, path = "/api/jobs/{id}/processing", tag = "Cable",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = ProcessingView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn processing(State(app): State<App>, In(id): In<String>) -> Result<Json<ProcessingView>, ApiError> {
    app.results(id, |job| {
        let Snapshot { study, revision, .. } = job.now();
        let tuned = tuned(&study);
        let tuned = tuned.as_ref().as_ref().map_err(cannot)?;
        let hz = frequencies_hz();
        let mut channels = IndexMap::new();
        for (id, c) in &tuned.channels {
            let before =
                study.job().channel(id).map(|v| filters_of(v.channel)).transpose().map_err(cannot)?;
            channels.insert(id.clone(), channel(&before.unwrap_or_default(), c, &hz)?);
        }
        let area = |a: &loamline_tune::AreaTuned| AreaProcessing {
            name: a.name.clone(),
            target_dba: a.target_dba,
            before: (&a.before).into(),
            after: (&a.after).into(),
            uneven_before_db: a.uneven_before_db,
            uneven_after_db: a.uneven_after_db,
        };
        Ok(Json(ProcessingView {
            revision,
            frequencies_hz: hz,
            channels,
            areas: tuned.areas.iter().map(|(id, a)| (id.clone(), area(a))).collect(),
            neighbours: tuned.neighbours.iter().map(NeighbourProcessing::from).collect(),
            order: tuned.order.iter().map(stage).collect(),
            findings: finding_views(tuned.standing.iter().chain(&tuned.findings)),
            patch: tuned.edit.clone(),
        }))
    })
    .await
}
