//! The firm's profile: letterhead, logo, its own wording. Neutral until a firm gives its own.

use crate::error::PapersError;
use serde::Serialize;

/// Largest logo, bytes: beyond this it is a photograph, not a logo.
const LARGEST_LOGO: usize = 2_000_000;

/// What a firm puts on its papers.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct FirmProfile {
    /// Name of the firm; empty for papers without a letterhead.
    pub name: String,
    /// Lines of the letterhead under the name: address, telephone, mail.
    pub lines: Vec<String>,
    /// First paragraph of a proposal.
    pub opening: String,
    /// Last paragraph of a proposal.
    pub closing: String,
    /// Terms at the foot of a quotation.
    pub terms: Vec<String>,
    /// Address of the firm's own server under which jobs are found; the reference of the job is added to it.
    pub server: String,
    /// Logo as SVG text; empty without one.
    #[serde(skip)]
    pub logo_svg: String,
}

impl FirmProfile {
    /// Reads a profile: TOML with `name`, `lines`, `opening`, `closing`, `terms`, `server`, all optional.
    ///
    /// # Errors
    /// [`PapersError::Firm`] when it is not TOML, has another key, or a value of the wrong kind.
    pub fn read(text: &str) -> Result<Self, PapersError> {
        let fail = |reason: String| PapersError::Firm { reason };
        let document: toml_edit::DocumentMut =
            text.parse().map_err(|e: toml_edit::TomlError| fail(e.to_string()))?;
        let mut profile = Self::default();
        for (key, item) in document.iter() {
            let texts = || -> Option<Vec<String>> {
                item.as_array()?.iter().map(|v| v.as_str().map(str::to_owned)).collect()
            };
            let one =
                || item.as_str().map(str::to_owned).ok_or_else(|| fail(format!("{key} must be a text")));
            let many = || texts().ok_or_else(|| fail(format!("{key} must be a list of texts")));
            match key {
                "name" => profile.name = one()?,
                "opening" => profile.opening = one()?,
                "closing" => profile.closing = one()?,
                "server" => profile.server = one()?,
                "lines" => profile.lines = many()?,
                "terms" => profile.terms = many()?,
                _ => {
                    let known = "name, lines, opening, closing, terms, server";
                    return Err(fail(format!("there is no key {key}; the keys are {known}")));
                }
            }
        }
        Ok(profile)
    }

    /// The same with a logo.
    ///
    /// # Errors
    /// [`PapersError::Firm`] when it is not an SVG drawing or larger than 2 MB.
    pub fn with_logo(mut self, svg: &str) -> Result<Self, PapersError> {
        let fail = |reason: String| Err(PapersError::Firm { reason });
        if svg.len() > LARGEST_LOGO {
            return fail(format!("the logo has {} bytes; at most {LARGEST_LOGO} can be used", svg.len()));
        }
        if !svg.contains("<svg") {
            return fail("the logo is not an SVG drawing".to_owned());
        }
        svg.clone_into(&mut self.logo_svg);
        Ok(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_profile_is_read_and_a_strange_key_named() {
        let profile = FirmProfile::read("name = \"Example\"\nlines = [\"1 Lane\"]\n").unwrap();
        assert_eq!((profile.name.as_str(), profile.lines.len()), ("Example", 1));
        let error = FirmProfile::read("nam = \"x\"").unwrap_err().to_string();
        assert!(error.contains("there is no key nam; the keys are name,"), "{error}");
        assert!(FirmProfile::read("lines = \"x\"").unwrap_err().to_string().contains("lines must be a list"));
        assert!(FirmProfile::default().with_logo("PNG").is_err());
    }
}
