//! What tools and designs have left.

use crate::shop::{Shop, full, inches, passed};
use serde_json::{Value, json};

pub(crate) fn a_tool_by_its_designs_expected_figure(shop: &Shop) {
    // FT-008: 0.77 in of a design that ends at 0.5 in, by 0.015 in a grind, 5000 pieces an edge.
    let answer = shop.person("setter").get("/v1/form-tools/FT-008/outlook").send().expect(200);
    assert_eq!(answer.header("cache-control"), Some("no-store"));
    let outlook = answer.json();
    assert_eq!((&outlook["regrinds_left"], &outlook["pieces_left"]["expected"]), (&json!(18), &json!(95_000)));
    assert_eq!((&outlook["basis"]["source"], &outlook["pieces_left"]["lower"]), (&json!("expected"), &Value::Null));
    let why = outlook["basis"]["sentence"].as_str().expect("a sentence");
    assert!(why.contains("too few to learn from"), "{why}");
}

/// Pieces come from runs, edges end with grinds; what is learned from them is what the calculation makes of the same lives.
pub(crate) fn a_design_learns_from_its_own_edges(shop: &Shop) {
    let design = json!({"code": "TD-L1", "name": "Learned form", "kind": "flat",
        "steps": [{"diameter": inches(0.4), "z": inches(0.0),
            "tolerance": {"lower": inches(-0.002), "upper": inches(0.002)}}],
        "rake_deg": 0.0, "clearance_deg": 10.0, "new_height": inches(1.25), "minimum_height": inches(0.5),
        "grind_stock": inches(0.015), "holder_style": "DT-A", "expected_pieces_per_grind": 9000, "lead_time_days": 14});
    let _ = shop.done("supervisor", "/v1/tool-designs", &design);
    let part = json!({"code": "P-L1", "name": "Learned part",
        "operations": [{"station": "S1", "tool_design": "TD-L1", "features": []}]});
    let _ = shop.done("supervisor", "/v1/parts", &part);
    let kit = json!({"items": ["CG-101", "HD-02"], "person": "setter", "machine": "M-101", "purpose": "use"});
    let _ = shop.done("clerk", "/v1/checkouts", &kit);
    for (number, pieces) in [5200, 7400, 8100, 9900, 11_200, 6600].into_iter().enumerate() {
        let code = format!("FT-L{number}");
        shop.new_tool(&code, "TD-L1");
        shop.cut(&code, pieces);
        let _ = shop.grind(&code, &full(1.235));
        let _ = shop.check("inspector", &code, &passed(1.235, 0.0));
    }
    // An edge that was ground early, and one in use: both lasted longer than is known.
    shop.cut("FT-L0", 4000);
    let early = json!({"kind": "full", "height_after": inches(1.22), "edge_ended": "early"});
    assert_eq!(shop.grind("FT-L0", &early)["pieces_on_edge"], 4000);
    shop.cut("FT-L1", 3000);
    let outlook = shop.read("/v1/form-tools/FT-L1/outlook");
    let basis = &outlook["basis"];
    assert_eq!(
        (&basis["source"], &basis["worn_edges"], &basis["other_edges"]),
        (&json!("learned"), &json!(6), &json!(2))
    );
    // The same edges through the calculation.
    let lives = json!({"failures": [5200, 7400, 8100, 9900, 11_200, 6600], "suspensions": [4000, 3000]});
    let person = shop.person("setter");
    let fitted = person.post("/v1/calculations/life-distribution").json(&lives).send().expect(200).json();
    let number = |value: &Value| value.as_f64().unwrap_or_else(|| panic!("no number: {value}"));
    for name in ["shape", "scale"] {
        assert!((number(&basis[name]) / number(&fitted["result"][name]) - 1.0).abs() < 1e-9, "{basis} {fitted}");
    }
    for left in [&outlook["pieces_left"], &outlook["pieces_left_on_edge"]] {
        let (lower, expected, upper) = (number(&left["lower"]), number(&left["expected"]), number(&left["upper"]));
        assert!(0.0 < lower && lower < expected && expected < upper, "{left}");
    }
    let mean = number(&fitted["result"]["mean"]);
    let (all, edge) = (&outlook["pieces_left"]["expected"], &outlook["pieces_left_on_edge"]["expected"]);
    assert!((number(all) - number(edge) - 49.0 * mean).abs() < 1.5, "{outlook}");
    assert!(number(edge) < mean && number(edge) > mean - 3000.0, "{outlook}");
}

/// What an edge cut before its tool came on record nobody knows: it teaches only that it lasted as long as it did since, and
/// the next edge of the tool is learned from as any.
pub(crate) fn an_edge_from_before_the_records_is_no_edges_life(shop: &Shop) {
    let edges = || {
        let basis = shop.read("/v1/form-tools/FT-L1/outlook")["basis"].clone();
        (basis["worn_edges"].as_u64().expect("a count"), basis["other_edges"].as_u64().expect("a count"))
    };
    let (worn, other) = edges();
    let new = |code: &str, pieces: Option<u32>| {
        let mut body = json!({"code": code, "design": "TD-L1", "place": "BIN-A1", "height": inches(1.1)});
        if let Some(pieces) = pieces {
            body["pieces_on_edge"] = json!(pieces);
        }
        shop.done("supervisor", "/v1/form-tools", &body)
    };
    assert_eq!(new("FT-L8", None)["pieces_since_grind"], 0);
    shop.cut("FT-L8", 2500);
    let _ = shop.grind("FT-L8", &full(1.085));
    let _ = shop.check("inspector", "FT-L8", &passed(1.085, 0.0));
    assert_eq!(edges(), (worn, other + 1), "it lasted longer than 2500 pieces");
    shop.cut("FT-L8", 6000);
    let _ = shop.grind("FT-L8", &full(1.07));
    assert_eq!(edges(), (worn + 1, other + 1));
    // Whoever puts it on record may know.
    let known = new("FT-L9", Some(7000));
    assert_eq!((&known["pieces_since_grind"], &known["pieces_total"]), (&json!(7000), &json!(7000)));
    assert_eq!(edges(), (worn + 1, other + 2), "an edge in use");
    let _ = shop.grind("FT-L9", &full(1.085));
    assert_eq!(edges(), (worn + 2, other + 1));
}

pub(crate) fn what_is_booked_runs_out(shop: &Shop) {
    let designs = || {
        let answer = shop.person("supervisor").get("/v1/outlook/tools?limit=200").send().expect(200);
        assert_eq!(answer.header("cache-control"), Some("no-store"));
        let list = answer.json();
        let items = list["items"].as_array().expect("items").clone();
        items.into_iter().find(|row| row["design"] == "TD-L1").expect("the design")
    };
    let before = designs();
    assert_eq!((&before["tools"], &before["booked_pieces"], &before["order"]), (&json!(6), &json!(0), &Value::Null));
    let lower = before["pieces_left"]["lower"].as_i64().expect("a bound");
    let job = |number: &str, quantity: i64, start: &str| {
        let body =
            json!({"number": number, "part": "P-L1", "machine": "M-101", "quantity": quantity, "planned_start": start});
        let _ = shop.done("supervisor", "/v1/jobs", &body);
    };
    job("J-L1", lower, "2998-03-01");
    assert!(designs()["runs_out"].is_null());
    job("J-L2", 1000, "2998-05-20");
    let out = designs();
    assert_eq!((&out["runs_out"]["job"], &out["runs_out"]["on"]), (&json!("J-L2"), &json!("2998-05-20")));
    assert_eq!(out["order"], json!({"tools": 1, "order_by": "2998-05-06", "due": false}));
    assert!(out["sentence"].as_str().is_some_and(|text| text.contains("order 1 tool by 2998-05-06")), "{out}");
    let _ = shop.patch("/v1/jobs/J-L2", &json!({"state": "cancelled"}));
    assert!(designs()["order"].is_null());
    // What is kept for another part does not serve this one.
    for number in 0..6 {
        let _ = shop.patch(&format!("/v1/form-tools/FT-L{number}"), &json!({"reserved_for": "P-2001"}));
    }
    assert_eq!(designs()["runs_out"]["job"], "J-L1");
}
