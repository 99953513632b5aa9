//! What a keeper is known as.

use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{machines, people, places},
};
use diesel::prelude::*;
use dovetally_core::item::{Keeper, Whereabouts};
use std::collections::{BTreeMap, BTreeSet};

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

/// What several keepers are known as, asked for once each.
///
/// # Errors
/// A database error.
pub fn all_known_as(connection: &mut Connection, keepers: &[Keeper]) -> Result<BTreeMap<Keeper, KnownAs>> {
    let mut known = BTreeMap::new();
    let ids = |pick: fn(&Keeper) -> Option<String>| {
        let ids: BTreeSet<String> = keepers.iter().filter_map(pick).collect();
        ids.into_iter().collect::<Vec<_>>()
    };
    let place = ids(|keeper| if let Keeper::Place(id) = keeper { Some(id.to_string()) } else { None });
    let person = ids(|keeper| if let Keeper::Person(id) = keeper { Some(id.to_string()) } else { None });
    let machine = ids(|keeper| if let Keeper::Machine(id) = keeper { Some(id.to_string()) } else { None });
    if !place.is_empty() {
        let rows: Vec<(String, String, String)> = places::table
            .filter(places::id.eq_any(place))
            .select((places::id, places::code, places::kind))
            .load(connection)?;
        for (id, code, kind) in rows {
            let outside = kind == "outside";
            known.insert(Keeper::Place(columns::read(&id)?), KnownAs { key: code.clone(), name: code, outside });
        }
    }
    if !person.is_empty() {
        let rows: Vec<(String, String, String)> = people::table
            .filter(people::id.eq_any(person))
            .select((people::id, people::badge, people::name))
            .load(connection)?;
        for (id, key, name) in rows {
            known.insert(Keeper::Person(columns::read(&id)?), KnownAs { key, name, outside: false });
        }
    }
    if !machine.is_empty() {
        let rows: Vec<(String, String)> = machines::table
            .filter(machines::id.eq_any(machine))
            .select((machines::id, machines::code))
            .load(connection)?;
        for (id, code) in rows {
            let name = KnownAs { key: code.clone(), name: code, outside: false };
            known.insert(Keeper::Machine(columns::read(&id)?), name);
        }
    }
    Ok(known)
}
