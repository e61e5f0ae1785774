//! A run of a line as it lies, existing or to be laid.

use indexmap::IndexMap;
use loamline_geometry::Point2;
use loamline_routing::RunLength;
use loamline_terms::Laying;
use serde::Serialize;

/// A run of a line as it lies.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LaidRun {
    /// Line it belongs to.
    pub line: String,
    /// Its tag.
    pub id: String,
    /// The end nearer to the line's start.
    pub from: String,
    /// The end farther from the line's start.
    pub to: String,
    /// Whether what is behind it stands in series with the loudspeaker it leaves.
    pub in_series: bool,
    /// Catalogue id of its cable.
    pub cable: String,
    /// Its way in plan, both ends included.
    pub way: Vec<Point2>,
    /// Its length and what that is made of.
    pub length: RunLength,
    /// Whether the length was stated by a person rather than worked out.
    pub length_stated: bool,
    /// What it crosses, in order from its start.
    pub pieces: Vec<LaidPiece>,
    /// Sleeves it is drawn through.
    pub sleeves: Vec<String>,
    /// Buried services it crosses, once for each crossing; where it is drawn through a sleeve nothing is dug, and
    /// nothing counts as crossed.
    pub crosses: Vec<String>,
    /// Where it crosses them, in the same order.
    pub crossed_at: Vec<Point2>,
    /// Where it goes through the outer wall of a building, in order from its start.
    pub through: Vec<WallOpening>,
    /// What there is to know of cable that was there already, from a rack to a stub; absent on cable to lay.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(nullable = false))]
    pub existing: Option<ExistingRun>,
}

/// Where a run goes through the outer wall of a building.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WallOpening {
    /// The building.
    pub building: String,
    /// Where, in plan.
    pub at: Point2,
    /// The passage it is drawn through; absent where a new hole has to be made.
    pub passage: Option<String>,
}

/// A piece of a run over one sort of ground.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LaidPiece {
    /// Surface it lies in; absent where no surface is drawn.
    pub surface: Option<String>,
    /// How it is laid; absent where cable cannot be laid.
    pub laying: Option<Laying>,
    /// Length in plan, metres.
    pub length_m: f64,
}

impl LaidRun {
    /// Whether the cable was there already: neither bought nor laid.
    pub fn is_existing(&self) -> bool {
        self.existing.is_some()
    }

    /// Length of conductor that carries current, metres: all but the waste.
    pub fn electrical_m(&self) -> f64 {
        self.length.order_m - self.length.waste_m
    }

    /// Metres by way of laying.
    pub fn by_laying(&self) -> IndexMap<Option<Laying>, f64> {
        let mut sums = IndexMap::new();
        for p in &self.pieces {
            *sums.entry(p.laying).or_insert(0.0) += p.length_m;
        }
        sums
    }
}

/// What is particular to a run of existing cable.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ExistingRun {
    /// The stub it ends at; absent where it is a run of the line's own.
    pub stub: Option<String>,
    /// Pairs of it the line takes, from 1, in parallel where there are several.
    pub pairs: Vec<u32>,
    /// Whether its length is known.
    pub length_known: bool,
}
