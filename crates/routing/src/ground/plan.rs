//! The ground as a person describes it: surfaces, obstacles, what is buried, what can be used.

use loamline_geometry::{Point2, Polygon};
use serde::{Deserialize, Serialize};

/// How cable is laid on a piece of its way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// Pinned to the soil under mulch or planting.
    Staked,
    /// Pushed into a slit cut with a spade or blade.
    Slit,
    /// In a dug trench.
    Trench,
    /// In conduit laid along the way.
    Conduit,
    /// Clipped to a wall, fence or building.
    Clipped,
    /// Pulled through a sleeve or conduit that is there already.
    Sleeve,
    /// Inside a building.
    Indoors,
    /// In a trench or slit that another run of the same job opens.
    SharedTrench,
}

impl Method {
    /// Whether it opens ground that another cable can be laid in at no more than its own price.
    #[must_use]
    pub const fn opens_ground(self) -> bool {
        matches!(self, Self::Slit | Self::Trench)
    }
}

/// How a surface is crossed and what that costs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Lay {
    /// Laying method.
    pub method: Method,
    /// Price of laying and making good, per metre, without the cable; 0 or more.
    pub price_per_m: f64,
    /// Depth of the cable below the surface, metres, 0 or more.
    pub depth_m: f64,
    /// Whether a branch joint may be made in this ground.
    pub joints: bool,
    /// Whether a box here can be reached again without harm. A branch needs both flags.
    pub accessible: bool,
}

/// A piece of ground. Where surfaces overlap, the one later in the list wins.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Surface {
    /// Name, unique among surfaces.
    pub id: String,
    /// Outline in plan.
    pub outline: Polygon,
    /// How it is crossed.
    pub lay: Lay,
}

/// Ground where nothing may be dug or laid: root zones, pools, other people's land. Its edge may be followed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NoGo {
    /// Name, unique among no-go areas.
    pub id: String,
    /// Outline in plan.
    pub outline: Polygon,
}

/// Clipping cable along a face.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Clip {
    /// Price per metre, without the cable, 0 or more.
    pub price_per_m: f64,
    /// Height above ground at which it runs, metres, 0 or more; the cable climbs it at each end.
    pub height_m: f64,
    /// Price of each change between ground and face (a guard over the riser), 0 or more.
    pub transition_price: f64,
}

/// The outer wall of a building with something inside that cable comes from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct OuterWall {
    /// Thickness within the outline, metres, above 0.
    pub thickness_m: f64,
    /// Price of a new hole through it; `None` where none may be made and cable leaves by passages alone.
    pub hole_price: Option<f64>,
}

/// An opening through the outer wall of a building that cable may be drawn through.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Passage {
    /// Name, unique among passages.
    pub id: String,
    /// Where it is; the nearest place of a building's outline counts.
    pub at: Point2,
}

/// A building: cable goes round it, except that a rack or loudspeaker inside is reached indoors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Building {
    /// Name, unique among buildings.
    pub id: String,
    /// Outline in plan.
    pub outline: Polygon,
    /// Price per metre of cable run indoors, without the cable, 0 or more.
    pub indoor_price_per_m: f64,
    /// Its outer wall; absent where cable from inside may leave anywhere at no price.
    #[serde(default)]
    pub outer_wall: Option<OuterWall>,
    /// Clipping along its outside, where allowed.
    pub clip: Option<Clip>,
}

/// A wall or fence along a line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Wall {
    /// Name, unique among walls.
    pub id: String,
    /// Corners of its middle line, at least two.
    pub line: Vec<Point2>,
    /// Thickness, metres, above 0.
    pub thickness_m: f64,
    /// Price of passing through or under it square; `None` where that is not possible.
    pub crossing_price: Option<f64>,
    /// Clipping along its faces, where allowed.
    pub clip: Option<Clip>,
}

/// Something buried that cable must keep clear of: gas, water, power, drains.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Service {
    /// Name, unique among services.
    pub id: String,
    /// Corners of its line, at least two.
    pub line: Vec<Point2>,
    /// Distance to keep to each side, metres, 0 or more. Within it cable may only cross.
    pub clearance_m: f64,
    /// Price of each crossing, on top of the ground, 0 or more.
    pub crossing_price: f64,
    /// By how much digging by hand within the clearance is dearer than the ground's own price, 1 or more.
    pub hand_dig_factor: f64,
}

/// A sleeve or conduit that is there already; cable enters at one end of the line and leaves at the other.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sleeve {
    /// Name, unique among sleeves.
    pub id: String,
    /// Its line from mouth to mouth, at least two points.
    pub line: Vec<Point2>,
    /// Inside diameter, millimetres, above 0.
    pub inside_diameter_mm: f64,
    /// Outside diameters of the cables already in it, millimetres.
    #[serde(default)]
    pub occupants_mm: Vec<f64>,
    /// Price of pulling, per metre, without the cable, 0 or more.
    pub price_per_m: f64,
}

/// Everything about the ground that decides where cable can go.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GroundPlan {
    /// The site: cable stays inside or on this outline.
    pub boundary: Polygon,
    /// How ground is crossed where no surface is drawn.
    pub default_lay: Lay,
    /// Surfaces; where they overlap the later one wins.
    #[serde(default)]
    pub surfaces: Vec<Surface>,
    /// No-go areas; they win over surfaces.
    #[serde(default)]
    pub no_go: Vec<NoGo>,
    /// Buildings; they win over surfaces.
    #[serde(default)]
    pub buildings: Vec<Building>,
    /// Walls and fences.
    #[serde(default)]
    pub walls: Vec<Wall>,
    /// Buried services.
    #[serde(default)]
    pub services: Vec<Service>,
    /// Sleeves and conduits.
    #[serde(default)]
    pub sleeves: Vec<Sleeve>,
    /// Openings through outer walls, with room for the cable to be laid.
    #[serde(default)]
    pub passages: Vec<Passage>,
}
