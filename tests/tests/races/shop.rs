//! The demo shop on a server of its own, its people signed in, and what the races read of it.

use dovetally_tests::{
    client::{Answer, Client},
    program,
    server::{Backend, Server, ServerBuilder},
};
use serde_json::{Value, json};
use std::{
    collections::BTreeMap,
    thread,
    time::{Duration, Instant},
};
use tempfile::TempDir;

/// Everyone who may have an item in hand.
pub(crate) const PEOPLE: [&str; 8] =
    ["clerk", "setter", "setter-2", "inspector", "grinder", "maintainer", "supervisor", "administrator"];

/// The file of pauses, in a folder of the shop's own.
const PAUSES: &str = "pauses";
/// How long sealing passes may take to number what is committed.
const SEALING_LIMIT: Duration = Duration::from_secs(10);

/// A running demo shop.
pub(crate) struct Shop {
    // Dropped before the folder in which it looks for pauses.
    pub(crate) server: Server,
    pauses: TempDir,
    people: BTreeMap<&'static str, Client>,
}

/// What a walk along the records found.
pub(crate) struct Records {
    pub(crate) changes: i64,
    pub(crate) faults: Vec<String>,
}

impl Shop {
    pub(crate) fn open(backend: Backend) -> Self {
        Self::start(Server::on(backend))
    }

    /// The shop by a program that can hold transactions, and from which locks are left out.
    pub(crate) fn controlled(backend: Backend, left_out: &str) -> Self {
        let server = Server::on(backend).program(program::race_control());
        Self::start(server.variable("RACE_CONTROL_LEAVE_OUT", left_out))
    }

    fn start(builder: ServerBuilder) -> Self {
        let pauses = tempfile::tempdir().expect("a folder");
        let file = pauses.path().join(PAUSES);
        let server = builder.variable("RACE_CONTROL_PAUSE", &file.to_string_lossy()).demo().start();
        // Each on connections of their own, as people at different terminals are.
        let people = PEOPLE.map(|badge| (badge, server.person(badge))).into_iter().collect();
        Self { server, pauses, people }
    }

    /// From now on transactions are held at these points: pairs `NAME=MILLISECONDS`, separated by commas.
    pub(crate) fn hold(&self, pairs: &str) {
        std::fs::write(self.pauses.path().join(PAUSES), pairs).expect("the pauses are written");
    }

    pub(crate) fn person(&self, badge: &str) -> &Client {
        self.people.get(badge).unwrap_or_else(|| panic!("nobody has the badge {badge}"))
    }

    pub(crate) fn read(&self, path: &str) -> Value {
        self.person("supervisor").get(path).send().expect(200).json()
    }

    /// How many rows a list has that fits one page.
    pub(crate) fn count(&self, path: &str) -> usize {
        let page = self.read(path);
        assert!(page["next_cursor"].is_null(), "{path} has more than one page");
        items(&page).len()
    }

    pub(crate) fn open_setup(&self, machine: &str) -> String {
        let page = self.read(&format!("/v1/setups?machine={machine}&open=true"));
        text(&items(&page)[0]["id"])
    }

    pub(crate) fn setup(&self, id: &str) -> Value {
        self.read(&format!("/v1/setups/{id}"))
    }

    /// The kinds of a setup's events in order.
    pub(crate) fn events(&self, setup: &str) -> Vec<String> {
        let list = self.read(&format!("/v1/setups/{setup}/events"));
        let kinds = items(&list).iter().map(|event| text(&event["kind"]));
        kinds.collect()
    }

    pub(crate) fn record(&self, badge: &str, setup: &str, event: &Value) -> Answer {
        self.person(badge).post(&format!("/v1/setups/{setup}/events")).json(event).send()
    }

    /// Records an event that nothing stands against.
    pub(crate) fn step(&self, badge: &str, setup: &str, event: &Value) -> Value {
        self.record(badge, setup, event).expect(201).json()
    }

    /// Brings a setup from whatever a race left to the point at which it could be released. `keeper` has the gauge in
    /// hand, or is to have it.
    pub(crate) fn make_releasable(&self, setup: &str, keeper: &str) {
        let mut now = self.setup(setup);
        if now["state"] == "released" || now["pieces_to_book"] == true {
            now = self.step(
                keeper,
                setup,
                &json!({"kind": "run_stopped", "pieces": 0, "reason": "end of the round", "confirmed": true}),
            );
        }
        for station in now["stations"].as_array().expect("stations").clone() {
            if let Some(gauge) = station["gauge"].as_str() {
                let removed = json!({"kind": "gauge_removed", "station": station["station"], "gauge": gauge});
                now = self.step(keeper, setup, &removed);
            }
        }
        if now["trial_begun"] != true {
            now = self.step(keeper, setup, &json!({"kind": "trial_cut_begun"}));
        }
        assert_eq!(now["blockers"], json!([]), "a round must begin with a setup that could be released");
    }

    /// What the walk along the records finds once all that is committed is numbered.
    pub(crate) fn records(&self) -> Records {
        let mut faults = Vec::new();
        if let Some(database) = self.server.postgres() {
            let mut connection = database.connect();
            let begun = Instant::now();
            loop {
                let row = connection.query_one("SELECT count(*) FROM changes_pending", &[]).expect("the changes");
                let waiting: i64 = row.get(0);
                if waiting == 0 {
                    break;
                }
                if begun.elapsed() > SEALING_LIMIT {
                    faults.push(format!("sealing is stuck: {waiting} changes wait"));
                    break;
                }
                thread::sleep(Duration::from_millis(5));
            }
        }
        let found = self.read("/v1/movements/verify");
        faults.extend(found["faults"].as_array().expect("faults").iter().map(text));
        if found["sound"] != true && faults.is_empty() {
            faults.push("not sound, and no word why".to_owned());
        }
        Records { changes: found["changes"].as_i64().expect("a count"), faults }
    }
}

/// The rows of a list.
#[track_caller]
pub(crate) fn items(page: &Value) -> &Vec<Value> {
    page["items"].as_array().unwrap_or_else(|| panic!("not a list: {page}"))
}

/// A field that is text.
#[track_caller]
pub(crate) fn text(value: &Value) -> String {
    value.as_str().unwrap_or_else(|| panic!("not a text: {value}")).to_owned()
}
