//! The HTTP interface: the list of its routes. Each file holds those of one subject with the shapes they answer in;
//! OpenAPI is written from these.

mod area_figures;
mod at_place;
mod attachments;
mod bass;
mod changes;
mod checks;
#[cfg(feature = "papers")]
mod client_page;
#[cfg(not(feature = "papers"))]
mod client_unbuilt;
mod deleted;
pub mod extract;
mod firm;
mod folders;
mod history;
mod jobs;
mod lines;
mod links;
mod me;
mod meter;
mod meter_why;
mod own_models;
mod papers;
mod people;
mod perspective;
mod processing;
mod propose;
mod queues;
mod rules;
mod share;
mod sign_in;
mod sign_in_back;
mod small_plan;
mod sound;
mod sources;
mod stubs;
mod templates;
mod visits;
mod why;

#[cfg(not(feature = "papers"))]
use client_unbuilt as client_page;

pub use area_figures::AreaFigures;
pub use jobs::open_example_first;
pub use share::with_code;

use crate::app::App;
use crate::sign_in::BACK;
use axum::Json;
use axum::extract::DefaultBodyLimit;
use axum::routing::{get, post};
use loamline_limits::BODY_BYTES;
use utoipa::OpenApi as _;
use utoipa::openapi::{Info, License, OpenApi};
use utoipa_axum::router::OpenApiRouter;

// What a finding is generic over is not found by way of the finding.
#[derive(utoipa::OpenApi)]
#[openapi(components(schemas(loamline_study::Remedy)), tags(
    (name = "Jobs", description = "Jobs, their edits and their history"),
    (name = "Sound", description = "Levels, neighbours, bass, the make-up of the level at a place"),
    (name = "Cable", description = "Lines, channels, routes, processing"),
    (name = "Papers", description = "What is printed"),
    (name = "Devices", description = "Devices and people on the network: pairing, signing in, roles"),
    (name = "Visits", description = "Readings of lines, and what a phone takes along"),
    (name = "Attachments", description = "Plans and photos kept with a job"),
    (name = "Firm", description = "What the papers of all jobs have in common, and the prices they are reckoned with"),
    (name = "Queues", description = "What is being worked at, and who waits"),
))]
struct Head;

/// All routes with their OpenAPI.
pub fn routes() -> (axum::Router<App>, OpenApi) {
    let (router, mut api) = OpenApiRouter::with_openapi(Head::openapi())
        .merge(jobs::routes())
        .merge(templates::routes())
        .merge(small_plan::routes())
        .merge(own_models::routes())
        .merge(history::routes())
        .merge(deleted::routes())
        .merge(links::routes())
        .merge(folders::routes())
        .merge(sound::routes())
        .merge(bass::routes())
        .merge(at_place::routes())
        .merge(lines::routes())
        .merge(changes::routes())
        .merge(processing::routes())
        .merge(papers::routes())
        .merge(perspective::routes())
        .merge(propose::routes())
        .merge(share::routes())
        .merge(sign_in::routes())
        .merge(me::routes())
        .merge(people::routes())
        .merge(meter::routes())
        .merge(meter_why::routes())
        .merge(stubs::routes())
        .merge(sources::routes())
        .merge(visits::routes())
        .merge(queues::routes())
        .merge(checks::routes())
        .layer(DefaultBodyLimit::max(BODY_BYTES.most()))
        .merge(folders::import_routes())
        .merge(firm::routes())
        .merge(attachments::routes())
        .split_for_parts();
    let mut info = Info::new("loamline", env!("CARGO_PKG_VERSION"));
    info.description = Some(
        "Jobs of outdoor loudspeaker systems over HTTP. Numbers are SI unless a name says otherwise. Edits are \
         JSON Patch (RFC 6902) on the document as typed; `add` may carry `before`, the key a new one goes in front of. \
         The live channel is described in docs/live-channel.md."
            .into(),
    );
    let mut license = License::new("MIT OR Apache-2.0");
    license.identifier = Some("MIT OR Apache-2.0".into());
    info.license = Some(license);
    api.info = info;
    let described = api.clone();
    let openapi = get(move || {
        let api = described.clone();
        async move { Json(api) }
    });
    let router = router
        .route("/api/openapi.json", openapi)
        .route("/api/jobs/{id}/papers/{folder}/{file}", get(papers::file_in_folder))
        .route("/api/jobs/{id}/live", get(crate::live::live))
        .route("/client/{secret}", get(client_page::client_page))
        .route("/client/{secret}/plan.svg", get(client_page::client_plan))
        .route("/client/{secret}/guide.pdf", get(client_page::client_guide))
        .route("/client/{secret}/accept", post(client_page::client_accept))
        .route("/client.css", get(client_page::client_style))
        .route("/client.js", get(client_page::client_script))
        .route(BACK, get(sign_in_back::back));
    (router, api)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::access::ROUTES;
    use std::collections::BTreeSet;

    /// Routes that stand in no description: the description itself, files of papers in a folder, the live channel, what a
    /// client is shown, and coming back from a provider. One that is missing here is in the table and not there: it answers nobody.
    const UNDESCRIBED: [(&str, &str); 10] = [
        ("GET", "/api/openapi.json"),
        ("GET", "/api/jobs/{id}/papers/{folder}/{file}"),
        ("GET", "/api/jobs/{id}/live"),
        ("GET", "/client/{secret}"),
        ("GET", "/client/{secret}/plan.svg"),
        ("GET", "/client/{secret}/guide.pdf"),
        ("POST", "/client/{secret}/accept"),
        ("GET", "/client.css"),
        ("GET", "/client.js"),
        ("GET", "/sign-in/back"),
    ];

    /// The table of who may what and the routes there are, both ways.
    #[test]
    fn every_route_stands_in_the_table_of_who_may_what() {
        let (_, api) = routes();
        let description = serde_json::to_value(&api).unwrap();
        let mut there: BTreeSet<(String, String)> =
            UNDESCRIBED.iter().map(|(method, path)| ((*method).to_owned(), (*path).to_owned())).collect();
        for (path, methods) in description["paths"].as_object().unwrap() {
            let known = ["get", "put", "post", "delete", "patch", "head", "options", "trace"];
            let has = methods.as_object().unwrap().keys().filter(|m| known.contains(&m.as_str()));
            there.extend(has.map(|method| (method.to_uppercase(), path.clone())));
        }
        let listed: BTreeSet<(String, String)> =
            ROUTES.iter().map(|(method, path, _)| ((*method).to_owned(), (*path).to_owned())).collect();
        assert_eq!(
            there.difference(&listed).collect::<Vec<_>>(),
            Vec::<&(String, String)>::new(),
            "not in the table"
        );
        assert_eq!(
            listed.difference(&there).collect::<Vec<_>>(),
            Vec::<&(String, String)>::new(),
            "no such route"
        );
        assert!(there.len() > 40);
    }
}
