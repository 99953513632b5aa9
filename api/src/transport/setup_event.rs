//! Setup events on the wire: `kind` says which fields go with it.

use super::schema::{CodeSchema, DirectionSchema, HeightPhaseSchema, LengthSchema};
use crate::{extract::from_value, problem::Problem};
use chrono::{DateTime, Utc};
use dovetally_core::{
    adjuster::Turn,
    code::Code,
    length::Length,
    setup::event::{EventKind, HeightPhase},
};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use utoipa::ToSchema;

/// One measured size.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SizeReadingBody {
    /// The feature's code in the part's operation at this station.
    #[schema(value_type = CodeSchema, example = "D1")]
    pub feature: Code,
    /// The size read.
    #[schema(value_type = LengthSchema)]
    pub value: Length,
}

/// One size of a first piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FirstPieceReadingBody {
    /// The station that makes the feature.
    #[schema(value_type = CodeSchema, example = "S1")]
    pub station: Code,
    /// The feature's code.
    #[schema(value_type = CodeSchema, example = "D1")]
    pub feature: Code,
    /// The spindle that the piece came from, from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spindle: Option<u8>,
    /// The size read.
    #[schema(value_type = LengthSchema)]
    pub value: Length,
}

macro_rules! events {
    ($($(#[$doc:meta])* $variant:ident = $kind:literal { $($(#[$field_meta:meta])* $field:ident: $type:ty,)* })*) => {
        /// What a person records of a setup. `kind` decides which fields there are.
        #[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
        #[serde(tag = "kind", rename_all = "snake_case")]
        #[schema(example = json!({"kind": "gauge_placed", "station": "S1", "gauge": "CG-101", "machine_stopped": true}))]
        pub enum EventBody {
            $($(#[$doc])* $variant {
                $($(#[$field_meta])* $field: $type,)*
                /// When it happened, at most 2 minutes ahead and 7 days back; now when left out.
                #[schema(required = false, value_type = Option<chrono::DateTime<chrono::Utc>>)]
                occurred_at: Option<DateTime<Utc>>,
            },)*
        }

        impl EventBody {
            /// When it happened, as the person says.
            #[must_use]
            pub const fn occurred_at(&self) -> Option<DateTime<Utc>> {
                match self { $(Self::$variant { occurred_at, .. } => *occurred_at,)* }
            }

            /// Its kind.
            #[must_use]
            pub const fn kind(&self) -> EventKind {
                match self { $(Self::$variant { .. } => EventKind::$variant,)* }
            }

            /// Reads a body: first its kind, then the fields of that kind, so that every fault has its pointer.
            ///
            /// # Errors
            /// 422 for an unknown kind or a field that does not fit.
            pub fn parse(mut body: Map<String, Value>) -> Result<Self, Problem> {
                let kind = body.remove("kind").ok_or_else(|| Problem::field("/kind", "is missing"))?;
                match kind.as_str() {
                    $(Some($kind) => {
                        #[derive(Deserialize, ToSchema)]
                        #[serde(deny_unknown_fields)]
                        struct Fields {
                            $($(#[$field_meta])* $field: $type,)*
                            #[serde(default)]
                            occurred_at: Option<DateTime<Utc>>,
                        }
                        let fields: Fields = from_value(Value::Object(body))?;
                        Ok(Self::$variant { $($field: fields.$field,)* occurred_at: fields.occurred_at })
                    })*
                    _ => {
                        let kinds = [$($kind),*].join(", ");
                        Err(Problem::field("/kind", format!("is one of {kinds}")))
                    }
                }
            }
        }
    };
}

events! {
    /// A holder is on its seat.
    HolderSeated = "holder_seated" {
        /// The station.
        #[schema(value_type = CodeSchema)]
        station: Code,
        /// The holder's code as scanned.
        #[schema(example = "HD-01")]
        holder: String,
        /// The seat is clean and free of burrs.
        seat_clean: bool,
        /// The holder sits flush on the slide.
        seated_flush: bool,
        /// The side screw is free.
        side_screw_free: bool,
    }
    /// A tool is in the holder, its screws nipped and not tight.
    ToolInserted = "tool_inserted" {
        /// The station.
        #[schema(value_type = CodeSchema)]
        station: Code,
        /// The tool's code as scanned.
        #[schema(example = "FT-001")]
        form_tool: String,
    }
    /// A centre gauge is in the machine, which the person confirms to be stopped.
    GaugePlaced = "gauge_placed" {
        /// The station.
        #[schema(value_type = CodeSchema)]
        station: Code,
        /// The gauge's code as scanned.
        #[schema(example = "CG-101")]
        gauge: String,
        /// The person has stopped the machine. The program cannot see the spindles.
        machine_stopped: bool,
    }
    /// The height of the foremost edge on the gauge.
    HeightRead = "height_read" {
        /// The station.
        #[schema(value_type = CodeSchema)]
        station: Code,
        /// Before or after clamping.
        #[schema(value_type = HeightPhaseSchema)]
        phase: HeightPhase,
        /// Edge minus gauge, above zero where the edge lies past the gauge against the work's motion (up for an upright tool,
        /// down for an inverted one); either this or `on_gauge: true`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(value_type = Option<LengthSchema>)]
        deviation: Option<Length>,
        /// The edge is on the gauge, no deviation seen.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        on_gauge: Option<bool>,
    }
    /// The tool is clamped.
    ToolClamped = "tool_clamped" {
        /// The station.
        #[schema(value_type = CodeSchema)]
        station: Code,
    }
    /// The tool is unclamped again.
    ToolUnclamped = "tool_unclamped" {
        /// The station.
        #[schema(value_type = CodeSchema)]
        station: Code,
    }
    /// The tool is out of its station, in the person's hands.
    ToolRemoved = "tool_removed" {
        /// The station.
        #[schema(value_type = CodeSchema)]
        station: Code,
        /// The tool's code as scanned.
        #[schema(example = "FT-001")]
        form_tool: String,
    }
    /// The holder is off its slide, in the person's hands, and with it the tool in it.
    HolderRemoved = "holder_removed" {
        /// The station.
        #[schema(value_type = CodeSchema)]
        station: Code,
        /// The holder's code as scanned.
        #[schema(example = "HD-01")]
        holder: String,
    }
    /// The gauge is out of the machine, in the person's hands.
    GaugeRemoved = "gauge_removed" {
        /// The station.
        #[schema(value_type = CodeSchema)]
        station: Code,
        /// The gauge's code as scanned.
        #[schema(example = "CG-101")]
        gauge: String,
    }
    /// Stock is in every spindle.
    StockFed = "stock_fed" {
        /// The bar's diameter, or its size across flats.
        #[schema(value_type = LengthSchema)]
        bar_diameter: Length,
        /// Round, hexagon, square.
        #[schema(example = "round")]
        bar_shape: String,
        /// The heat or lot of the stock.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        heat: Option<String>,
    }
    /// One full turn of the carrier by hand struck nothing.
    IndexClearanceConfirmed = "index_clearance_confirmed" {
        /// It is so.
        confirmed: bool,
    }
    /// The gap between form and bar when the working part of the cycle begins.
    ApproachRead = "approach_read" {
        /// The station.
        #[schema(value_type = CodeSchema)]
        station: Code,
        /// The gap.
        #[schema(value_type = LengthSchema)]
        gap: Length,
    }
    /// The machine turns for a trial.
    TrialCutBegun = "trial_cut_begun" {}
    /// Sizes of a piece at one station.
    SizesRead = "sizes_read" {
        /// The station.
        #[schema(value_type = CodeSchema)]
        station: Code,
        /// The piece's number since trial cutting began, from 1.
        #[schema(minimum = 1)]
        piece: u64,
        /// The spindle that it came from, from 1.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        spindle: Option<u8>,
        /// The sizes.
        readings: Vec<SizeReadingBody>,
    }
    /// The depth that an end slide's tool reached.
    DepthRead = "depth_read" {
        /// The station.
        #[schema(value_type = CodeSchema)]
        station: Code,
        /// The piece's number since trial cutting began, from 1.
        #[schema(minimum = 1)]
        piece: u64,
        /// The spindle that it came from, from 1.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        spindle: Option<u8>,
        /// From the finished face to the tip; either this or `mouth_diameter`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(value_type = Option<LengthSchema>)]
        depth: Option<Length>,
        /// The mouth of a centre-drilled hole.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(value_type = Option<LengthSchema>)]
        mouth_diameter: Option<Length>,
    }
    /// A screw was turned.
    Adjusted = "adjusted" {
        /// The station.
        #[schema(value_type = CodeSchema)]
        station: Code,
        /// The adjuster's code at the station or on its holder.
        #[schema(value_type = CodeSchema, example = "SLIDE")]
        adjuster: Code,
        /// Turns, 0 to 1000; the direction says which way.
        #[schema(minimum = 0, maximum = 1000, example = 0.25)]
        turns: f64,
        /// Seen from where the adjuster says.
        #[schema(value_type = DirectionSchema)]
        direction: Turn,
        /// For taper and side screws: the holder is tight again.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        holder_retightened: Option<bool>,
        /// For taper and side screws: the side screw is free again.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        side_screw_free: Option<bool>,
    }
    /// A first piece was judged.
    FirstPieceJudged = "first_piece_judged" {
        /// Whether it is good.
        accepted: bool,
        /// The piece's number since trial cutting began.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        piece: Option<u64>,
        /// Its sizes: for acceptance every feature of every station.
        readings: Vec<FirstPieceReadingBody>,
    }
    /// The run is released.
    RunReleased = "run_released" {}
    /// An inspector judged what a provisional release made. Accepted, a run goes on without limits; rejected, its release
    /// is withdrawn.
    HeldPiecesJudged = "held_pieces_judged" {
        /// Whether the pieces are good.
        accepted: bool,
        /// Sizes of them: for acceptance every feature of every station. A feature may be read of several pieces.
        readings: Vec<FirstPieceReadingBody>,
    }
    /// The run is stopped.
    RunStopped = "run_stopped" {
        /// Pieces made since the release.
        #[schema(minimum = 0)]
        pieces: u64,
        /// Why.
        reason: String,
        /// That a count that can hardly be was looked at again, and is so: more pieces than the machine can have made
        /// since the release, or fewer than the piece numbers read since tell of.
        #[serde(default)]
        confirmed: bool,
    }
    /// Something was struck.
    CrashReported = "crash_reported" {
        /// Where.
        #[schema(value_type = CodeSchema)]
        station: Code,
    }
    /// Somebody else takes over.
    HandedOver = "handed_over" {
        /// Their badge.
        #[schema(example = "setter-2")]
        to: String,
    }
    /// The setup is done.
    Closed = "closed" {
        /// Why.
        reason: String,
    }
    /// The setup is given up.
    Abandoned = "abandoned" {
        /// Why.
        reason: String,
    }
}

#[cfg(test)]
mod tests {
    use super::EventBody;
    use crate::problem::{Place, Problem};
    use dovetally_core::setup::event::EventKind;
    use serde_json::{Value, json};

    fn parse(body: Value) -> Result<EventBody, Problem> {
        match body {
            Value::Object(map) => EventBody::parse(map),
            _ => panic!("an object"),
        }
    }

    #[test]
    fn the_kind_decides_the_fields() {
        let placed = json!({"kind": "gauge_placed", "station": "s1", "gauge": "CG-101", "machine_stopped": true});
        assert_eq!(parse(placed).unwrap().kind(), EventKind::GaugePlaced);
        assert_eq!(parse(json!({"kind": "run_released"})).unwrap().kind(), EventKind::RunReleased);
    }

    #[test]
    fn every_fault_has_its_pointer() {
        for (body, at) in [
            (json!({}), "/kind"),
            (json!({"kind": "danced"}), "/kind"),
            (json!({"kind": "run_released", "now": true}), "/now"),
            (json!({"kind": "tool_clamped"}), "/station"),
            (json!({"kind": "approach_read", "station": "S1", "gap": {"value": 0.01}}), "/gap/unit"),
            (
                json!({"kind": "sizes_read", "station": "S1", "piece": 1,
                    "readings": [{"feature": "D1", "value": {"value": 1, "unit": "cm"}}]}),
                "/readings/0/value/unit",
            ),
        ] {
            let problem = parse(body.clone()).unwrap_err();
            assert!(
                problem.faults().iter().any(|fault| fault.place == Place::Pointer(at.to_owned())),
                "{body}: {problem:?}"
            );
        }
    }
}
