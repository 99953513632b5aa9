//! Cookies as we use them: values that need no quoting, for this host and every path (RFC 6265).

use actix_web::{
    HttpRequest,
    http::header::{self, HeaderValue},
};
use chrono::TimeDelta;

/// A request's cookie of this name. One that is sent twice is none: a neighbour on this host may have set the other.
#[must_use]
pub fn read<'r>(request: &'r HttpRequest, name: &str) -> Option<&'r str> {
    let lines = request.headers().get_all(header::COOKIE).filter_map(|line| line.to_str().ok());
    let pairs = lines.flat_map(|line| line.split(';')).filter_map(|pair| pair.trim().split_once('='));
    let mut values = pairs.filter(|(found, _)| *found == name).map(|(_, value)| value);
    match (values.next(), values.next()) {
        (Some(value), None) => Some(value),
        _ => None,
    }
}

/// A cookie to be set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewCookie {
    /// Its name.
    pub name: &'static str,
    /// Its value, of characters that stand in a cookie as they are; any other is left out.
    pub value: String,
    /// For how long the browser keeps it; zero takes it away.
    pub age: TimeDelta,
    /// Whether it travels over HTTPS alone.
    pub secure: bool,
}

impl NewCookie {
    /// As the value of `Set-Cookie`. No script reads it, and no other site's page sends it.
    #[must_use]
    pub fn header(&self) -> HeaderValue {
        let plain = |c: &char| c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_' | '~' | ':');
        let value: String = self.value.chars().filter(plain).collect();
        let secure = if self.secure { "; Secure" } else { "" };
        let line = format!(
            "{}={value}; Path=/; Max-Age={}; HttpOnly; SameSite=Strict{secure}",
            self.name,
            self.age.num_seconds().max(0)
        );
        // Nothing in the line can be refused: the fallback keeps a panic out.
        HeaderValue::try_from(line).unwrap_or_else(|_| HeaderValue::from_static(""))
    }
}

#[cfg(test)]
mod tests {
    use super::{NewCookie, read};
    use actix_web::{http::header, test::TestRequest};
    use chrono::TimeDelta;

    #[test]
    fn cookies_are_read_by_their_whole_name_and_once() {
        let request = TestRequest::get()
            .insert_header((header::COOKIE, "xa=1; a=2;b=3"))
            .append_header((header::COOKIE, "c=4; b=5"))
            .to_http_request();
        assert_eq!(read(&request, "a"), Some("2"));
        assert_eq!(read(&request, "c"), Some("4"));
        assert_eq!(read(&request, "b"), None);
        assert_eq!(read(&request, "d"), None);
    }

    #[test]
    fn a_value_cannot_add_attributes() {
        let cookie =
            NewCookie { name: "n", value: "a; Domain=x\r\ny".into(), age: TimeDelta::seconds(9), secure: true };
        assert_eq!(cookie.header(), "n=aDomainxy; Path=/; Max-Age=9; HttpOnly; SameSite=Strict; Secure");
    }
}
