//! Items kept for jobs.

use crate::floor::{Floor, MERGE_PATCH, given, reasons, refused, wrong_at};
use serde_json::json;

pub(crate) fn an_item_is_kept_for_one_job_on_one_day(floor: &Floor) {
    floor.job("PL-1", "PL-M1", 900, (30, 33));
    floor.job("PL-2", "PL-M2", 900, (33, 34));
    let made = floor.book("PL-2", &["PL-T1", "PL-H1"]).expect(201);
    assert_eq!(made.header("location"), Some("/v1/jobs/PL-2/bookings"));
    assert_eq!(
        (made.json()["items"][0]["from"].clone(), made.json()["items"][0]["to"].clone()),
        (json!(floor.day(33)), json!(floor.day(34)))
    );
    assert_eq!(floor.kept("PL-2"), ["PL-H1", "PL-T1"]);
    // All or none: what is free of the two stays free.
    assert_eq!(refused(floor.book("PL-1", &["PL-T2", "PL-H1"])), ["item-booked"]);
    assert_eq!(floor.kept("PL-1"), Vec::<String>::new());
    assert_eq!(refused(floor.book("PL-2", &["PL-T1"])), ["item-booked"], "once is enough");
    let (first, second) = (floor.readiness("PL-1"), floor.readiness("PL-2"));
    assert_eq!((given(&first, "form_tool"), given(&second, "form_tool")), (vec!["PL-T2".into()], vec!["PL-T1".into()]));
    assert_eq!(second["needs"][0]["given"][0]["kept"], true);
    // A day earlier and there is no day that both want.
    let _ = floor.patch_job("PL-1", &json!({"planned_end": floor.day(32)})).expect(200);
    let _ = floor.book("PL-1", &["PL-T1", "PL-H1"]).expect(201);

    let cancel = json!({"items": ["PL-T1"], "reason": "wanted for a sample"});
    let ended = floor.post("clerk", "/v1/jobs/PL-1/bookings/cancel", &cancel).expect(200).json();
    assert_eq!(
        (&ended["items"][0]["ended_by"], &ended["items"][0]["ended_because"]),
        (&json!("clerk"), &json!("wanted for a sample"))
    );
    assert_eq!(floor.kept("PL-1"), ["PL-H1"]);
    assert_eq!(wrong_at(floor.post("clerk", "/v1/jobs/PL-1/bookings/cancel", &cancel), 422, "pointer"), "/items/0");
    let _ = floor.book("PL-1", &["PL-T1"]).expect(201);
    let tag = floor.person("supervisor").get("/v1/jobs/PL-1").send().expect(200).header("etag").unwrap().to_owned();
    let _ = floor.person("supervisor").delete("/v1/jobs/PL-1").header("If-Match", &tag).send().expect(409);
    floor.call_off(&["PL-1", "PL-2"]);
    assert_eq!((floor.kept("PL-1"), floor.kept("PL-2")), (vec![], vec![]));
}

pub(crate) fn what_cannot_serve_is_not_kept(floor: &Floor) {
    floor.job("PL-3", "PL-M1", 900, (30, 33));
    assert_eq!(refused(floor.book("PL-3", &["FT-001"])), ["tool-design-mismatch"]);
    assert_eq!(refused(floor.book("PL-3", &["HD-01"])), ["holder-style-mismatch"]);
    assert_eq!(refused(floor.book("PL-3", &["CG-101", "NO-SUCH"])), ["item-unknown", "item-unknown"]);
    let path = "/v1/jobs/PL-3/bookings";
    let elsewhere = json!({"items": [{"station": "S9", "item": "PL-T1"}]});
    assert_eq!(refused(floor.post("clerk", path, &elsewhere)), ["not-needed-there"]);
    assert_eq!(wrong_at(floor.book("PL-3", &["PL-T1", "pl-t1"]), 422, "pointer"), "/items/1/item");
    for body in [json!({}), json!({"proposal": true, "items": [{"station": "S1", "item": "PL-T1"}]})] {
        assert_eq!(wrong_at(floor.post("clerk", path, &body), 422, "pointer"), "/items");
    }
    let _ = floor.post("setter", path, &json!({"proposal": true})).expect(403);
    floor.call_off(&["PL-3"]);
    assert_eq!(refused(floor.book("PL-3", &["PL-T1"])), ["job-not-open"]);
}

pub(crate) fn the_proposal_is_taken_as_it_stands(floor: &Floor) {
    floor.job("PL-4", "PL-M1", 1200, (30, 31));
    let _ = floor.post("supervisor", "/v1/jobs/PL-4/bookings", &json!({"proposal": true})).expect(201);
    assert_eq!(floor.kept("PL-4"), ["PL-H1", "PL-T1", "PL-T2"]);
    // Once more changes nothing.
    let _ = floor.post("supervisor", "/v1/jobs/PL-4/bookings", &json!({"proposal": true})).expect(201);
    assert_eq!(floor.kept("PL-4").len(), 3);
    floor.job("PL-5", "PL-M2", 900, (31, 32));
    let beside = floor.readiness("PL-5");
    assert_eq!(
        (&beside["state"], reasons(&beside)),
        (&json!("conflict"), vec!["item-booked".into(), "item-booked".into()])
    );
    assert_eq!(given(&beside, "holder"), ["PL-H2"]);
    assert_eq!(floor.readiness("PL-4")["state"], "ready", "what is booked is settled");
    floor.call_off(&["PL-4", "PL-5"]);
}

pub(crate) fn bookings_move_and_end_with_their_job(floor: &Floor) {
    floor.job("PL-6", "PL-M1", 900, (30, 31));
    floor.job("PL-7", "PL-M2", 900, (34, 35));
    let _ = floor.book("PL-6", &["PL-T1", "PL-H1"]).expect(201);
    let _ = floor.book("PL-7", &["PL-T1"]).expect(201);
    // Moved into the other job's days, the tool is that one's and the holder moves along; the change itself stands.
    let _ = floor.patch_job("PL-6", &json!({"planned_end": floor.day(34)})).expect(200);
    assert_eq!((floor.kept("PL-6"), floor.kept("PL-7")), (vec!["PL-H1".to_owned()], vec!["PL-T1".to_owned()]));
    assert_eq!(floor.read("/v1/jobs/PL-6/bookings")["items"][0]["to"], floor.day(34));
    assert_eq!(refused(floor.book("PL-7", &["PL-H1"])), ["item-booked"]);
    // Without a planned end it follows from the part's cycle time: 900 cycles of 96 s are three days of eight hours.
    let part = "/v1/parts/PL-P";
    let supervisor = floor.person("supervisor");
    let patch = |fields: &str| {
        let tag = supervisor.get(part).send().expect(200).header("etag").unwrap().to_owned();
        let _ = supervisor.patch(part).header("If-Match", &tag).body(MERGE_PATCH, fields).send().expect(200);
    };
    let _ = floor.patch_job("PL-6", &json!({"planned_end": null})).expect(200);
    assert_eq!(floor.read("/v1/jobs/PL-6/bookings")["items"][0]["to"], floor.day(30));
    patch(r#"{"cycle_seconds": 96}"#);
    assert_eq!(floor.read("/v1/jobs/PL-6/bookings")["items"][0]["to"], floor.day(32));
    assert_eq!(floor.readiness("PL-6")["to"], floor.day(32));
    let _ = floor.patch_job("PL-6", &json!({"quantity": 301})).expect(200);
    assert_eq!(floor.read("/v1/jobs/PL-6/bookings")["items"][0]["to"], floor.day(31));
    patch(r#"{"cycle_seconds": null}"#);
    // Another part needs none of it.
    let _ = floor.patch_job("PL-6", &json!({"part": "P-2001"})).expect(200);
    assert_eq!(floor.kept("PL-6"), Vec::<String>::new());
    let _ = floor.patch_job("PL-7", &json!({"state": "done"})).expect(200);
    assert_eq!(floor.kept("PL-7"), Vec::<String>::new());
    floor.call_off(&["PL-6"]);
}

pub(crate) fn handing_out_what_is_kept_for_another_is_told(floor: &Floor) {
    floor.job("PL-8", "PL-M1", 900, (0, 5));
    let _ = floor.book("PL-8", &["PL-T1"]).expect(201);
    let out = |job: Option<&str>| {
        let body = json!({"items": ["PL-T1"], "person": "setter", "purpose": "use", "due": floor.day(1), "job": job});
        let told = floor.post("clerk", "/v1/checkouts", &body).expect(201).json();
        let back = json!({"items": [{"code": "PL-T1", "place": "BIN-A1", "condition": "usable"}], "person": "setter"});
        let _ = floor.post("clerk", "/v1/checkins", &back).expect(201);
        told["notices"].clone()
    };
    let told = out(None);
    assert_eq!((&told[0]["rule"], &told[0]["saw"]), (&json!("item-booked"), &json!("PL-8")), "{told}");
    assert!(out(Some("PL-8")).is_null());
    floor.call_off(&["PL-8"]);
}

pub(crate) fn a_job_that_runs_over_keeps_its_tools_and_both_see_it(floor: &Floor) {
    floor.job("PL-9", "PL-M1", 900, (1, 2));
    floor.job("PL-10", "PL-M2", 100, (8, 9));
    let _ = floor.book("PL-9", &["PL-T1", "PL-H1"]).expect(201);
    let _ = floor.book("PL-10", &["PL-T1", "PL-H1"]).expect(201);
    assert_eq!(
        (&floor.readiness("PL-9")["state"], &floor.readiness("PL-10")["state"]),
        (&json!("ready"), &json!("ready"))
    );
    // Nine days later the first is not finished, and the second has begun.
    floor.let_days_pass(&[("PL-9", -8, -7), ("PL-10", -1, 0)]);
    assert_eq!(floor.kept("PL-9"), ["PL-H1", "PL-T1"]);
    for (number, other) in [("PL-9", "PL-10"), ("PL-10", "PL-9")] {
        let told = floor.readiness(number);
        assert_eq!(told["state"], "conflict", "{told:#}");
        for need in &told["needs"].as_array().unwrap()[..2] {
            let seen = |reason: &serde_json::Value| reason["rule"] == "item-booked" && reason["saw"] == other;
            assert!(need["reasons"].as_array().unwrap().iter().any(seen), "{number}: {need:#}");
        }
    }
    let running = floor.readiness("PL-9");
    assert_eq!((given(&running, "form_tool"), given(&running, "holder")), (vec!["PL-T1".into()], vec!["PL-H1".into()]));
    assert!(!given(&floor.readiness("PL-10"), "form_tool").contains(&"PL-T1".to_owned()));
    // A word about the job does not take its tools away, nor the other's.
    let _ = floor.patch_job("PL-9", &json!({"quantity": 890})).expect(200);
    let _ = floor.patch_job("PL-10", &json!({"quantity": 90})).expect(200);
    assert_eq!((floor.kept("PL-9").len(), floor.kept("PL-10").len()), (2, 2));
    // Nobody else is given them meanwhile.
    floor.job("PL-11", "PL-M2", 10, (0, 0));
    assert_eq!(refused(floor.book("PL-11", &["PL-T1"])), ["item-booked", "item-booked"]);
    // Finished, it lets them go.
    let _ = floor.patch_job("PL-9", &json!({"state": "done"})).expect(200);
    assert_eq!(floor.kept("PL-9"), Vec::<String>::new());
    let _ = floor.patch_job("PL-11", &json!({"state": "cancelled"})).expect(200);
    let freed = floor.readiness("PL-10");
    assert_eq!((&freed["state"], given(&freed, "form_tool")), (&json!("ready"), vec!["PL-T1".to_owned()]));
    floor.call_off(&["PL-10"]);
}

/// What the refusal asks for clears it: recorded, the owner's consent lets a person book the tool, and the plan counts on it.
pub(crate) fn a_customers_tool_is_booked_with_consent(floor: &Floor) {
    let tool = "/v1/form-tools/PL-T1";
    let supervisor = floor.person("supervisor");
    let patch = |fields: &str| {
        let tag = supervisor.get(tool).send().expect(200).header("etag").unwrap().to_owned();
        let _ = supervisor.patch(tool).header("If-Match", &tag).body(MERGE_PATCH, fields).send().expect(200);
    };
    patch(r#"{"owner": "Ashby Pumps", "reserved_for": "P-2002"}"#);
    floor.job("PL-12", "PL-M1", 900, (30, 31));
    let tools = || given(&floor.readiness("PL-12"), "form_tool");
    assert_eq!(tools(), ["PL-T2"]);
    assert_eq!(refused(floor.book("PL-12", &["PL-T1"])), ["reserved-for-other-part"]);
    let lend = json!({"kind": "lend", "part": "PL-P", "given_by": "R. Ashby", "valid_until": floor.day(31)});
    let consent = floor.post("supervisor", &format!("{tool}/consents"), &lend).expect(201).json();
    assert_eq!(tools(), ["PL-T2"], "nothing of a customer's is proposed for others");
    let _ = floor.book("PL-12", &["PL-T1"]).expect(201);
    let ready = floor.readiness("PL-12");
    assert_eq!((&ready["state"], given(&ready, "form_tool")), (&json!("ready"), vec!["PL-T1".to_owned()]));
    // It moves along with its job while it is lent; withdrawn, it is not counted on, and goes with the job's next change.
    let _ = floor.patch_job("PL-12", &json!({"planned_start": floor.day(31)})).expect(200);
    assert_eq!(floor.kept("PL-12"), ["PL-T1"]);
    let withdraw = format!("/v1/tool-consents/{}/withdraw", consent["id"].as_str().unwrap());
    let _ = floor.post("supervisor", &withdraw, &json!({})).expect(200);
    assert_eq!(tools(), ["PL-T2"]);
    let _ = floor.patch_job("PL-12", &json!({"quantity": 890})).expect(200);
    assert_eq!(floor.kept("PL-12"), Vec::<String>::new());
    floor.call_off(&["PL-12"]);
    patch(r#"{"owner": null, "reserved_for": null}"#);
}
