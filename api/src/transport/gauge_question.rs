//! The gauge question on the wire.

use super::schema::{CodeSchema, ConditionSchema};
use crate::openapi::RefusalSchema;
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    code::Code,
    gauge::{GaugeFacts, GaugeMachine, GaugeVerdict},
    item::{Condition, HolderOfRecord},
    refusal::Refusal,
    scan::Scanned,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// What every answer to the gauge question says besides.
const CAUTION: &str = "This answer rests on what was recorded. Compare the machine marked on the gauge with the machine \
    in front of you, and follow the local lockout rules before you reach into it.";

/// Which gauge is asked about.
#[derive(Clone, Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct GaugeQuestion {
    /// The text as scanned or typed; what is not a code on record is answered as not usable.
    #[param(example = "CG-101")]
    pub gauge: String,
}

/// The names of the verdicts.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = GaugeVerdict)]
#[serde(rename_all = "snake_case")]
pub enum GaugeVerdictSchema {
    /// This machine's gauge, and it may be used now.
    Right,
    /// Another machine's gauge. It outranks everything else.
    Wrong,
    /// It may not be used now, or nothing is known of it.
    NotUsable,
}

/// The answer to the gauge question.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(example = json!({
    "verdict": "wrong",
    "machine": "M-101",
    "gauge": {
        "code": "CG-102", "name": "Centre gauge", "machine": "M-102", "stations": [], "condition": "usable",
        "next_check": "2026-12-31", "where": {"kind": "place", "code": "BIN-A1", "outside": false}
    },
    "asked_at": "2026-06-30T08:00:00Z",
    "refusals": [{
        "rule": "gauge-for-other-machine", "sentence": "Gauge CG-102 was cut for machine M-102, not for M-101.",
        "saw": "cut for M-102", "clears": "Fetch the gauge that belongs to this machine.",
        "subject": {"kind": "center_gauge", "code": "CG-102"}
    }],
    "caution": "This answer rests on what was recorded."
}))]
pub struct GaugeAnswer {
    /// Whether it is the right one and may be used now.
    #[schema(value_type = GaugeVerdictSchema)]
    pub verdict: GaugeVerdict,
    /// The machine that was asked about.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub machine: Code,
    /// The gauge, if there is a centre gauge on record under this code.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(required = false)]
    pub gauge: Option<AskedGauge>,
    /// The instant for which it is answered.
    pub asked_at: DateTime<Utc>,
    /// Everything that speaks against it; empty when it is right.
    #[schema(value_type = Vec<RefusalSchema>)]
    pub refusals: Vec<Refusal>,
    /// What the answer does not replace.
    pub caution: &'static str,
}

/// The gauge that was asked about.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct AskedGauge {
    /// Its code, also when an older one was scanned.
    #[schema(value_type = CodeSchema, example = "CG-101")]
    pub code: Code,
    /// Its name, if it has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(required = false, example = "Centre gauge")]
    pub name: Option<String>,
    /// The machine it was cut for.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub machine: Code,
    /// The stations it is limited to; empty means every station of its machine.
    #[schema(value_type = Vec<CodeSchema>)]
    pub stations: Vec<Code>,
    /// The last judgement of it.
    #[schema(value_type = ConditionSchema)]
    pub condition: Condition,
    /// The last day on which its check is in date (UTC).
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(required = false)]
    pub next_check: Option<NaiveDate>,
    /// Where it is.
    #[serde(rename = "where")]
    pub whereabouts: GaugeWhere,
    /// Where it is placed, while it is in a machine.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(required = false)]
    pub placed: Option<GaugePlaced>,
}

/// Where the gauge is.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct GaugeWhere {
    /// `place`, `person` or `machine`.
    #[schema(value_type = String, pattern = "^(place|person|machine)$", example = "place")]
    pub kind: HolderOfRecord,
    /// The place's or machine's code.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(required = false, example = "BIN-A1")]
    pub code: Option<String>,
    /// The person's name.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(required = false)]
    pub name: Option<String>,
    /// Whether it is outside the shop.
    pub outside: bool,
}

/// Where in a machine the gauge is.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct GaugePlaced {
    /// The machine.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub machine: Code,
    /// The station.
    #[schema(value_type = CodeSchema, example = "S1")]
    pub station: Code,
}

impl GaugeAnswer {
    /// The answer about a scanned gauge; `name` is the gauge's, where it is known.
    #[must_use]
    pub fn new(
        machine: GaugeMachine,
        scanned: &Scanned<GaugeFacts>,
        name: Option<String>,
        (verdict, refusals): (GaugeVerdict, Vec<Refusal>),
        asked_at: DateTime<Utc>,
    ) -> Self {
        let gauge = scanned.known().map(|gauge| AskedGauge::new(gauge, name));
        Self { verdict, machine: machine.code, gauge, asked_at, refusals, caution: CAUTION }
    }
}

impl AskedGauge {
    fn new(gauge: &GaugeFacts, name: Option<String>) -> Self {
        let place = &gauge.whereabouts;
        let kind = place.keeper.kind();
        let (code, person) = match kind {
            HolderOfRecord::Place | HolderOfRecord::Machine => (Some(place.name.clone()), None),
            HolderOfRecord::Person => (None, Some(place.name.clone())),
        };
        Self {
            code: gauge.code.clone(),
            name: name.filter(|name| !name.is_empty()),
            machine: gauge.machine_code.clone(),
            stations: gauge.stations.clone(),
            condition: gauge.condition,
            next_check: gauge.next_check,
            whereabouts: GaugeWhere { kind, code, name: person, outside: place.outside },
            placed: gauge
                .placed
                .as_ref()
                .map(|placed| GaugePlaced { machine: placed.machine_code.clone(), station: placed.station.clone() }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::GaugeVerdictSchema as Schema;
    use dovetally_core::gauge::GaugeVerdict;
    use serde_json::json;

    #[test]
    fn the_documented_verdicts_are_the_answered_ones() {
        let documented = [Schema::Right, Schema::Wrong, Schema::NotUsable].map(|verdict| json!(verdict));
        let answered: Vec<_> = GaugeVerdict::ALL.iter().map(|verdict| json!(verdict)).collect();
        assert_eq!(answered, documented);
    }
}
