//! Sessions of browsers: a cookie that says which session and when it was last used.
//!
//! The session itself is a row beside those of the API: it is revoked the same way, and rights are read with each
//! request. The cookie is sealed by a key that only the server has, so that no request has to write down when somebody
//! was last there: a GET never changes a record.
//!
//! Whatever comes with a cookie and changes something must come from one of our own pages: its `Origin` is compared.

use crate::{
    cookie::{self, NewCookie},
    problem::Problem,
    tokens::{KeyError, SigningKeys},
};
use actix_web::{HttpRequest, http::header};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::ids::SessionId;
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;
use uuid::Uuid;

/// The same key makes refresh tokens; this keeps one from being taken for the other.
const LABEL: &[u8] = b"dovetally browser session, version 1\n";

/// For how long a cookie is not written anew: a page with many parts would set it with each.
const RENEWED_AFTER: TimeDelta = TimeDelta::seconds(60);

/// The cookie's name where the server is known under an `https://` address.
pub const HTTPS_COOKIE: &str = "__Host-dovetally";
/// Its name over plain HTTP.
pub const PLAIN_HTTP_COOKIE: &str = "dovetally_session";

/// How browsers are signed in here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CookieMode {
    /// The server is known under an `https://` address: the cookie never leaves by another way.
    Https,
    /// Plain HTTP, because somebody switched it on.
    PlainHttp,
    /// Plain HTTP, and nobody switched it on: browsers are not signed in.
    Off,
}

/// How long a browser stays signed in, and by which cookie.
#[derive(Clone, Debug)]
pub struct BrowserSessions {
    /// By which cookie.
    pub mode: CookieMode,
    /// After so long without a request the person signs in again.
    pub idle: TimeDelta,
    /// The address browsers know this server by, where one is set.
    pub public_url: Option<String>,
}

/// What a sealed cookie says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seen {
    /// The session.
    pub session: SessionId,
    /// When its person last asked for something.
    pub at: DateTime<Utc>,
}

impl Seen {
    /// As the cookie's value.
    ///
    /// # Errors
    /// Never with a key of 32 bytes.
    pub fn seal(&self, key: &[u8; 32]) -> Result<String, KeyError> {
        let said = format!("{}.{}", self.session.uuid().simple(), self.at.timestamp());
        Ok(format!("{said}.{}", URL_SAFE_NO_PAD.encode(mac(key, &said)?.finalize().into_bytes())))
    }

    /// Reads a cookie's value; `None` for whatever this server did not seal.
    #[must_use]
    pub fn open(value: &str, key: &[u8; 32]) -> Option<Self> {
        let (said, seal) = value.rsplit_once('.')?;
        mac(key, said).ok()?.verify_slice(&URL_SAFE_NO_PAD.decode(seal).ok()?).ok()?;
        let (session, at) = said.split_once('.')?;
        Some(Self {
            session: SessionId::from_uuid(Uuid::try_parse(session).ok()?),
            at: DateTime::from_timestamp(at.parse().ok()?, 0)?,
        })
    }
}

fn mac(key: &[u8; 32], said: &str) -> Result<Hmac<Sha256>, KeyError> {
    let mut mac = Hmac::<Sha256>::new_from_slice(key).map_err(|_| KeyError::Signing)?;
    mac.update(LABEL);
    mac.update(said.as_bytes());
    Ok(mac)
}

impl BrowserSessions {
    /// The cookie's name.
    #[must_use]
    pub const fn cookie_name(&self) -> &'static str {
        match self.mode {
            CookieMode::Https => HTTPS_COOKIE,
            CookieMode::PlainHttp | CookieMode::Off => PLAIN_HTTP_COOKIE,
        }
    }

    /// Whether a request carries a session's cookie, valid or not.
    #[must_use]
    pub fn has_cookie(&self, request: &HttpRequest) -> bool {
        self.mode != CookieMode::Off && cookie::read(request, self.cookie_name()).is_some()
    }

    /// The session of a request's cookie that was used within the idle time.
    ///
    /// # Errors
    /// 401 for one that this server did not seal, or that was left alone for too long; 403 for a change that comes from
    /// another origin.
    pub fn session(&self, request: &HttpRequest, keys: &SigningKeys, now: DateTime<Utc>) -> Result<Seen, Problem> {
        let value = cookie::read(request, self.cookie_name()).ok_or_else(Problem::unauthenticated)?;
        let seen = Seen::open(value, keys.refresh_key());
        let seen = seen.ok_or_else(|| Problem::invalid_token("the cookie was not sealed here"))?;
        if now.signed_duration_since(seen.at) > self.idle {
            return Err(Problem::invalid_token("the browser was left alone for too long"));
        }
        if !request.method().is_safe() {
            self.same_origin(request)?;
        }
        Ok(seen)
    }

    /// Insists on a request that one of our own pages made.
    ///
    /// # Errors
    /// 403 for any other origin, and for none: every browser tells it with a POST.
    pub fn same_origin(&self, request: &HttpRequest) -> Result<(), Problem> {
        let origin = request.headers().get(header::ORIGIN).and_then(|value| value.to_str().ok());
        let origin = origin.ok_or_else(Problem::cross_site)?;
        let ours = match (&self.public_url, self.mode) {
            (Some(url), CookieMode::Https) => origin == url,
            // A shop reaches one server by several names; whoever makes a browser come here cannot choose the `Host`
            // that it sends, nor has a name of their own our cookie.
            (url, _) => {
                let host = request.headers().get(header::HOST).and_then(|value| value.to_str().ok());
                url.as_deref() == Some(origin) || host.is_some() && origin.strip_prefix("http://") == host
            }
        };
        if ours { Ok(()) } else { Err(Problem::cross_site()) }
    }

    /// The cookie that keeps a session, as of now.
    ///
    /// # Errors
    /// 500 when it cannot be sealed.
    pub fn cookie(&self, keys: &SigningKeys, session: SessionId, now: DateTime<Utc>) -> Result<NewCookie, Problem> {
        let value = Seen { session, at: now }.seal(keys.refresh_key()).map_err(Problem::internal)?;
        Ok(self.with_value(value, self.idle))
    }

    /// Whether a cookie is due to be written anew.
    #[must_use]
    pub fn is_due(seen: Seen, now: DateTime<Utc>) -> bool {
        now.signed_duration_since(seen.at) > RENEWED_AFTER
    }

    /// The cookie that takes a session's cookie away.
    #[must_use]
    pub fn no_cookie(&self) -> NewCookie {
        self.with_value(String::new(), TimeDelta::zero())
    }

    fn with_value(&self, value: String, age: TimeDelta) -> NewCookie {
        NewCookie { name: self.cookie_name(), value, age, secure: self.mode == CookieMode::Https }
    }
}

#[cfg(test)]
mod tests {
    use super::{BrowserSessions, CookieMode, Seen};
    use crate::{cookie::NewCookie, tokens::SigningKeys};
    use actix_web::{http::header, test::TestRequest};
    use chrono::{DateTime, TimeDelta, Utc};
    use dovetally_core::ids::SessionId;
    use uuid::Uuid;

    const KEY: [u8; 32] = [3; 32];

    fn at(seconds: i64) -> DateTime<Utc> {
        DateTime::from_timestamp(1_800_000_000 + seconds, 0).unwrap()
    }

    fn session() -> SessionId {
        SessionId::from_uuid(Uuid::from_u128(7))
    }

    fn plain() -> BrowserSessions {
        BrowserSessions { mode: CookieMode::PlainHttp, idle: TimeDelta::minutes(30), public_url: None }
    }

    fn pair(cookie: &NewCookie) -> String {
        format!("{}={}", cookie.name, cookie.value)
    }

    #[test]
    fn only_what_was_sealed_here_opens() {
        let seen = Seen { session: session(), at: at(0) };
        let sealed = seen.seal(&KEY).unwrap();
        assert_eq!(Seen::open(&sealed, &KEY), Some(seen));
        assert_eq!(Seen::open(&sealed, &[4; 32]), None);
        for index in 0..sealed.len() {
            let mut bytes = sealed.clone().into_bytes();
            bytes[index] = if bytes[index] == b'1' { b'2' } else { b'1' };
            assert_eq!(Seen::open(&String::from_utf8(bytes).unwrap(), &KEY), None, "byte {index}");
        }
        for odd in ["", ".", "..", "a.b.c"] {
            assert_eq!(Seen::open(odd, &KEY), None, "{odd}");
        }
    }

    #[test]
    fn a_browser_that_is_left_alone_is_signed_out() {
        let (browsers, keys) = (plain(), SigningKeys::from_seed(&[7; 32]).unwrap());
        let cookie = browsers.cookie(&keys, session(), at(0)).unwrap();
        let request = TestRequest::get().insert_header((header::COOKIE, pair(&cookie))).to_http_request();
        assert_eq!(browsers.session(&request, &keys, at(1800)).unwrap().session, session());
        assert_eq!(browsers.session(&request, &keys, at(1801)).unwrap_err().code().status(), 401);
        assert!(BrowserSessions::is_due(Seen { session: session(), at: at(0) }, at(61)));
    }

    #[test]
    fn changes_come_from_our_own_pages() {
        let (browsers, keys) = (plain(), SigningKeys::from_seed(&[7; 32]).unwrap());
        let https = BrowserSessions {
            mode: CookieMode::Https,
            public_url: Some("https://tools.example".to_owned()),
            ..plain()
        };
        let ask = |browsers: &BrowserSessions, origin: Option<&str>| {
            let cookie = browsers.cookie(&keys, session(), at(0)).unwrap();
            let mut request = TestRequest::post()
                .insert_header((header::COOKIE, pair(&cookie)))
                .insert_header((header::HOST, "crib:8080"));
            if let Some(origin) = origin {
                request = request.insert_header((header::ORIGIN, origin));
            }
            browsers.session(&request.to_http_request(), &keys, at(1)).map_err(|problem| problem.code().status())
        };
        assert!(ask(&browsers, Some("http://crib:8080")).is_ok());
        for foreign in [None, Some("null"), Some("http://crib"), Some("https://crib:8080"), Some("http://evil:8080")] {
            assert_eq!(ask(&browsers, foreign).unwrap_err(), 403, "{foreign:?}");
        }
        assert!(ask(&https, Some("https://tools.example")).is_ok());
        assert_eq!(ask(&https, Some("http://crib:8080")).unwrap_err(), 403);
    }

    #[test]
    fn the_cookie_is_for_this_server_alone() {
        let keys = SigningKeys::from_seed(&[7; 32]).unwrap();
        let https = BrowserSessions { mode: CookieMode::Https, ..plain() };
        let cookie = https.cookie(&keys, session(), at(0)).unwrap();
        assert!(cookie.name == "__Host-dovetally" && cookie.secure);
        let cookie = plain().cookie(&keys, session(), at(0)).unwrap();
        assert!(cookie.name == "dovetally_session" && !cookie.secure);
        assert_eq!(plain().no_cookie().age, TimeDelta::zero());
    }
}
