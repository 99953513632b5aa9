//! Whatever is changed in the stored chain is found.

use crate::shop::{Backend, Shop};
use diesel::connection::SimpleConnection;
use dovetally_db::{Connection, chain};

const ROWS: i64 = 5;

/// For each column, an expression that differs from what is stored.
const COLUMNS: [(&str, &str); 11] = [
    ("sequence", "sequence + 1000"),
    ("id", "'00000000-0000-7000-8000-000000000000'"),
    ("kind", "'dovetally.place.deleted'"),
    ("subject_kind", "'machine'"),
    ("subject_id", "'00000000-0000-7000-8000-000000000000'"),
    ("subject_version", "subject_version + 1"),
    ("actor_id", "'00000000-0000-7000-8000-000000000000'"),
    ("recorded_at", "'2026-01-01 00:00:00.000001'"),
    ("state", "'{\"code\":\"OTHER\"}'"),
    ("digest", "'0000000000000000000000000000000000000000000000000000000000000000'"),
    ("chain_hash", "'0000000000000000000000000000000000000000000000000000000000000000'"),
];

/// What somebody with the database's keys in hand might try.
fn attempts() -> Vec<(String, String)> {
    let mut attempts = Vec::new();
    for (column, value) in COLUMNS {
        for row in [1, 3, ROWS] {
            let statement = format!("UPDATE changes SET {column} = {value} WHERE sequence = {row}");
            attempts.push((format!("{column} of row {row}"), statement));
        }
    }
    for row in [1, 3, ROWS] {
        attempts.push((format!("row {row} deleted"), format!("DELETE FROM changes WHERE sequence = {row}")));
    }
    let closed_up = "DELETE FROM changes WHERE sequence = 3; UPDATE changes SET sequence = sequence - 1 WHERE sequence = 4; \
                     UPDATE changes SET sequence = sequence - 1 WHERE sequence = 5";
    let swapped = "UPDATE changes SET sequence = 1000 WHERE sequence = 2; \
                   UPDATE changes SET sequence = 2 WHERE sequence = 4; \
                   UPDATE changes SET sequence = 4 WHERE sequence = 1000";
    let added = format!(
        "INSERT INTO changes SELECT {}, 'other', kind, subject_kind, 'other', subject_version, actor_id, recorded_at, \
         state, digest, chain_hash FROM changes WHERE sequence = {ROWS}",
        ROWS + 1
    );
    let all = "DELETE FROM changes";
    for (what, statement) in [
        ("a row deleted and the gap closed", closed_up),
        ("two rows swapped", swapped),
        ("a row added at the end", &added),
        ("all rows deleted", all),
        ("the head's number", "UPDATE chain_head SET sequence = sequence - 1"),
        ("the head's hash", "UPDATE chain_head SET chain_hash = digest FROM changes WHERE changes.sequence = 1"),
    ] {
        attempts.push((what.to_owned(), statement.to_owned()));
    }
    attempts
}

#[test]
fn every_column_every_deletion_and_every_swap_is_found() {
    for backend in Backend::BOTH {
        let shop = Shop::open(backend);
        for number in 1..=ROWS {
            shop.put(&format!("PLACE-{number}")).unwrap();
        }
        assert_eq!(shop.sealed(ROWS).faults, Vec::<String>::new());
        let now = shop.database.now();
        let mut connection = shop.database.url().connect().unwrap();
        // Whoever tampers does not stop at a foreign key either.
        let unguarded = match &connection {
            Connection::Sqlite(_) => "PRAGMA foreign_keys = OFF",
            Connection::Postgres(_) => "SET session_replication_role = replica",
        };
        connection.batch_execute(unguarded).unwrap();
        for (what, statement) in attempts() {
            connection.batch_execute("BEGIN").unwrap();
            connection.batch_execute(&statement).unwrap_or_else(|error| panic!("{what}: {error}"));
            let found = chain::verify(&mut connection, now).unwrap();
            connection.batch_execute("ROLLBACK").unwrap();
            assert!(!found.faults.is_empty(), "{backend:?}: {what} was not found");
        }
        assert_eq!(chain::verify(&mut connection, now).unwrap().faults, Vec::<String>::new());
        shop.put("LATER").unwrap();
        assert_eq!(shop.sealed(ROWS + 1).faults, Vec::<String>::new());
    }
}
