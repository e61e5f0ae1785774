//! What cable as it lies asks for: ground to open, holes, joints with their connectors, and what all of it comes to.

mod cost;
mod ground;
mod joints;

pub(crate) use cost::installed_cost;
pub(crate) use ground::open_stretches;
pub use ground::{GroundNeed, crossings, ground_needs, opens_ground, wall_holes};
pub use joints::{JointConductor, JointNeed, Wire, joint_needs};
