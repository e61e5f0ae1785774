//! What is typed in for every channel, and the order of work that spares drivers.

mod channel;
mod order;

pub use channel::{ChannelPlan, ChannelRole, PlanProblem, SettingRow, settings_table};
pub use order::{LineInWork, OrderOfWork, WORK_STAGES, WorkChannel, WorkStep, order_of_work};
