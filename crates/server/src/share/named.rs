//! The name people open the app by, beside this computer's addresses, and the firm's own certificate for it.
//!
//! This computer's own authority may not sign for names (`certificate`): a name's certificate is the firm's, or stands at a balancer in
//! front that ends TLS itself.

use crate::sign_in::is_number;
use axum::http::Uri;
use rustls::client::verify_server_name;
use rustls::pki_types::pem::PemObject as _;
use rustls::pki_types::{CertificateDer, PrivateKeyDer, ServerName};
use rustls::server::{ClientHello, ParsedCertificate, ResolvesServerCert};
use rustls::sign::CertifiedKey;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A name people open the app by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// The name of the host.
    pub name: String,
    /// The host as browsers send it: with the port where it is not the usual one.
    pub host: String,
}

/// An address that is no name.
#[derive(Debug, thiserror::Error)]
#[error("--address {written}: {why}; write it as people open it, https://NAME or https://NAME:PORT")]
pub struct NoName {
    written: String,
    why: &'static str,
}

/// A certificate of the firm's that cannot be used.
#[derive(Debug, thiserror::Error)]
#[error("{} cannot be used as the firm's certificate: {why}", file.display())]
pub struct NoCertificate {
    file: PathBuf,
    why: String,
}

impl Named {
    /// The name of an address.
    ///
    /// # Errors
    /// [`NoName`]: what is wrong with it.
    pub fn read(written: &str) -> Result<Self, NoName> {
        let wrong = |why| NoName { written: written.to_owned(), why };
        let uri: Uri = written.parse().map_err(|_| wrong("this is no address"))?;
        if uri.scheme_str() != Some("https") {
            return Err(wrong("people sign in by HTTPS alone"));
        }
        let name = uri.host().unwrap_or_default().to_ascii_lowercase();
        let is_bare = uri.authority().is_some_and(|a| !a.as_str().contains('@'))
            && matches!(uri.path_and_query().map(|p| p.as_str()), None | Some("/"));
        if name.is_empty() || !is_bare {
            return Err(wrong("there is more or less in it than a name"));
        }
        if is_number(&name) {
            return Err(wrong("this is a number, and signing in needs a name"));
        }
        let host = match uri.port_u16() {
            None | Some(443) => name.clone(),
            Some(port) => format!("{name}:{port}"),
        };
        Ok(Self { name, host })
    }
}

/// A certificate and its key, in files as certificate authorities give them.
///
/// # Errors
/// Where they cannot be read, do not belong together, or are for another name.
pub fn certificate(name: &str, chain: &Path, key: &Path) -> Result<Arc<CertifiedKey>, NoCertificate> {
    let unusable = |file: &Path, why: String| NoCertificate { file: file.to_owned(), why };
    let certificates = CertificateDer::pem_file_iter(chain)
        .and_then(|all| all.collect::<Result<Vec<_>, _>>())
        .map_err(|e| unusable(chain, e.to_string()))?;
    let Some(first) = certificates.first() else {
        return Err(unusable(chain, "there is no certificate in it".into()));
    };
    let asked = ServerName::try_from(name.to_owned()).map_err(|e| unusable(chain, e.to_string()))?;
    ParsedCertificate::try_from(first)
        .and_then(|parsed| verify_server_name(&parsed, &asked))
        .map_err(|_| unusable(chain, format!("it is not for {name}")))?;
    let private = PrivateKeyDer::from_pem_file(key).map_err(|e| unusable(key, e.to_string()))?;
    let provider = rustls::crypto::ring::default_provider();
    let certified = CertifiedKey::from_der(certificates, private, &provider);
    certified.map(Arc::new).map_err(|e| unusable(key, e.to_string()))
}

/// The certificate for a name where it is asked for, this computer's own otherwise.
#[derive(Debug)]
pub struct ByName {
    /// This computer's own.
    pub own: Arc<CertifiedKey>,
    /// A name and the firm's certificate for it.
    pub firm: Option<(String, Arc<CertifiedKey>)>,
}

impl ResolvesServerCert for ByName {
    fn resolve(&self, hello: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        let asked = hello.server_name().unwrap_or_default();
        let firm = self.firm.as_ref().filter(|(name, _)| name.eq_ignore_ascii_case(asked));
        Some(Arc::clone(firm.map_or(&self.own, |(_, firm)| firm)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_read_as_browsers_send_it_and_a_number_is_none() {
        let host = |written: &str| Named::read(written).map(|n| n.host).map_err(|e| e.to_string());
        assert_eq!(host("https://Jobs.Example").as_deref(), Ok("jobs.example"));
        assert_eq!(host("https://jobs.example:443/").as_deref(), Ok("jobs.example"));
        assert_eq!(host("https://jobs.example:8438").as_deref(), Ok("jobs.example:8438"));
        for (wrong, why) in [
            ("http://jobs.example", "HTTPS alone"),
            ("jobs.example", "HTTPS alone"),
            ("https://192.168.1.5:8438", "a number"),
            ("https://[fd00::1]", "a number"),
            ("https://jobs.example/app", "more or less"),
            ("https://ann@jobs.example", "more or less"),
            ("", "no address"),
        ] {
            let told = host(wrong).unwrap_err();
            assert!(told.contains(why) && told.contains("https://NAME"), "{wrong}: {told}");
        }
    }

    #[test]
    fn a_certificate_of_the_firm_is_for_its_name_and_has_its_key() {
        let folder = tempfile::tempdir().unwrap();
        let file = |name: &str, text: &str| {
            let path = folder.path().join(name);
            std::fs::write(&path, text).unwrap();
            path
        };
        let made = |name: &str| rcgen::generate_simple_self_signed(vec![name.to_owned()]).unwrap();
        let (jobs, other) = (made("jobs.example"), made("other.example"));
        let (chain, key) = (file("chain", &jobs.cert.pem()), file("key", &jobs.signing_key.serialize_pem()));
        assert!(certificate("jobs.example", &chain, &key).is_ok());
        let refused =
            |chain: &Path, key: &Path| certificate("jobs.example", chain, key).unwrap_err().to_string();
        let others = file("others", &other.signing_key.serialize_pem());
        assert!(refused(&chain, &others).contains("others"));
        assert!(
            refused(&file("elsewhere", &other.cert.pem()), &others).contains("it is not for jobs.example")
        );
        assert!(refused(&file("none", "nothing"), &key).contains("there is no certificate in it"));
        assert!(refused(&folder.path().join("missing"), &key).contains("missing"));
        assert!(refused(&chain, &file("noise", "nothing")).contains("noise"));
    }
}
