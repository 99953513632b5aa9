//! People as pages name them: views of the API tell a badge, pages whose it is.

use crate::problem::Problem;
use dovetally_db::{Connection, people};
use std::collections::BTreeMap;

/// The names of those that a page names, each asked for once.
#[derive(Default)]
pub(super) struct Names(BTreeMap<String, String>);

impl Names {
    /// Puts the name in the place of a badge.
    ///
    /// # Errors
    /// A database error.
    pub(super) fn put(&mut self, connection: &mut Connection, badge: &mut String) -> Result<(), Problem> {
        if !self.0.contains_key(badge) {
            let person = people::find_by_badge(connection, badge)?;
            let name = person.map_or_else(|| badge.clone(), |person| person.fields.name);
            self.0.insert(badge.clone(), name);
        }
        if let Some(name) = self.0.get(badge) {
            badge.clone_from(name);
        }
        Ok(())
    }
}
