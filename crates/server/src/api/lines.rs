//! Lines, channels, runs, and a new route.

use super::extract::In;
use super::findings::{FindingView, finding_views};
use super::patch::PatchOperation;
use crate::app::App;
use crate::error::{ApiError, ErrorBody, cannot};
use crate::jobs::Snapshot;
use axum::Json;
use axum::extract::State;
use indexmap::IndexMap;
use loamline_adapt::{Conductors, LaidRun, run_conductors};
use loamline_electrics::{ChannelUse, LineStudy, LoadStudy, RunStudy, Service};
use loamline_model::{Choice, Edit, Job};
use loamline_routing::Method;
use loamline_study::{LinesReport, route};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(lines)).routes(routes!(route_again))
}

/// Lines and channels.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LinesView {
    /// Revision of the job they are of.
    revision: u64,
    /// Lines by id that can be worked out.
    lines: IndexMap<String, LineView>,
    /// Channels by id.
    channels: IndexMap<String, ChannelView>,
    /// Every run as it lies.
    runs: Vec<RunView>,
    /// What wants attention.
    findings: Vec<FindingView>,
}

/// A line at full drive.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LineView {
    /// Rated voltage of a constant-voltage line, V; absent on low impedance.
    rated_v: Option<f64>,
    /// Taps together, W; absent on low impedance.
    counted_w: Option<f64>,
    /// Frequencies of the impedance, Hz.
    frequencies_hz: Vec<f64>,
    /// Impedance at the rack, ohm.
    impedance_ohm: Vec<f64>,
    /// Lowest impedance in use, ohm.
    lowest_ohm: f64,
    /// Where it is lowest, Hz.
    lowest_hz: f64,
    /// Loudspeakers in the order of the line.
    loudspeakers: Vec<LoadView>,
}

/// A loudspeaker on its line, at full drive and 1 kHz.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LoadView {
    /// Which.
    loudspeaker: String,
    /// Voltage at its joint, V.
    voltage_v: f64,
    /// Power it takes, W.
    power_w: f64,
    /// Level lost on the way, dB.
    loss_db: f64,
    /// Its tap, W.
    tap_w: Option<f64>,
}

/// A channel of an amplifier.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ChannelView {
    /// Taps it feeds, W.
    counted_w: Option<f64>,
    /// Rated power, W.
    rated_power_w: f64,
    /// Share of its power that is used, 0 to 1 and above.
    used_share: f64,
    /// Share that may be used.
    allowed_share: f64,
    /// Whether it fits.
    fits: bool,
    /// Power left within what may be used, W.
    spare_w: Option<f64>,
    /// Lowest impedance it sees, ohm.
    lowest_ohm: f64,
    /// Where, Hz.
    lowest_hz: f64,
    /// Room below its greatest current, dB.
    current_headroom_db: f64,
}

/// A run as it lies.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RunView {
    /// Its line.
    line: String,
    /// Its tag.
    id: String,
    /// The end nearer to the rack.
    from: String,
    /// The end farther from the rack.
    to: String,
    /// Catalogue id of its cable.
    cable: String,
    /// Its way in plan: x, y, m.
    way: Vec<[f64; 2]>,
    /// Length to order, m.
    order_m: f64,
    /// Length along the ground, m.
    path_m: f64,
    /// Up or down at its ends and on to walls, m.
    vertical_m: f64,
    /// Service loops at both ends, m.
    loops_m: f64,
    /// Added for waste, m.
    waste_m: f64,
    /// Length of conductor that carries current, m.
    electrical_m: f64,
    /// Whether a person stated the length.
    length_stated: bool,
    /// What it crosses, in order.
    pieces: Vec<PieceView>,
    /// Sleeves it is drawn through.
    sleeves: Vec<String>,
    /// Buried services it crosses.
    crosses: Vec<String>,
    /// Current at full drive and 1 kHz, A; absent when the line cannot be worked out.
    current_a: Option<f64>,
    /// Power lost in it at full drive and 1 kHz, W.
    loss_w: Option<f64>,
    /// Resistance of both conductors, ohm.
    loop_resistance_ohm: Option<f64>,
    /// Its positive conductors, by colour or number; several where pairs are in parallel.
    positive: Vec<String>,
    /// Its negative conductors.
    negative: Vec<String>,
    /// Set where the cable was there already: neither ordered nor laid.
    existing: Option<ExistingView>,
}

/// What is particular to a run of existing cable.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ExistingView {
    /// The stub it ends at; null for a run of the line's own.
    stub: Option<String>,
    /// Pairs of it the line takes, from 1, in parallel where there are several.
    pairs: Vec<u32>,
    /// Whether its length is known; if not, its lengths are 0.
    length_known: bool,
}

/// A piece of a run over one sort of ground.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct PieceView {
    /// Surface it lies in.
    surface: Option<String>,
    /// How it is laid; absent where cable cannot be laid.
    laying: Option<&'static str>,
    /// Length in plan, m.
    length_m: f64,
}

fn line_view(l: &LineStudy) -> LineView {
    let load = |x: &LoadStudy| LoadView {
        loudspeaker: x.load.clone(),
        voltage_v: x.joint_1khz_v,
        power_w: x.power_1khz_w,
        loss_db: x.loss_1khz_db,
        tap_w: x.counted_w,
    };
    LineView {
        rated_v: match l.service {
            Service::ConstantVoltage { rated_v } => Some(rated_v),
            Service::LowImpedance => None,
        },
        counted_w: l.counted_w,
        frequencies_hz: l.frequencies_hz.clone(),
        impedance_ohm: l.impedance_ohm.clone(),
        lowest_ohm: l.minimum_in_use.impedance_ohm,
        lowest_hz: l.minimum_in_use.frequency_hz,
        loudspeakers: l.loads.iter().map(load).collect(),
    }
}

fn channel_view(c: &ChannelUse) -> ChannelView {
    ChannelView {
        counted_w: c.counted_w,
        rated_power_w: c.rated_power_w,
        used_share: c.used_fraction,
        allowed_share: c.allowed_fraction,
        fits: c.fits,
        spare_w: c.spare_w,
        lowest_ohm: c.minimum.impedance_ohm,
        lowest_hz: c.minimum.frequency_hz,
        current_headroom_db: c.current_headroom_db,
    }
}

fn run_view(job: &Job, r: &LaidRun, solved: Option<&RunStudy>) -> RunView {
    let Conductors { positive, negative } = run_conductors(job, r);
    RunView {
        line: r.line.clone(),
        id: r.id.clone(),
        from: r.from.clone(),
        to: r.to.clone(),
        cable: r.cable.clone(),
        way: r.way.iter().map(|p| [p.x, p.y]).collect(),
        order_m: r.length.order_m,
        path_m: r.length.path_m,
        vertical_m: r.length.vertical_m,
        loops_m: r.length.loops_m,
        waste_m: r.length.waste_m,
        electrical_m: r.electrical_m(),
        length_stated: r.length_stated,
        pieces: r
            .pieces
            .iter()
            .map(|p| PieceView {
                surface: p.surface.clone(),
                laying: p.laying.map(Choice::word),
                length_m: p.length_m,
            })
            .collect(),
        sleeves: r.sleeves.clone(),
        crosses: r.crosses.clone(),
        current_a: solved.map(|s| s.current_1khz_a),
        loss_w: solved.map(|s| s.loss_1khz_w),
        loop_resistance_ohm: solved.map(|s| s.loop_resistance_ohm),
        positive,
        negative,
        existing: r.existing.as_ref().map(|e| ExistingView {
            stub: e.stub.clone(),
            pairs: e.pairs.clone(),
            length_known: e.length_known,
        }),
    }
}

/// Every run as it lies.
pub fn run_views(job: &Job, runs: &[LaidRun], report: &LinesReport) -> Vec<RunView> {
    let solved = |r: &LaidRun| report.lines.get(&r.line)?.runs.iter().find(|s| s.run == r.id);
    runs.iter().map(|r| run_view(job, r, solved(r))).collect()
}

/// Lines solved, channels loaded, runs as they lie.
#[utoipa::path(get, path = "/api/jobs/{id}/lines", tag = "Cable",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = LinesView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn lines(State(app): State<App>, In(id): In<String>) -> Result<Json<LinesView>, ApiError> {
    app.results(id, |job| {
        let Snapshot { study, revision, .. } = job.now();
        let (runs, report) = (study.runs(), study.lines());
        Ok(Json(LinesView {
            revision,
            lines: report.lines.iter().map(|(id, l)| (id.clone(), line_view(l))).collect(),
            channels: report.channels.iter().map(|(id, c)| (id.clone(), channel_view(c))).collect(),
            runs: run_views(study.job(), &runs, &report),
            findings: finding_views(&report.findings),
        }))
    })
    .await
}

/// A new route, not yet carried out: send the patch as an edit.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RouteView {
    /// Revision of the job it is for.
    revision: u64,
    /// The edit that writes the runs.
    #[schema(value_type = Vec<PatchOperation>)]
    patch: Edit,
    /// What it comes to.
    summary: RouteSummary,
    /// What wants attention.
    findings: Vec<FindingView>,
}

/// What a route comes to.
#[derive(Debug, Clone, Default, Serialize, ToSchema)]
pub struct RouteSummary {
    /// Cable to order, m.
    order_m: f64,
    /// Metres by way of laying.
    by_laying_m: IndexMap<String, f64>,
    /// Metres to dig by hand near buried services.
    hand_dig_m: f64,
    /// Cable, laying and joints, in the job's currency.
    price: f64,
}

const fn method_word(m: Method) -> &'static str {
    match m {
        Method::Staked => "staked",
        Method::Slit => "slit",
        Method::Trench => "trench",
        Method::Conduit => "conduit",
        Method::Clipped => "clipped",
        Method::Sleeve => "sleeve",
        Method::Indoors => "indoors",
        Method::SharedTrench => "shared trench",
    }
}

/// Finds the way for every cable at least cost. Nothing is changed.
#[utoipa::path(post, path = "/api/jobs/{id}/route", tag = "Cable",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = RouteView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn route_again(State(app): State<App>, In(id): In<String>) -> Result<Json<RouteView>, ApiError> {
    app.results(id, |job| {
        let now = job.now();
        let routed = route(now.file.job()).map_err(cannot)?;
        let mut summary = RouteSummary::default();
        for totals in routed.groups.iter().map(|g| &g.totals) {
            summary.order_m += totals.order_m;
            summary.hand_dig_m += totals.hand_dig_m;
            summary.price += totals.price;
            for (method, m) in &totals.by_method_m {
                *summary.by_laying_m.entry(method_word(*method).to_owned()).or_insert(0.0) += m;
            }
        }
        Ok(Json(RouteView {
            revision: now.revision,
            patch: routed.edit,
            summary,
            findings: finding_views(&routed.findings),
        }))
    })
    .await
}
