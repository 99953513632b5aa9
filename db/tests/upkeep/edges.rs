//! How many edges ended is kept with the tool whose edges they were.

use crate::{
    back,
    booking::{TOOL, stored},
    both,
};
use chrono::{DateTime, Utc};
use diesel::connection::SimpleConnection;
use dovetally_core::{
    ids::ToolDesignId,
    life::edge::{EdgeEnd, EndedEdge},
};
use dovetally_db::{life::edges, migrate};
use std::collections::BTreeMap;
use uuid::Uuid;

const DESIGN: ToolDesignId = ToolDesignId::from_uuid(Uuid::from_u128(10));

#[test]
fn every_edge_that_ends_is_counted_even_at_one_instant_and_by_the_migration() {
    let at: DateTime<Utc> = "2026-01-01T09:00:00Z".parse().unwrap();
    for (mut connection, _server) in both() {
        connection.batch_execute(&stored().replace("'d'", &format!("'{DESIGN}'"))).unwrap();
        let counted = |connection: &mut _| edges::count_ended(connection, &[DESIGN]).unwrap();
        assert_eq!(counted(&mut connection), BTreeMap::from([(DESIGN, 0)]));
        for (pieces, ended) in [(4000, EdgeEnd::Worn), (2500, EdgeEnd::Early), (4000, EdgeEnd::Worn)] {
            let edge = EndedEdge { pieces, ended, partly_ground: false, begun_before: false };
            edges::insert(&mut connection, TOOL, DESIGN, edge, at).unwrap();
        }
        assert_eq!(counted(&mut connection), BTreeMap::from([(DESIGN, 3)]));
        back(&mut connection, "20261130000030");
        migrate::migrate(&mut connection).unwrap();
        assert_eq!(counted(&mut connection), BTreeMap::from([(DESIGN, 3)]));
        // The next edge has the next number: a number that was given is not given again.
        let edge = EndedEdge { pieces: 10, ended: EdgeEnd::Damaged, partly_ground: false, begun_before: false };
        edges::insert(&mut connection, TOOL, DESIGN, edge, at).unwrap();
        assert_eq!(edges::count_ended(&mut connection, &[]).unwrap(), BTreeMap::new());
        assert_eq!(counted(&mut connection), BTreeMap::from([(DESIGN, 4)]));
    }
}
