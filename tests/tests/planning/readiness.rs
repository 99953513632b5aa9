//! What plans say of jobs.

use crate::floor::{Floor, given, reasons, wrong_at};
use serde_json::{Value, json};

pub(crate) fn a_job_with_everything_there_is_ready(floor: &Floor) {
    floor.job("PL-1", "PL-M1", 900, (30, 33));
    let ready = floor.readiness("PL-1");
    assert_eq!((&ready["state"], &ready["exact"]), (&json!("ready"), &json!(true)), "{ready:#}");
    assert_eq!(reasons(&ready), Vec::<String>::new());
    assert_eq!(given(&ready, "form_tool"), ["PL-T1"]);
    assert_eq!(given(&ready, "holder"), ["PL-H1"]);
    assert_eq!(given(&ready, "center_gauge"), ["PL-M1-G"]);
    assert_eq!((&ready["from"], &ready["to"]), (&json!(floor.day(30)), &json!(floor.day(33))));

    let kit = floor.read("/v1/jobs/PL-1/kit");
    let station = &kit["stations"][0];
    assert_eq!((&station["station"], &station["waste"]), (&json!("S1"), &json!(100)));
    assert_eq!(
        (&station["form_tools"][0]["item"], &station["form_tools"][0]["pieces"]),
        (&json!("PL-T1"), &json!(900))
    );
    assert_eq!((&station["holder"]["item"], &kit["center_gauges"][0]["item"]), (&json!("PL-H1"), &json!("PL-M1-G")));
    let assumptions = kit["assumptions"].as_array().unwrap();
    assert!(assumptions.iter().any(|said| said.as_str().unwrap().contains("only the edge in use counts")), "{kit:#}");
    floor.call_off(&["PL-1"]);
    let closed = floor.readiness("PL-1");
    assert_eq!((&closed["state"], &closed["needs"]), (&json!("closed"), &json!([])));
}

pub(crate) fn what_is_missing_is_named_with_why(floor: &Floor) {
    // Two edges of 1,000 make 1,900; half as much again needs a grind within the lot.
    floor.job("PL-2", "PL-M1", 1900, (30, 33));
    assert_eq!(given(&floor.readiness("PL-2"), "form_tool"), ["PL-T1", "PL-T2"]);
    let _ = floor.patch_job("PL-2", &json!({"quantity": 2850})).expect(200);
    let short = floor.readiness("PL-2");
    assert_eq!((&short["state"], reasons(&short)), (&json!("short"), vec!["life-too-short".to_owned()]));
    assert_eq!(short["needs"][0]["reasons"][0]["saw"], "850 pieces short");
    let ground = floor.read("/v1/jobs/PL-2/readiness?allow_regrind_during_lot=true");
    assert_eq!((&ground["state"], &ground["needs"][0]["waste"]), (&json!("ready"), &json!(350)), "{ground:#}");

    // Out for grinding, with whom; no holder left; the check ends in the run; a tag-out.
    let _ = floor.patch_job("PL-2", &json!({"quantity": 1900})).expect(200);
    let out = json!({"items": ["PL-T2"], "person": "grinder", "purpose": "grind", "due": floor.day(3)});
    let _ = floor.post("clerk", "/v1/checkouts", &out).expect(201);
    floor.check_gauge("PL-M1-G", 31);
    let away = json!({"items": ["PL-H1", "PL-H2"], "to": {"place": "OUT-GRIND"}});
    let _ = floor.post("clerk", "/v1/transfers", &away).expect(201);
    let tag_out = json!({"machine": "PL-M1", "reason": "spindle bearing warm"});
    let placed = floor.post("maintainer", "/v1/tag-outs", &tag_out).expect(201).json();
    let short = floor.readiness("PL-2");
    let mut named = reasons(&short);
    named.sort();
    let expected = [
        "check-due-in-run",
        "life-too-short",
        "machine-tagged-out",
        "out-for-grinding",
        "outside-the-shop",
        "outside-the-shop",
    ];
    assert_eq!((&short["state"], named), (&json!("short"), expected.map(str::to_owned).to_vec()), "{short:#}");
    let tool = &short["needs"][0]["considered"][1];
    assert_eq!((&tool["item"], &tool["serves"]), (&json!("PL-T2"), &json!(false)));
    let said = tool["reasons"][0]["sentence"].as_str().unwrap();
    assert!(said.contains("out for grinding, with") && said.contains(&floor.day(3)), "{said}");

    // All as it was.
    let back = |code: &str, condition: &str| {
        json!({"items": [{"code": code, "place": "BIN-A1", "condition": condition}],
        "person": "grinder"})
    };
    let _ = floor.post("clerk", "/v1/checkins", &back("PL-T2", "needs_check")).expect(201);
    let unchecked = floor.readiness("PL-2");
    assert!(reasons(&unchecked).contains(&"tool-not-usable".to_owned()), "{unchecked:#}");
    let again = json!({"items": ["PL-T2"], "person": "inspector", "purpose": "check"});
    let _ = floor.post("clerk", "/v1/checkouts", &again).expect(201);
    assert!(reasons(&floor.readiness("PL-2")).contains(&"out-for-check".to_owned()));
    let judged = json!({"items": [{"code": "PL-T2", "place": "BIN-A1", "condition": "usable"}]});
    let _ = floor.post("inspector", "/v1/checkins", &judged).expect(201);
    let home = json!({"items": ["PL-H1", "PL-H2"], "to": {"place": "BIN-H1"}});
    let _ = floor.post("clerk", "/v1/transfers", &home).expect(201);
    let clear = format!("/v1/tag-outs/{}/clear", placed["id"].as_str().unwrap());
    let _ = floor.post("maintainer", &clear, &json!({})).expect(200);
    floor.check_gauge("PL-M1-G", 300);
    assert_eq!(floor.readiness("PL-2")["state"], "ready");
    // After work on the machine its gauge is stale.
    let length = |value: f64| json!({"value": value, "unit": "in"});
    let height = json!({"measured": length(2.5), "standard_uncertainty": length(0.0001), "reason": "new bearings",
        "after_work": true});
    let _ = floor.post("maintainer", "/v1/machines/PL-M1/center-heights", &height).expect(201);
    assert_eq!(reasons(&floor.readiness("PL-2")), ["gauge-stale"]);
    floor.check_gauge("PL-M1-G", 300);
    floor.call_off(&["PL-2"]);
}

pub(crate) fn two_jobs_that_want_one_tool_both_see_it(floor: &Floor) {
    floor.job("PL-3", "PL-M1", 1500, (40, 42));
    floor.job("PL-4", "PL-M2", 800, (42, 43));
    for (number, other) in [("PL-3", "PL-4"), ("PL-4", "PL-3")] {
        let seen = floor.readiness(number);
        assert_eq!((&seen["state"], reasons(&seen)), (&json!("conflict"), vec!["wanted-by-other-job".to_owned()]));
        assert_eq!(seen["needs"][0]["reasons"][0]["saw"], other);
    }
    // With a day between them the first has what it needs, and the second what that leaves: half an edge.
    let after = json!({"planned_start": floor.day(43), "planned_end": floor.day(44)});
    let _ = floor.patch_job("PL-4", &after).expect(200);
    assert_eq!(floor.readiness("PL-3")["state"], "ready");
    let later = floor.readiness("PL-4");
    assert_eq!((&later["state"], reasons(&later)), (&json!("conflict"), vec!["wanted-by-other-job".to_owned()]));
    assert_eq!(later["needs"][0]["reasons"][0]["saw"], "PL-3");
    let _ = floor.patch_job("PL-4", &json!({"quantity": 500})).expect(200);
    let later = floor.readiness("PL-4");
    assert_eq!((&later["state"], &later["needs"][0]["given"][0]["pieces_left"]), (&json!("ready"), &json!(500)));
    assert_eq!(floor.readiness("PL-3")["state"], "ready");
    let said = later["assumptions"].as_array().unwrap();
    assert!(said.iter().any(|said| said.as_str().unwrap().contains("expected 1000 pieces an edge")), "{later:#}");
    // On one machine they may not overlap at all.
    let _ = floor
        .patch_job("PL-4", &json!({"machine": "PL-M1", "quantity": 1, "planned_start": floor.day(41)}))
        .expect(200);
    assert!(reasons(&floor.readiness("PL-4")).contains(&"machine-planned-twice".to_owned()));
    assert!(reasons(&floor.readiness("PL-3")).contains(&"machine-planned-twice".to_owned()));
    floor.call_off(&["PL-3", "PL-4"]);
}

pub(crate) fn a_machine_that_is_down_is_told(floor: &Floor) {
    floor.job("PL-8", "PL-M1", 500, (60, 61));
    floor.job("PL-9", "PL-M2", 500, (70, 71));
    let fault = json!({"subject": {"machine": "PL-M1"}, "what": "Chip conveyor stands still.", "breakdown": true});
    let order = floor.post("setter", "/v1/work-orders", &fault).expect(201).json();
    let paint = json!({"subject": {"machine": "PL-M2"}, "what": "Paint the guard"});
    let _ = floor.post("maintainer", "/v1/work-orders", &paint).expect(201);
    let said = |answer: &Value| {
        let all = answer["assumptions"].as_array().unwrap().iter().map(|said| said.as_str().unwrap().to_owned());
        all.filter(|said| said.contains("reported down")).collect::<Vec<_>>()
    };
    let sentence = format!(
        "Machine PL-M1 is reported down since {}: Chip conveyor stands still. \
         The plan takes it as running again by then.",
        &order["down_from"].as_str().unwrap()[..10]
    );
    let listed = |number: &str| {
        let list = floor.read(&format!("/v1/readiness?until={}", floor.day(71)));
        let row = list["items"].as_array().unwrap().iter().find(|row| row["job"] == number).unwrap().clone();
        (row["state"].clone(), row["reasons"].clone(), row["machine_down"].clone())
    };
    for answer in [floor.readiness("PL-8"), floor.read("/v1/jobs/PL-8/kit")] {
        assert_eq!((&answer["state"], said(&answer)), (&json!("ready"), vec![sentence.clone()]), "{answer:#}");
    }
    assert_eq!(listed("PL-8"), (json!("ready"), json!([]), json!([sentence])));
    // Work on another machine, and work that nothing broke for, says nothing.
    assert_eq!(said(&floor.readiness("PL-9")), Vec::<String>::new());
    assert_eq!(listed("PL-9").2, json!([]));
    let act = |act: &str| format!("/v1/work-orders/{}/{act}", order["id"].as_str().unwrap());
    let _ = floor.post("maintainer", &act("start"), &json!({})).expect(200);
    assert_eq!(said(&floor.readiness("PL-8")).len(), 1, "it is down while somebody is at it");
    let done = json!({"note": "Chain put back", "touched": "nothing"});
    let _ = floor.post("maintainer", &act("done"), &done).expect(200);
    assert_eq!((said(&floor.readiness("PL-8")), listed("PL-8").2), (vec![], json!([])));
    floor.call_off(&["PL-8", "PL-9"]);
}

pub(crate) fn the_list_names_the_jobs_in_their_order(floor: &Floor) {
    floor.job("PL-6", "PL-M1", 500, (50, 51));
    floor.job("PL-5", "PL-M2", 500, (50, 51));
    floor.job("PL-7", "PL-M2", 5000, (52, 53));
    let list = floor.read(&format!("/v1/readiness?until={}", floor.day(52)));
    let ours = |row: &&Value| row["job"].as_str().unwrap().starts_with("PL-");
    let rows: Vec<_> = list["items"].as_array().unwrap().iter().filter(ours).collect();
    let shown: Vec<_> = rows.iter().map(|row| (row["job"].as_str().unwrap(), row["state"].as_str().unwrap())).collect();
    assert_eq!(shown, [("PL-5", "ready"), ("PL-6", "ready"), ("PL-7", "short")]);
    assert_eq!(rows[2]["reasons"][0]["rule"], "life-too-short");
    let sooner = floor.read(&format!("/v1/readiness?until={}", floor.day(51)));
    assert_eq!(sooner["items"].as_array().unwrap().iter().filter(ours).count(), 2);
    assert_eq!(floor.read("/v1/readiness")["until"], floor.day(14));
    floor.call_off(&["PL-5", "PL-6", "PL-7"]);
}

/// The demo shop has a run in progress; its pieces are the job's once they are booked.
pub(crate) fn pieces_made_are_not_needed_again(floor: &Floor) {
    let page = floor.read("/v1/setups?machine=M-102&open=true");
    let running = &page["items"][0];
    // The job that it was opened for.
    let path = "/v1/jobs/J-5002";
    let before = floor.read(path);
    let stopped = json!({"kind": "run_stopped", "pieces": 120, "reason": "end of the shift", "confirmed": true});
    let events = format!("/v1/setups/{}/events", running["id"].as_str().unwrap());
    let _ = floor.post("setter-2", &events, &stopped).expect(201);
    let after = floor.read(path);
    let number = |job: &Value, field: &str| job["progress"][field].as_i64().unwrap();
    assert_eq!(number(&after, "made"), number(&before, "made") + 120);
    assert_eq!(number(&after, "left"), number(&before, "left") - 120);
    assert_eq!(floor.read(&format!("{path}/readiness"))["made"], after["progress"]["made"]);
}

pub(crate) fn bad_questions_are_told(floor: &Floor) {
    let clerk = floor.person("clerk");
    assert_eq!(wrong_at(clerk.get("/v1/readiness?until=soon").send(), 400, "parameter"), "until");
    assert_eq!(wrong_at(clerk.get("/v1/jobs/J-5001/kit?x=1").send(), 400, "parameter"), "x");
    let _ = clerk.get("/v1/jobs/NO-SUCH/readiness").send().expect(404);
    let job = |end: String| {
        json!({"number": "PL-X", "part": "PL-P", "machine": "PL-M1", "quantity": 1,
        "planned_start": floor.day(30), "planned_end": end})
    };
    for end in [floor.day(29), floor.day(30 + 366)] {
        assert_eq!(wrong_at(floor.post("supervisor", "/v1/jobs", &job(end)), 422, "pointer"), "/planned_end");
    }
    let part = json!({"code": "PL-X", "name": "Stud", "cycle_seconds": 0, "operations": [{"station": "S1"}]});
    assert_eq!(wrong_at(floor.post("supervisor", "/v1/parts", &part), 422, "pointer"), "/cycle_seconds");
    let _ = clerk.get("/v1/jobs/PL-X").send().expect(404);
}
