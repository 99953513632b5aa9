//! People: who there is, their roles, their secrets.
//!
//! A secret is hashed before the transaction begins, on a blocking thread. An answer that carries a secret is never
//! stored, so a request that asks for one is done each time it comes, whatever its idempotency key.

use crate::{
    app::{
        perform::Done,
        registry::{no_faults, write_change},
    },
    conditional::{ETag, answer_read},
    extract::{IfNoneMatch, Json, MergePatch, WriteOptions},
    page::Paging,
    password::readable_secret,
    principal::{Administer, Guarded, Principal},
    problem::{Problem, ProblemCode},
    transport::person::{NewPerson, NewSecret, PersonChange, PersonView, PersonWithSecret},
};
use actix_web::{
    HttpResponse,
    http::header::{self, HeaderValue},
};
use dovetally_core::{
    field_error::{FieldError, FieldErrors},
    ids::PersonId,
    people::Role,
    registry::person::{Person, PersonFields, check_badge},
};
use dovetally_db::{Change, Connection, Constraint, Error, Tx, people, sessions};
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;
use uuid::Uuid;

/// Fields of a person that are never written by a change.
const READ_ONLY: &[&str] = &["id", "badge", "created_at", "updated_at"];

/// The fewest characters of a secret.
const SHORTEST_SECRET: usize = 8;
/// The most characters of a secret.
const LONGEST_SECRET: usize = 128;

/// A page of people by badge.
///
/// # Errors
/// 400 for a cursor of another list.
pub async fn list(guarded: &Guarded<Administer>, paging: Paging) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let after: Option<String> = paging.after()?;
            let rows = people::page(connection, after.as_deref(), paging.rows_to_fetch())?;
            let page = paging.page(rows, |person| person.badge.clone(), |person| PersonView::from(&person))?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

/// Reads a person.
///
/// # Errors
/// 404 when there is none.
pub async fn get(
    guarded: &Guarded<Administer>,
    named: String,
    condition: &IfNoneMatch,
) -> Result<HttpResponse, Problem> {
    let person = guarded.database().read(move |connection| find(connection, &named)).await?;
    answer_read(&PersonView::from(&person), condition)
}

/// Puts a person on record.
///
/// # Errors
/// 409 when the badge is somebody's; 422 for what cannot be.
pub async fn create(
    guarded: &Guarded<Administer>,
    options: WriteOptions,
    new: Json<NewPerson>,
) -> Result<HttpResponse, Problem> {
    let body = keyed(guarded, new.bytes())?;
    let NewPerson { badge, name, roles, secret } = new.into_inner();
    let mut fields = PersonFields { name, roles, disabled: false };
    let mut faults = check_new_badge(&badge);
    faults.extend(fields.check());
    faults.extend(check_secret(secret.as_deref()));
    no_faults(faults)?;
    fields.roles.sort_unstable();
    let (hash, made) = hashed(guarded, secret).await?;
    perform(guarded, options, &body, made, move |tx, who| {
        let now = tx.now();
        let person = Person {
            id: tx.new_id(),
            badge: badge.clone(),
            fields: fields.clone(),
            version: 1,
            created_at: now,
            updated_at: now,
        };
        people::insert(tx.connection(), &person, &hash).map_err(|error| badge_taken(error, &badge))?;
        record(tx, who, &person, "dovetally.person.created")?;
        Ok((person, true))
    })
    .await
}

/// Changes a person by a merge patch. Disabling ends all their sessions.
///
/// # Errors
/// 404, 409 for the only administrator, 412 when the record has changed meanwhile, 422 for what cannot be, 428 without
/// `If-Match`.
pub async fn change(
    guarded: &Guarded<Administer>,
    options: &WriteOptions,
    named: String,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    let condition = options.required_match()?.clone();
    let body = patch.bytes().to_vec();
    guarded
        .perform(options, &body, move |tx, who| {
            let person = find(tx.connection(), &named)?.id;
            people::lock(tx.connection(), person)?;
            let person = find(tx.connection(), &named)?;
            let view = PersonView::from(&person);
            condition.check(Some(&ETag::of_resource(&view)?))?;
            patch.refuse_read_only(READ_ONLY)?;
            let wanted: PersonChange = patch.applied_to(&PersonChange::from(&person))?;
            let fields = wanted.fields();
            no_faults(fields.check())?;
            if fields == person.fields {
                return Done::ok(&view);
            }
            if administers(&person.fields)
                && !administers(&fields)
                && !people::others_administer(tx.connection(), person.id)?
            {
                return Err(Problem::in_use("this is the only administrator: make somebody else one first"));
            }
            let now = tx.now();
            if fields.disabled && !person.fields.disabled {
                sessions::end_all_of(tx.connection(), person.id, now)?;
            }
            let person = Person { fields, version: person.version + 1, updated_at: now, ..person };
            people::update(tx.connection(), &person)?;
            record(tx, who, &person, "dovetally.person.changed")?;
            Done::ok(&PersonView::from(&person))
        })
        .await
}

fn administers(person: &PersonFields) -> bool {
    !person.disabled && person.roles.contains(&Role::Administrator)
}

/// Gives a person a new secret and ends all their sessions.
///
/// # Errors
/// 404; 422 for a secret that is too short or too long.
pub async fn replace_secret(
    guarded: &Guarded<Administer>,
    options: WriteOptions,
    named: String,
    new: Json<NewSecret>,
) -> Result<HttpResponse, Problem> {
    let body = keyed(guarded, new.bytes())?;
    let NewSecret { secret } = new.into_inner();
    no_faults(check_secret(secret.as_deref()))?;
    let (hash, made) = hashed(guarded, secret).await?;
    perform(guarded, options, &body, made, move |tx, who| {
        let now = tx.now();
        let person = find(tx.connection(), &named)?;
        // The record itself says nothing of the secret; its version is what the change is told apart by.
        let person = Person { version: person.version + 1, updated_at: now, ..person };
        people::update(tx.connection(), &person)?;
        people::set_secret(tx.connection(), person.id, &hash)?;
        sessions::end_all_of(tx.connection(), person.id, now)?;
        record(tx, who, &person, "dovetally.person.secret_replaced")?;
        Ok((person, false))
    })
    .await
}

/// Runs a use case that sets a secret, and answers with the secret if it was `made` here. The use case says whom it
/// concerned, and whether that person is new.
async fn perform<F>(
    guarded: &Guarded<Administer>,
    options: WriteOptions,
    body: &[u8],
    made: Option<String>,
    use_case: F,
) -> Result<HttpResponse, Problem>
where
    F: Fn(&mut Tx<'_>, &Principal) -> Result<(Person, bool), Problem> + Send + 'static,
{
    let carries_secret = made.is_some();
    let idempotency_key = options.idempotency_key.clone().filter(|_| !carries_secret);
    let options = WriteOptions { idempotency_key, ..options };
    let mut response = guarded
        .perform(&options, body, move |tx, who| {
            let (person, new) = use_case(tx, who)?;
            let answer = PersonWithSecret { person: PersonView::from(&person), secret: made.clone() };
            if new { Done::created(&answer, address(&person.badge)) } else { Done::ok(&answer) }
        })
        .await?;
    if carries_secret {
        let headers = response.headers_mut();
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
        // It would be the tag of an answer that nobody can read again, not of the person.
        headers.remove(header::ETAG);
    }
    Ok(response)
}

/// The person whom a path names, by badge or by id.
fn find(connection: &mut Connection, named: &str) -> Result<Person, Problem> {
    let found = match Uuid::try_parse(named) {
        Ok(id) => people::find(connection, PersonId::from_uuid(id))?,
        Err(_) => people::find_by_badge(connection, named)?,
    };
    found.ok_or_else(|| Problem::not_found("person", named))
}

/// Records that the program itself put a person on record: from the command line, or with the demo shop.
pub(crate) fn record_hired(tx: &mut Tx<'_>, person: &Person) -> Result<(), Problem> {
    let change = Change {
        id: tx.new_id(),
        kind: "dovetally.person.created",
        subject_kind: "person",
        subject_id: person.id.uuid(),
        subject_version: person.version,
        actor: None,
        recorded_at: tx.now(),
        state: serde_json::to_value(PersonView::from(person)).map_err(Problem::internal)?,
    };
    tx.record(change);
    Ok(())
}

fn record(tx: &mut Tx<'_>, who: &Principal, person: &Person, kind: &'static str) -> Result<(), Problem> {
    let state = serde_json::to_value(PersonView::from(person)).map_err(Problem::internal)?;
    write_change(tx, who, "person", kind, person.id.uuid(), person.version, state);
    Ok(())
}

/// The hash of a secret, and the secret itself if none was given and one was made.
async fn hashed(guarded: &Guarded<Administer>, given: Option<String>) -> Result<(String, Option<String>), Problem> {
    let passwords = guarded.service().passwords();
    match given {
        Some(secret) => Ok((passwords.hash(secret).await?, None)),
        None => {
            let made = readable_secret().map_err(|error| Problem::internal(error.to_string()))?;
            Ok((passwords.hash(made.clone()).await?, Some(made)))
        }
    }
}

/// What stands for a body with a secret in the idempotency record. A plain digest of it, stored beside the slow hash of
/// the same secret, would let whoever has the database guess at the secret quickly; under the server's key it does not.
fn keyed(guarded: &Guarded<Administer>, body: &[u8]) -> Result<Vec<u8>, Problem> {
    let key = guarded.service().keys().refresh_key();
    let mut code = Hmac::<Sha256>::new_from_slice(key).map_err(|error| Problem::internal(error.to_string()))?;
    code.update(b"dovetally request with a secret, version 1");
    code.update(body);
    Ok(code.finalize().into_bytes().to_vec())
}

/// What a violated constraint of a new person says.
pub(crate) fn badge_taken(error: Error, badge: &str) -> Problem {
    match error.constraint() {
        Some(Constraint::BadgeTaken) => {
            let detail = format!("the badge {badge} is somebody's");
            Problem::new(ProblemCode::CodeTaken, detail.clone()).and_field("/badge", detail).because(error)
        }
        _ => error.into(),
    }
}

/// Faults of a new badge: beside the trade's own, what could not stand in an address.
#[must_use]
pub fn check_new_badge(badge: &str) -> Vec<FieldError> {
    let mut errors = FieldErrors::default();
    errors.require(Uuid::try_parse(badge).is_err(), "/badge", "cannot look like an id (8-4-4-4-12 hexadecimal digits)");
    errors.require(badge.is_empty() || badge.chars().any(|c| c != '.'), "/badge", "must not be dots only");
    let mut faults = check_badge(badge);
    faults.extend(errors.into_vec());
    faults
}

/// Faults of a secret that somebody chose; one that the server makes has none.
#[must_use]
pub fn check_secret(secret: Option<&str>) -> Vec<FieldError> {
    let mut errors = FieldErrors::default();
    if let Some(secret) = secret {
        let length = secret.chars().count();
        let shortest = format!("must have at least {SHORTEST_SECRET} characters");
        let longest = format!("must have at most {LONGEST_SECRET} characters");
        errors.require(length >= SHORTEST_SECRET, "/secret", shortest);
        errors.require(length <= LONGEST_SECRET, "/secret", longest);
    }
    errors.into_vec()
}

/// Where a person is: the badge as one path segment, everything but unreserved characters encoded (RFC 3986).
fn address(badge: &str) -> String {
    let mut path = "/v1/people/".to_owned();
    for byte in badge.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.' | b'_' | b'~') {
            path.push(char::from(byte));
        } else {
            path.push_str(&format!("%{byte:02X}"));
        }
    }
    path
}

#[cfg(test)]
mod tests {
    use super::{address, check_new_badge, check_secret};

    #[test]
    fn a_badge_is_one_path_segment() {
        assert_eq!(address("setter-2"), "/v1/people/setter-2");
        assert_eq!(address("A b/é%"), "/v1/people/A%20b%2F%C3%A9%25");
    }

    #[test]
    fn badges_that_no_address_can_carry_are_refused() {
        for badge in ["01890a5d-ac96-774b-bcce-b302099a8057", "01890a5dac96774bbcceb302099a8057", ".", "..", ""] {
            assert_eq!(check_new_badge(badge).len(), 1, "{badge:?}");
        }
        for badge in ["setter-2", "M.B.", "4711", "Ä 1"] {
            assert!(check_new_badge(badge).is_empty(), "{badge:?}");
        }
    }

    #[test]
    fn secrets_are_counted_in_characters() {
        let faults = |secret: &str| check_secret(Some(secret)).len();
        assert_eq!((faults("seven77"), faults("eight888")), (1, 0));
        assert_eq!((faults(&"é".repeat(7)), faults(&"é".repeat(8))), (1, 0));
        assert_eq!((faults(&"x".repeat(128)), faults(&"x".repeat(129))), (0, 1));
        assert!(check_secret(None).is_empty());
    }
}
