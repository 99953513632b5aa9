//! Use cases of the registry: putting on record, reading, changing, deleting, the same for every kind of thing.
//!
//! A kind says in [`Registered`] what is particular to it; codes, versions, conditions, the chain of changes and the
//! order of steps stand here once.

mod center_gauges;
mod changes;
mod faults;
mod form_tools;
mod holders;
mod jobs;
mod machines;
mod maintenance_plans;
mod other_items;
mod parts;
mod places;
mod supplies;
mod tool_designs;

pub use center_gauges::CenterGauges;
pub(crate) use center_gauges::{height_is_the_machines, station_ids};
pub(crate) use changes::record_item;
pub use changes::write_change;
pub(crate) use faults::faulty;
pub use faults::no_faults;
pub use form_tools::FormTools;
pub(crate) use form_tools::design_of;
pub use holders::Holders;
pub use jobs::{JobFilters, Jobs};
pub use machines::Machines;
pub(crate) use machines::state_of as machine_state;
pub use maintenance_plans::MaintenancePlans;
pub(crate) use maintenance_plans::{filter_of, maintained};
pub use other_items::{AnyItem, OtherItems};
pub use parts::Parts;
pub use places::Places;
pub use supplies::Supplies;
pub use tool_designs::ToolDesigns;

use crate::{
    app::perform::Done,
    conditional::ETag,
    extract::{IfMatch, IfNoneMatch, Json, MergePatch, Reference, WriteOptions},
    page::{Page, Paging},
    principal::{Guarded, Principal, Read},
    problem::Problem,
};
use actix_web::HttpResponse;
use dovetally_core::{code::Code, ids::ItemId};
use dovetally_db::{Connection, Constraint, Error, Tx, codes, codes::CodeSubject, custody};
use serde::{Serialize, de::DeserializeOwned};
use uuid::Uuid;

/// A kind of thing in the registry.
pub trait Registered: Sized + 'static {
    /// The resource's name: `place`.
    const RESOURCE: &'static str;
    /// Its collection in paths: `places`.
    const COLLECTION: &'static str;
    /// What its codes name.
    const SUBJECT: CodeSubject;
    /// The kinds of its changes: created, changed, removed.
    const CHANGES: [&'static str; 3];
    /// The pointer to the code in bodies.
    const CODE_POINTER: &'static str = "/code";
    /// Fields of the view that follow from records and are never written.
    const READ_ONLY: &'static [&'static str];

    /// The thing as the trade has it.
    type Thing;
    /// What is sent to put one on record.
    type New: DeserializeOwned + Clone + Send + Sync;
    /// What a change may write; a patch is applied to it.
    type Write: Serialize + DeserializeOwned;
    /// What is read.
    type View: Serialize;
    /// What a list may be narrowed to.
    type Filter: DeserializeOwned + Send + 'static;

    /// The code wanted for a new one.
    fn code_of_new(new: &Self::New) -> &Code;
    /// The code wanted by a change.
    fn code_of(write: &Self::Write) -> &Code;
    /// Id, code and version of a thing on record.
    fn record_of(thing: &Self::Thing) -> (Uuid, &Code, i64);
    /// Reads one.
    ///
    /// # Errors
    /// A database error.
    fn find(connection: &mut Connection, id: Uuid) -> Result<Option<Self::Thing>, Problem>;
    /// A page of them by code, after a code.
    ///
    /// # Errors
    /// A database error, or a filter that names nothing.
    fn page(
        connection: &mut Connection,
        filter: &Self::Filter,
        after: Option<&Code>,
        limit: i64,
    ) -> Result<Vec<Self::Thing>, Problem>;
    /// As clients see it.
    ///
    /// # Errors
    /// A database error.
    fn view(connection: &mut Connection, thing: &Self::Thing) -> Result<Self::View, Problem>;
    /// Several as clients see them, in their order: a kind that shares records between them asks for those once.
    ///
    /// # Errors
    /// A database error.
    fn views(connection: &mut Connection, things: &[Self::Thing]) -> Result<Vec<Self::View>, Problem> {
        things.iter().map(|thing| Self::view(connection, thing)).collect()
    }
    /// As clients may write it.
    fn write_form(thing: &Self::Thing) -> Self::Write;
    /// Puts one on record under this id; the code is taken already.
    ///
    /// # Errors
    /// 422 for what cannot be; a database error.
    fn insert(tx: &mut Tx<'_>, who: &Principal, id: Uuid, new: &Self::New) -> Result<Self::Thing, Problem>;
    /// Writes a change; codes are seen to already. The version is to be raised by one.
    ///
    /// # Errors
    /// 422 for what cannot be; a database error.
    fn update(
        tx: &mut Tx<'_>,
        who: &Principal,
        thing: Self::Thing,
        write: &Self::Write,
    ) -> Result<Self::Thing, Problem>;
    /// Deletes one that nothing refers to.
    ///
    /// # Errors
    /// A constraint that says that something does.
    fn delete(tx: &mut Tx<'_>, thing: &Self::Thing) -> Result<(), Problem>;
}

/// The id behind a code that a body or a filter names; `at` is the pointer to it.
///
/// # Errors
/// 422 when there is nothing of this kind under the code.
pub fn resolve(connection: &mut Connection, subject: CodeSubject, code: &Code, at: &str) -> Result<Uuid, Problem> {
    let id = codes::find_id(connection, subject, code)?;
    id.ok_or_else(|| Problem::field(at, format!("there is no {} with the code {code}", spoken(subject))))
}

/// The id behind a code in a list's query.
///
/// # Errors
/// 400 when there is nothing of this kind under the code.
pub fn resolve_in_query(
    connection: &mut Connection,
    subject: CodeSubject,
    code: Option<&Code>,
    parameter: &str,
) -> Result<Option<Uuid>, Problem> {
    let Some(code) = code else { return Ok(None) };
    let id = codes::find_id(connection, subject, code)?;
    let nothing = || Problem::query(parameter, format!("there is no {} with the code {code}", spoken(subject)));
    id.map(Some).ok_or_else(nothing)
}

fn spoken(subject: CodeSubject) -> String {
    subject.name().replace('_', " ")
}

/// Finds the thing that a path names.
///
/// # Errors
/// 404 when there is none.
pub fn find<R: Registered>(connection: &mut Connection, reference: &Reference) -> Result<R::Thing, Problem> {
    let id = match reference {
        Reference::Id(id) => Some(*id),
        Reference::Code(code) => codes::find_id(connection, R::SUBJECT, code)?,
    };
    let found = id.map(|id| R::find(connection, id)).transpose()?.flatten();
    found.ok_or_else(|| Problem::not_found(&spoken(R::SUBJECT), reference))
}

/// Puts a thing on record.
///
/// # Errors
/// 409 when its code is taken; 422 for what cannot be.
pub async fn create<R: Registered, A>(
    guarded: &Guarded<A>,
    options: &WriteOptions,
    new: Json<R::New>,
) -> Result<HttpResponse, Problem> {
    let body = new.bytes().to_vec();
    let new = new.into_inner();
    guarded.perform(options, &body, move |tx, who| create_in::<R>(tx, who, &new)).await
}

/// The same inside a transaction.
pub(crate) fn create_in<R: Registered>(tx: &mut Tx<'_>, who: &Principal, new: &R::New) -> Result<Done, Problem> {
    let code = R::code_of_new(new).clone();
    let id: Uuid = tx.new_id();
    codes::take(tx.connection(), &code, R::SUBJECT, id).map_err(|error| taken(error, R::CODE_POINTER, &code))?;
    let thing = R::insert(tx, who, id, new)?;
    let view = R::view(tx.connection(), &thing)?;
    record::<R>(tx, who, &thing, &view, R::CHANGES[0])?;
    Done::created(&view, format!("/v1/{}/{code}", R::COLLECTION))
}

/// Reads a thing.
///
/// # Errors
/// 404 when there is none.
pub async fn get<R: Registered>(
    guarded: &Guarded<Read>,
    reference: Reference,
    condition: &IfNoneMatch,
) -> Result<HttpResponse, Problem>
where
    R::View: Send,
{
    let view = guarded
        .database()
        .read(move |connection| {
            let thing = find::<R>(connection, &reference)?;
            R::view(connection, &thing)
        })
        .await?;
    crate::conditional::answer_read(&view, condition)
}

/// Reads a page of things by code.
///
/// # Errors
/// 400 for a cursor of another list.
pub async fn list<R: Registered>(guarded: &Guarded<Read>, paging: Paging<R::Filter>) -> Result<HttpResponse, Problem>
where
    R::View: Send,
{
    let page = guarded
        .database()
        .read(move |connection| {
            let page = list_in::<R>(connection, &paging)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    page.0.answer(&page.1)
}

/// The same from a connection.
///
/// # Errors
/// 400 for a cursor of another list.
pub(crate) fn list_in<R: Registered>(
    connection: &mut Connection,
    paging: &Paging<R::Filter>,
) -> Result<Page<R::View>, Problem> {
    let after: Option<Code> = paging.after()?;
    let things = R::page(connection, &paging.filters, after.as_ref(), paging.rows_to_fetch())?;
    let codes = things.iter().map(|thing| R::record_of(thing).1.clone()).collect::<Vec<_>>();
    let rows = codes.into_iter().zip(R::views(connection, &things)?).collect();
    paging.page(rows, |(code, _)| code.clone(), |(_, view)| view)
}

/// Changes a thing by a merge patch.
///
/// # Errors
/// 404, 409 for a code that is taken or a thing in use, 412 when it has changed meanwhile, 422 for what cannot be, 428
/// without `If-Match`.
pub async fn change<R: Registered, A>(
    guarded: &Guarded<A>,
    options: &WriteOptions,
    reference: Reference,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    let condition = options.required_match()?.clone();
    let body = patch.bytes().to_vec();
    guarded
        .perform(options, &body, move |tx, who| {
            let thing = matching::<R>(tx, &reference, &condition)?;
            set::<R>(tx, who, thing, &patch)
        })
        .await
}

/// The same inside a transaction, whatever the thing was before.
pub(crate) fn change_in<R: Registered>(
    tx: &mut Tx<'_>,
    who: &Principal,
    reference: &Reference,
    patch: &MergePatch,
) -> Result<Done, Problem> {
    let thing = taken_up::<R>(tx, reference)?;
    set::<R>(tx, who, thing, patch)
}

fn set<R: Registered>(tx: &mut Tx<'_>, who: &Principal, thing: R::Thing, patch: &MergePatch) -> Result<Done, Problem> {
    patch.refuse_read_only(R::READ_ONLY)?;
    let before = R::write_form(&thing);
    let wanted: R::Write = patch.applied_to(&before)?;
    // Compared as documents: 1 in and 25.4 mm are the same length, but not the same entry.
    let document = |form: &R::Write| serde_json::to_value(form).map_err(Problem::internal);
    if document(&wanted)? == document(&before)? {
        return Done::ok(&R::view(tx.connection(), &thing)?);
    }
    let (id, code, _) = R::record_of(&thing);
    rename::<R>(tx, id, &code.clone(), R::code_of(&wanted))?;
    let thing = R::update(tx, who, thing, &wanted).map_err(in_use)?;
    let view = R::view(tx.connection(), &thing)?;
    record::<R>(tx, who, &thing, &view, R::CHANGES[1])?;
    Done::ok(&view)
}

/// Deletes a thing that was never used.
///
/// # Errors
/// 404, 409 when something refers to it, 412, 428.
pub async fn remove<R: Registered, A>(
    guarded: &Guarded<A>,
    options: &WriteOptions,
    reference: Reference,
) -> Result<HttpResponse, Problem> {
    let condition = options.required_match()?.clone();
    guarded
        .perform(options, &[], move |tx, who| {
            let thing = matching::<R>(tx, &reference, &condition)?;
            let view = R::view(tx.connection(), &thing)?;
            let (id, _, version) = R::record_of(&thing);
            R::delete(tx, &thing).map_err(in_use)?;
            // Its codes stay taken: they may stand on a label somewhere.
            codes::keep_removed(tx.connection(), id)?;
            let state = serde_json::to_value(&view).map_err(Problem::internal)?;
            write_change(tx, who, R::RESOURCE, R::CHANGES[2], id, version + 1, state);
            Ok(Done::nothing_to_say())
        })
        .await
}

fn matching<R: Registered>(tx: &mut Tx<'_>, reference: &Reference, condition: &IfMatch) -> Result<R::Thing, Problem> {
    let thing = taken_up::<R>(tx, reference)?;
    let view = R::view(tx.connection(), &thing)?;
    condition.check(Some(&ETag::of_resource(&view)?))?;
    Ok(thing)
}

/// A thing that is to be changed, locked for it.
fn taken_up<R: Registered>(tx: &mut Tx<'_>, reference: &Reference) -> Result<R::Thing, Problem> {
    let (id, ..) = R::record_of(&find::<R>(tx.connection(), reference)?);
    // Taken first and read again, so that two changes of one thing follow each other.
    codes::lock(tx.connection(), id)?;
    if R::SUBJECT == CodeSubject::Item {
        // Pieces, conditions and movements change items too; they take the custody row.
        custody::lock(tx.connection(), &[ItemId::from_uuid(id)])?;
    }
    R::find(tx.connection(), id)?.ok_or_else(|| Problem::not_found(&spoken(R::SUBJECT), reference))
}

fn rename<R: Registered>(tx: &mut Tx<'_>, id: Uuid, old: &Code, new: &Code) -> Result<(), Problem> {
    if old == new {
        return Ok(());
    }
    // Going back to a name it had before is no new taking.
    if codes::find_id(tx.connection(), R::SUBJECT, new)? == Some(id) {
        codes::revive(tx.connection(), new)?;
    } else {
        codes::take(tx.connection(), new, R::SUBJECT, id).map_err(|error| taken(error, R::CODE_POINTER, new))?;
    }
    codes::keep_as_alias(tx.connection(), old)?;
    Ok(())
}

fn taken(error: Error, at: &str, code: &Code) -> Problem {
    match error.constraint() {
        Some(Constraint::CodeTaken) => Problem::code_taken(at, code).because(error),
        _ => error.into(),
    }
}

fn in_use(problem: Problem) -> Problem {
    use dovetally_db::Failure as _;
    match problem.database().and_then(Error::constraint) {
        Some(Constraint::ForeignKey) => {
            Problem::in_use("something on record refers to it: retire it instead, or free it first").because(problem)
        }
        _ => problem,
    }
}

fn record<R: Registered>(
    tx: &mut Tx<'_>,
    who: &Principal,
    thing: &R::Thing,
    view: &R::View,
    kind: &'static str,
) -> Result<(), Problem> {
    let (id, _, version) = R::record_of(thing);
    let state = serde_json::to_value(view).map_err(Problem::internal)?;
    write_change(tx, who, R::RESOURCE, kind, id, version, state);
    Ok(())
}
