//! The demo shop on a server of its own with its people signed in, and how these tests read its answers.

use dovetally_tests::{
    client::{Answer, Client, Predictions},
    server::{Backend, Server},
};
use serde_json::{Value, json};
use std::{
    collections::BTreeMap,
    thread,
    time::{Duration, Instant},
};

const PEOPLE: [&str; 7] = ["clerk", "setter", "inspector", "grinder", "maintainer", "supervisor", "administrator"];

/// How long it may take until every change is in the chain.
const SEALING_LIMIT: Duration = Duration::from_secs(20);

/// A running demo shop. Whatever its people write is foretold by a dry run first, and must come as foretold.
pub(crate) struct Shop {
    pub(crate) server: Server,
    people: BTreeMap<&'static str, Client>,
}

impl Shop {
    pub(crate) fn open(backend: Backend) -> Self {
        let server = Server::on(backend).demo().start();
        let predictions = Predictions::default();
        let people = PEOPLE.map(|badge| (badge, server.person(badge).predicting(&predictions))).into_iter().collect();
        Self { server, people }
    }

    pub(crate) fn person(&self, badge: &str) -> &Client {
        self.people.get(badge).unwrap_or_else(|| panic!("nobody has the badge {badge}"))
    }

    #[track_caller]
    pub(crate) fn read(&self, path: &str) -> Value {
        self.person("supervisor").get(path).send().expect(200).json()
    }

    pub(crate) fn send(&self, badge: &str, path: &str, body: &Value) -> Answer {
        self.person(badge).post(path).json(body).send()
    }

    /// A request that makes something.
    #[track_caller]
    pub(crate) fn done(&self, badge: &str, path: &str, body: &Value) -> Value {
        self.send(badge, path, body).expect(201).json()
    }

    /// A request that rules refuse: what they are, with what they concern, in alphabetical order.
    #[track_caller]
    pub(crate) fn refused(&self, badge: &str, path: &str, body: &Value) -> Vec<String> {
        let problem = self.send(badge, path, body).expect(409).json();
        assert_eq!(problem["type"], "/problems/refused", "{problem}");
        named(&problem["refusals"])
    }

    /// The pointers that a request that cannot be is answered with.
    #[track_caller]
    pub(crate) fn faulty(&self, badge: &str, path: &str, body: &Value) -> Vec<String> {
        let problem = self.send(badge, path, body).expect(422).json();
        let errors = problem["errors"].as_array().unwrap_or_else(|| panic!("no errors: {problem}")).iter();
        errors.map(|error| text(&error["pointer"])).collect()
    }

    /// Changes a record as it is now.
    #[track_caller]
    pub(crate) fn patch(&self, badge: &str, path: &str, fields: &Value) -> Value {
        let client = self.person(badge);
        let tag = client.get(path).send().expect(200).header("etag").expect("an entity tag").to_owned();
        let patch = client.patch(path).header("If-Match", &tag);
        patch.body("application/merge-patch+json", fields.to_string()).send().expect(200).json()
    }

    /// What is done to a work order.
    pub(crate) fn order(&self, order: &Value, act: &str, body: &Value) -> Answer {
        self.send("maintainer", &order_path(order, act), body)
    }

    #[track_caller]
    pub(crate) fn on_hand(&self, supply: &str) -> i64 {
        self.read(&format!("/v1/supplies/{supply}"))["on_hand"].as_i64().expect("a number")
    }

    /// Everything that is on record fits together, once every change is sealed.
    pub(crate) fn records_are_sound(&self) {
        let begun = Instant::now();
        if let Some(database) = self.server.postgres() {
            let mut connection = database.connect();
            let waiting = "SELECT count(*) FROM changes_pending";
            while connection.query_one(waiting, &[]).expect("the changes").get::<_, i64>(0) > 0 {
                assert!(begun.elapsed() < SEALING_LIMIT, "sealing is stuck");
                thread::sleep(Duration::from_millis(5));
            }
        }
        let found = self.read("/v1/movements/verify");
        assert_eq!((&found["sound"], &found["faults"]), (&json!(true), &json!([])), "{found}");
    }
}

pub(crate) fn order_path(order: &Value, act: &str) -> String {
    format!("/v1/work-orders/{}/{act}", text(&order["id"]))
}

/// Refusals or blockers: each rule with what it concerns, in alphabetical order.
#[track_caller]
pub(crate) fn named(refusals: &Value) -> Vec<String> {
    let list = refusals.as_array().unwrap_or_else(|| panic!("not a list: {refusals}")).iter();
    let mut named: Vec<_> =
        list.map(|refusal| format!("{} {}", text(&refusal["rule"]), text(&refusal["subject"]["code"]))).collect();
    named.sort();
    named
}

/// A field that is text.
#[track_caller]
pub(crate) fn text(value: &Value) -> String {
    value.as_str().unwrap_or_else(|| panic!("not a text: {value}")).to_owned()
}

/// The rows of a list.
#[track_caller]
pub(crate) fn items(page: &Value) -> &Vec<Value> {
    page["items"].as_array().unwrap_or_else(|| panic!("not a list: {page}"))
}

/// The open setup of a machine.
#[track_caller]
pub(crate) fn open_setup(shop: &Shop, machine: &str) -> Value {
    let page = shop.read(&format!("/v1/setups?machine={machine}&open=true"));
    shop.read(&format!("/v1/setups/{}", text(&items(&page)[0]["id"])))
}

/// Records an event of a setup.
#[track_caller]
pub(crate) fn event(shop: &Shop, setup: &Value, event: &Value) -> Value {
    shop.done("setter", &format!("/v1/setups/{}/events", text(&setup["id"])), event)
}
