//! The demo shop on a server of its own with its people signed in, and how the tests read its answers.

use crate::past::Past;
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

/// The people of the demo shop.
const PEOPLE: [&str; 8] =
    ["clerk", "setter", "setter-2", "inspector", "grinder", "maintainer", "supervisor", "administrator"];

/// How long it may take until every change is in the chain.
const SEALING_LIMIT: Duration = Duration::from_secs(20);

/// A running demo shop. Whatever its people write is foretold by a dry run first, and must come as foretold.
pub(crate) struct Shop {
    pub(crate) server: Server,
    people: BTreeMap<&'static str, Client>,
    past: Past,
}

impl Shop {
    pub(crate) fn open(backend: Backend) -> Self {
        let server = Server::on(backend).demo().start();
        let predictions = Predictions::default();
        let people = PEOPLE.map(|badge| (badge, server.person(badge).predicting(&predictions))).into_iter().collect();
        Self { server, people, past: Past::default() }
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
        let made = self.send(badge, path, body).expect(201).json();
        self.past.remember(self.person("supervisor"));
        made
    }

    /// A request that rules refuse: what they are, with what they concern, in alphabetical order.
    #[track_caller]
    pub(crate) fn refused(&self, badge: &str, path: &str, body: &Value) -> Vec<String> {
        let problem = self.send(badge, path, body).expect(409).json();
        assert_eq!(problem["type"], "/problems/refused", "{problem}");
        named(&problem["refusals"])
    }

    /// Records an event of a setup, and gives the setup as it is then.
    #[track_caller]
    pub(crate) fn event(&self, badge: &str, setup: &str, event: &Value) -> Value {
        self.done(badge, &events_of(setup), event)
    }

    #[track_caller]
    pub(crate) fn event_refused(&self, badge: &str, setup: &str, event: &Value) -> Vec<String> {
        let tag =
            || self.person("supervisor").get(&events_of(setup)).send().expect(200).header("etag").map(str::to_owned);
        let before = tag();
        assert!(before.is_some(), "no entity tag");
        let refused = self.refused(badge, &events_of(setup), event);
        assert_eq!(tag(), before, "a refused event left something behind: {event}");
        refused
    }

    #[track_caller]
    pub(crate) fn setup(&self, setup: &str) -> Value {
        self.read(&format!("/v1/setups/{setup}"))
    }

    #[track_caller]
    pub(crate) fn item(&self, code: &str) -> Value {
        self.read(&format!("/v1/items/{code}"))
    }

    /// The name of who or what has an item.
    #[track_caller]
    pub(crate) fn keeper(&self, code: &str) -> String {
        text(&self.item(code)["where"]["name"])
    }

    /// Changes a record as it is now.
    #[track_caller]
    pub(crate) fn patch(&self, badge: &str, path: &str, fields: &Value) -> Value {
        let client = self.person(badge);
        let tag = client.get(path).send().expect(200).header("etag").expect("an entity tag").to_owned();
        let patch = client.patch(path).header("If-Match", &tag);
        patch.body("application/merge-patch+json", fields.to_string()).send().expect(200).json()
    }

    /// Custody fits the ledger and the ledger its seals, once every change is sealed; and every past instant reads as it
    /// was.
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
        self.past.is_as_it_was(self.person("supervisor"));
    }
}

pub(crate) fn events_of(setup: &str) -> String {
    format!("/v1/setups/{setup}/events")
}

/// Refusals or blockers as "rule subject", in alphabetical order; one that is listed twice is seen.
#[track_caller]
pub(crate) fn named(refusals: &Value) -> Vec<String> {
    let refusals = refusals.as_array().unwrap_or_else(|| panic!("no list of refusals: {refusals}"));
    let mut names: Vec<String> = refusals
        .iter()
        .map(|refusal| {
            for words in ["sentence", "clears"] {
                // A question may end it: what was perhaps meant.
                assert!(
                    refusal[words].as_str().is_some_and(|text| text.ends_with(['.', '?'])),
                    "no {words}: {refusal}"
                );
            }
            let rule = text(&refusal["rule"]);
            match refusal["subject"]["code"].as_str() {
                Some(code) => format!("{rule} {code}"),
                None => rule,
            }
        })
        .collect();
    names.sort();
    names
}

/// The rows of a list that fits one page.
#[track_caller]
pub(crate) fn items(page: &Value) -> &Vec<Value> {
    assert!(page["next_cursor"].is_null(), "more than one page: {page}");
    page["items"].as_array().unwrap_or_else(|| panic!("not a list: {page}"))
}

/// One field of each row of a list.
#[track_caller]
pub(crate) fn column(page: &Value, field: &str) -> Vec<String> {
    items(page).iter().map(|row| text(&row[field])).collect()
}

#[track_caller]
pub(crate) fn text(value: &Value) -> String {
    value.as_str().unwrap_or_else(|| panic!("not a text: {value}")).to_owned()
}

pub(crate) fn inches(value: f64) -> Value {
    json!({"value": value, "unit": "in"})
}
