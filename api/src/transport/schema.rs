//! The OpenAPI schemas of the trade's leaf types.

use dovetally_core::{
    adjuster::{Arrangement, Hand, Motion, Turn},
    floor::Need,
    gauge::{check::GaugeProof, impact::TouchedKind, impact_document::Outcome},
    holder::HolderFinding,
    item::{Condition, HolderOfRecord, ItemKind, Purpose},
    life::{check::ToolFinding, edge::EdgeEnd, ownership::ConsentKind, regrind::GrindKind},
    machine::{MachineState, SpindleRotation, StationKind, ToolFace},
    maintenance::{Measure, PlanState},
    people::Role,
    planning::report::{NeedKind, Readiness},
    registry::{job::JobState, place::PlaceKind, tool_design::ToolDesignKind},
    setup::{
        event::{EventKind, HeightPhase},
        plan::{FeatureKind, HolderMoveRecheck},
        state::SetupState,
    },
    supply::SupplyMovementKind,
    work_order::{Touched, WorkOrderState},
};
use dovetally_db::custody::MovementKind;
use serde::Serialize;
use std::borrow::Cow;
use utoipa::{
    PartialSchema, ToSchema,
    openapi::{
        RefOr,
        schema::{ObjectBuilder, Schema, Type},
    },
};

/// An exact length in the unit in which it was entered.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Length, example = json!({"value": 0.75, "unit": "in"}))]
pub struct LengthSchema {
    /// The value in its unit, within ±10,000; exact to the picometre.
    #[schema(minimum = -10000, maximum = 10000)]
    value: f64,
    /// `in` (inch, exactly 25.4 mm) or `mm`.
    unit: UnitSchema,
}

/// A unit of length.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = LengthUnit)]
pub enum UnitSchema {
    /// Inch.
    #[serde(rename = "in")]
    Inch,
    /// Millimetre.
    #[serde(rename = "mm")]
    Millimetre,
}

/// Signed deviations from a nominal size, lower not above upper.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Deviations, example = json!({"lower": {"value": -0.002, "unit": "in"}, "upper": {"value": 0, "unit": "in"}}))]
pub struct DeviationsSchema {
    /// The lower deviation.
    lower: LengthSchema,
    /// The upper deviation.
    upper: LengthSchema,
}

/// A code as people scan and type it; letters are upper-cased on entry.
#[derive(Debug)]
pub struct CodeSchema;

impl PartialSchema for CodeSchema {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new()
            .schema_type(Type::String)
            .description(Some(
                "A code as people scan and type it. It is upper-cased on entry, unique over everything scannable and never used again.",
            ))
            .pattern(Some("^[A-Za-z0-9][A-Za-z0-9._-]{0,31}$"))
            .min_length(Some(1))
            .max_length(Some(32))
            .examples([serde_json::json!("B-12")])
            .build()
            .into()
    }
}

impl ToSchema for CodeSchema {
    fn name() -> Cow<'static, str> {
        "Code".into()
    }
}

macro_rules! enum_schemas {
    ($($schema:ident = $type:ident, $name:literal, $description:literal;)*) => {$(
        #[doc = $description]
        #[derive(Debug)]
        pub struct $schema;

        impl PartialSchema for $schema {
            fn schema() -> RefOr<Schema> {
                ObjectBuilder::new()
                    .schema_type(Type::String)
                    .description(Some($description))
                    .enum_values(Some($type::ALL.iter().map(|value| value.name())))
                    .build()
                    .into()
            }
        }

        impl ToSchema for $schema {
            fn name() -> Cow<'static, str> {
                $name.into()
            }
        }
    )*};
}

enum_schemas! {
    PlaceKindSchema = PlaceKind, "PlaceKind", "What kind of place it is; `outside` is an address outside the shop.";
    StationKindSchema = StationKind, "StationKind", "What a station carries.";
    ToolFaceSchema = ToolFace, "ToolFace", "Which way the cutting face looks.";
    MachineStateSchema = MachineState, "MachineState", "What people see of a machine. `tagged_out` is a record, not a lock.";
    NeedSchema = Need, "Need", "What a machine needs: that a tag-out is cleared, the run stopped, pieces judged, the setup taken up, a job planned, or nothing.";
    SpindleRotationSchema = SpindleRotation, "SpindleRotation", "Which way the spindles turn, seen from the free end of the bar.";
    MotionSchema = Motion, "Motion", "What a clockwise turn does; it also says what the adjuster corrects.";
    HandSchema = Hand, "Hand", "The hand of a thread.";
    ArrangementSchema = Arrangement, "Arrangement", "How threads work together: pitches add in a turnbuckle, subtract in a differential screw.";
    ToolDesignKindSchema = ToolDesignKind, "ToolDesignKind", "How the tool is made.";
    ItemKindSchema = ItemKind, "ItemKind", "The kind of a serialised item.";
    KeeperKindSchema = HolderOfRecord, "KeeperKind", "What has an item: a place, a person or a machine.";
    MovementKindSchema = MovementKind, "MovementKind", "Why an item moved.";
    ConditionSchema = Condition, "Condition", "Whether an item may be used, as somebody last judged it.";
    GaugeProofSchema = GaugeProof, "GaugeProof", "What a measurement proves of a gauge: inside its limits, outside them, or neither.";
    TouchedKindSchema = TouchedKind, "TouchedKind", "What kind of thing a gauge has touched.";
    ImpactOutcomeSchema = Outcome, "ImpactOutcome", "What became of something that a gauge has touched.";
    HolderFindingSchema = HolderFinding, "HolderFinding", "What may be found on a holder.";
    PurposeSchema = Purpose, "Purpose", "What an item is handed out for.";
    FeatureKindSchema = FeatureKind, "FeatureKind", "What kind of dimension a feature is.";
    ReadinessSchema = Readiness, "Readiness", "How a job or one of its needs stands.";
    NeedKindSchema = NeedKind, "NeedKind", "What a job needs.";
    JobStateSchema = JobState, "JobState", "Where a job stands.";
    DirectionSchema = Turn, "Direction", "The sense of a turn, seen from where the adjuster says.";
    HeightPhaseSchema = HeightPhase, "HeightPhase", "Before or after clamping.";
    EventKindSchema = EventKind, "EventKind", "The kind of a setup event.";
    SetupStateSchema = SetupState, "SetupState", "Where a setup stands.";
    GrindKindSchema = GrindKind, "GrindKind", "How far a grind goes: `full` makes a new edge; `touch_up` takes no height, and the pieces on the edge keep counting; `partial` takes height but leaves some wear, and the pieces keep counting.";
    EdgeEndSchema = EdgeEnd, "EdgeEnd", "How an edge ended.";
    ToolFindingSchema = ToolFinding, "ToolFinding", "What a check found on a form tool.";
    ConsentKindSchema = ConsentKind, "ConsentKind", "What an owner consents to: grinding the tool, scrapping it, lending it to another part.";
    MeasureSchema = Measure, "Measure", "What an interval counts.";
    PlanStateSchema = PlanState, "PlanState", "Whether a plan is to be done: `due` from a share of an interval on, `overdue` beyond it.";
    WorkOrderStateSchema = WorkOrderState, "WorkOrderState", "Where a work order stands.";
    TouchedSchema = Touched, "Touched", "What work on a machine touched that the height of the spindle centres hangs on.";
    SupplyMovementKindSchema = SupplyMovementKind, "SupplyMovementKind", "Why what is on hand changed.";
    RoleSchema = Role, "Role", "What a person does in the shop.";
    HolderMoveRecheckSchema = HolderMoveRecheck, "HolderMoveRecheck", "What a taper or side-screw adjustment asks of the height after clamping.";
}
