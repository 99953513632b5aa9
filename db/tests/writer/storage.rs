//! A full disk, a commit that fails, a connection that goes: nobody is told that something is stored which is not, and
//! writing goes on afterwards on the same handle.

use crate::shop::{Backend, Queued, Shop, put};
use diesel::{
    QueryableByName, RunQueryDsl,
    connection::SimpleConnection,
    dsl::sql,
    sql_query,
    sql_types::{BigInt, Integer},
};
use dovetally_db::{Connection, Error, Result, Tx, WriteMode};
use std::sync::Barrier;

#[derive(QueryableByName)]
struct Pages {
    #[diesel(sql_type = BigInt)]
    page_count: i64,
}

/// Lets the database file grow by this many pages and no further, as the end of a disk does: SQLite answers the same.
fn leave_pages(shop: &Shop, pages: i64) {
    let limit = move |tx: &mut Tx<'_>| {
        let now: Pages = sql_query("SELECT page_count FROM pragma_page_count").get_result(tx.connection())?;
        tx.connection().batch_execute(&format!("PRAGMA max_page_count = {}", now.page_count + pages))?;
        Ok::<_, Error>(())
    };
    shop.database.write_blocking(WriteMode::Keep, limit).unwrap();
}

/// A write and what it is told, which must be what became of it: stored, or no room.
fn is_true(shop: &Shop, code: &str, answer: &Result<()>) -> bool {
    let stored = shop.stored().iter().any(|stored| stored == code);
    match answer {
        Ok(()) => stored,
        Err(Error::StorageFull(_)) => !stored,
        Err(_) => false,
    }
}

#[test]
fn a_full_disk_is_told_to_those_whose_work_it_undid_and_writing_goes_on_when_there_is_room() {
    let shop = Shop::open(Backend::Sqlite);
    leave_pages(&shop, 16);
    let large = |tx: &mut Tx<'_>| put(tx, "LARGE", &"long ".repeat(200_000));
    let held = shop.hold_writer();
    let before = Queued::new(&shop.database, WriteMode::Keep, |tx| put(tx, "SMALL-1", "a place"));
    let full = Queued::new(&shop.database, WriteMode::Keep, large);
    let after = Queued::new(&shop.database, WriteMode::Keep, |tx| put(tx, "SMALL-2", "a place"));
    // It stores nothing, so that nothing it could be told is untrue.
    let _ = held.let_go();
    let answer = full.answer();
    assert!(matches!(&answer, Err(Error::StorageFull(_))) && is_true(&shop, "LARGE", &answer), "{answer:?}");
    // SQLite may give up the whole transaction at a full disk, and with it the neighbours' work.
    for (code, answer) in [("SMALL-1", before.answer()), ("SMALL-2", after.answer())] {
        assert!(is_true(&shop, code, &answer), "{code}: {answer:?}");
        if answer.is_err() {
            shop.put(code).unwrap();
        }
    }
    shop.holds(&["SMALL-1", "SMALL-2"]);

    // No room for anything at all: small writes are refused too, as soon as they need a page, and reading goes on.
    leave_pages(&shop, 0);
    let mut expected = vec!["SMALL-1".to_owned(), "SMALL-2".to_owned()];
    let refused = (0..200).find_map(|number| {
        let code = format!("FILL-{number:03}");
        match shop.put(&code) {
            Ok(()) => {
                expected.push(code);
                None
            }
            Err(error) => Some(error),
        }
    });
    assert!(matches!(&refused, Some(Error::StorageFull(_))), "{refused:?}");
    let expected: Vec<&str> = expected.iter().map(String::as_str).collect();
    shop.holds(&expected);

    leave_pages(&shop, 1_000_000);
    shop.database.write_blocking(WriteMode::Keep, large).unwrap();
    shop.holds(&[&expected[..], &["LARGE"]].concat());
}

#[test]
fn a_commit_that_fails_is_told_to_all_who_shared_it() {
    // Only SQLite commits several use cases together.
    let shop = Shop::open(Backend::Sqlite);
    let mut shared = false;
    // Whether the two fall in the same batch is a matter of time: a few tries are enough. What the neighbour is told is
    // true either way.
    for number in 0..20 {
        let code = format!("PLACE-{number}");
        let held = shop.hold_writer();
        let neighbour = {
            let code = code.clone();
            Queued::new(&shop.database, WriteMode::Keep, move |tx| put(tx, &code, "a place"))
        };
        let spoils = Queued::new(&shop.database, WriteMode::Keep, |tx| {
            // A place whose code is not there, which the database notices at COMMIT only.
            tx.connection().batch_execute(
                "PRAGMA defer_foreign_keys = ON; INSERT INTO places \
                 VALUES ('p', 'NO-CODE', 'a place', 'bin', FALSE, 1, '2026-01-01 00:00:00', '2026-01-01 00:00:00')",
            )?;
            Ok::<_, Error>(())
        });
        let _ = held.let_go();
        let neighbour = neighbour.answer();
        assert!(spoils.answer().is_err());
        assert_eq!(neighbour.is_ok(), shop.stored().contains(&code), "{neighbour:?}");
        if neighbour.is_err() {
            shared = true;
            shop.put(&code).unwrap();
            break;
        }
    }
    assert!(shared, "in no try did the two share a transaction");
    let stored = shop.stored();
    shop.holds(&stored.iter().map(String::as_str).collect::<Vec<_>>());
}

#[test]
fn a_connection_that_is_cut_stores_nothing_and_is_replaced() {
    let shop = Shop::open_with(Backend::Postgres, |options| options.connections = 1);
    shop.put("BEFORE").unwrap();
    let cut: Result<()> = shop.database.write_blocking(WriteMode::Keep, |tx| {
        put(tx, "CUT", "a place")?;
        tx.connection().batch_execute("SELECT pg_terminate_backend(pg_backend_pid())")?;
        Ok(())
    });
    assert!(matches!(&cut, Err(Error::Storage(_))), "{cut:?}");
    shop.holds(&["BEFORE"]);
    shop.put("CUT").unwrap();
    shop.holds(&["BEFORE", "CUT"]);
}

/// The server's number for this connection.
fn number_of(connection: &mut Connection) -> Result<i32> {
    let Connection::Postgres(connection) = connection else { panic!("on PostgreSQL only") };
    Ok(sql::<Integer>("SELECT pg_backend_pid()").get_result(connection)?)
}

#[test]
fn a_connection_serves_again_and_again_but_not_after_a_panic() {
    let shop = Shop::open_with(Backend::Postgres, |options| options.connections = 1);
    let reads = || shop.database.read_blocking(number_of).unwrap();
    let writes = || shop.database.write_blocking(WriteMode::Keep, |tx| number_of(tx.connection())).unwrap();
    let (reader, writer) = (reads(), writes());
    assert_eq!((reads(), writes()), (reader, writer), "connected anew");
    let panicked = shop.database.read_blocking(|_| -> Result<()> { panic!("a reader that panics") });
    assert!(panicked.is_err(), "{panicked:?}");
    assert_ne!(reads(), reader, "the connection still has the transaction of the reader that panicked");
    // What is written from now on is read: no snapshot outlived its reader.
    shop.put("AFTER").unwrap();
    shop.holds(&["AFTER"]);
}

#[test]
fn a_use_case_that_the_database_asks_for_again_is_run_again_and_stored_once() {
    let shop = Shop::open(Backend::Postgres);
    for code in ["ONE", "TWO"] {
        shop.put(code).unwrap();
    }
    // Two that take the same two rows in opposite orders, each holding its first before it asks for its second.
    let both_hold = std::sync::Arc::new(Barrier::new(2));
    let answers = [("ONE", "TWO", "AFTER-1"), ("TWO", "ONE", "AFTER-2")].map(|(first, second, code)| {
        let both_hold = std::sync::Arc::clone(&both_hold);
        let met = std::sync::atomic::AtomicBool::new(false);
        Queued::new(&shop.database, WriteMode::Keep, move |tx| {
            put(tx, code, "a place")?;
            for (row, wait) in [(first, true), (second, false)] {
                let take = format!("UPDATE places SET version = version WHERE code = '{row}'");
                tx.connection().batch_execute(&take)?;
                // On the second run the other one is past this point.
                if wait && !met.swap(true, std::sync::atomic::Ordering::Relaxed) {
                    both_hold.wait();
                }
            }
            Ok::<_, Error>(())
        })
    });
    for answer in answers {
        answer.answer().unwrap();
    }
    shop.holds(&["AFTER-1", "AFTER-2", "ONE", "TWO"]);
}
