//! Holders that were put on record with a plan and without a day for their first check get one on the way up.

use crate::{SHOP, back, both};
use diesel::{QueryableByName, RunQueryDsl, connection::SimpleConnection, sql_query, sql_types::Text};
use dovetally_db::{Connection, migrate};

/// The version of the migration that fills the days in.
const MIGRATION: &str = "20261129000021";

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = Text)]
    item_id: String,
}

/// The holders whose next check lies ahead.
fn ahead(connection: &mut Connection) -> Vec<String> {
    let question = sql_query("SELECT item_id FROM holders WHERE next_check > CURRENT_DATE ORDER BY item_id");
    let rows: Vec<Row> = match connection {
        Connection::Sqlite(c) => question.load(c).unwrap(),
        Connection::Postgres(c) => question.load(c).unwrap(),
    };
    rows.into_iter().map(|row| row.item_id).collect()
}

#[test]
fn a_holder_with_a_plan_gets_its_first_day() {
    for (mut connection, _server) in both() {
        back(&mut connection, MIGRATION);
        connection.batch_execute(SHOP).unwrap();
        for (item, next_check, days) in
            [("item", "NULL", "30"), ("h-2", "NULL", "NULL"), ("h-3", "'2026-01-05'", "30"), ("h-4", "NULL", "3660")]
        {
            if item != "item" {
                let put = format!(
                    "INSERT INTO codes VALUES (upper('{item}'), 'item', '{item}', FALSE);
                    INSERT INTO items VALUES ('{item}', upper('{item}'), 'holder', 'Holder', 'usable', 1, '2026-01-01 00:00:00',
                    '2026-01-01 00:00:00');"
                );
                connection.batch_execute(&put).unwrap();
            }
            let holder = format!(
                "INSERT INTO holders (item_id, kind, style, adjusters, next_check, check_interval_days)
                VALUES ('{item}', 'holder', 'DT-A', '[]', {next_check}, {days});"
            );
            connection.batch_execute(&holder).unwrap();
        }
        assert_eq!(ahead(&mut connection), Vec::<String>::new());
        migrate::migrate(&mut connection).unwrap();
        // Without a plan there is no day, and a day that was said stays, past as it is.
        assert_eq!(ahead(&mut connection), ["h-4", "item"]);
    }
}
