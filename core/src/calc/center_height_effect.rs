//! `center-height-effect`: what a height error of the edge does to every diameter, and how large it may be.

use super::{
    answer::{Answer, Calculation, Source, Work},
    error::{CalculationError, Reader},
    flat_form_profile::{WorkStep, read_radii},
    form_geometry::{edge, face_length},
    limits::{Limits, Zone},
    rounding::rounded,
    schema,
};
use crate::length::LengthUnit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct CenterHeightEffect;

/// What stays while the edge is off centre.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[schemars(rename = "CenterHeightHold")]
pub enum Hold {
    /// The slide stays where it is.
    Slide,
    /// The slide is set again so that the smallest diameter is on size.
    SmallestDiameter,
    /// The tool is lifted along its inclined ways, which also moves it in by `h·tan α`.
    ToolWays,
}

/// What is asked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "CenterHeightEffectRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// The height error: above zero, the edge lies toward +y of centre.
    #[schemars(transform = schema::length)]
    pub height: f64,
    /// Front relief of the tool as held.
    #[schemars(transform = schema::clearance)]
    pub clearance_deg: f64,
    /// Rake of the cutting face.
    #[schemars(transform = schema::acute)]
    pub rake_deg: f64,
    /// The smallest diameter of the work, cut by the edge meant to be on centre.
    #[schemars(transform = schema::positive_length)]
    pub smallest_diameter: f64,
    /// The diameters.
    #[schemars(length(min = 1))]
    pub steps: Vec<WorkStep>,
    /// What stays.
    pub hold: Hold,
    /// Deviations that every step allows; they must admit zero.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diameter_limits: Option<Limits>,
    /// The largest height error that the shop allows: 0.002 in or 0.05 mm when absent (common practice).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub shop_height_limit: Option<f64>,
}

/// What one step becomes.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "CenterHeightStep")]
pub struct MadeStep {
    /// The diameter meant.
    pub diameter: f64,
    /// The diameter made.
    pub made_diameter: f64,
    /// Made less meant.
    pub error: f64,
    /// Clearance left where this step is cut: `α − asin(Y/r)`, `Y` the height of its edge, `r` the radius made.
    pub effective_clearance_deg: f64,
}

/// What the height error does.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "CenterHeightEffectResult")]
pub struct Effect {
    /// In the order asked for.
    pub steps: Vec<MadeStep>,
    /// How far the tool stands out from where it stood on centre: below zero, nearer to the axis.
    pub infeed: f64,
    /// How far the edge may lie above centre, a magnitude.
    pub height_limit_up: f64,
    /// How far the edge may lie below centre, a magnitude.
    pub height_limit_down: f64,
    /// What sets the limit above centre: `tolerance`, `shop` or `clearance`.
    #[schemars(extend("enum" = ["tolerance", "shop", "clearance"]))]
    pub limited_up_by: &'static str,
    /// What sets the limit below centre: `tolerance` or `shop`.
    #[schemars(extend("enum" = ["tolerance", "shop"]))]
    pub limited_down_by: &'static str,
}

const LEAST_CLEARANCE_DEG: f64 = 3.0;

/// The form as held, in millimetres and radians.
struct Form {
    hold: Hold,
    smallest: f64,
    clearance: f64,
    rake: f64,
}

impl Form {
    /// How far the tool moves out with the edge at `height`; `None` where the smallest diameter cannot be held.
    fn infeed(&self, height: f64) -> Option<f64> {
        match self.hold {
            Hold::Slide => Some(0.0),
            Hold::ToolWays => Some(-height * self.clearance.tan()),
            // √(r₁² − h²) − r₁, without losing digits at small h.
            Hold::SmallestDiameter => (height.abs() < self.smallest).then(|| {
                let root = ((self.smallest - height) * (self.smallest + height)).sqrt();
                -height * height / (root + self.smallest)
            }),
        }
    }

    /// `(made radius, made radius − radius, height of the edge)` of a step with the edge at `height`. The error is
    /// taken from the difference of squares, so that a small one keeps its digits.
    fn made(&self, radius: f64, height: f64) -> Option<(f64, f64, f64)> {
        let out = self.infeed(height)?;
        let (x, y) = edge(self.smallest, radius, self.rake);
        let made = (x + out).hypot(y + height);
        let error = (out * (2.0 * x + out) + height * (2.0 * y + height)) / (made + radius);
        Some((made, error, y + height))
    }

    /// Heights at which a step's radius becomes `radius + error`, of either sign. With `t = tan α` along the ways (0
    /// for a slide that stays) they solve `(1 + t²)h² + 2(y − x t)h + r² − R² = 0`. With the smallest diameter held,
    /// `h = r₁ sin θ` and `cos(θ + γ) = cos γ + (R² − r²)/(2 r₁ s)`.
    fn heights_of_error(&self, radius: f64, error: f64) -> [f64; 2] {
        let squares = error * (2.0 * radius + error);
        match self.hold {
            Hold::Slide | Hold::ToolWays => {
                let t = if self.hold == Hold::ToolWays { self.clearance.tan() } else { 0.0 };
                let (x, y) = edge(self.smallest, radius, self.rake);
                let (a, half_b) = (1.0 + t * t, y - x * t);
                let root = (half_b * half_b + a * squares).sqrt();
                [(-half_b - root) / a, (-half_b + root) / a]
            }
            Hold::SmallestDiameter => {
                let along = face_length(self.smallest, radius, self.rake);
                let angle = (self.rake.cos() + squares / (2.0 * self.smallest * along)).acos();
                [self.smallest * (angle - self.rake).sin(), self.smallest * (-angle - self.rake).sin()]
            }
        }
    }

    /// The largest height in one sense (`sign` ±1), up to `cap`, at which a step still holds its limits.
    fn tolerance_limit(&self, radius: f64, limits: Zone, sign: f64, cap: f64) -> f64 {
        let mut limit = cap;
        for error in [limits.lower / 2.0, limits.upper / 2.0] {
            let beyond = |height: f64| {
                self.made(radius, sign * height).is_none_or(|(_, made_error, _)| {
                    if error < 0.0 || (error == 0.0 && limits.upper != 0.0) {
                        made_error < error
                    } else {
                        made_error > error
                    }
                })
            };
            // A limit of zero may be left at once; then its root at zero is the answer.
            let first = self
                .heights_of_error(radius, error)
                .into_iter()
                .map(|height| sign * height)
                .filter(|height| *height > 1e-12)
                .fold(cap, f64::min);
            let at_once = if error == 0.0 { beyond(first / 2.0) } else { false };
            limit = if at_once { 0.0 } else { limit.min(first) };
        }
        limit
    }

    /// The largest height above centre, up to `cap`, that leaves the least clearance at a step.
    fn clearance_limit(&self, radius: f64, cap: f64) -> f64 {
        let wide = |height: f64| {
            self.made(radius, height)
                .is_some_and(|(made, _, y)| self.clearance - (y / made).asin() >= LEAST_CLEARANCE_DEG.to_radians())
        };
        if wide(cap) {
            return cap;
        }
        if !wide(0.0) {
            return 0.0;
        }
        let (mut good, mut bad) = (0.0, cap);
        for _ in 0..80 {
            let middle = f64::midpoint(good, bad);
            if wide(middle) { good = middle } else { bad = middle }
        }
        good
    }
}

impl Calculation for CenterHeightEffect {
    const NAME: &'static str = "center-height-effect";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str =
        "What a height error of the edge does to every diameter and its clearance, and how large it may be.";
    const EXAMPLE: &'static str = r#"{"unit": "in", "height": 0.003, "clearance_deg": 12, "rake_deg": 8, "smallest_diameter": 0.375,
        "steps": [{"diameter": 0.375}, {"diameter": 0.625}], "hold": "smallest_diameter",
        "diameter_limits": {"lower": -0.001, "upper": 0.001}}"#;
    type Request = Request;
    type Result = Effect;

    fn calculate(request: &Request) -> Result<Answer<Request, Effect>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let height = reader.length("/height", request.height);
        let (clearance, rake) = reader.tool_angles(request.clearance_deg, request.rake_deg);
        let (smallest, radii) =
            read_radii(&mut reader, request.smallest_diameter, request.steps.iter().map(|step| step.diameter));
        let limits = request.diameter_limits.map(|limits| limits.read(&mut reader, "/diameter_limits"));
        if let Some(limits) = limits {
            reader.refuse_if(
                limits.lower > 0.0 || limits.upper < 0.0,
                "/diameter_limits",
                "the deviations must admit zero, the size made on centre",
            );
        }
        let usual = match request.unit {
            LengthUnit::Inch => 0.002,
            LengthUnit::Millimetre => 0.05,
        };
        let shop = reader.positive_length("/shop_height_limit", request.shop_height_limit.unwrap_or(usual));
        reader.finish()?;
        let form = Form { hold: request.hold, smallest, clearance, rake };
        let Some(infeed) = form.infeed(height) else {
            return Err(CalculationError::field(
                "/height",
                "the edge lies farther from centre than the smallest radius: no setting of the slide makes that size",
            ));
        };

        let unit = reader.unit;
        let mut work = Work::new(unit);
        work.length("r₁", "smallest radius of the work", smallest);
        work.length("δ", "movement of the tool away from the axis", infeed);
        let mut steps = Vec::with_capacity(radii.len());
        for (step, &radius) in request.steps.iter().zip(&radii) {
            let Some((made, error, y)) = form.made(radius, height) else { continue };
            work.length("r", format!("radius made instead of {}", unit.words(radius)), made);
            steps.push(MadeStep {
                diameter: step.diameter,
                made_diameter: unit.outward(2.0 * made),
                error: unit.outward(2.0 * error),
                effective_clearance_deg: rounded((clearance - (y / made).asin()).to_degrees()),
            });
        }

        let tolerated = |sign: f64| {
            limits.map_or(shop, |limits| {
                radii.iter().map(|&radius| form.tolerance_limit(radius, limits, sign, shop)).fold(shop, f64::min)
            })
        };
        let cleared =
            radii.iter().chain([&smallest]).map(|&radius| form.clearance_limit(radius, shop)).fold(shop, f64::min);
        let (up, down) = (tolerated(1.0), tolerated(-1.0));
        let limit_up = up.min(cleared);
        let limited_up_by = if cleared < up {
            "clearance"
        } else if up < shop {
            "tolerance"
        } else {
            "shop"
        };
        work.length("h↑", "largest height above centre", limit_up);
        work.length("h↓", "largest height below centre", down);
        if steps.iter().any(|step| step.effective_clearance_deg < LEAST_CLEARANCE_DEG) {
            work.caution(format!(
                "At this height a step keeps less than {LEAST_CLEARANCE_DEG} degrees of clearance and may rub."
            ));
        }
        work.caution_hands();
        let worst = steps.iter().map(|step| step.error).fold(0.0, |a: f64, b| if b.abs() > a.abs() { b } else { a });
        let sentence = format!(
            "The largest error of a diameter is {}. Keep the edge within {} above and {} below centre.",
            unit.words(unit.inward(worst)),
            unit.words(limit_up),
            unit.words(down),
        );
        let effect = Effect {
            steps,
            infeed: unit.outward(infeed),
            height_limit_up: unit.outward(limit_up),
            height_limit_down: unit.outward(down),
            limited_up_by,
            limited_down_by: if down < shop { "tolerance" } else { "shop" },
        };
        Ok(work.answer::<Self>(request.clone(), effect, sentence, &[
            Source::GEOMETRY,
            Source { title: "shop limit of 0.002 in or 0.05 mm and 3 degrees of clearance: common practice, no published source", status: "recalled" },
        ]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::testing::{answer, refused};
    use proptest::prelude::*;

    const BASE: &str = r#"{"unit": "in", "height": 0.01, "clearance_deg": 12, "rake_deg": 0, "smallest_diameter": 0.5,
        "steps": [{"diameter": 0.5}], "hold": "slide"}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "center-height-effect",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"height": 20000}"#, "/height"),
                (r#"{"height": 0.25, "hold": "smallest_diameter"}"#, "/height"),
                (r#"{"clearance_deg": 95}"#, "/clearance_deg"),
                (r#"{"rake_deg": 80}"#, "/rake_deg"),
                (r#"{"steps": []}"#, "/steps"),
                (r#"{"steps": [{"diameter": 0.49}]}"#, "/steps/0/diameter"),
                (r#"{"hold": "work"}"#, "/hold"),
                (r#"{"diameter_limits": {"lower": 0.001, "upper": 0.002}}"#, "/diameter_limits"),
                (r#"{"diameter_limits": {"lower": 0.001, "upper": -0.002}}"#, "/diameter_limits"),
                (r#"{"shop_height_limit": 0}"#, "/shop_height_limit"),
                (r#"{"tool": 1}"#, "/tool"),
            ],
        );
    }

    /// With the slide held and no rake, d grows by h² / r: a tolerance of 0.000004 in admits h = √(r·e) = 0.001 in,
    /// less than the shop's 0.002 in (derived).
    #[test]
    fn the_tolerance_limits_the_height() {
        let got = answer(BASE, "center-height-effect", r#"{"diameter_limits": {"lower": 0, "upper": 0.000004}}"#);
        let up = got["result"]["height_limit_up"].as_f64().unwrap();
        assert!((up - (0.000_002_f64 * 0.500_002).sqrt()).abs() < 1e-12, "{up}");
        assert_eq!(got["result"]["limited_up_by"], "tolerance");
        assert_eq!(got["result"]["height_limit_down"], got["result"]["height_limit_up"]);
    }

    #[test]
    fn an_upper_deviation_of_zero_admits_no_height_on_a_slide_that_stays() {
        let got = answer(BASE, "center-height-effect", r#"{"diameter_limits": {"lower": -0.001, "upper": 0}}"#);
        assert_eq!(got["result"]["height_limit_up"], 0.0);
        assert_eq!(got["result"]["height_limit_down"], 0.0);
    }

    /// 3.1 degrees of clearance leave 0.1 degree for height: r·tan(0.1°) = 0.000436 in at r = 0.25 in (derived).
    #[test]
    fn clearance_limits_the_height_above_centre_only() {
        let got = answer(BASE, "center-height-effect", r#"{"clearance_deg": 3.1}"#);
        let up = got["result"]["height_limit_up"].as_f64().unwrap();
        assert!((up - 0.25 * 0.1_f64.to_radians().tan()).abs() < 1e-12, "{up}");
        assert_eq!(got["result"]["limited_up_by"], "clearance");
        assert_eq!(got["result"]["height_limit_down"], 0.002);
    }

    proptest! {
        /// Just inside the reported limits every diameter holds its tolerance; just outside one does not.
        #[test]
        fn the_limits_are_where_the_tolerance_ends(
            r1 in 2.0..20.0_f64, step in 0.0..10.0_f64, alpha in 6.0..20.0_f64, gamma in -8.0..15.0_f64,
            lower in -0.2..0.0_f64, upper in 0.0..0.2_f64, hold in 0..3_usize, up: bool,
        ) {
            let form = Form {
                hold: [Hold::Slide, Hold::SmallestDiameter, Hold::ToolWays][hold],
                smallest: r1, clearance: alpha.to_radians(), rake: gamma.to_radians(),
            };
            let (sign, cap) = (if up { 1.0 } else { -1.0 }, 0.9);
            let zone = Zone { lower, upper };
            let limit = form.tolerance_limit(r1 + step, zone, sign, cap);
            for part in 0..=50 {
                let height = limit * 0.999_999 * f64::from(part) / 50.0;
                let (_, error, _) = form.made(r1 + step, sign * height).unwrap();
                prop_assert!(zone.holds(2.0 * error), "{height} of {limit}: {error}");
            }
            if limit < cap {
                let (_, error, _) = form.made(r1 + step, sign * (limit * 1.000_01 + 1e-9)).unwrap();
                prop_assert!(2.0 * error < lower || 2.0 * error > upper, "{limit}: {error}");
            }
        }
    }
}
