//! The shop's settings.

use crate::{
    app::settings,
    extract::{IfNoneMatch, MergePatch, NoFields, Query, WriteOptions},
    principal::{Administer, Guarded, Read},
    problem::Problem,
    transport::settings::SettingsBody,
};
use actix_web::{HttpResponse, get, patch};

/// Reads the shop's settings
#[utoipa::path(tag = "settings", security(("bearer" = ["read"])),
    params(("If-None-Match" = Option<String>, Header, description = "The ETag the caller has: if it still holds, 304.")),
    responses(
        (status = 200, description = "The settings in force", body = SettingsBody,
            headers(("ETag" = String, description = "The version of the settings, for If-Match and If-None-Match."))),
        (status = 304, description = "The caller has this version."),
    ))]
#[get("/v1/settings")]
async fn get_settings(
    guarded: Guarded<Read>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    settings::get(&guarded, &condition).await
}

/// Changes the shop's settings
///
/// Setups that are open keep the settings with which they were opened.
#[utoipa::path(tag = "settings", security(("bearer" = ["administer"])),
    request_body(content = SettingsBody, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396)"),
    responses((status = 200, description = "The settings as they are now", body = SettingsBody)))]
#[patch("/v1/settings")]
async fn change_settings(
    guarded: Guarded<Administer>,
    options: WriteOptions,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    settings::change(&guarded, &options, patch).await
}

/// The routes of the settings.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(get_settings).service(change_settings);
}
