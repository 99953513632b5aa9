//! The shop's settings.

use crate::{
    app::{
        perform::Done,
        registry::{no_faults, write_change},
    },
    conditional::{ETag, answer_read},
    extract::{IfMatch, IfNoneMatch, MergePatch, WriteOptions},
    principal::{Administer, Guarded, Principal, Read},
    problem::Problem,
    transport::settings::SettingsBody,
};
use actix_web::HttpResponse;
use dovetally_core::{
    field_error::FieldError,
    length::{Length, LengthUnit},
    setup::plan::Settings,
};
use dovetally_db::{Connection, Tx, settings};
use uuid::Uuid;

/// The most that a shop may call a height within its limit.
const MOST_HEIGHT_LIMIT: Length = Length::from_picometres(1_000_000_000, LengthUnit::Millimetre);

/// There is one set of settings: it needs no id of its own in the chain of changes.
const SUBJECT: Uuid = Uuid::nil();

/// Reads the settings.
///
/// # Errors
/// A database error.
pub async fn get(guarded: &Guarded<Read>, condition: &IfNoneMatch) -> Result<HttpResponse, Problem> {
    let settings = guarded.database().read(read).await?;
    answer_read(&settings, condition)
}

/// Changes the settings by a merge patch.
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
            let before = matching(tx, &condition)?;
            let wanted: SettingsBody = patch.applied_to(&before)?;
            set_in(tx, who, &wanted)
        })
        .await
}

/// Writes settings over those that the caller has seen, inside a transaction.
pub(crate) fn replace_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    condition: &IfMatch,
    wanted: &SettingsBody,
) -> Result<Done, Problem> {
    matching(tx, condition)?;
    set_in(tx, who, wanted)
}

/// The settings as they are, taken for this transaction, if they are those that the caller has seen.
fn matching(tx: &mut Tx<'_>, condition: &IfMatch) -> Result<SettingsBody, Problem> {
    settings::lock(tx.connection())?;
    let before = read(tx.connection())?;
    condition.check(Some(&ETag::of_resource(&before)?))?;
    Ok(before)
}

/// The settings in force.
///
/// # Errors
/// A database error.
pub(crate) fn read(connection: &mut Connection) -> Result<SettingsBody, Problem> {
    let (settings, _) = settings::find(connection)?;
    Ok(SettingsBody::from(&settings))
}

/// Writes settings inside a transaction.
pub(crate) fn set_in(tx: &mut Tx<'_>, who: &Principal, wanted: &SettingsBody) -> Result<Done, Problem> {
    settings::lock(tx.connection())?;
    let (before, version) = settings::find(tx.connection())?;
    if wanted.height_limit.picometres() <= 0 {
        return Err(Problem::field("/height_limit", "must be above zero"));
    }
    if wanted.height_limit > MOST_HEIGHT_LIMIT {
        return Err(Problem::field("/height_limit", "must be at most 1 mm: beyond it, a height tells nothing"));
    }
    if let Some(provisional) = Settings::from(wanted).provisional_release {
        let faults = provisional
            .check()
            .into_iter()
            .map(|fault| FieldError { pointer: format!("/provisional_release{}", fault.pointer), ..fault });
        no_faults(faults.collect())?;
    }
    // Not by comparing lengths: the same limit in the other unit is a change that people see.
    if ETag::of_resource(wanted)? == ETag::of_resource(&SettingsBody::from(&before))? {
        return Done::ok(wanted);
    }
    let (version, now) = (version + 1, tx.now());
    settings::save(tx.connection(), &Settings::from(wanted), version, now)?;
    let state = serde_json::to_value(wanted).map_err(Problem::internal)?;
    write_change(tx, who, "shop_settings", "dovetally.shop_settings.changed", SUBJECT, version, state);
    Done::ok(wanted)
}
