//! The demo shop on a server of its own, and how the tests read its answers.

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

const PEOPLE: [&str; 6] = ["clerk", "setter", "inspector", "grinder", "maintainer", "supervisor"];

/// A running demo shop. Whatever its people write is foretold by a dry run first, and must come as foretold.
pub(crate) struct Shop {
    server: Server,
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

    /// Somebody whose writes are not foretold: for requests that race.
    pub(crate) fn unforetold(&self, badge: &str) -> Client {
        self.server.person(badge)
    }

    #[track_caller]
    pub(crate) fn read(&self, path: &str) -> Value {
        self.person("supervisor").get(path).send().expect(200).json()
    }

    pub(crate) fn tool(&self, code: &str) -> Value {
        self.read(&format!("/v1/form-tools/{code}"))
    }

    pub(crate) fn send(&self, badge: &str, path: &str, body: &Value) -> Answer {
        self.person(badge).post(path).json(body).send()
    }

    #[track_caller]
    pub(crate) fn done(&self, badge: &str, path: &str, body: &Value) -> Value {
        self.send(badge, path, body).expect(201).json()
    }

    #[track_caller]
    pub(crate) fn grind(&self, tool: &str, body: &Value) -> Value {
        self.done("grinder", &format!("/v1/form-tools/{tool}/regrinds"), body)
    }

    #[track_caller]
    pub(crate) fn check(&self, badge: &str, tool: &str, body: &Value) -> Value {
        self.done(badge, &format!("/v1/form-tools/{tool}/checks"), body)
    }

    /// A request that rules refuse: which, in alphabetical order; and the tool is as it was.
    #[track_caller]
    pub(crate) fn refused(&self, badge: &str, path: &str, body: &Value) -> Vec<String> {
        let problem = self.send(badge, path, body).expect(409).json();
        assert_eq!(problem["type"], "/problems/refused", "{problem}");
        let refusals = problem["refusals"].as_array().expect("refusals");
        let mut rules: Vec<String> =
            refusals.iter().map(|refusal| refusal["rule"].as_str().expect("a rule").to_owned()).collect();
        rules.sort();
        rules
    }

    /// A body that cannot be: the fields that are named.
    #[track_caller]
    pub(crate) fn unfit(&self, badge: &str, path: &str, body: &Value) -> Vec<String> {
        let problem = self.send(badge, path, body).expect(422).json();
        let errors = problem["errors"].as_array().unwrap_or_else(|| panic!("no errors: {problem}"));
        errors.iter().map(|error| error["pointer"].as_str().expect("a pointer").to_owned()).collect()
    }

    #[track_caller]
    pub(crate) fn patch(&self, path: &str, fields: &Value) -> Value {
        let client = self.person("supervisor");
        let tag = client.get(path).send().expect(200).header("etag").expect("an entity tag").to_owned();
        let patch = client.patch(path).header("If-Match", &tag);
        patch.body("application/merge-patch+json", fields.to_string()).send().expect(200).json()
    }

    /// Puts a tool of a design on record.
    #[track_caller]
    pub(crate) fn new_tool(&self, code: &str, design: &str) {
        let body = json!({"code": code, "design": design, "place": "BIN-A1"});
        let _ = self.done("supervisor", "/v1/form-tools", &body);
    }

    /// Runs a tool on M-101 for so many pieces, from the holder to the stop.
    #[track_caller]
    pub(crate) fn cut(&self, tool: &str, pieces: u64) {
        let events = self.release(tool);
        let _ = self.done(
            "setter",
            &events,
            &json!({"kind": "run_stopped", "pieces": pieces, "reason": "edge worn", "confirmed": true}),
        );
        let _ = self.done("setter", &events, &json!({"kind": "closed", "reason": "edge worn"}));
    }

    /// Sets a tool up on M-101 and releases the run; gives where its setup's events go. Part P-L1 works at S1 alone.
    #[track_caller]
    pub(crate) fn release(&self, tool: &str) -> String {
        let setup = json!({"machine": "M-101", "part": "P-L1", "stations": [{"station": "S1"}]});
        let opened = self.done("setter", "/v1/setups", &setup);
        let events = format!("/v1/setups/{}/events", opened["id"].as_str().expect("an id"));
        let height = |phase: &str| json!({"kind": "height_read", "station": "S1", "phase": phase, "on_gauge": true});
        for (by, event) in [
            (
                "setter",
                json!({"kind": "holder_seated", "station": "S1", "holder": "HD-02", "seat_clean": true,
                "seated_flush": true, "side_screw_free": true}),
            ),
            ("setter", json!({"kind": "tool_inserted", "station": "S1", "form_tool": tool})),
            ("setter", json!({"kind": "gauge_placed", "station": "S1", "gauge": "CG-101", "machine_stopped": true})),
            ("setter", height("before_clamping")),
            ("setter", json!({"kind": "tool_clamped", "station": "S1"})),
            ("setter", height("after_clamping")),
            ("setter", json!({"kind": "gauge_removed", "station": "S1", "gauge": "CG-101"})),
            ("setter", json!({"kind": "stock_fed", "bar_diameter": inches(0.5625), "bar_shape": "round"})),
            ("setter", json!({"kind": "index_clearance_confirmed", "confirmed": true})),
            ("setter", json!({"kind": "approach_read", "station": "S1", "gap": inches(0.01)})),
            ("setter", json!({"kind": "trial_cut_begun"})),
            ("inspector", json!({"kind": "first_piece_judged", "accepted": true, "readings": []})),
            ("setter", json!({"kind": "run_released"})),
        ] {
            let _ = self.done(by, &events, &event);
        }
        events
    }

    /// The codes that are due of a kind.
    #[track_caller]
    pub(crate) fn due(&self, kind: &str) -> Vec<String> {
        let list = self.read(&format!("/v1/due?kind={kind}"));
        let items = list["items"].as_array().expect("items");
        items.iter().map(|item| item["code"].as_str().expect("a code").to_owned()).collect()
    }

    pub(crate) fn records_are_sound(&self) {
        let begun = Instant::now();
        if let Some(database) = self.server.postgres() {
            let mut connection = database.connect();
            let waiting = "SELECT count(*) FROM changes_pending";
            while connection.query_one(waiting, &[]).expect("the changes").get::<_, i64>(0) > 0 {
                assert!(begun.elapsed() < Duration::from_secs(20), "sealing is stuck");
                thread::sleep(Duration::from_millis(5));
            }
        }
        let found = self.read("/v1/movements/verify");
        assert_eq!((&found["sound"], &found["faults"]), (&json!(true), &json!([])), "{found}");
    }
}

pub(crate) fn inches(value: f64) -> Value {
    json!({"value": value, "unit": "in"})
}

pub(crate) fn millimetres(value: f64) -> Value {
    json!({"value": value, "unit": "mm"})
}

/// A full grind of a worn edge down to a height in inches.
pub(crate) fn full(after: f64) -> Value {
    json!({"kind": "full", "height_after": inches(after), "edge_ended": "worn"})
}

pub(crate) fn accepted() -> Value {
    json!({"accepted": true, "profile_checked": true})
}

/// Everything that passing a flat tool asks for after a grind: height in inches, rake in degrees.
pub(crate) fn passed(height: f64, rake: f64) -> Value {
    json!({"accepted": true, "profile_checked": true, "height": inches(height), "rake_deg": rake})
}

/// A body with more said.
pub(crate) fn with(mut body: Value, more: &[(&str, Value)]) -> Value {
    for (field, value) in more {
        body[*field] = value.clone();
    }
    body
}
