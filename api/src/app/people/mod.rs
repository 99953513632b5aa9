//! People: who there is, and their roles.

mod secrets;

pub use secrets::{check_secret, create, replace_secret};
pub(crate) use secrets::{created, renewed};

use crate::{
    app::{
        perform::Done,
        registry::{no_faults, write_change},
    },
    conditional::{ETag, answer_read},
    extract::{IfMatch, IfNoneMatch, MergePatch, WriteOptions},
    page::Paging,
    principal::{Administer, Guarded, Principal},
    problem::{Problem, ProblemCode},
    transport::person::{PersonChange, PersonView},
};
use actix_web::HttpResponse;
use dovetally_core::{
    field_error::{FieldError, FieldErrors},
    ids::PersonId,
    people::Role,
    registry::person::{Person, PersonFields, check_badge},
};
use dovetally_db::{Change, Connection, Constraint, Error, Tx, people, sessions};
use uuid::Uuid;

/// Fields of a person that are never written by a change.
const READ_ONLY: &[&str] = &["id", "badge", "created_at", "updated_at"];

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
    let person = guarded.database().read(move |connection| read(connection, &named)).await?;
    answer_read(&person, condition)
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
    guarded.perform(options, &body, move |tx, who| change_in(tx, who, &named, &condition, &patch)).await
}

/// The same inside a transaction.
pub(crate) fn change_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    named: &str,
    condition: &IfMatch,
    patch: &MergePatch,
) -> Result<Done, Problem> {
    let person = find(tx.connection(), named)?.id;
    people::lock(tx.connection(), person)?;
    let person = find(tx.connection(), named)?;
    let view = PersonView::from(&person);
    condition.check(Some(&ETag::of_resource(&view)?))?;
    patch.refuse_read_only(READ_ONLY)?;
    let wanted: PersonChange = patch.applied_to(&PersonChange::from(&person))?;
    let fields = wanted.fields();
    no_faults(fields.check())?;
    if fields == person.fields {
        return Done::ok(&view);
    }
    if administers(&person.fields) && !administers(&fields) && !people::others_administer(tx.connection(), person.id)? {
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
}

fn administers(person: &PersonFields) -> bool {
    !person.disabled && person.roles.contains(&Role::Administrator)
}

/// The most people that a page shows.
const MOST: i64 = 500;

/// Everybody, by badge.
///
/// # Errors
/// A database error.
pub(crate) fn everybody(connection: &mut Connection) -> Result<Vec<PersonView>, Problem> {
    let people = people::page(connection, None, MOST)?;
    Ok(people.iter().map(PersonView::from).collect())
}

/// One person, as they are answered.
///
/// # Errors
/// 404 when there is none.
pub(crate) fn read(connection: &mut Connection, named: &str) -> Result<PersonView, Problem> {
    Ok(PersonView::from(&find(connection, named)?))
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

/// Where a person is.
fn address(badge: &str) -> String {
    format!("/v1/people/{}", segment(badge))
}

/// A badge as one segment of a path: everything but unreserved characters encoded (RFC 3986).
pub(crate) fn segment(badge: &str) -> String {
    let mut path = String::new();
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
    use super::{address, check_new_badge};

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
}
