//! The shop's settings: one row.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::shop_settings,
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::setup::plan::{HolderMoveRecheck, ProvisionalRelease, Settings};

#[derive(Queryable, Selectable, AsChangeset)]
#[diesel(table_name = shop_settings)]
#[diesel(treat_none_as_null = true)]
struct Row {
    first_piece_by_another_person: bool,
    first_piece_from_every_spindle: bool,
    recheck_after_holder_move: String,
    height_limit_pm: i64,
    height_limit_unit: String,
    version: i64,
    updated_at: NaiveDateTime,
    provisional_most_pieces: Option<i64>,
    provisional_most_minutes: Option<i32>,
}

fn row(settings: &Settings, version: i64, at: DateTime<Utc>) -> Result<Row> {
    let provisional = settings.provisional_release;
    let most_pieces = provisional.map(|allowed| i64::try_from(allowed.most_pieces)).transpose();
    let most_minutes = provisional.map(|allowed| i32::try_from(allowed.most_minutes)).transpose();
    Ok(Row {
        first_piece_by_another_person: settings.first_piece_by_another_person,
        first_piece_from_every_spindle: settings.first_piece_from_every_spindle,
        recheck_after_holder_move: settings.recheck_after_holder_move.name().to_owned(),
        height_limit_pm: settings.height_limit.picometres(),
        height_limit_unit: settings.height_limit.unit().sign().to_owned(),
        version,
        updated_at: at.naive_utc(),
        provisional_most_pieces: most_pieces.map_err(Error::unreadable)?,
        provisional_most_minutes: most_minutes.map_err(Error::unreadable)?,
    })
}

/// The settings with their version.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection) -> Result<(Settings, i64)> {
    let row: Row = shop_settings::table.find(1).select(Row::as_select()).first(connection)?;
    let settings = Settings {
        first_piece_by_another_person: row.first_piece_by_another_person,
        first_piece_from_every_spindle: row.first_piece_from_every_spindle,
        recheck_after_holder_move: columns::named(&row.recheck_after_holder_move, HolderMoveRecheck::from_name)?,
        height_limit: columns::length(row.height_limit_pm, &row.height_limit_unit)?,
        provisional_release: row
            .provisional_most_pieces
            .zip(row.provisional_most_minutes)
            .map(|(pieces, minutes)| {
                Ok::<_, Error>(ProvisionalRelease {
                    most_pieces: u64::try_from(pieces).map_err(Error::unreadable)?,
                    most_minutes: u32::try_from(minutes).map_err(Error::unreadable)?,
                })
            })
            .transpose()?,
    };
    Ok((settings, row.version))
}

/// Takes the settings for this transaction: whoever else is to change them waits.
///
/// # Errors
/// A database error.
pub fn lock(connection: &mut Connection) -> Result<()> {
    // Writing a column over with itself takes the row on both databases.
    diesel::update(shop_settings::table.find(1))
        .set(shop_settings::version.eq(shop_settings::version))
        .execute(connection)?;
    Ok(())
}

/// Writes the settings.
///
/// # Errors
/// A database error.
pub fn save(connection: &mut Connection, settings: &Settings, version: i64, at: DateTime<Utc>) -> Result<()> {
    diesel::update(shop_settings::table.find(1)).set(row(settings, version, at)?).execute(connection)?;
    Ok(())
}
