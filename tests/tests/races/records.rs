//! Races for one item, one idempotency key, one version of a record. Each function is one round.

use crate::{
    race::{Loss, Violations, at_once, one_winner, promise, together, winners},
    shop::{PEOPLE, Shop, items},
};
use serde_json::{Value, json};

/// A kit of the demo shop that lies on one shelf.
pub(crate) const KIT: [&str; 3] = ["CB-02", "CB-03", "DR-01"];
/// An item for the races about one key.
pub(crate) const KEYED: &str = "FT-002";
/// How often one key is sent.
pub(crate) const REPEATS: usize = 100;
/// A record that is changed.
pub(crate) const PLACE: &str = "/v1/places/CART-1";

/// Eight people take the same kit at once, each scanning it in another order: one has it, whole.
pub(crate) fn check_outs(shop: &Shop) -> Violations {
    let answers = at_once(PEOPLE.len(), |number| {
        let mut kit = KIT;
        kit.rotate_left(number % KIT.len());
        let body = json!({"items": kit, "purpose": "use"});
        shop.person(PEOPLE[number]).post("/v1/checkouts").json(&body).send()
    });
    let mut violations = one_winner(&answers, 201, &Loss::Refused(&["item-held-elsewhere"]));
    if let ([winner], true) = (&winners(&answers)[..], violations.is_empty()) {
        let badge = PEOPLE[*winner];
        let held = items(&shop.read(&format!("/v1/items?person={badge}&kind=other&limit=200"))).clone();
        for code in KIT {
            if !held.iter().any(|item| item["code"] == code) {
                violations.push(promise(format!("{code} is not with {badge}, who was told so")));
            }
        }
        let back = KIT.map(|code| json!({"code": code, "place": "SHELF-1", "condition": "usable"}));
        let body = json!({"items": back, "person": badge});
        let _ = shop.person("clerk").post("/v1/checkins").json(&body).send().expect(201);
    }
    violations
}

/// One request a hundred times at once under one key: it is done once, and answered a hundred times alike.
pub(crate) fn one_key(shop: &Shop, key: &str) -> Violations {
    let history = format!("/v1/movements?item={KEYED}&limit=200");
    let (before, changes) = (shop.count(&history), shop.records().changes);
    let body = json!({"items": [KEYED], "person": "setter", "purpose": "use"});
    let answers = at_once(REPEATS, |_| {
        shop.person("clerk").post("/v1/checkouts").header("Idempotency-Key", key).json(&body).send()
    });
    let mut violations = Violations::new();
    let first = &answers[0];
    let answered = |answer: &dovetally_tests::client::Answer| {
        (answer.status, answer.body.clone(), answer.header("location").map(str::to_owned))
    };
    let different = answers.iter().filter(|answer| answer.status != 201 || answered(answer) != answered(first));
    violations.extend(different.map(|other| promise(format!("answered differently: {other}"))).take(3));
    let (effects, records) = (shop.count(&history) - before, shop.records());
    if effects != 1 || records.changes - changes != 1 {
        violations.push(together(format!("{effects} movements and {} changes by one key", records.changes - changes)));
    }
    if violations.is_empty() {
        let back: Value =
            json!({"items": [{"code": KEYED, "place": "BIN-A1", "condition": "usable"}], "person": "setter"});
        let _ = shop.person("clerk").post("/v1/checkins").json(&back).send().expect(201);
    }
    violations
}

/// Eight changes of one record at once, each with the tag that all of them read: one is taken.
pub(crate) fn patches(shop: &Shop, round: usize) -> Violations {
    let supervisor = shop.person("supervisor");
    let read = supervisor.get(PLACE).send().expect(200);
    let tag = read.header("etag").expect("an ETag").to_owned();
    let name = |number: usize| format!("Cart, round {round}, client {number}");
    let answers = at_once(8, |number| {
        let body = json!({"name": name(number)}).to_string();
        supervisor.patch(PLACE).header("If-Match", &tag).body("application/merge-patch+json", body).send()
    });
    let mut violations = one_winner(&answers, 200, &Loss::Stale);
    if let [winner] = winners(&answers)[..] {
        let now = supervisor.get(PLACE).send().expect(200);
        if now.json()["name"] != name(winner) || now.header("etag") != answers[winner].header("etag") {
            violations.push(promise(format!("the record is not the winner's: {now}")));
        }
    }
    violations
}
