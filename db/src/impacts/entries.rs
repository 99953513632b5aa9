//! What a document says was touched, and what became of it.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::impact_entries as e,
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::{dsl::count_star, prelude::*, sql_types};
use dovetally_core::{
    gauge::{
        impact::{Entry, Touched, TouchedKind},
        impact_document::Outcome,
    },
    ids::{ImpactId, PersonId},
};
use std::collections::BTreeMap;

/// What became of an entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Judgement {
    /// What.
    pub outcome: Outcome,
    /// In words.
    pub note: String,
    /// Who says so.
    pub by: PersonId,
    /// The server's time.
    pub at: DateTime<Utc>,
}

/// An entry on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ImpactEntry {
    /// Its number in the document, from 1.
    pub number: i32,
    /// What was touched, and why.
    pub entry: Entry,
    /// What became of it; none while nobody has judged it.
    pub judgement: Option<Judgement>,
}

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = e)]
#[diesel(treat_none_as_null = true)]
struct Row {
    impact_id: String,
    number: i32,
    kind: String,
    setup_id: Option<String>,
    run_id: Option<String>,
    job_id: Option<String>,
    item_id: Option<String>,
    pieces: Option<i64>,
    evidence: String,
    outcome: Option<String>,
    note: Option<String>,
    judged_by: Option<String>,
    judged_at: Option<NaiveDateTime>,
}

fn row(impact: ImpactId, entry: &ImpactEntry) -> Result<Row> {
    let touched = entry.entry.touched;
    let judgement = entry.judgement.as_ref();
    let mut row = Row {
        impact_id: impact.to_string(),
        number: entry.number,
        kind: touched.kind().name().to_owned(),
        setup_id: None,
        run_id: None,
        job_id: None,
        item_id: None,
        pieces: entry.entry.pieces,
        evidence: columns::document(&entry.entry.evidence)?,
        outcome: judgement.map(|judgement| judgement.outcome.name().to_owned()),
        note: judgement.map(|judgement| judgement.note.clone()),
        judged_by: judgement.map(|judgement| judgement.by.to_string()),
        judged_at: judgement.map(|judgement| judgement.at.naive_utc()),
    };
    match touched {
        Touched::Setup(id) => row.setup_id = Some(id.to_string()),
        Touched::Run(id) => row.run_id = Some(id.to_string()),
        Touched::Job(id) => row.job_id = Some(id.to_string()),
        Touched::Tool(id) => row.item_id = Some(id.to_string()),
    }
    Ok(row)
}

impl TryFrom<Row> for ImpactEntry {
    type Error = Error;

    fn try_from(row: Row) -> Result<Self> {
        let touched = match (row.setup_id, row.run_id, row.job_id, row.item_id) {
            (Some(id), None, None, None) => Touched::Setup(columns::read(&id)?),
            (None, Some(id), None, None) => Touched::Run(columns::read(&id)?),
            (None, None, Some(id), None) => Touched::Job(columns::read(&id)?),
            (None, None, None, Some(id)) => Touched::Tool(columns::read(&id)?),
            _ => return Err(Error::unreadable("an entry about nothing or about two things")),
        };
        let judgement = match (row.outcome, row.note, row.judged_by, row.judged_at) {
            (Some(outcome), Some(note), Some(by), Some(at)) => Some(Judgement {
                outcome: columns::named(&outcome, Outcome::from_name)?,
                note,
                by: columns::read(&by)?,
                at: columns::time(at),
            }),
            _ => None,
        };
        let entry = Entry { touched, pieces: row.pieces, evidence: columns::from_document(&row.evidence)? };
        Ok(Self { number: row.number, entry, judgement })
    }
}

/// Adds an entry.
///
/// # Errors
/// A database error.
pub fn insert_entry(connection: &mut Connection, impact: ImpactId, entry: &ImpactEntry) -> Result<()> {
    diesel::insert_into(e::table).values(row(impact, entry)?).execute(connection)?;
    Ok(())
}

/// Writes an entry over.
///
/// # Errors
/// A database error.
pub fn update_entry(connection: &mut Connection, impact: ImpactId, entry: &ImpactEntry) -> Result<()> {
    diesel::update(e::table.find((impact.to_string(), entry.number))).set(row(impact, entry)?).execute(connection)?;
    Ok(())
}

/// All entries of a document, by number.
///
/// # Errors
/// A database error.
pub fn entries(connection: &mut Connection, impact: ImpactId) -> Result<Vec<ImpactEntry>> {
    let rows: Vec<Row> = e::table
        .filter(e::impact_id.eq(impact.to_string()))
        .order(e::number)
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(ImpactEntry::try_from).collect()
}

/// The entries with these numbers that there are, by number.
///
/// # Errors
/// A database error.
pub fn find_entries(connection: &mut Connection, impact: ImpactId, numbers: &[i32]) -> Result<Vec<ImpactEntry>> {
    let rows: Vec<Row> = e::table
        .filter(e::impact_id.eq(impact.to_string()))
        .filter(e::number.eq_any(numbers))
        .order(e::number)
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(ImpactEntry::try_from).collect()
}

/// What a document's entries are narrowed to.
#[derive(Clone, Copy, Debug, Default)]
pub struct EntryFilter {
    /// Of one kind.
    pub kind: Option<TouchedKind>,
    /// With or without an outcome only.
    pub judged: Option<bool>,
}

/// A document's entries, by number, after one.
///
/// # Errors
/// A database error.
pub fn entries_page(
    connection: &mut Connection,
    impact: ImpactId,
    filter: EntryFilter,
    after: Option<i32>,
    limit: i64,
) -> Result<Vec<ImpactEntry>> {
    let mut query = e::table
        .filter(e::impact_id.eq(impact.to_string()))
        .filter(e::number.gt(after.unwrap_or(0)))
        .order(e::number)
        .limit(limit)
        .select(Row::as_select())
        .into_boxed();
    if let Some(kind) = filter.kind {
        query = query.filter(e::kind.eq(kind.name()));
    }
    query = match filter.judged {
        None => query,
        Some(true) => query.filter(e::outcome.is_not_null()),
        Some(false) => query.filter(e::outcome.is_null()),
    };
    let rows: Vec<Row> = query.load(connection)?;
    rows.into_iter().map(ImpactEntry::try_from).collect()
}

/// How much a document holds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Setups, runs, jobs and tools, in the order of [`TouchedKind::ALL`].
    pub of_kind: [i64; 4],
    /// Entries that nobody has judged.
    pub without_outcome: i64,
    /// The pieces of its runs, as far as they are booked.
    pub pieces: i64,
}

/// Document, kind, outcome, how many, their pieces.
type CountRow = (String, String, Option<String>, i64, Option<i64>);

/// What each of these documents holds.
///
/// # Errors
/// A database error.
pub fn counts(connection: &mut Connection, impacts: &[ImpactId]) -> Result<BTreeMap<ImpactId, Counts>> {
    let ids: Vec<String> = impacts.iter().map(ToString::to_string).collect();
    let pieces = diesel::dsl::sql::<sql_types::Nullable<sql_types::BigInt>>("CAST(SUM(pieces) AS BIGINT)");
    let rows: Vec<CountRow> = e::table
        .filter(e::impact_id.eq_any(&ids))
        .group_by((e::impact_id, e::kind, e::outcome))
        .select((e::impact_id, e::kind, e::outcome, count_star(), pieces))
        .load(connection)?;
    let mut found: BTreeMap<ImpactId, Counts> = impacts.iter().map(|id| (*id, Counts::default())).collect();
    for (impact, kind, outcome, count, pieces) in rows {
        let counts = found.entry(columns::read(&impact)?).or_default();
        let kind = columns::named(&kind, TouchedKind::from_name)?;
        for (known, of_kind) in TouchedKind::ALL.iter().zip(&mut counts.of_kind) {
            if *known == kind {
                *of_kind += count;
            }
        }
        if outcome.is_none() {
            counts.without_outcome += count;
        }
        if kind == TouchedKind::Run {
            counts.pieces += pieces.unwrap_or(0);
        }
    }
    Ok(found)
}
