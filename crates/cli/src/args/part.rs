//! Which part of a job is meant.

use clap::Args;

/// A zone, a phase, or what both have in common.
#[derive(Debug, Clone, Default, Args)]
pub struct PartArguments {
    /// Only this zone, by its id or its name. What is heard is that of all that plays.
    #[arg(long, value_name = "ZONE")]
    pub zone: Option<String>,
    /// Only this phase, by its id or its name. What is heard is that of the job as it stands then: without later phases.
    #[arg(long, value_name = "PHASE")]
    pub phase: Option<String>,
}
