//! What a keeper is known as.

use crate::{
    connection::Connection,
    error::Result,
    schema::{machines, people, places},
};
use diesel::prelude::*;
use dovetally_core::item::{Keeper, Whereabouts};

/// The name that people know a keeper by: a place's or machine's code, a person's name.
///
/// # Errors
/// A database error.
pub fn whereabouts(connection: &mut Connection, keeper: Keeper) -> Result<Whereabouts> {
    let known = known_as(connection, keeper)?;
    Ok(Whereabouts { keeper, name: known.name, outside: known.outside })
}

/// What a keeper is known as.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownAs {
    /// What is typed and scanned: a place's or machine's code, a person's badge.
    pub key: String,
    /// What is said: a place's or machine's code, a person's name.
    pub name: String,
    /// Whether it is a place outside the shop.
    pub outside: bool,
}

/// What a keeper is known as.
///
/// # Errors
/// A database error.
pub fn known_as(connection: &mut Connection, keeper: Keeper) -> Result<KnownAs> {
    Ok(match keeper {
        Keeper::Place(id) => {
            let (code, kind): (String, String) =
                places::table.find(id.to_string()).select((places::code, places::kind)).first(connection)?;
            KnownAs { key: code.clone(), name: code, outside: kind == "outside" }
        }
        Keeper::Person(id) => {
            let (badge, name): (String, String) =
                people::table.find(id.to_string()).select((people::badge, people::name)).first(connection)?;
            KnownAs { key: badge, name, outside: false }
        }
        Keeper::Machine(id) => {
            let code: String = machines::table.find(id.to_string()).select(machines::code).first(connection)?;
            KnownAs { key: code.clone(), name: code, outside: false }
        }
    })
}
