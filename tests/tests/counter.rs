//! The counter's page: what scans come to by the records, and what is chosen for those that follow. Common practice of
//! tool cribs, no published source.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use dovetally_tests::{
    client::Answer,
    server::{Backend, DEMO_SECRET, Server},
};

/// Sends a form as a browser does.
fn post(server: &Server, path: &str, cookie: &str, form: &str) -> Answer {
    let client = server.anonymous();
    let call = client.post(path).header("Origin", server.base()).header("Accept", "text/html");
    let call = if cookie.is_empty() { call } else { call.header("Cookie", cookie) };
    call.body("application/x-www-form-urlencoded", form).send()
}

/// Signs somebody in; their cookie.
fn sign_in(server: &Server, badge: &str) -> String {
    let answer = post(server, "/sign-in", "", &format!("badge={badge}&secret={DEMO_SECRET}&return=/")).expect(303);
    let line = answer.header("Set-Cookie").unwrap_or_else(|| panic!("no cookie: {answer}"));
    line.split(';').next().expect("a cookie").to_owned()
}

#[test]
fn the_counter_follows_the_records_on_both_databases() {
    for backend in Backend::BOTH {
        let server = Server::on(backend).demo().start();
        let cookie = sign_in(&server, "clerk");
        let scan = |form: &str| {
            let answer = post(&server, "/counter/scans", &cookie, form);
            (answer.status, String::from_utf8_lossy(&answer.body).into_owned())
        };
        let (status, page) = scan("code=FT-001&key=k1");
        assert!(status == 200 && page.contains("Who takes FT-001"), "{page}");
        assert!(page.contains(r#"name="waiting" value="FT-001""#), "{page}");
        let (_, page) = scan("code=setter&waiting=FT-001&key=k2");
        assert!(page.contains("FT-001 is handed out to Sam Okoro"), "{page}");
        // The same key again does nothing more and is told the same.
        let (_, page) = scan("code=setter&waiting=FT-001&key=k2");
        assert!(page.contains("FT-001 is handed out to Sam Okoro"), "{page}");
        let (status, _) = scan("code=FT-004&key=k2");
        assert_eq!(status, 422, "the key came with another form");
        let (_, page) = scan("code=FT-001&condition=damaged&key=k3");
        assert!(page.contains("FT-001 is taken back into BIN-A1, damaged"), "{page}");
        let (status, page) = scan("code=FT-001&person=setter&name=Sam&key=k4");
        assert!(status == 409 && page.contains("Not done: FT-001") && page.contains("What clears it"), "{page}");
        let (status, page) = scan("code=NOTHING&key=k5");
        assert!(status == 409 && page.contains("NOTHING is not on record"), "{page}");
        let history = server.person("clerk").get("/v1/items/FT-001/history?limit=2").send().expect(200).json();
        assert_eq!(history["items"][1]["to"]["key"], "setter");
        assert_eq!(history["items"][0]["condition"], "damaged");

        // A setter takes for themselves and brings back what they have.
        let own = sign_in(&server, "setter");
        let taken = post(&server, "/counter/scans", &own, "code=FT-004&key=s1").expect(200);
        assert!(String::from_utf8_lossy(&taken.body).contains("FT-004 is handed out to Sam Okoro"), "{taken}");
        let forbidden = post(&server, "/counter/scans", &own, "code=FT-008&person=setter-2&name=S&key=s2").expect(403);
        assert!(String::from_utf8_lossy(&forbidden.body).contains("Not done: FT-008"), "{forbidden}");
    }
}

#[test]
fn a_job_comes_back_whole_but_for_its_exceptions() {
    for backend in Backend::BOTH {
        let server = Server::on(backend).demo().start();
        let clerk = server.person("clerk");
        let jobs = clerk.get("/v1/jobs?limit=1").send().expect(200).json();
        let job = jobs["items"][0]["number"].as_str().unwrap_or_else(|| panic!("{jobs}")).to_owned();
        let body = serde_json::json!({
            "items": ["FT-001", "FT-004", "FT-008"], "person": "setter", "job": job, "purpose": "use"
        });
        let _ = clerk.post("/v1/checkouts").json(&body).send().expect(201);
        let cookie = sign_in(&server, "clerk");
        let page = post(&server, "/counter/scans", &cookie, &format!("code={job}&key=k1")).expect(200);
        let page = String::from_utf8_lossy(&page.body).into_owned();
        assert!(page.contains(&format!("Out for job {job}: 3")), "{page}");
        // What goes out now is not on the page, and nobody says that it comes back.
        let later = serde_json::json!({"items": ["FT-002"], "person": "setter", "job": job, "purpose": "use"});
        let _ = clerk.post("/v1/checkouts").json(&later).send().expect(201);
        let form = format!("job={job}&FT-004=needs_grinding&FT-008=out&FT-001=&key=k2");
        for _ in 0..2 {
            let page = post(&server, "/counter/returns", &cookie, &form).expect(200);
            let page = String::from_utf8_lossy(&page.body).into_owned();
            assert!(page.contains(&format!("Taken back for job {job}: 2. Not back: 2.")), "{page}");
        }
        let item = |code: &str| clerk.get(&format!("/v1/items/{code}")).send().expect(200).json();
        assert_eq!(item("FT-001")["where"]["key"], "BIN-A1");
        assert_eq!(item("FT-004")["condition"], "needs_grinding");
        assert_eq!(item("FT-008")["where"]["kind"], "person");
        assert_eq!(item("FT-002")["where"]["kind"], "person");
        // One that a rule refuses leaves all as they were.
        let refused = format!("job={job}&FT-008=retired&key=k3");
        let clerk_only = post(&server, "/counter/returns", &sign_in(&server, "setter-2"), &refused);
        assert_eq!(clerk_only.status, 403, "{clerk_only}");
        assert_eq!(item("FT-008")["where"]["kind"], "person");
    }
}

#[test]
fn a_new_person_inherits_neither_machine_nor_job() {
    for backend in Backend::BOTH {
        let server = Server::on(backend).demo().start();
        let cookie = sign_in(&server, "clerk");
        let scan = |form: &str| {
            String::from_utf8_lossy(&post(&server, "/counter/scans", &cookie, form).expect(200).body).into_owned()
        };
        let chosen = "person=setter&name=Sam+Okoro&machine=M-102&job=J-5004";
        let page = scan(&format!("code=setter-2&{chosen}&key=k1"));
        assert!(page.contains("The next items are for Silke Marten."), "{page}");
        assert!(page.contains("M-102 is no longer chosen.") && page.contains("J-5004 is no longer chosen."), "{page}");
        assert!(!page.contains(r#"name="machine""#) && !page.contains(r#"name="job" value="J-5004""#), "{page}");
        // The same badge again is the same person, and who comes first finds what was chosen for them.
        let page = scan(&format!("code=setter&{chosen}&key=k2"));
        assert!(page.contains(r#"name="machine" value="M-102""#) && !page.contains("no longer chosen"), "{page}");
        let page = scan("code=setter&job=J-5004&key=k3");
        assert!(page.contains(r#"name="job" value="J-5004""#), "{page}");
        // One item waits for a badge; the one before it is not forgotten in silence.
        let page = scan("code=FT-004&waiting=FT-001&key=k4");
        assert!(page.contains("Who takes FT-004") && page.contains("FT-001 is no longer chosen."), "{page}");
    }
}

#[test]
fn what_is_with_the_chosen_person_is_asked_after_before_it_comes_back() {
    for backend in Backend::BOTH {
        let server = Server::on(backend).demo().start();
        let cookie = sign_in(&server, "clerk");
        let scan = |form: &str| {
            let answer = post(&server, "/counter/scans", &cookie, form);
            (answer.status, String::from_utf8_lossy(&answer.body).into_owned())
        };
        let moves = || {
            let history = server.person("clerk").get("/v1/items/FT-001/history?limit=50").send().expect(200).json();
            history["items"].as_array().expect("moves").len()
        };
        let sam = "code=FT-001&person=setter&name=Sam+Okoro";
        assert!(scan(&format!("{sam}&key=k1")).1.contains("FT-001 is handed out to Sam Okoro"));
        let before = moves();
        let (status, page) = scan(&format!("{sam}&condition=needs_grinding&key=k2"));
        assert!(status == 200 && page.contains("FT-001 is already with Sam Okoro. Take it back?"), "{page}");
        assert!(page.contains(r#"name="reply" value="take_back""#), "{page}");
        assert!(
            page.contains(r#"type="hidden" name="condition" value="needs_grinding""#),
            "what was said is kept: {page}"
        );
        assert_eq!(moves(), before);
        let (_, page) = scan(&format!("{sam}&reply=take_back&condition=needs_grinding&key=k3"));
        assert!(page.contains("FT-001 is taken back into BIN-A1, needs grinding"), "{page}");
        // Said twice it is refused, and never handed out again.
        let (status, page) = scan(&format!("{sam}&reply=take_back&key=k4"));
        assert!(status == 409 && page.contains("is already in"), "{page}");
        assert_eq!(moves(), before + 1);
        // With somebody else, or nobody chosen, a scan brings it back as ever.
        assert!(scan("code=FT-004&person=setter&name=S&key=k5").1.contains("FT-004 is handed out"));
        assert!(scan("code=FT-004&person=setter-2&name=S&key=k6").1.contains("FT-004 is taken back"));
        assert!(scan("code=FT-004&person=setter&name=S&key=k7").1.contains("FT-004 is handed out"));
        assert!(scan("code=FT-004&key=k8").1.contains("FT-004 is taken back"));
    }
}

#[test]
fn more_is_handed_out_for_a_job_of_which_something_is_out() {
    for backend in Backend::BOTH {
        let server = Server::on(backend).demo().start();
        let cookie = sign_in(&server, "clerk");
        let scan = |form: &str| {
            String::from_utf8_lossy(&post(&server, "/counter/scans", &cookie, form).expect(200).body).into_owned()
        };
        let sam = "person=setter&name=Sam+Okoro";
        let page = scan(&format!("code=J-5001&{sam}&key=k1"));
        assert!(page.contains("The next items are for job J-5001."), "{page}");
        assert!(scan(&format!("code=FT-001&job=J-5001&{sam}&key=k2")).contains("FT-001 is handed out"));
        let page = scan(&format!("code=J-5001&{sam}&key=k3"));
        assert!(page.contains("Out for job J-5001: 1") && page.contains("Hand out more for this job"), "{page}");
        assert!(page.contains(r#"name="reply" value="hand_out_more""#), "{page}");
        let page = scan(&format!("code=J-5001&{sam}&reply=hand_out_more&key=k4"));
        assert!(page.contains(r#"name="job" value="J-5001""#), "{page}");
        assert!(page.contains(r#"name="person" value="setter""#), "whom it is for stays chosen: {page}");
    }
}

#[test]
fn a_scan_that_was_kept_is_done_for_nobody_but_whoever_made_it() {
    for backend in Backend::BOTH {
        let server = Server::on(backend).demo().start();
        let where_is = || server.person("clerk").get("/v1/items/FT-001").send().expect(200).json()["where"].clone();
        let before = where_is();
        let kept = "code=FT-001&person=setter&name=Sam+Okoro&by=clerk&key=k1";
        let other = post(&server, "/counter/scans", &sign_in(&server, "supervisor"), kept).expect(401);
        assert_eq!(where_is(), before, "{other}");
        let own = post(&server, "/counter/scans", &sign_in(&server, "clerk"), kept).expect(200);
        assert!(String::from_utf8_lossy(&own.body).contains("FT-001 is handed out to Sam Okoro"), "{own}");
    }
}

#[test]
fn a_supply_leads_to_its_page() {
    let server = Server::on(Backend::Sqlite).demo().start();
    let cookie = sign_in(&server, "clerk");
    let answer = post(&server, "/counter/scans", &cookie, "code=SUP-GREASE&key=k1").expect(200);
    let page = String::from_utf8_lossy(&answer.body).into_owned();
    assert!(page.contains("SUP-GREASE is a supply") && page.contains(r#"href="/supplies/SUP-GREASE""#), "{page}");
}
