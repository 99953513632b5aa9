//! How sizes drift in a setup.

use super::load::{Loaded, load};
use crate::{
    conditional::answer_fresh,
    principal::{Guarded, Read},
    problem::Problem,
    transport::wear::{WearQuestion, WearView},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    ids::SetupId,
    setup::wear::{Question, wear as drift},
};
use dovetally_db::{Connection, setups};

/// Tells the drift of every feature that was measured since its station was last set.
///
/// # Errors
/// 404 when there is no such setup.
pub async fn wear(guarded: &Guarded<Read>, id: SetupId, question: WearQuestion) -> Result<HttpResponse, Problem> {
    let view = guarded
        .database()
        .read(move |connection| {
            let loaded = load(connection, id)?;
            wear_of(connection, &loaded, question.until)
        })
        .await?;
    Ok(answer_fresh(&view))
}

/// The same of a setup that is at hand.
///
/// # Errors
/// A database error.
pub(crate) fn wear_of(
    connection: &mut Connection,
    loaded: &Loaded,
    until: Option<DateTime<Utc>>,
) -> Result<WearView, Problem> {
    let past = setups::past_runs(connection, &loaded.row)?;
    let told = drift(&loaded.setup, &loaded.events, Question { until, past });
    Ok(WearView::of(loaded.row.id.uuid(), until, told))
}
