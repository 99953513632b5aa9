//! What a page's handler asks of a request: who visits and under which permission, and what a form sent.

use super::frame::Frame;
use crate::{
    extract::{IdempotencyKey, MAX_BODY, WriteOptions, read_body},
    principal::{Asks, Guarded, Principal, let_in, service},
    problem::{Place, Problem, ProblemCode},
};
use actix_web::{FromRequest, HttpRequest, dev::Payload};
use dovetally_db::{Connection, Tx};
use serde::{Serialize, de::DeserializeOwned};
use std::{
    future::{Future, Ready, ready},
    pin::Pin,
};

/// A visit by somebody who is signed in and may what `A` asks. Without a session the browser is led to sign in and back.
#[derive(Clone)]
pub struct Visit<A> {
    /// The way to the database.
    pub guarded: Guarded<A>,
    /// What the template needs.
    pub frame: Frame,
}

impl<A: Asks> FromRequest for Visit<A> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        // The frame first: whoever is let in is taken out of the request.
        let frame = Frame::of(request);
        ready(let_in(request).map(|guarded| {
            super::problems::remember(request, &guarded.who);
            Self { guarded, frame }
        }))
    }
}

impl<A> Visit<A> {
    /// Whoever visits.
    #[must_use]
    pub const fn who(&self) -> &Principal {
        &self.guarded.who
    }

    /// Reads from the database.
    ///
    /// # Errors
    /// What the reading says.
    pub async fn read<T, F>(&self, reading: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: FnOnce(&mut Connection) -> Result<T, Problem> + Send + 'static,
    {
        self.guarded.database().read(reading).await
    }

    /// Runs a use case for a form that was sent: the same frame as the API's writes. The same form sent twice is told the
    /// same and does its work once.
    ///
    /// # Errors
    /// What the use case says; 422 for a key that came with another form.
    pub async fn perform<T, F, D>(&self, sent: &Sent<T>, use_case: F) -> Result<D, Problem>
    where
        D: Serialize + DeserializeOwned,
        F: Fn(&mut Tx<'_>, &Principal) -> Result<D, Problem> + Send + 'static,
    {
        self.guarded.perform_told(&sent.options, &sent.bytes, use_case).await
    }
}

/// A form that one of our own pages sent. `T` has a `String` for each field, as it was typed, so that a page can show it
/// again; what is unknown is refused.
#[derive(Clone, Debug)]
pub struct Sent<T> {
    /// What was typed and chosen.
    pub form: T,
    options: WriteOptions,
    bytes: Vec<u8>,
}

impl<T> Sent<T> {
    /// How it is to be done, and the form as it came: for use cases that begin before their transaction.
    #[must_use]
    pub(crate) fn request(&self) -> (WriteOptions, &[u8]) {
        (self.options.clone(), &self.bytes)
    }
}

impl<T: DeserializeOwned> Sent<T> {
    async fn of(request: HttpRequest, payload: Payload) -> Result<Self, Problem> {
        service(&request)?.browsers().same_origin(&request)?;
        let header = IdempotencyKey::of(&request)?;
        let bytes = read_body(request.clone(), payload, MAX_BODY).await?;
        let mut pairs: Vec<(String, String)> = serde_urlencoded::from_bytes(&bytes)
            .map_err(|error| Problem::field("", "the form could not be read").because(error))?;
        let key = pairs.iter().position(|(name, _)| name == "key").map(|at| pairs.remove(at).1);
        // In the header by scripts; in the form without them.
        let key = match (header, key.filter(|key| !key.is_empty())) {
            (Some(key), _) => Some(key),
            (None, Some(key)) => Some(IdempotencyKey::parse(&key)?),
            (None, None) => None,
        };
        let form = serde_urlencoded::to_string(&pairs).map_err(Problem::internal)?;
        let form = serde_urlencoded::from_str(&form)
            .map_err(|error| Problem::field("", "the form is not this page's: load the page again").because(error))?;
        Ok(Self { form, options: WriteOptions::of_form(&request, key), bytes: bytes.to_vec() })
    }
}

impl<T: DeserializeOwned + 'static> FromRequest for Sent<T> {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        Box::pin(Self::of(request.clone(), payload.take()))
    }
}

/// What a form holds that cannot be, field by field: for the summary at the top and the words beside each field.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Faults(Vec<(String, String)>);

impl Faults {
    /// Notes what is wrong with a field, named as its control's id.
    pub fn add(&mut self, field: impl Into<String>, words: impl std::fmt::Display) {
        self.0.push((field.into(), words.to_string()));
    }

    /// Takes what was read of a field, or notes what is wrong with it.
    pub fn read<T, E>(
        &mut self,
        field: impl Into<String>,
        read: Result<T, E>,
        words: impl FnOnce(E) -> String,
    ) -> Option<T> {
        match read {
            Ok(value) => Some(value),
            Err(fault) => {
                self.0.push((field.into(), words(fault)));
                None
            }
        }
    }

    /// What a use case found wrong with a form, each fault beside its control: `fields` says which control a pointer into the
    /// body is, the first of them takes what belongs to none.
    ///
    /// # Errors
    /// The problem itself where it is no word about the form.
    pub fn of_problem(frame: &Frame, problem: Problem, fields: &[(&str, &'static str)]) -> Result<Self, Problem> {
        let mut faults = Self::default();
        if matches!(problem.code(), ProblemCode::InvalidField | ProblemCode::CodeTaken) {
            for fault in problem.faults() {
                let Place::Pointer(pointer) = &fault.place else { continue };
                let known = fields.iter().find(|(known, _)| pointer.starts_with(known)).or(fields.first());
                if let Some((_, field)) = known {
                    faults.add(*field, frame.told(&fault.detail));
                }
            }
        }
        if faults.is_empty() { Err(problem) } else { Ok(faults) }
    }

    /// Whether the form is in order.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// All, in the order of the fields.
    #[must_use]
    pub fn all(&self) -> &[(String, String)] {
        &self.0
    }

    /// What is wrong with one field; empty when nothing is.
    #[must_use]
    pub fn of(&self, field: &str) -> &str {
        self.0.iter().find(|(name, _)| name == field).map_or("", |(_, words)| words)
    }
}
