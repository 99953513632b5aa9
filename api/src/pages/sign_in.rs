//! Signing in by badge and secret, changing the person at a shared screen, and what the screen is like.

use super::{
    frame::{Frame, go_to, page, page_with},
    numbers::{DayStyle, DecimalMark},
    preferences::Look,
    visit::{Faults, Sent, Visit},
    wording::{Language, section},
};
use crate::{
    app::sign_in as app,
    browser::CookieMode,
    open::Open,
    principal::Read,
    problem::{Notice, Problem, ProblemCode},
    transport::auth::Credentials,
};
use actix_web::{
    HttpRequest, HttpResponse,
    http::{StatusCode, header},
    web::Query,
};
use askama::Template;
use chrono::NaiveDate;
use dovetally_core::length::LengthUnit;
use serde::Deserialize;

section! {
    /// Signing in.
    SignInWords {
        title, lead, badge, secret, go, refused, slow_down, badge_missing, secret_missing, off_title, off, off_how, now, stays,
        settings, language, look, look_system, look_light, look_dark, mark, mark_point, mark_comma, days, unit, prefix, gap,
        fewest, choice_odd
    }
}

/// Where to go after signing in, and whose badge was scanned.
#[derive(Debug, Default, Deserialize)]
pub struct Asked {
    #[serde(default, rename = "return")]
    back: String,
    #[serde(default)]
    badge: String,
}

/// Badge and secret as they were typed.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Typed {
    badge: String,
    secret: String,
    #[serde(rename = "return")]
    back: String,
}

#[derive(Template)]
#[template(path = "pages/sign_in.html")]
struct SignInPage<'p> {
    frame: &'p Frame,
    off: bool,
    back: &'p str,
    badge: &'p str,
    faults: Faults,
}

impl SignInPage<'_> {
    /// A day whose numbers cannot be taken for each other.
    fn example_day(&self) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 11, 25).unwrap_or_default()
    }
}

/// The address of this page, from where it leads back to another of our own.
#[must_use]
pub fn address(back: &str) -> String {
    match serde_urlencoded::to_string([("return", own(back))]) {
        Ok(query) => format!("/sign-in?{query}"),
        Err(_) => "/sign-in".to_owned(),
    }
}

/// An address of ours: nothing else is ever gone to.
fn own(back: &str) -> &str {
    let inside = back.starts_with('/') && !back.starts_with("//") && !back.contains(['\\', '\r', '\n']);
    // Not back to signing in, which is where one comes from.
    if inside && !back.starts_with("/sign-") { back } else { "/" }
}

/// Shows the form.
///
/// # Errors
/// 500 when the template fails.
pub async fn show(open: Open, request: HttpRequest, asked: Query<Asked>) -> Result<HttpResponse, Problem> {
    let off = open.service().browsers().mode == CookieMode::Off;
    let (back, badge) = (own(&asked.back), asked.badge.as_str());
    page(&SignInPage { frame: &Frame::of(&request), off, back, badge, faults: Faults::default() })
}

/// Signs a person in; whoever was signed in at this browser is signed out.
///
/// # Errors
/// 403 from another site's page, 503 while the server is busy. A refusal is shown on the form.
pub async fn sign_in(open: Open, request: HttpRequest, sent: Sent<Typed>) -> Result<HttpResponse, Problem> {
    let service = open.service();
    let frame = Frame::of(&request);
    let words = &frame.words.sign_in;
    let Typed { badge, secret, back } = sent.form;
    let mut faults = Faults::default();
    if badge.trim().is_empty() {
        faults.add("badge", &words.badge_missing);
    }
    if secret.is_empty() {
        faults.add("secret", &words.secret_missing);
    }
    let off = service.browsers().mode == CookieMode::Off;
    let mut status = StatusCode::UNPROCESSABLE_ENTITY;
    if faults.is_empty() && !off {
        let credentials = Credentials { badge: badge.trim().to_owned(), secret };
        let address = request.peer_addr().map(|peer| peer.ip());
        match app::begin(service, address, credentials).await {
            Ok((session, _, _)) => {
                if let Some(before) = &frame.who {
                    app::end_session(service, before.session).await?;
                }
                let cookie = service.browsers().cookie(service.keys(), session.id, service.database().now())?;
                let mut answer = go_to(own(&back));
                answer.headers_mut().append(header::SET_COOKIE, cookie.header());
                return Ok(answer);
            }
            Err(problem) => {
                match problem.code() {
                    ProblemCode::SignInRefused => faults.add("badge", &words.refused),
                    ProblemCode::TooManyRequests => {
                        faults.add("badge", words.slow_down.with("seconds", wait(&problem)));
                    }
                    _ => return Err(problem),
                }
                status = StatusCode::from_u16(problem.code().status()).unwrap_or(status);
            }
        }
    }
    page_with(status, &SignInPage { frame: &frame, off, back: own(&back), badge: &badge, faults })
}

/// The seconds after which another attempt makes sense.
fn wait(problem: &Problem) -> u64 {
    let seconds = |notice: &Notice| if let Notice::RetryAfter(seconds) = notice { Some(*seconds) } else { None };
    problem.parts().notices.iter().find_map(seconds).unwrap_or(1)
}

/// Nothing but a key.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Nothing {}

/// Signs out.
///
/// # Errors
/// A database error.
pub async fn sign_out(visit: Visit<Read>, _: Sent<Nothing>) -> Result<HttpResponse, Problem> {
    app::end(&visit.guarded).await?;
    let mut answer = go_to("/sign-in");
    answer.headers_mut().append(header::SET_COOKIE, visit.guarded.service().browsers().no_cookie().header());
    Ok(answer)
}

/// What the screen is to be like.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Choice {
    language: String,
    look: String,
    mark: String,
    days: String,
    unit: String,
    prefix: String,
    gap: String,
    fewest: String,
    #[serde(rename = "return")]
    back: String,
}

/// Keeps what the screen is to be like.
///
/// # Errors
/// 422 for a choice that there is not.
pub async fn choose(open: Open, request: HttpRequest, sent: Sent<Choice>) -> Result<HttpResponse, Problem> {
    let frame = Frame::of(&request);
    let mut preferences = frame.preferences.clone();
    let choice = sent.form;
    let prefix = choice.prefix.chars().next().map(|c| u32::from(c).to_string()).unwrap_or_default();
    for (name, value) in [
        ("language", &choice.language),
        ("look", &choice.look),
        ("mark", &choice.mark),
        ("days", &choice.days),
        ("unit", &choice.unit),
        ("prefix", &prefix),
        ("gap", &choice.gap),
        ("fewest", &choice.fewest),
    ] {
        if !preferences.choose(name, value.trim()) {
            return Err(Problem::field(
                format!("/{name}"),
                frame.words.sign_in.choice_odd.with("name", value).to_string(),
            ));
        }
    }
    let secure = open.service().browsers().mode == CookieMode::Https;
    let mut answer = go_to(&address(&choice.back));
    answer.headers_mut().append(header::SET_COOKIE, preferences.cookie(secure).header());
    Ok(answer)
}

#[cfg(test)]
mod tests {
    use super::{address, own};

    #[test]
    fn nobody_is_led_to_another_server() {
        assert_eq!(own("/counter?x=1"), "/counter?x=1");
        for elsewhere in
            ["", "counter", "//evil", "/\\evil", "https://evil", "/a\r\nb", "/sign-in?return=/", "/sign-out"]
        {
            assert_eq!(own(elsewhere), "/", "{elsewhere}");
        }
        assert_eq!(address("/items/A?b=c&d"), "/sign-in?return=%2Fitems%2FA%3Fb%3Dc%26d");
    }
}
