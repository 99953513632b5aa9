//! The schema itself: the migrations, the two databases and `diesel::table!` say the same, and what goes up comes down.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod live;

use diesel::{Connection as _, PgConnection, migration::MigrationSource, pg::Pg, sqlite::Sqlite};
use dovetally_db::{Connection, constraint, migrate};
use dovetally_tests::postgres::PostgresDatabase;
use live::{Column, Schema, Table};
use std::collections::BTreeMap;

/// What PostgreSQL has beyond SQLite: there, changes wait in a table of their own until they are numbered.
const ONLY_ON_POSTGRES: &str = "changes_pending";

/// The tables as `diesel::table!` declares them: name, primary key, columns with types.
fn declared() -> BTreeMap<String, (Vec<String>, Vec<Column>)> {
    let source = include_str!("../../src/schema.rs");
    let tables = source.split("diesel::table! {").skip(1).map(|text| {
        let (head, body) = text.split_once('{').expect("a table's columns");
        let (name, key) = head.trim().trim_end_matches(')').split_once(" (").expect("a table's key");
        let columns = body.split('}').next().expect("an end").split(",\n").filter_map(|line| line.split_once(" -> "));
        let columns = columns.map(|(column, kind)| (column.trim().to_owned(), kind.trim().to_owned()));
        (name.to_owned(), (key.split(", ").map(str::to_owned).collect(), columns.collect()))
    });
    tables.collect()
}

/// What a live schema says, in the shape of what is declared.
fn shape(schema: &Schema) -> BTreeMap<String, (Vec<String>, Vec<Column>)> {
    let shape = schema.iter().map(|(name, table)| (name.clone(), (table.primary_key.clone(), table.columns.clone())));
    shape.collect()
}

/// Both databases after all migrations.
fn migrated() -> [(&'static str, Schema); 2] {
    let mut connection = Connection::Sqlite(live::sqlite_in_memory());
    migrate::migrate(&mut connection).unwrap();
    let Connection::Sqlite(sqlite) = &mut connection else { panic!("another database") };
    let sqlite = live::sqlite(sqlite);

    let database = PostgresDatabase::create();
    let mut connection = Connection::Postgres(PgConnection::establish(database.url()).unwrap());
    migrate::migrate(&mut connection).unwrap();
    let Connection::Postgres(postgres) = &mut connection else { panic!("another database") };
    [("SQLite", sqlite), ("PostgreSQL", live::postgres(postgres))]
}

#[test]
fn what_diesel_is_told_is_what_both_databases_have() {
    let declared = declared();
    assert!(declared.len() > 25, "the declarations were not read: {:?}", declared.keys());
    let [(_, sqlite), (_, postgres)] = migrated();
    assert_eq!(declared, shape(&postgres), "PostgreSQL");
    let mut on_sqlite = declared;
    assert!(on_sqlite.remove(ONLY_ON_POSTGRES).is_some(), "{ONLY_ON_POSTGRES} is declared");
    assert_eq!(on_sqlite, shape(&sqlite), "SQLite");
}

#[test]
fn both_databases_have_the_same_keys_and_indexes() {
    let [(_, sqlite), (_, mut postgres)] = migrated();
    postgres.remove(ONLY_ON_POSTGRES);
    let compared = |schema: Schema| -> BTreeMap<String, Table> {
        // Each database has names of its own for what it complains of.
        schema.into_iter().map(|(name, table)| (name, Table { names: std::iter::empty().collect(), ..table })).collect()
    };
    assert_eq!(compared(sqlite), compared(postgres));
}

#[test]
fn every_foreign_key_begins_an_index() {
    for (database, schema) in migrated() {
        let mut keys = 0;
        for (name, table) in &schema {
            for (columns, other) in &table.foreign_keys {
                keys += 1;
                // In any order, for all of a key's columns are compared; a primary key among them finds the one row.
                let indexed = columns.starts_with(&table.primary_key)
                    || table.indexes.iter().any(|index| {
                        index.len() >= columns.len()
                            && index[..columns.len()].iter().all(|column| columns.contains(column))
                    });
                assert!(indexed, "{database}: {name} ({}) references {other} without an index", columns.join(", "));
            }
        }
        assert!(keys > 50, "{database}: only {keys} foreign keys were found");
    }
}

#[test]
fn every_constraint_that_the_program_knows_exists() {
    let [(_, sqlite), (_, postgres)] = migrated();
    let known = |schema: &Schema, name: &str| schema.values().any(|table| table.names.contains(name));
    for (constraint, names) in constraint::NAMES {
        let [on_sqlite, on_postgres] = names else { panic!("{constraint:?} has other names than two: {names:?}") };
        assert!(known(&sqlite, on_sqlite), "SQLite has no {on_sqlite}");
        assert!(known(&postgres, on_postgres), "PostgreSQL has no {on_postgres}");
    }
}

#[test]
fn both_trees_have_the_same_migrations() {
    let sqlite = MigrationSource::<Sqlite>::migrations(&dovetally_migrations::SQLITE).unwrap();
    let postgres = MigrationSource::<Pg>::migrations(&dovetally_migrations::POSTGRES).unwrap();
    let sqlite: Vec<String> = sqlite.iter().map(|migration| migration.name().to_string()).collect();
    let postgres: Vec<String> = postgres.iter().map(|migration| migration.name().to_string()).collect();
    assert!(!sqlite.is_empty());
    assert_eq!(sqlite, postgres);
}

#[test]
fn what_goes_up_comes_down_and_goes_up_again_the_same() {
    let mut connection = Connection::Sqlite(live::sqlite_in_memory());
    let mut seen = Vec::new();
    for _ in 0..2 {
        migrate::migrate(&mut connection).unwrap();
        let Connection::Sqlite(sqlite) = &mut connection else { panic!("another database") };
        seen.push(live::sqlite(sqlite));
        migrate::down(&mut connection).unwrap();
        let Connection::Sqlite(sqlite) = &mut connection else { panic!("another database") };
        assert_eq!(live::sqlite(sqlite), Schema::new(), "SQLite");
    }
    assert_eq!(seen[0], seen[1], "SQLite");

    let database = PostgresDatabase::create();
    let mut connection = Connection::Postgres(PgConnection::establish(database.url()).unwrap());
    let mut seen = Vec::new();
    for _ in 0..2 {
        migrate::migrate(&mut connection).unwrap();
        let Connection::Postgres(postgres) = &mut connection else { panic!("another database") };
        seen.push(live::postgres(postgres));
        migrate::down(&mut connection).unwrap();
        let Connection::Postgres(postgres) = &mut connection else { panic!("another database") };
        assert_eq!(live::postgres(postgres), Schema::new(), "PostgreSQL");
    }
    assert_eq!(seen[0], seen[1], "PostgreSQL");
    let left = "SELECT count(*) FROM pg_class c WHERE c.relnamespace = 'public'::regnamespace
        AND c.relname NOT LIKE '\\_\\_diesel%'";
    let left: i64 = database.connect().query_one(left, &[]).unwrap().get(0);
    assert_eq!(left, 0, "sequences, views or indexes are left");
}
