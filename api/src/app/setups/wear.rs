//! How sizes drift in a setup.

use super::load::load;
use crate::{
    conditional::answer_fresh,
    principal::{Guarded, Read},
    problem::Problem,
    transport::wear::{WearQuestion, WearView},
};
use actix_web::HttpResponse;
use dovetally_core::{
    ids::SetupId,
    setup::wear::{Question, wear as drift},
};
use dovetally_db::setups;

/// Tells the drift of every feature that was measured since its station was last set.
///
/// # Errors
/// 404 when there is no such setup.
pub async fn wear(guarded: &Guarded<Read>, id: SetupId, question: WearQuestion) -> Result<HttpResponse, Problem> {
    let view = guarded
        .database()
        .read(move |connection| {
            let loaded = load(connection, id)?;
            let past = setups::past_runs(connection, &loaded.row)?;
            let told = drift(&loaded.setup, &loaded.events, Question { until: question.until, past });
            Ok::<_, Problem>(WearView::of(id.uuid(), question.until, told))
        })
        .await?;
    Ok(answer_fresh(&view))
}
