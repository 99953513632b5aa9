//! The shop's settings on the wire.

use super::schema::{HolderMoveRecheckSchema, LengthSchema};
use dovetally_core::{
    length::Length,
    setup::plan::{HolderMoveRecheck, Settings},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The shop's choices that bear on setups. A setup keeps those with which it was opened.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ShopSettings, example = json!({
    "first_piece_by_another_person": true, "first_piece_from_every_spindle": false,
    "recheck_after_holder_move": "advised", "height_limit": {"value": 0.002, "unit": "in"}
}))]
pub struct SettingsBody {
    /// Whether a first piece is judged by somebody who recorded nothing in the setup.
    pub first_piece_by_another_person: bool,
    /// Whether a piece from every running spindle is judged.
    pub first_piece_from_every_spindle: bool,
    /// What a taper or side-screw adjustment asks of the height after clamping.
    #[schema(value_type = HolderMoveRecheckSchema)]
    pub recheck_after_holder_move: HolderMoveRecheck,
    /// How far the edge may lie from the gauge, either way, limits included. Above zero.
    #[schema(value_type = LengthSchema)]
    pub height_limit: Length,
}

impl From<&Settings> for SettingsBody {
    fn from(settings: &Settings) -> Self {
        Self {
            first_piece_by_another_person: settings.first_piece_by_another_person,
            first_piece_from_every_spindle: settings.first_piece_from_every_spindle,
            recheck_after_holder_move: settings.recheck_after_holder_move,
            height_limit: settings.height_limit,
        }
    }
}

impl From<&SettingsBody> for Settings {
    fn from(body: &SettingsBody) -> Self {
        Self {
            first_piece_by_another_person: body.first_piece_by_another_person,
            first_piece_from_every_spindle: body.first_piece_from_every_spindle,
            recheck_after_holder_move: body.recheck_after_holder_move,
            height_limit: body.height_limit,
        }
    }
}
