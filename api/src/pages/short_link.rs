//! What a scanned code leads to: `/s/{code}` stands on labels, and the scan box of most pages leads there.
//!
//! It only ever shows: what is done with a thing is done on its page. To whoever works on a setup an item that one of its
//! steps waits for is offered there; an item that is in a setup leads to its station there, whoever set what up last.

use super::{frame::go_to, setup, visit::Visit};
use crate::{
    app::facts::{code_of, in_setup},
    principal::Read,
    problem::Problem,
};
use actix_web::{
    HttpResponse,
    web::{Path, Query},
};
use dovetally_core::{
    code::Code,
    ids::{ItemId, SetupId},
    people::Permission,
};
use dovetally_db::{codes, codes::CodeSubject, people, setups};
use serde::Deserialize;

/// What was scanned or typed into a box.
#[derive(Debug, Deserialize)]
pub struct Typed {
    #[serde(default)]
    code: String,
    /// The setup on whose page the box is.
    #[serde(default)]
    setup: String,
}

/// From the scan box.
///
/// # Errors
/// A database error.
pub async fn typed(visit: Visit<Read>, typed: Query<Typed>) -> Result<HttpResponse, Problem> {
    let Typed { code, setup } = typed.into_inner();
    lead(visit, code, setup.parse().ok()).await
}

/// From a label.
///
/// # Errors
/// A database error.
pub async fn scanned(visit: Visit<Read>, code: Path<String>) -> Result<HttpResponse, Problem> {
    lead(visit, code.into_inner(), None).await
}

/// Leads to the step of a setup that waits for what a text names, or to its page; to the search where it names nothing.
async fn lead(visit: Visit<Read>, text: String, here: Option<SetupId>) -> Result<HttpResponse, Problem> {
    let code = code_of(&text).to_owned();
    let wanted = code.clone();
    let (who, now) = (visit.who().clone(), visit.guarded.database().now());
    let (subject, badge, offer) = visit
        .read(move |connection| {
            let parsed = Code::parse(&wanted).ok();
            let subject = parsed.as_ref().map(|code| codes::find(connection, code)).transpose()?.flatten();
            let badge = people::find_by_badge(connection, &wanted)?.is_some();
            let (Some((CodeSubject::Item, id)), Some(code)) = (&subject, &parsed) else {
                return Ok((subject, badge, None));
            };
            let place = in_setup(connection, ItemId::from_uuid(*id))?.filter(|_| who.may(Permission::RecordSetup));
            let setup = match (here, &place) {
                (Some(setup), _) => Some(setup),
                (None, Some(place)) => Some(place.setup),
                (None, None) => setups::worked_on_last(connection, who.person)?,
            };
            let mut offer: Option<String> =
                setup.map(|setup| setup::offer::offer_for(connection, setup, &who, code, now)).transpose()?.flatten();
            // On a setup's own page what no step waits for is looked up.
            if here.is_none() {
                offer = offer.or(place.map(|place| format!("/setups/{}/{}", place.setup, place.station)));
            }
            Ok((subject, badge, offer))
        })
        .await?;
    if let Some(address) = offer {
        return Ok(go_to(&address));
    }
    let encoded = |name: &str| serde_urlencoded::to_string([(name, &code)]).map_err(Problem::internal);
    Ok(match subject {
        Some((CodeSubject::Item, _)) => go_to(&format!("/items/{}", code.to_ascii_uppercase())),
        Some((CodeSubject::Machine, _)) => go_to(&format!("/machines/{}", code.to_ascii_uppercase())),
        Some((CodeSubject::Job, _)) => go_to(&format!("/jobs/{}", code.to_ascii_uppercase())),
        Some((CodeSubject::Supply, _)) => go_to(&format!("/supplies/{}", code.to_ascii_uppercase())),
        Some((CodeSubject::ToolDesign, _)) => go_to(&format!("/tool-life/{}", code.to_ascii_uppercase())),
        // A badge at a page that asks for none is somebody who wants to sign in.
        None if badge => go_to(&format!("/sign-in?{}", encoded("badge")?)),
        _ => go_to(&format!("/find?{}", encoded("text")?)),
    })
}
