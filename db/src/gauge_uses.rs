//! What was set with which gauge, over the years.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::gauge_uses,
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{ItemId, MachineId, SetupId},
};

/// One stay of a gauge in a machine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GaugeUseOnRecord {
    /// The setup.
    pub setup: SetupId,
    /// The number of the event that placed it.
    pub placed_sequence: i64,
    /// The gauge.
    pub gauge: ItemId,
    /// The machine.
    pub machine: MachineId,
    /// The station.
    pub station: Code,
    /// When it was placed.
    pub placed_at: DateTime<Utc>,
    /// When it was taken out.
    pub removed_at: Option<DateTime<Utc>>,
    /// The tool whose edge was last read on it.
    pub tool: Option<ItemId>,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = gauge_uses)]
struct Row {
    setup_id: String,
    placed_sequence: i64,
    gauge_id: String,
    machine_id: String,
    station: String,
    placed_at: NaiveDateTime,
    removed_at: Option<NaiveDateTime>,
    tool_id: Option<String>,
}

impl TryFrom<Row> for GaugeUseOnRecord {
    type Error = Error;

    fn try_from(row: Row) -> Result<Self> {
        Ok(Self {
            setup: columns::read(&row.setup_id)?,
            placed_sequence: row.placed_sequence,
            gauge: columns::read(&row.gauge_id)?,
            machine: columns::read(&row.machine_id)?,
            station: columns::code(&row.station)?,
            placed_at: columns::time(row.placed_at),
            removed_at: row.removed_at.map(columns::time),
            tool: columns::read_optional(row.tool_id.as_deref())?,
        })
    }
}

/// What a list of gauge uses is narrowed to.
#[derive(Clone, Copy, Debug, Default)]
pub struct GaugeUseFilter {
    /// Of one gauge.
    pub gauge: Option<ItemId>,
    /// In one machine.
    pub machine: Option<MachineId>,
    /// On which one tool was set.
    pub tool: Option<ItemId>,
    /// That were in the machine at this instant.
    pub in_machine_at: Option<DateTime<Utc>>,
}

/// A use's place in the list: when it was placed, in which setup, by which event.
pub type Place = (DateTime<Utc>, SetupId, i64);

/// Gauge uses, newest first, before one.
///
/// # Errors
/// A database error.
pub fn page(
    connection: &mut Connection,
    filter: GaugeUseFilter,
    before: Option<Place>,
    limit: i64,
) -> Result<Vec<GaugeUseOnRecord>> {
    use gauge_uses as g;
    let sequence = before.map_or(i64::MAX, |(_, _, sequence)| sequence);
    let (at, setup) = columns::before_or_newest(before.map(|(at, setup, _)| (at, setup)));
    let mut query = g::table
        .filter(g::placed_at.le(at))
        .filter(
            g::placed_at
                .lt(at)
                .or(g::setup_id.lt(setup.clone()))
                .or(g::setup_id.eq(setup).and(g::placed_sequence.lt(sequence))),
        )
        .order((g::placed_at.desc(), g::setup_id.desc(), g::placed_sequence.desc()))
        .limit(limit)
        .select(Row::as_select())
        .into_boxed();
    if let Some(gauge) = filter.gauge {
        query = query.filter(g::gauge_id.eq(gauge.to_string()));
    }
    if let Some(machine) = filter.machine {
        query = query.filter(g::machine_id.eq(machine.to_string()));
    }
    if let Some(tool) = filter.tool {
        query = query.filter(g::tool_id.eq(tool.to_string()));
    }
    if let Some(at) = filter.in_machine_at {
        let at = at.naive_utc();
        query = query.filter(g::placed_at.le(at)).filter(g::removed_at.is_null().or(g::removed_at.gt(at)));
    }
    let rows: Vec<Row> = query.load(connection)?;
    rows.into_iter().map(GaugeUseOnRecord::try_from).collect()
}
