//! People and integration clients.

use crate::{
    field_error::{FieldError, FieldErrors},
    ids::PersonId,
    people::Role,
};
use chrono::{DateTime, Utc};

/// What an administrator writes about a person.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PersonFields {
    /// The name people know them by.
    pub name: String,
    /// Their roles, each once.
    pub roles: Vec<Role>,
    /// Whether they may no longer sign in; their tokens are dead within a second.
    pub disabled: bool,
}

/// A person on record, without the secret.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Person {
    /// Their id.
    pub id: PersonId,
    /// Their badge's text; it keeps its case.
    pub badge: String,
    /// What is written about them.
    pub fields: PersonFields,
    /// Raised with every change.
    pub version: i64,
    /// When they were put on record.
    pub created_at: DateTime<Utc>,
    /// When the record was last changed.
    pub updated_at: DateTime<Utc>,
}

impl PersonFields {
    /// Everything that cannot be.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require_text(&self.name, 200, "/name");
        let mut roles = self.roles.clone();
        roles.sort_unstable();
        roles.dedup();
        errors.require(roles.len() == self.roles.len(), "/roles", "name each role once");
        errors.require(!roles.is_empty(), "/roles", "needs at least one role");
        errors.require(
            !roles.contains(&Role::Integration) || roles.len() == 1,
            "/roles",
            "integration is for programs and goes with no other role",
        );
        errors.into_vec()
    }
}

/// Faults of a badge's text.
#[must_use]
pub fn check_badge(badge: &str) -> Vec<FieldError> {
    let mut errors = FieldErrors::default();
    errors.require_text(badge, 64, "/badge");
    errors.require(badge.trim() == badge, "/badge", "must not begin or end with white space");
    errors.into_vec()
}
