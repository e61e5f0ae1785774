//! What `loamline serve` asks, and what looks after the jobs it keeps.

use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// Arguments of `serve`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline serve\n  \
    loamline serve --data jobs --port 9000\n  \
    loamline serve --share\n  \
    loamline serve --share --address https://jobs.example --certificate chain.pem --certificate-key key.pem\n  \
    loamline serve --devices\n  \
    loamline serve --database postgres://loamline@db.example/jobs --metrics-listen 127.0.0.1:9437 --log info")]
pub struct ServeArguments {
    /// Folder to keep the jobs in; the usual place for application data when absent.
    #[arg(long, value_name = "DIR")]
    pub data: Option<PathBuf>,
    /// Port on this computer; 0 takes a free one.
    #[arg(long, value_name = "PORT", default_value_t = 8437)]
    pub port: u16,
    /// Keep the jobs in this PostgreSQL database (15 or newer), which several servers may share, in place of a file.
    /// LOAMLINE_DATABASE says the same and shows a password to nobody.
    #[arg(long, value_name = "URL")]
    pub database: Option<String>,
    /// Answer /health and /metrics on this address and port.
    #[arg(long, value_name = "ADDRESS:PORT")]
    pub metrics_listen: Option<std::net::SocketAddr>,
    /// Leave work that takes long to machines that run `loamline work`; without one, proposals wait.
    #[arg(long)]
    pub no_work: bool,
    /// What is told on standard error, a line each: error, warn, info (every answer) or debug.
    #[arg(long, value_enum, value_name = "LEVEL", default_value_t = LogLevel::Warn)]
    pub log: LogLevel,
    /// Also let phones on the same network in, by HTTPS on the next port, once they know the code shown.
    #[arg(long)]
    pub share: bool,
    /// With --share: the address people open the app by, https://NAME. Passkeys and the firm's accounts need a name; by an address that
    /// is a number a device is paired by a code.
    #[arg(long, value_name = "URL", requires = "share")]
    pub address: Option<String>,
    /// With --address: a file with the certificate for that name and those above it, PEM. Read at the start. Without one, whoever stands in
    /// front of this server ends TLS for the name.
    #[arg(long, value_name = "FILE", requires_all = ["address", "certificate_key"])]
    pub certificate: Option<PathBuf>,
    /// With --certificate: a file with its private key, PEM.
    #[arg(long, value_name = "FILE", requires = "certificate")]
    pub certificate_key: Option<PathBuf>,
    /// With --share: a file that names the firm's identity provider (OpenID Connect), as docs/firm-server.md describes it.
    #[arg(long, value_name = "FILE", requires = "share")]
    pub provider: Option<PathBuf>,
    /// List the devices that have been let in, and serve nothing.
    #[arg(long, conflicts_with = "share")]
    pub devices: bool,
    /// Turn a device away by its id: it has to pair again. Serves nothing.
    #[arg(long, value_name = "ID", conflicts_with_all = ["share", "devices"])]
    pub forget: Option<String>,
}

/// How much is told on standard error.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LogLevel {
    /// What failed.
    Error,
    /// What went wrong and was got over, too.
    Warn,
    /// Every answer, too.
    Info,
    /// Everything.
    Debug,
}

/// Arguments of `work`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline work --database postgres://loamline@db.example/jobs\n  \
    loamline work --log info")]
pub struct WorkArguments {
    /// The PostgreSQL database the servers keep the jobs in. LOAMLINE_DATABASE says the same and shows a password to nobody.
    #[arg(long, value_name = "URL")]
    pub database: Option<String>,
    /// What is told on standard error, a line each: error, warn, info or debug.
    #[arg(long, value_enum, value_name = "LEVEL", default_value_t = LogLevel::Warn)]
    pub log: LogLevel,
}

/// Arguments of `move`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline move --from jobs/jobs.sqlite --to postgres://loamline@db.example/jobs\n  \
    loamline move --from postgres://loamline@db.example/jobs --to jobs.sqlite")]
pub struct MoveArguments {
    /// File or folder the jobs are in, or the address of a database. Nothing is taken away there.
    #[arg(long, value_name = "FILE or URL")]
    pub from: String,
    /// Where they go: the address of a database, or a file or folder.
    #[arg(long, value_name = "URL or FILE")]
    pub to: String,
}

/// Arguments of `backup`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline backup --to backup/jobs.sqlite\n  \
    loamline backup --data jobs --to jobs-monday.sqlite")]
pub struct BackupArguments {
    /// Folder the jobs are kept in; the usual place for application data when absent.
    #[arg(long, value_name = "DIR")]
    pub data: Option<PathBuf>,
    /// The file to write; there must be none of this name.
    #[arg(long, value_name = "FILE")]
    pub to: PathBuf,
    /// For whoever keeps jobs in a database: how that is copied.
    #[arg(long, value_name = "URL", conflicts_with = "data")]
    pub database: Option<String>,
}

/// Arguments of `restore`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline restore --from jobs-monday.sqlite\n  \
    loamline restore --from jobs-monday.sqlite --data jobs")]
pub struct RestoreArguments {
    /// The copy.
    #[arg(long, value_name = "FILE")]
    pub from: PathBuf,
    /// Folder the jobs are kept in; the usual place for application data when absent. No server may use it meanwhile.
    #[arg(long, value_name = "DIR")]
    pub data: Option<PathBuf>,
    /// For whoever keeps jobs in a database: how such a copy is put back.
    #[arg(long, value_name = "URL", conflicts_with = "data")]
    pub database: Option<String>,
}
