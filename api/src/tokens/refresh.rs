//! Refresh tokens: opaque, 256 bits, stored as their hash, used once.
//!
//! A client may lose the answer to a refresh and ask again. So the next token is derived from the one before, by a key
//! that only the server has: within a short window the same question gets the same answer without the token being stored
//! anywhere. Later the same token again means that two hold it, and ends the session.

use super::KeyError;
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use chrono::{DateTime, TimeDelta, Utc};
use hmac::{Hmac, KeyInit, Mac};
use sha2::{Digest, Sha256};
use std::fmt;

const PREFIX: &str = "dvr_";

/// For how long a token that was used once gets the same answer again.
pub const REUSE_WINDOW: TimeDelta = TimeDelta::seconds(10);

/// A refresh token. It is a secret: it shows itself only by [`RefreshToken::reveal`].
#[derive(Clone, PartialEq, Eq)]
pub struct RefreshToken([u8; 32]);

impl RefreshToken {
    /// The first token of a session.
    ///
    /// # Errors
    /// When the system gives no randomness.
    pub fn fresh() -> Result<Self, KeyError> {
        let mut bytes = [0; 32];
        getrandom::fill(&mut bytes).map_err(KeyError::Random)?;
        Ok(Self(bytes))
    }

    /// Reads a token as a client sent it; `None` for anything else.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let bytes = URL_SAFE_NO_PAD.decode(text.strip_prefix(PREFIX)?).ok()?;
        bytes.try_into().ok().map(Self)
    }

    /// The token after this one, always the same under the same key.
    ///
    /// # Errors
    /// Never with a key of 32 bytes; the signature keeps a panic out.
    pub fn next(&self, key: &[u8; 32]) -> Result<Self, KeyError> {
        let mut hash = Hmac::<Sha256>::new_from_slice(key).map_err(|_| KeyError::Signing)?;
        hash.update(&self.0);
        Ok(Self(hash.finalize().into_bytes().into()))
    }

    /// What is stored of it: its SHA-256, base64url. A token has 256 random bits, so no salt and no slow hash.
    #[must_use]
    pub fn digest(&self) -> String {
        URL_SAFE_NO_PAD.encode(Sha256::digest(self.0))
    }

    /// The text for the client.
    #[must_use]
    pub fn reveal(&self) -> String {
        format!("{PREFIX}{}", URL_SAFE_NO_PAD.encode(self.0))
    }
}

impl fmt::Debug for RefreshToken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("RefreshToken(…)")
    }
}

/// What to do about a refresh token.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RefreshVerdict {
    /// It is in force: its successor takes its place.
    Rotate,
    /// It was used a moment ago: its successor is already in force and is answered again.
    Repeat,
    /// It was used longer ago: two hold it, and the session ends.
    EndSession,
    /// It never belonged to this session.
    Foreign,
}

/// Judges a token by what is stored of its session: the digest in force, the one before it, and when they changed places.
#[must_use]
pub fn judge_refresh(
    token: &RefreshToken,
    in_force: &str,
    before: Option<(&str, DateTime<Utc>)>,
    now: DateTime<Utc>,
) -> RefreshVerdict {
    // Digests of 256 random bits: comparing them in varying time tells nothing about the token.
    let digest = token.digest();
    match before {
        _ if digest == in_force => RefreshVerdict::Rotate,
        Some((before, rotated_at)) if digest == before => {
            if now.signed_duration_since(rotated_at) <= REUSE_WINDOW {
                RefreshVerdict::Repeat
            } else {
                RefreshVerdict::EndSession
            }
        }
        _ => RefreshVerdict::Foreign,
    }
}

#[cfg(test)]
mod tests {
    use super::{RefreshToken, RefreshVerdict, judge_refresh};
    use chrono::DateTime;

    const KEY: [u8; 32] = [3; 32];

    #[test]
    fn a_token_comes_back_from_its_text_and_from_nothing_else() {
        let token = RefreshToken::fresh().unwrap();
        let text = token.reveal();
        assert_eq!(text.len(), 4 + 43);
        assert_eq!(RefreshToken::parse(&text), Some(token.clone()));
        for bad in ["", "dvr_", &text[4..], &text[..46], &format!("{text}A"), &text.replace("dvr_", "dvx_"), "dvr_!"] {
            assert_eq!(RefreshToken::parse(bad), None, "{bad}");
        }
        assert_ne!(RefreshToken::fresh().unwrap(), token);
        assert!(!format!("{token:?}").contains(&text[4..]) && !token.digest().contains(&text[4..]));
    }

    #[test]
    fn the_successor_is_derived_by_the_servers_key() {
        let token = RefreshToken([0x0b; 32]);
        assert_eq!(token.next(&KEY).unwrap(), token.next(&KEY).unwrap());
        assert_ne!(token.next(&KEY).unwrap(), token.next(&[4; 32]).unwrap());
        assert_ne!(token.next(&KEY).unwrap(), token);
        // Computed apart with Python's hmac module.
        let expected = "dvr_HMpBUgj8ceVrGCbD8pffsR7CT7mz6D_Kmc-XtUdBmCk";
        assert_eq!(token.next(&KEY).unwrap().reveal(), expected);
    }

    #[test]
    fn a_second_use_is_answered_again_for_a_moment_and_ends_the_session_later() {
        let at = |milliseconds: i64| DateTime::from_timestamp_millis(1_800_000_000_000 + milliseconds).unwrap();
        let first = RefreshToken([1; 32]);
        let second = first.next(&KEY).unwrap();
        let other = RefreshToken([2; 32]);
        let (in_force, before) = (second.digest(), first.digest());
        let judge = |token, now| judge_refresh(token, &in_force, Some((&before, at(0))), at(now));
        assert_eq!(judge_refresh(&first, &before, None, at(0)), RefreshVerdict::Rotate);
        assert_eq!(judge(&second, 99_000), RefreshVerdict::Rotate);
        assert_eq!(judge(&first, 10_000), RefreshVerdict::Repeat);
        assert_eq!(judge(&first, 10_001), RefreshVerdict::EndSession);
        assert_eq!(judge(&other, 0), RefreshVerdict::Foreign);
        assert_eq!(judge_refresh(&other, &before, None, at(0)), RefreshVerdict::Foreign);
    }
}
