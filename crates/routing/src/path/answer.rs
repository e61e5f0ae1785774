//! What a search answers: the way, point by point and stretch by stretch.

use crate::ground::Method;
use loamline_geometry::Point2;
use serde::{Deserialize, Serialize};

/// Where a run crosses a buried service or comes close to one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct NearService {
    /// The service.
    pub service: String,
    /// Where the run crosses it, with the angle between them in degrees (90 is square).
    pub crossings: Vec<(Point2, f64)>,
    /// Least distance between run and service, metres; 0 where it crosses.
    pub distance_m: f64,
    /// The clearance asked for, metres.
    pub clearance_m: f64,
    /// Metres of the run within the clearance: to be dug by hand.
    pub hand_dig_m: f64,
}

impl NearService {
    /// Whether the run does more than cross: it comes within the clearance without crossing, or lies in it for
    /// longer than a crossing at 45 degrees would.
    pub fn is_too_close(&self) -> bool {
        let allowed = self.crossings.len() as f64 * 2.0 * self.clearance_m * std::f64::consts::SQRT_2;
        self.clearance_m > 0.0 && self.hand_dig_m > allowed + 1e-3
    }
}

/// A way for one cable between two places.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Path {
    /// Points from start to end; each says how it is reached.
    pub waypoints: Vec<Waypoint>,
    /// Length in plan, metres.
    pub length_m: f64,
    /// Up and down between ends at the surface, metres: into the ground, between depths, on to walls.
    pub vertical_m: f64,
    /// What it goes over, in order.
    pub stretches: Vec<Stretch>,
    /// Buried services crossed or approached within their clearance.
    pub services: Vec<NearService>,
    /// Sleeves it goes through.
    pub sleeves: Vec<String>,
    /// Price of laying, crossings included, without the cable.
    pub laying_price: f64,
    /// Bends between start and end.
    pub bends: usize,
}

impl Path {
    /// Laying and cable together, for cable of this price per metre.
    pub fn cost(&self, cable_per_m: f64) -> f64 {
        self.laying_price + self.length_m * cable_per_m
    }
}

/// A point of a run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Waypoint {
    /// Where, in plan.
    pub at: Point2,
    /// How the run comes here from the point before; for the first point, how it leaves.
    pub method: Method,
    /// Name of the wall, building or sleeve it comes along or through; nothing over ground.
    pub along: Option<String>,
}

/// A piece of a run over one thing by one method.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Stretch {
    /// Surface, wall, building or sleeve; `None` for ground where no surface is drawn.
    pub over: Option<String>,
    /// How the cable is laid there.
    pub method: Method,
    /// Length in plan, metres.
    pub length_m: f64,
    /// Metres of it dug by hand because of a buried service.
    pub hand_dig_m: f64,
    /// Price of laying without the cable.
    pub laying_price: f64,
}
