//! Machines and their stations on the wire.

use super::{
    adjuster::AdjusterBody,
    schema::{CodeSchema, LengthSchema, MachineStateSchema, SpindleRotationSchema, StationKindSchema, ToolFaceSchema},
};
use crate::problem::Problem;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    length::Length,
    machine::{MachineState, SpindleRotation, StationKind, ToolFace},
    registry::machine::{CenterHeightFields, Machine, MachineFields, StationFields},
    setup::facts::GaugeInMachine,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// What is written about a machine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "code": "M-101", "name": "Six-spindle 1", "spindles": 6, "positions": 6, "cutoff_position": 6,
    "pieces_per_cycle": 1, "spindle_rotation": "counterclockwise",
    "center_height": {"nominal": {"value": 2.5, "unit": "in"}},
    "stations": [{
        "code": "S1", "position": 1, "kind": "cross_slide", "tool_face": "up",
        "adjusters": [{
            "code": "SLIDE", "name": "slide turnbuckle", "travel_per_turn": {"value": 0.05, "unit": "in"},
            "clockwise_moves": "tool_in", "seen_from": "operator's side"
        }]
    }]
}))]
pub struct MachineBody {
    /// Its code.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub code: Code,
    /// Its name.
    #[schema(example = "Six-spindle 1")]
    pub name: String,
    /// Spindles in the carrier.
    #[schema(minimum = 1, maximum = 16, example = 6)]
    pub spindles: u8,
    /// Positions at which the carrier stops.
    #[schema(minimum = 1, maximum = 16, example = 6)]
    pub positions: u8,
    /// The position at which the piece is cut off.
    #[schema(minimum = 1, maximum = 16, example = 6)]
    pub cutoff_position: u8,
    /// Pieces that drop in one cycle.
    #[schema(minimum = 1, maximum = 16, example = 1)]
    pub pieces_per_cycle: u8,
    /// Which way the spindles turn, seen from the free end of the bar.
    #[schema(value_type = SpindleRotationSchema)]
    pub spindle_rotation: SpindleRotation,
    /// The spindle centre height that the builder gives.
    pub center_height: NominalCenterHeight,
    /// How far the spindles' centre heights differ among each other, zero or more, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<LengthSchema>)]
    pub spindle_center_spread: Option<Length>,
    /// Whether it is out of the shop's use for good.
    #[serde(default)]
    pub retired: bool,
    /// Its stations. A change matches them by code: one that is missing is removed, a new code is a new station.
    pub stations: Vec<StationBody>,
}

/// The spindle centre height that the builder gives.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NominalCenterHeight {
    /// Above the slide, above zero.
    #[schema(value_type = LengthSchema)]
    pub nominal: Length,
}

/// A station of a machine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = Station)]
pub struct StationBody {
    /// Its code within the machine.
    #[schema(value_type = CodeSchema, example = "S1")]
    pub code: Code,
    /// The spindle position at which it works, from 1.
    #[schema(minimum = 1, maximum = 16, example = 1)]
    pub position: u8,
    /// What it carries.
    #[schema(value_type = StationKindSchema)]
    pub kind: StationKind,
    /// Which way its tool's cutting face looks.
    #[schema(value_type = ToolFaceSchema)]
    pub tool_face: ToolFace,
    /// Its adjusters: infeed and side screws on a cross slide, depth on an end slide. Height and taper screws are the
    /// holder's.
    #[serde(default)]
    pub adjusters: Vec<AdjusterBody>,
}

/// A machine on record, and how it stands.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct MachineView {
    /// Its id.
    #[schema(value_type = uuid::Uuid)]
    pub id: Uuid,
    /// Its code.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub code: Code,
    /// Its name.
    #[schema(example = "Six-spindle 1")]
    pub name: String,
    /// How it stands, by the records.
    #[schema(value_type = MachineStateSchema)]
    pub state: MachineState,
    /// Spindles in the carrier.
    #[schema(minimum = 1, maximum = 16, example = 6)]
    pub spindles: u8,
    /// Positions at which the carrier stops.
    #[schema(minimum = 1, maximum = 16, example = 6)]
    pub positions: u8,
    /// The position at which the piece is cut off.
    #[schema(minimum = 1, maximum = 16, example = 6)]
    pub cutoff_position: u8,
    /// Pieces that drop in one cycle.
    #[schema(minimum = 1, maximum = 16, example = 1)]
    pub pieces_per_cycle: u8,
    /// Which way the spindles turn, seen from the free end of the bar.
    #[schema(value_type = SpindleRotationSchema)]
    pub spindle_rotation: SpindleRotation,
    /// The spindle centre height: the builder's, and the newest measurement.
    pub center_height: CenterHeightNow,
    /// How far the spindles' centre heights differ among each other, where known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<LengthSchema>)]
    pub spindle_center_spread: Option<Length>,
    /// The last instant at which the spindle centres may have moved: gauges checked before it are stale.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub centers_may_have_moved_at: Option<DateTime<Utc>>,
    /// Whether it is out of the shop's use for good.
    pub retired: bool,
    /// Its stations, by position and code.
    pub stations: Vec<StationBody>,
    /// The id of the setup that is open on it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<uuid::Uuid>)]
    pub open_setup: Option<Uuid>,
    /// The centre gauges that are recorded as being in it.
    pub gauges_in_machine: Vec<GaugeInMachineView>,
    /// When it was put on record.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub created_at: DateTime<Utc>,
    /// When its record was last changed.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub updated_at: DateTime<Utc>,
}

/// A machine's spindle centre height.
#[derive(Clone, Copy, Debug, Serialize, ToSchema)]
pub struct CenterHeightNow {
    /// What the builder gives, above the slide.
    #[schema(value_type = LengthSchema)]
    pub nominal: Length,
    /// The newest measurement; absent while never measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<LengthSchema>)]
    pub measured: Option<Length>,
    /// That measurement's standard uncertainty.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<LengthSchema>)]
    pub standard_uncertainty: Option<Length>,
}

/// A centre gauge in a machine.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct GaugeInMachineView {
    /// The gauge's code.
    #[schema(value_type = CodeSchema, example = "CG-101")]
    pub code: Code,
    /// The station at which it was placed.
    #[schema(value_type = CodeSchema, example = "S1")]
    pub station: Code,
}

/// How a machine stands, by other records than its own.
#[derive(Clone, Debug)]
pub struct MachineStanding {
    /// Its state.
    pub state: MachineState,
    /// The newest measurement of its spindle centre height.
    pub center_height: Option<CenterHeightFields>,
    /// The setup that is open on it.
    pub open_setup: Option<Uuid>,
    /// The gauges in it.
    pub gauges: Vec<GaugeInMachine>,
}

impl MachineBody {
    /// The trade's fields.
    ///
    /// # Errors
    /// 422 for an adjuster whose travel is not given once.
    pub fn fields(&self) -> Result<MachineFields, Problem> {
        let stations = self.stations.iter().enumerate();
        let stations = stations.map(|(index, station)| station.fields(&format!("/stations/{index}")));
        Ok(MachineFields {
            name: self.name.clone(),
            spindles: self.spindles,
            positions: self.positions,
            cutoff_position: self.cutoff_position,
            pieces_per_cycle: self.pieces_per_cycle,
            spindle_rotation: self.spindle_rotation,
            center_height_nominal: self.center_height.nominal,
            spindle_center_spread: self.spindle_center_spread,
            retired: self.retired,
            stations: stations.collect::<Result<_, _>>()?,
        })
    }
}

impl StationBody {
    fn fields(&self, at: &str) -> Result<StationFields, Problem> {
        Ok(StationFields {
            code: self.code.clone(),
            position: self.position,
            kind: self.kind,
            tool_face: self.tool_face,
            adjusters: AdjusterBody::parse_all(self.adjusters.clone(), &format!("{at}/adjusters"))?,
        })
    }
}

impl From<&StationFields> for StationBody {
    fn from(station: &StationFields) -> Self {
        Self {
            code: station.code.clone(),
            position: station.position,
            kind: station.kind,
            tool_face: station.tool_face,
            adjusters: station.adjusters.iter().map(AdjusterBody::from).collect(),
        }
    }
}

impl From<&Machine> for MachineBody {
    fn from(machine: &Machine) -> Self {
        let fields = &machine.record.fields;
        Self {
            code: machine.record.code.clone(),
            name: fields.name.clone(),
            spindles: fields.spindles,
            positions: fields.positions,
            cutoff_position: fields.cutoff_position,
            pieces_per_cycle: fields.pieces_per_cycle,
            spindle_rotation: fields.spindle_rotation,
            center_height: NominalCenterHeight { nominal: fields.center_height_nominal },
            spindle_center_spread: fields.spindle_center_spread,
            retired: fields.retired,
            stations: fields.stations.iter().map(StationBody::from).collect(),
        }
    }
}

impl MachineView {
    /// A machine as clients see it.
    #[must_use]
    pub fn new(machine: &Machine, standing: MachineStanding) -> Self {
        let (record, fields) = (&machine.record, &machine.record.fields);
        let newest = standing.center_height.as_ref();
        let gauges = standing.gauges.into_iter();
        Self {
            id: record.id.uuid(),
            code: record.code.clone(),
            name: fields.name.clone(),
            state: standing.state,
            spindles: fields.spindles,
            positions: fields.positions,
            cutoff_position: fields.cutoff_position,
            pieces_per_cycle: fields.pieces_per_cycle,
            spindle_rotation: fields.spindle_rotation,
            center_height: CenterHeightNow {
                nominal: fields.center_height_nominal,
                measured: newest.map(|height| height.measured),
                standard_uncertainty: newest.map(|height| height.standard_uncertainty),
            },
            spindle_center_spread: fields.spindle_center_spread,
            centers_may_have_moved_at: machine.centers_may_have_moved_at,
            retired: fields.retired,
            stations: fields.stations.iter().map(StationBody::from).collect(),
            open_setup: standing.open_setup,
            gauges_in_machine: gauges
                .map(|gauge| GaugeInMachineView { code: gauge.code, station: gauge.station })
                .collect(),
            created_at: record.created_at,
            updated_at: record.updated_at,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::MachineBody;
    use crate::problem::Place;
    use serde_json::{Value, json};

    fn machine() -> Value {
        json!({
            "code": "m-101", "name": "Six-spindle 1", "spindles": 6, "positions": 6, "cutoff_position": 6,
            "pieces_per_cycle": 1, "spindle_rotation": "counterclockwise",
            "center_height": {"nominal": {"value": 2.5, "unit": "in"}},
            "stations": [{
                "code": "S1", "position": 1, "kind": "cross_slide", "tool_face": "up",
                "adjusters": [{
                    "code": "SLIDE", "name": "slide turnbuckle", "travel_per_turn": {"value": 0.05, "unit": "in"},
                    "clockwise_moves": "tool_in", "seen_from": "operator's side"
                }]
            }]
        })
    }

    #[test]
    fn a_machine_is_read_whole() {
        let body: MachineBody = serde_json::from_value(machine()).unwrap();
        let fields = body.fields().unwrap();
        assert!(fields.check().is_empty());
        assert_eq!(body.code.as_str(), "M-101");
        assert_eq!(fields.center_height_nominal.picometres(), 63_500_000_000);
        assert_eq!(fields.stations[0].adjusters[0].travel_per_turn().picometres(), 1_270_000_000);
    }

    #[test]
    fn an_adjuster_without_travel_is_pointed_at() {
        let mut value = machine();
        let adjuster = value.pointer_mut("/stations/0/adjusters/0").and_then(Value::as_object_mut).unwrap();
        adjuster.remove("travel_per_turn");
        let body: MachineBody = serde_json::from_value(value).unwrap();
        let problem = body.fields().unwrap_err();
        assert_eq!(problem.faults()[0].place, Place::Pointer("/stations/0/adjusters/0".to_owned()));
    }
}
