//! What a level at a neighbour is against its limit.

use loamline_acoustics::Judgement;
use loamline_terms::Sentence;
use serde::Serialize;

/// Less than this is not worth naming, dB.
pub(crate) const NOT_NAMED_DB: f64 = 0.1;

/// A limit held against the worst point.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Judged {
    /// The engine's judgement.
    #[serde(flatten)]
    pub judgement: Judgement,
    /// Floor of the neighbour's it is judged on, where it has several.
    pub floor: Option<String>,
    /// Tag of the loudspeaker that matters most there.
    pub loudest_loudspeaker: String,
    /// What reflections add to the level there in energy, shared out among what reflects, the most first; none below a
    /// tenth of a decibel.
    pub reflected_by: Vec<ReflectedBy>,
}

/// What the faces of one thing add to a level.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ReflectedBy {
    /// What it is, in words: "Kitchen wing", "wall south" where nobody gave it a name, "a step in the ground".
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub what: Sentence,
    /// Its share of what all reflections add, dB.
    pub adds_db: f64,
}
