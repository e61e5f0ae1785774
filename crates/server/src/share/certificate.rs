//! A certificate authority of this computer's own, made on first use, and the certificate it signs at every start for
//! the addresses the computer then has.
//!
//! A phone that has taken the authority in trusts this computer from then on, whatever its address; without that a
//! browser shows a warning and runs no service worker, so nothing works offline. The authority may only sign for
//! private addresses (RFC 1918, RFC 3927, RFC 4193, loopback) and `localhost`: taken in by a phone, it is of no use
//! against any place on the internet.

use super::named::ByName;
use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DistinguishedName, DnType, ExtendedKeyUsagePurpose,
    GeneralSubtree, IsCa, Issuer, KeyPair, KeyUsagePurpose, NameConstraints, SanType, date_time_ymd,
};
use rustls::ServerConfig;
use rustls::pki_types::{CertificateDer, PrivateKeyDer, PrivatePkcs8KeyDer, ServerName};
use rustls::sign::CertifiedKey;
use std::fs::{self, OpenOptions};
use std::io::Write as _;
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use time::{Duration, OffsetDateTime};

/// Why there is no certificate.
#[derive(Debug, thiserror::Error)]
pub enum CertificateError {
    /// It cannot be made.
    #[error("the certificate cannot be made: {0}")]
    Make(#[from] rcgen::Error),
    /// It cannot be used.
    #[error("the certificate cannot be used: {0}")]
    Use(#[from] rustls::Error),
    /// Only one of its two files is there.
    #[error("{} is there and {} is not: put it back from the last backup, or take the first away too and let every phone take in a new certificate", there.display(), missing.display())]
    Half {
        /// The file that is there.
        there: PathBuf,
        /// The file that is not.
        missing: PathBuf,
    },
    /// What is kept is no authority.
    #[error("authority.key and authority.crt in {} do not work together ({why}): put both back from the last backup, or take both away and let every phone take in a new certificate", folder.display())]
    Damaged {
        /// Where they are.
        folder: PathBuf,
        /// What is wrong.
        why: String,
    },
    /// It cannot be kept.
    #[error("{} cannot be read or written: {source}", path.display())]
    Keep {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
}

/// This computer's own authority.
pub struct Authority {
    certificate: CertificateDer<'static>,
    key: KeyPair,
}

/// First and last year the authority is good for: before this program and longer than any phone. No clock has a say in it: made
/// while this computer's was years off, phones with the right time could never take it in.
const AUTHORITY_GOOD: [i32; 2] = [2020, 2060];
/// Days a certificate lasts: telephones take no longer one than 397 days (from memory), and every start makes a new one.
const CERTIFICATE_DAYS: i64 = 390;

impl Authority {
    /// The authority kept in a folder, made when there is none. The key can only be read by whoever runs the program.
    ///
    /// # Errors
    /// When it cannot be read, made or kept.
    pub fn kept_in(folder: &Path) -> Result<Self, CertificateError> {
        let (key_file, file) = (folder.join("authority.key"), folder.join("authority.crt"));
        let keep = |path: &Path| {
            let path = path.to_owned();
            move |source| CertificateError::Keep { path, source }
        };
        match (key_file.is_file(), file.is_file()) {
            (true, true) => {
                let key = fs::read_to_string(&key_file).map_err(keep(&key_file))?;
                let certificate = fs::read(&file).map_err(keep(&file))?;
                let damaged = |why: String| CertificateError::Damaged { folder: folder.to_owned(), why };
                let key = KeyPair::from_pem(&key).map_err(|e| damaged(e.to_string()))?;
                let authority = Self { certificate: certificate.into(), key };
                authority.answers().map_err(|e| damaged(e.to_string()))?;
                return Ok(authority);
            }
            (false, false) => {}
            (has_key, _) => {
                let (there, missing) = if has_key { (key_file, file) } else { (file, key_file) };
                return Err(CertificateError::Half { there, missing });
            }
        }
        let key = KeyPair::generate()?;
        let certificate = authority_parameters().self_signed(&key)?;
        // Both are there before either has its name: half an authority is none.
        for (path, bytes) in
            [(&key_file, key.serialize_pem().as_bytes()), (&file, certificate.der().as_ref())]
        {
            let mut options = OpenOptions::new();
            options.write(true).create(true).truncate(true);
            #[cfg(unix)]
            std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
            let name = beside(path);
            let mut out = options.open(&name).map_err(keep(&name))?;
            out.write_all(bytes).and_then(|()| out.sync_all()).map_err(keep(&name))?;
        }
        for path in [&key_file, &file] {
            fs::rename(beside(path), path).map_err(keep(path))?;
        }
        Ok(Self { certificate: certificate.der().clone(), key })
    }

    /// Shakes hands with itself as a phone would that has taken the certificate in.
    fn answers(&self) -> Result<(), rustls::Error> {
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let mut roots = rustls::RootCertStore::empty();
        roots.add(self.certificate.clone())?;
        let phone = rustls::ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()?
            .with_root_certificates(roots)
            .with_no_client_auth();
        let refused = |e: CertificateError| match e {
            CertificateError::Use(e) => e,
            other => rustls::Error::General(other.to_string()),
        };
        let config = self.server(&[], None).map_err(refused)?;
        let mut here = rustls::ServerConnection::new(config)?;
        let name = ServerName::try_from("localhost").map_err(|e| rustls::Error::General(e.to_string()))?;
        let mut there = rustls::ClientConnection::new(Arc::new(phone), name)?;
        let broken = |e: std::io::Error| rustls::Error::General(e.to_string());
        // A handshake has two rounds; more of them only show that nothing moves.
        for _ in 0..4 {
            let mut wire = Vec::new();
            there.write_tls(&mut wire).map_err(broken)?;
            here.read_tls(&mut wire.as_slice()).map_err(broken)?;
            here.process_new_packets()?;
            wire.clear();
            here.write_tls(&mut wire).map_err(broken)?;
            there.read_tls(&mut wire.as_slice()).map_err(broken)?;
            there.process_new_packets()?;
        }
        if there.is_handshaking() || here.is_handshaking() {
            return Err(rustls::Error::HandshakeNotComplete);
        }
        Ok(())
    }

    /// The authority's certificate, DER, for phones to take in.
    pub fn der(&self) -> &[u8] {
        &self.certificate
    }

    /// SHA-256 of it, in pairs, as phones show it.
    pub fn fingerprint(&self) -> String {
        let hex = crate::random::sha256(&self.certificate).to_uppercase();
        let pairs: Vec<&str> = (0..hex.len()).step_by(2).filter_map(|i| hex.get(i..i + 2)).collect();
        pairs.join(":")
    }

    /// What HTTPS is served with at these addresses, and at a name with the firm's own certificate.
    ///
    /// # Errors
    /// When a certificate cannot be made.
    pub fn server(
        &self,
        addresses: &[IpAddr],
        firm: Option<(String, Arc<CertifiedKey>)>,
    ) -> Result<Arc<ServerConfig>, CertificateError> {
        let mut parameters = CertificateParams::new(vec!["localhost".to_owned()])?;
        parameters.subject_alt_names.extend(addresses.iter().map(|a| SanType::IpAddress(*a)));
        parameters.distinguished_name = name("loamline on this network");
        parameters.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        parameters.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        parameters.use_authority_key_identifier_extension = true;
        // Phones' clocks may be a day slow.
        parameters.not_before = OffsetDateTime::now_utc() - Duration::days(2);
        parameters.not_after = OffsetDateTime::now_utc() + Duration::days(CERTIFICATE_DAYS);
        let key = KeyPair::generate()?;
        let issuer = Issuer::new(authority_parameters(), &self.key);
        let certificate = parameters.signed_by(&key, &issuer)?;
        let private = PrivateKeyDer::Pkcs8(PrivatePkcs8KeyDer::from(key.serialize_der()));
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let chain = vec![certificate.der().clone(), self.certificate.clone()];
        let own = Arc::new(CertifiedKey::from_der(chain, private, &provider)?);
        let mut config = ServerConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()?
            .with_no_client_auth()
            .with_cert_resolver(Arc::new(ByName { own, firm }));
        // The live channel is opened over HTTP/1.1.
        config.alpn_protocols = vec![b"http/1.1".to_vec()];
        Ok(Arc::new(config))
    }
}

/// The name a file has until it is whole.
fn beside(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(".new");
    PathBuf::from(name)
}

fn name(common: &str) -> DistinguishedName {
    let mut name = DistinguishedName::new();
    name.push(DnType::CommonName, common);
    name
}

/// The same name at every start: what the authority signs carries it.
fn authority_parameters() -> CertificateParams {
    let mut p = CertificateParams::default();
    p.distinguished_name = name("loamline on my network");
    p.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    p.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    let private = [
        CidrSubnet::from_v4_prefix([10, 0, 0, 0], 8),
        CidrSubnet::from_v4_prefix([172, 16, 0, 0], 12),
        CidrSubnet::from_v4_prefix([192, 168, 0, 0], 16),
        CidrSubnet::from_v4_prefix([169, 254, 0, 0], 16),
        CidrSubnet::from_v4_prefix([127, 0, 0, 0], 8),
        CidrSubnet::from_v6_prefix([0xfc, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0], 7),
        CidrSubnet::from_v6_prefix([0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1], 128),
    ];
    let mut permitted: Vec<GeneralSubtree> = private.into_iter().map(GeneralSubtree::IpAddress).collect();
    permitted.push(GeneralSubtree::DnsName("localhost".into()));
    p.name_constraints =
        Some(NameConstraints { permitted_subtrees: permitted, excluded_subtrees: Vec::new() });
    [p.not_before, p.not_after] = AUTHORITY_GOOD.map(|year| date_time_ymd(year, 1, 1));
    p
}

/// Private addresses of this computer, those a phone on the same network can reach first.
pub fn addresses() -> Vec<IpAddr> {
    let mut all: Vec<IpAddr> =
        if_addrs::get_if_addrs().map(|i| i.into_iter().map(|x| x.ip()).collect()).unwrap_or_default();
    all.retain(|a| match a {
        IpAddr::V4(a) => a.is_private() || a.is_link_local() || a.is_loopback(),
        IpAddr::V6(a) => a.is_unique_local() || a.is_loopback(),
    });
    all.sort_by_key(|a| (a.is_loopback(), a.is_ipv6(), *a));
    all.dedup();
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_authority_stays_and_its_key_is_private() {
        let folder = tempfile::tempdir().unwrap();
        let first = Authority::kept_in(folder.path()).unwrap();
        let again = Authority::kept_in(folder.path()).unwrap();
        assert_eq!(first.fingerprint(), again.fingerprint());
        assert_eq!(first.fingerprint().len(), 95);
        assert!(again.server(&["192.168.1.5".parse().unwrap()], None).is_ok());
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt as _;
            let mode = fs::metadata(folder.path().join("authority.key")).unwrap().permissions().mode();
            assert_eq!(mode & 0o077, 0);
        }
    }
    #[test]
    fn what_is_no_authority_is_refused_with_a_way_out() {
        let folder = tempfile::tempdir().unwrap();
        let first = Authority::kept_in(folder.path()).unwrap();
        let (key, crt) = (folder.path().join("authority.key"), folder.path().join("authority.crt"));
        let kept = fs::read(&crt).unwrap();
        let refused = || Authority::kept_in(folder.path()).err().map(|e| e.to_string()).unwrap_or_default();
        // Noise, one that another key made, and one cut short.
        let other = tempfile::tempdir().unwrap();
        Authority::kept_in(other.path()).unwrap();
        let anothers = fs::read(other.path().join("authority.crt")).unwrap();
        for bytes in [b"garbage".to_vec(), anothers, kept[..kept.len() / 2].to_vec()] {
            fs::write(&crt, bytes).unwrap();
            assert!(refused().contains("do not work together"), "{}", refused());
        }
        fs::remove_file(&crt).unwrap();
        assert!(refused().contains("authority.crt is not"), "{}", refused());
        fs::write(&crt, &kept).unwrap();
        assert_eq!(Authority::kept_in(folder.path()).unwrap().fingerprint(), first.fingerprint());
        fs::remove_file(&key).unwrap();
        assert!(refused().contains("authority.key is not"), "{}", refused());
    }
}
