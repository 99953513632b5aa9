//! Machines, and how they stand.

use super::{Registered, no_faults};
use crate::{
    extract::NoFields,
    principal::Principal,
    problem::Problem,
    transport::machine::{MachineBody, MachineStanding, MachineView},
};
use dovetally_core::{
    code::Code,
    ids::{MachineId, StationId},
    machine::{MachineMode, MachineState},
    registry::{
        Record,
        machine::{Machine, MachineFields},
    },
};
use dovetally_db::{
    Connection, Tx,
    codes::CodeSubject,
    machines::{self, Guard},
    setups,
};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// Machines with their stations.
#[derive(Debug)]
pub struct Machines;

impl Registered for Machines {
    const RESOURCE: &'static str = "machine";
    const COLLECTION: &'static str = "machines";
    const SUBJECT: CodeSubject = CodeSubject::Machine;
    const CHANGES: [&'static str; 3] =
        ["dovetally.machine.created", "dovetally.machine.changed", "dovetally.machine.removed"];
    const READ_ONLY: &'static [&'static str] =
        &["id", "state", "centers_may_have_moved_at", "open_setup", "gauges_in_machine", "created_at", "updated_at"];

    type Thing = Machine;
    type New = MachineBody;
    type Write = MachineBody;
    type View = MachineView;
    type Filter = NoFields;

    fn code_of_new(new: &MachineBody) -> &Code {
        &new.code
    }

    fn code_of(write: &MachineBody) -> &Code {
        &write.code
    }

    fn record_of(machine: &Machine) -> (Uuid, &Code, i64) {
        (machine.record.id.uuid(), &machine.record.code, machine.record.version)
    }

    fn find(connection: &mut Connection, id: Uuid) -> Result<Option<Machine>, Problem> {
        Ok(machines::find(connection, MachineId::from_uuid(id))?)
    }

    fn page(
        connection: &mut Connection,
        _: &NoFields,
        after: Option<&Code>,
        limit: i64,
    ) -> Result<Vec<Machine>, Problem> {
        Ok(machines::page(connection, after, limit)?)
    }

    fn view(connection: &mut Connection, machine: &Machine) -> Result<MachineView, Problem> {
        let id = machine.record.id;
        let guard = machines::guard(connection, id)?;
        let open_setup = setups::open_on(connection, id)?.map(|setup| setup.id.uuid());
        let newest = machines::newest_center_height(connection, id, None)?;
        let standing = MachineStanding {
            state: state_of(machine.record.fields.retired, guard, open_setup.is_some()),
            center_height: newest.map(|height| height.fields),
            open_setup,
            gauges: setups::gauges_in(connection, id)?,
        };
        Ok(MachineView::new(machine, standing))
    }

    fn write_form(machine: &Machine) -> MachineBody {
        machine.into()
    }

    fn insert(tx: &mut Tx<'_>, _: &Principal, id: Uuid, new: &MachineBody) -> Result<Machine, Problem> {
        let fields = new.fields()?;
        no_faults(fields.check())?;
        let station_ids = fields.stations.iter().map(|_| tx.new_id()).collect();
        let now = tx.now();
        let record = Record {
            id: MachineId::from_uuid(id),
            code: new.code.clone(),
            fields,
            version: 1,
            created_at: now,
            updated_at: now,
        };
        let machine = Machine { record, station_ids, centers_may_have_moved_at: None };
        machines::insert(tx.connection(), &machine)?;
        on_record(tx.connection(), machine.record.id)
    }

    fn update(tx: &mut Tx<'_>, _: &Principal, machine: Machine, write: &MachineBody) -> Result<Machine, Problem> {
        let fields = write.fields()?;
        no_faults(fields.check())?;
        let id = machine.record.id;
        // Setups, crashes and centre heights take the same guard. What they wrote until now is read again: writing the
        // machine over would undo that its spindle centres may have moved.
        machines::take_guard(tx.connection(), id)?;
        let current = on_record(tx.connection(), id)?;
        if current.record.version != machine.record.version {
            return Err(Problem::precondition_failed());
        }
        refuse_while_in_use(tx.connection(), &current, &fields)?;
        let station_ids = station_ids(&current, &fields, || tx.new_id());
        let current_height = current.record.fields.center_height_nominal;
        let record = Record {
            code: write.code.clone(),
            fields,
            version: current.record.version + 1,
            updated_at: tx.now(),
            ..current.record
        };
        // Another centre height: whatever gauge was cut to the old one has to be checked against the machine again.
        let moves_center = record.fields.center_height_nominal != current_height;
        let centers_may_have_moved_at = current.centers_may_have_moved_at;
        let machine = Machine { record, station_ids, centers_may_have_moved_at };
        machines::update(tx.connection(), &machine)?;
        if moves_center {
            let now = tx.now();
            machines::note_centers_moved(tx, id, now)?;
        }
        on_record(tx.connection(), id)
    }

    fn delete(tx: &mut Tx<'_>, machine: &Machine) -> Result<(), Problem> {
        Ok(machines::delete(tx.connection(), machine.record.id)?)
    }
}

/// A machine as its rows have it: stations in their order, so that the answer to a write has the entity tag of the next
/// read.
fn on_record(connection: &mut Connection, id: MachineId) -> Result<Machine, Problem> {
    machines::find(connection, id)?.ok_or_else(|| Problem::not_found("machine", id))
}

/// The ids of the wanted stations: a station keeps its id with its code.
fn station_ids(machine: &Machine, wanted: &MachineFields, mut new_id: impl FnMut() -> StationId) -> Vec<StationId> {
    let codes = machine.record.fields.stations.iter().map(|station| &station.code);
    let known: BTreeMap<&Code, StationId> = codes.zip(machine.station_ids.iter().copied()).collect();
    let wanted = wanted.stations.iter();
    wanted.map(|station| known.get(&station.code).copied().unwrap_or_else(&mut new_id)).collect()
}

/// A machine with an open setup is not retired, its centre height and the stations that the setup uses stay. Its gauges are seen to by a foreign key.
fn refuse_while_in_use(connection: &mut Connection, machine: &Machine, wanted: &MachineFields) -> Result<(), Problem> {
    let kept: BTreeSet<&Code> = wanted.stations.iter().map(|station| &station.code).collect();
    let stations = machine.record.fields.stations.iter().map(|station| &station.code);
    let removed: Vec<&Code> = stations.filter(|code| !kept.contains(code)).collect();
    let retires = wanted.retired && !machine.record.fields.retired;
    let moves_center = wanted.center_height_nominal != machine.record.fields.center_height_nominal;
    if removed.is_empty() && !retires && !moves_center {
        return Ok(());
    }
    let Some(setup) = setups::open_on(connection, machine.record.id)? else { return Ok(()) };
    if retires {
        return Err(Problem::in_use("a setup is open on the machine: close it first"));
    }
    if moves_center {
        return Err(Problem::in_use("the open setup's heights are set to this centre height: close the setup first"));
    }
    match removed.into_iter().find(|code| setup.plan.index_of(code).is_some()) {
        Some(code) => Err(Problem::in_use(format!("the open setup uses station {code}: close the setup first"))),
        None => Ok(()),
    }
}

/// What people see of a machine: the gravest thing that is true of it.
pub(crate) const fn state_of(retired: bool, guard: Guard, setup_is_open: bool) -> MachineState {
    if retired {
        MachineState::Retired
    } else if guard.tagged_out {
        MachineState::TaggedOut
    } else if matches!(guard.mode, MachineMode::Running) {
        MachineState::Running
    } else if setup_is_open {
        MachineState::Setting
    } else {
        MachineState::Idle
    }
}

#[cfg(test)]
mod tests {
    use super::state_of;
    use dovetally_core::machine::{MachineMode, MachineState};
    use dovetally_db::machines::Guard;

    #[test]
    fn the_gravest_state_is_shown() {
        let guard = |mode, tagged_out| Guard { version: 1, mode, tagged_out };
        for (retired, mode, tagged_out, setup_is_open, state) in [
            (false, MachineMode::Idle, false, false, MachineState::Idle),
            (false, MachineMode::Idle, false, true, MachineState::Setting),
            (false, MachineMode::Gauge, false, true, MachineState::Setting),
            (false, MachineMode::Running, false, true, MachineState::Running),
            (false, MachineMode::Gauge, true, true, MachineState::TaggedOut),
            (true, MachineMode::Idle, true, false, MachineState::Retired),
        ] {
            assert_eq!(state_of(retired, guard(mode, tagged_out), setup_is_open), state, "{mode} {tagged_out}");
        }
    }
}
