//! What `loamline serve` asks.

use clap::Args;
use std::path::PathBuf;

/// Arguments of `serve`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline serve\n  \
    loamline serve --data jobs --port 9000\n  \
    loamline serve --share\n  \
    loamline serve --devices")]
pub struct ServeArguments {
    /// Folder to keep the jobs in; the usual place for application data when absent.
    #[arg(long, value_name = "DIR")]
    pub data: Option<PathBuf>,
    /// Port on this computer; 0 takes a free one.
    #[arg(long, value_name = "PORT", default_value_t = 8437)]
    pub port: u16,
    /// Also let phones on the same network in, by HTTPS on the next port, once they know the code shown.
    #[arg(long)]
    pub share: bool,
    /// List the devices that have been let in, and serve nothing.
    #[arg(long, conflicts_with = "share")]
    pub devices: bool,
    /// Turn a device away by its id: it has to pair again. Serves nothing.
    #[arg(long, value_name = "ID", conflicts_with_all = ["share", "devices"])]
    pub forget: Option<String>,
}
