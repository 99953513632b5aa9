//! Roles and permissions. Roles are data on a person; a permission is what one operation asks for.

use crate::names::named;

named! {
    /// What a person does in the shop. A person may hold several roles.
    Role {
        /// Hands items out and takes them back.
        Clerk = "clerk",
        /// Sets machines up and releases them.
        Setter = "setter",
        /// Checks gauges and judges first pieces.
        Inspector = "inspector",
        /// Grinds form tools.
        Grinder = "grinder",
        /// Keeps machines in order and clears tag-outs.
        Maintainer = "maintainer",
        /// Plans and answers for the shop's records.
        Supervisor = "supervisor",
        /// Keeps people and settings; no floor rights by itself.
        Administrator = "administrator",
        /// A program, not a person: the ERP and its like.
        Integration = "integration",
    }
}

named! {
    /// What an operation asks for.
    Permission {
        /// Read registry, custody, setups, due and permits.
        Read = "read",
        /// Write registry, parts and jobs.
        WriteRegistry = "write-registry",
        /// Keep items for jobs, and let them go.
        BookItems = "book-items",
        /// Move any item, for anyone.
        MoveForAnyone = "move-for-anyone",
        /// Move items to and from oneself.
        MoveForOneself = "move-for-oneself",
        /// Record setup events, release and stop.
        RecordSetup = "record-setup",
        /// Judge a first piece.
        JudgeFirstPiece = "judge-first-piece",
        /// Judge in full: a first piece for a release without limits, and what a provisional release made.
        JudgeHeldPieces = "judge-held-pieces",
        /// Record gauge checks, rebind gauges, work through impact.
        ControlGauges = "control-gauges",
        /// Check holders.
        CheckHolders = "check-holders",
        /// Record regrinds.
        Grind = "grind",
        /// Check form tools: after a grind, after a crash, at any time.
        CheckTools = "check-tools",
        /// Plans, work orders, centre heights, condition of machines.
        Maintain = "maintain",
        /// Supplies: records, withdrawals, receipts, counts.
        KeepSupplies = "keep-supplies",
        /// Place a tag-out.
        PlaceTagOut = "place-tag-out",
        /// Report a fault: open a work order for a breakdown.
        ReportFault = "report-fault",
        /// Clear a tag-out.
        ClearTagOut = "clear-tag-out",
        /// Take the floor over from whoever was there before.
        TakeOver = "take-over",
        /// Close or abandon a setup that somebody else opened.
        CloseAnySetup = "close-any-setup",
        /// Read the feed and exports.
        ReadFeed = "read-feed",
        /// Read the audit trail and verify it.
        Audit = "audit",
        /// People, clients, webhooks, settings.
        Administer = "administer",
    }
}

impl Role {
    /// Whether this role carries a permission. The whole table in one place; `tests/permissions.csv` is its
    /// hand-written counterpart.
    #[must_use]
    pub const fn may(self, permission: Permission) -> bool {
        use Permission as P;
        let person = !matches!(self, Self::Integration);
        match permission {
            P::Read => true,
            P::MoveForOneself | P::PlaceTagOut | P::ReportFault | P::TakeOver => person,
            P::WriteRegistry => matches!(self, Self::Supervisor | Self::Integration),
            P::BookItems => matches!(self, Self::Clerk | Self::Supervisor | Self::Integration),
            P::MoveForAnyone | P::KeepSupplies => matches!(self, Self::Clerk | Self::Supervisor),
            P::RecordSetup => matches!(self, Self::Setter),
            // A setter may judge a setup of which they recorded nothing: the rule `first-piece-same-person` sees to it.
            P::JudgeFirstPiece => matches!(self, Self::Inspector | Self::Setter),
            P::CheckHolders => matches!(self, Self::Inspector | Self::Maintainer),
            P::JudgeHeldPieces | P::ControlGauges => matches!(self, Self::Inspector),
            P::Grind => matches!(self, Self::Grinder),
            // A grinder passes other people's grinds only: the rule `own-grind-not-passed` sees to it.
            P::CheckTools => matches!(self, Self::Inspector | Self::Grinder),
            P::Maintain | P::ClearTagOut => matches!(self, Self::Maintainer),
            P::CloseAnySetup => matches!(self, Self::Supervisor),
            P::ReadFeed => matches!(self, Self::Supervisor | Self::Administrator | Self::Integration),
            P::Audit => matches!(self, Self::Supervisor | Self::Administrator),
            P::Administer => matches!(self, Self::Administrator),
        }
    }
}

/// Whether any of the roles carries the permission.
#[must_use]
pub fn any_may(roles: &[Role], permission: Permission) -> bool {
    roles.iter().any(|role| role.may(permission))
}

#[cfg(test)]
mod tests {
    use super::{Permission, Role, any_may};

    #[test]
    fn an_administrator_has_no_floor_rights() {
        for permission in [Permission::RecordSetup, Permission::MoveForAnyone, Permission::ControlGauges] {
            assert!(!any_may(&[Role::Administrator], permission));
        }
    }

    #[test]
    fn names_come_back() {
        for role in Role::ALL {
            assert_eq!(Role::from_name(role.name()), Some(*role));
        }
        for permission in Permission::ALL {
            assert_eq!(Permission::from_name(permission.name()), Some(*permission));
        }
    }
}
