//! What goes wrong in the middle of a batch is undone alone, and answered truly.

use crate::shop::{Backend, Problem, Queued, Shop, put, stored};
use dovetally_db::{Constraint, Database, Error, Tx, WriteMode};
use std::sync::{Arc, Mutex};

fn panicked(tx: &mut Tx<'_>) -> Result<(), Problem> {
    put(tx, "PANICS", "a place")?;
    panic!("as a fault of ours would");
}

fn queue<F>(shop: &Shop, mode: WriteMode, closure: F) -> Queued<Result<(), Problem>>
where
    F: Fn(&mut Tx<'_>) -> Result<(), Problem> + Send + 'static,
{
    Queued::new(&shop.database, mode, closure)
}

fn place(code: &'static str) -> impl Fn(&mut Tx<'_>) -> Result<(), Problem> + Send + 'static {
    move |tx| Ok(put(tx, code, "a place")?)
}

/// Seven writes that come up together. Tells whether, when the last of them ran, the first was not committed yet: then
/// they shared one transaction.
fn batch(shop: &Shop) -> bool {
    // On PostgreSQL each is a transaction of its own on one of several connections, so that only what was stored
    // before is taken for certain; on SQLite the neighbour's code is, though it is not committed yet.
    let taken = match shop.backend {
        Backend::Sqlite => "FIRST",
        Backend::Postgres => "BEFORE",
    };
    let shared = Arc::new(Mutex::new(false));
    let held = shop.hold_writer();
    let first = queue(shop, WriteMode::Keep, place("FIRST"));
    let refused = queue(shop, WriteMode::Keep, |tx| {
        put(tx, "REFUSED", "a place")?;
        Err(Problem::Refused)
    });
    let violates = queue(shop, WriteMode::Keep, move |tx| {
        put(tx, "VIOLATES", "a place")?;
        Ok(put(tx, taken, "a place")?)
    });
    let rehearsed = queue(shop, WriteMode::Rehearse, |tx| {
        put(tx, "REHEARSED", "a place")?;
        assert_eq!(tx.changes().len(), 1);
        Ok(())
    });
    let panics = queue(shop, WriteMode::Keep, panicked);
    drop(queue(shop, WriteMode::Keep, place("NOBODY-WAITS")));
    let last = {
        let (database, shared): (Database, _) = (shop.database.clone(), Arc::clone(&shared));
        queue(shop, WriteMode::Keep, move |tx| {
            *shared.lock().unwrap() = !stored(&database).iter().any(|code| code == "FIRST");
            Ok(put(tx, "LAST", "a place")?)
        })
    };
    held.let_go().unwrap();

    let shows = |answer: Result<(), Problem>| answer.map_err(|problem| format!("{problem:?}"));
    assert_eq!(shows(first.answer()), Ok(()));
    assert!(matches!(refused.answer(), Err(Problem::Refused)));
    let violated = violates.answer();
    assert!(
        matches!(&violated, Err(Problem::Database(Error::Constraint { constraint: Constraint::CodeTaken, .. }))),
        "{violated:?}"
    );
    assert_eq!(shows(rehearsed.answer()), Ok(()));
    assert!(matches!(panics.answer(), Err(Problem::Database(Error::Panicked))));
    assert_eq!(shows(last.answer()), Ok(()));
    *shared.lock().unwrap()
}

#[test]
fn a_refusal_a_violation_a_panic_and_a_rehearsal_leave_their_neighbours_exact() {
    for backend in Backend::BOTH {
        // A batch ends after some milliseconds, so that on a busy machine one may fall in two; a few tries are enough.
        let mut shared = false;
        for _ in 0..20 {
            let shop = Shop::open(backend);
            shop.put("BEFORE").unwrap();
            shared = batch(&shop);
            shop.holds(&["BEFORE", "FIRST", "LAST"]);
            // The same work, without what went wrong, is taken afterwards.
            for code in ["REFUSED", "VIOLATES", "REHEARSED", "PANICS", "NOBODY-WAITS"] {
                shop.put(code).unwrap();
            }
            shop.holds(&["BEFORE", "FIRST", "LAST", "NOBODY-WAITS", "PANICS", "REFUSED", "REHEARSED", "VIOLATES"]);
            if shared || backend == Backend::Postgres {
                break;
            }
        }
        assert!(shared || backend == Backend::Postgres, "in no try did the writes share a transaction");
    }
}

#[test]
fn an_error_that_a_use_case_swallows_is_answered_as_what_became_of_its_work() {
    for backend in Backend::BOTH {
        let shop = Shop::open(backend);
        shop.put("TAKEN").unwrap();
        let answer: Result<(), Error> = shop.database.write_blocking(WriteMode::Keep, |tx| {
            put(tx, "BEFORE-IT", "a place")?;
            let swallowed = put(tx, "TAKEN", "a place");
            assert!(swallowed.is_err());
            Ok(())
        });
        match backend {
            // A statement that fails here undoes itself alone.
            Backend::Sqlite => {
                answer.unwrap();
                shop.holds(&["BEFORE-IT", "TAKEN"]);
            }
            // Here it spoils the transaction, whose COMMIT then rolls back without a word.
            Backend::Postgres => {
                assert!(answer.is_err());
                shop.holds(&["TAKEN"]);
            }
        }
    }
}

#[test]
fn one_write_more_than_the_queue_holds_is_answered_as_busy() {
    for backend in Backend::BOTH {
        let shop = Shop::open_with(backend, |options| {
            options.queue = 2;
            options.connections = 1;
        });
        let held = shop.hold_writer();
        let waiting = ["FIRST", "SECOND"].map(|code| queue(&shop, WriteMode::Keep, place(code)));
        let refused = queue(&shop, WriteMode::Keep, place("THIRD")).answer();
        assert!(matches!(&refused, Err(Problem::Database(Error::Busy(_)))), "{refused:?}");
        held.let_go().unwrap();
        for answer in waiting {
            answer.answer().unwrap();
        }
        shop.holds(&["FIRST", "SECOND"]);
        shop.put("THIRD").unwrap();
        shop.holds(&["FIRST", "SECOND", "THIRD"]);
    }
}
