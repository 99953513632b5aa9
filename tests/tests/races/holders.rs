//! A check of a holder against a release of the setup in which it is seated: one comes first, and the other knows it.

use crate::{against_release::Check, shop::Shop};
use dovetally_tests::{client::Answer, server::Backend};
use serde_json::json;

/// The holder at S1 of the machine that runs.
const HOLDER: &str = "HD-04";
/// A check that rejects it.
const FOUND_BAD: Check = Check { send: found_bad, rule: "holder-not-usable" };

fn found_bad(shop: &Shop) -> Answer {
    let body = json!({"accepted": false, "found": ["burr_on_seat"], "seat_clean": false, "taper_adjuster_free": true,
        "height_adjuster_free": true, "side_screw_free": true});
    shop.person("inspector").post(&format!("/v1/holders/{HOLDER}/checks")).json(&body).send()
}

#[test]
fn a_holders_check_and_a_release_have_one_order_on_sqlite() {
    FOUND_BAD.has_one_order_with_a_release(Backend::Sqlite);
}

#[test]
fn a_holders_check_and_a_release_have_one_order_on_postgresql() {
    FOUND_BAD.has_one_order_with_a_release(Backend::Postgres);
}

/// Both begin with the holder's custody row. Without that lock neither knows of the other.
#[test]
fn without_the_holders_row_they_have_none_on_postgresql() {
    FOUND_BAD.has_none_without_the_custody_row();
}
