//! Codes, lengths, times.

use crate::shop::{Shop, place, problem};
use chrono::{DateTime, SecondsFormat, TimeDelta, Utc};
use serde_json::{Value, json};
use std::time::SystemTime;

pub(crate) fn codes(shop: &Shop) {
    let made = shop.post("/v1/places", &place(" shelf-9.a ")).expect(201);
    assert_eq!((&made.json()["code"], made.header("location")), (&json!("SHELF-9.A"), Some("/v1/places/SHELF-9.A")));
    // Unique over everything that is scanned: items, machines, places alike.
    for taken in ["FT-001", "M-101", "shelf-9.a", "CG-101"] {
        problem(shop.post("/v1/places", &place(taken)), 409, "code-taken");
    }
    for bad in ["", "-A", "A B", "verify", "01890a5d-ac96-774b-bcce-b302099a8057", &"A".repeat(33)] {
        let (_, found) = problem(shop.post("/v1/places", &place(bad)), 422, "invalid-field");
        assert_eq!(found["errors"][0]["pointer"], "/code", "{bad}");
    }
    // Renamed, it is found by both names and by its id; the old name is nobody else's.
    let id = made.json()["id"].as_str().expect("an id").to_owned();
    let _ = shop.patch("/v1/places/SHELF-9.A", &json!({"code": "SHELF-10"})).expect(200);
    for name in ["SHELF-9.A", "shelf-10", &id] {
        let found = shop.supervisor.get(&format!("/v1/places/{name}")).send().expect(200).json();
        assert_eq!(found["code"], "SHELF-10", "{name}");
    }
    problem(shop.post("/v1/places", &place("SHELF-9.A")), 409, "code-taken");
    // Deleted, its code stays taken.
    let tag = shop.tag("/v1/places/SHELF-10");
    let _ = shop.supervisor.delete("/v1/places/SHELF-10").header("If-Match", &tag).send().expect(204);
    let _ = shop.supervisor.get("/v1/places/SHELF-10").send().expect(404);
    problem(shop.post("/v1/places", &place("SHELF-10")), 409, "code-taken");
    let tag = shop.tag("/v1/places/BIN-A1");
    problem(shop.supervisor.delete("/v1/places/BIN-A1").header("If-Match", &tag).send(), 409, "in-use");
}

pub(crate) fn lengths(shop: &Shop) {
    let gauge = |upper: &str, unit: &str| {
        let length = format!(r#"{{"value":{upper},"unit":"{unit}"}}"#);
        format!(
            r#"{{"code":"CG-L{}{unit}","name":"x","machine":"M-101","nominal":{{"value":3.75,"unit":"in"}},"limits":{{"lower":{{"value":-0.1,"unit":"mm"}},"upper":{length}}},"place":"BIN-G1"}}"#,
            upper.replace('.', "-").replace('"', "T")
        )
    };
    let send = |body: String| shop.supervisor.post("/v1/center-gauges").body("application/json", body).send();
    for (upper, unit) in [
        ("0.1", "mm"),
        ("0.1", "in"),
        ("3.123456789", "mm"),
        ("9999.999999999", "mm"),
        ("3.12345678", "in"),
        ("10000", "in"),
    ] {
        let made = send(gauge(upper, unit)).expect(201);
        let path = made.header("location").expect("a location").to_owned();
        let read = shop.supervisor.get(&path).send().expect(200).json();
        let value: f64 = upper.parse().expect("a number");
        assert_eq!(read["limits"]["upper"]["value"].as_f64(), Some(value), "{upper} {unit}");
        assert_eq!((&read["limits"]["upper"]["unit"], &read["limits"]["lower"]["value"]), (&json!(unit), &json!(-0.1)));
    }
    for (upper, unit) in [("10000.1", "mm"), ("-10000.1", "in"), ("1", "cm"), ("-0.2", "mm"), ("\"1\"", "mm")] {
        let (_, found) = problem(send(gauge(upper, unit)), 422, "invalid-field");
        assert!(found["errors"][0]["pointer"].as_str().is_some_and(|at| at.starts_with("/limits")), "{found}");
    }
    let bare = json!({"code": "CG-L", "name": "x", "machine": "M-101", "nominal": {"value": 1}, "place": "BIN-G1",
        "limits": {"lower": {"value": 0, "unit": "mm"}, "upper": {"value": 0, "unit": "mm"}}});
    let (_, found) = problem(shop.post("/v1/center-gauges", &bare), 422, "invalid-field");
    assert_eq!(found["errors"][0]["pointer"], "/nominal/unit");
}

pub(crate) fn times(shop: &Shop) {
    #[expect(clippy::disallowed_methods, reason = "the server under test goes by the machine's clock")]
    let now: DateTime<Utc> = SystemTime::now().into();
    let pass = |occurred_at: &Value| {
        // To and fro: an item is not passed on to where it is.
        let here = shop.clerk.get("/v1/items/CB-03").send().expect(200).json()["where"]["key"].clone();
        let to = if here == "CART-1" { "SHELF-1" } else { "CART-1" };
        let body = json!({"items": ["CB-03"], "to": {"place": to}, "occurred_at": occurred_at});
        shop.clerk.post("/v1/transfers").json(&body).send()
    };
    let text = |at: DateTime<Utc>| at.to_rfc3339_opts(SecondsFormat::Micros, true);
    for (at, taken) in [
        (now + TimeDelta::seconds(60), true),
        (now + TimeDelta::seconds(240), false),
        (now - TimeDelta::days(7) + TimeDelta::seconds(60), true),
        (now - TimeDelta::days(7) - TimeDelta::seconds(60), false),
    ] {
        let answer = pass(&json!(text(at)));
        if taken {
            let moved = answer.expect(201).json();
            assert_eq!(
                moved["movements"][0]["occurred_at"].as_str().map(str::parse::<DateTime<Utc>>),
                Some(text(at).parse())
            );
        } else {
            let (_, found) = problem(answer, 422, "invalid-field");
            assert_eq!(found["errors"][0]["pointer"], "/occurred_at");
        }
    }
    // An offset comes in and UTC goes out; without one nobody knows when it was.
    let offset = now.with_timezone(&chrono::FixedOffset::east_opt(2 * 3600).expect("an offset"));
    let moved = pass(&json!(offset.to_rfc3339_opts(SecondsFormat::Micros, true))).expect(201).json();
    let (out, recorded) = (&moved["movements"][0]["occurred_at"], &moved["movements"][0]["recorded_at"]);
    assert!([out, recorded].iter().all(|at| at.as_str().is_some_and(|at| at.ends_with('Z'))), "{moved}");
    let (_, found) = problem(pass(&json!(now.format("%Y-%m-%dT%H:%M:%S").to_string())), 422, "invalid-field");
    assert_eq!(found["errors"][0]["pointer"], "/occurred_at");
}

pub(crate) fn past_instants(shop: &Shop) {
    let read = |path: &str| shop.supervisor.get(path).send();
    #[expect(clippy::disallowed_methods, reason = "the test stands outside")]
    let now = DateTime::<Utc>::from(SystemTime::now());
    let ahead = (now + TimeDelta::hours(1)).to_rfc3339_opts(SecondsFormat::Secs, true);
    for path in ["/v1/items", "/v1/items/FT-001", "/v1/machines/M-101", "/v1/gauge-uses"] {
        let (_, found) = problem(read(&format!("{path}?as_of={ahead}")), 422, "invalid-field");
        assert_eq!(found["errors"][0]["parameter"], "as_of", "{path}");
        problem(read(&format!("{path}?as_of=yesterday")), 400, "malformed-query");
    }
    // Before the shop was on record there was nothing.
    for path in ["/v1/items/FT-001", "/v1/machines/M-101"] {
        problem(read(&format!("{path}?as_of=2001-01-01T00:00:00Z")), 404, "not-found");
    }
    assert_eq!(read("/v1/items?as_of=2001-01-01T00:00:00Z").expect(200).json()["items"], json!([]));
    // What only the present knows is not asked of the past.
    for filter in ["condition=usable", "overdue=true", "job=J-5001"] {
        problem(read(&format!("/v1/items?as_of=2001-01-01T00:00:00Z&{filter}")), 400, "malformed-query");
    }
}
