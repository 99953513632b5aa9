//! What the records' own names are called.

use super::{Names, Phrase};
use dovetally_core::{
    item::{Condition, ItemKind, Purpose},
    people::Role,
};
use dovetally_db::custody::MovementKind;

impl Names {
    /// A condition.
    #[must_use]
    pub const fn condition(&self, condition: Condition) -> &Phrase {
        match condition {
            Condition::Usable => &self.usable,
            Condition::NeedsGrinding => &self.needs_grinding,
            Condition::NeedsCheck => &self.needs_check,
            Condition::Damaged => &self.damaged,
            Condition::Retired => &self.retired,
        }
    }

    /// How an item stands, with the mark of a state: its condition; for a gauge that was judged usable and is stale, that.
    #[must_use]
    pub const fn state(&self, condition: Condition, stale: bool) -> (&'static str, &Phrase) {
        match condition {
            Condition::Usable if stale => ("stop", &self.stale),
            Condition::Usable => ("good", self.condition(condition)),
            _ => ("stop", self.condition(condition)),
        }
    }

    /// A kind of item.
    #[must_use]
    pub const fn item_kind(&self, kind: ItemKind) -> &Phrase {
        match kind {
            ItemKind::FormTool => &self.form_tool,
            ItemKind::Holder => &self.holder,
            ItemKind::CenterGauge => &self.center_gauge,
            ItemKind::Other => &self.other,
        }
    }

    /// What an item is handed out for.
    #[must_use]
    pub const fn purpose(&self, purpose: Purpose) -> &Phrase {
        match purpose {
            Purpose::Use => &self.purpose_use,
            Purpose::Grind => &self.purpose_grind,
            Purpose::Check => &self.purpose_check,
        }
    }

    /// Why an item moved.
    #[must_use]
    pub const fn movement(&self, kind: MovementKind) -> &Phrase {
        match kind {
            MovementKind::Registered => &self.registered,
            MovementKind::CheckedOut => &self.checked_out,
            MovementKind::CheckedIn => &self.checked_in,
            MovementKind::Transferred => &self.transferred,
            MovementKind::Setup => &self.setup,
        }
    }

    /// A role.
    #[must_use]
    pub const fn role(&self, role: Role) -> &Phrase {
        match role {
            Role::Clerk => &self.clerk,
            Role::Setter => &self.setter,
            Role::Inspector => &self.inspector,
            Role::Grinder => &self.grinder,
            Role::Maintainer => &self.maintainer,
            Role::Supervisor => &self.supervisor,
            Role::Administrator => &self.administrator,
            Role::Integration => &self.integration,
        }
    }
}
