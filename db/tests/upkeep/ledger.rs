//! The ledger of supplies: numbers without a gap and sums that add up are the schema's own doing.

use crate::{SHOP, both};
use chrono::{DateTime, TimeDelta, Utc};
use diesel::connection::SimpleConnection;
use dovetally_core::{
    code::Code,
    ids::{PersonId, SupplyId, SupplyMovementId},
    registry::Record,
    supply::{SinceCount, Supply, SupplyFields, SupplyMovement, SupplyMovementKind},
};
use dovetally_db::{
    Connection, Constraint, Result,
    codes::{self, CodeSubject},
    supplies,
};
use uuid::Uuid;

const SUPPLY: SupplyId = SupplyId::from_uuid(Uuid::from_u128(1));
const PERSON: PersonId = PersonId::from_uuid(Uuid::from_u128(2));

fn noon() -> DateTime<Utc> {
    "2026-03-02T12:00:00Z".parse().unwrap()
}

fn put(connection: &mut Connection) {
    let code = Code::parse("S-1").unwrap();
    codes::take(connection, &code, CodeSubject::Supply, SUPPLY.uuid()).unwrap();
    let fields = SupplyFields {
        name: "Oil".to_owned(),
        unit: "litre".to_owned(),
        minimum: 1,
        reorder_quantity: 1,
        lead_time_days: 1,
        place: None,
        retired: false,
    };
    let record = Record { id: SUPPLY, code, fields, version: 1, created_at: noon(), updated_at: noon() };
    supplies::insert(connection, &Supply { record, on_hand: 0, movements: 0 }).unwrap();
}

/// A movement after which so many are on hand.
fn movement(number: i64, change: i64, on_hand: i64) -> SupplyMovement {
    let kind = if change < 0 { SupplyMovementKind::Withdrawn } else { SupplyMovementKind::Received };
    let at = noon() + TimeDelta::minutes(number);
    SupplyMovement {
        id: SupplyMovementId::from_uuid(Uuid::new_v7(uuid::Timestamp::from_unix(uuid::NoContext, 1, 0))),
        supply: SUPPLY,
        number,
        kind,
        change,
        on_hand,
        counted: None,
        work_order: None,
        machine: None,
        note: None,
        recorded_by: PERSON,
        occurred_at: at,
        recorded_at: at,
    }
}

fn constraint(appended: Result<()>) -> Option<Constraint> {
    appended.err().and_then(|error| error.constraint())
}

#[test]
fn no_row_is_taken_that_does_not_follow_from_the_one_before() {
    for (mut connection, _server) in both() {
        connection.batch_execute(&SHOP.replace("('p',", &format!("('{PERSON}',"))).unwrap();
        put(&mut connection);
        let mut append = |movement: &SupplyMovement| constraint(supplies::append(&mut connection, movement));
        assert_eq!(append(&movement(1, 10, 10)), None);
        assert_eq!(append(&movement(2, -4, 6)), None);
        // The same number twice, a number left out, a sum that does not add up, two rows after one, less than nothing.
        assert_eq!(append(&movement(2, -4, 2)), Some(Constraint::SupplyMovementNumber));
        assert_eq!(append(&movement(4, -1, 5)), Some(Constraint::ForeignKey));
        assert_eq!(append(&movement(3, -1, 7)), Some(Constraint::ForeignKey));
        assert_eq!(append(&movement(3, -7, -1)), Some(Constraint::Check));
        let mut counted = movement(3, 1, 7);
        counted.counted = Some(7);
        assert_eq!(append(&counted), Some(Constraint::Check), "only a count has counted");
        counted.kind = SupplyMovementKind::Counted;
        counted.occurred_at = counted.recorded_at + TimeDelta::seconds(1);
        assert_eq!(append(&counted), Some(Constraint::Check), "nobody counts ahead of the record");
        // The count was begun before the withdrawal: that one belongs to what came after it.
        counted.occurred_at = noon() + TimeDelta::seconds(90);
        let since = supplies::since(&mut connection, SUPPLY, counted.occurred_at).unwrap();
        assert_eq!(since, SinceCount { change: -4, last_count: None });
        supplies::append(&mut connection, &counted).unwrap();
        let since = supplies::since(&mut connection, SUPPLY, noon()).unwrap();
        assert_eq!(since, SinceCount { change: 7, last_count: Some(counted.occurred_at) });

        let stored = supplies::find(&mut connection, SUPPLY).unwrap().unwrap();
        assert_eq!((stored.on_hand, stored.movements), (7, 3));
        let newest_first = supplies::movements_page(&mut connection, SUPPLY, None, 10).unwrap();
        assert_eq!(newest_first.iter().map(|row| row.number).collect::<Vec<_>>(), [3, 2, 1]);
        assert_eq!(newest_first[0], counted);
        // A stock that the ledger did not leave, and a row that nothing sealed, are found.
        connection.batch_execute("UPDATE supplies SET on_hand = 8").unwrap();
        let faults = supplies::faults(&mut connection).unwrap();
        assert!(faults.iter().any(|fault| fault == "S-1 does not hold what its last movement left"), "{faults:?}");
        assert!(faults.iter().any(|fault| fault.contains("the supplies' ledger holds 3 movements")), "{faults:?}");
    }
}
