//! Parts and their operations on the wire.

use super::schema::{CodeSchema, DeviationsSchema, FeatureKindSchema, LengthSchema};
use crate::problem::Problem;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    registry::part::{Part, PartFields},
    setup::plan::{DesignRef, Feature, FeatureKind, Operation},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// One dimension that an operation makes.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Feature, example = json!({
    "code": "D1", "name": "head diameter", "kind": "diameter", "target": {"value": 0.375, "unit": "in"},
    "tolerance": {"lower": {"value": -0.002, "unit": "in"}, "upper": {"value": 0, "unit": "in"}}
}))]
pub struct FeatureSchema {
    /// Its code within the operation.
    #[schema(value_type = CodeSchema, example = "D1")]
    code: Code,
    /// Its name for sentences.
    #[schema(example = "head diameter")]
    name: String,
    /// What kind of dimension it is.
    #[schema(value_type = FeatureKindSchema)]
    kind: FeatureKind,
    /// The nominal size, above zero.
    target: LengthSchema,
    /// Signed deviations from the target.
    tolerance: DeviationsSchema,
    /// For a length along the bar: from which end it is measured. Without it no side screw is advised.
    #[serde(skip_serializing_if = "Option::is_none")]
    measured_from: Option<LengthMeasuredFrom>,
}

/// From which end a length along the bar is measured.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LengthMeasuredFrom {
    /// From the free end of the bar.
    FreeEnd,
    /// From the cut-off end, at the collet.
    ColletEnd,
}

/// What a part asks of one station.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = Operation)]
pub struct OperationBody {
    /// The station's code: any machine with such a station may make the part.
    #[schema(value_type = CodeSchema, example = "S1")]
    pub station: Code,
    /// The form tool's design; left out where the tool has no form of its own: cut-off, drill.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub tool_design: Option<Code>,
    /// The holder's style; left out where any style serves.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "DT-A")]
    pub holder_style: Option<String>,
    /// What this operation makes, each with a code of its own.
    #[serde(default)]
    #[schema(value_type = Vec<FeatureSchema>)]
    pub features: Vec<Feature>,
}

/// What is written about a part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "code": "P-2001", "name": "Shoulder stud",
    "operations": [{
        "station": "S1", "tool_design": "TD-11", "holder_style": "DT-A",
        "features": [{
            "code": "D1", "name": "head diameter", "kind": "diameter", "target": {"value": 0.375, "unit": "in"},
            "tolerance": {"lower": {"value": -0.002, "unit": "in"}, "upper": {"value": 0, "unit": "in"}}
        }]
    }]
}))]
pub struct PartBody {
    /// Its code.
    #[schema(value_type = CodeSchema, example = "P-2001")]
    pub code: Code,
    /// Its name.
    #[schema(example = "Shoulder stud")]
    pub name: String,
    /// Whether it is out of use.
    #[serde(default)]
    pub retired: bool,
    /// The time of one machine cycle, in seconds, where it is known: the ends of jobs are estimated from it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(exclusive_minimum = 0, maximum = 86400, example = 7.5)]
    pub cycle_seconds: Option<f64>,
    /// What it asks of each station, at least one, each station once.
    pub operations: Vec<OperationBody>,
}

/// A part on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct PartView {
    /// Its id.
    #[schema(value_type = uuid::Uuid)]
    pub id: Uuid,
    /// Its code.
    #[schema(value_type = CodeSchema, example = "P-2001")]
    pub code: Code,
    /// Its name.
    #[schema(example = "Shoulder stud")]
    pub name: String,
    /// Whether it is out of use.
    pub retired: bool,
    /// The time of one machine cycle, in seconds, where it is known.
    pub cycle_seconds: Option<f64>,
    /// What it asks of each station, by the station's code.
    pub operations: Vec<OperationBody>,
    /// When it was put on record.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub updated_at: DateTime<Utc>,
}

impl PartBody {
    /// The trade's fields. `design` finds the design behind a code; the text is the pointer to that code.
    ///
    /// # Errors
    /// What `design` says of a code that names no design.
    pub fn fields(
        &self,
        mut design: impl FnMut(&Code, &str) -> Result<DesignRef, Problem>,
    ) -> Result<PartFields, Problem> {
        let mut operations = Vec::with_capacity(self.operations.len());
        for (index, body) in self.operations.iter().enumerate() {
            let tool_design = match &body.tool_design {
                None => None,
                Some(code) => Some(design(code, &format!("/operations/{index}/tool_design"))?),
            };
            let operation =
                Operation { tool_design, holder_style: body.holder_style.clone(), features: body.features.clone() };
            operations.push((body.station.clone(), operation));
        }
        Ok(PartFields { name: self.name.clone(), retired: self.retired, cycle_seconds: self.cycle_seconds, operations })
    }
}

impl From<&(Code, Operation)> for OperationBody {
    fn from((station, operation): &(Code, Operation)) -> Self {
        Self {
            station: station.clone(),
            tool_design: operation.tool_design.as_ref().map(|design| design.code.clone()),
            holder_style: operation.holder_style.clone(),
            features: operation.features.clone(),
        }
    }
}

impl From<&Part> for PartBody {
    fn from(part: &Part) -> Self {
        Self {
            code: part.code.clone(),
            name: part.fields.name.clone(),
            retired: part.fields.retired,
            cycle_seconds: part.fields.cycle_seconds,
            operations: part.fields.operations.iter().map(OperationBody::from).collect(),
        }
    }
}

impl From<&Part> for PartView {
    fn from(part: &Part) -> Self {
        Self {
            id: part.id.uuid(),
            code: part.code.clone(),
            name: part.fields.name.clone(),
            retired: part.fields.retired,
            cycle_seconds: part.fields.cycle_seconds,
            operations: part.fields.operations.iter().map(OperationBody::from).collect(),
            created_at: part.created_at,
            updated_at: part.updated_at,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::PartBody;
    use crate::problem::{Place, Problem};
    use serde_json::json;

    #[test]
    fn an_unknown_design_is_pointed_at() {
        let body: PartBody = serde_json::from_value(json!({
            "code": "P-1", "name": "Stud",
            "operations": [{"station": "S1"}, {"station": "S2", "tool_design": "td-9"}],
        }))
        .unwrap();
        let problem = body.fields(|code, at| Err(Problem::field(at, format!("no {code}")))).unwrap_err();
        assert_eq!(problem.faults()[0].place, Place::Pointer("/operations/1/tool_design".to_owned()));
        assert_eq!(problem.faults()[0].detail, "no TD-9");
    }
}
