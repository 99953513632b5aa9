//! `bar-stock`: pieces from a bar, and bars for a lot. Counts come from whole picometres, so that a bar that fits exactly
//! a hundred pieces gives a hundred and not ninety-nine.

use super::{
    answer::{Answer, Calculation, Source, Work},
    error::{CalculationError, Reader},
    rounding::Unit,
    schema,
};
use crate::length::{Length, LengthUnit};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct BarStock;

/// The bar and the lot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "BarStockRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// A bar's length.
    #[schemars(transform = schema::positive_length)]
    pub bar_length: f64,
    /// What stays in the collet and the feed finger.
    #[schemars(transform = schema::not_negative_length)]
    pub remnant: f64,
    /// A finished piece's length.
    #[schemars(transform = schema::positive_length)]
    pub part_length: f64,
    /// The cut-off tool's width.
    #[schemars(transform = schema::not_negative_length)]
    pub cutoff: f64,
    /// What is faced off.
    #[serde(default)]
    #[schemars(transform = schema::not_negative_length)]
    pub facing: f64,
    /// Good pieces wanted.
    #[schemars(range(min = 1, max = 1_000_000_000_000_u64))]
    pub pieces: u64,
    /// Share of the blanks that becomes scrap, from 0 and below 1; read to the billionth.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 0.999))]
    pub scrap_fraction: f64,
}

/// What the lot takes.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "BarStockResult")]
pub struct Stock {
    /// Bar that one piece uses: part, cut-off and facing.
    pub length_per_piece: f64,
    /// Whole pieces from one bar.
    pub pieces_per_bar: u64,
    /// What is left of a bar, the remnant included.
    pub left_of_bar: f64,
    /// Pieces to start, so that the good ones remain.
    pub blanks: u64,
    /// Bars to draw.
    pub bars: u64,
    /// Length of those bars together.
    pub material_length: f64,
}

/// A length in whole picometres; a refused one is zero, and the reading ends in a refusal.
fn exact(reader: &mut Reader, pointer: &str, value: f64, unit: Unit, allow_zero: bool) -> i64 {
    let read =
        if allow_zero { reader.not_negative_length(pointer, value) } else { reader.positive_length(pointer, value) };
    if read.is_nan() {
        return 0;
    }
    Length::new(value, unit.0).map_or(0, Length::picometres)
}

impl Calculation for BarStock {
    const NAME: &'static str = "bar-stock";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "Pieces from a bar, what is left of it, and bars for a lot with scrap.";
    const EXAMPLE: &'static str = r#"{"unit": "mm", "bar_length": 3000, "remnant": 90, "part_length": 31.75, "cutoff": 3.2, "facing": 0.4,
        "pieces": 12000, "scrap_fraction": 0.02}"#;
    type Request = Request;
    type Result = Stock;

    fn calculate(request: &Request) -> Result<Answer<Request, Stock>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let unit = reader.unit;
        let bar = exact(&mut reader, "/bar_length", request.bar_length, unit, false);
        let remnant = exact(&mut reader, "/remnant", request.remnant, unit, true);
        let part = exact(&mut reader, "/part_length", request.part_length, unit, false);
        let per_piece = part
            + exact(&mut reader, "/cutoff", request.cutoff, unit, true)
            + exact(&mut reader, "/facing", request.facing, unit, true);
        reader.refuse_if(
            request.pieces == 0 || request.pieces > 1_000_000_000_000,
            "/pieces",
            "must be at least 1 and at most a million million",
        );
        let scrap = reader.number("/scrap_fraction", request.scrap_fraction);
        if !(0.0..=0.999).contains(&scrap) && !scrap.is_nan() {
            reader.refuse("/scrap_fraction", "must be at least 0 and at most 0.999");
        }
        reader.refuse_if(
            bar > 0 && per_piece > 0 && bar - remnant < per_piece,
            "/part_length",
            "not one piece fits in the bar less its remnant",
        );
        reader.finish()?;

        let per_bar = u64::try_from((bar - remnant) / per_piece).unwrap_or(0);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "between 0 and a billion, checked above"
        )]
        let scrap = u128::from((scrap * 1e9).round() as u64);
        let blanks =
            u64::try_from((u128::from(request.pieces) * 1_000_000_000).div_ceil(1_000_000_000 - scrap)).unwrap_or(0);
        let bars = blanks.div_ceil(per_bar.max(1));
        let left = bar - i64::try_from(per_bar).unwrap_or(0) * per_piece;
        let millimetres = |picometres: i64| Length::from_picometres(picometres, request.unit).millimetres();
        #[expect(clippy::cast_precision_loss, reason = "a count of bars")]
        let material = millimetres(bar) * bars as f64;

        let mut work = Work::new(unit);
        work.length("p", "bar used by one piece: part, cut-off and facing", millimetres(per_piece));
        work.length("b", "usable bar: bar less remnant", millimetres(bar - remnant));
        work.length("w", "left of a bar, remnant included", millimetres(left));
        let sentence = format!(
            "A bar gives {per_bar} {}; {} good pieces need {blanks} blanks, {bars} {}.",
            if per_bar == 1 { "piece" } else { "pieces" },
            request.pieces,
            if bars == 1 { "bar" } else { "bars" },
        );
        let stock = Stock {
            length_per_piece: unit.outward(millimetres(per_piece)),
            pieces_per_bar: per_bar,
            left_of_bar: unit.outward(millimetres(left)),
            blanks,
            bars,
            material_length: unit.outward(material),
        };
        Ok(work.answer::<Self>(
            request.clone(),
            stock,
            sentence,
            &[Source { title: "counting in whole picometres", status: "derived" }],
        ))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};
    use proptest::prelude::*;

    const BASE: &str = r#"{"unit": "in", "bar_length": 144, "remnant": 4, "part_length": 1.25, "cutoff": 0.125,
        "facing": 0.015, "pieces": 10000, "scrap_fraction": 0.02}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "bar-stock",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"bar_length": 0}"#, "/bar_length"),
                (r#"{"bar_length": 20000}"#, "/bar_length"),
                (r#"{"remnant": -1}"#, "/remnant"),
                (r#"{"remnant": 143}"#, "/part_length"),
                (r#"{"part_length": 0}"#, "/part_length"),
                (r#"{"part_length": 141}"#, "/part_length"),
                (r#"{"cutoff": -0.1}"#, "/cutoff"),
                (r#"{"facing": -0.1}"#, "/facing"),
                (r#"{"pieces": 0}"#, "/pieces"),
                (r#"{"pieces": -5}"#, "/pieces"),
                (r#"{"pieces": 1.5}"#, "/pieces"),
                (r#"{"scrap_fraction": 1}"#, "/scrap_fraction"),
                (r#"{"scrap_fraction": -0.1}"#, "/scrap_fraction"),
                (r#"{"kerf": 0.1}"#, "/kerf"),
            ],
        );
    }

    /// 140 of usable bar hold exactly 100 pieces of 1.4; in binary 140/1.4 falls short of 100 in some orders of
    /// arithmetic. 0.1 of scrap from 9 good pieces is exactly 10 blanks (derived by counting).
    #[test]
    fn what_fits_exactly_counts() {
        let got = answer(BASE, "bar-stock", r#"{"part_length": 1.26, "pieces": 9, "scrap_fraction": 0.1}"#);
        assert_eq!(got["result"]["pieces_per_bar"], 100);
        assert_eq!(at(&got, "/result/left_of_bar"), 4.0);
        assert_eq!((&got["result"]["blanks"], &got["result"]["bars"]), (&10.into(), &1.into()));
        let thirds = answer(
            BASE,
            "bar-stock",
            r#"{"unit": "mm", "bar_length": 3000, "remnant": 0, "part_length": 0.1,
            "cutoff": 0.2, "facing": 0, "pieces": 10000, "scrap_fraction": 0}"#,
        );
        assert_eq!(thirds["result"]["pieces_per_bar"], 10000);
        assert_eq!(thirds["result"]["bars"], 1);
        assert_eq!(at(&thirds, "/result/material_length"), 3000.0);
    }

    proptest! {
        /// One more piece never fits, and the pieces counted always do.
        #[test]
        fn counts_are_tight(part in 1_u32..5000, cutoff in 0_u32..300, remnant in 0_u32..20000, pieces in 1_u64..1_000_000, scrap in 0_u32..500) {
            let mils = |n: u32| f64::from(n) / 1000.0;
            let change = serde_json::json!({"part_length": mils(part), "cutoff": mils(cutoff), "facing": 0,
                "remnant": mils(remnant), "pieces": pieces, "scrap_fraction": mils(scrap)});
            let got = answer(BASE, "bar-stock", &change.to_string());
            let whole = |name: &str| got["result"][name].as_u64().unwrap();
            let (usable, each) = (u64::from(144_000 - remnant), u64::from(part + cutoff));
            prop_assert!(whole("pieces_per_bar") * each <= usable && (whole("pieces_per_bar") + 1) * each > usable);
            let good = |blanks: u64| blanks * u64::from(1000 - scrap);
            prop_assert!(good(whole("blanks")) >= pieces * 1000 && good(whole("blanks") - 1) < pieces * 1000);
            prop_assert!(whole("bars") * whole("pieces_per_bar") >= whole("blanks"));
            prop_assert!((whole("bars") - 1) * whole("pieces_per_bar") < whole("blanks"));
        }
    }
}
