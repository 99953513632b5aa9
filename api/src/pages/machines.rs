//! Every machine as it stands, those that need somebody first; the list follows the records while it is open.

use super::{
    floor::ShownMachine,
    frame::{Frame, go_to, page},
    visit::Visit,
    wording::section,
};
use crate::{app::floor::as_it_stands, principal::Read, problem::Problem};
use actix_web::{HttpRequest, HttpResponse, http::header};
use askama::Template;
use chrono::{DateTime, Utc};
use dovetally_db::chain;

section! {
    /// The list of machines, and what pages say of being live.
    MachinesWords { title, none, open, refresh, as_of, live, not_live, sign_in }
}

/// Seconds after which a page that is told to come again may try.
const COME_AGAIN: u64 = 30;

#[derive(Template)]
#[template(path = "pages/machines.html")]
struct MachinesPage<'p> {
    frame: &'p Frame,
    machines: Vec<ShownMachine<'p>>,
    sequence: i64,
    now: DateTime<Utc>,
}

/// Shows it.
///
/// # Errors
/// A database error.
pub async fn show(visit: Visit<Read>) -> Result<HttpResponse, Problem> {
    let now = visit.guarded.database().now();
    let (floor, sequence) = visit
        .read(move |connection| {
            // In this order: what was committed in between is told again, never missed.
            let sequence = chain::head(connection)?.sequence;
            Ok((as_it_stands(connection, now)?, sequence))
        })
        .await?;
    let frame = &visit.frame;
    let machines = floor.machines.iter().map(|stands| ShownMachine::of(frame, stands, now.date_naive())).collect();
    page(&MachinesPage { frame, machines, sequence, now })
}

/// Streams the number of the last change to a page that is open.
///
/// # Errors
/// 503 when too many listen, or the server stops.
pub async fn changes(visit: Visit<Read>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let accept = request.headers().get(header::ACCEPT).and_then(|value| value.to_str().ok()).unwrap_or_default();
    if !accept.contains("text/event-stream") {
        // For whoever follows the address by hand.
        return Ok(go_to("/machines"));
    }
    let sequence = visit.read(|connection| Ok(chain::head(connection)?.sequence)).await?;
    let live = visit.guarded.service().live();
    let events = live.listen(visit.who().session, sequence).map_err(|_| Problem::busy(COME_AGAIN))?;
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, "text/event-stream"))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        // A proxy in between hands each event on as it comes.
        .insert_header(("X-Accel-Buffering", "no"))
        .body(events))
}
