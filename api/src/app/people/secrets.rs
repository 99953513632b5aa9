//! Secrets of people: whoever is new gets one, and anybody another.
//!
//! A secret is hashed before the transaction begins, on a blocking thread. An answer that carries a secret is never
//! stored, so a request that asks for one is done each time it comes, whatever its idempotency key.

use super::{address, badge_taken, check_new_badge, find, record};
use crate::{
    app::perform::Done,
    app::registry::no_faults,
    extract::{Json, WriteOptions},
    password::readable_secret,
    principal::{Administer, Guarded, Principal},
    problem::Problem,
    transport::person::{NewPerson, NewSecret, PersonView, PersonWithSecret},
};
use actix_web::{
    HttpResponse,
    http::header::{self, HeaderValue},
};
use dovetally_core::{
    field_error::{FieldError, FieldErrors},
    registry::person::{Person, PersonFields},
};
use dovetally_db::{Tx, people, sessions};
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;

/// The fewest characters of a secret.
const SHORTEST_SECRET: usize = 8;
/// The most characters of a secret.
const LONGEST_SECRET: usize = 128;

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
    let (use_case, made) = hire(guarded, new.into_inner()).await?;
    perform(guarded, options, &body, made, use_case).await
}

/// The same for a page, which is told of the person and the secret. `body` is the form as it came.
///
/// # Errors
/// As [`create`].
pub(crate) async fn created(
    guarded: &Guarded<Administer>,
    options: WriteOptions,
    body: &[u8],
    new: NewPerson,
) -> Result<PersonWithSecret, Problem> {
    let body = keyed(guarded, body)?;
    let (use_case, made) = hire(guarded, new).await?;
    told(guarded, options, &body, made, use_case).await
}

/// What puts a person on record, and the secret if it was made here.
async fn hire(guarded: &Guarded<Administer>, new: NewPerson) -> Result<(impl SetsSecret, Option<String>), Problem> {
    let NewPerson { badge, name, roles, secret } = new;
    let mut fields = PersonFields { name, roles, disabled: false };
    let mut faults = check_new_badge(&badge);
    faults.extend(fields.check());
    faults.extend(check_secret(secret.as_deref()));
    no_faults(faults)?;
    fields.roles.sort_unstable();
    let (hash, made) = hashed(guarded, secret).await?;
    let use_case = move |tx: &mut Tx<'_>, who: &Principal| {
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
    };
    Ok((use_case, made))
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
    let (use_case, made) = renew(guarded, named, new.into_inner()).await?;
    perform(guarded, options, &body, made, use_case).await
}

/// The same for a page, which is told of the person and the secret. `body` is the form as it came.
///
/// # Errors
/// As [`replace_secret`].
pub(crate) async fn renewed(
    guarded: &Guarded<Administer>,
    options: WriteOptions,
    body: &[u8],
    named: String,
    new: NewSecret,
) -> Result<PersonWithSecret, Problem> {
    let body = keyed(guarded, body)?;
    let (use_case, made) = renew(guarded, named, new).await?;
    told(guarded, options, &body, made, use_case).await
}

/// What gives a person a new secret, and that secret if it was made here.
async fn renew(
    guarded: &Guarded<Administer>,
    named: String,
    new: NewSecret,
) -> Result<(impl SetsSecret, Option<String>), Problem> {
    let NewSecret { secret } = new;
    no_faults(check_secret(secret.as_deref()))?;
    let (hash, made) = hashed(guarded, secret).await?;
    let use_case = move |tx: &mut Tx<'_>, who: &Principal| {
        let now = tx.now();
        // Taken and read again: a change at the same moment is neither undone nor given the same version.
        let person = find(tx.connection(), &named)?.id;
        people::lock(tx.connection(), person)?;
        let person = find(tx.connection(), &named)?;
        // The record itself says nothing of the secret; its version is what the change is told apart by.
        let person = Person { version: person.version + 1, updated_at: now, ..person };
        people::update(tx.connection(), &person)?;
        people::set_secret(tx.connection(), person.id, &hash)?;
        sessions::end_all_of(tx.connection(), person.id, now)?;
        record(tx, who, &person, "dovetally.person.secret_replaced")?;
        Ok((person, false))
    };
    Ok((use_case, made))
}

/// A use case that sets a secret: it says whom it concerned, and whether that person is new.
trait SetsSecret: Fn(&mut Tx<'_>, &Principal) -> Result<(Person, bool), Problem> + Send + 'static {}

impl<F: Fn(&mut Tx<'_>, &Principal) -> Result<(Person, bool), Problem> + Send + 'static> SetsSecret for F {}

/// Runs a use case that sets a secret, and answers with the secret if it was `made` here.
async fn perform<F>(
    guarded: &Guarded<Administer>,
    options: WriteOptions,
    body: &[u8],
    made: Option<String>,
    use_case: F,
) -> Result<HttpResponse, Problem>
where
    F: SetsSecret,
{
    let carries_secret = made.is_some();
    let options = without_key(options, carries_secret);
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

/// The same for a page.
async fn told<F>(
    guarded: &Guarded<Administer>,
    options: WriteOptions,
    body: &[u8],
    made: Option<String>,
    use_case: F,
) -> Result<PersonWithSecret, Problem>
where
    F: SetsSecret,
{
    let options = without_key(options, made.is_some());
    let answer = move |tx: &mut Tx<'_>, who: &Principal| {
        let (person, _) = use_case(tx, who)?;
        Ok(PersonWithSecret { person: PersonView::from(&person), secret: made.clone() })
    };
    guarded.perform_told(&options, body, answer).await
}

/// An answer that carries a secret is never stored: it has no key to be found by.
fn without_key(options: WriteOptions, carries_secret: bool) -> WriteOptions {
    let idempotency_key = options.idempotency_key.clone().filter(|_| !carries_secret);
    WriteOptions { idempotency_key, ..options }
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

#[cfg(test)]
mod tests {
    use super::check_secret;

    #[test]
    fn secrets_are_counted_in_characters() {
        let faults = |secret: &str| check_secret(Some(secret)).len();
        assert_eq!((faults("seven77"), faults("eight888")), (1, 0));
        assert_eq!((faults(&"é".repeat(7)), faults(&"é".repeat(8))), (1, 0));
        assert_eq!((faults(&"x".repeat(128)), faults(&"x".repeat(129))), (0, 1));
        assert!(check_secret(None).is_empty());
    }
}
