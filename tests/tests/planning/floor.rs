//! A corner of the demo shop for these tests alone: two machines with one station, a design of 1,000 pieces an edge, its
//! tools, holders of a style of its own.

use chrono::{Days, NaiveDate, TimeDelta, Utc};
use diesel::{Connection, SqliteConnection, connection::SimpleConnection};
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

pub(crate) const MERGE_PATCH: &str = "application/merge-patch+json";

/// Whatever its people write is foretold by a dry run first, and must come as foretold.
pub(crate) struct Floor {
    pub(crate) server: Server,
    people: BTreeMap<&'static str, Client>,
    today: NaiveDate,
}

impl Floor {
    pub(crate) fn open(backend: Backend) -> Self {
        let server = Server::on(backend).demo().start();
        let predictions = Predictions::default();
        let badges = ["clerk", "setter", "setter-2", "inspector", "grinder", "maintainer", "supervisor"];
        let people = badges.map(|badge| (badge, server.person(badge).predicting(&predictions))).into_iter().collect();
        #[expect(clippy::disallowed_methods, reason = "the server's day, from outside")]
        let today = Utc::now().date_naive();
        let floor = Self { server, people, today };
        floor.furnish();
        floor
    }

    fn furnish(&self) {
        let document = self.server.anonymous().get("/openapi.json").send().expect(200).json();
        let made = |path: &str, changes: Value| {
            let mut body =
                document["paths"][path]["post"]["requestBody"]["content"]["application/json"]["example"].clone();
            for (field, value) in changes.as_object().expect("fields") {
                body[field] = value.clone();
            }
            let _ = self.post("supervisor", path, &body).expect(201);
        };
        made(
            "/v1/tool-designs",
            json!({"code": "PL-D", "holder_style": "PL-STYLE", "expected_pieces_per_grind": 1000}),
        );
        for machine in ["PL-M1", "PL-M2"] {
            made("/v1/machines", json!({"code": machine}));
            let gauge = format!("{machine}-G");
            let nominal = json!({"value": 2.5, "unit": "in"});
            made("/v1/center-gauges", json!({"code": gauge, "machine": machine, "nominal": nominal}));
            self.check_gauge(&gauge, 300);
        }
        let operation = json!({"station": "S1", "tool_design": "PL-D", "features": []});
        made("/v1/parts", json!({"code": "PL-P", "operations": [operation]}));
        for tool in ["PL-T1", "PL-T2"] {
            made("/v1/form-tools", json!({"code": tool, "design": "PL-D"}));
        }
        for holder in ["PL-H1", "PL-H2"] {
            made("/v1/holders", json!({"code": holder, "style": "PL-STYLE"}));
        }
    }

    /// A day from today on.
    pub(crate) fn day(&self, ahead: u64) -> String {
        (self.today + Days::new(ahead)).to_string()
    }

    /// An accepted check that is valid for so many days.
    pub(crate) fn check_gauge(&self, gauge: &str, valid: u64) {
        let length = |value: f64| json!({"value": value, "unit": "in"});
        let check =
            json!({"as_found": length(2.5), "standard_uncertainty": length(0.00001), "next_check": self.day(valid)});
        let _ = self.post("inspector", &format!("/v1/center-gauges/{gauge}/checks"), &check).expect(201);
    }

    /// Puts a job on record, from one day ahead to another.
    pub(crate) fn job(&self, number: &str, machine: &str, quantity: i64, (from, to): (u64, u64)) {
        let body = json!({"number": number, "part": "PL-P", "machine": machine, "quantity": quantity,
            "planned_start": self.day(from), "planned_end": self.day(to)});
        let _ = self.post("supervisor", "/v1/jobs", &body).expect(201);
    }

    /// Lets days pass for jobs and their bookings, behind the server's back: each is planned from one day to another,
    /// counted from today.
    pub(crate) fn let_days_pass(&self, jobs: &[(&str, i64, i64)]) {
        let day = |ahead: i64| self.today + TimeDelta::days(ahead);
        let of_jobs = jobs.iter().flat_map(|(number, from, to)| {
            let (from, to) = (day(*from), day(*to));
            let of_job = format!("(SELECT id FROM jobs WHERE code = '{number}')");
            [
                format!("UPDATE jobs SET planned_start = '{from}', planned_end = '{to}' WHERE code = '{number}'"),
                format!(
                    "DELETE FROM booking_days WHERE booking_id IN (SELECT id FROM bookings WHERE job_id = {of_job})"
                ),
                format!("UPDATE bookings SET first_day = '{from}', last_day = '{to}' WHERE job_id = {of_job}"),
            ]
        });
        let statements: Vec<String> = of_jobs.collect();
        let statements = format!("BEGIN; {}; COMMIT", statements.join("; "));
        match self.server.postgres() {
            Some(database) => database.connect().batch_execute(&statements).expect("the days pass"),
            None => {
                let file = self.server.data_folder().join("dovetally.sqlite");
                let mut connection =
                    SqliteConnection::establish(file.to_str().expect("a path in UTF-8")).expect("the database");
                connection.batch_execute(&format!("PRAGMA busy_timeout = 5000; {statements}")).expect("the days pass");
            }
        }
    }

    /// Calls jobs off, so that they stand in no other's way.
    pub(crate) fn call_off(&self, numbers: &[&str]) {
        for number in numbers {
            let _ = self.patch_job(number, &json!({"state": "cancelled"})).expect(200);
        }
    }

    pub(crate) fn patch_job(&self, number: &str, fields: &Value) -> Answer {
        let path = format!("/v1/jobs/{number}");
        let supervisor = self.person("supervisor");
        let tag = supervisor.get(&path).send().expect(200).header("etag").expect("an entity tag").to_owned();
        supervisor.patch(&path).header("If-Match", &tag).body(MERGE_PATCH, fields.to_string()).send()
    }

    pub(crate) fn person(&self, badge: &str) -> &Client {
        self.people.get(badge).unwrap_or_else(|| panic!("nobody has the badge {badge}"))
    }

    pub(crate) fn post(&self, badge: &str, path: &str, body: &Value) -> Answer {
        self.person(badge).post(path).json(body).send()
    }

    #[track_caller]
    pub(crate) fn read(&self, path: &str) -> Value {
        self.person("setter").get(path).send().expect(200).json()
    }

    #[track_caller]
    pub(crate) fn readiness(&self, number: &str) -> Value {
        let answer = self.person("setter").get(&format!("/v1/jobs/{number}/readiness")).send().expect(200);
        assert_eq!(answer.header("cache-control"), Some("no-store"));
        answer.json()
    }

    /// Keeps an item for a job at the station of its part.
    pub(crate) fn book(&self, number: &str, items: &[&str]) -> Answer {
        let items: Vec<Value> = items.iter().map(|item| json!({"station": "S1", "item": item})).collect();
        self.post("clerk", &format!("/v1/jobs/{number}/bookings"), &json!({"items": items}))
    }

    /// What is kept for a job.
    #[track_caller]
    pub(crate) fn kept(&self, number: &str) -> Vec<String> {
        let list = self.read(&format!("/v1/jobs/{number}/bookings"));
        list["items"].as_array().expect("bookings").iter().map(|booking| text(&booking["item"])).collect()
    }

    /// Custody fits the ledger and the ledger its seals, once every change is sealed.
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
        let found = self.person("supervisor").get("/v1/movements/verify").send().expect(200).json();
        assert_eq!((&found["sound"], &found["faults"]), (&json!(true), &json!([])), "{found}");
    }
}

/// The rules that stand in a job's way, with what each saw of another job where it did.
#[track_caller]
pub(crate) fn reasons(readiness: &Value) -> Vec<String> {
    let needs = readiness["needs"].as_array().expect("needs").iter().map(|need| &need["reasons"]);
    let lists = std::iter::once(&readiness["machine_reasons"]).chain(needs);
    lists.flat_map(|list| list.as_array().expect("reasons")).map(|reason| text(&reason["rule"])).collect()
}

/// What a job's need of one kind is given.
#[track_caller]
pub(crate) fn given(readiness: &Value, kind: &str) -> Vec<String> {
    let needs = readiness["needs"].as_array().expect("needs").iter().filter(|need| need["kind"] == kind);
    needs.flat_map(|need| need["given"].as_array().expect("items")).map(|given| text(&given["item"])).collect()
}

/// The rules by which a request is refused.
#[track_caller]
pub(crate) fn refused(answer: Answer) -> Vec<String> {
    let problem = answer.expect(409).json();
    assert_eq!(problem["type"], "/problems/refused", "{problem}");
    problem["refusals"].as_array().expect("refusals").iter().map(|refusal| text(&refusal["rule"])).collect()
}

/// The field that a request is wrong at.
#[track_caller]
pub(crate) fn wrong_at(answer: Answer, status: u16, kind: &str) -> String {
    text(&answer.expect(status).json()["errors"][0][kind])
}

#[track_caller]
pub(crate) fn text(value: &Value) -> String {
    value.as_str().unwrap_or_else(|| panic!("not a text: {value}")).to_owned()
}
