//! The hand-written `tests/permissions.csv` says who may do what. It is held against the document, which names each
//! operation's permission, and against live answers: every operation, every role, and nobody.
//!
//! A row with a `case` is about one body of an operation, where what is asked depends on the body: an event's kind, or
//! for whom an item is moved. "refused" means 403, and 401 for nobody.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use dovetally_tests::{
    client::{Answer, Client},
    program,
    server::{Backend, Server},
};
use serde_json::{Value, json};
use std::{
    collections::{BTreeMap, BTreeSet},
    process::Command,
    thread,
};
use ureq::http::Method;

/// Live answers that are not as the file says, each as the test prints it. The list only ever gets shorter.
const EXCEPTIONS: [&str; 0] = [];

/// The roles, in the order of the file's columns; the demo shop's badges are their names, but for the client.
const ROLES: [&str; 8] =
    ["clerk", "setter", "inspector", "grinder", "maintainer", "supervisor", "administrator", "integration"];

/// The column of whoever is not signed in.
const NOBODY: &str = "anonymous";

const SIGN_OUT: &str = "/v1/auth/sessions/current";
const EVENTS: &str = "/v1/setups/{id}/events";

#[derive(Debug)]
struct Row {
    method: &'static str,
    path: &'static str,
    case: &'static str,
    /// Any of these lets the request in; none is needed when it is empty.
    permissions: Vec<&'static str>,
    allowed: BTreeMap<&'static str, bool>,
}

impl Row {
    fn operation(&self) -> (&'static str, &'static str) {
        (self.method, self.path)
    }
}

fn rows() -> Vec<Row> {
    let mut lines = include_str!("../permissions.csv").lines().map(|line| line.split(',').collect::<Vec<_>>());
    let head = lines.next().expect("a line of names");
    let columns = ROLES.into_iter().chain([NOBODY]).collect::<Vec<_>>();
    assert_eq!((&head[..4], &head[4..]), (&["method", "path", "case", "permission"][..], &columns[..]));
    let row = |fields: Vec<&'static str>| {
        assert_eq!(fields.len(), head.len(), "{fields:?}");
        let allowed = |word: &str| match word {
            "allowed" => true,
            "refused" => false,
            other => panic!("{other} in {fields:?}"),
        };
        let permissions = fields[3].split(" or ").filter(|name| *name != "none").collect();
        let allowed = columns.iter().copied().zip(fields[4..].iter().map(|word| allowed(word))).collect();
        Row { method: fields[0], path: fields[1], case: fields[2], permissions, allowed }
    };
    lines.map(row).collect()
}

fn document() -> Value {
    let output = Command::new(program::dovetally()).arg("openapi").output().expect("the document");
    serde_json::from_slice(&output.stdout).expect("the document is JSON")
}

/// The document's operations: method and path, `x-permission`, and the permissions of `security`.
fn documented() -> BTreeMap<(String, String), (String, Vec<String>)> {
    let document = document();
    let mut operations = BTreeMap::new();
    for (path, item) in document["paths"].as_object().expect("paths") {
        for (method, operation) in item.as_object().expect("operations") {
            let mut asked: BTreeMap<&str, Vec<String>> = BTreeMap::new();
            for way in operation["security"].as_array().expect("every operation says its security") {
                for (scheme, names) in way.as_object().expect("a scheme with permissions") {
                    let names = names.as_array().expect("permissions").iter();
                    let names = names.map(|name| name.as_str().expect("a permission's name").to_owned());
                    asked.entry(scheme).or_default().extend(names);
                }
            }
            let bearer = asked.remove("bearer").unwrap_or_default();
            for (scheme, names) in asked {
                assert_eq!(names, bearer, "{method} {path}: {scheme} asks for the same as a token");
            }
            let asked = bearer;
            let shown = operation["x-permission"].as_str().expect("every operation says its permission").to_owned();
            operations.insert((method.to_uppercase(), path.clone()), (shown, asked));
        }
    }
    operations
}

#[test]
fn the_document_and_the_file_name_the_same_operations_and_permissions() {
    let rows = rows();
    let documented = documented();
    let mut written = BTreeSet::new();
    for row in rows.iter().filter(|row| row.case.is_empty()) {
        let operation = (row.method.to_owned(), row.path.to_owned());
        let (shown, asked) = documented.get(&operation).unwrap_or_else(|| panic!("not documented: {operation:?}"));
        assert_eq!(*asked, row.permissions, "{operation:?}: `security`");
        let first = row.permissions.first().copied().unwrap_or("none");
        assert_eq!(*shown, first, "{operation:?}: `x-permission`");
        assert!(written.insert(operation), "twice: {:?}", row.operation());
    }
    let missing: Vec<_> = documented.keys().filter(|operation| !written.contains(*operation)).collect();
    assert!(missing.is_empty(), "not in tests/permissions.csv: {missing:?}");
}

#[test]
fn a_case_narrows_its_operation_and_every_kind_of_event_has_one() {
    let rows = rows();
    let mut kinds = BTreeSet::new();
    for row in rows.iter().filter(|row| !row.case.is_empty()) {
        let whole = rows.iter().find(|other| other.case.is_empty() && other.operation() == row.operation());
        let whole = whole.unwrap_or_else(|| panic!("a case of no operation: {row:?}"));
        for (role, allowed) in &row.allowed {
            assert!(!allowed || whole.allowed[role], "{role}: allowed in a case but not at all: {row:?}");
        }
        assert!(row.permissions.iter().all(|name| whole.permissions.contains(name)), "{row:?}");
        if row.path == EVENTS {
            kinds.insert(row.case.to_owned());
        }
    }
    let bodies = document()["components"]["schemas"]["EventBody"]["oneOf"].take();
    let documented = bodies.as_array().expect("one schema for each kind").iter().map(|body| {
        let kind = &body["properties"]["kind"];
        kind["const"].as_str().or(kind["enum"][0].as_str()).expect("a kind").to_owned()
    });
    assert_eq!(kinds, documented.collect(), "every kind of event in the document has a row");
    assert_eq!(kinds, events().into_iter().map(|(kind, _)| kind).collect(), "every row has a body to send");
}

#[test]
fn rows_that_ask_for_the_same_are_allowed_to_the_same_roles() {
    let rows = rows();
    let mut of_one: BTreeMap<_, &Row> = BTreeMap::new();
    for row in &rows {
        let first = of_one.entry(row.permissions.clone()).or_insert(row);
        assert_eq!(first.allowed, row.allowed, "{first:?} and {row:?}");
    }
}

#[test]
fn every_role_is_let_in_and_refused_as_the_file_says_on_sqlite() {
    hold_against_live_answers(Backend::Sqlite);
}

#[test]
fn every_role_is_let_in_and_refused_as_the_file_says_on_postgresql() {
    hold_against_live_answers(Backend::Postgres);
}

fn hold_against_live_answers(backend: Backend) {
    let server = Server::on(backend).demo().start();
    let rows = rows();
    let shop = Shop::of(&server.person("maintainer"), &server.person("supervisor"), &server.person("inspector"));
    let changes_before = changes(&server);
    let differences = thread::scope(|scope| {
        let columns = ROLES.into_iter().chain([NOBODY]);
        let started: Vec<_> = columns
            .map(|role| {
                let (server, rows, shop) = (&server, &rows, &shop);
                scope.spawn(move || column(server, rows, shop, role))
            })
            .collect();
        started.into_iter().flat_map(|column| column.join().expect("a column's requests")).collect::<Vec<_>>()
    });
    assert!(differences == EXCEPTIONS, "{backend:?}: not as in tests/permissions.csv:\n{}", differences.join("\n"));
    assert_eq!(changes(&server), changes_before, "dry runs and refusals leave no change");
}

/// Everything one role asks; what differs from the file.
fn column(server: &Server, rows: &[Row], shop: &Shop, role: &'static str) -> Vec<String> {
    let badge = if role == "integration" { "erp" } else { role };
    let client = if role == NOBODY { server.anonymous() } else { server.person(badge) };
    let mut differences = Vec::new();
    // Signing out is the last thing that anybody does.
    let (last, rest): (Vec<_>, Vec<_>) = rows.iter().partition(|row| row.path == SIGN_OUT);
    for row in rest.into_iter().chain(last) {
        let answer = shop.ask(&client, row);
        // An operation that asks for one of several names one that it asks for at all.
        let whole = rows.iter().find(|other| other.case.is_empty() && other.operation() == row.operation());
        let may_be_named = whole.map_or(&row.permissions, |whole| &whole.permissions);
        if let Err(difference) = judge(row, role, &answer, may_be_named) {
            differences.push(format!("{} {} {} as {role}: {difference}", row.method, row.path, row.case));
        }
    }
    differences
}

/// Holds one answer against the file.
fn judge(row: &Row, role: &str, answer: &Answer, may_be_named: &[&str]) -> Result<(), String> {
    let as_expected = match (row.allowed[role], role) {
        // What is read is there; what is written may be refused for what it says, but not for who says it.
        (true, _) if row.method == "GET" => answer.status == 200,
        (true, _) => !matches!(answer.status, 401 | 403 | 404 | 405 | 500..),
        (false, NOBODY) => answer.status == 401 && answer.header("WWW-Authenticate").is_some(),
        (false, _) => {
            answer.status == 403
                && answer.json()["permission"].as_str().is_some_and(|name| may_be_named.contains(&name))
        }
    };
    if as_expected { Ok(()) } else { Err(format!("{} {}", answer.status, String::from_utf8_lossy(&answer.body))) }
}

/// What the ledger's verification counts.
fn changes(server: &Server) -> Value {
    let answer = server.person("supervisor").get("/v1/movements/verify").send().expect(200).json();
    assert!(answer["changes"].is_u64(), "{answer}");
    answer["changes"].clone()
}

/// The demo shop's things that requests are about.
struct Shop {
    setup: String,
    tag_out: String,
    consent: String,
    work_order: String,
    impact: String,
    handover: String,
}

impl Shop {
    fn of(maintainer: &Client, supervisor: &Client, inspector: &Client) -> Self {
        let setups = maintainer.get("/v1/setups?machine=M-102").send().expect(200).json();
        let tag_out = json!({"machine": "M-101", "reason": "guard rail loose"});
        let tag_out = maintainer.post("/v1/tag-outs").json(&tag_out).send().expect(201).json();
        let orders = maintainer.get("/v1/work-orders?open=true").send().expect(200).json();
        let id = |value: &Value| value["id"].as_str().unwrap_or_else(|| panic!("no id in {value}")).to_owned();
        // A consent is given by a tool's owner only.
        let tag = supervisor.get("/v1/form-tools/FT-002").send().expect(200);
        let owned = supervisor.patch("/v1/form-tools/FT-002").header("If-Match", tag.header("etag").expect("a tag"));
        let owner = json!({"owner": "Ashby Pumps", "reserved_for": "P-2001"}).to_string();
        let _ = owned.body("application/merge-patch+json", owner).send().expect(200);
        let consent = json!({"kind": "grind", "given_by": "R. Ashby"});
        let consent = supervisor.post("/v1/form-tools/FT-002/consents").json(&consent).send().expect(201).json();
        let impact = json!({"gauge": "CG-101", "reason": "dropped"});
        let impact = inspector.post("/v1/impacts").json(&impact).send().expect(201).json();
        let floor = supervisor.get("/v1/floor").send().expect(200);
        let read = floor.header("etag").expect("a tag").trim_matches('"').to_owned();
        let handover = supervisor.post("/v1/handovers").json(&json!({"read": read})).send().expect(201).json();
        Self {
            handover: id(&handover),
            consent: id(&consent),
            setup: id(&setups["items"][0]),
            tag_out: id(&tag_out),
            work_order: id(&orders["items"][0]),
            impact: id(&impact),
        }
    }

    /// Sends what a row is about: as a dry run where there is one, so that nothing that is allowed changes the shop
    /// for those who ask after it.
    fn ask(&self, client: &Client, row: &Row) -> Answer {
        let mut path = self.path(row.path);
        let stores_nothing = ["/v1/auth/", "/v1/calculations/"].iter().any(|prefix| row.path.starts_with(prefix));
        if row.method != "GET" && !stores_nothing {
            path.push_str("?validate_only=true");
        }
        let method = row.method.parse::<Method>().expect("a method");
        let call = client.call(method, &path);
        match row.method {
            "GET" | "DELETE" => call.send(),
            "PATCH" => call.body("application/merge-patch+json", "{}").send(),
            "POST" => call.header("Idempotency-Key", "permissions").json(&body(row)).send(),
            other => panic!("{other} is no method of this test"),
        }
    }

    fn path(&self, template: &str) -> String {
        let codes = [
            ("/v1/machines/", "M-101"),
            ("/v1/tool-designs/", "TD-11"),
            ("/v1/items/", "MIC-01"),
            ("/v1/form-tools/", "FT-001"),
            ("/v1/holders/", "HD-01"),
            ("/v1/center-gauges/", "CG-101"),
            ("/v1/places/", "BIN-A1"),
            ("/v1/parts/", "P-2001"),
            ("/v1/jobs/", "J-5001"),
            ("/v1/people/", "setter-2"),
            ("/v1/setups/", &self.setup),
            ("/v1/tag-outs/", &self.tag_out),
            ("/v1/tool-consents/", &self.consent),
            ("/v1/maintenance-plans/", "MP-101-CARRIER"),
            ("/v1/work-orders/", &self.work_order),
            ("/v1/supplies/", "SUP-GREASE"),
            ("/v1/impacts/", &self.impact),
            ("/v1/handovers/", &self.handover),
            ("/problems/", "refused"),
        ];
        let query = match template.rsplit('/').next() {
            Some("gauge-check") => "?gauge=CG-101",
            Some("last-time") => "?part=P-2001",
            _ => "",
        };
        let Some((before, rest)) = template.split_once('{') else { return template.to_owned() };
        let (_, after) = rest.split_once('}').expect("a closing brace");
        let code = codes.iter().find(|(prefix, _)| *prefix == before);
        let (_, code) = code.unwrap_or_else(|| panic!("name something of the demo shop for {template}"));
        format!("{before}{code}{after}{query}")
    }
}

/// The body of a case; without one an empty object, since who may ask is judged before what is asked.
fn body(row: &Row) -> Value {
    let another = |mut body: Value| {
        body["person"] = json!("setter-2");
        body
    };
    let out = || json!({"items": ["FT-002"], "purpose": "use"});
    let back = || json!({"items": [{"code": "FT-002", "place": "BIN-A1", "condition": "usable"}]});
    match (row.path, row.case) {
        // Whether it is a breakdown decides who may ask at all.
        ("/v1/work-orders", "" | "a breakdown") => {
            json!({"subject": {"machine": "M-101"}, "what": "Smoke at the motor", "breakdown": true})
        }
        (_, "") => json!({}),
        ("/v1/checkouts", "for oneself") => out(),
        ("/v1/checkouts", "for another person") => another(out()),
        ("/v1/checkins", "for oneself") => back(),
        ("/v1/checkins", "for another person") => another(back()),
        ("/v1/form-tools/{code}/regrinds", "in the shop") => json!({"kind": "touch_up"}),
        ("/v1/form-tools/{code}/regrinds", "outside the shop") => {
            json!({"kind": "touch_up", "ground_outside": "Grinding shop in the next town"})
        }
        ("/v1/work-orders", "what is to be done") => {
            json!({"subject": {"machine": "M-101"}, "what": "Adjust the belt"})
        }
        ("/v1/work-orders", "from a plan") => json!({"plan": "MP-101-CARRIER"}),
        (EVENTS, kind) => {
            let (_, body) = events().into_iter().find(|(name, _)| name == kind).expect("a kind of event");
            body
        }
        other => panic!("say what the body of {other:?} is"),
    }
}

/// A body for every kind of event, by kind.
fn events() -> Vec<(String, Value)> {
    let inches = |value: f64| json!({"value": value, "unit": "in"});
    let all = [
        json!({"kind": "holder_seated", "station": "S1", "holder": "HD-04",
            "seat_clean": true, "seated_flush": true, "side_screw_free": true}),
        json!({"kind": "tool_inserted", "station": "S1", "form_tool": "FT-007"}),
        json!({"kind": "gauge_placed", "station": "S1", "gauge": "CG-102", "machine_stopped": true}),
        json!({"kind": "height_read", "station": "S1", "phase": "before_clamping", "on_gauge": true}),
        json!({"kind": "tool_clamped", "station": "S1"}),
        json!({"kind": "tool_unclamped", "station": "S1"}),
        json!({"kind": "tool_removed", "station": "S1", "form_tool": "FT-007"}),
        json!({"kind": "holder_removed", "station": "S1", "holder": "HD-04"}),
        json!({"kind": "gauge_removed", "station": "S1", "gauge": "CG-102"}),
        json!({"kind": "stock_fed", "bar_diameter": inches(0.5625), "bar_shape": "round"}),
        json!({"kind": "index_clearance_confirmed", "confirmed": true}),
        json!({"kind": "approach_read", "station": "S1", "gap": inches(0.01)}),
        json!({"kind": "trial_cut_begun"}),
        json!({"kind": "sizes_read", "station": "S1", "piece": 9,
            "readings": [{"feature": "D1", "value": inches(0.374)}]}),
        json!({"kind": "depth_read", "station": "E2", "piece": 9, "depth": inches(0.5)}),
        json!({"kind": "adjusted", "station": "S1", "adjuster": "SLIDE", "turns": 0.02, "direction": "clockwise"}),
        json!({"kind": "first_piece_judged", "accepted": true, "piece": 9,
            "readings": [{"station": "S1", "feature": "D1", "value": inches(0.374)}]}),
        json!({"kind": "run_released"}),
        json!({"kind": "held_pieces_judged", "accepted": true,
            "readings": [{"station": "S1", "feature": "D1", "value": inches(0.374)}]}),
        json!({"kind": "run_stopped", "pieces": 10, "reason": "shift ends"}),
        json!({"kind": "crash_reported", "station": "S1"}),
        json!({"kind": "handed_over", "to": "setter"}),
        json!({"kind": "closed", "reason": "order done"}),
        json!({"kind": "abandoned", "reason": "order withdrawn"}),
    ];
    all.into_iter().map(|body| (body["kind"].as_str().expect("a kind").to_owned(), body)).collect()
}
