//! What was set with which gauge, asked of a gauge, a machine, a tool, and of a past instant.

use crate::{instant, now, shop::*};
use serde_json::json;

const USES: &str = "/v1/gauge-uses";

/// The gauge stands in M-103 since the shop opened, and is taken out now.
pub(crate) fn of_any_instant(shop: &Shop) {
    let asked = |query: &str| items(&shop.read(&format!("{USES}?{query}"))).clone();
    let standing = asked("machine=M-103");
    assert_eq!(standing.len(), 1, "{standing:?}");
    assert_eq!(
        (&standing[0]["gauge"], &standing[0]["station"], &standing[0]["tool"], &standing[0]["removed_at"]),
        (&json!("CG-103"), &json!("S3"), &json!("FT-010"), &json!(null))
    );
    let while_in_it = now();
    let setup = text(&items(&shop.read("/v1/setups?machine=M-103&open=true"))[0]["id"]);
    shop.event("setter", &setup, &json!({"kind": "gauge_removed", "station": "S3", "gauge": "CG-103"}));
    let taken_out = text(&asked("machine=M-103")[0]["removed_at"]);

    // The shop's opening is one transaction, whose times on different machines lie in each other.
    let at = |instant: &str| -> Vec<String> {
        asked(&format!("machine=M-103&as_of={instant}")).iter().map(|row| text(&row["gauge"])).collect()
    };
    assert_eq!(at(&text(&standing[0]["placed_at"])), ["CG-103"], "from when it was placed");
    assert_eq!(at(&instant(while_in_it)), ["CG-103"]);
    assert_eq!(at(&taken_out), Vec::<String>::new(), "until before it was taken out");
    assert_eq!(at("2020-01-01T00:00:00Z"), Vec::<String>::new(), "before the shop was on record");

    for (query, uses) in [
        ("gauge=CG-103", 1),
        ("tool=FT-010", 1),
        ("tool=FT-007", 1),
        ("gauge=CG-102", 2),
        ("machine=M-102&tool=CB-01", 1),
        ("gauge=CG-101", 0),
        ("machine=M-101", 0),
        ("gauge=CG-103&tool=FT-007", 0),
    ] {
        assert_eq!(asked(query).len(), uses, "{query}");
    }
}
