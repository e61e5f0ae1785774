//! What a job needs: equipment, cable by spool, connectors, ground work, labour by task.

mod bill;
mod ground;
mod holes;
mod joints;

pub use bill::{BillItem, Group, Needs, Unit, bill, spools_to_order};
pub use ground::{GroundNeed, crossings, ground_needs, opens_ground, wall_holes};
pub use holes::{GRAVEL_M, HoleNeed, OVERDIG_M, hole_needs};
pub use joints::{JointConductor, JointNeed, Wire, joint_needs};
