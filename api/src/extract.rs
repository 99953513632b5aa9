//! What a handler's signature may ask of a request. Everything is parsed here, and what does not parse is answered with
//! a problem that names the place; no handler sees a malformed request.
//!
//! Query fields are claimed by exactly one extractor of a handler: [`Query`] for plain reads, [`crate::page::Paging`] for
//! lists, [`WriteOptions`] for writes. Each takes the fields that belong to it and gives the rest to its type parameter;
//! a field that is left over is unknown, and refused.

mod body;
mod entity_tags;
mod fault;
mod idempotency;
mod json;
mod merge_patch;
mod objects;

mod query;
mod segments;
mod write_options;

pub use body::MAX_BODY;
pub use entity_tags::{IfMatch, IfNoneMatch};
pub use idempotency::{Fingerprint, IdempotencyKey};
pub use json::Json;
pub use merge_patch::{MERGE_PATCH, MergePatch, apply};
pub use query::{NoFields, Query};
pub use segments::{Reference, Segments};
pub use write_options::WriteOptions;

pub(crate) use body::read as read_body;
pub(crate) use fault::{from_value, unfit};
pub(crate) use query::{claim, fields, rest};
