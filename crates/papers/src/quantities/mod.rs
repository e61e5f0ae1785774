//! What a job needs: equipment, cable by spool, connectors, ground work, labour by task.

mod bill;
mod cable;
mod holes;
mod joints;

pub use bill::{BillItem, Group, Unit, bill};
pub use cable::{CableNeed, Cut, SpoolCuts, cable_needs};
pub use holes::{HoleNeed, hole_needs};
pub use joints::{JointConductor, JointNeed, joint_needs};
