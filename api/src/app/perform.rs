//! The frame around every write: idempotency, dry run, the transaction, and how its outcome is answered.
//!
//! The idempotency record is part of the same transaction as the work, so that one key has one effect whatever happens
//! between the commit and the answer. A dry run goes through the same closure and is rolled back.

use crate::{
    conditional::ETag,
    extract::WriteOptions,
    principal::{Guarded, Principal},
    problem::Problem,
};
use actix_web::{
    HttpResponse,
    http::{StatusCode, header},
};
use dovetally_db::{
    Error, Tx, WriteMode,
    idempotency::{self, KeyScope, StoredAnswer, Taken},
};
use serde::{Deserialize, Serialize, de::DeserializeOwned};
use utoipa::ToSchema;

/// What a use case answers with.
#[derive(Clone, Debug)]
pub struct Done {
    status: StatusCode,
    location: Option<String>,
    body: Option<String>,
}

impl Done {
    /// 201 with the new thing and where it is.
    ///
    /// # Errors
    /// 500 when it cannot be shown as JSON.
    pub fn created<T: Serialize>(view: &T, location: impl Into<String>) -> Result<Self, Problem> {
        Ok(Self { status: StatusCode::CREATED, location: Some(location.into()), body: Some(text(view)?) })
    }

    /// 200 with the thing as it is now.
    ///
    /// # Errors
    /// 500 when it cannot be shown as JSON.
    pub fn ok<T: Serialize>(view: &T) -> Result<Self, Problem> {
        Ok(Self { status: StatusCode::OK, location: None, body: Some(text(view)?) })
    }

    /// What it answers with, read again: for a use case that is part of a larger one.
    ///
    /// # Errors
    /// 500 when it does not read as that.
    pub(crate) fn read<T: DeserializeOwned>(&self) -> Result<T, Problem> {
        serde_json::from_str(self.body.as_deref().unwrap_or_default()).map_err(Problem::internal)
    }

    /// 204.
    #[must_use]
    pub const fn nothing_to_say() -> Self {
        Self { status: StatusCode::NO_CONTENT, location: None, body: None }
    }
}

fn text<T: Serialize>(view: &T) -> Result<String, Problem> {
    serde_json::to_string(view).map_err(Problem::internal)
}

#[derive(Serialize, Deserialize)]
struct StoredHeaders {
    location: Option<String>,
}

/// What a dry run answers.
#[derive(Debug, Serialize, ToSchema)]
pub struct Rehearsal {
    /// What the same request would do now.
    pub would: Would,
}

/// What a request would do.
#[derive(Debug, Serialize, ToSchema)]
pub struct Would {
    /// The status it would be answered with.
    #[schema(example = 201)]
    pub status: u16,
    /// The changes it would record.
    pub changes: Vec<WouldChange>,
}

/// One change that a request would record.
#[derive(Debug, Serialize, ToSchema)]
pub struct WouldChange {
    /// `dovetally.<resource>.<past participle>`.
    #[serde(rename = "type")]
    #[schema(example = "dovetally.movement.recorded")]
    pub kind: String,
    /// The resource.
    #[schema(example = "movement")]
    pub subject: String,
}

enum Outcome {
    Done(Done),
    Rehearsed(Done, Vec<WouldChange>),
}

impl<A> Guarded<A> {
    /// Runs a use case for this request. `body` is the body as it came: with the query it is the fingerprint by which
    /// a repeated request is known.
    ///
    /// # Errors
    /// The use case's own problem; 400 for a client that sends no key; 409 and 422 for a key in use.
    pub async fn perform<Q, F>(
        &self,
        options: &WriteOptions<Q>,
        body: &[u8],
        use_case: F,
    ) -> Result<HttpResponse, Problem>
    where
        F: Fn(&mut Tx<'_>, &Principal) -> Result<Done, Problem> + Send + 'static,
    {
        match self.settle(options, body, use_case).await? {
            Outcome::Done(done) => Ok(answer(done)),
            Outcome::Rehearsed(done, changes) => Ok(HttpResponse::Ok()
                .insert_header((header::CACHE_CONTROL, "no-store"))
                .json(Rehearsal { would: Would { status: done.status.as_u16(), changes } })),
        }
    }

    /// Runs a use case for a page: the same frame, and what it tells comes back as it is. A repeated request gets what
    /// the first one got.
    ///
    /// # Errors
    /// As [`Guarded::perform`]; 500 when what is told does not survive being stored.
    pub async fn perform_told<T, F>(&self, options: &WriteOptions, body: &[u8], use_case: F) -> Result<T, Problem>
    where
        T: Serialize + DeserializeOwned,
        F: Fn(&mut Tx<'_>, &Principal) -> Result<T, Problem> + Send + 'static,
    {
        let told = self.settle(options, body, move |tx, who| Done::ok(&use_case(tx, who)?)).await?;
        let (Outcome::Done(done) | Outcome::Rehearsed(done, _)) = told;
        done.read()
    }

    async fn settle<Q, F>(&self, options: &WriteOptions<Q>, body: &[u8], use_case: F) -> Result<Outcome, Problem>
    where
        F: Fn(&mut Tx<'_>, &Principal) -> Result<Done, Problem> + Send + 'static,
    {
        if self.who.is_integration() {
            options.require_key()?;
        }
        let rehearse = options.validate_only;
        let key = options.idempotency_key.as_ref().filter(|_| !rehearse);
        let key = key.map(|key| {
            let scope = KeyScope {
                principal: self.who.person.to_string(),
                method: options.method.to_string(),
                path: options.path.clone(),
                key: key.as_str().to_owned(),
            };
            (scope, hexadecimal(options.fingerprint(body).bytes()))
        });
        let who = self.who.clone();
        let mode = if rehearse { WriteMode::Rehearse } else { WriteMode::Keep };
        self.database()
            .write(mode, move |tx| {
                if let Some((scope, fingerprint)) = &key {
                    let now = tx.now();
                    match idempotency::take(tx.connection(), scope, fingerprint, now).map_err(in_progress)? {
                        Taken::New => {}
                        Taken::Before(answer) => return Ok(Outcome::Done(replayed(answer)?)),
                        Taken::OtherRequest => return Err(Problem::idempotency_key_reused()),
                    }
                }
                let done = use_case(tx, &who)?;
                if let Some((scope, _)) = &key {
                    idempotency::store(tx.connection(), scope, &stored(&done)?)?;
                }
                if rehearse {
                    let changes = tx.changes().iter().map(|change| WouldChange {
                        kind: change.kind.to_owned(),
                        subject: change.subject_kind.to_owned(),
                    });
                    return Ok(Outcome::Rehearsed(done, changes.collect()));
                }
                Ok(Outcome::Done(done))
            })
            .await
    }
}

/// A duplicate that waited for the first one until the lock's time-out is told to come back.
fn in_progress(error: Error) -> Problem {
    match error {
        Error::Busy(_) => Problem::idempotency_key_in_progress(1).because(error),
        other => other.into(),
    }
}

fn stored(done: &Done) -> Result<StoredAnswer, Problem> {
    Ok(StoredAnswer {
        status: done.status.as_u16(),
        headers: text(&StoredHeaders { location: done.location.clone() })?,
        body: done.body.clone().unwrap_or_default(),
    })
}

fn replayed(answer: StoredAnswer) -> Result<Done, Problem> {
    let headers: StoredHeaders = serde_json::from_str(&answer.headers).map_err(Problem::internal)?;
    Ok(Done {
        status: StatusCode::from_u16(answer.status).map_err(Problem::internal)?,
        location: headers.location,
        body: Some(answer.body).filter(|body| !body.is_empty()),
    })
}

fn answer(done: Done) -> HttpResponse {
    let mut response = HttpResponse::build(done.status);
    if let Some(location) = done.location {
        response.insert_header((header::LOCATION, location));
    }
    match done.body {
        None => response.finish(),
        Some(body) => response
            .insert_header((header::ETAG, ETag::of(body.as_bytes()).to_string()))
            .insert_header((header::CACHE_CONTROL, "private, no-cache"))
            .insert_header(header::ContentType::json())
            .body(body),
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
