//! `cutting`: spindle speed, feed, cutting time, cycle and pieces per hour.

use super::{
    answer::{Answer, Calculation, Source, Work},
    error::{CalculationError, Reader},
    rounding::rounded,
    schema,
};
use crate::length::LengthUnit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// The calculation.
#[derive(Debug)]
pub struct Cutting;

/// The cut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "CuttingRequest")]
pub struct Request {
    /// The unit of all lengths; surface speed is feet per minute with `in`, metres per minute with `mm`.
    pub unit: LengthUnit,
    /// The diameter at which the surface speed holds.
    #[schemars(transform = schema::positive_length)]
    pub diameter: f64,
    /// Surface speed; or give `rpm`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive)]
    pub surface_speed: Option<f64>,
    /// Revolutions per minute; or give `surface_speed`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive, range(max = 1_000_000))]
    pub rpm: Option<f64>,
    /// Feed in one revolution.
    #[schemars(transform = schema::positive_length)]
    pub feed_per_revolution: f64,
    /// How deep the tool forms, on the radius; or give `length`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub radial_depth: Option<f64>,
    /// How far the tool cuts along the axis; or give `radial_depth`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub length: Option<f64>,
    /// Air cut before the tool meets the work.
    #[serde(default)]
    #[schemars(transform = schema::not_negative_length)]
    pub approach: f64,
    /// Time of a cycle in which nothing is cut: index, stock feed.
    #[schemars(range(min = 0, max = 1_000_000))]
    pub idle_seconds: f64,
    /// Share of the time in which the machine runs, above 0 and up to 1.
    #[serde(default = "one")]
    #[schemars(transform = schema::fraction)]
    pub efficiency: f64,
}

const fn one() -> f64 {
    1.0
}

/// The times.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "CuttingResult")]
pub struct Times {
    /// Revolutions per minute.
    pub rpm: f64,
    /// Surface speed at the diameter, feet or metres per minute.
    pub surface_speed: f64,
    /// Revolutions of the spindle while the tool feeds.
    pub revolutions: f64,
    /// Seconds while the tool feeds.
    pub cut_seconds: f64,
    /// Cutting and idle seconds together; one piece falls in each cycle.
    pub cycle_seconds: f64,
    /// Pieces in an hour without a stop.
    pub gross_per_hour: f64,
    /// Pieces in an hour at the efficiency given.
    pub net_per_hour: f64,
}

/// Millimetres in the length of the surface speed's unit: a foot or a metre.
const fn speed_length(unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::Inch => 304.8,
        LengthUnit::Millimetre => 1000.0,
    }
}

impl Calculation for Cutting {
    const NAME: &'static str = "cutting";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "Spindle speed, revolutions, cutting time, cycle and pieces per hour.";
    const EXAMPLE: &'static str = r#"{"unit": "in", "diameter": 0.75, "surface_speed": 230, "feed_per_revolution": 0.0015, "radial_depth": 0.125,
        "approach": 0.01, "idle_seconds": 1.5, "efficiency": 0.85}"#;
    type Request = Request;
    type Result = Times;

    fn calculate(request: &Request) -> Result<Answer<Request, Times>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let diameter = reader.positive_length("/diameter", request.diameter);
        let per_minute = PI * diameter / speed_length(request.unit);
        let (rpm, speed) = match (request.surface_speed, request.rpm) {
            (Some(speed), None) => {
                let speed = reader.positive("/surface_speed", speed);
                (speed / per_minute, speed)
            }
            (None, Some(rpm)) => {
                let rpm = reader.positive("/rpm", rpm);
                (rpm, rpm * per_minute)
            }
            _ => (reader.refuse("/surface_speed", "give surface_speed or rpm, one of the two"), f64::NAN),
        };
        let feed = reader.positive_length("/feed_per_revolution", request.feed_per_revolution);
        let travel = match (request.radial_depth, request.length) {
            (Some(depth), None) => {
                reader.refuse_if(
                    depth > request.diameter / 2.0,
                    "/radial_depth",
                    "a form cannot be deeper than the work's radius",
                );
                reader.positive_length("/radial_depth", depth)
            }
            (None, Some(length)) => reader.positive_length("/length", length),
            _ => reader.refuse("/radial_depth", "give radial_depth or length, one of the two"),
        };
        let approach = reader.not_negative_length("/approach", request.approach);
        let idle = reader.not_negative("/idle_seconds", request.idle_seconds);
        let efficiency = reader.fraction("/efficiency", request.efficiency);
        reader.refuse_if(rpm > 1e6, "/rpm", "no spindle turns a million times a minute");
        reader.refuse_if(idle > 1e6, "/idle_seconds", "a cycle lasts less than a million seconds");
        reader.finish()?;

        let unit = reader.unit;
        let revolutions = (travel + approach) / feed;
        let cut = 60.0 * revolutions / rpm;
        let cycle = cut + idle;
        let gross = 3600.0 / cycle;
        let net = gross * efficiency;
        let mut work = Work::new(unit);
        work.value("n", "spindle speed, V / (π d)", rpm, "1/min");
        work.length("s", "feed travel, cut and approach", travel + approach);
        work.number("N", "revolutions, s / f", revolutions);
        work.value("t", "cutting time, 60 N / n", cut, "s");
        work.value("T", "cycle, cutting and idle time", cycle, "s");
        let sentence = format!(
            "At {rpm:.0} rpm the cut takes {revolutions:.1} revolutions, {cut:.2} s; a cycle of {cycle:.2} s gives {net:.0} \
             pieces an hour."
        );
        work.caution(
            "On a machine with several positions the slowest one sets the cycle; this is the time of one cut.",
        );
        let times = Times {
            rpm: rounded(rpm),
            surface_speed: rounded(speed),
            revolutions: rounded(revolutions),
            cut_seconds: rounded(cut),
            cycle_seconds: rounded(cycle),
            gross_per_hour: rounded(gross),
            net_per_hour: rounded(net),
        };
        Ok(work.answer::<Self>(
            request.clone(),
            times,
            sentence,
            &[Source::seen("F. D. Jones, Turning and Boring (1914), rules for calculating cutting speeds")],
        ))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};
    use proptest::prelude::*;

    const BASE: &str = r#"{"unit": "in", "diameter": 0.75, "rpm": 1200, "feed_per_revolution": 0.0015,
        "radial_depth": 0.125, "approach": 0.01, "idle_seconds": 1.5, "efficiency": 0.8}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "cutting",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"diameter": 0}"#, "/diameter"),
                (r#"{"surface_speed": 100}"#, "/surface_speed"),
                (r#"{"rpm": null}"#, "/surface_speed"),
                (r#"{"rpm": 0}"#, "/rpm"),
                (r#"{"rpm": 2e6}"#, "/rpm"),
                (r#"{"rpm": null, "surface_speed": -1}"#, "/surface_speed"),
                (r#"{"feed_per_revolution": 0}"#, "/feed_per_revolution"),
                (r#"{"feed_per_revolution": null}"#, "/feed_per_revolution"),
                (r#"{"radial_depth": null}"#, "/radial_depth"),
                (r#"{"radial_depth": 0.4}"#, "/radial_depth"),
                (r#"{"length": 1}"#, "/radial_depth"),
                (r#"{"radial_depth": null, "length": 0}"#, "/length"),
                (r#"{"approach": -0.1}"#, "/approach"),
                (r#"{"idle_seconds": null}"#, "/idle_seconds"),
                (r#"{"idle_seconds": -1}"#, "/idle_seconds"),
                (r#"{"efficiency": 0}"#, "/efficiency"),
                (r#"{"efficiency": 1.1}"#, "/efficiency"),
                (r#"{"spindles": 6}"#, "/spindles"),
            ],
        );
    }

    proptest! {
        /// The same cut in millimetres and metres a minute takes the same time.
        #[test]
        fn units_agree(diameter in 0.1..3.0_f64, speed in 20.0..600.0_f64, feed in 0.0002..0.02_f64, length in 0.01..3.0_f64) {
            let inch = serde_json::json!({"diameter": diameter, "rpm": null, "surface_speed": speed,
                "feed_per_revolution": feed, "radial_depth": null, "length": length});
            let metric = serde_json::json!({"unit": "mm", "diameter": diameter * 25.4, "rpm": null,
                "surface_speed": speed * 0.3048, "feed_per_revolution": feed * 25.4, "radial_depth": null,
                "length": length * 25.4, "approach": 0.254});
            let (a, b) = (answer(BASE, "cutting", &inch.to_string()), answer(BASE, "cutting", &metric.to_string()));
            for pointer in ["/result/rpm", "/result/cut_seconds", "/result/net_per_hour"] {
                let (a, b) = (at(&a, pointer), at(&b, pointer));
                prop_assert!(((a - b) / a).abs() < 1e-12, "{pointer}: {a} {b}");
            }
        }
    }
}
