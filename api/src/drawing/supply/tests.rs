use super::draw;
use crate::{
    drawing::{
        testing::{DESK, PHONE, Ruler, by_class, crosses, picture, points, read, read_time},
        words::ENGLISH,
    },
    transport::{
        setup::PersonRef,
        supply::{SupplyMovementView, SupplyView},
    },
};
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::{code::Code, supply::SupplyMovementKind};
use uuid::Uuid;

fn at(day: i64) -> DateTime<Utc> {
    "2026-02-01T09:30:00Z".parse::<DateTime<Utc>>().unwrap() + TimeDelta::days(day)
}

fn ledger(movements: &[(i64, SupplyMovementKind, i64)]) -> (SupplyView, Vec<SupplyMovementView>) {
    let mut on_hand = 0;
    let code = Code::parse("SUP-PAD").unwrap();
    let rows = movements.iter().zip(1_i64..).map(|((day, kind, change), number)| {
        on_hand += change;
        SupplyMovementView {
            id: Uuid::from_u128(1),
            supply: code.clone(),
            number,
            kind: *kind,
            change: *change,
            on_hand,
            counted: None,
            work_order: None,
            machine: None,
            note: None,
            recorded_by: PersonRef { badge: "store".to_owned(), name: "Store".to_owned() },
            occurred_at: at(*day),
            recorded_at: at(*day),
        }
    });
    let rows: Vec<_> = rows.collect();
    let supply = SupplyView {
        id: Uuid::from_u128(2),
        code: code.clone(),
        name: "Pads <3/4>".to_owned(),
        unit: "set".to_owned(),
        minimum: 4,
        reorder_quantity: 10,
        lead_time_days: 21,
        place: None,
        on_hand,
        below_minimum: on_hand < 4,
        movements: i64::try_from(rows.len()).unwrap(),
        retired: false,
        created_at: at(0),
        updated_at: at(0),
    };
    (supply, rows)
}

use SupplyMovementKind::{Counted, Received, Withdrawn};

#[test]
fn every_movement_stands_where_the_table_says() {
    let (supply, mut rows) =
        ledger(&[(0, Received, 10), (9, Withdrawn, -3), (9, Withdrawn, -1), (40, Counted, -1), (60, Withdrawn, -2)]);
    rows.reverse();
    for setting in [DESK, PHONE] {
        let drawing = draw(&supply, &rows, at(70), &ENGLISH, &setting);
        let document = picture(&drawing, &setting);
        let (up, across) = (Ruler::upward(&document), Ruler::across(&document, read_time));
        let marks = |what: &str| -> Vec<(f64, f64)> {
            drawing
                .table
                .rows
                .iter()
                .filter(|row| row[1] == what)
                .map(|row| (read_time(&row[0]), read(&row[3])))
                .collect()
        };
        let circles = |class: &str| -> Vec<(f64, f64)> {
            by_class(&document, class, "cx").into_iter().zip(by_class(&document, class, "cy")).collect()
        };
        for (what, drawn) in [
            ("withdrawn", circles("chart-point")),
            ("counted", circles("chart-open")),
            ("received", crosses(&document, "chart-received")),
        ] {
            let told = marks(what);
            assert_eq!(told.len(), drawn.len(), "{what}");
            for ((time, count), (x, y)) in told.iter().zip(&drawn) {
                across.assert(*x, *time);
                up.assert(*y, *count);
            }
        }
        let steps = points(&document, "chart-step");
        up.assert(steps[0].1, 0.0);
        across.assert(steps.last().unwrap().0, read_time("2026-04-12 09:30"));
        up.assert(steps.last().unwrap().1, 3.0);
        up.assert(by_class(&document, "chart-limit", "y1")[0], 4.0);
        assert_eq!(drawing.summary, "3 on hand (set), below the minimum of 4.");
        assert_eq!(drawing.table.rows[1][2], "\u{2212}3");
    }
}

#[test]
fn no_movement_one_movement_and_a_far_one() {
    for movements in [&[][..], &[(3, Received, 4)], &[(0, Received, 4), (1, Received, 1_000_000_000)]] {
        let (supply, rows) = ledger(movements);
        for setting in [DESK, PHONE] {
            let drawing = draw(&supply, &rows, at(5), &ENGLISH, &setting);
            let document = picture(&drawing, &setting);
            let up = Ruler::upward(&document);
            let hand = points(&document, "chart-step").last().unwrap().1;
            up.assert(hand, rows.last().map_or(0.0, |row| row.on_hand as f64));
        }
    }
}
