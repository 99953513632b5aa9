//! Places: where items are kept, in the shop and outside.

use super::Record;
use crate::{
    field_error::{FieldError, FieldErrors},
    ids::PlaceId,
    names::named,
};

named! {
    /// What kind of place it is.
    PlaceKind {
        /// A bin in the crib.
        Bin = "bin",
        /// A shelf.
        Shelf = "shelf",
        /// A cart that goes to a machine.
        Cart = "cart",
        /// An address outside the shop: grinder, laboratory.
        Outside = "outside",
    }
}

/// What people write about a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlaceFields {
    /// Its name.
    pub name: String,
    /// What kind of place it is.
    pub kind: PlaceKind,
    /// Whether it is out of use.
    pub retired: bool,
}

/// A place on record.
pub type Place = Record<PlaceId, PlaceFields>;

impl PlaceFields {
    /// Everything that cannot be.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require_text(&self.name, 200, "/name");
        errors.into_vec()
    }
}
