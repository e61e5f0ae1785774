//! The published OpenAPI is the one the code answers by.

#[test]
fn the_published_description_is_up_to_date() {
    let file = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schema/openapi.json");
    let now = loamline_server::openapi().unwrap() + "\n";
    if std::env::var_os("UPDATE_SCHEMA").is_some() {
        std::fs::write(&file, &now).unwrap();
    }
    let published = std::fs::read_to_string(&file).unwrap_or_default();
    assert!(
        published == now,
        "docs/schema/openapi.json is out of date; run: UPDATE_SCHEMA=1 cargo test --release -p loamline-server --test openapi"
    );
}
