//! Sessions that are long over are forgotten, with the tokens that were spent in them.

use crate::shop::{Backend, Shop};
use chrono::TimeDelta;
use dovetally_core::{
    ids::{PersonId, SessionId},
    people::Role,
    registry::person::{Person, PersonFields},
};
use dovetally_db::{
    Error, Tx, WriteMode, people,
    sessions::{self, Session},
};

fn begin(tx: &mut Tx<'_>) -> Result<SessionId, Error> {
    let now = tx.now();
    let fields = PersonFields { name: "Somebody".to_owned(), roles: vec![Role::Setter], disabled: false };
    let id: PersonId = tx.new_id();
    let person = Person { id, badge: "somebody".to_owned(), fields, version: 1, created_at: now, updated_at: now };
    people::insert(tx.connection(), &person, "a hash")?;
    let session = Session {
        id: tx.new_id(),
        person: id,
        refresh_hash: "third".to_owned(),
        previous_refresh_hash: Some("second".to_owned()),
        rotated_at: now,
        created_at: now,
        expires_at: now + TimeDelta::hours(1),
        ended_at: None,
    };
    sessions::insert(tx.connection(), &session)?;
    sessions::spend(tx.connection(), session.id, "first")?;
    Ok(session.id)
}

#[test]
fn a_spent_token_names_its_session_until_both_are_forgotten() {
    for backend in Backend::BOTH {
        let shop = Shop::open(backend);
        let session = shop.database.write_blocking(WriteMode::Keep, begin).unwrap();
        let of_first = || shop.database.read_blocking(|connection| sessions::of_spent(connection, "first")).unwrap();
        assert_eq!(of_first(), Some(session), "{backend:?}");
        let forget = |after: TimeDelta| {
            let forgotten = move |tx: &mut Tx<'_>| {
                let instant = tx.now() + after;
                sessions::forget_before(tx.connection(), instant)
            };
            shop.database.write_blocking(WriteMode::Keep, forgotten).unwrap()
        };
        assert_eq!((forget(TimeDelta::zero()), of_first()), (0, Some(session)), "{backend:?}");
        assert_eq!((forget(TimeDelta::hours(2)), of_first()), (1, None), "{backend:?}");
    }
}
