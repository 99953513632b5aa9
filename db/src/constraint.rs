//! The constraints that use cases know by name.
//!
//! SQLite names the columns of a violated unique constraint, PostgreSQL the constraint itself; here both meet.

use diesel::result::{DatabaseErrorInformation, DatabaseErrorKind};

macro_rules! constraints {
    ($($(#[$doc:meta])* $name:ident = [$($text:literal),+];)*) => {
        /// A constraint that was violated.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Constraint {
            $($(#[$doc])* $name,)*
            /// A foreign key: something named is not there, or something is still used.
            ForeignKey,
            /// A check: a value no rule of ours should have let through.
            Check,
            /// Any other.
            Other,
        }

        /// For each constraint, how each database names it: SQLite's columns, PostgreSQL's constraint.
        pub const NAMES: &[(Constraint, &[&str])] = &[$((Constraint::$name, &[$($text),+]),)*];
    };
}

constraints! {
    /// A code is already used, or was.
    CodeTaken = ["codes.code", "codes_pkey"];
    /// A badge is already used.
    BadgeTaken = ["people.badge", "people_badge_key"];
    /// A machine has an open setup.
    OneOpenSetup = ["setups.machine_id", "setups_one_open_a_machine"];
    /// A setup's event has this number already: somebody else wrote in between.
    EventNumber = ["setup_events.setup_id, setup_events.sequence", "setup_events_pkey"];
    /// An item's movement has this number already: somebody else moved it in between.
    MovementNumber = ["movements.item_id, movements.item_sequence", "movements_item_id_item_sequence_key"];
    /// An item is in an open setup.
    ItemInSetup = ["items_in_setups.item_id", "items_in_setups_pkey"];
    /// A gauge is in a machine already.
    GaugeInMachine = ["gauges_in_machines.gauge_id", "gauges_in_machines_pkey"];
    /// A gauge is placed at this station already.
    GaugeAtStation = ["gauges_in_machines.setup_id, gauges_in_machines.station", "gauges_in_machines_setup_id_station_key"];
    /// A release is in force on this machine.
    ReleaseInForce = ["releases_in_force.machine_id", "releases_in_force_machine_id_key"];
    /// An item is kept for a job on one of these days.
    ItemBooked = ["booking_days.item_id, booking_days.day", "booking_days_pkey"];
    /// A maintenance plan has an open work order.
    OneOpenOrderOfPlan = ["work_orders.plan_id", "work_orders_one_open_a_plan"];
    /// A supply's movement has this number already: somebody else recorded one in between.
    SupplyMovementNumber = ["supply_movements.supply_id, supply_movements.number", "supply_movements_pkey"];
    /// A subject has a change with this version already: somebody else wrote in between.
    SubjectVersion = ["changes.subject_kind, changes.subject_id, changes.subject_version",
        "changes_subject_kind_subject_id_subject_version_key"];
}

/// Finds which constraint a database speaks of.
pub(crate) fn recognise(kind: &DatabaseErrorKind, info: &(dyn DatabaseErrorInformation + Send + Sync)) -> Constraint {
    let named = info.constraint_name().unwrap_or_else(|| info.message());
    let named = named.trim_start_matches("UNIQUE constraint failed: ");
    for (constraint, names) in NAMES {
        if names.contains(&named) {
            return *constraint;
        }
    }
    match kind {
        DatabaseErrorKind::ForeignKeyViolation | DatabaseErrorKind::RestrictViolation => Constraint::ForeignKey,
        DatabaseErrorKind::CheckViolation | DatabaseErrorKind::NotNullViolation => Constraint::Check,
        _ => Constraint::Other,
    }
}
