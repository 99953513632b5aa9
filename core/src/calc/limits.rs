//! Limits as signed deviations from a target, and the setting zone inside them.

use super::{error::Reader, rounding::Unit};
use crate::length::{Deviations, LengthUnit};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, de};
use std::{borrow::Cow, fmt};

/// Signed deviations from a target, in the request's unit: `{"lower": -0.001, "upper": 0.0}`. A bare number is read as
/// plus or minus that much.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Limits {
    /// The lower deviation.
    pub lower: f64,
    /// The upper deviation, not below the lower one.
    pub upper: f64,
}

impl Limits {
    /// Stored deviations in a unit.
    #[must_use]
    pub fn from_stored(deviations: Deviations, unit: LengthUnit) -> Self {
        Self { lower: deviations.lower().value_in(unit), upper: deviations.upper().value_in(unit) }
    }

    /// In millimetres, checked.
    pub(crate) fn read(self, reader: &mut Reader, pointer: &str) -> Zone {
        let lower = reader.length(&format!("{pointer}/lower"), self.lower);
        let upper = reader.length(&format!("{pointer}/upper"), self.upper);
        reader.refuse_if(lower > upper, pointer, "the lower deviation must not be above the upper one");
        Zone { lower, upper }
    }
}

/// Deviations in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Zone {
    pub(crate) lower: f64,
    pub(crate) upper: f64,
}

impl Zone {
    pub(crate) fn middle(self) -> f64 {
        f64::midpoint(self.lower, self.upper)
    }

    pub(crate) fn width(self) -> f64 {
        self.upper - self.lower
    }

    /// The middle half: where a setting is left alone.
    pub(crate) fn middle_half(self) -> Self {
        let quarter = self.width() / 4.0;
        Self { lower: self.lower + quarter, upper: self.upper - quarter }
    }

    /// Whether a deviation lies inside, limits included. The last bits that arithmetic leaves do not decide.
    pub(crate) fn holds(self, deviation: f64) -> bool {
        let slack = 1e-12 * (1.0 + self.lower.abs().max(self.upper.abs()));
        self.lower - slack <= deviation && deviation <= self.upper + slack
    }

    /// For a sentence: "-0.0005 in to +0.0005 in".
    pub(crate) fn words(self, unit: Unit) -> String {
        format!("{} to {}", unit.words(self.lower), unit.words(self.upper))
    }
}

/// The zone in which a setting is left alone: the one asked for, or the middle half of the limits, or none.
pub(crate) fn setting_zone(
    reader: &mut Reader,
    limits: Option<(&str, Limits)>,
    aim: Option<(&str, Limits)>,
) -> Option<Zone> {
    let tolerance = limits.map(|(pointer, limits)| limits.read(reader, pointer));
    let wanted = aim.map(|(pointer, aim)| (pointer, aim.read(reader, pointer)));
    if let (Some(tolerance), Some((pointer, wanted))) = (tolerance, wanted) {
        reader.refuse_if(
            !(tolerance.holds(wanted.lower) && tolerance.holds(wanted.upper)),
            pointer,
            "the setting zone must lie inside the limits",
        );
    }
    wanted.map(|(_, zone)| zone).or_else(|| tolerance.map(Zone::middle_half))
}

impl<'de> Deserialize<'de> for Limits {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor;

        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        struct Pair {
            lower: f64,
            upper: f64,
        }

        impl<'de> de::Visitor<'de> for Visitor {
            type Value = Limits;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("{lower, upper} deviations, or one number for plus or minus")
            }

            fn visit_f64<E: de::Error>(self, value: f64) -> Result<Limits, E> {
                if value < 0.0 {
                    return Err(E::custom("plus or minus a negative number is no tolerance"));
                }
                Ok(Limits { lower: -value, upper: value })
            }

            fn visit_u64<E: de::Error>(self, value: u64) -> Result<Limits, E> {
                u32::try_from(value)
                    .map_err(|_| E::custom("too large a tolerance"))
                    .and_then(|value| self.visit_f64(f64::from(value)))
            }

            fn visit_map<A: de::MapAccess<'de>>(self, map: A) -> Result<Limits, A::Error> {
                let pair = Pair::deserialize(de::value::MapAccessDeserializer::new(map))?;
                Ok(Limits { lower: pair.lower, upper: pair.upper })
            }
        }

        deserializer.deserialize_any(Visitor)
    }
}

/// Both shapes that are read; answers give the one with two deviations.
impl JsonSchema for Limits {
    fn schema_name() -> Cow<'static, str> {
        "DeviationLimits".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "Signed deviations from a target, in the unit of the field: both, or one number for plus or \
                minus that much.",
            "anyOf": [
                {
                    "type": "object",
                    "properties": {
                        "lower": {"type": "number", "format": "double", "description": "The lower deviation."},
                        "upper": {
                            "type": "number",
                            "format": "double",
                            "description": "The upper deviation, not below the lower one."
                        }
                    },
                    "required": ["lower", "upper"],
                    "additionalProperties": false
                },
                {"type": "number", "format": "double", "minimum": 0, "description": "Plus or minus so much."}
            ]
        })
    }
}

#[cfg(test)]
mod tests {
    use super::{Limits, Zone};

    #[test]
    fn a_number_is_plus_or_minus() {
        let read = |text: &str| serde_json::from_str::<Limits>(text);
        assert_eq!(read("0.5").unwrap(), Limits { lower: -0.5, upper: 0.5 });
        assert_eq!(read("1").unwrap(), Limits { lower: -1.0, upper: 1.0 });
        assert_eq!(read(r#"{"lower": -0.2, "upper": 0}"#).unwrap(), Limits { lower: -0.2, upper: 0.0 });
        for wrong in ["-1", "\"1\"", r#"{"lower": 0}"#, r#"{"lower": 0, "upper": 1, "middle": 0}"#, "null"] {
            assert!(read(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn the_setting_zone_is_the_middle_half() {
        let zone = Zone { lower: -0.2, upper: 0.0 }.middle_half();
        assert!(zone.holds(-0.15) && zone.holds(-0.05) && !zone.holds(-0.16) && !zone.holds(0.0));
    }
}
