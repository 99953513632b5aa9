//! What goes wrong, as a page: for browsers that asked for one, and apart from the API, which answers documents.

use super::frame::{Frame, go_to, page_with};
use crate::{
    principal::Principal,
    problem::{ASKS_FOR, NOTHING_HERE, Problem, ProblemCode},
    trace,
};
use actix_web::{
    Error, HttpMessage, HttpRequest, HttpResponse,
    body::{EitherBody, MessageBody},
    dev::{ServiceRequest, ServiceResponse},
    http::{Method, StatusCode, header},
    middleware::Next,
};
use askama::Template;

super::wording::section! {
    /// What went wrong.
    ProblemWords { detail_prefix, trace, to_start, to_sign_in, nothing_here, not_allowed }
}

/// The page of a problem.
#[derive(Template)]
#[template(path = "pages/problem.html")]
struct ProblemPage<'p> {
    frame: &'p Frame,
    title: String,
    detail: String,
    refusals: Vec<super::wording::ToldRefusal>,
    trace: String,
    sign_in: bool,
}

/// Whoever was let in, for the page of what went wrong afterwards.
struct Visitor(Principal);

/// Notes whoever was let in.
pub(super) fn remember(request: &HttpRequest, who: &Principal) {
    request.extensions_mut().insert(Visitor(who.clone()));
}

/// The middleware, for `App::wrap(from_fn(problems_as_pages))`: shows a problem as a page to whoever asked for a page, and
/// leads whoever is not signed in to the page where they do.
///
/// # Errors
/// Only what the inner service raised.
pub async fn problems_as_pages<B: MessageBody + 'static>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<EitherBody<B>>, Error> {
    let path = request.path();
    let documents = ["/v1/", "/.well-known/", "/problems/"].iter().any(|prefix| path.starts_with(prefix));
    let accept = request.headers().get(header::ACCEPT).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let wanted = !documents && accept.contains("text/html");
    let response = next.call(request).await?;
    if !wanted {
        return Ok(response.map_into_left_body());
    }
    let shown = response
        .response()
        .error()
        .and_then(|error| error.as_error::<Problem>())
        .map(|problem| shown(&response, problem).unwrap_or_else(|failed| crate::problem::render(&failed)));
    Ok(match shown {
        Some(page) => response.into_response(page).map_into_right_body(),
        None => response.map_into_left_body(),
    })
}

/// What happened, and what to do about it where the API's words are for programs.
fn detail(frame: &Frame, problem: &Problem) -> String {
    let (said, words) = (&problem.parts().detail, &frame.words.problem);
    match problem.code() {
        ProblemCode::NotFound if said == NOTHING_HERE => words.nothing_here.to_string(),
        ProblemCode::Forbidden if said.starts_with(ASKS_FOR) => words.not_allowed.to_string(),
        _ => frame.told(said),
    }
}

fn shown<B>(response: &ServiceResponse<B>, problem: &Problem) -> Result<HttpResponse, Problem> {
    let request = response.request();
    let mut frame = Frame::of(request);
    if let Some(visitor) = request.extensions().get::<Visitor>() {
        frame.who = Some(visitor.0.clone());
    }
    let signed_out = problem.code() == ProblemCode::Unauthenticated;
    if signed_out && request.method() == Method::GET {
        return Ok(go_to(&frame.sign_in()));
    }
    let status = StatusCode::from_u16(problem.code().status()).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    let template = ProblemPage {
        title: frame.told(problem.code().title()),
        detail: detail(&frame, problem),
        refusals: frame.refusals(problem.refused_by()),
        trace: trace::current().to_string(),
        sign_in: signed_out,
        frame: &frame,
    };
    let mut page = page_with(status, &template)?;
    // What goes with the status goes with the page too: when to come again, what an address takes.
    for name in [header::RETRY_AFTER, header::ALLOW, header::WWW_AUTHENTICATE] {
        if let Some(value) = response.headers().get(&name) {
            page.headers_mut().insert(name, value.clone());
        }
    }
    Ok(page)
}
