//! Signing in and staying signed in, on a live server: refusals that tell nothing, tokens that cannot be forged, and
//! sessions that end at once.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use dovetally_tests::{
    client::Answer,
    server::{Backend, DEMO_SECRET, Server},
};
use ed25519_dalek::{Signer, SigningKey, pkcs8::DecodePrivateKey};
use serde_json::{Value, json};
use std::{fs, time::Instant};

fn on_both(test: impl Fn(&Server)) {
    for backend in Backend::BOTH {
        test(&Server::on(backend).demo().start());
    }
}

fn sign_in(server: &Server, badge: &str, secret: &str) -> Answer {
    server.anonymous().post("/v1/auth/sessions").json(&json!({"badge": badge, "secret": secret})).send()
}

fn refresh(server: &Server, session: &Value) -> Answer {
    let body = json!({"refresh_token": session["refresh_token"]});
    server.anonymous().post("/v1/auth/refresh").json(&body).send()
}

fn status_of(server: &Server, token: &str) -> u16 {
    server.anonymous().with_token(token).get("/v1/rules").send().status
}

fn access_token(session: &Value) -> &str {
    session["access_token"].as_str().unwrap_or_else(|| panic!("no access token in {session}"))
}

/// A problem document without what differs between any two.
fn words(answer: &Answer) -> Value {
    let mut problem = answer.json();
    problem.as_object_mut().expect("a problem").remove("trace_id").expect("a trace id");
    problem
}

#[test]
fn a_wrong_secret_and_an_unknown_badge_get_the_same_words_and_have_to_wait() {
    on_both(|server| {
        let wrong = sign_in(server, "setter", "not-the-secret").expect(401);
        let unknown = sign_in(server, "nobody-here", DEMO_SECRET).expect(401);
        assert_eq!(words(&wrong), words(&unknown));
        for badge in ["setter", "nobody-here"] {
            let slowed = (0..20).map(|_| sign_in(server, badge, "not-the-secret")).find(|answer| answer.status == 429);
            let slowed = slowed.unwrap_or_else(|| panic!("{badge}: twenty guesses in a row and no wait"));
            let wait: u64 = slowed.header("Retry-After").expect("Retry-After").parse().expect("seconds");
            assert!((1..=60).contains(&wait), "{slowed}");
            assert_eq!(slowed.header("RateLimit"), Some(format!("\"sign-in\";r=0;t={wait}").as_str()));
            assert_eq!(slowed.header("RateLimit-Policy"), Some("\"sign-in\";q=4;w=900"));
        }
        let _ = sign_in(server, "clerk", DEMO_SECRET).expect(201);
    });
}

#[test]
fn a_disabled_persons_token_is_dead_within_a_second() {
    on_both(|server| {
        let session = sign_in(server, "setter-2", DEMO_SECRET).expect(201).json();
        assert_eq!(status_of(server, access_token(&session)), 200);
        let administrator = server.person("administrator");
        let person = administrator.get("/v1/people/setter-2").send().expect(200);
        let tag = person.header("ETag").expect("an ETag");
        let disable = administrator.patch("/v1/people/setter-2").header("If-Match", tag);
        let disabled = disable.body("application/merge-patch+json", r#"{"disabled": true}"#).send().expect(200);
        assert_eq!(disabled.json()["disabled"], true);
        let since = Instant::now();
        assert_eq!(status_of(server, access_token(&session)), 401);
        assert!(since.elapsed().as_millis() < 1000, "{:?}", since.elapsed());
        let _ = refresh(server, &session).expect(401);
        let refused = sign_in(server, "setter-2", DEMO_SECRET).expect(401);
        assert_eq!(words(&refused), words(&sign_in(server, "nobody-here", DEMO_SECRET)));
    });
}

#[test]
fn a_refresh_token_is_used_once_and_its_answer_can_be_asked_again() {
    on_both(|server| {
        let first = sign_in(server, "setter", DEMO_SECRET).expect(201).json();
        let second = refresh(server, &first).expect(200).json();
        assert_ne!(first["refresh_token"], second["refresh_token"]);
        assert_eq!(refresh(server, &first).expect(200).json(), second, "a lost answer is answered again");
        let third = refresh(server, &second).expect(200).json();
        assert_eq!(status_of(server, access_token(&third)), 200);
        // Two steps back is no lost answer: two people hold the session, and it ends for both.
        let _ = refresh(server, &first).expect(401);
        assert_eq!(status_of(server, access_token(&third)), 401);
        let _ = refresh(server, &third).expect(401);
        let _ = refresh(server, &json!({"refresh_token": "dvr_AAAA"})).expect(401);
    });
}

#[test]
fn signing_out_ends_the_session_and_only_that_one() {
    on_both(|server| {
        let ended = sign_in(server, "setter", DEMO_SECRET).expect(201).json();
        let other = sign_in(server, "setter", DEMO_SECRET).expect(201).json();
        let client = server.anonymous().with_token(access_token(&ended));
        let _ = client.delete("/v1/auth/sessions/current").send().expect(204);
        assert_eq!(status_of(server, access_token(&ended)), 401);
        let _ = refresh(server, &ended).expect(401);
        assert_eq!(status_of(server, access_token(&other)), 200);
    });
}

/// A compact token over any header and claims, signed by this key.
fn signed(header: &Value, claims: &Value, key: &SigningKey) -> String {
    let part = |value: &Value| URL_SAFE_NO_PAD.encode(value.to_string());
    let message = format!("{}.{}", part(header), part(claims));
    let signature = key.sign(message.as_bytes());
    format!("{message}.{}", URL_SAFE_NO_PAD.encode(signature.to_bytes()))
}

/// The value with one member replaced, or removed when the new value is null.
fn with(value: &Value, name: &str, new: Value) -> Value {
    let mut value = value.clone();
    let members = value.as_object_mut().expect("an object");
    if new.is_null() {
        members.remove(name)
    } else {
        members.insert(name.to_owned(), new)
    };
    value
}

/// What RFC 8725 warns of. The server's own key signs most of them, so that nothing but the named fault is wrong.
#[test]
fn forged_tokens_are_refused() {
    on_both(|server| {
        let session = sign_in(server, "setter", DEMO_SECRET).expect(201).json();
        let genuine = access_token(&session);
        let parts: Vec<&str> = genuine.split('.').collect();
        let decoded = |part: &str| -> Value {
            let bytes = URL_SAFE_NO_PAD.decode(part).expect("base64url");
            serde_json::from_slice(&bytes).expect("JSON")
        };
        let (header, claims) = (decoded(parts[0]), decoded(parts[1]));
        let pem = fs::read_to_string(server.data_folder().join("signing-key.pem")).expect("the signing key");
        let key = SigningKey::from_pkcs8_pem(&pem).expect("an Ed25519 key");
        let other = SigningKey::from_bytes(&[9; 32]);
        let (now, none) = (claims["iat"].as_i64().expect("a time"), json!({"alg": "none", "typ": "at+jwt"}));
        // The frame of this test: an untouched copy is let in.
        assert_eq!(status_of(server, &signed(&header, &claims, &key)), 200);

        let unsigned = signed(&none, &claims, &key);
        let unsigned = unsigned.rsplit_once('.').expect("three parts").0;
        let mut forged = vec![
            ("no signature", format!("{unsigned}.")),
            ("none, with a signature", signed(&none, &claims, &key)),
            ("another key under this id", signed(&header, &claims, &other)),
            ("another key's id", signed(&with(&header, "kid", json!("other")), &claims, &key)),
            ("no key id", signed(&with(&header, "kid", Value::Null), &claims, &key)),
            ("another type", signed(&with(&header, "typ", json!("JWT")), &claims, &key)),
            ("another algorithm named", signed(&with(&header, "alg", json!("HS256")), &claims, &key)),
            ("an extension", signed(&with(&header, "crit", json!(["b64"])), &claims, &key)),
            ("expired", signed(&header, &with(&claims, "exp", json!(now - 60)), &key)),
            ("not yet", signed(&header, &with(&claims, "nbf", json!(now + 300)), &key)),
            ("another issuer", signed(&header, &with(&claims, "iss", json!("https://other.example")), &key)),
            ("another audience", signed(&header, &with(&claims, "aud", json!("other")), &key)),
            ("another's session", {
                let clerk = sign_in(server, "clerk", DEMO_SECRET).expect(201).json();
                let clerk = decoded(access_token(&clerk).split('.').nth(1).expect("claims"));
                signed(&header, &with(&claims, "sub", clerk["sub"].clone()), &key)
            }),
            ("tampered claims", {
                let claims = URL_SAFE_NO_PAD.encode(with(&claims, "exp", json!(now + 86_400)).to_string());
                format!("{}.{claims}.{}", parts[0], parts[2])
            }),
            ("cut short", genuine[..genuine.len() - 2].to_owned()),
        ];
        for name in ["iss", "aud", "exp", "nbf", "sub", "sid"] {
            forged.push(("a claim is missing", signed(&header, &with(&claims, name, Value::Null), &key)));
        }
        for (fault, token) in &forged {
            let answer = server.anonymous().with_token(token).get("/v1/rules").send();
            assert_eq!(answer.status, 401, "{fault}: {answer}");
            assert!(answer.header("WWW-Authenticate").is_some_and(|value| value.contains("invalid_token")), "{fault}");
        }
        assert_eq!(status_of(server, genuine), 200);
    });
}
