//! Parts: what they ask of each station.

use super::{MUST_BE_POSITIVE, Record, is_positive};
use crate::{
    code::Code,
    field_error::{FieldError, FieldErrors},
    ids::PartId,
    setup::plan::Operation,
};
use std::collections::BTreeSet;

/// What people write about a part.
#[derive(Clone, Debug, PartialEq)]
pub struct PartFields {
    /// Its name.
    pub name: String,
    /// Whether it is out of use.
    pub retired: bool,
    /// The time of one machine cycle, in seconds, where it is known.
    pub cycle_seconds: Option<f64>,
    /// What it asks of each station, by the station's code.
    pub operations: Vec<(Code, Operation)>,
}

/// A part on record.
pub type Part = Record<PartId, PartFields>;

impl PartFields {
    /// Everything that cannot be.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require_text(&self.name, 200, "/name");
        errors.require(
            self.cycle_seconds.is_none_or(|seconds| seconds > 0.0 && seconds <= 86_400.0),
            "/cycle_seconds",
            "must be above 0 and at most 86400",
        );
        errors.require(!self.operations.is_empty(), "/operations", "a part has at least one operation");
        let stations: BTreeSet<&Code> = self.operations.iter().map(|(station, _)| station).collect();
        errors.require(stations.len() == self.operations.len(), "/operations", "name each station once");
        for (index, (_, operation)) in self.operations.iter().enumerate() {
            let at = format!("/operations/{index}");
            if let Some(style) = &operation.holder_style {
                errors.require_text(style, 64, &format!("{at}/holder_style"));
            }
            let codes: BTreeSet<&Code> = operation.features.iter().map(|feature| &feature.code).collect();
            errors.require(
                codes.len() == operation.features.len(),
                format!("{at}/features"),
                "each feature of an operation needs a code of its own",
            );
            for (number, feature) in operation.features.iter().enumerate() {
                errors.require_text(&feature.name, 100, &format!("{at}/features/{number}/name"));
                errors.require(
                    is_positive(feature.target),
                    format!("{at}/features/{number}/target/value"),
                    MUST_BE_POSITIVE,
                );
            }
        }
        errors.into_vec()
    }
}
