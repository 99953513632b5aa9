//! Many at once at the same shelf, order or plan: nothing is lost, nothing happens twice.

use crate::{
    shop::{Shop, items, order_path, text},
    supplies::{ledger_adds_up, supply},
};
use dovetally_tests::client::{Answer, Client};
use serde_json::{Value, json};
use std::{sync::Barrier, thread};

/// Sends one request from each of `count` threads, each on connections of its own, none before all are there.
fn at_once(shop: &Shop, badge: &str, count: usize, send: impl Fn(&Client, usize) -> Answer + Sync) -> Vec<Answer> {
    let clients: Vec<Client> = (0..count).map(|_| shop.server.person(badge)).collect();
    let start = Barrier::new(count);
    thread::scope(|scope| {
        let (start, send) = (&start, &send);
        let threads: Vec<_> = clients
            .iter()
            .enumerate()
            .map(|(number, client)| {
                scope.spawn(move || {
                    start.wait();
                    send(client, number)
                })
            })
            .collect();
        threads.into_iter().map(|thread| thread.join().expect("a client's thread")).collect()
    })
}

fn taken(answers: &[Answer]) -> usize {
    answers.iter().filter(|answer| (200..300).contains(&answer.status)).count()
}

/// The count refers to the moment before they all reached in: what it found less what they took is there at the end,
/// wherever among them it is recorded.
pub(crate) fn thirty_two_withdrawals_and_a_count(shop: &Shop) {
    let path = supply(shop, "SUP-RACE", 0);
    let received = shop.done("clerk", &format!("{path}/receipts"), &json!({"quantity": 100}));
    let mut moment = text(&received["recorded_at"]);
    let mut on_hand = 100;
    for round in 0..2 {
        // Seven are missing from the shelf each time, and nobody said so.
        let counted = on_hand - 7;
        let answers = at_once(shop, "supervisor", 33, |client, number| {
            if number == 16 {
                let body = json!({"counted": counted, "counted_at": moment});
                client.post(&format!("{path}/counts")).json(&body).send()
            } else {
                client.post(&format!("{path}/withdrawals")).json(&json!({"quantity": 1})).send()
            }
        });
        for answer in &answers {
            assert_eq!(answer.status, 201, "there was enough for all: {answer}");
        }
        on_hand = counted - 32;
        assert_eq!(ledger_adds_up(shop, &path), on_hand, "round {round}");
        moment = text(&items(&shop.read(&format!("{path}/movements?limit=1")))[0]["recorded_at"]);
    }
}

/// Eight want the last three: three get one each.
pub(crate) fn the_last_one_is_withdrawn_once(shop: &Shop) {
    let path = supply(shop, "SUP-LAST", 0);
    shop.done("clerk", &format!("{path}/receipts"), &json!({"quantity": 3}));
    let answers = at_once(shop, "maintainer", 8, |client, _| {
        client.post(&format!("{path}/withdrawals")).json(&json!({"quantity": 1})).send()
    });
    assert_eq!(taken(&answers), 3);
    for answer in answers.iter().filter(|answer| answer.status != 201) {
        assert_eq!(
            (answer.status, &answer.json()["refusals"][0]["rule"]),
            (409, &json!("not-enough-on-hand")),
            "{answer}"
        );
    }
    assert_eq!(ledger_adds_up(shop, &path), 0);
}

/// Eight end one order at once, with a part each: it ends once, and uses one.
pub(crate) fn an_order_ends_once(shop: &Shop) {
    let path = supply(shop, "SUP-ONCE", 0);
    shop.done("clerk", &format!("{path}/receipts"), &json!({"quantity": 20}));
    let order = shop.done("maintainer", "/v1/work-orders", &json!({"plan": "MP-101-CARRIER"}));
    let answers = at_once(shop, "maintainer", 8, |client, number| {
        let body = if number % 4 == 3 {
            json!({"note": "Not needed"})
        } else {
            json!({"note": "Greased", "touched": "spindle_carrier", "parts_used": [{"supply": "SUP-ONCE", "quantity": 1}]})
        };
        client.post(&order_path(&order, if number % 4 == 3 { "cancel" } else { "done" })).json(&body).send()
    });
    assert_eq!(taken(&answers), 1, "{:?}", answers.iter().map(|answer| answer.status).collect::<Vec<_>>());
    for answer in answers.iter().filter(|answer| answer.status != 200) {
        assert_eq!(
            (answer.status, &answer.json()["refusals"][0]["rule"]),
            (409, &json!("work-order-ended")),
            "{answer}"
        );
    }
    let ended: Value = shop.read(&format!("/v1/work-orders/{}", text(&order["id"])));
    let used = i64::from(ended["state"] == "done");
    assert_eq!(ledger_adds_up(shop, &path), 20 - used);
}

/// Eight open an order from one plan at once: one is opened.
pub(crate) fn a_plan_gives_one_order(shop: &Shop) {
    let answers = at_once(shop, "maintainer", 8, |client, _| {
        client.post("/v1/work-orders").json(&json!({"plan": "MP-HD-01"})).send()
    });
    assert_eq!(taken(&answers), 1);
    for answer in answers.iter().filter(|answer| answer.status != 201) {
        assert_eq!(
            (answer.status, &answer.json()["refusals"][0]["rule"]),
            (409, &json!("plan-order-open")),
            "{answer}"
        );
    }
    assert_eq!(items(&shop.read("/v1/work-orders?plan=MP-HD-01&open=true")).len(), 1);
}
