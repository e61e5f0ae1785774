//! A preview of a drag against the job worked out in full.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use loamline_acoustics::{Points, Weighting, field};
use loamline_adapt::Sound;
use loamline_geometry::Point2;
use loamline_model::{Edit, JobFile, shipped_catalogue};
use loamline_study::{Previews, Study};
use serde_json::{Value, json};

const GUESTHOUSE: &str = include_str!("../../../examples/guesthouse-garden/job.toml");

fn levels(sound: &Sound) -> Vec<f64> {
    let places = (0..40).flat_map(|x| (0..27).map(move |y| Point2::new(f64::from(x), f64::from(y))));
    let up = |p: Point2| p.at_height(sound.scene.ground_elevation_m(p) + 1.6);
    field(&sound.scene, &Points::new(&sound.scene, places.map(up).collect()).unwrap()).levels_db(Weighting::A)
}

/// Largest difference over the garden between the preview of an edit and the edited job worked out in full, dB.
fn off_db(patch: Value) -> f64 {
    let text = loamline_model::SourceFile::new("job.toml", GUESTHOUSE);
    let mut file = JobFile::from_text(&text, shipped_catalogue().unwrap()).unwrap();
    let before = Study::new(file.job().clone());
    let edit: Edit = serde_json::from_value(patch).unwrap();
    let after = file.preview(&edit).unwrap();
    let shown = Previews::default().sound(&before, &after).unwrap();
    file.apply(&edit).unwrap();
    let full = Study::new(file.job().clone()).sound();
    let full = levels((*full).as_ref().unwrap());
    levels(&shown).iter().zip(&full).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

#[test]
fn a_dragged_loudspeaker_sounds_as_in_the_full_working() {
    let moved = off_db(json!([
        { "op": "replace", "path": "/loudspeakers/L8/position", "value": [17.5, 6.0] },
        { "op": "replace", "path": "/loudspeakers/L8/bearing", "value": 250 }
    ]));
    assert!(moved < 0.1, "{moved} dB");
    let untouched = off_db(json!([{ "op": "test", "path": "/format", "value": 1 }]));
    assert!(untouched < 1e-9, "{untouched} dB");
}

#[test]
fn other_changes_are_worked_out_in_full() {
    let gain = off_db(json!([{ "op": "replace", "path": "/channels/P1-1/gain", "value": "-4 dB" }]));
    assert!(gain < 1e-6, "{gain} dB");
    let wall = off_db(json!([
        { "op": "add", "path": "/walls/screen", "value": { "name": "Screen", "line": [[10, 13.5], [20, 13.5]],
            "kind": "fence", "height": "2 m" } }
    ]));
    assert!(wall < 1e-6, "{wall} dB");
}
