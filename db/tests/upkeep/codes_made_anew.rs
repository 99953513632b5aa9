//! The table of codes is made anew to take plans and supplies: no code is lost on the way up or down, and what refers to
//! one goes on doing so.

use crate::{back, both};
use diesel::{
    QueryableByName, RunQueryDsl,
    connection::SimpleConnection,
    sql_query,
    sql_types::{Bool, Text},
};
use dovetally_db::{Connection, migrate};

/// The version of the migration that makes it anew.
const MIGRATION: &str = "20261125000007";

#[derive(Debug, PartialEq, Eq, QueryableByName)]
struct CodeRow {
    #[diesel(sql_type = Text)]
    code: String,
    #[diesel(sql_type = Text)]
    subject_kind: String,
    #[diesel(sql_type = Bool)]
    alias: bool,
}

fn codes(connection: &mut Connection) -> Vec<(String, String, bool)> {
    let question = sql_query("SELECT code, subject_kind, alias FROM codes ORDER BY code");
    let rows: Vec<CodeRow> = match connection {
        Connection::Sqlite(c) => question.load(c).unwrap(),
        Connection::Postgres(c) => question.load(c).unwrap(),
    };
    rows.into_iter().map(|row| (row.code, row.subject_kind, row.alias)).collect()
}

fn owned(rows: &[(&str, &str, bool)]) -> Vec<(String, String, bool)> {
    rows.iter().map(|(code, kind, alias)| ((*code).to_owned(), (*kind).to_owned(), *alias)).collect()
}

#[test]
fn codes_survive_the_way_up_and_down() {
    for (mut connection, _server) in both() {
        let place = "INSERT INTO codes VALUES ('BIN-1', 'place', 'a', FALSE), ('BIN-0', 'place', 'a', TRUE);
            INSERT INTO places VALUES ('a', 'BIN-1', 'Bin', 'bin', FALSE, 1, '2026-01-01 00:00:00', '2026-01-01 00:00:00');";
        let supply = |code: &str| {
            format!(
                "INSERT INTO codes VALUES ('{code}', 'supply', 'id-{code}', FALSE);
                INSERT INTO supplies VALUES ('id-{code}', '{code}', 'Oil', 'litre', 1, 1, 1, 'a', FALSE, 0, 0, 1,
                '2026-01-01 00:00:00', '2026-01-01 00:00:00');"
            )
        };
        // Begun before there were supplies, as a shop's own database was.
        back(&mut connection, MIGRATION);
        connection.batch_execute(place).unwrap();
        connection.batch_execute("INSERT INTO codes VALUES ('S-0', 'supply', 's', FALSE)").unwrap_err();
        migrate::migrate(&mut connection).unwrap();
        let as_before = [("BIN-0", "place", true), ("BIN-1", "place", false)];
        assert_eq!(codes(&mut connection), owned(&as_before));
        connection.batch_execute(&supply("S-1")).unwrap();
        // What refers to a code holds it still, and a code that is not there is not referred to.
        connection.batch_execute("DELETE FROM codes WHERE code = 'BIN-1'").unwrap_err();
        connection.batch_execute("UPDATE places SET code = 'BIN-9'").unwrap_err();

        back(&mut connection, MIGRATION);
        let with_removed = [as_before[0], as_before[1], ("S-1", "removed", true)];
        assert_eq!(codes(&mut connection), owned(&with_removed), "a supply's code stays taken");
        connection.batch_execute("DELETE FROM codes WHERE code = 'BIN-1'").unwrap_err();
        migrate::migrate(&mut connection).unwrap();
        assert_eq!(codes(&mut connection), owned(&with_removed));
        connection.batch_execute(&supply("S-1")).unwrap_err();
        connection.batch_execute(&supply("S-2")).unwrap();
        connection.batch_execute("DELETE FROM codes WHERE code = 'S-2'").unwrap_err();
    }
}

/// What the migration rests on: what lost its code on the way fails the commit, and all is as it was.
#[test]
fn sqlite_holds_what_refers_to_a_code_to_it_at_the_commit() {
    let [(mut connection, _), _] = both();
    connection
        .batch_execute(
            "INSERT INTO codes VALUES ('KEPT', 'place', 'a', FALSE);
            INSERT INTO places VALUES ('a', 'KEPT', 'Bin', 'bin', FALSE, 1, '2026-01-01 00:00:00', '2026-01-01 00:00:00');
            BEGIN; PRAGMA defer_foreign_keys = ON;
            CREATE TABLE codes_before AS SELECT * FROM codes; DROP TABLE codes;
            CREATE TABLE codes (code TEXT PRIMARY KEY NOT NULL, subject_kind TEXT, subject_id TEXT, alias BOOLEAN);
            INSERT INTO codes SELECT * FROM codes_before WHERE code <> 'KEPT';",
        )
        .unwrap();
    connection.batch_execute("COMMIT").unwrap_err();
    connection.batch_execute("ROLLBACK").unwrap();
    assert_eq!(codes(&mut connection), owned(&[("KEPT", "place", false)]));
}
