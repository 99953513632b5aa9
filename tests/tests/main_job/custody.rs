//! Handing out, passing on, bringing back, and the ledger that tells of it.

use crate::shop::{Shop, column, items, text};
use serde_json::{Value, json};

fn movements(shop: &Shop, filter: &str) -> Value {
    shop.read(&format!("/v1/movements?limit=200&{filter}"))
}

/// Follows the pages of the whole ledger, newest first.
fn ledger(shop: &Shop) -> Vec<Value> {
    let mut rows = Vec::new();
    let mut next = Some("/v1/movements?limit=200".to_owned());
    while let Some(path) = next {
        let page = shop.read(&path);
        rows.extend(page["items"].as_array().expect("rows").clone());
        next = page["next_cursor"].as_str().map(|cursor| format!("/v1/movements?limit=200&cursor={cursor}"));
    }
    rows
}

pub(crate) fn a_kit_is_handed_out_whole_or_not_at_all(shop: &Shop) {
    let before = ledger(shop);
    // Each of these stands for another reason: waiting for the grinder, out with somebody, in an open setup, unknown,
    // never checked, retired, damaged; the gauge was cut for another machine. The last one is faultless.
    let kit = json!({"items": ["FT-003", "MIC-01", "FT-010", "XX-1", "FT-006", "FT-012", "FT-009", "CG-101", "FT-002"],
        "person": "setter", "purpose": "use", "machine": "M-102"});
    let all = [
        "gauge-for-other-machine CG-101",
        "item-held-elsewhere MIC-01",
        "item-in-setup FT-010",
        "item-not-usable FT-003",
        "item-not-usable FT-006",
        "item-not-usable FT-009",
        "item-not-usable FT-012",
        "item-unknown XX-1",
    ];
    assert_eq!(shop.refused("clerk", "/v1/checkouts", &kit), all);
    let twice = json!({"items": ["FT-001", "FT-002", "ft-002"], "person": "setter", "purpose": "use"});
    let twice = shop.send("clerk", "/v1/checkouts", &twice).expect(422).json();
    assert_eq!(twice["errors"][0]["pointer"], "/items/2");
    let late = json!({"items": ["FT-001"], "person": "setter", "purpose": "use", "due": "2020-01-01"});
    assert_eq!(shop.send("clerk", "/v1/checkouts", &late).expect(422).json()["errors"][0]["pointer"], "/due");
    let elsewhere = json!({"items": ["FT-001"], "purpose": "use", "machine": "M-102", "job": "J-5001"});
    let elsewhere = shop.send("clerk", "/v1/checkouts", &elsewhere).expect(422).json();
    assert_eq!(elsewhere["errors"][0]["pointer"], "/machine");
    // One bad item in a kit that is good otherwise.
    let kit = json!({"items": ["FT-001", "HD-01", "FT-003", "CG-101"], "person": "setter", "purpose": "use"});
    assert_eq!(shop.refused("clerk", "/v1/checkouts", &kit), ["item-not-usable FT-003"]);
    assert_eq!(ledger(shop), before, "something of a refused kit moved");
    for (item, place) in [("FT-001", "BIN-A1"), ("HD-01", "BIN-H1"), ("CG-101", "BIN-G1"), ("FT-002", "BIN-A1")] {
        assert_eq!(shop.keeper(item), place);
    }

    let kit = json!({"items": ["FT-001", "HD-01", "CG-101"], "person": "setter", "machine": "M-101", "job": "J-5001",
        "due": "2999-12-31", "purpose": "use"});
    let moved = shop.done("clerk", "/v1/checkouts", &kit);
    let moved = moved["movements"].as_array().expect("movements");
    assert_eq!(moved.iter().map(|row| text(&row["item"])).collect::<Vec<_>>(), ["FT-001", "HD-01", "CG-101"]);
    for row in moved {
        assert_eq!((&row["kind"], &row["recorded_by"]), (&json!("checked_out"), &json!("clerk")));
        assert_eq!(
            (&row["purpose"], &row["job"], &row["due"]),
            (&json!("use"), &json!("J-5001"), &json!("2999-12-31"))
        );
        assert_eq!(row["to"], json!({"kind": "person", "key": "setter", "name": "Sam Okoro", "outside": false}));
        assert_eq!(row["for_machine"], "M-101");
    }
    let rows_for = |query: &str| shop.read(query)["items"].as_array().map(Vec::len);
    let of_machine = shop.read("/v1/movements?machine=M-101&limit=200");
    assert!(of_machine["items"].as_array().expect("rows").iter().any(|row| row["item"] == "FT-001"), "{of_machine}");
    assert_eq!(rows_for("/v1/items?job=J-5001&limit=200"), Some(3));
    assert_eq!(rows_for("/v1/items?overdue=true&limit=200"), Some(0));
    assert_eq!(rows_for("/v1/items?condition=retired&limit=200"), Some(1));
    let item = shop.item("FT-001");
    assert_eq!(
        (&item["where"]["kind"], &item["job"], &item["due"]),
        (&json!("person"), &json!("J-5001"), &json!("2999-12-31"))
    );

    // What waits for the grinder is handed out to be ground, what needs a check to be checked; retired things stay.
    let grind = |item: &str, purpose: &str| json!({"items": [item], "person": "grinder", "purpose": purpose});
    shop.done("clerk", "/v1/checkouts", &grind("FT-003", "grind"));
    shop.done("clerk", "/v1/checkouts", &grind("FT-006", "check"));
    assert_eq!(shop.refused("clerk", "/v1/checkouts", &grind("FT-012", "check")), ["item-not-usable FT-012"]);
}

pub(crate) fn what_is_out_is_passed_on_or_brought_back_by_whoever_has_it(shop: &Shop) {
    // Out is out: for the person who has it as for anybody else.
    for person in ["setter", "setter-2"] {
        let again = json!({"items": ["FT-001"], "person": person, "purpose": "use"});
        assert_eq!(shop.refused("clerk", "/v1/checkouts", &again), ["item-held-elsewhere FT-001"], "{person}");
    }
    // A setter takes for themself, not for others.
    let own = json!({"items": ["DR-01"], "purpose": "use"});
    shop.done("setter-2", "/v1/checkouts", &own);
    assert_eq!(shop.keeper("DR-01"), "Silke Marten");
    let for_another = json!({"items": ["CB-02"], "person": "setter", "purpose": "use"});
    let problem = shop.send("setter-2", "/v1/checkouts", &for_another).expect(403).json();
    assert_eq!(problem["permission"], "move-for-anyone");

    // At shift change whoever has it passes it on; nobody passes on what another has, but the clerk may. Nothing is
    // passed on to whoever has it.
    let pass = |items: &[&str], to: Value| json!({"items": items, "to": to});
    let to_2 = json!({"person": "setter-2"});
    assert_eq!(
        shop.refused("setter-2", "/v1/transfers", &pass(&["FT-001", "DR-01"], to_2.clone())),
        ["item-held-elsewhere DR-01", "item-held-elsewhere FT-001"]
    );
    shop.done("setter", "/v1/transfers", &pass(&["FT-001", "HD-01"], to_2));
    assert_eq!(shop.keeper("HD-01"), "Silke Marten");
    shop.done("clerk", "/v1/transfers", &pass(&["HD-01"], json!({"machine": "M-101"})));
    assert_eq!(
        shop.item("HD-01")["where"],
        json!({"kind": "machine", "key": "M-101", "name": "M-101", "outside": false})
    );
    shop.done("grinder", "/v1/transfers", &pass(&["FT-003"], json!({"place": "OUT-GRIND"})));
    assert_eq!(
        shop.item("FT-003")["where"],
        json!({"kind": "place", "key": "OUT-GRIND", "name": "OUT-GRIND", "outside": true})
    );
    for nobody in [json!({}), json!({"place": "BIN-A1", "person": "setter"}), json!({"place": "BIN-X"})] {
        let _ = shop.send("clerk", "/v1/transfers", &pass(&["HD-01"], nobody)).expect(422);
    }
    // A setup's tools stay with it.
    let all = shop.refused("clerk", "/v1/transfers", &pass(&["FT-010", "HD-05", "CG-103"], json!({"place": "BIN-A1"})));
    assert_eq!(all, ["item-in-setup CG-103", "item-in-setup FT-010", "item-in-setup HD-05"]);
}

fn bring(items: &[(&str, &str, &str)], person: &str) -> Value {
    let items =
        items.iter().map(|(code, place, condition)| json!({"code": code, "place": place, "condition": condition}));
    json!({"items": items.collect::<Vec<_>>(), "person": person})
}

pub(crate) fn at_the_counter(shop: &Shop) {
    let counter = "/v1/checkins";
    let before = ledger(shop);
    // Taken back from whoever has it; what is in its place, or in a setup, is not brought back.
    let wrong = bring(
        &[
            ("FT-001", "BIN-A1", "usable"),
            ("CG-101", "BIN-G1", "usable"),
            ("FT-002", "BIN-A1", "usable"),
            ("FT-007", "BIN-A2", "usable"),
            ("XX-1", "BIN-A1", "usable"),
        ],
        "setter",
    );
    assert_eq!(
        shop.refused("clerk", counter, &wrong),
        ["item-held-elsewhere FT-001", "item-held-elsewhere FT-002", "item-in-setup FT-007", "item-unknown XX-1"]
    );
    assert_eq!(ledger(shop), before, "something of a refused return moved");
    let back = bring(&[("FT-001", "BIN-A2", "needs_grinding"), ("DR-01", "SHELF-1", "usable")], "setter-2");
    let moved = shop.done("clerk", counter, &back);
    assert_eq!(moved["movements"][0]["kind"], "checked_in");
    let item = shop.item("FT-001");
    assert_eq!((&item["condition"], text(&item["where"]["name"]).as_str()), (&json!("needs_grinding"), "BIN-A2"));
    assert!(item["job"].is_null() && item["due"].is_null() && item["purpose"].is_null(), "{item}");
    // From a machine and from outside the shop, where nobody has it.
    shop.done(
        "clerk",
        counter,
        &bring(&[("HD-01", "BIN-H1", "usable"), ("FT-003", "BIN-A1", "needs_check")], "setter"),
    );
    // One's own, without a clerk.
    let mut own = bring(&[("CG-101", "BIN-G1", "needs_check")], "setter");
    shop.done("setter", counter, &own);
    // At the counter nothing becomes good that only a check makes good, and nothing retired comes back.
    shop.done("clerk", "/v1/checkouts", &json!({"items": ["CG-101"], "person": "setter", "purpose": "check"}));
    own["items"][0]["condition"] = json!("usable");
    assert_eq!(shop.refused("clerk", counter, &own), ["item-not-usable CG-101"]);
    own["items"][0]["condition"] = json!("retired");
    shop.done("clerk", counter, &own);
    // Passing on is no way round the counter.
    let to_setter = json!({"items": ["CG-101"], "to": {"person": "setter"}});
    assert_eq!(shop.refused("clerk", "/v1/transfers", &to_setter), ["item-not-usable CG-101"]);
    // Damaged is said by anybody, better only by whoever may judge it.
    shop.done("clerk", "/v1/checkouts", &json!({"items": ["CB-02"], "person": "setter", "purpose": "use"}));
    shop.done("setter", counter, &bring(&[("CB-02", "SHELF-1", "damaged")], "setter"));
    for (badge, person) in [("clerk", "setter"), ("inspector", "inspector")] {
        shop.done("clerk", "/v1/checkouts", &json!({"items": ["CB-02"], "person": person, "purpose": "check"}));
        let good = bring(&[("CB-02", "SHELF-1", "usable")], person);
        if badge == "clerk" {
            assert_eq!(shop.refused(badge, counter, &good), ["item-not-usable CB-02"]);
            shop.done(badge, counter, &bring(&[("CB-02", "SHELF-1", "damaged")], person));
        } else {
            shop.done(badge, counter, &good);
        }
    }
}

pub(crate) fn the_ledger_tells_everything(shop: &Shop) {
    let history = shop.read("/v1/items/FT-001/history");
    assert_eq!(column(&history, "kind"), ["checked_in", "transferred", "checked_out", "registered"], "newest first");
    let numbers: Vec<_> = items(&history).iter().map(|row| row["item_sequence"].as_u64()).collect();
    assert_eq!(numbers, [Some(4), Some(3), Some(2), Some(1)]);
    let rows = items(&history);
    assert!(rows[3]["from"].is_null() && rows[3]["to"]["name"] == "BIN-A1", "{history}");
    for (newer, older) in rows.iter().zip(&rows[1..]) {
        assert_eq!(newer["from"], older["to"], "a movement begins where the one before ended: {history}");
        assert!(text(&newer["recorded_at"]) > text(&older["recorded_at"]), "{history}");
    }
    assert_eq!(items(&movements(shop, "item=FT-001")), rows);
    assert_eq!(items(&movements(shop, "item=ft-001")), rows);

    let whole = ledger(shop);
    let touching = |kind: &str, name: &str| {
        let touches = |at: &Value| at["kind"] == kind && at["name"] == name;
        let meant = |row: &Value| kind == "machine" && row["for_machine"] == name;
        let rows = whole.iter().filter(|row| touches(&row["from"]) || touches(&row["to"]) || meant(row));
        rows.cloned().collect::<Vec<_>>()
    };
    for (filter, expected) in [
        ("person=setter-2", touching("person", "Silke Marten")),
        ("place=OUT-GRIND", touching("place", "OUT-GRIND")),
        ("machine=M-101", touching("machine", "M-101")),
    ] {
        assert!(!expected.is_empty(), "{filter} would prove nothing");
        assert_eq!(*items(&movements(shop, filter)), expected, "{filter}");
    }
    // From an instant on, up to one before another.
    let (since, until) = (text(&rows[2]["recorded_at"]), text(&rows[0]["recorded_at"]));
    let between = whole
        .iter()
        .filter(|row| (since.as_str()..until.as_str()).contains(&row["recorded_at"].as_str().expect("a time")));
    let between: Vec<_> = between.cloned().collect();
    assert!(between.len() > 3 && between.len() < whole.len());
    assert_eq!(*items(&movements(shop, &format!("since={since}&until={until}"))), between);
    assert_eq!(
        column(&movements(shop, &format!("item=FT-001&since={since}&until={until}")), "kind"),
        ["transferred", "checked_out"]
    );
    for unknown in ["item=XX-1", "person=nobody", "place=XX-1", "machine=XX-1", "since=yesterday"] {
        let _ = shop.person("clerk").get(&format!("/v1/movements?{unknown}")).send().expect(400);
    }

    // Where everything is now, by the same ledger.
    let now = |filter: &str| column(&shop.read(&format!("/v1/items?limit=200&{filter}")), "code");
    assert_eq!(now("person=grinder"), ["FT-006"]);
    assert_eq!(now("place=BIN-A2"), ["FT-001", "FT-008", "FT-009", "FT-011", "FT-012"]);
    assert_eq!(now("machine=M-103"), ["CG-103", "FT-010", "HD-05"]);
    assert_eq!(now("kind=center_gauge"), ["CG-101", "CG-102", "CG-103", "CG-104"]);
    assert_eq!(now("kind=form_tool&place=BIN-A1"), ["FT-002", "FT-003", "FT-004"]);
}
