//! Tokens: short signed access tokens, and opaque refresh tokens.
//!
//! An access token says who and which session, never what they may do: rights are looked up per request, so that a
//! disabled person's token is worth nothing at once. Time is always passed in.

mod cache;
mod keys;
mod refresh;

pub use keys::{KeyError, SigningKeys, Unverified};
pub use refresh::{REUSE_WINDOW, RefreshToken, RefreshVerdict, judge_refresh};

use cache::VerifiedTokens;
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::ids::{PersonId, SessionId};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// The media type in an access token's header (RFC 9068). The same keys sign permits and receipts; the type keeps one
/// from being taken for another (RFC 8725, section 3.11).
pub const ACCESS_TOKEN_TYPE: &str = "at+jwt";

/// How far two machines' clocks may differ.
pub const LEEWAY: TimeDelta = TimeDelta::seconds(5);

/// What an access token says: exactly this.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Claims {
    iss: String,
    aud: String,
    exp: i64,
    nbf: i64,
    iat: i64,
    sub: PersonId,
    sid: SessionId,
}

/// Who a valid access token speaks for. Whether the session still stands, and what they may do, it does not say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bearer {
    /// The person or client.
    pub person: PersonId,
    /// Their session.
    pub session: SessionId,
    not_before: i64,
    expires: i64,
}

impl Bearer {
    fn in_force(self, now: DateTime<Utc>) -> Result<Self, TokenError> {
        let (now, leeway) = (now.timestamp(), LEEWAY.num_seconds());
        if now >= self.expires.saturating_add(leeway) {
            Err(TokenError::Expired)
        } else if now.saturating_add(leeway) < self.not_before {
            Err(TokenError::NotYet)
        } else {
            Ok(self)
        }
    }
}

/// Why a token is not valid. For the log: the caller is told only that it is not.
#[derive(Debug, thiserror::Error)]
pub enum TokenError {
    /// Form, type, key, signature, issuer, audience or claims.
    #[error(transparent)]
    Unverified(#[from] Unverified),
    /// Its time is over.
    #[error("the token has expired")]
    Expired,
    /// Its time has not begun.
    #[error("the token is not valid yet")]
    NotYet,
}

/// Issues and verifies access tokens of one server.
#[derive(Debug)]
pub struct AccessTokens {
    keys: Arc<SigningKeys>,
    issuer: String,
    audience: String,
    lifetime: TimeDelta,
    verified: VerifiedTokens,
}

/// An access token and for how long it is valid.
#[derive(Debug)]
pub struct Issued {
    /// The token.
    pub token: String,
    /// Seconds from now.
    pub expires_in: i64,
}

impl AccessTokens {
    /// Tokens of this issuer for this audience, each valid for `lifetime`.
    #[must_use]
    pub fn new(keys: Arc<SigningKeys>, issuer: &str, audience: &str, lifetime: TimeDelta) -> Self {
        let (issuer, audience) = (issuer.to_owned(), audience.to_owned());
        Self { keys, issuer, audience, lifetime, verified: VerifiedTokens::holding(4096) }
    }

    /// A token for a person's session.
    ///
    /// # Errors
    /// When signing fails.
    pub fn issue(&self, person: PersonId, session: SessionId, now: DateTime<Utc>) -> Result<Issued, KeyError> {
        let (now, expires_in) = (now.timestamp(), self.lifetime.num_seconds());
        let claims = Claims {
            iss: self.issuer.clone(),
            aud: self.audience.clone(),
            exp: now + expires_in,
            nbf: now,
            iat: now,
            sub: person,
            sid: session,
        };
        Ok(Issued { token: self.keys.sign(ACCESS_TOKEN_TYPE, &claims)?, expires_in })
    }

    /// Who the token speaks for. A signature that was verified once is not verified again until the token expires;
    /// its times are compared each time.
    ///
    /// # Errors
    /// [`TokenError`], for the log.
    pub fn verify(&self, token: &str, now: DateTime<Utc>) -> Result<Bearer, TokenError> {
        if let Some(bearer) = self.verified.get(token) {
            return bearer.in_force(now);
        }
        let claims: Claims = self.keys.verify(token, ACCESS_TOKEN_TYPE, &self.issuer, &self.audience)?;
        let bearer = Bearer { person: claims.sub, session: claims.sid, not_before: claims.nbf, expires: claims.exp };
        let bearer = bearer.in_force(now)?;
        self.verified.put(token, bearer);
        Ok(bearer)
    }
}

#[cfg(test)]
mod tests {
    use super::{ACCESS_TOKEN_TYPE, AccessTokens, SigningKeys, TokenError};
    use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
    use chrono::{DateTime, TimeDelta, Utc};
    use dovetally_core::ids::{PersonId, SessionId};
    use ed25519_dalek::{Signer, SigningKey};
    use jsonwebtoken::{Algorithm, EncodingKey, Header};
    use serde_json::{Value, json};
    use std::sync::Arc;
    use uuid::Uuid;

    const SEED: [u8; 32] = [7; 32];

    fn at(seconds: i64) -> DateTime<Utc> {
        DateTime::from_timestamp(1_800_000_000 + seconds, 0).unwrap()
    }

    fn tokens(seed: [u8; 32]) -> AccessTokens {
        let keys = Arc::new(SigningKeys::from_seed(&seed).unwrap());
        AccessTokens::new(keys, "https://shop.example", "dovetally", TimeDelta::minutes(10))
    }

    fn who() -> (PersonId, SessionId) {
        (PersonId::from_uuid(Uuid::from_u128(1)), SessionId::from_uuid(Uuid::from_u128(2)))
    }

    /// A compact token over any header and claims, signed with any Ed25519 key: what a forger can make.
    fn forged(header: &Value, claims: &Value, seed: [u8; 32]) -> String {
        let part = |value: &Value| URL_SAFE_NO_PAD.encode(value.to_string());
        let message = format!("{}.{}", part(header), part(claims));
        let signature = SigningKey::from_bytes(&seed).sign(message.as_bytes());
        format!("{message}.{}", URL_SAFE_NO_PAD.encode(signature.to_bytes()))
    }

    fn header() -> Value {
        let kid = SigningKeys::from_seed(&SEED).unwrap().key_id().to_owned();
        json!({"typ": ACCESS_TOKEN_TYPE, "alg": "EdDSA", "kid": kid})
    }

    fn claims() -> Value {
        let now = at(0).timestamp();
        json!({
            "iss": "https://shop.example", "aud": "dovetally", "exp": now + 600, "nbf": now, "iat": now,
            "sub": who().0, "sid": who().1,
        })
    }

    /// The value with one member replaced, or removed when the new value is null.
    fn with(mut value: Value, name: &str, new: Value) -> Value {
        let members = value.as_object_mut().unwrap();
        if new.is_null() {
            members.remove(name)
        } else {
            members.insert(name.to_owned(), new)
        };
        value
    }

    #[test]
    fn a_token_says_who_and_which_session_and_nothing_else() {
        let tokens = tokens(SEED);
        let issued = tokens.issue(who().0, who().1, at(0)).unwrap();
        assert_eq!(issued.expires_in, 600);
        let bearer = tokens.verify(&issued.token, at(1)).unwrap();
        assert_eq!((bearer.person, bearer.session), who());
        let payload = URL_SAFE_NO_PAD.decode(issued.token.split('.').nth(1).unwrap()).unwrap();
        assert_eq!(serde_json::from_slice::<Value>(&payload).unwrap(), claims());
        // What the forgeries below start from is accepted, so it is the change that is refused.
        assert!(tokens.verify(&forged(&header(), &claims(), SEED), at(1)).is_ok());
    }

    #[test]
    fn times_are_kept_to_the_leeway_also_from_the_cache() {
        for warm in [false, true] {
            let tokens = tokens(SEED);
            let token = tokens.issue(who().0, who().1, at(0)).unwrap().token;
            if warm {
                tokens.verify(&token, at(0)).unwrap();
            }
            assert!(matches!(tokens.verify(&token, at(-6)), Err(TokenError::NotYet)));
            assert!(tokens.verify(&token, at(-5)).is_ok());
            assert!(tokens.verify(&token, at(604)).is_ok());
            assert!(matches!(tokens.verify(&token, at(605)), Err(TokenError::Expired)));
        }
    }

    #[test]
    fn forged_headers_are_refused() {
        let tokens = tokens(SEED);
        let kid = header()["kid"].clone();
        for (what, header) in [
            ("no type", with(header(), "typ", Value::Null)),
            ("another type", with(header(), "typ", json!("JWT"))),
            ("a permit", with(header(), "typ", json!("permit+jwt"))),
            ("no key id", with(header(), "kid", Value::Null)),
            ("unknown key id", with(header(), "kid", json!("x"))),
            ("key id as a path", with(header(), "kid", json!("../../dev/null"))),
            ("alg HS256", with(header(), "alg", json!("HS256"))),
            ("alg ES256", with(header(), "alg", json!("ES256"))),
            ("alg none", with(header(), "alg", json!("none"))),
            ("alg None", with(header(), "alg", json!("None"))),
            ("no alg", with(header(), "alg", Value::Null)),
            ("critical", with(header(), "crit", json!(["exp"]))),
        ] {
            assert!(tokens.verify(&forged(&header, &claims(), SEED), at(1)).is_err(), "{what}");
        }
        // A key that the header brings along is not believed (RFC 8725, section 3.10): the signature is by another key.
        let own = SigningKey::from_bytes(&[9; 32]);
        let jwk = json!({"kty": "OKP", "crv": "Ed25519", "x": URL_SAFE_NO_PAD.encode(own.verifying_key().as_bytes())});
        assert!(tokens.verify(&forged(&with(header(), "jwk", jwk), &claims(), [9; 32]), at(1)).is_err());
        // An unsigned token, with and without the second dot.
        let unsigned = forged(&with(header(), "alg", json!("none")), &claims(), SEED);
        let (message, _) = unsigned.rsplit_once('.').unwrap();
        for token in [format!("{message}."), message.to_owned(), String::new(), "..".to_owned(), "a.b.c".to_owned()] {
            assert!(tokens.verify(&token, at(1)).is_err(), "{token}");
        }
        // HS256 keyed with the public key, which everybody can read (RFC 8725, section 2.1), raw and as text.
        let public = SigningKey::from_bytes(&SEED).verifying_key().to_bytes();
        for secret in [public.to_vec(), URL_SAFE_NO_PAD.encode(public).into_bytes()] {
            let mut hs256 = Header::new(Algorithm::HS256);
            hs256.typ = Some(ACCESS_TOKEN_TYPE.to_owned());
            hs256.kid = kid.as_str().map(str::to_owned);
            let token = jsonwebtoken::encode(&hs256, &claims(), &EncodingKey::from_secret(&secret)).unwrap();
            assert!(tokens.verify(&token, at(1)).is_err());
        }
    }

    #[test]
    fn forged_claims_and_signatures_are_refused() {
        let tokens = tokens(SEED);
        for name in ["iss", "aud", "exp", "nbf", "iat", "sub", "sid"] {
            let missing = with(claims(), name, Value::Null);
            assert!(tokens.verify(&forged(&header(), &missing, SEED), at(1)).is_err(), "without {name}");
        }
        for (name, value) in [
            ("iss", json!("https://other.example")),
            ("iss", json!(["https://shop.example"])),
            ("aud", json!("other")),
            ("aud", json!(["dovetally", "other"])),
            ("exp", json!("1900000000")),
            ("exp", json!(at(-10).timestamp())),
            ("nbf", json!(at(60).timestamp())),
            ("sub", json!("administrator")),
            ("sid", json!(7)),
            ("roles", json!(["administrator"])),
        ] {
            let changed = with(claims(), name, value);
            assert!(tokens.verify(&forged(&header(), &changed, SEED), at(1)).is_err(), "{name}");
        }
        assert!(tokens.verify(&forged(&header(), &claims(), [9; 32]), at(1)).is_err(), "another key, our key id");

        let good = forged(&header(), &claims(), SEED);
        let parts: Vec<&str> = good.split('.').collect();
        let other = forged(&header(), &with(claims(), "sub", json!(Uuid::from_u128(3))), SEED);
        let payload = other.split('.').nth(1).unwrap();
        tokens.verify(&good, at(1)).unwrap();
        for (what, token) in [
            ("another payload", format!("{}.{payload}.{}", parts[0], parts[2])),
            ("another's signature", format!("{}.{}.{}", parts[0], parts[1], other.split('.').nth(2).unwrap())),
            ("no signature", format!("{}.{}.", parts[0], parts[1])),
            ("a cut signature", good[..good.len() - 2].to_owned()),
            ("padding", format!("{good}==")),
            ("a space", format!("{good} ")),
        ] {
            assert!(tokens.verify(&token, at(1)).is_err(), "{what}");
        }
        // Every single character of a verified token counts, the unused bits of the last one included.
        for at_byte in 0..good.len() {
            let mut bytes = good.clone().into_bytes();
            bytes[at_byte] = if bytes[at_byte] == b'A' { b'B' } else { b'A' };
            let changed = String::from_utf8(bytes).unwrap();
            assert!(tokens.verify(&changed, at(1)).is_err(), "byte {at_byte}");
        }
    }
}
