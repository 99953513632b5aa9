//! Grinds and edges that are left in a form tool, counted exactly.

use super::left::EdgesLeft;
use crate::{item::Condition, length::Length, registry::tool_design::ToolDesignFields};

/// Whole grinds between a height and the least one, the edge in use not counted; the calculation `regrind-outlook` counts the
/// same, and a test holds the two together.
#[must_use]
pub fn grinds_left(height: Length, minimum: Length, per_grind: Length) -> u64 {
    if per_grind.picometres() <= 0 {
        return 0;
    }
    u64::try_from(height.minus(minimum).picometres() / per_grind.picometres()).unwrap_or(0)
}

/// What a tool of a design still has to give, in the condition that it is in: what is worn or damaged gives nothing more
/// before its next grind, and what is retired or too low nothing at all.
#[must_use]
pub fn edges_left(
    design: &ToolDesignFields,
    height: Length,
    condition: Condition,
    pieces_since_grind: i64,
) -> EdgesLeft {
    if condition == Condition::Retired || height < design.minimum_height {
        return EdgesLeft::default();
    }
    let in_use = match condition {
        Condition::Usable | Condition::NeedsCheck => vec![pieces_since_grind],
        Condition::NeedsGrinding | Condition::Damaged | Condition::Retired => Vec::new(),
    };
    EdgesLeft { in_use, fresh: grinds_left(height, design.minimum_height, design.grind_stock) }
}

/// The edges that a new tool of a design will have: the one it comes with, and one for each grind.
#[must_use]
pub fn edges_of_a_new_tool(design: &ToolDesignFields) -> EdgesLeft {
    EdgesLeft {
        in_use: Vec::new(),
        fresh: 1 + grinds_left(design.new_height, design.minimum_height, design.grind_stock),
    }
}

#[cfg(test)]
mod tests {
    use super::grinds_left;
    use crate::{
        calc::find,
        length::{Length, LengthUnit},
    };
    use proptest::prelude::*;

    fn inch(value: f64) -> Length {
        Length::new(value, LengthUnit::Inch).unwrap()
    }

    #[test]
    fn a_picometre_short_is_a_grind_less() {
        assert_eq!(grinds_left(inch(1.25), inch(0.5), inch(0.015)), 50);
        let short = Length::from_picometres(inch(1.25).picometres() - 1, LengthUnit::Inch);
        assert_eq!(grinds_left(short, inch(0.5), inch(0.015)), 49);
        assert_eq!(grinds_left(inch(0.4), inch(0.5), inch(0.015)), 0);
        assert_eq!(grinds_left(inch(1.0), inch(0.5), inch(0.0)), 0);
    }

    proptest! {
        #[test]
        fn the_calculation_counts_the_same(height in 5_000..20_000_u32, least in 1_000..8_000_u32, stock in 1..400_u32) {
            let [height, least, stock] = [height, least, stock].map(|value| f64::from(value) / 10_000.0);
            let request = serde_json::json!({"unit": "in", "kind": "flat", "height": height, "minimum_height": least,
                "grind_stock": stock});
            let answer = (find("regrind-outlook").unwrap().calculate)(request.to_string().as_bytes()).unwrap();
            let answer: serde_json::Value = serde_json::from_str(&answer).unwrap();
            let counted = grinds_left(inch(height), inch(least), inch(stock));
            prop_assert_eq!(answer["result"]["regrinds_left"].as_u64(), Some(counted));
        }
    }
}
