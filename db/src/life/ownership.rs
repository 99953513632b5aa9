//! Whose a form tool is, and what its owner consented to.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{tool_belongings, tool_consents},
};
use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    ids::{ItemId, PersonId, ToolConsentId},
    life::ownership::{Belonging, Consent, ConsentFields, ConsentKind, Ownership, PartRef},
};
use std::collections::BTreeMap;

/// Owner, and id and code of the part that a tool is kept for.
pub(crate) type BelongingRow = (Option<String>, Option<String>, Option<String>);

pub(crate) fn belonging((owner, part, code): BelongingRow) -> Result<Belonging> {
    let reserved_for = part
        .zip(code)
        .map(|(id, code)| Ok::<_, Error>(PartRef { id: columns::read(&id)?, code: columns::code(&code)? }))
        .transpose()?;
    Ok(Belonging { owner, reserved_for })
}

/// Writes whose a tool is; the shop's own, for any part, needs no row.
pub(crate) fn keep(connection: &mut Connection, tool: ItemId, belonging: &Belonging) -> Result<()> {
    use tool_belongings as b;
    forget(connection, tool)?;
    if let Some(part) = &belonging.reserved_for {
        diesel::insert_into(b::table)
            .values((
                b::tool_id.eq(tool.to_string()),
                b::owner.eq(&belonging.owner),
                b::reserved_for.eq(part.id.to_string()),
            ))
            .execute(connection)?;
    }
    Ok(())
}

pub(crate) fn forget(connection: &mut Connection, tool: ItemId) -> Result<()> {
    diesel::delete(tool_belongings::table.find(tool.to_string())).execute(connection)?;
    Ok(())
}

/// A consent on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToolConsent {
    /// Its id.
    pub id: ToolConsentId,
    /// The tool.
    pub tool: ItemId,
    /// What was written about it.
    pub fields: ConsentFields,
    /// Who recorded it.
    pub recorded_by: PersonId,
    /// The server's time.
    pub recorded_at: DateTime<Utc>,
    /// Who recorded that it was withdrawn, and when.
    pub withdrawn: Option<(PersonId, DateTime<Utc>)>,
    /// Raised with every change.
    pub version: i64,
}

impl ToolConsent {
    /// What the rules ask of it.
    const fn given(&self) -> Consent {
        let ConsentFields { kind, part, valid_until, .. } = self.fields;
        Consent { kind, part, valid_until }
    }
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = tool_consents)]
struct Row {
    id: String,
    tool_id: String,
    kind: String,
    part_id: Option<String>,
    given_by: String,
    valid_until: Option<NaiveDate>,
    note: Option<String>,
    recorded_by: String,
    recorded_at: NaiveDateTime,
    withdrawn_by: Option<String>,
    withdrawn_at: Option<NaiveDateTime>,
    version: i64,
}

impl From<&ToolConsent> for Row {
    fn from(consent: &ToolConsent) -> Self {
        Self {
            id: consent.id.to_string(),
            tool_id: consent.tool.to_string(),
            kind: consent.fields.kind.name().to_owned(),
            part_id: consent.fields.part.map(|part| part.to_string()),
            given_by: consent.fields.given_by.clone(),
            valid_until: consent.fields.valid_until,
            note: consent.fields.note.clone(),
            recorded_by: consent.recorded_by.to_string(),
            recorded_at: consent.recorded_at.naive_utc(),
            withdrawn_by: consent.withdrawn.map(|(by, _)| by.to_string()),
            withdrawn_at: consent.withdrawn.map(|(_, at)| at.naive_utc()),
            version: consent.version,
        }
    }
}

impl TryFrom<Row> for ToolConsent {
    type Error = Error;

    fn try_from(row: Row) -> Result<Self> {
        let withdrawn_by: Option<PersonId> = columns::read_optional(row.withdrawn_by.as_deref())?;
        Ok(Self {
            id: columns::read(&row.id)?,
            tool: columns::read(&row.tool_id)?,
            fields: ConsentFields {
                kind: columns::named(&row.kind, ConsentKind::from_name)?,
                part: columns::read_optional(row.part_id.as_deref())?,
                given_by: row.given_by,
                valid_until: row.valid_until,
                note: row.note,
            },
            recorded_by: columns::read(&row.recorded_by)?,
            recorded_at: columns::time(row.recorded_at),
            withdrawn: withdrawn_by.zip(row.withdrawn_at.map(columns::time)),
            version: row.version,
        })
    }
}

/// Puts a consent on record.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, consent: &ToolConsent) -> Result<()> {
    diesel::insert_into(tool_consents::table).values(Row::from(consent)).execute(connection)?;
    Ok(())
}

/// Records that a consent was withdrawn.
///
/// # Errors
/// A database error.
pub fn withdraw(connection: &mut Connection, consent: &ToolConsent) -> Result<()> {
    use tool_consents as c;
    let row = Row::from(consent);
    diesel::update(c::table.find(&row.id))
        .set((c::withdrawn_by.eq(&row.withdrawn_by), c::withdrawn_at.eq(row.withdrawn_at), c::version.eq(row.version)))
        .execute(connection)?;
    Ok(())
}

/// One consent.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: ToolConsentId) -> Result<Option<ToolConsent>> {
    let row = tool_consents::table.find(id.to_string()).select(Row::as_select()).first(connection).optional()?;
    row.map(ToolConsent::try_from).transpose()
}

/// A tool's consents, newest first, before one.
///
/// # Errors
/// A database error.
pub fn page(
    connection: &mut Connection,
    tool: ItemId,
    before: Option<(DateTime<Utc>, ToolConsentId)>,
    limit: i64,
) -> Result<Vec<ToolConsent>> {
    use tool_consents as c;
    let (at, id) = columns::before_or_newest(before);
    let rows: Vec<Row> = c::table
        .filter(c::tool_id.eq(tool.to_string()))
        .filter(c::recorded_at.lt(at).or(c::recorded_at.eq(at).and(c::id.lt(id))))
        .order((c::recorded_at.desc(), c::id.desc()))
        .limit(limit)
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(ToolConsent::try_from).collect()
}

/// A tool's consents that were not withdrawn, the oldest first.
///
/// # Errors
/// A database error.
pub fn open(connection: &mut Connection, tool: ItemId) -> Result<Vec<ToolConsent>> {
    use tool_consents as c;
    let rows: Vec<Row> = c::table
        .filter(c::tool_id.eq(tool.to_string()))
        .filter(c::withdrawn_at.is_null())
        .order((c::recorded_at, c::id))
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(ToolConsent::try_from).collect()
}

/// The consents to some tools that were not withdrawn, the oldest first.
///
/// # Errors
/// A database error.
pub(crate) fn open_of(connection: &mut Connection, tools: &[ItemId]) -> Result<BTreeMap<ItemId, Vec<Consent>>> {
    use tool_consents as c;
    let mut consents: BTreeMap<ItemId, Vec<Consent>> = BTreeMap::new();
    if tools.is_empty() {
        return Ok(consents);
    }
    let rows: Vec<Row> = c::table
        .filter(c::tool_id.eq_any(tools.iter().map(ItemId::to_string).collect::<Vec<_>>()))
        .filter(c::withdrawn_at.is_null())
        .order((c::recorded_at, c::id))
        .select(Row::as_select())
        .load(connection)?;
    for row in rows {
        let consent = ToolConsent::try_from(row)?;
        consents.entry(consent.tool).or_default().push(consent.given());
    }
    Ok(consents)
}

/// Whose a tool is with the consents that were not withdrawn: what the rules ask. The shop's own tool needs none.
///
/// # Errors
/// A database error.
pub fn of_tool(connection: &mut Connection, tool: ItemId, belonging: Belonging) -> Result<Ownership> {
    if belonging.owner.is_none() {
        return Ok(Ownership { belonging, consents: Vec::new() });
    }
    let consents = open(connection, tool)?.iter().map(ToolConsent::given).collect();
    Ok(Ownership { belonging, consents })
}
