//! The shop's choices for the control of its gauges.

use crate::{
    app::{
        perform::Done,
        registry::{faulty, write_change},
    },
    conditional::{ETag, answer_read},
    extract::{IfNoneMatch, MergePatch, WriteOptions},
    principal::{Administer, Guarded, Read},
    problem::Problem,
    transport::gauge_control::GaugeControlBody,
};
use actix_web::HttpResponse;
use dovetally_db::gauge_control;
use uuid::Uuid;

/// There is one set of choices: it needs no id of its own in the chain of changes.
const SUBJECT: Uuid = Uuid::nil();

/// Reads the choices.
///
/// # Errors
/// A database error.
pub async fn get(guarded: &Guarded<Read>, condition: &IfNoneMatch) -> Result<HttpResponse, Problem> {
    let (control, _) = guarded.database().read(|connection| Ok::<_, Problem>(gauge_control::find(connection)?)).await?;
    answer_read(&GaugeControlBody::from(control), condition)
}

/// Changes the choices by a merge patch.
///
/// # Errors
/// 412 when they have changed meanwhile, 422 for what cannot be, 428 without `If-Match`.
pub async fn change(
    guarded: &Guarded<Administer>,
    options: &WriteOptions,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    let condition = options.required_match()?.clone();
    let body = patch.bytes().to_vec();
    guarded
        .perform(options, &body, move |tx, who| {
            gauge_control::lock(tx.connection())?;
            let (before, version) = gauge_control::find(tx.connection())?;
            let form = GaugeControlBody::from(before);
            condition.check(Some(&ETag::of_resource(&form)?))?;
            let wanted: GaugeControlBody = patch.applied_to(&form)?;
            let control = wanted.control().map_err(faulty)?;
            if control == before {
                return Done::ok(&wanted);
            }
            let (version, now) = (version + 1, tx.now());
            gauge_control::save(tx.connection(), control, version, now)?;
            let state = serde_json::to_value(&wanted).map_err(Problem::internal)?;
            write_change(tx, who, "gauge_control", "dovetally.gauge_control.changed", SUBJECT, version, state);
            Done::ok(&wanted)
        })
        .await
}
