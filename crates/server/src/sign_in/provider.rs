//! The firm's own identity provider, as a file names it: where it is, who this server is to it, and which role follows from what it
//! says of somebody.

use crate::store::Role;
use axum::http::Uri;
use serde::Deserialize;
use serde_json::{Map, Value};
use std::path::{Path, PathBuf};

/// What is asked about people where the file says nothing: who they are for good, and their name.
const SCOPES: [&str; 2] = ["openid", "profile"];

/// Why a file names no provider.
#[derive(Debug, thiserror::Error)]
pub enum ProviderError {
    /// It cannot be read.
    #[error("{} cannot be read: {source}", file.display())]
    Read {
        /// The file.
        file: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// It says something else than is asked.
    #[error("{}:{line} {why}", file.display())]
    Written {
        /// The file.
        file: PathBuf,
        /// The line, from 1.
        line: usize,
        /// What is wrong and what is expected.
        why: String,
    },
}

/// Which values of a claim give which role.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
struct Roles {
    owner: Vec<String>,
    designer: Vec<String>,
    crew: Vec<String>,
}

/// The firm's identity provider.
#[derive(Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Provider {
    /// Its address, as it calls itself in what it signs.
    pub issuer: String,
    /// Who this server is to it.
    pub client_id: String,
    /// What this server proves that with; none where the provider takes it as a public client.
    #[serde(default)]
    pub client_secret: Option<String>,
    /// What its accounts are called on the button.
    #[serde(default = "usual_name")]
    pub name: String,
    /// What is asked about people.
    #[serde(default = "usual_scopes")]
    pub scopes: Vec<String>,
    /// The claim a role follows from; none where roles come from invitations.
    #[serde(default)]
    role_claim: Option<String>,
    #[serde(default)]
    roles: Roles,
}

fn usual_name() -> String {
    "the firm's account".to_owned()
}

fn usual_scopes() -> Vec<String> {
    SCOPES.map(str::to_owned).to_vec()
}

impl Provider {
    /// Reads a file that names one.
    ///
    /// # Errors
    /// [`ProviderError`]; what the file keeps secret is in none.
    pub fn read(file: &Path) -> Result<Self, ProviderError> {
        let written = std::fs::read_to_string(file)
            .map_err(|source| ProviderError::Read { file: file.to_owned(), source })?;
        Self::of(&written).map_err(|(line, why)| ProviderError::Written { file: file.to_owned(), line, why })
    }

    /// The same of a text; line and reason where it names none.
    fn of(written: &str) -> Result<Self, (usize, String)> {
        let provider: Self = toml::from_str(written).map_err(|e| {
            let before = e.span().map_or(0, |s| s.start.min(written.len()));
            let lines = written.as_bytes().iter().take(before).filter(|b| **b == b'\n').count();
            (lines + 1, e.message().to_owned())
        })?;
        let line = |key: &str| written.lines().position(|l| l.trim_start().starts_with(key)).unwrap_or(0) + 1;
        if !is_secure(&provider.issuer) {
            let why =
                "issuer: the address of the provider begins with https://, and ends where its name does";
            return Err((line("issuer"), why.to_owned()));
        }
        if provider.client_id.is_empty() {
            return Err((line("client_id"), "client_id: the provider gives this server an id".to_owned()));
        }
        if !provider.scopes.iter().any(|s| s == "openid") {
            return Err((line("scopes"), "scopes: \"openid\" is one of them".to_owned()));
        }
        let some = [&provider.roles.owner, &provider.roles.designer, &provider.roles.crew];
        if provider.role_claim.is_some() == some.iter().all(|values| values.is_empty()) {
            let why = "role_claim and [roles] belong together: the claim, and which of its values give owner, designer or crew";
            return Err((line("role_claim"), why.to_owned()));
        }
        Ok(provider)
    }

    /// Whether roles follow from what it says.
    pub fn gives_roles(&self) -> bool {
        self.role_claim.is_some()
    }

    /// The role that follows from what it says of somebody, the highest where several do.
    pub fn role(&self, claims: &Map<String, Value>) -> Option<Role> {
        let said: Vec<&str> = match claims.get(self.role_claim.as_deref()?)? {
            Value::String(one) => vec![one],
            Value::Array(several) => several.iter().filter_map(Value::as_str).collect(),
            _ => return None,
        };
        let Roles { owner, designer, crew } = &self.roles;
        let given = [(Role::Owner, owner), (Role::Designer, designer), (Role::Crew, crew)];
        let is_said = |values: &[String]| values.iter().any(|v| said.contains(&v.as_str()));
        given.into_iter().find(|(_, values)| is_said(values)).map(|(role, _)| role)
    }
}

/// Whether an address is reached by HTTPS, or is on this computer itself, where nobody listens in.
pub fn is_secure(address: &str) -> bool {
    let Ok(uri) = address.parse::<Uri>() else { return false };
    let here = matches!(uri.host(), Some("127.0.0.1" | "[::1]" | "localhost"));
    match uri.scheme_str() {
        Some("https") => uri.host().is_some_and(|h| !h.is_empty()),
        Some("http") => here,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    const FILE: &str =
        "issuer = \"https://login.example\"\nclient_id = \"loamline\"\nclient_secret = \"hush\"\n";

    fn role(provider: &Provider, said: Value) -> Option<Role> {
        provider.role(said.as_object().unwrap())
    }

    #[test]
    fn the_role_follows_from_the_claim_the_highest_first() {
        let mapped = format!(
            "{FILE}role_claim = \"groups\"\n[roles]\nowner = [\"chiefs\"]\ncrew = [\"field\", \"shed\"]\n"
        );
        let provider = Provider::of(&mapped).unwrap();
        assert!(provider.gives_roles());
        assert_eq!(role(&provider, json!({ "groups": ["shed", "chiefs"] })), Some(Role::Owner));
        assert_eq!(role(&provider, json!({ "groups": "field" })), Some(Role::Crew));
        for none in
            [json!({}), json!({ "groups": [] }), json!({ "groups": ["Chiefs", 5] }), json!({ "groups": 1 })]
        {
            assert_eq!(role(&provider, none.clone()), None, "{none}");
        }
        let plain = Provider::of(FILE).unwrap();
        assert!(!plain.gives_roles() && plain.scopes == ["openid", "profile"]);
        assert_eq!(role(&plain, json!({ "groups": "field" })), None);
    }

    #[test]
    fn what_is_wrong_is_told_with_its_line_and_without_the_secret() {
        for (written, line) in [
            (format!("{FILE}colour = 1\n"), 4),
            (format!("{FILE}name = 5\n"), 4),
            (FILE.replace("https", "http"), 1),
            (FILE.replace("https://login.example", "login"), 1),
            (FILE.replace("loamline", ""), 2),
            (format!("{FILE}scopes = [\"profile\"]\n"), 4),
            (format!("{FILE}role_claim = \"groups\"\n"), 4),
            (format!("{FILE}[roles]\nowner = [\"x\"]\n"), 1),
            (format!("{FILE}[roles]\nclient = [\"x\"]\n"), 5),
        ] {
            let (found, why) = Provider::of(&written).err().unwrap();
            assert_eq!(found, line, "{written}: {why}");
            assert!(!why.contains("hush"), "{why}");
        }
        let missing = Provider::read(Path::new("/nowhere/provider.toml")).err().unwrap().to_string();
        assert!(missing.contains("provider.toml cannot be read"), "{missing}");
    }

    #[test]
    fn an_address_is_secure_or_this_computer() {
        for good in [
            "https://login.example",
            "https://login.example:8443/firm",
            "http://127.0.0.1:9000",
            "http://localhost/x",
        ] {
            assert!(is_secure(good), "{good}");
        }
        for bad in
            ["http://login.example", "ftp://login.example", "login.example", "http://127.0.0.1.example", ""]
        {
            assert!(!is_secure(bad), "{bad}");
        }
    }
}
