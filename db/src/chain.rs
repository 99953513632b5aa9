//! The chain of changes: numbering, sealing, verifying.
//!
//! Every change carries the SHA-256 of its own content and a hash over the hash before it, its number and that digest.
//! Whoever edits, drops, swaps or inserts a row breaks every later hash, so that a head kept elsewhere shows it. What
//! this cannot show is a tail cut off that is newer than the last head kept elsewhere.

use crate::{
    connection::Connection,
    error::{Error, Result},
    schema::{chain_head, changes},
    tx::Change,
};
use chrono::{DateTime, NaiveDateTime, TimeDelta, Utc};
use diesel::prelude::*;
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use uuid::Uuid;

/// A change as it is stored, without its place in the chain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Unsealed {
    pub(crate) id: String,
    pub(crate) kind: String,
    pub(crate) subject_kind: String,
    pub(crate) subject_id: String,
    pub(crate) subject_version: i64,
    pub(crate) actor_id: Option<String>,
    pub(crate) recorded_at: NaiveDateTime,
    pub(crate) state: String,
    pub(crate) digest: String,
}

/// A change in its place.
#[derive(Clone, Debug, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = changes)]
pub struct SealedChange {
    /// Its number: 1, 2, 3, … without a gap, in the order of commits.
    pub sequence: i64,
    /// Its id.
    pub id: String,
    /// `dovetally.<resource>.<past participle>`.
    pub kind: String,
    /// The resource.
    pub subject_kind: String,
    /// The subject's id.
    pub subject_id: String,
    /// The subject's version after the change.
    pub subject_version: i64,
    /// Who.
    pub actor_id: Option<String>,
    /// The server's time.
    pub recorded_at: NaiveDateTime,
    /// The subject's state after the change.
    pub state: String,
    /// SHA-256 of its content.
    pub digest: String,
    /// The chain's hash up to here.
    pub chain_hash: String,
}

/// The end of the chain.
#[derive(Clone, Debug, PartialEq, Eq, Queryable)]
pub struct Head {
    /// The last number; 0 when nothing was recorded yet.
    pub sequence: i64,
    /// The hash up to it.
    pub chain_hash: String,
}

impl Unsealed {
    pub(crate) fn new(change: &Change) -> Result<Self> {
        let mut unsealed = Self {
            id: change.id.to_string(),
            kind: change.kind.to_owned(),
            subject_kind: change.subject_kind.to_owned(),
            subject_id: change.subject_id.to_string(),
            subject_version: change.subject_version,
            actor_id: change.actor.map(|id| id.to_string()),
            recorded_at: change.recorded_at.naive_utc(),
            state: serde_json::to_string(&change.state)?,
            digest: String::new(),
        };
        unsealed.digest = unsealed.compute_digest();
        Ok(unsealed)
    }

    fn compute_digest(&self) -> String {
        let mut hash = Sha256::new();
        for field in [
            self.id.as_str(),
            &self.kind,
            &self.subject_kind,
            &self.subject_id,
            &self.subject_version.to_string(),
            // Nobody is not the same as an empty id.
            &self.actor_id.as_ref().map_or_else(|| "none".to_owned(), |id| format!("person {id}")),
            &self.recorded_at.and_utc().to_rfc3339_opts(chrono::SecondsFormat::Micros, true),
            &self.state,
        ] {
            // The length goes first, so that no two contents read the same.
            hash.update((field.len() as u64).to_be_bytes());
            hash.update(field.as_bytes());
        }
        hexadecimal(&hash.finalize())
    }
}

impl Head {
    /// Puts a change behind this head and moves the head to it.
    pub(crate) fn seal(&mut self, unsealed: Unsealed) -> SealedChange {
        self.sequence += 1;
        self.chain_hash = link(&self.chain_hash, self.sequence, &unsealed.digest);
        SealedChange {
            sequence: self.sequence,
            id: unsealed.id,
            kind: unsealed.kind,
            subject_kind: unsealed.subject_kind,
            subject_id: unsealed.subject_id,
            subject_version: unsealed.subject_version,
            actor_id: unsealed.actor_id,
            recorded_at: unsealed.recorded_at,
            state: unsealed.state,
            digest: unsealed.digest,
            chain_hash: self.chain_hash.clone(),
        }
    }
}

fn link(before: &str, sequence: i64, digest: &str) -> String {
    let mut hash = Sha256::new();
    hash.update(before.as_bytes());
    hash.update(sequence.to_be_bytes());
    hash.update(digest.as_bytes());
    hexadecimal(&hash.finalize())
}

pub(crate) fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// Reads the head.
///
/// # Errors
/// A database error.
pub fn head(connection: &mut Connection) -> Result<Head> {
    Ok(chain_head::table.find(1).select((chain_head::sequence, chain_head::chain_hash)).first(connection)?)
}

/// What a walk along the chain found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verification {
    /// Changes read.
    pub changes: i64,
    /// The hash at the end.
    pub chain_hash: String,
    /// What does not fit, in words; empty when all is sound.
    pub faults: Vec<String>,
}

/// Walks the whole chain and holds every digest, number and hash against its content, and the head against the end.
///
/// # Errors
/// A database error; what does not fit is no error but a finding.
pub fn verify(connection: &mut Connection, now: DateTime<Utc>) -> Result<Verification> {
    const PAGE: i64 = 1000;
    let mut at = Head { sequence: 0, chain_hash: "0".repeat(64) };
    let mut faults = Vec::new();
    loop {
        let page: Vec<SealedChange> = changes::table
            .filter(changes::sequence.gt(at.sequence))
            .order(changes::sequence)
            .limit(PAGE)
            .select(SealedChange::as_select())
            .load(connection)?;
        let full = i64::try_from(page.len()).is_ok_and(|length| length == PAGE);
        for row in page {
            if row.sequence != at.sequence + 1 {
                faults.push(format!("change {} is missing", at.sequence + 1));
                at.sequence = row.sequence - 1;
            }
            let unsealed = Unsealed {
                id: row.id,
                kind: row.kind,
                subject_kind: row.subject_kind,
                subject_id: row.subject_id,
                subject_version: row.subject_version,
                actor_id: row.actor_id,
                recorded_at: row.recorded_at,
                state: row.state,
                digest: row.digest,
            };
            if unsealed.compute_digest() != unsealed.digest {
                faults.push(format!("change {} was altered", row.sequence));
            }
            let sealed = at.seal(unsealed);
            if sealed.chain_hash != row.chain_hash {
                faults.push(format!("change {} does not follow the one before it", row.sequence));
                // Go on from what is written, so that one break is told once.
                at.chain_hash = row.chain_hash;
            }
            if faults.len() > 100 {
                faults.push("more faults were left out".to_owned());
                return Ok(Verification { changes: at.sequence, chain_hash: at.chain_hash, faults });
            }
        }
        if !full {
            break;
        }
    }
    let head = head(connection)?;
    if head != at {
        faults.push(format!("the head says {} changes, the chain holds {}", head.sequence, at.sequence));
    }
    if let Connection::Postgres(c) = connection {
        use crate::schema::changes_pending as pending;
        let overdue: i64 = pending::table
            .filter(pending::recorded_at.lt((now - TimeDelta::seconds(60)).naive_utc()))
            .count()
            .get_result(c)
            .map_err(Error::from)?;
        if overdue > 0 {
            faults.push(format!("{overdue} changes have waited for over a minute to be sealed"));
        }
    }
    Ok(Verification { changes: at.sequence, chain_hash: at.chain_hash, faults })
}

/// A subject as one of its changes left it.
#[derive(Clone, Debug, PartialEq)]
pub struct PastState {
    /// When that change was recorded.
    pub recorded_at: DateTime<Utc>,
    /// The subject after it.
    pub state: serde_json::Value,
}

/// The state of a subject after its last change recorded at or before an instant; none before it was put on record.
///
/// # Errors
/// A database error.
pub fn state_as_of(connection: &mut Connection, subject: Uuid, at: DateTime<Utc>) -> Result<Option<PastState>> {
    use changes as c;
    let (subject, at) = (subject.to_string(), at.naive_utc());
    let sealed: Option<(i64, NaiveDateTime, String)> = c::table
        .filter(c::subject_id.eq(&subject))
        .filter(c::recorded_at.le(at))
        .order(c::subject_version.desc())
        .select((c::subject_version, c::recorded_at, c::state))
        .first(connection)
        .optional()?;
    let waiting: Option<(i64, NaiveDateTime, String)> = match connection {
        Connection::Sqlite(_) => None,
        Connection::Postgres(c) => {
            use crate::schema::changes_pending as p;
            p::table
                .filter(p::subject_id.eq(&subject))
                .filter(p::recorded_at.le(at))
                .order(p::subject_version.desc())
                .select((p::subject_version, p::recorded_at, p::state))
                .first(c)
                .optional()?
        }
    };
    let newest = sealed.into_iter().chain(waiting).max_by_key(|(version, ..)| *version);
    newest
        .map(|(_, recorded_at, state)| {
            Ok(PastState { recorded_at: recorded_at.and_utc(), state: serde_json::from_str(&state)? })
        })
        .transpose()
}
