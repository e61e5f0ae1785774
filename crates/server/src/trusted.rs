//! TLS to other machines, which trusts whom this system trusts; `SSL_CERT_FILE` names a firm's own authority.

use rustls::{ClientConfig, RootCertStore};
use std::sync::Arc;

/// Why nobody can be trusted.
#[derive(Debug, thiserror::Error)]
pub enum NoTrust {
    /// There is no list of authorities.
    #[error(
        "this system has no list of authorities to check its certificate by; install one (ca-certificates on Debian), or name a file of them in SSL_CERT_FILE"
    )]
    Nobody,
    /// TLS itself does not work.
    #[error(transparent)]
    Tls(#[from] rustls::Error),
}

/// What a connection to another machine is made with.
///
/// # Errors
/// [`NoTrust`].
pub fn as_this_system_trusts() -> Result<ClientConfig, NoTrust> {
    let mut roots = RootCertStore::empty();
    let (trusted, _) = roots.add_parsable_certificates(rustls_native_certs::load_native_certs().certs);
    if trusted == 0 {
        return Err(NoTrust::Nobody);
    }
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    Ok(ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()?
        .with_root_certificates(roots)
        .with_no_client_auth())
}
