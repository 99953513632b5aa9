//! People on the wire. Secrets go in, and come out only once: when the server made them.

use super::schema::RoleSchema;
use chrono::{DateTime, Utc};
use dovetally_core::{
    people::Role,
    registry::person::{Person, PersonFields},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// What is written to put a person on record. It holds a secret and so does not show itself.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"badge": "setter-3", "name": "Third setter", "roles": ["setter"]}))]
pub struct NewPerson {
    /// What they sign in with. It keeps its case and does not change.
    #[schema(min_length = 1, max_length = 64, example = "setter-3")]
    pub badge: String,
    /// The name people know them by.
    #[schema(min_length = 1, max_length = 200, example = "Third setter")]
    pub name: String,
    /// Their roles, each once.
    #[schema(value_type = Vec<RoleSchema>, min_items = 1)]
    pub roles: Vec<Role>,
    /// Their secret; left out, the server makes one and answers it this once.
    #[serde(default)]
    #[schema(required = false, format = Password, min_length = 8, max_length = 128)]
    pub secret: Option<String>,
}

/// What can be changed about a person.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Third setter", "roles": ["setter"], "disabled": true}))]
pub struct PersonChange {
    /// The name people know them by.
    #[schema(min_length = 1, max_length = 200, example = "Third setter")]
    pub name: String,
    /// Their roles, each once.
    #[schema(value_type = Vec<RoleSchema>, min_items = 1)]
    pub roles: Vec<Role>,
    /// Whether they may no longer sign in. Disabling ends all their sessions.
    #[serde(default)]
    pub disabled: bool,
}

/// A new secret. It does not show itself.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({}))]
pub struct NewSecret {
    /// The secret; left out, the server makes one and answers it this once.
    #[serde(default)]
    #[schema(required = false, format = Password, min_length = 8, max_length = 128)]
    pub secret: Option<String>,
}

/// A person on record.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[schema(example = json!({
    "id": "01980a5d-ac96-774b-bcce-b302099a8057", "badge": "setter-3", "name": "Third setter", "roles": ["setter"],
    "disabled": false, "created_at": "2026-01-05T07:00:00Z", "updated_at": "2026-01-05T07:00:00Z"
}))]
pub struct PersonView {
    /// Their id.
    pub id: Uuid,
    /// What they sign in with.
    #[schema(example = "setter-3")]
    pub badge: String,
    /// The name people know them by.
    #[schema(example = "Third setter")]
    pub name: String,
    /// Their roles.
    #[schema(value_type = Vec<RoleSchema>)]
    pub roles: Vec<Role>,
    /// Whether they may no longer sign in.
    pub disabled: bool,
    /// When they were put on record.
    pub created_at: DateTime<Utc>,
    /// When the record was last changed.
    pub updated_at: DateTime<Utc>,
}

/// A person on record, with the secret that was made for them.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
pub struct PersonWithSecret {
    /// The person.
    #[serde(flatten)]
    pub person: PersonView,
    /// The secret, if the server made it. It is stored only as a hash and cannot be read again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(required = false, example = "7kdm-q2wx-bt9n-HGs4-zr6v")]
    pub secret: Option<String>,
}

impl PersonChange {
    /// The trade's fields; roles in their own order, as they are read.
    #[must_use]
    pub fn fields(&self) -> PersonFields {
        let mut roles = self.roles.clone();
        roles.sort_unstable();
        PersonFields { name: self.name.clone(), roles, disabled: self.disabled }
    }
}

impl From<&Person> for PersonChange {
    fn from(person: &Person) -> Self {
        let fields = &person.fields;
        Self { name: fields.name.clone(), roles: fields.roles.clone(), disabled: fields.disabled }
    }
}

impl From<&Person> for PersonView {
    fn from(person: &Person) -> Self {
        Self {
            id: person.id.uuid(),
            badge: person.badge.clone(),
            name: person.fields.name.clone(),
            roles: person.fields.roles.clone(),
            disabled: person.fields.disabled,
            created_at: person.created_at,
            updated_at: person.updated_at,
        }
    }
}
