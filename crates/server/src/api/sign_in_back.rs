//! Coming back from the firm's identity provider: a page that a browser is sent to, and no part of the interface.

use super::me::{PERSON_LETTERS, network};
use super::share::{Peer, address_of};
use super::sign_in::{WAY_COOKIE, accounts, let_in};
use crate::access::Asker;
use crate::app::App;
use crate::background::blocking;
use crate::clock::now;
use crate::error::ApiError;
use crate::jobs::Jobs;
use crate::random::letters;
use crate::share::{Pairing, cookie, kept};
use crate::sign_in::{Back, Vouched, refused};
use crate::store::{Identity, Person, Role};
use axum::Extension;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::http::header::{CACHE_CONTROL, LOCATION, SET_COOKIE};
use axum::http::{HeaderMap, HeaderValue, StatusCode};
use axum::response::{Html, IntoResponse, Response};
use loamline_limits::PERSON_CHARACTERS;
use loamline_terms::say;
use std::net::IpAddr;
use std::sync::Arc;

/// Lets whoever comes back in, or says in a page why not.
pub async fn back(
    State(app): State<App>,
    Extension(asker): Extension<Asker>,
    peer: Peer,
    headers: HeaderMap,
    asked: Result<Query<Back>, QueryRejection>,
) -> Response {
    let Query(asked) = asked.unwrap_or_default();
    let ended = ended(&app, &asker, address_of(peer), &headers, &asked).await;
    let mut answer = match &ended {
        Ok(_) => (StatusCode::SEE_OTHER, [(LOCATION, "/")]).into_response(),
        Err(why) => (why.status, Html(page(&why.problem.message))).into_response(),
    };
    let no_way = format!("{WAY_COOKIE}=; Path=/; Secure; HttpOnly; SameSite=Lax; Max-Age=0");
    let token = ended.ok().map(|secret| cookie(&secret));
    for kept in [Some(no_way), token].into_iter().flatten() {
        if let Ok(value) = HeaderValue::from_str(&kept) {
            answer.headers_mut().append(SET_COOKIE, value);
        }
    }
    answer.headers_mut().insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    answer
}

async fn ended(
    app: &App,
    asker: &Asker,
    from: IpAddr,
    headers: &HeaderMap,
    asked: &Back,
) -> Result<String, ApiError> {
    let sharing = network(app, asker)?;
    let way = kept(headers, WAY_COOKIE);
    let vouched = accounts(sharing.sign_in.accounts.as_ref())?.end(asked, way.as_deref()).await?;
    let (jobs, told) = (Arc::clone(&app.jobs), Arc::clone(&sharing));
    let (secret, is_changed) = blocking(move || {
        let (person, is_changed) = person_of(&jobs, &told.pairing, from, vouched)?;
        Ok((let_in(&jobs, &person, "account")?.1, is_changed))
    })
    .await?;
    if is_changed {
        sharing.tell_changed();
    }
    Ok(secret)
}

/// The person a provider answers for, in the role that follows from what it says, else from their invitation; whether they have
/// another role than before.
fn person_of(
    jobs: &Jobs,
    pairing: &Pairing,
    from: IpAddr,
    vouched: Vouched,
) -> Result<(Person, bool), ApiError> {
    let store = jobs.store();
    let Vouched { issuer, claims, role, gives_roles, invitation } = vouched;
    let name = named(claims.name());
    if gives_roles && role.is_none() {
        return Err(refused(say!(
            "{name} has no role here by the firm's accounts. Whoever looks after these can give them one.",
            name = &name
        )));
    }
    if let Some(mut person) = store.known_as(&issuer, &claims.sub)? {
        let Some(role) = role.filter(|role| *role != person.role) else { return Ok((person, false)) };
        store.set_role_of(&person.id, role)?;
        jobs.note("", "role", &format!("{} ({})", person.name, role.word()))?;
        person.role = role;
        return Ok((person, true));
    }
    let role = match role {
        Some(role) => role,
        None => invited(pairing, from, invitation.as_deref(), &name)?,
    };
    let person = Person { id: letters(PERSON_LETTERS)?, name, role, made_at: now() };
    let identity = Identity { issuer, subject: claims.sub, person: person.id.clone() };
    store.add_person(&person, Some(&identity))?;
    Ok((person, false))
}

fn invited(pairing: &Pairing, from: IpAddr, code: Option<&str>, name: &str) -> Result<Role, ApiError> {
    let code = code.ok_or_else(|| {
        refused(say!(
            "{name} is not known here yet. Type the code shown on the computer that runs loamline when signing in for the first time.",
            name = name
        ))
    })?;
    pairing.invited(from, code)
}

/// A name as it may stand in a list.
fn named(said: &str) -> String {
    let plain: String = said.chars().filter(|c| !c.is_control()).take(PERSON_CHARACTERS.most()).collect();
    match plain.trim() {
        "" => "Somebody".to_owned(),
        name => name.to_owned(),
    }
}

/// Why somebody is not let in.
fn page(why: &str) -> String {
    let why = why.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;");
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\" />\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\" />\n\
         <title>Not signed in</title>\n<link rel=\"stylesheet\" href=\"/client.css\" />\n</head>\n<body>\n<main>\n\
         <h1>Not signed in</h1>\n<p>{why}</p>\n<p><a href=\"/\">Back to signing in</a></p>\n\
         </main>\n</body>\n</html>\n"
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::error_code::ErrorCode;
    use crate::sign_in::Claims;
    use crate::store::SqliteStore;
    use serde_json::json;

    const ISSUER: &str = "https://login.example";
    const HERE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::LOCALHOST);

    fn jobs() -> Jobs {
        Jobs::new(Arc::new(SqliteStore::in_memory().unwrap()))
    }

    fn vouched(role: Option<Role>, gives_roles: bool, invitation: Option<&str>) -> Vouched {
        let said = json!({ "sub": "17", "iat": 1, "aud": "loamline", "name": "Ann <b>" });
        let claims: Claims = serde_json::from_value(said).unwrap();
        let invitation = invitation.map(str::to_owned);
        Vouched { issuer: ISSUER.into(), claims, role, gives_roles, invitation }
    }

    #[test]
    fn a_stranger_needs_an_invitation_once() {
        let (jobs, pairing) = (jobs(), Pairing::default());
        let come = |code: Option<&str>| person_of(&jobs, &pairing, HERE, vouched(None, false, code));
        let why = come(None).unwrap_err();
        assert!(why.status == StatusCode::FORBIDDEN && why.problem.message.contains("not known here yet"));
        assert_eq!(come(Some("nnnn-nnnn")).unwrap_err().problem.code, ErrorCode::WrongCode);
        let code = pairing.code(Role::Crew).unwrap();
        let (ann, is_changed) = come(Some(&code)).unwrap();
        assert_eq!((ann.name.as_str(), ann.role, is_changed), ("Ann <b>", Role::Crew, false));
        assert_eq!(come(None).unwrap().0, ann, "from then on without");
        // The owner gives them another role: it stays.
        assert!(jobs.store().set_role_of(&ann.id, Role::Owner).unwrap());
        assert_eq!(come(None).unwrap().0.role, Role::Owner);
        assert!(jobs.store().forget_person(&ann.id).unwrap());
        assert!(come(None).is_err(), "turned away, they need another");
    }

    #[test]
    fn the_firms_accounts_give_and_take_a_role_where_they_are_asked() {
        let (jobs, pairing) = (jobs(), Pairing::default());
        let come = |role: Option<Role>| person_of(&jobs, &pairing, HERE, vouched(role, true, None));
        let (ann, is_changed) = come(Some(Role::Designer)).unwrap();
        assert_eq!((ann.role, is_changed), (Role::Designer, false));
        let (device, _) = let_in(&jobs, &ann, "account").unwrap();
        assert_eq!((device.role, device.person.as_deref()), (Role::Designer, Some(ann.id.as_str())));
        let (ann, is_changed) = come(Some(Role::Crew)).unwrap();
        assert_eq!((ann.role, is_changed), (Role::Crew, true));
        assert_eq!(
            jobs.store().device(&device.id).unwrap().unwrap().role,
            Role::Crew,
            "and so has what they are on"
        );
        assert!(come(None).unwrap_err().problem.message.contains("no role here"));
        let told: Vec<String> =
            jobs.store().doings(u64::MAX, 9).unwrap().into_iter().map(|(_, d)| d.what).collect();
        assert_eq!(told, ["role", "signed_in"]);
    }

    #[test]
    fn a_page_never_repeats_what_was_sent_as_its_own() {
        let page = page("<script>alert(\"x\")</script> & more");
        assert!(page.contains("&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt; &amp; more"), "{page}");
        assert_eq!(named(" A\u{7}nn\n").as_str(), "Ann");
        assert_eq!(named(&"x".repeat(200)).len(), PERSON_CHARACTERS.most());
    }
}
