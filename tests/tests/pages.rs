//! The pages: the hand-written `tests/pages.csv` says who may see and do what, and is held against the registered paths
//! and against live answers; and what a browser's session is worth.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use dovetally_tests::{
    client::Answer,
    server::{Backend, DEMO_SECRET, Server},
};
use std::{
    collections::{BTreeMap, BTreeSet},
    io::{Read, Write},
    net::TcpStream,
    time::{Duration, Instant},
};

/// The table's columns with the demo shop's badges.
const COLUMNS: [(&str, &str); 9] = [
    ("clerk", "clerk"),
    ("setter", "setter"),
    ("inspector", "inspector"),
    ("grinder", "grinder"),
    ("maintainer", "maintainer"),
    ("supervisor", "supervisor"),
    ("administrator", "administrator"),
    ("integration", "erp"),
    ("anonymous", ""),
];

/// An id that nothing has: whoever may see what has one is told so.
const NO_ID: &str = "00000000-0000-7000-8000-000000000000";

struct Row {
    method: &'static str,
    path: &'static str,
    allowed: BTreeMap<&'static str, bool>,
}

fn rows() -> Vec<Row> {
    let mut lines = include_str!("../pages.csv").lines().map(|line| line.split(',').collect::<Vec<_>>());
    let head = lines.next().expect("a line of names");
    assert_eq!(head[3..], COLUMNS.map(|(column, _)| column));
    let row = |fields: Vec<&'static str>| {
        let allowed = |word: &str| match word {
            "allowed" => true,
            "refused" => false,
            other => panic!("{other} in {fields:?}"),
        };
        let columns = COLUMNS.iter().zip(&fields[3..]);
        Row {
            method: fields[0],
            path: fields[1],
            allowed: columns.map(|((column, _), word)| (*column, allowed(word))).collect(),
        }
    };
    lines.map(row).collect()
}

/// Sends a form as a browser does.
fn post(server: &Server, path: &str, cookie: &str, form: &str) -> Answer {
    let client = server.anonymous();
    let call = client.post(path).header("Origin", server.base()).header("Accept", "text/html");
    let call = if cookie.is_empty() { call } else { call.header("Cookie", cookie) };
    call.body("application/x-www-form-urlencoded", form).send()
}

fn get(server: &Server, path: &str, cookie: &str) -> Answer {
    let client = server.anonymous();
    let call = client.get(path).header("Accept", "text/html");
    if cookie.is_empty() { call.send() } else { call.header("Cookie", cookie).send() }
}

/// The cookie that an answer sets, as a browser sends it back.
fn cookie_of(answer: &Answer) -> String {
    let line = answer.header("Set-Cookie").unwrap_or_else(|| panic!("no cookie: {answer}"));
    line.split(';').next().expect("a cookie").to_owned()
}

fn sign_in(server: &Server, badge: &str) -> String {
    let answer = post(server, "/sign-in", "", &format!("badge={badge}&secret={DEMO_SECRET}&return=/")).expect(303);
    assert_eq!(answer.header("Location"), Some("/"));
    cookie_of(&answer)
}

#[test]
fn every_page_is_in_the_table() {
    let source = include_str!("../../api/src/pages/mod.rs");
    let registered = source.lines().filter_map(|line| {
        let (before, rest) = line.split_once("(\"/")?;
        let known = before.ends_with("route") || before.ends_with("resource");
        known.then(|| format!("/{}", rest.split('"').next().unwrap_or_default()))
    });
    let registered: BTreeSet<String> = registered.collect();
    let table: BTreeSet<String> = rows().iter().map(|row| row.path.to_owned()).collect();
    assert_eq!(registered, table);
}

#[test]
fn each_role_sees_and_does_what_the_table_says() {
    let server = Server::on(Backend::Sqlite).demo().start();
    let mut wrong = Vec::new();
    for (column, badge) in COLUMNS {
        for row in rows() {
            // Anew each time: signing out is one of the rows.
            let cookie = if badge.is_empty() { String::new() } else { sign_in(&server, badge) };
            let path = row.path.replace("{version}", "0").replace("{name}", "style.css").replace("{code}", "FT-001");
            let path = path.replace("{id}", NO_ID).replace("{step}", "run_released").replace("{station}", "S1");
            let path = path.replace("{badge}", "setter-2");
            let answer = match row.method {
                "GET" => get(&server, &path, &cookie),
                _ => post(&server, &path, &cookie, ""),
            };
            let to_sign_in = answer.header("Location").is_some_and(|to| to.starts_with("/sign-in?"));
            let refused = answer.status == 403
                || badge.is_empty() && (answer.status == 401 || answer.status == 303 && to_sign_in);
            if refused == row.allowed[column] || answer.status >= 500 {
                wrong.push(format!("{column}: {} {} was answered {}", row.method, path, answer.status));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_browsers_session_ends_with_its_person_and_by_signing_out() {
    for backend in Backend::BOTH {
        let server = Server::on(backend).demo().start();
        let setter = sign_in(&server, "setter");
        let _ = get(&server, "/counter", &setter).expect(200);
        // The same session opens the API, and a change needs the page's own origin.
        let ask = |path: &str| server.anonymous().get(path).header("Cookie", &setter).send();
        let _ = ask("/v1/rules").expect(200);
        let anonymous = server.anonymous();
        let tag_out = anonymous.post("/v1/tag-outs").header("Cookie", &setter).body("application/json", "{}");
        let _ = tag_out.send().expect(403);

        let clerk = sign_in(&server, "clerk");
        let left = post(&server, "/sign-out", &clerk, "key=").expect(303);
        assert!(left.header("Set-Cookie").is_some_and(|line| line.contains("Max-Age=0")), "{left}");
        assert_eq!(get(&server, "/counter", &clerk).status, 303);

        let administrator = server.person("administrator");
        let person = administrator.get("/v1/people/setter").send().expect(200);
        let tag = person.header("ETag").expect("a tag").to_owned();
        let disable = administrator.patch("/v1/people/setter").header("If-Match", &tag);
        let _ = disable.body("application/merge-patch+json", r#"{"disabled": true}"#).send().expect(200);
        assert_eq!(get(&server, "/counter", &setter).status, 303);
    }
}

#[test]
fn another_persons_sign_in_ends_the_session_before() {
    let server = Server::on(Backend::Sqlite).demo().start();
    let clerk = sign_in(&server, "clerk");
    let form = format!("badge=supervisor&secret={DEMO_SECRET}&return=%2Fcounter");
    let changed = post(&server, "/sign-in", &clerk, &form).expect(303);
    assert_eq!(changed.header("Location"), Some("/counter"));
    assert_eq!(get(&server, "/counter", &clerk).status, 303);
    let _ = get(&server, "/counter", &cookie_of(&changed)).expect(200);
}

#[test]
fn a_wrong_secret_tells_nothing_and_slows_down() {
    let server = Server::on(Backend::Sqlite).demo().start();
    let try_it = |badge: &str| post(&server, "/sign-in", "", &format!("badge={badge}&secret=wrong-secret&return=/"));
    let words = |answer: &Answer, badge: &str| String::from_utf8_lossy(&answer.body).replace(badge, "");
    let (wrong, unknown) = (try_it("setter").expect(401), try_it("nobody-here").expect(401));
    assert_eq!(words(&wrong, "setter"), words(&unknown, "nobody-here"));
    assert!(String::from_utf8_lossy(&wrong.body).contains("<title>Error: Sign in"));
    assert!((0..20).any(|_| try_it("setter").status == 429), "twenty guesses in a row and no wait");
}

#[test]
fn without_being_switched_on_nobody_signs_in_over_plain_http() {
    let server = Server::on(Backend::Sqlite).demo().variable("DOVETALLY_PLAIN_HTTP_SESSIONS", "false").start();
    let form = format!("badge=setter&secret={DEMO_SECRET}&return=/");
    let answer = post(&server, "/sign-in", "", &form).expect(422);
    assert!(answer.header("Set-Cookie").is_none(), "{answer}");
    let page = String::from_utf8_lossy(&answer.body).into_owned();
    assert!(page.contains("DOVETALLY_PLAIN_HTTP_SESSIONS"), "{page}");
}

#[test]
fn behind_https_the_cookie_is_for_this_host_alone() {
    let url = "https://tools.example";
    let server = Server::on(Backend::Sqlite).demo().variable("DOVETALLY_PUBLIC_URL", url).start();
    let form = format!("badge=setter&secret={DEMO_SECRET}&return=/");
    let client = server.anonymous();
    let send = |origin: &str| {
        client.post("/sign-in").header("Origin", origin).body("application/x-www-form-urlencoded", form.clone()).send()
    };
    let _ = send(server.base()).expect(403);
    let answer = send(url).expect(303);
    let line = answer.header("Set-Cookie").expect("a cookie");
    assert!(line.starts_with("__Host-dovetally=") && line.contains("; Secure") && line.contains("HttpOnly"), "{line}");
    let _ = get(&server, "/counter", &cookie_of(&answer)).expect(200);
}

#[test]
fn what_is_not_there_is_told_as_a_page_to_a_browser_and_as_a_document_to_a_program() {
    let server = Server::on(Backend::Sqlite).demo().start();
    let page = get(&server, "/no-such-page", "").expect(404);
    assert_eq!(page.header("Content-Type"), Some("text/html; charset=utf-8"));
    assert!(page.header("Content-Security-Policy").is_some_and(|policy| !policy.contains("unsafe")));
    let document = server.anonymous().get("/no-such-page").send().expect(404);
    assert_eq!(document.header("Content-Type"), Some("application/problem+json"));
    let api = get(&server, "/v1/machines", "").expect(401);
    assert_eq!(api.header("Content-Type"), Some("application/problem+json"));
}

#[test]
fn a_code_leads_to_what_it_names() {
    let server = Server::on(Backend::Sqlite).demo().start();
    let cookie = sign_in(&server, "clerk");
    for (path, to) in [
        ("/s/ft-001", "/items/FT-001"),
        ("/s?code=+FT-001+", "/items/FT-001"),
        ("/s?code=http%3A%2F%2Fcrib%2Fs%2FFT-001", "/items/FT-001"),
        ("/s/m-101", "/machines/M-101"),
        ("/s/setter", "/sign-in?badge=setter"),
        ("/s/no-such", "/find?text=no-such"),
    ] {
        assert_eq!(get(&server, path, &cookie).expect(303).header("Location"), Some(to), "{path}");
    }
    let found = get(&server, "/find?text=t-00", &cookie).expect(200);
    let page = String::from_utf8_lossy(&found.body).into_owned();
    assert!(page.contains("href=\"/items/FT-001\""), "{page}");
    for (text, pages) in [
        ("P-2001", vec!["/jobs/J-5001", "/jobs/J-5004"]),
        ("j-500", vec!["/jobs/J-5001", "/jobs/J-5002"]),
        ("sup", vec!["/supplies/SUP-GREASE"]),
        ("grease", vec!["/supplies/SUP-GREASE"]),
    ] {
        let found = get(&server, &format!("/find?text={text}"), &cookie).expect(200);
        let page = String::from_utf8_lossy(&found.body).into_owned();
        for address in pages {
            assert!(page.contains(&format!("href=\"{address}\"")), "{text}: {page}");
        }
        assert!(text != "P-2001" || page.contains("Hose nipple"), "the part itself: {page}");
    }
    // SQLite's own folding knows no letters beyond ASCII.
    let supply = serde_json::json!({"code": "SUP-OIL", "name": "Öl für Lager", "unit": "litre", "minimum": 1,
        "reorder_quantity": 10, "lead_time_days": 14, "place": "SHELF-1"});
    let _ = server.person("clerk").post("/v1/supplies").json(&supply).send().expect(201);
    for text in ["%C3%B6l+f%C3%BCr", "%C3%96L"] {
        let found = get(&server, &format!("/find?text={text}"), &cookie).expect(200);
        assert!(String::from_utf8_lossy(&found.body).contains("href=\"/supplies/SUP-OIL\""), "{text}");
    }
    // People are looked up by nobody here, and the answer does not say that there is none.
    let nobody = get(&server, "/find?text=Okoro", &cookie).expect(200);
    let page = String::from_utf8_lossy(&nobody.body).into_owned();
    assert!(page.contains("No item, machine, tool design, part, job or supply has"), "{page}");
    let nothing = get(&server, "/find?text=%25_", &cookie).expect(200);
    assert!(!String::from_utf8_lossy(&nothing.body).contains("href=\"/items/"), "a pattern was taken for one");
}

#[test]
fn what_is_in_a_setup_leads_there_and_its_setter_goes_on_with_it() {
    for backend in Backend::BOTH {
        let server = Server::on(backend).demo().start();
        let setups = server.person("supervisor").get("/v1/setups?machine=M-103&open=true").send().expect(200).json();
        let id = setups["items"][0]["id"].as_str().unwrap_or_else(|| panic!("{setups}")).to_owned();
        // Silke Marten worked on M-102 last, and holds the gauge of M-103 in her hand.
        let own = sign_in(&server, "setter-2");
        let led = get(&server, "/s/CG-103", &own).expect(303);
        let to = led.header("Location").unwrap_or_default();
        assert!(to.starts_with(&format!("/setups/{id}/S3")), "{to}");
        // Nobody but a setter is led into a setup.
        let clerk = sign_in(&server, "clerk");
        assert_eq!(get(&server, "/s/CG-103", &clerk).expect(303).header("Location"), Some("/items/CG-103"));
        let start = |cookie: &str| String::from_utf8_lossy(&get(&server, "/", cookie).expect(200).body).into_owned();
        assert!(start(&own).contains("Go on with M-102"), "{}", start(&own));
        let setter = start(&sign_in(&server, "setter"));
        assert!(setter.contains("Go on with M-103") && setter.contains(&format!("href=\"/setups/{id}")), "{setter}");
        let (does, looks) = setter.split_once("Where you may look").unwrap_or_else(|| panic!("{setter}"));
        assert!(does.contains("href=\"/jobs\"") && looks.contains("href=\"/supplies\""), "{setter}");
        let clerk = start(&clerk);
        assert!(!clerk.contains("Go on with"), "{clerk}");
        let (does, _) = clerk.split_once("Where you may look").unwrap_or_else(|| panic!("{clerk}"));
        assert!(does.contains("href=\"/supplies\""), "{clerk}");
    }
}

#[test]
fn what_somebody_has_is_brought_back_by_them_or_taken_back_by_the_crib() {
    let server = Server::on(Backend::Sqlite).demo().start();
    let out = serde_json::json!({"items": ["FT-001"], "person": "setter", "purpose": "use"});
    let _ = server.person("clerk").post("/v1/checkouts").json(&out).send().expect(201);
    for (badge, offered) in [
        ("setter", Some("Bring FT-001 back")),
        ("setter-2", None),
        ("inspector", None),
        ("clerk", Some("Take back FT-001")),
    ] {
        let page = get(&server, "/items/FT-001", &sign_in(&server, badge)).expect(200);
        let page = String::from_utf8_lossy(&page.body).into_owned();
        assert_eq!(page.contains("action=\"/counter/scans\""), offered.is_some(), "{badge}: {page}");
        assert!(offered.is_none_or(|words| page.contains(words)), "{badge}: {page}");
    }
}

#[test]
fn a_setup_that_was_not_started_keeps_the_stations_as_they_were_ticked() {
    let server = Server::on(Backend::Sqlite).demo().start();
    let cookie = sign_in(&server, "setter");
    let text = |answer: Answer| String::from_utf8_lossy(&answer.body).into_owned();
    let ticked = |page: &str, station: &str| {
        assert!(page.contains(&format!("name=\"use-{station}\" value=\"yes\"")), "{page}");
        page.contains(&format!("name=\"use-{station}\" value=\"yes\" checked"))
    };
    let page = text(get(&server, "/machines/M-101/setups?part=P-2001", &cookie).expect(200));
    assert_eq!(["S1", "S2"].map(|station| ticked(&page, station)), [true, true]);
    let form = "part=P-2001&use-S1=yes&use-S9=yes&key=k1";
    let page = text(post(&server, "/machines/M-101/setups", &cookie, form).expect(409));
    assert_eq!(["S1", "S2"].map(|station| ticked(&page, station)), [true, false]);
    let page = text(post(&server, "/machines/M-101/setups", &cookie, "part=P-2001&key=k2").expect(422));
    assert_eq!(["S1", "S2"].map(|station| ticked(&page, station)), [false, false]);
}

/// Reads a stream of events until some text has come, at most for five seconds.
fn heard(stream: &mut TcpStream, text: &str) -> String {
    let (began, mut all, mut some) = (Instant::now(), String::new(), [0; 4096]);
    while !all.contains(text) {
        assert!(began.elapsed() < Duration::from_secs(5), "no {text} in {all}");
        let read = stream.read(&mut some).expect("an open stream");
        assert!(read > 0, "the stream ended: {all}");
        all.push_str(&String::from_utf8_lossy(&some[..read]));
    }
    all
}

#[test]
fn open_pages_are_told_of_changes_and_a_server_that_stops_lets_them_go() {
    for backend in Backend::BOTH {
        let mut server = Server::on(backend).demo().start();
        let cookie = sign_in(&server, "setter");
        let host = server.base().trim_start_matches("http://").to_owned();
        let mut stream = TcpStream::connect(&host).expect("a connection");
        stream.set_read_timeout(Some(Duration::from_secs(5))).expect("a time-out");
        let asked =
            format!("GET /live HTTP/1.1\r\nHost: {host}\r\nAccept: text/event-stream\r\nCookie: {cookie}\r\n\r\n");
        stream.write_all(asked.as_bytes()).expect("a request");
        let first = heard(&mut stream, "data: ");
        assert!(first.contains("text/event-stream"), "{first}");
        let changes = || {
            let verified = server.person("supervisor").get("/v1/movements/verify").send().expect(200).json();
            verified["changes"].as_i64().expect("a number")
        };
        let before = changes();
        let tag_out = serde_json::json!({"machine": "M-101", "reason": "guard rail loose"});
        let _ = server.person("clerk").post("/v1/tag-outs").json(&tag_out).send().expect(201);
        let after = changes();
        assert!(after > before);
        let _ = heard(&mut stream, &format!("data: {after}\n"));
        // It answers a page that does not listen, and nobody who is not signed in.
        assert_eq!(get(&server, "/live", &cookie).expect(303).header("Location"), Some("/machines"));
        let began = Instant::now();
        let _ = server.stop();
        assert!(began.elapsed() < Duration::from_secs(8), "it waited for open pages: {:?}", began.elapsed());
    }
}
