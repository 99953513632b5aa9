//! Serialised items: what kinds there are, their condition, and where one can be.

use crate::{
    ids::{MachineId, PersonId, PlaceId},
    names::named,
};
use serde::{Deserialize, Serialize};

named! {
    /// The kinds of serialised items.
    ItemKind {
        /// A form tool made to a tool design.
        FormTool = "form_tool",
        /// A holder that carries a form tool on a slide.
        Holder = "holder",
        /// A centre gauge, cut to one machine's spindle centre height.
        CenterGauge = "center_gauge",
        /// Anything else with a serial number: cut-off blades, drills, collets, micrometers.
        Other = "other",
    }
}

named! {
    /// Whether an item may be used, as somebody last judged it.
    Condition {
        /// May be used.
        Usable = "usable",
        /// Its edge is worn: it waits for the grinder.
        NeedsGrinding = "needs_grinding",
        /// It was ground or dropped, or is doubtful: it waits for a check.
        NeedsCheck = "needs_check",
        /// Broken or bent; it waits for a repair.
        Damaged = "damaged",
        /// Out of use for good, kept for its history.
        Retired = "retired",
    }
}

impl Condition {
    /// Only usable items are used.
    #[must_use]
    pub const fn is_usable(self) -> bool {
        matches!(self, Self::Usable)
    }
}

named! {
    /// What an item is handed out for.
    Purpose {
        /// To be used at a machine.
        Use = "use",
        /// To be ground.
        Grind = "grind",
        /// To be checked.
        Check = "check",
    }
}

named! {
    /// Where an item can be: exactly one of these at any instant.
    HolderOfRecord {
        /// In a place: bin, shelf, cart, or an address outside the shop.
        Place = "place",
        /// With a person.
        Person = "person",
        /// In or at a machine.
        Machine = "machine",
    }
}

/// Who or what has an item.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(tag = "kind", content = "id", rename_all = "snake_case")]
pub enum Keeper {
    /// A place has it.
    Place(PlaceId),
    /// A person has it.
    Person(PersonId),
    /// It is in or at a machine.
    Machine(MachineId),
}

impl Keeper {
    /// Which kind of keeper.
    #[must_use]
    pub const fn kind(self) -> HolderOfRecord {
        match self {
            Self::Place(_) => HolderOfRecord::Place,
            Self::Person(_) => HolderOfRecord::Person,
            Self::Machine(_) => HolderOfRecord::Machine,
        }
    }
}

/// Where an item is, with the name that people know it by.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Whereabouts {
    /// Who or what has it.
    pub keeper: Keeper,
    /// A place's or machine's code, a person's name.
    pub name: String,
    /// Whether the place is outside the shop: grinder, laboratory.
    pub outside: bool,
}
