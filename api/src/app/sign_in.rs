//! Signing in, staying signed in, signing out.
//!
//! Nothing tells an unknown badge from a disabled person or a wrong secret: neither the words, nor the time, nor the
//! waiting after too many attempts.

use crate::{
    conditional::answer_fresh,
    principal::{Guarded, Read},
    problem::{Problem, ProblemCode},
    service::Service,
    tokens::{RefreshToken, RefreshVerdict, judge_refresh},
    transport::auth::{Credentials, SessionView, SignedInPerson},
};
use actix_web::{HttpResponse, http::header};
use dovetally_core::{
    ids::{PersonId, SessionId},
    registry::person::{Person, check_badge},
};
use dovetally_db::{
    Connection, Tx, WriteMode, people,
    sessions::{self, Session, SignedIn},
};
use std::net::IpAddr;

/// Signs a person in from an address.
///
/// # Errors
/// 401 when badge and secret do not belong together, 429 after too many attempts.
pub async fn sign_in(
    service: &Service,
    address: Option<IpAddr>,
    credentials: Credentials,
) -> Result<HttpResponse, Problem> {
    let (session, refresh, person) = begin(service, address, credentials).await?;
    let person = SignedInPerson { badge: person.badge, name: person.fields.name, roles: person.fields.roles };
    let view = view(service, &session, &refresh, person)?;
    Ok(HttpResponse::Created().insert_header((header::CACHE_CONTROL, "no-store")).json(view))
}

/// Begins a session of a person who gave badge and secret from an address.
///
/// # Errors
/// 401 when badge and secret do not belong together, 429 after too many attempts.
pub(crate) async fn begin(
    service: &Service,
    address: Option<IpAddr>,
    credentials: Credentials,
) -> Result<(Session, RefreshToken, Person), Problem> {
    let Credentials { badge, secret } = credentials;
    // Nobody can have such a badge, which is no secret; the throttle need not remember a text of any length.
    if !check_badge(&badge).is_empty() {
        return Err(Problem::sign_in_refused().because("no badge reads like this"));
    }
    let admitted = service.throttle().admit(&badge, address, service.database().now());
    let allowance = admitted.map_err(Problem::too_many_requests)?;
    let wanted = badge.clone();
    let found = service.database().read(move |connection| may_sign_in(connection, &wanted)).await?;
    let hash = found.as_ref().map(|(_, hash)| hash.clone());
    let matches = service.passwords().verify(secret, hash).await?;
    let (person, hash) = match found {
        Some(found) if matches => found,
        Some(_) => return Err(Problem::sign_in_refused().with_allowance(allowance).because("the secret is wrong")),
        None => {
            let cause = "the badge is unknown or the person disabled";
            return Err(Problem::sign_in_refused().with_allowance(allowance).because(cause));
        }
    };
    let refresh = RefreshToken::fresh().map_err(Problem::internal)?;
    let (digest, lifetime) = (refresh.digest(), service.session_lifetime());
    let (session, person) = service
        .database()
        .write(WriteMode::Keep, move |tx| {
            let person = still_may(tx.connection(), person, &hash)?;
            let now = tx.now();
            let session = Session {
                id: tx.new_id(),
                person: person.id,
                refresh_hash: digest.clone(),
                previous_refresh_hash: None,
                rotated_at: now,
                created_at: now,
                expires_at: now + lifetime,
                ended_at: None,
            };
            sessions::insert(tx.connection(), &session)?;
            Ok::<_, Problem>((session, person))
        })
        .await?;
    service.throttle().succeeded(&badge, address);
    Ok((session, refresh, person))
}

/// The id and the secret's hash of a person who may sign in.
fn may_sign_in(connection: &mut Connection, badge: &str) -> Result<Option<(PersonId, String)>, Problem> {
    let person = people::find_by_badge(connection, badge)?.filter(|person| !person.fields.disabled);
    Ok(match person {
        Some(person) => Some((person.id, people::secret_hash(connection, person.id)?)),
        None => None,
    })
}

/// Verifying takes a while: meanwhile the person may have been disabled or their secret replaced, which ended the
/// sessions they had then, but not this one.
fn still_may(connection: &mut Connection, person: PersonId, hash: &str) -> Result<Person, Problem> {
    people::lock(connection, person)?;
    match people::find(connection, person)? {
        Some(person) if !person.fields.disabled && people::secret_hash(connection, person.id)? == hash => Ok(person),
        _ => Err(Problem::sign_in_refused().because("the person was disabled or their secret replaced meanwhile")),
    }
}

/// Changes a refresh token for the next pair of tokens. The same token again within a few seconds gets the same answer,
/// since the first one may be lost; later it ends the session, since two hold it.
///
/// # Errors
/// 401 for a token that is not, or no longer, valid.
pub async fn refresh(service: &Service, presented: &str) -> Result<HttpResponse, Problem> {
    let token = RefreshToken::parse(presented).ok_or_else(|| refresh_refused("it does not read like one"))?;
    let next = token.next(service.keys().refresh_key()).map_err(Problem::internal)?;
    let digest = next.digest();
    let judged = service.database().write(WriteMode::Keep, move |tx| rotate(tx, &token, &digest)).await?;
    let (session, person) = judged.map_err(refresh_refused)?;
    let mut roles = person.roles;
    roles.sort_unstable();
    let person = SignedInPerson { badge: person.badge, name: person.name, roles };
    Ok(answer_fresh(&view(service, &session, &next, person)?))
}

/// Puts the next token in the place of this one. A refusal is an outcome and not an error: an error would roll back the
/// end of the session that it goes with.
fn rotate(
    tx: &mut Tx<'_>,
    token: &RefreshToken,
    next_digest: &str,
) -> Result<Result<(Session, SignedIn), &'static str>, Problem> {
    let now = tx.now();
    let Some(session) = sessions::lock_by_refresh_hash(tx.connection(), &token.digest())? else {
        let Some(session) = sessions::of_spent(tx.connection(), &token.digest())? else {
            return Ok(Err("it belongs to no session"));
        };
        sessions::end(tx.connection(), session, now)?;
        return Ok(Err("it was used long before: its session is ended"));
    };
    let Some(person) = sessions::signed_in(tx.connection(), session.id, now)? else {
        return Ok(Err("its session has ended or the person is disabled"));
    };
    let before = session.previous_refresh_hash.as_deref().map(|hash| (hash, session.rotated_at));
    match judge_refresh(token, &session.refresh_hash, before, now) {
        RefreshVerdict::Rotate => {
            if let Some(spent) = &session.previous_refresh_hash {
                sessions::spend(tx.connection(), session.id, spent)?;
            }
            let session = Session {
                previous_refresh_hash: Some(session.refresh_hash),
                refresh_hash: next_digest.to_owned(),
                rotated_at: now,
                ..session
            };
            sessions::update(tx.connection(), &session)?;
            Ok(Ok((session, person)))
        }
        RefreshVerdict::Repeat => Ok(Ok((session, person))),
        RefreshVerdict::EndSession => {
            sessions::end(tx.connection(), session.id, now)?;
            Ok(Err("it was used before: its session is ended"))
        }
        RefreshVerdict::Foreign => Ok(Err("it belongs to no session")),
    }
}

fn refresh_refused(cause: &'static str) -> Problem {
    Problem::new(ProblemCode::Unauthenticated, "the refresh token is not, or no longer, valid").because(cause)
}

/// Ends the session that the request came with.
///
/// # Errors
/// A database error.
pub async fn sign_out(guarded: &Guarded<Read>) -> Result<HttpResponse, Problem> {
    end(guarded).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Ends the session that the request came with.
///
/// # Errors
/// A database error.
pub(crate) async fn end(guarded: &Guarded<Read>) -> Result<(), Problem> {
    end_session(guarded.service(), guarded.who.session).await
}

/// Ends a session.
///
/// # Errors
/// A database error.
pub(crate) async fn end_session(service: &Service, session: SessionId) -> Result<(), Problem> {
    service
        .database()
        .write(WriteMode::Keep, move |tx| {
            let now = tx.now();
            sessions::end(tx.connection(), session, now)?;
            Ok::<_, Problem>(())
        })
        .await
}

/// The tokens as they are answered. The access token is dated from when the refresh token was made, so that the same
/// question gets the same answer; it never claims to outlive its session.
fn view(
    service: &Service,
    session: &Session,
    refresh: &RefreshToken,
    person: SignedInPerson,
) -> Result<SessionView, Problem> {
    let issued = service.tokens().issue(session.person, session.id, session.rotated_at).map_err(Problem::internal)?;
    let left = session.expires_at.signed_duration_since(session.rotated_at).num_seconds();
    Ok(SessionView {
        access_token: issued.token,
        token_type: "Bearer",
        expires_in: issued.expires_in.min(left),
        refresh_token: refresh.reveal(),
        person,
    })
}
