//! The shop's settings on the wire.

use super::schema::{HolderMoveRecheckSchema, LengthSchema};
use dovetally_core::{
    length::Length,
    setup::plan::{HolderMoveRecheck, ProvisionalRelease, Settings},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// How far a release may go that rests on a second setter's judgement of the first piece, until an inspector comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ProvisionalRelease, example = json!({"most_pieces": 2000, "most_minutes": 480}))]
pub struct ProvisionalReleaseBody {
    /// So many pieces from the release.
    #[schema(minimum = 1, maximum = 1_000_000)]
    pub most_pieces: u64,
    /// So many minutes from the release, at most a day.
    #[schema(minimum = 1, maximum = 1440)]
    pub most_minutes: u32,
}

/// The shop's choices that bear on setups. A setup keeps those with which it was opened.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ShopSettings, example = json!({
    "first_piece_by_another_person": true, "first_piece_from_every_spindle": false,
    "recheck_after_holder_move": "advised", "height_limit": {"value": 0.002, "unit": "in"},
    "provisional_release": null
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
    /// When set: a first piece that no inspector judges may be accepted by a second setter, who recorded nothing in the
    /// setup. The release that rests on it is limited, and what it makes is held until an inspector judged it. Null: it
    /// is not known, and a first piece counts alike whoever judged it.
    #[serde(default)]
    pub provisional_release: Option<ProvisionalReleaseBody>,
}

impl From<ProvisionalRelease> for ProvisionalReleaseBody {
    fn from(ProvisionalRelease { most_pieces, most_minutes }: ProvisionalRelease) -> Self {
        Self { most_pieces, most_minutes }
    }
}

impl From<ProvisionalReleaseBody> for ProvisionalRelease {
    fn from(ProvisionalReleaseBody { most_pieces, most_minutes }: ProvisionalReleaseBody) -> Self {
        Self { most_pieces, most_minutes }
    }
}

impl From<&Settings> for SettingsBody {
    fn from(settings: &Settings) -> Self {
        Self {
            first_piece_by_another_person: settings.first_piece_by_another_person,
            first_piece_from_every_spindle: settings.first_piece_from_every_spindle,
            recheck_after_holder_move: settings.recheck_after_holder_move,
            height_limit: settings.height_limit,
            provisional_release: settings.provisional_release.map(Into::into),
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
            provisional_release: body.provisional_release.map(Into::into),
        }
    }
}
