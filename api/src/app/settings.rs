//! The shop's settings.

use crate::{
    app::{
        perform::Done,
        registry::{no_faults, write_change},
    },
    conditional::{ETag, answer_read},
    extract::{IfNoneMatch, MergePatch, WriteOptions},
    principal::{Administer, Guarded, Read},
    problem::Problem,
    transport::settings::SettingsBody,
};
use actix_web::HttpResponse;
use dovetally_core::{
    field_error::FieldError,
    length::{Length, LengthUnit},
    setup::plan::Settings,
};
use dovetally_db::settings;
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
    let (settings, _) = guarded.database().read(|connection| Ok::<_, Problem>(settings::find(connection)?)).await?;
    answer_read(&SettingsBody::from(&settings), condition)
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
            settings::lock(tx.connection())?;
            let (before, version) = settings::find(tx.connection())?;
            let before = SettingsBody::from(&before);
            let tag = ETag::of_resource(&before)?;
            condition.check(Some(&tag))?;
            let wanted: SettingsBody = patch.applied_to(&before)?;
            if wanted.height_limit.picometres() <= 0 {
                return Err(Problem::field("/height_limit", "must be above zero"));
            }
            if wanted.height_limit > MOST_HEIGHT_LIMIT {
                return Err(Problem::field("/height_limit", "must be at most 1 mm: beyond it, a height tells nothing"));
            }
            if let Some(provisional) = Settings::from(&wanted).provisional_release {
                let faults = provisional
                    .check()
                    .into_iter()
                    .map(|fault| FieldError { pointer: format!("/provisional_release{}", fault.pointer), ..fault });
                no_faults(faults.collect())?;
            }
            // Not by comparing lengths: the same limit in the other unit is a change that people see.
            if ETag::of_resource(&wanted)? == tag {
                return Done::ok(&wanted);
            }
            let (version, now) = (version + 1, tx.now());
            settings::save(tx.connection(), &Settings::from(&wanted), version, now)?;
            let state = serde_json::to_value(&wanted).map_err(Problem::internal)?;
            write_change(tx, who, "shop_settings", "dovetally.shop_settings.changed", SUBJECT, version, state);
            Done::ok(&wanted)
        })
        .await
}
