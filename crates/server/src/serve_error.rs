//! Why there is no server.

use crate::error::ApiError;
use crate::share::{CertificateError, NoCertificate, NoName};
use crate::sign_in::ProviderError;
use crate::store::StoreError;
use crate::trusted::NoTrust;
use std::path::PathBuf;

/// Why there is no server.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The folder cannot be used.
    #[error("{} cannot be used to keep jobs in: {source}", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// Another server uses the folder.
    #[error("{} is in use by another loamline; stop that one, or choose another folder with --data", path.display())]
    InUse {
        /// The folder.
        path: PathBuf,
    },
    /// The store cannot be opened.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The example, or a code to pair with, cannot be made.
    #[error("{0}")]
    Example(String),
    /// There is no certificate for the network.
    #[error(transparent)]
    Certificate(#[from] CertificateError),
    /// The app has no such address.
    #[error(transparent)]
    Name(#[from] NoName),
    /// The firm's certificate cannot be used.
    #[error(transparent)]
    FirmCertificate(#[from] NoCertificate),
    /// The firm's identity provider cannot be used.
    #[error(transparent)]
    Provider(#[from] ProviderError),
    /// Nobody can be trusted to be it.
    #[error("the firm's identity provider cannot be asked: {0}")]
    Trust(#[from] NoTrust),
    /// The port is taken.
    #[error("port {port} cannot be listened on: {source}; choose another with {option}")]
    Port {
        /// The port.
        port: u16,
        /// What another is chosen with.
        option: &'static str,
        /// Why.
        source: std::io::Error,
    },
    /// The run-time cannot be started, or listening ended.
    #[error("the server stopped: {0}")]
    Stopped(std::io::Error),
}

impl From<ApiError> for ServeError {
    fn from(e: ApiError) -> Self {
        Self::Example(e.problem.message.to_string())
    }
}
