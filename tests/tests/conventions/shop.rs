//! The demo shop on a server of its own, and what the tests ask of its answers.

use dovetally_tests::{
    client::{Answer, Client},
    server::{Backend, Server},
};
use serde_json::{Value, json};
use std::{
    thread,
    time::{Duration, Instant},
};

pub(crate) const MERGE_PATCH: &str = "application/merge-patch+json";

pub(crate) struct Shop {
    pub(crate) server: Server,
    /// The only person who writes the registry and reads the chain too.
    pub(crate) supervisor: Client,
    pub(crate) clerk: Client,
}

impl Shop {
    pub(crate) fn open(backend: Backend) -> Self {
        let server = Server::on(backend).demo().start();
        let (supervisor, clerk) = (server.person("supervisor"), server.person("clerk"));
        Self { server, supervisor, clerk }
    }

    pub(crate) fn post(&self, path: &str, body: &Value) -> Answer {
        self.supervisor.post(path).json(body).send()
    }

    pub(crate) fn tag(&self, path: &str) -> String {
        let read = self.supervisor.get(path).send().expect(200);
        read.header("etag").expect("an entity tag").to_owned()
    }

    /// A patch of a record as it is now.
    pub(crate) fn patch(&self, path: &str, fields: &Value) -> Answer {
        let tag = self.tag(path);
        self.supervisor.patch(path).header("If-Match", &tag).body(MERGE_PATCH, fields.to_string()).send()
    }

    /// How many changes are on record, once all that is committed is sealed.
    pub(crate) fn changes(&self) -> i64 {
        if let Some(database) = self.server.postgres() {
            let (mut connection, begun) = (database.connect(), Instant::now());
            let waiting = "SELECT count(*) FROM changes_pending";
            while connection.query_one(waiting, &[]).expect("the changes").get::<_, i64>(0) > 0 {
                assert!(begun.elapsed() < Duration::from_secs(20), "sealing is stuck");
                thread::sleep(Duration::from_millis(5));
            }
        }
        let found = self.supervisor.get("/v1/movements/verify").send().expect(200).json();
        assert_eq!(found["sound"], true, "{found}");
        found["changes"].as_i64().expect("a count")
    }
}

/// An answer that is a problem document of this status and code.
#[track_caller]
pub(crate) fn problem(answer: Answer, status: u16, code: &str) -> (Answer, Value) {
    let answer = answer.expect(status);
    assert_eq!(answer.header("content-type"), Some("application/problem+json"), "{answer}");
    let document = answer.json();
    assert_eq!(
        (&document["type"], &document["status"]),
        (&json!(format!("/problems/{code}")), &json!(status)),
        "{answer}"
    );
    for field in ["title", "detail", "trace_id"] {
        assert!(document[field].as_str().is_some_and(|text| !text.is_empty()), "no {field}: {document}");
    }
    (answer, document)
}

pub(crate) fn place(code: &str) -> Value {
    json!({"code": code, "name": "A place", "kind": "shelf"})
}
