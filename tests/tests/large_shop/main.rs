//! A shop with ten thousand items, a million movements and fifty thousand setups: every list and answer stays quick, and
//! no statement walks through a large table.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]
#![allow(clippy::print_stdout, reason = "what was measured is to be read")]

mod asked;
mod fill;
mod plans;
mod years;

use diesel::{Connection, SqliteConnection, connection::SimpleConnection};
use dovetally_tests::server::{Backend, Server};
use fill::Dialect;
use std::time::{Duration, Instant};

/// What an answer may take, the median of some, on a machine that does nothing else.
const QUIET: Duration = Duration::from_millis(100);
/// What it may take beside other tests: enough to tell what grew out of all proportion.
const BUSY: Duration = Duration::from_secs(2);
const REPEATS: usize = 5;
/// Each connection prepares a statement the first time it runs it. A server that has been up for a day has done so: where
/// time is measured, each path is asked so often before that every one of its twelve connections has had its turn.
const WARMING: usize = 24;

/// Something on the far side of both databases, to write rows and ask for plans.
pub(crate) enum Behind {
    Sqlite(Box<SqliteConnection>),
    Postgres(Box<postgres::Client>),
}

impl Behind {
    fn of(server: &Server) -> Self {
        match server.postgres() {
            Some(database) => Self::Postgres(Box::new(database.connect())),
            None => {
                let file = server.data_folder().join("dovetally.sqlite");
                let path = file.to_str().expect("a path in UTF-8");
                Self::Sqlite(Box::new(SqliteConnection::establish(path).expect("the server's database")))
            }
        }
    }

    fn execute(&mut self, statement: &str) {
        match self {
            Self::Sqlite(connection) => {
                connection.batch_execute(statement).unwrap_or_else(|e| panic!("{statement}: {e}"))
            }
            Self::Postgres(client) => client.batch_execute(statement).unwrap_or_else(|e| panic!("{statement}: {e}")),
        }
    }
}

fn a_large_shop(backend: Backend, limit: Duration) {
    let dialect = if backend == Backend::Sqlite { Dialect::Sqlite } else { Dialect::Postgres };
    // Writing down each statement takes its time, too: where time is measured, plans are not asked for.
    let log = if limit == QUIET { "info" } else { "info,dovetally_db::statements=trace" };
    let mut server = Server::on(backend).demo().variable("DOVETALLY_LOG", log).start();
    server.stop();
    let begun = Instant::now();
    let mut behind = Behind::of(&server);
    behind.execute(dialect.before());
    behind.execute("BEGIN");
    for statement in fill::statements(dialect) {
        behind.execute(&statement);
    }
    behind.execute("COMMIT");
    behind.execute(dialect.after());
    let filled = begun.elapsed();
    server.start_again();
    let reader = server.person("supervisor");
    println!("{backend:?}: filled in {filled:.0?}; the median of {REPEATS} answers each:");
    let mut slow = Vec::new();
    for path in asked::everything(&reader) {
        let ask = || {
            let begun = Instant::now();
            let _ = reader.get(&path).send().expect(200);
            begun.elapsed()
        };
        let first = ask();
        if limit == QUIET {
            for _ in 0..WARMING {
                let _ = ask();
            }
        }
        let mut took: Vec<Duration> = (0..REPEATS).map(|_| ask()).collect();
        took.sort();
        let median = took[REPEATS / 2];
        println!("{:>9.1} ms  (first {:>6.1} ms)  {path}", median.as_secs_f64() * 1e3, first.as_secs_f64() * 1e3);
        if median > limit {
            slow.push(format!("{path}: {median:.0?}"));
        }
    }
    if limit != QUIET {
        let walks = plans::walks_through_large_tables(&mut behind, &server.log());
        assert!(walks.is_empty(), "these statements walk through large tables:\n{}", walks.join("\n"));
    }
    assert!(slow.is_empty(), "slower than {limit:?}:\n{}", slow.join("\n"));
}

#[test]
fn a_large_shop_is_answered_quickly_on_sqlite() {
    a_large_shop(Backend::Sqlite, BUSY);
}

#[test]
fn a_large_shop_is_answered_quickly_on_postgresql() {
    a_large_shop(Backend::Postgres, BUSY);
}

#[test]
#[ignore = "measures: it wants the machine for itself"]
fn every_answer_of_a_large_shop_comes_within_a_tenth_of_a_second() {
    // Both are measured, whatever the first says.
    let slow = Backend::BOTH.map(|backend| std::panic::catch_unwind(|| a_large_shop(backend, QUIET)).is_err());
    assert_eq!(slow, [false, false], "on {:?}", Backend::BOTH);
}
