//! Centre gauges, each bound to one machine.

use super::{Registered, no_faults, resolve, resolve_in_query};
use crate::{
    app::items::{changed_item, check_name, forget, new_item, put, show_all},
    principal::Principal,
    problem::Problem,
    transport::center_gauge::{CenterGaugeChange, CenterGaugeFilters, CenterGaugeView, NewCenterGauge},
};
use dovetally_core::{
    code::Code,
    gauge::stale::is_stale,
    ids::{ItemId, MachineId, StationId},
    item::{Condition, ItemKind},
    length::Length,
    registry::item::{CenterGauge, CenterGaugeFields, check_interval, not_near_center_height},
};
use dovetally_db::{
    Connection, Error, Tx,
    center_gauges::{self, GaugeBinding},
    codes::CodeSubject,
    machines, setups,
};
use uuid::Uuid;

/// Centre gauges.
#[derive(Debug)]
pub struct CenterGauges;

/// The ids of the stations that a gauge is limited to: only its machine's.
pub(crate) fn station_ids(
    connection: &mut Connection,
    machine: MachineId,
    stations: &[Code],
) -> Result<Vec<StationId>, Problem> {
    let found = machines::find(connection, machine)?.ok_or_else(|| Problem::not_found("machine", machine))?;
    let mut ids = Vec::with_capacity(stations.len());
    for (index, code) in stations.iter().enumerate() {
        let known = found.record.fields.stations.iter().position(|station| station.code == *code);
        let id = known.and_then(|known| found.station_ids.get(known)).copied();
        let at = format!("/stations/{index}");
        let id =
            id.ok_or_else(|| Problem::field(&at, format!("machine {} has no station {code}", found.record.code)))?;
        if ids.contains(&id) {
            return Err(Problem::field(at, "names a station twice"));
        }
        ids.push(id);
    }
    Ok(ids)
}

/// A gauge is cut to its machine's spindle centre height: one that is nowhere near it is another machine's, or mistyped.
pub(crate) fn height_is_the_machines(
    connection: &mut Connection,
    machine: MachineId,
    nominal: Length,
) -> Result<(), Problem> {
    let found = machines::find(connection, machine)?.ok_or_else(|| Problem::not_found("machine", machine))?;
    let measured = machines::center_heights_page(connection, machine, None, 1)?.pop();
    let center = measured.map_or(found.record.fields.center_height_nominal, |height| height.fields.measured);
    no_faults(not_near_center_height(nominal, center, &found.record.code))
}

impl Registered for CenterGauges {
    const RESOURCE: &'static str = "item";
    const COLLECTION: &'static str = "center-gauges";
    const SUBJECT: CodeSubject = CodeSubject::Item;
    const CHANGES: [&'static str; 3] =
        ["dovetally.center_gauge.created", "dovetally.center_gauge.changed", "dovetally.center_gauge.removed"];
    const READ_ONLY: &'static [&'static str] = &[
        "id",
        "kind",
        "condition",
        "where",
        "since",
        "purpose",
        "due",
        "job",
        "in_setup",
        "place",
        "created_at",
        "updated_at",
        "machine",
        "next_check",
        "last_accepted_check_at",
        "stale",
    ];

    type Thing = CenterGauge;
    type New = NewCenterGauge;
    type Write = CenterGaugeChange;
    type View = CenterGaugeView;
    type Filter = CenterGaugeFilters;

    fn code_of_new(new: &NewCenterGauge) -> &Code {
        &new.code
    }

    fn code_of(write: &CenterGaugeChange) -> &Code {
        &write.code
    }

    fn record_of(gauge: &CenterGauge) -> (Uuid, &Code, i64) {
        (gauge.item.id.uuid(), &gauge.item.code, gauge.item.version)
    }

    fn find(connection: &mut Connection, id: Uuid) -> Result<Option<CenterGauge>, Problem> {
        Ok(center_gauges::find(connection, ItemId::from_uuid(id))?)
    }

    fn page(
        connection: &mut Connection,
        filter: &CenterGaugeFilters,
        after: Option<&Code>,
        limit: i64,
    ) -> Result<Vec<CenterGauge>, Problem> {
        let machine = resolve_in_query(connection, CodeSubject::Machine, filter.machine.as_ref(), "machine")?;
        Ok(center_gauges::page(connection, machine.map(MachineId::from_uuid), after, limit)?)
    }

    fn view(connection: &mut Connection, gauge: &CenterGauge) -> Result<CenterGaugeView, Problem> {
        let shown = Self::views(connection, std::slice::from_ref(gauge))?.pop();
        shown.ok_or_else(|| Error::unreadable("an item that cannot be shown").into())
    }

    fn views(connection: &mut Connection, gauges: &[CenterGauge]) -> Result<Vec<CenterGaugeView>, Problem> {
        let items = show_all(connection, &gauges.iter().map(|gauge| &gauge.item).collect::<Vec<_>>())?;
        let shown = items.into_iter().zip(gauges).map(|(item, gauge)| CenterGaugeView {
            item,
            machine: gauge.machine_code.clone(),
            stations: gauge.stations.clone(),
            nominal: gauge.nominal,
            limits: gauge.limits,
            next_check: gauge.next_check,
            last_accepted_check_at: gauge.last_accepted_check_at,
            stale: is_stale(gauge.last_accepted_check_at, gauge.centers_may_have_moved_at),
            check_interval_days: gauge.check_interval_days,
        });
        Ok(shown.collect())
    }

    fn write_form(gauge: &CenterGauge) -> CenterGaugeChange {
        CenterGaugeChange {
            code: gauge.item.code.clone(),
            name: gauge.item.fields.name.clone(),
            stations: gauge.stations.clone(),
            nominal: gauge.nominal,
            limits: gauge.limits,
            check_interval_days: gauge.check_interval_days,
        }
    }

    fn insert(tx: &mut Tx<'_>, who: &Principal, id: Uuid, new: &NewCenterGauge) -> Result<CenterGauge, Problem> {
        let machine = MachineId::from_uuid(resolve(tx.connection(), CodeSubject::Machine, &new.machine, "/machine")?);
        let stations = station_ids(tx.connection(), machine, &new.stations)?;
        no_faults(CenterGaugeFields { nominal: new.nominal, limits: new.limits }.check())?;
        height_is_the_machines(tx.connection(), machine, new.nominal)?;
        no_faults(check_interval(new.check_interval_days))?;
        check_name(&new.name)?;
        let gauge = CenterGauge {
            item: new_item(tx, id, &new.code, ItemKind::CenterGauge, new.name.clone(), Condition::NeedsCheck),
            machine,
            machine_code: new.machine.clone(),
            centers_may_have_moved_at: None,
            stations: new.stations.clone(),
            nominal: new.nominal,
            limits: new.limits,
            next_check: None,
            last_accepted_check_at: None,
            check_interval_days: new.check_interval_days,
        };
        center_gauges::insert(tx.connection(), &gauge, &stations)?;
        let binding = GaugeBinding {
            gauge: gauge.item.id,
            number: 1,
            machine,
            from: gauge.item.created_at,
            until: None,
            by: Some(who.person),
            check: None,
        };
        center_gauges::insert_binding(tx.connection(), &binding)?;
        put(tx, who, gauge.item.id, &new.place)?;
        // Read back: the machine by its own code, the stations in their order.
        center_gauges::find(tx.connection(), gauge.item.id)?
            .ok_or_else(|| Problem::not_found("centre gauge", &new.code))
    }

    fn update(
        tx: &mut Tx<'_>,
        _: &Principal,
        gauge: CenterGauge,
        write: &CenterGaugeChange,
    ) -> Result<CenterGauge, Problem> {
        let stations = station_ids(tx.connection(), gauge.machine, &write.stations)?;
        no_faults(CenterGaugeFields { nominal: write.nominal, limits: write.limits }.check())?;
        no_faults(check_interval(write.check_interval_days))?;
        check_name(&write.name)?;
        let mut item = changed_item(tx, gauge.item, &write.code, &write.name);
        let same = gauge.nominal == write.nominal && gauge.limits == write.limits;
        if !same {
            height_is_the_machines(tx.connection(), gauge.machine, write.nominal)?;
        }
        let placed = setups::gauge_placed(tx.connection(), item.id)?.is_some();
        if placed && (!same || gauge.stations != write.stations) {
            return Err(Problem::in_use("the gauge is in its machine, and heights are read on it: take it out first"));
        }
        // A check against other limits says nothing about these.
        let last_accepted_check_at = gauge.last_accepted_check_at.filter(|_| same);
        if !same {
            let usable = item.fields.condition.is_usable();
            let judged = if usable { Condition::NeedsCheck } else { item.fields.condition };
            item.fields.judge(judged, tx.now());
        }
        let (nominal, limits) = (write.nominal, write.limits);
        let check_interval_days = write.check_interval_days;
        let gauge = CenterGauge { item, nominal, limits, last_accepted_check_at, check_interval_days, ..gauge };
        center_gauges::update(tx.connection(), &gauge, &stations)?;
        center_gauges::find(tx.connection(), gauge.item.id)?
            .ok_or_else(|| Problem::not_found("centre gauge", &write.code))
    }

    fn delete(tx: &mut Tx<'_>, gauge: &CenterGauge) -> Result<(), Problem> {
        forget(tx, gauge.item.id)?;
        Ok(center_gauges::delete(tx.connection(), gauge.item.id)?)
    }
}
