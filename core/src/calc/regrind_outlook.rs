//! `regrind-outlook`: stock to grind off a worn form tool, and grinds and pieces left in it.
//!
//! The cutting face is ground. Stock is measured normal to it; height, wear land and arc along the relief face, which
//! meets the cutting face at `90° − (α + γ)`: stock `s` costs `s/cos(α + γ)` of relief face.

use super::{
    answer::{Answer, Calculation, Source, Work},
    error::{CalculationError, Reader},
    rounding::rounded,
    schema,
};
use crate::length::{Length, LengthUnit};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct RegrindOutlook;

/// The kind of form tool.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[schemars(rename = "FormToolKind")]
pub enum Kind {
    /// Flat (dovetail).
    Flat,
    /// Circular.
    Circular,
}

/// The tool as it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "RegrindOutlookRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// Flat or circular.
    pub kind: Kind,
    /// Flat: what is left of the tool, along its relief face.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub height: Option<f64>,
    /// Flat: the height below which the holder no longer holds it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::not_negative_length)]
    pub minimum_height: Option<f64>,
    /// Circular: the smallest tool radius that shows wear.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub tool_radius: Option<f64>,
    /// Circular: the angle still left to grind away.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0, max = 360))]
    pub usable_angle_deg: Option<f64>,
    /// Flat: stock ground off, normal to the cutting face; or give `wear_land`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub grind_stock: Option<f64>,
    /// Circular: stock ground off, normal to the cutting face; or give `wear_land`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub stock_per_grind: Option<f64>,
    /// The widest wear land, along the relief face.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub wear_land: Option<f64>,
    /// Front relief of the tool as held; needed with a wear land.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::clearance)]
    pub clearance_deg: Option<f64>,
    /// Rake of the cutting face; needed with a wear land.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::acute)]
    pub rake_deg: Option<f64>,
    /// Stock beyond the wear land, so that the edge comes clean; needed with a wear land.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::not_negative_length)]
    pub clean_up: Option<f64>,
    /// Pieces from one grind.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 1_000_000_000))]
    pub pieces_per_grind: Option<u64>,
    /// Pieces left on the edge in use; none when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 1_000_000_000))]
    pub pieces_left_on_edge: Option<u64>,
}

/// What is left in the tool.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "RegrindOutlookResult")]
pub struct Outlook {
    /// Whole grinds left, the edge in use not counted.
    pub regrinds_left: u64,
    /// Pieces left, the edge in use counted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pieces_left: Option<u64>,
    /// Stock that one grind takes, normal to the cutting face.
    pub grind_stock: f64,
    /// What one grind takes along the relief face: of the height, or of the periphery.
    pub height_loss: f64,
    /// Circular: the angle that one grind takes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub angle_per_grind_deg: Option<f64>,
}

/// Stock and its share of the relief face, `(stock, cos(α + γ))`; the cosine is exactly 1 where no angle is given.
fn read_stock(reader: &mut Reader, request: &Request) -> (f64, f64) {
    let (name, given, other) = match request.kind {
        Kind::Flat => ("/grind_stock", request.grind_stock, ("/stock_per_grind", request.stock_per_grind)),
        Kind::Circular => ("/stock_per_grind", request.stock_per_grind, ("/grind_stock", request.grind_stock)),
    };
    reader.refuse_if(other.1.is_some(), other.0, "belongs to the other kind of tool");
    let cosine = match (request.clearance_deg, request.rake_deg) {
        (None, None) => 1.0,
        (clearance, rake) => {
            let (clearance, rake) = reader.tool_angles(clearance.unwrap_or(0.0), rake.unwrap_or(0.0));
            (clearance + rake).cos()
        }
    };
    let stock = match (given, request.wear_land) {
        (Some(stock), None) => {
            reader.refuse_if(request.clean_up.is_some(), "/clean_up", "belongs to a wear land");
            reader.positive_length(name, stock)
        }
        (None, Some(land)) => {
            let land = reader.positive_length("/wear_land", land);
            for (pointer, present) in [
                ("/clearance_deg", request.clearance_deg.is_some()),
                ("/rake_deg", request.rake_deg.is_some()),
                ("/clean_up", request.clean_up.is_some()),
            ] {
                reader.refuse_if(!present, pointer, "is needed to turn a wear land into stock");
            }
            land * cosine + reader.not_negative_length("/clean_up", request.clean_up.unwrap_or(0.0))
        }
        _ => reader.refuse(name, "give the stock of one grind or a wear_land, one of the two"),
    };
    (stock, cosine)
}

/// A field that the kind of tool needs, or one that it must not have.
fn belongs(reader: &mut Reader, pointer: &str, value: Option<f64>, needed: bool) -> Option<f64> {
    if value.is_some() != needed {
        let detail = if needed { "is needed for this kind of tool" } else { "belongs to the other kind of tool" };
        reader.refuse(pointer, detail);
    }
    value.filter(|_| needed)
}

/// Whole grinds in what is left. Lengths that are whole picometres are divided as such; otherwise the last bits of an
/// exact quotient do not lose a grind.
fn whole(left: f64, one: f64) -> u64 {
    let exact = |value: f64| Length::new(value, LengthUnit::Millimetre).ok().filter(|length| length.value() == value);
    if let (Some(left), Some(one)) = (exact(left), exact(one))
        && one.picometres() > 0
    {
        return u64::try_from(left.picometres() / one.picometres()).unwrap_or(0);
    }
    let quotient = (left / one * (1.0 + 1e-12)).floor().clamp(0.0, 1e15);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
    let whole = quotient as u64;
    whole
}

impl Calculation for RegrindOutlook {
    const NAME: &'static str = "regrind-outlook";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "Stock to grind off a worn form tool, and grinds and pieces left in it.";
    const EXAMPLE: &'static str = r#"{"unit": "mm", "kind": "flat", "height": 38, "minimum_height": 16, "wear_land": 0.2, "clearance_deg": 12,
        "rake_deg": 8, "clean_up": 0.05, "pieces_per_grind": 2500, "pieces_left_on_edge": 800}"#;
    type Request = Request;
    type Result = Outlook;

    fn calculate(request: &Request) -> Result<Answer<Request, Outlook>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let flat = request.kind == Kind::Flat;
        let (stock, cosine) = read_stock(&mut reader, request);
        let height = belongs(&mut reader, "/height", request.height, flat);
        let minimum = belongs(&mut reader, "/minimum_height", request.minimum_height, flat);
        let radius = belongs(&mut reader, "/tool_radius", request.tool_radius, !flat);
        let angle = belongs(&mut reader, "/usable_angle_deg", request.usable_angle_deg, !flat);
        if let Some(height) = height {
            reader.positive_length("/height", height);
        }
        if let Some(minimum) = minimum {
            reader.not_negative_length("/minimum_height", minimum);
        }
        let radius = radius.map_or(f64::NAN, |radius| reader.positive_length("/tool_radius", radius));
        let angle = angle.map_or(f64::NAN, |angle| reader.not_negative("/usable_angle_deg", angle));
        reader.refuse_if(angle > 360.0, "/usable_angle_deg", "must be at most 360 degrees");
        let most = 1_000_000_000;
        reader.refuse_if(
            request.pieces_per_grind.is_some_and(|n| n > most),
            "/pieces_per_grind",
            "must be below a billion",
        );
        reader.refuse_if(
            request.pieces_left_on_edge.is_some_and(|n| n > most),
            "/pieces_left_on_edge",
            "must be below a billion",
        );
        reader.finish()?;

        let unit = reader.unit;
        let loss = stock / cosine;
        let per_grind = (!flat).then(|| (loss / radius).to_degrees());
        let regrinds = match per_grind {
            Some(per_grind) => whole(angle, per_grind),
            None => whole(
                unit.difference(height.unwrap_or(0.0), minimum.unwrap_or(0.0)).max(0.0),
                snapped(unit.outward(loss), unit.0, loss),
            ),
        };
        let pieces =
            request.pieces_per_grind.map(|n| regrinds.saturating_mul(n) + request.pieces_left_on_edge.unwrap_or(0));
        let mut work = Work::new(unit);
        work.length("s", "stock of one grind, normal to the cutting face", stock);
        work.number("cos(α + γ)", "share of the relief face that becomes stock", cosine);
        work.length("Δ", "lost along the relief face in one grind, s / cos(α + γ)", loss);
        if let Some(per_grind) = per_grind {
            work.value("θ", "angle of one grind, Δ / R", per_grind, "deg");
        }
        let grinds = if regrinds == 1 { "grind" } else { "grinds" };
        let sentence = match pieces {
            Some(pieces) => format!("{regrinds} {grinds} left in the tool, {pieces} pieces."),
            None => format!("{regrinds} {grinds} left in the tool, the edge in use not counted."),
        };
        if request.clearance_deg.is_none() && request.rake_deg.is_none() {
            work.caution("No angles were given: a grind is taken to cost as much relief face as stock.");
        }
        if regrinds == 0 {
            work.caution("This is the last edge: order or draw the next tool before it is dull.");
        }
        let outlook = Outlook {
            regrinds_left: regrinds,
            pieces_left: pieces,
            grind_stock: unit.outward(stock),
            height_loss: unit.outward(loss),
            angle_per_grind_deg: per_grind.map(rounded),
        };
        Ok(work.answer::<Self>(request.clone(), outlook, sentence, &[Source::GEOMETRY]))
    }
}

/// The loss in millimetres as whole picometres where its value in the request's unit is such a number, as it is when no
/// angle takes part.
fn snapped(value: f64, unit: LengthUnit, loss: f64) -> f64 {
    Length::new(value, unit).ok().filter(|length| length.value() == value).map_or(loss, Length::millimetres)
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};
    use proptest::prelude::*;

    const FLAT: &str = r#"{"unit": "in", "kind": "flat", "height": 1.5, "minimum_height": 0.5, "grind_stock": 0.01,
        "pieces_per_grind": 1600, "pieces_left_on_edge": 1600}"#;
    const CIRCULAR: &str = r#"{"unit": "mm", "kind": "circular", "tool_radius": 30, "usable_angle_deg": 240,
        "stock_per_grind": 0.5}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            FLAT,
            "regrind-outlook",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"kind": null}"#, "/kind"),
                (r#"{"kind": "round"}"#, "/kind"),
                (r#"{"height": null}"#, "/height"),
                (r#"{"height": 0}"#, "/height"),
                (r#"{"minimum_height": null}"#, "/minimum_height"),
                (r#"{"minimum_height": -1}"#, "/minimum_height"),
                (r#"{"grind_stock": null}"#, "/grind_stock"),
                (r#"{"grind_stock": 0}"#, "/grind_stock"),
                (r#"{"stock_per_grind": 0.01}"#, "/stock_per_grind"),
                (r#"{"wear_land": 0.01}"#, "/grind_stock"),
                (r#"{"grind_stock": null, "wear_land": 0.01}"#, "/clearance_deg"),
                (r#"{"grind_stock": null, "wear_land": 0.01, "clearance_deg": 10}"#, "/rake_deg"),
                (r#"{"grind_stock": null, "wear_land": 0.01, "clearance_deg": 10, "rake_deg": 0}"#, "/clean_up"),
                (
                    r#"{"grind_stock": null, "wear_land": 0, "clearance_deg": 10, "rake_deg": 0, "clean_up": 0}"#,
                    "/wear_land",
                ),
                (r#"{"clean_up": 0.001}"#, "/clean_up"),
                (r#"{"clearance_deg": 60, "rake_deg": 30}"#, "/rake_deg"),
                (r#"{"tool_radius": 1}"#, "/tool_radius"),
                (r#"{"usable_angle_deg": 1}"#, "/usable_angle_deg"),
                (r#"{"pieces_per_grind": 2000000000}"#, "/pieces_per_grind"),
                (r#"{"pieces_left_on_edge": 2000000000}"#, "/pieces_left_on_edge"),
                (r#"{"teeth": 1}"#, "/teeth"),
            ],
        );
        refused(
            CIRCULAR,
            "regrind-outlook",
            &[
                (r#"{"tool_radius": null}"#, "/tool_radius"),
                (r#"{"tool_radius": 0}"#, "/tool_radius"),
                (r#"{"usable_angle_deg": -1}"#, "/usable_angle_deg"),
                (r#"{"usable_angle_deg": 361}"#, "/usable_angle_deg"),
                (r#"{"height": 3}"#, "/height"),
                (r#"{"grind_stock": 1}"#, "/grind_stock"),
                (r#"{"stock_per_grind": null}"#, "/stock_per_grind"),
            ],
        );
    }

    /// α + γ = 60°: a land of 0.02 becomes 0.01 of stock, and with 0.005 to clean up costs 0.03 of height, 33 times in
    /// 1.0 (derived).
    #[test]
    fn a_wear_land_becomes_stock() {
        let change =
            r#"{"grind_stock": null, "wear_land": 0.02, "clearance_deg": 40, "rake_deg": 20, "clean_up": 0.005}"#;
        let got = answer(FLAT, "regrind-outlook", change);
        assert!((at(&got, "/result/grind_stock") - 0.015).abs() < 1e-15);
        assert!((at(&got, "/result/height_loss") - 0.03).abs() < 1e-15);
        assert_eq!(got["result"]["regrinds_left"], 33);
        assert_eq!(answer(FLAT, "regrind-outlook", r#"{"height": 0.4}"#)["result"]["regrinds_left"], 0);
    }

    /// An arc of 0.5 at radius 30 is 0.9549°, 251 times in 240° (derived).
    #[test]
    fn an_arc_becomes_an_angle() {
        let got = answer(CIRCULAR, "regrind-outlook", "{}");
        assert!((at(&got, "/result/angle_per_grind_deg") - 0.5 / 30.0 * 180.0 / std::f64::consts::PI).abs() < 1e-14);
        assert_eq!(got["result"]["regrinds_left"], 251);
        // 10° of relief and 20° of rake: the arc grows by 1/cos 30°.
        let tilted = answer(CIRCULAR, "regrind-outlook", r#"{"clearance_deg": 10, "rake_deg": 20}"#);
        assert!((at(&tilted, "/result/height_loss") - 1.0 / 3.0_f64.sqrt()).abs() < 1e-14);
    }

    proptest! {
        /// Whole grinds are exact: n grinds of a mil-sized stock fit n times, and one picometre less fits n − 1 times.
        #[test]
        fn grinds_are_counted_exactly(stock in 1_u32..50, grinds in 1_u32..200) {
            let minimum = 0.5;
            let height = f64::from(500 + stock * grinds) / 1000.0;
            let change = serde_json::json!({"height": height, "minimum_height": minimum, "grind_stock": f64::from(stock) / 1000.0});
            let got = answer(FLAT, "regrind-outlook", &change.to_string());
            prop_assert_eq!(&got["result"]["regrinds_left"], &serde_json::json!(grinds));
            let short = serde_json::json!({"height": height - 1e-9, "minimum_height": minimum, "grind_stock": f64::from(stock) / 1000.0});
            let got = answer(FLAT, "regrind-outlook", &short.to_string());
            prop_assert_eq!(&got["result"]["regrinds_left"], &serde_json::json!(grinds - 1));
        }
    }
}
