//! What is said on the live channel.

use crate::api::AreaFigures;
use crate::error::FieldProblem;
use axum::extract::ws::Message;
use indexmap::IndexMap;
use loamline_model::Edit;
use loamline_study::{Alike, Finding};
use serde::{Deserialize, Serialize};

/// From a browser.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Asked {
    /// A level map, from now on and whenever the job changes; an older wish is dropped.
    Map(MapRequest),
    /// No map any more.
    MapOff,
}

/// A level map.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MapRequest {
    /// Comes back with the answer.
    pub request: u32,
    /// What is shown.
    pub quantity: Quantity,
    /// With the quantity `band`: the third octave, by its nominal or exact frequency, Hz.
    #[serde(default)]
    pub band_hz: Option<f64>,
    /// Between neighbouring places, m. As fine as a screen shows well at the speed of a hand when absent.
    #[serde(default)]
    pub spacing_m: Option<f64>,
    /// Height of the ears above the ground, m.
    #[serde(default = "usual_ear_m")]
    pub ear_m: f64,
    /// The part of the plan: west, south, east, north, m. What is drawn and a little around it when absent.
    #[serde(default)]
    pub bounds: Option<[f64; 4]>,
    /// An edit that is not stored: a drag under way.
    #[serde(default)]
    pub preview: Edit,
    /// Whether figures are wanted with it.
    #[serde(default = "yes")]
    pub figures: bool,
}

const fn usual_ear_m() -> f64 {
    1.6
}

const fn yes() -> bool {
    true
}

/// What a map shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum Quantity {
    /// A-weighted level.
    #[serde(rename = "LAeq")]
    LAeq,
    /// C-weighted level.
    #[serde(rename = "LCeq")]
    LCeq,
    /// Level without weighting.
    #[serde(rename = "LZeq")]
    LZeq,
    /// One third octave.
    #[serde(rename = "band")]
    Band,
}

/// To a browser.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Told<'a> {
    /// The channel is open.
    Hello {
        /// Revision of the job.
        revision: u64,
        /// What the web app inside this program calls itself; absent where none is inside.
        #[serde(skip_serializing_if = "Option::is_none")]
        app: Option<&'static str>,
    },
    /// The job changed.
    Edit {
        /// Its revision.
        revision: u64,
        /// `edit`, `undo` or `redo`.
        entry: &'static str,
        /// As the sender named it.
        edit_id: &'a str,
        /// What changed.
        patch: &'a Edit,
        /// Who.
        who: &'a str,
        /// When, RFC 3339.
        at: &'a str,
        /// What for.
        note: &'a str,
    },
    /// Who is looking at the job.
    People {
        /// Their names.
        names: &'a [String],
    },
    /// A map waits for its turn.
    Waiting {
        /// Which.
        request: u32,
        /// How many maps and sets of figures of others are before it.
        before: usize,
    },
    /// A wish that cannot be fulfilled.
    Refused {
        /// Which; absent when it could not be read.
        request: Option<u32>,
        /// Why.
        problems: Vec<FieldProblem>,
    },
    /// This browser was too slow: read the job again.
    Behind,
    /// The job was taken away.
    Gone,
}

/// Figures that go with a map, but for the request they answer: those of the stored job are the same for all who look on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Figures {
    /// Revision of the job.
    pub revision: u64,
    /// Whether they are of a preview.
    pub preview: bool,
    /// Areas by id.
    pub areas: IndexMap<String, AreaFigures>,
    /// Neighbours by id.
    pub neighbours: IndexMap<String, NeighbourFigures>,
    /// What wants attention; absent for a preview.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub findings: Option<Vec<Finding>>,
    /// Those of them that say the same of different things, together; absent for a preview.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub alike: Option<Vec<Alike>>,
}

/// Least margins at a neighbour.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct NeighbourFigures {
    /// By day, dB; negative above the limit.
    pub day_margin_db: Option<f64>,
    /// By night, dB.
    pub night_margin_db: Option<f64>,
}

/// Figures as they go out with somebody's map, from their JSON; none where that is no object.
pub fn figures(request: u32, json: &[u8]) -> Option<Message> {
    let rest = std::str::from_utf8(json).ok()?.strip_prefix('{')?;
    Some(Message::text(format!(r#"{{"kind":"figures","request":{request},{rest}"#)))
}

/// A message as it goes out.
pub fn text(told: &Told<'_>) -> Message {
    // Plain data: always has a JSON form.
    Message::text(serde_json::to_string(told).unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_go_out_with_the_request_they_answer() {
        let made = Figures {
            revision: 3,
            preview: true,
            areas: IndexMap::new(),
            neighbours: IndexMap::new(),
            findings: None,
            alike: None,
        };
        let Some(Message::Text(sent)) = figures(7, &serde_json::to_vec(&made).unwrap()) else {
            panic!("figures are an object")
        };
        let heard: serde_json::Value = serde_json::from_str(sent.as_str()).unwrap();
        let wanted = serde_json::json!({ "kind": "figures", "request": 7, "revision": 3, "preview": true,
            "areas": {}, "neighbours": {} });
        assert_eq!(heard, wanted);
        assert!(figures(7, b"none").is_none());
    }
}
