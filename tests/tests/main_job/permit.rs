//! The run permit, plain and signed. The signature is verified with the published key by a library of its own.

use crate::shop::Shop;
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use chrono::{DateTime, TimeDelta, Utc};
use ed25519_dalek::{Signature, VerifyingKey};
use serde_json::{Value, json};

fn path(machine: &str, purpose: &str) -> String {
    format!("/v1/machines/{machine}/run-permit?purpose={purpose}")
}

fn instant(value: &Value) -> DateTime<Utc> {
    value.as_str().and_then(|text| text.parse().ok()).unwrap_or_else(|| panic!("not an instant: {value}"))
}

/// Asks for a permit: it is for this minute, and says what it is not.
#[track_caller]
pub(crate) fn ask(shop: &Shop, machine: &str, purpose: &str) -> Value {
    let answer = shop.person("clerk").get(&path(machine, purpose)).send().expect(200);
    assert_eq!(answer.header("cache-control"), Some("no-store"));
    let permit = answer.json();
    is_for_this_minute(&permit);
    assert_eq!(permit["permitted"] == true, permit["blockers"] == json!([]), "{permit}");
    permit
}

fn is_for_this_minute(permit: &Value) {
    let valid_for = instant(&permit["valid_until"]) - instant(&permit["judged_at"]);
    assert!(valid_for > TimeDelta::zero() && valid_for <= TimeDelta::seconds(60), "{permit}");
    assert!(permit["caution"].as_str().is_some_and(|caution| caution.contains("not a safety function")), "{permit}");
}

/// The claims of a token, its signature verified with the published key that its header names.
fn verified(shop: &Shop, token: &str) -> Value {
    let keys = shop.server.anonymous().get("/.well-known/jwks.json").send().expect(200).json();
    let (signed, signature) = token.rsplit_once('.').expect("a token of three parts");
    let (header, claims) = signed.split_once('.').expect("a token of three parts");
    let bytes = |part: &str| URL_SAFE_NO_PAD.decode(part).expect("base64url");
    let json = |part: &str| serde_json::from_slice::<Value>(&bytes(part)).expect("JSON");
    let header = json(header);
    assert_eq!((&header["alg"], &header["typ"]), (&json!("EdDSA"), &json!("run-permit+jwt")), "{header}");
    let mut published = keys["keys"].as_array().expect("keys").iter();
    let key = published.find(|key| key["kid"] == header["kid"]).unwrap_or_else(|| panic!("{header} is not of {keys}"));
    assert_eq!((&key["kty"], &key["crv"]), (&json!("OKP"), &json!("Ed25519")), "{key}");
    assert!(key["d"].is_null(), "the private key is published");
    let x: [u8; 32] = bytes(key["x"].as_str().expect("x")).try_into().expect("32 bytes");
    let key = VerifyingKey::from_bytes(&x).expect("a point of the curve");
    let signature = Signature::from_slice(&bytes(signature)).expect("64 bytes");
    key.verify_strict(signed.as_bytes(), &signature).expect("signed by the published key");
    key.verify_strict(format!("{signed}A").as_bytes(), &signature).expect_err("anything else is not signed");
    json(claims)
}

/// The permit for production of a machine that runs, plain and signed.
pub(crate) fn both_forms_say_the_same(shop: &Shop, machine: &str, setup: &str) {
    let plain = ask(shop, machine, "production");
    assert_eq!((&plain["permitted"], &plain["setup"]), (&json!(true), &json!(setup)));
    assert_eq!(ask(shop, machine, "trial")["permitted"], true, "what may run may be tried");
    let signed = shop.person("clerk").get(&path(machine, "production")).header("Accept", "application/jwt").send();
    let signed = signed.expect(200);
    assert_eq!(
        (signed.header("content-type"), signed.header("cache-control")),
        (Some("application/jwt"), Some("no-store"))
    );
    let token = String::from_utf8(signed.body).expect("text");
    let claims = verified(shop, &token);
    for field in ["machine", "purpose", "permitted", "blockers", "setup", "caution"] {
        assert_eq!(claims[field], plain[field], "{field}");
    }
    is_for_this_minute(&claims);
    let (iat, exp) = (claims["iat"].as_i64().expect("iat"), claims["exp"].as_i64().expect("exp"));
    assert!(exp > iat && exp - iat <= 60, "{claims}");
    assert_eq!(exp, instant(&claims["valid_until"]).timestamp(), "{claims}");
    // A permit opens no door: it is not an access token.
    let problem = shop.person("clerk").with_token(&token).get("/v1/machines").send().expect(401).json();
    assert_eq!(problem["type"], "/problems/unauthenticated");
}
