//! Letting phones in over the local network: HTTPS with a certificate of this computer's own, pairing by a code, devices
//! that can be turned away again.

mod certificate;
mod explain;
mod gate;
mod named;
mod pairing;

pub use certificate::{Authority, CertificateError, addresses};
pub use explain::explanation;
pub use gate::{Sharing, gate, kept};
pub use named::{Named, NoCertificate, NoName, certificate};
pub use pairing::{Pairing, cookie, new_token, no_cookie};
