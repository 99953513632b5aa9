//! Idempotency keys and pages.

use crate::shop::{Shop, place, problem};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use dovetally_tests::client::{Answer, Client};
use serde_json::{Value, json};
use std::{collections::BTreeSet, sync::Barrier, thread};

fn with_key(client: &Client, key: &str, body: &Value) -> Answer {
    client.post("/v1/places").header("Idempotency-Key", key).json(body).send()
}

pub(crate) fn a_key_has_one_effect(shop: &Shop) {
    let first = with_key(&shop.supervisor, "key-1", &place("IDEM-1")).expect(201);
    let before = shop.changes();
    // Bare or quoted, it is the same key, and gets the same answer.
    for key in ["key-1", "\"key-1\""] {
        let again = with_key(&shop.supervisor, key, &place("IDEM-1")).expect(201);
        assert_eq!((&again.body, again.header("location")), (&first.body, first.header("location")));
    }
    problem(with_key(&shop.supervisor, "key-1", &place("IDEM-2")), 422, "idempotency-key-reused");
    assert_eq!(shop.changes(), before);
    for bad in ["", "with space", "slash/", &"x".repeat(65)] {
        problem(with_key(&shop.supervisor, bad, &place("IDEM-3")), 400, "malformed-header");
    }
    // A program always sends one; its keys are not another's.
    let erp = shop.server.person("erp");
    let bare = erp.post("/v1/places").json(&place("IDEM-4")).send();
    problem(bare, 400, "idempotency-key-required");
    let _ = with_key(&erp, "key-1", &place("IDEM-4")).expect(201);
    // A refused request is not stored: the same one is judged anew when what stood against it is gone.
    let out = json!({"items": ["CB-02"], "purpose": "use"});
    let take = || shop.clerk.post("/v1/checkouts").header("Idempotency-Key", "key-2").json(&out).send();
    let _ = shop.supervisor.post("/v1/checkouts").json(&out).send().expect(201);
    problem(take(), 409, "refused");
    let back = json!({"items": [{"code": "CB-02", "place": "SHELF-1", "condition": "usable"}]});
    let _ = shop.supervisor.post("/v1/checkins").json(&back).send().expect(201);
    let _ = take().expect(201);

    let before = shop.changes();
    let start = Barrier::new(20);
    let answers: Vec<Answer> = thread::scope(|scope| {
        let send = || {
            start.wait();
            with_key(&shop.supervisor, "key-3", &place("IDEM-5"))
        };
        let clients: Vec<_> = (0..20).map(|_| scope.spawn(send)).collect();
        clients.into_iter().map(|client| client.join().expect("a client")).collect()
    });
    for answer in &answers {
        assert_eq!((answer.status, &answer.body), (201, &answers[0].body), "{answer}");
    }
    assert_eq!(shop.changes() - before, 1, "twenty requests of one key");
}

pub(crate) fn a_walk_misses_and_repeats_nothing(shop: &Shop) {
    let page = |path: &str| shop.supervisor.get(path).send().expect(200);
    let codes = |page: &Value| -> Vec<String> {
        let rows = page["items"].as_array().expect("rows").iter();
        rows.map(|row| row["code"].as_str().expect("a code").to_owned()).collect()
    };
    let before: BTreeSet<String> = codes(&page("/v1/places?limit=200").json()).into_iter().collect();
    let (mut seen, mut next, mut number) = (Vec::new(), Some("/v1/places?limit=3".to_owned()), 0);
    while let Some(path) = next {
        let answer = page(&path);
        let document = answer.json();
        seen.extend(codes(&document));
        let link = answer.header("link").map(|link| link.trim_start_matches('<').replace(">; rel=\"next\"", ""));
        assert_eq!(link.is_some(), document["next_cursor"].is_string(), "{answer}");
        next = link;
        // Before and after where the walk is.
        for code in [format!("A-{number}"), format!("Z-{number}")] {
            let _ = shop.post("/v1/places", &place(&code)).expect(201);
        }
        number += 1;
        assert!(number < 100, "the walk does not end");
    }
    let once: BTreeSet<String> = seen.iter().cloned().collect();
    assert_eq!(once.len(), seen.len(), "repeated: {seen:?}");
    assert!(once.is_superset(&before), "missed: {:?}", before.difference(&once));
    let cursor = page("/v1/places?limit=3").json()["next_cursor"].as_str().expect("a cursor").to_owned();
    for foreign in
        [format!("/v1/items?cursor={cursor}"), "/v1/places?cursor=e30".to_owned(), "/v1/places?cursor=%00".to_owned()]
    {
        problem(shop.supervisor.get(&foreign).send(), 400, "malformed-cursor");
    }
    // A cursor that was made up does not reach the database with a year that the calendar has not.
    let walk = "/v1/movements?limit=1";
    let given = page(walk).json()["next_cursor"].as_str().expect("a cursor").to_owned();
    let mut said: Value = serde_json::from_slice(&URL_SAFE_NO_PAD.decode(given).expect("base64url")).expect("a key");
    for year in ["+262000", "-0005"] {
        said["k"][0] = json!(format!("{year}-01-01T00:00:00Z"));
        let made_up = URL_SAFE_NO_PAD.encode(said.to_string());
        problem(shop.supervisor.get(&format!("{walk}&cursor={made_up}")).send(), 400, "malformed-cursor");
    }
    for limit in ["0", "201", "-1", "x", ""] {
        problem(shop.supervisor.get(&format!("/v1/places?limit={limit}")).send(), 400, "malformed-query");
    }
    assert_eq!(codes(&page("/v1/places?limit=1").json()).len(), 1);
}
