//! While a run with a tool is not booked, no edge of it ends: the keys hold it by themselves.

use crate::{SHOP, both};
use chrono::{DateTime, Utc};
use diesel::connection::SimpleConnection;
use dovetally_core::ids::ItemId;
use dovetally_db::{Constraint, life::booking};
use uuid::Uuid;

pub(crate) const TOOL: ItemId = ItemId::from_uuid(Uuid::from_u128(7));
const RUN: Uuid = Uuid::from_u128(8);
const SETUP: Uuid = Uuid::from_u128(9);

/// A tool of the design `d`, and a run with it.
pub(crate) fn stored() -> String {
    format!(
        "{SHOP}
        INSERT INTO codes VALUES ('FT-1', 'item', '{TOOL}', FALSE), ('TD-1', 'tool_design', 'd', FALSE);
        INSERT INTO tool_designs (id, code, name, kind, rake_deg, clearance_deg, steps, new_height_pm, new_height_unit,
            minimum_height_pm, minimum_height_unit, grind_stock_pm, grind_stock_unit, holder_style,
            expected_pieces_per_grind, retired, version, created_at, updated_at)
            VALUES ('d', 'TD-1', 'Form', 'flat', 0, 10, '[]', 30, 'mm', 10, 'mm', 1, 'mm', 'A', 1000, FALSE, 1,
            '2026-01-01 00:00:00', '2026-01-01 00:00:00');
        INSERT INTO items VALUES ('{TOOL}', 'FT-1', 'form_tool', 'Form', 'usable', 1, '2026-01-01 00:00:00',
            '2026-01-01 00:00:00', NULL);
        INSERT INTO form_tools VALUES ('{TOOL}', 'form_tool', 'd', 20, 'mm', 0, 0, 0, NULL, TRUE, FALSE, 0);
        INSERT INTO setups VALUES ('{SETUP}', 'm', 'part', NULL, 'closed', '{{}}', 'p', '2026-01-01 00:00:00',
            '2026-01-03 00:00:00', 1);
        INSERT INTO runs VALUES ('{RUN}', '{SETUP}', 1, 'm', 'part', NULL, 1, '2026-01-01 08:00:00',
            '2026-01-01 09:00:00', NULL, 'free');
        INSERT INTO run_items VALUES ('{RUN}', '{TOOL}', 'S1');"
    )
}

#[test]
fn no_edge_ends_under_a_run_that_is_not_booked() {
    for (mut connection, _server) in both() {
        connection.batch_execute(&stored()).unwrap();
        booking::turn_over(&mut connection, TOOL).unwrap();
        assert_eq!(booking::run_to_book(&mut connection, TOOL).unwrap(), None);
        connection.batch_execute(&format!("INSERT INTO pieces_to_book VALUES ('{RUN}', '{TOOL}', 1)")).unwrap();
        let run = booking::run_to_book(&mut connection, TOOL).unwrap().expect("a run to book");
        assert_eq!((run.number, run.place.setup.uuid(), run.place.machine.as_str()), (1, SETUP, "M-1"));
        let refused = booking::turn_over(&mut connection, TOOL).unwrap_err();
        assert_eq!(refused.constraint(), Some(Constraint::ForeignKey));
        // Nor is one noted for an edge that has ended.
        let late = format!("UPDATE pieces_to_book SET turn = 0 WHERE tool_id = '{TOOL}'");
        assert!(connection.batch_execute(&late).is_err());
        connection.batch_execute("DELETE FROM pieces_to_book").unwrap();
        booking::turn_over(&mut connection, TOOL).unwrap();
        let ended: DateTime<Utc> = "2026-01-01T09:00:00Z".parse().unwrap();
        assert_eq!(booking::last_run_ended(&mut connection, TOOL).unwrap(), Some(ended));
    }
}
