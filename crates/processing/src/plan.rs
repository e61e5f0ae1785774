//! What is typed in for every channel, and the order of work that spares drivers.

#[cfg(test)]
mod bare_channel;
mod channel;
mod level_steps;
mod order;
mod work;

pub use channel::{ChannelPlan, ChannelRole, PlanProblem, SettingRow, settings_table};
pub use order::{WORK_STAGES, order_of_work};
pub use work::{LimitInWork, LineInWork, OrderOfWork, PlaysIn, WorkChannel, WorkStep};
