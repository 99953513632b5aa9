//! The shelf: what moves a supply, what a count says, when to order.

use crate::shop::{Shop, items, text};
use serde_json::{Value, json};

pub(crate) fn supply(shop: &Shop, code: &str, minimum: i64) -> String {
    let body = json!({"code": code, "name": "Feed fingers", "unit": "piece", "minimum": minimum,
        "reorder_quantity": 10, "lead_time_days": 14, "place": "SHELF-1"});
    let made = shop.done("clerk", "/v1/supplies", &body);
    assert_eq!((&made["on_hand"], &made["movements"]), (&json!(0), &json!(0)));
    format!("/v1/supplies/{code}")
}

/// The ledger from its first row on: number, change, what is on hand after it.
fn ledger(shop: &Shop, path: &str) -> Vec<(i64, i64, i64)> {
    let (mut rows, mut next) = (Vec::new(), format!("{path}/movements?limit=3"));
    loop {
        let page = shop.read(&next);
        let number = |row: &Value, field: &str| row[field].as_i64().expect("a number");
        rows.extend(
            items(&page).iter().map(|row| (number(row, "number"), number(row, "change"), number(row, "on_hand"))),
        );
        match page["next_cursor"].as_str() {
            Some(cursor) => next = format!("{path}/movements?limit=3&cursor={cursor}"),
            None => break,
        }
    }
    rows.reverse();
    rows
}

/// The numbers have no gap, and each row's stock is the sum of the changes so far.
pub(crate) fn ledger_adds_up(shop: &Shop, path: &str) -> i64 {
    let mut on_hand = 0;
    for ((number, change, after), expected) in ledger(shop, path).into_iter().zip(1..) {
        on_hand += change;
        assert_eq!((number, after), (expected, on_hand), "{path}");
    }
    assert_eq!(shop.read(path)["on_hand"], on_hand);
    on_hand
}

pub(crate) fn what_is_on_hand_is_the_sum_of_its_ledger(shop: &Shop) {
    let path = supply(shop, "SUP-FINGER", 4);
    shop.done("clerk", &format!("{path}/receipts"), &json!({"quantity": 10, "note": "First delivery"}));
    let out = json!({"quantity": 7, "machine": "M-102", "note": "All spindles"});
    let moved = shop.done("maintainer", &format!("{path}/withdrawals"), &out);
    assert_eq!((&moved["kind"], &moved["change"], &moved["on_hand"]), (&json!("withdrawn"), &json!(-7), &json!(3)));
    assert_eq!((&moved["machine"], &moved["recorded_by"]["badge"]), (&json!("M-102"), &json!("maintainer")));
    let refused = shop.refused("clerk", &format!("{path}/withdrawals"), &json!({"quantity": 4}));
    assert_eq!(refused, ["not-enough-on-hand SUP-FINGER"]);
    let counted = shop.done("clerk", &format!("{path}/counts"), &json!({"counted": 5}));
    assert_eq!((&counted["kind"], &counted["change"], &counted["counted"]), (&json!("counted"), &json!(2), &json!(5)));
    shop.done("supervisor", &format!("{path}/withdrawals"), &json!({"quantity": 5}));
    assert_eq!(ledger(shop, &path), [(1, 10, 10), (2, -7, 3), (3, 2, 5), (4, -5, 0)]);
    assert_eq!(ledger_adds_up(shop, &path), 0);

    // Below its minimum it is listed; above it is not.
    let below = |code: &str| {
        items(&shop.read("/v1/supplies?below_minimum=true&limit=200")).iter().any(|row| row["code"] == code)
    };
    assert!(below("SUP-FINGER") && !below("SUP-WAY-OIL"));
    shop.done("clerk", &format!("{path}/receipts"), &json!({"quantity": 4}));
    assert!(!below("SUP-FINGER"), "four are the minimum, not below it");
    let patched = shop.patch("clerk", &path, &json!({"minimum": 5, "place": null}));
    assert_eq!(
        (&patched["below_minimum"], &patched["place"], &patched["on_hand"]),
        (&json!(true), &Value::Null, &json!(4))
    );
    let tag = shop.person("clerk").get(&path).send().expect(200).header("etag").expect("a tag").to_owned();
    let set = shop.person("clerk").patch(&path).header("If-Match", &tag);
    let set = set.body("application/merge-patch+json", r#"{"on_hand":99}"#).send().expect(422).json();
    assert_eq!(set["type"], "/problems/read-only-field");
    // What moved is retired, not deleted.
    let kept = shop.person("clerk").delete(&path).header("If-Match", &tag).send().expect(409).json();
    assert_eq!(kept["type"], "/problems/in-use");
}

/// Somebody begins to count, others go on taking and bringing, and the count is recorded late.
pub(crate) fn a_count_keeps_what_happened_meanwhile(shop: &Shop) {
    let path = supply(shop, "SUP-PUSHER", 0);
    let (counts, out, in_) = (format!("{path}/counts"), format!("{path}/withdrawals"), format!("{path}/receipts"));
    let received = shop.done("clerk", &in_, &json!({"quantity": 20}));
    // On the shelf are 18: two went without a word. The count begins now.
    let begun = text(&received["recorded_at"]);
    shop.done("maintainer", &out, &json!({"quantity": 3}));
    let second = shop.done("clerk", &in_, &json!({"quantity": 1}));
    let counted = shop.done("clerk", &counts, &json!({"counted": 18, "counted_at": begun}));
    assert_eq!((&counted["change"], &counted["on_hand"]), (&json!(-2), &json!(16)), "18 - 3 + 1");
    assert_eq!(counted["occurred_at"], begun);
    // A count of an earlier moment does not undo it; one of the same or a later moment does.
    let earlier = json!({"counted": 20, "counted_at": "2020-01-01T00:00:00Z"});
    assert_eq!(shop.faulty("clerk", &counts, &earlier), ["/counted_at"]);
    let again = shop.done("clerk", &counts, &json!({"counted": 15, "counted_at": second["recorded_at"]}));
    assert_eq!((&again["change"], &again["on_hand"]), (&json!(-1), &json!(15)));
    let refused = shop.refused("clerk", &counts, &json!({"counted": 18, "counted_at": begun}));
    assert_eq!(refused, ["count-superseded SUP-PUSHER"]);
    // What went out after a count cannot have been missing at it.
    shop.done("maintainer", &out, &json!({"quantity": 6}));
    let refused = shop.refused("clerk", &counts, &json!({"counted": 5, "counted_at": again["recorded_at"]}));
    assert_eq!(refused, ["count-contradicted SUP-PUSHER"]);
    // A count that finds what the ledger says is on record too.
    let same = shop.done("clerk", &counts, &json!({"counted": 9}));
    assert_eq!((&same["change"], &same["occurred_at"]), (&json!(0), &same["recorded_at"]));
    assert_eq!(
        shop.faulty("clerk", &counts, &json!({"counted": 1, "counted_at": "2999-01-01T00:00:00Z"})),
        ["/counted_at"]
    );
    assert_eq!(ledger_adds_up(shop, &path), 9);
}

/// Work is done, the shelf is counted, and the work is written up last: the count saw that its parts were gone.
pub(crate) fn a_count_sees_what_work_had_used_before_it_was_written_up(shop: &Shop) {
    let path = supply(shop, "SUP-SPRING", 0);
    let received = shop.done("clerk", &format!("{path}/receipts"), &json!({"quantity": 5}));
    let order = |what: &str| {
        shop.done("maintainer", "/v1/work-orders", &json!({"subject": {"machine": "M-101"}, "what": what}))
    };
    let (before, after) = (order("Spring of the stop"), order("Spring of the chute"));
    // All five went into the machine just after they came, and the shelf is counted empty.
    let worked = text(&received["recorded_at"]);
    let counted = shop.done("clerk", &format!("{path}/counts"), &json!({"counted": 0}));
    let done = |quantity: i64| {
        json!({"note": "Replaced", "touched": "nothing", "done_at": worked,
        "parts_used": [{"supply": "SUP-SPRING", "quantity": quantity}]})
    };
    let written_up = shop.order(&before, "done", &done(5)).expect(200).json();
    assert_eq!(
        written_up["parts_used"],
        json!([{"supply": "SUP-SPRING", "quantity": 5, "movement": counted["number"], "seen_by_count": true}])
    );
    assert_eq!(ledger_adds_up(shop, &path), 0, "none is taken off once more");
    assert_eq!(shop.read(&format!("/v1/work-orders/{}", text(&before["id"]))), written_up);
    // What is used after the count goes out, as of when the work was done: a count of a later moment knows it.
    shop.done("clerk", &format!("{path}/receipts"), &json!({"quantity": 4}));
    let now =
        json!({"note": "Replaced", "touched": "nothing", "parts_used": [{"supply": "SUP-SPRING", "quantity": 1}]});
    let used = shop.order(&after, "done", &now).expect(200).json();
    assert_eq!(used["parts_used"][0]["seen_by_count"], false);
    assert_eq!(ledger_adds_up(shop, &path), 3);
    let movements = shop.read(&format!("{path}/movements"));
    let movement = &items(&movements)[0];
    assert_eq!((&movement["kind"], &movement["occurred_at"]), (&json!("withdrawn"), &used["done_at"]));
}

pub(crate) fn who_may_and_what_cannot_be(shop: &Shop) {
    let path = supply(shop, "SUP-CHUTE", 1);
    let post = |badge: &str, action: &str, body: &Value| shop.send(badge, &format!("{path}/{action}"), body);
    for (badge, action) in [("setter", "withdrawals"), ("maintainer", "receipts"), ("maintainer", "counts")] {
        let problem = post(badge, action, &json!({"quantity": 1})).expect(403).json();
        assert_eq!(problem["permission"], "keep-supplies", "{badge} {action}");
    }
    for (action, body, pointers) in [
        ("receipts", json!({"quantity": 0}), vec!["/quantity"]),
        ("receipts", json!({"quantity": 1_000_000_001_i64, "note": ""}), vec!["/quantity", "/note"]),
        ("receipts", json!({"quantity": 1.5}), vec!["/quantity"]),
        ("withdrawals", json!({"quantity": -1}), vec!["/quantity"]),
        ("withdrawals", json!({"quantity": 1, "machine": "M-999"}), vec!["/machine"]),
        (
            "withdrawals",
            json!({"quantity": 1, "work_order": "0198f2c4-0000-7000-8000-000000000000"}),
            vec!["/work_order"],
        ),
        ("counts", json!({"counted": -1}), vec!["/counted"]),
        ("counts", json!({}), vec!["/counted"]),
    ] {
        assert_eq!(shop.faulty("clerk", &format!("{path}/{action}"), &body), pointers, "{action} {body}");
    }
    // For an order on a machine it is used on that machine, and on no other.
    shop.done("clerk", &format!("{path}/receipts"), &json!({"quantity": 5}));
    let order = shop.done("maintainer", "/v1/work-orders", &json!({"subject": {"machine": "M-101"}, "what": "Chute"}));
    let wrong = json!({"quantity": 1, "work_order": order["id"], "machine": "M-102"});
    assert_eq!(shop.faulty("maintainer", &format!("{path}/withdrawals"), &wrong), ["/machine"]);
    let moved =
        post("maintainer", "withdrawals", &json!({"quantity": 2, "work_order": order["id"]})).expect(201).json();
    assert_eq!((&moved["machine"], &moved["work_order"]), (&json!("M-101"), &order["id"]));
    let order = shop.read(&format!("/v1/work-orders/{}", text(&order["id"])));
    assert_eq!(
        order["parts_used"],
        json!([{"supply": "SUP-CHUTE", "quantity": 2, "movement": 2, "seen_by_count": false}])
    );
    // A supply's code is scannable, and is no item.
    let out = json!({"items": ["SUP-CHUTE"], "purpose": "use"});
    assert_eq!(shop.refused("clerk", "/v1/checkouts", &out), ["item-unknown SUP-CHUTE"]);
    let taken = json!({"code": "FT-001", "name": "Copy", "unit": "piece", "minimum": 0, "reorder_quantity": 1,
        "lead_time_days": 1});
    assert_eq!(shop.send("clerk", "/v1/supplies", &taken).expect(409).json()["type"], "/problems/code-taken");
    let _ = shop.send("clerk", "/v1/supplies/SUP-NONE/receipts", &json!({"quantity": 1})).expect(404);
}

pub(crate) fn when_to_order(shop: &Shop) {
    let path = supply(shop, "SUP-SEAL", 3);
    let advice = |query: &str| shop.read(&format!("{path}/reorder{query}"));
    let found = advice("");
    assert_eq!((&found["order_now"], &found["order_quantity"]), (&json!(true), &json!(10)), "{found}");
    assert!(text(&found["history_too_short"]).contains("0 whole weeks"), "{found}");
    assert_eq!(
        (&found["reorder_point"], &found["weeks"], &found["below_minimum"]),
        (&Value::Null, &json!([]), &json!(true))
    );
    assert!(found["assumed"].to_string().contains("Orders under way are not on record"), "{found}");
    shop.done("clerk", &format!("{path}/receipts"), &json!({"quantity": 3}));
    let found = advice("?service=0.99");
    assert_eq!((&found["order_now"], &found["service"], &found["on_hand"]), (&json!(false), &json!(0.99), &json!(3)));
    for query in ["?service=1", "?service=0.1", "?service=much"] {
        let problem = shop.person("clerk").get(&format!("{path}/reorder{query}")).send().expect(400).json();
        assert_eq!(problem["errors"][0]["parameter"], "service", "{problem}");
    }
}
