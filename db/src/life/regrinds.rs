//! Grinds of form tools. Append-only.

use super::split;
use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{regrind_grinders, regrinds, tool_checks},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    ids::{ItemId, PersonId, RegrindId},
    length::Length,
    life::{
        check::{EdgeDoubt, SincePassed},
        edge::EdgeEnd,
        regrind::{GrindKind, GroundBy, RegrindFields, Removal},
    },
};

/// A grind on record.
#[derive(Clone, Debug, PartialEq)]
pub struct Regrind {
    /// Its id.
    pub id: RegrindId,
    /// The tool.
    pub tool: ItemId,
    /// Its number among the tool's grinds, from 1; touch-ups count here.
    pub number: u32,
    /// What was written about it; what was measured before it stands in `height_before`.
    pub fields: RegrindFields,
    /// The height that was on record before it.
    pub height_on_record: Length,
    /// The height before it, as it counted.
    pub height_before: Length,
    /// The height after it.
    pub height_after: Length,
    /// The tool's count of grinds with it.
    pub regrind_count: u32,
    /// Pieces that were on the edge.
    pub pieces_on_edge: i64,
    /// Whether the tool came out below its design's minimum and was retired.
    pub retired: bool,
    /// What there was to say beside it.
    pub remarks: Vec<String>,
    /// When it was done.
    pub occurred_at: DateTime<Utc>,
    /// Who recorded it; who did it is told by its fields.
    pub recorded_by: PersonId,
    /// The server's time.
    pub recorded_at: DateTime<Utc>,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = regrinds)]
struct Row {
    id: String,
    tool_id: String,
    number: i32,
    kind: String,
    height_on_record_pm: i64,
    height_on_record_unit: String,
    height_before_pm: i64,
    height_before_unit: String,
    height_after_pm: i64,
    height_after_unit: String,
    stock_pm: Option<i64>,
    stock_unit: Option<String>,
    wear_land_pm: Option<i64>,
    wear_land_unit: Option<String>,
    clean_up_pm: Option<i64>,
    clean_up_unit: Option<String>,
    regrind_count: i32,
    pieces_on_edge: i64,
    edge_ended: Option<String>,
    wheel: Option<String>,
    dressed: bool,
    burn_seen: bool,
    rake_deg: Option<f64>,
    face_offset_pm: Option<i64>,
    face_offset_unit: Option<String>,
    profile_checked: bool,
    retired: bool,
    remarks: String,
    note: Option<String>,
    occurred_at: NaiveDateTime,
    recorded_by: String,
    recorded_at: NaiveDateTime,
}

fn row(regrind: &Regrind) -> Result<Row> {
    let fields = &regrind.fields;
    let (stock, wear_land, clean_up) = match fields.removal {
        Some(Removal::Stock(stock)) => (Some(stock), None, None),
        Some(Removal::WearLand { width, clean_up }) => (None, Some(width), Some(clean_up)),
        Some(Removal::Down(_)) | None => (None, None, None),
    };
    let ((stock_pm, stock_unit), (wear_land_pm, wear_land_unit)) = (split(stock), split(wear_land));
    let ((clean_up_pm, clean_up_unit), (face_offset_pm, face_offset_unit)) =
        (split(clean_up), split(fields.face_offset));
    Ok(Row {
        id: regrind.id.to_string(),
        tool_id: regrind.tool.to_string(),
        number: i32::try_from(regrind.number).map_err(Error::unreadable)?,
        kind: fields.kind.name().to_owned(),
        height_on_record_pm: regrind.height_on_record.picometres(),
        height_on_record_unit: regrind.height_on_record.unit().sign().to_owned(),
        height_before_pm: regrind.height_before.picometres(),
        height_before_unit: regrind.height_before.unit().sign().to_owned(),
        height_after_pm: regrind.height_after.picometres(),
        height_after_unit: regrind.height_after.unit().sign().to_owned(),
        stock_pm,
        stock_unit,
        wear_land_pm,
        wear_land_unit,
        clean_up_pm,
        clean_up_unit,
        regrind_count: i32::try_from(regrind.regrind_count).map_err(Error::unreadable)?,
        pieces_on_edge: regrind.pieces_on_edge,
        edge_ended: fields.edge_ended.map(|ended| ended.name().to_owned()),
        wheel: fields.wheel.clone(),
        dressed: fields.dressed,
        burn_seen: fields.burn_seen,
        rake_deg: fields.rake_deg,
        face_offset_pm,
        face_offset_unit,
        profile_checked: fields.profile_checked,
        retired: regrind.retired,
        remarks: columns::document(&regrind.remarks)?,
        note: fields.note.clone(),
        occurred_at: regrind.occurred_at.naive_utc(),
        recorded_by: regrind.recorded_by.to_string(),
        recorded_at: regrind.recorded_at.naive_utc(),
    })
}

/// A grind with who did it: a person's id, or words.
type Rows = (Row, (Option<String>, Option<String>));

impl TryFrom<Rows> for Regrind {
    type Error = Error;

    fn try_from((row, grinder): Rows) -> Result<Self> {
        let ground_by = match grinder {
            (Some(person), None) => GroundBy::Person(columns::read(&person)?),
            (None, Some(words)) => GroundBy::Outside(words),
            _ => return Err(Error::unreadable("a grind by nobody or by two")),
        };
        let stock = columns::length_optional(row.stock_pm, row.stock_unit.as_deref())?;
        let wear_land = columns::length_optional(row.wear_land_pm, row.wear_land_unit.as_deref())?;
        let clean_up = columns::length_optional(row.clean_up_pm, row.clean_up_unit.as_deref())?;
        let height_before = columns::length(row.height_before_pm, &row.height_before_unit)?;
        let height_after = columns::length(row.height_after_pm, &row.height_after_unit)?;
        let kind = columns::named(&row.kind, GrindKind::from_name)?;
        let removal = match (stock, wear_land.zip(clean_up)) {
            (Some(stock), _) => Some(Removal::Stock(stock)),
            (None, Some((width, clean_up))) => Some(Removal::WearLand { width, clean_up }),
            (None, None) => (kind != GrindKind::TouchUp).then_some(Removal::Down(height_after)),
        };
        Ok(Self {
            id: columns::read(&row.id)?,
            tool: columns::read(&row.tool_id)?,
            number: u32::try_from(row.number).map_err(Error::unreadable)?,
            fields: RegrindFields {
                kind,
                height_before: (kind != GrindKind::TouchUp).then_some(height_before),
                removal,
                regrind_count: None,
                wheel: row.wheel,
                dressed: row.dressed,
                burn_seen: row.burn_seen,
                rake_deg: row.rake_deg,
                face_offset: columns::length_optional(row.face_offset_pm, row.face_offset_unit.as_deref())?,
                profile_checked: row.profile_checked,
                edge_ended: row.edge_ended.map(|name| columns::named(&name, EdgeEnd::from_name)).transpose()?,
                ground_by,
                // Said with the request; the remarks keep it.
                confirmed: false,
                note: row.note,
            },
            height_on_record: columns::length(row.height_on_record_pm, &row.height_on_record_unit)?,
            height_before,
            height_after,
            regrind_count: u32::try_from(row.regrind_count).map_err(Error::unreadable)?,
            pieces_on_edge: row.pieces_on_edge,
            retired: row.retired,
            remarks: columns::from_document(&row.remarks)?,
            occurred_at: columns::time(row.occurred_at),
            recorded_by: columns::read(&row.recorded_by)?,
            recorded_at: columns::time(row.recorded_at),
        })
    }
}

/// Puts a grind on record.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, regrind: &Regrind) -> Result<()> {
    diesel::insert_into(regrinds::table).values(row(regrind)?).execute(connection)?;
    let (person, outside) = match &regrind.fields.ground_by {
        GroundBy::Person(person) => (Some(person.to_string()), None),
        GroundBy::Outside(words) => (None, Some(words)),
    };
    diesel::insert_into(regrind_grinders::table)
        .values((
            regrind_grinders::regrind_id.eq(regrind.id.to_string()),
            regrind_grinders::person_id.eq(person),
            regrind_grinders::outside.eq(outside),
        ))
        .execute(connection)?;
    Ok(())
}

/// A tool's grinds, newest first, before one.
///
/// # Errors
/// A database error.
pub fn page(
    connection: &mut Connection,
    tool: ItemId,
    before: Option<(DateTime<Utc>, RegrindId)>,
    limit: i64,
) -> Result<Vec<Regrind>> {
    use regrinds as r;
    let (at, id) = columns::before_or_newest(before);
    let rows: Vec<Rows> = r::table
        .inner_join(regrind_grinders::table.on(regrind_grinders::regrind_id.eq(r::id)))
        .filter(r::tool_id.eq(tool.to_string()))
        .filter(r::recorded_at.lt(at).or(r::recorded_at.eq(at).and(r::id.lt(id))))
        .order((r::recorded_at.desc(), r::id.desc()))
        .limit(limit)
        .select((Row::as_select(), (regrind_grinders::person_id, regrind_grinders::outside)))
        .load(connection)?;
    rows.into_iter().map(Regrind::try_from).collect()
}

/// Whether the edge in use was partly ground: since the last full grind, if there was one.
///
/// # Errors
/// A database error.
pub fn partly_ground(connection: &mut Connection, tool: ItemId) -> Result<bool> {
    use regrinds as r;
    let taking: Option<String> = r::table
        .filter(r::tool_id.eq(tool.to_string()))
        .filter(r::kind.ne(GrindKind::TouchUp.name()))
        .order(r::number.desc())
        .select(r::kind)
        .first(connection)
        .optional()?;
    Ok(taking.is_some_and(|kind| kind == GrindKind::Partial.name()))
}

/// What happened to a tool since it was last passed, as far as its grinds and checks tell.
///
/// # Errors
/// A database error.
pub fn since_passed(connection: &mut Connection, tool: ItemId) -> Result<SincePassed> {
    use regrinds as r;
    use tool_checks as c;
    let edge = edge_doubt(connection, tool)?;
    let tool = tool.to_string();
    let passed: Option<i32> = c::table
        .filter(c::tool_id.eq(&tool))
        .filter(c::accepted.eq(true))
        .order((c::recorded_at.desc(), c::id.desc()))
        .select(c::after_grind)
        .first(connection)
        .optional()?;
    let grinders: Vec<Option<String>> = r::table
        .inner_join(regrind_grinders::table.on(regrind_grinders::regrind_id.eq(r::id)))
        .filter(r::tool_id.eq(&tool))
        .filter(r::number.gt(passed.unwrap_or(0)))
        .order(r::number)
        .select(regrind_grinders::person_id)
        .load(connection)?;
    Ok(SincePassed {
        ground: !grinders.is_empty(),
        ground_by: grinders.iter().flatten().map(|by| columns::read(by)).collect::<Result<_>>()?,
        edge,
    })
}

/// Burn and cracks of a tool that no check has found gone since.
///
/// # Errors
/// A database error.
pub fn edge_doubt(connection: &mut Connection, tool: ItemId) -> Result<EdgeDoubt> {
    use regrinds as r;
    use tool_checks as c;
    let tool = tool.to_string();
    let last_check = |connection: &mut Connection, sound: bool| {
        let of_tool = c::table.filter(c::tool_id.eq(&tool)).order((c::recorded_at.desc(), c::id.desc()));
        let columns = (c::recorded_at, c::after_grind);
        if sound {
            of_tool.filter(c::edge_sound.eq(true)).select(columns).first::<(NaiveDateTime, i32)>(connection).optional()
        } else {
            of_tool.filter(c::edge_doubted.eq(true)).select(columns).first(connection).optional()
        }
    };
    let (sound, found) = (last_check(connection, true)?, last_check(connection, false)?);
    let open = found.filter(|(found_at, _)| sound.is_none_or(|(sound_at, _)| sound_at < *found_at));
    if let Some((_, after_grind)) = open {
        let ground_since: bool = diesel::select(diesel::dsl::exists(
            r::table
                .filter(r::tool_id.eq(&tool))
                .filter(r::number.gt(after_grind))
                .filter(r::kind.ne(GrindKind::TouchUp.name())),
        ))
        .get_result(connection)?;
        return Ok(if ground_since { EdgeDoubt::Ground } else { EdgeDoubt::Found });
    }
    let sound_after = sound.map_or(0, |(_, after_grind)| after_grind);
    let burn_seen: bool = diesel::select(diesel::dsl::exists(
        r::table.filter(r::tool_id.eq(&tool)).filter(r::burn_seen.eq(true)).filter(r::number.gt(sound_after)),
    ))
    .get_result(connection)?;
    Ok(if burn_seen { EdgeDoubt::Ground } else { EdgeDoubt::None })
}
