//! Whether the records are what was recorded, for whoever may ask.

use crate::{
    conditional::answer_fresh,
    principal::{Audit, Guarded},
    problem::Problem,
    transport::movement::VerificationView,
};
use actix_web::HttpResponse;

/// Walks the chain of changes, and holds custody, the ledger and the machines' guards against it.
///
/// # Errors
/// A database error; what does not fit is a finding.
pub async fn verify(guarded: &Guarded<Audit>) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let database = guarded.database().clone();
    // A long walk: not on the thread that answers others.
    let walk = move || {
        database.read_blocking(move |connection| {
            let found = dovetally_db::verify(connection, now)?;
            Ok::<_, Problem>(VerificationView {
                sound: found.faults.is_empty(),
                changes: found.changes,
                chain_hash: found.chain_hash,
                faults: found.faults,
            })
        })
    };
    let view = actix_web::web::block(walk).await.map_err(Problem::internal)??;
    Ok(answer_fresh(&view))
}
