//! Races for the items of a kit, each for a job of its own on the same days. Each function is one round.

use crate::{
    race::{Loss, Violations, at_once, one_winner, promise, together, winners},
    shop::{Shop, items},
};
use serde_json::json;

/// What every job wants, at the same station.
const WANTED: [&str; 3] = ["FT-001", "FT-002", "HD-01"];
const JOBS: usize = 6;

/// Six jobs book the same items at once, each naming them in another order: one has them, all of them.
pub(crate) fn of_one_kit(shop: &Shop) -> Violations {
    let number = |job: usize| format!("J-RACE-{job}");
    for job in 0..JOBS {
        let body = json!({"number": number(job), "part": "P-2001", "machine": "M-101", "quantity": 100,
            "planned_start": "2999-01-11", "planned_end": "2999-01-13"});
        // From the second round on they are there.
        let made = shop.person("supervisor").post("/v1/jobs").json(&body).send();
        assert!(matches!(made.status, 201 | 409), "{made}");
    }
    let answers = at_once(JOBS, |job| {
        let mut wanted = WANTED.map(|item| json!({"station": "S1", "item": item}));
        wanted.rotate_left(job % WANTED.len());
        let who = shop.person(if job % 2 == 0 { "clerk" } else { "supervisor" });
        who.post(&format!("/v1/jobs/{}/bookings", number(job))).json(&json!({"items": wanted})).send()
    });
    let mut violations = one_winner(&answers, 201, &Loss::Refused(&["item-booked"]));
    let taken = winners(&answers);
    for job in 0..JOBS {
        let path = format!("/v1/jobs/{}/bookings", number(job));
        let kept: Vec<_> = items(&shop.read(&path)).iter().map(|booking| booking["item"].clone()).collect();
        if taken.contains(&job) && kept.len() != WANTED.len() {
            violations.push(promise(format!("{} was told that all is kept, and has {kept:?}", number(job))));
        } else if !taken.contains(&job) && !kept.is_empty() {
            violations.push(together(format!("{} was refused and has {kept:?}", number(job))));
        }
        if !kept.is_empty() {
            let cancel = json!({"items": kept, "reason": "end of the round"});
            let ended = shop.person("clerk").post(&format!("{path}/cancel")).json(&cancel).send();
            if ended.status != 200 {
                violations.push(promise(format!("cancelling: {ended}")));
            }
        }
    }
    violations
}

/// The parts whose jobs keep each other's tools, each job's in turn; with what the two jobs of each keep, in the order of
/// their ids.
const PARTS: [(&str, [&str; 2]); 2] = [("P-RACE-1", ["FT-001", "FT-002"]), ("P-RACE-2", ["FT-002", "FT-001"])];

/// Two parts with two jobs each, which keep the same two tools on other days and the other way round.
pub(crate) fn two_parts_that_cross(shop: &Shop) {
    let mut day = 11;
    for (part, tools) in PARTS {
        let mut body = shop.read("/v1/parts/P-2001");
        for read_only in ["id", "created_at", "updated_at"] {
            let _ = body.as_object_mut().expect("a part").remove(read_only);
        }
        body["code"] = json!(part);
        let _ = shop.person("supervisor").post("/v1/parts").json(&body).send().expect(201);
        for (number, tool) in tools.into_iter().enumerate() {
            let job = format!("{part}-{number}");
            let on = format!("2999-03-{day}");
            day += 1;
            let body = json!({"number": job, "part": part, "machine": "M-101", "quantity": 100, "planned_start": on,
                "planned_end": on});
            let _ = shop.person("supervisor").post("/v1/jobs").json(&body).send().expect(201);
            let wanted = json!({"items": [{"station": "S1", "item": tool}]});
            let _ = shop.person("clerk").post(&format!("/v1/jobs/{job}/bookings")).json(&wanted).send().expect(201);
        }
    }
}

/// Both parts change at once, and with them all that is kept for their jobs.
pub(crate) fn of_both_parts(shop: &Shop, round: usize) -> Violations {
    let tags = PARTS.map(|(part, _)| {
        let found = shop.person("supervisor").get(&format!("/v1/parts/{part}")).send().expect(200);
        found.header("etag").expect("an entity tag").to_owned()
    });
    let answers = at_once(PARTS.len(), |number| {
        let body = json!({"name": format!("Stud, drawing {round}")}).to_string();
        let patch = shop.person("supervisor").patch(&format!("/v1/parts/{}", PARTS[number].0));
        patch.header("If-Match", &tags[number]).body("application/merge-patch+json", body).send()
    });
    let refused = answers.iter().filter(|answer| answer.status != 200);
    refused.map(|answer| promise(format!("a change of a part: {answer}"))).collect()
}
