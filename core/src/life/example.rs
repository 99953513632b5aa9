//! Designs and a tool that the tests of grinds and checks share.

use super::{facts::ToolLife, measure::Measure, ownership::Ownership};
use crate::{
    code::Code,
    item::Condition,
    length::{Deviations, Length, LengthUnit},
    registry::tool_design::{Step, ToolDesignFields, ToolDesignKind},
};

pub(super) fn mm(value: f64) -> Length {
    Length::new(value, LengthUnit::Millimetre).unwrap()
}

pub(super) fn code(text: &str) -> Code {
    Code::parse(text).unwrap()
}

/// A flat design: 20° of rake, 40° of clearance, 30 mm new, used down to 12 mm by 0.4 mm a grind.
pub(super) fn flat() -> ToolDesignFields {
    ToolDesignFields {
        name: "Form".to_owned(),
        kind: ToolDesignKind::Flat,
        tool_face: None,
        steps: vec![Step { diameter: mm(10.0), z: mm(0.0), tolerance: Deviations::new(mm(-0.1), mm(0.1)).unwrap() }],
        rake_deg: 20.0,
        clearance_deg: 40.0,
        rake_tolerance_deg: 0.5,
        new_height: mm(30.0),
        minimum_height: mm(12.0),
        grind_stock: mm(0.4),
        holder_style: "DT-A".to_owned(),
        expected_pieces_per_grind: 5000,
        tool_radius: None,
        usable_angle_deg: None,
        lead_time_days: None,
        retired: false,
    }
}

/// A circular one of 30 mm radius: 10° of rake, 20° of clearance.
pub(super) fn circular() -> ToolDesignFields {
    ToolDesignFields {
        kind: ToolDesignKind::Circular,
        rake_deg: 10.0,
        clearance_deg: 20.0,
        new_height: mm(120.0),
        tool_radius: Some(mm(30.0)),
        ..flat()
    }
}

/// A flat tool of 20 mm with a worn edge.
pub(super) fn tool() -> ToolLife {
    ToolLife {
        code: code("FT-1"),
        condition: Condition::NeedsGrinding,
        height: mm(20.0),
        measure: Measure::of(&flat()),
        minimum_height: mm(12.0),
        grind_stock: mm(0.4),
        regrind_count: 3,
        pieces_since_grind: 4100,
        partly_ground: false,
        begun_before: false,
        in_setup: None,
        outside: None,
        run_to_book: None,
        ownership: Ownership::default(),
    }
}

/// A circular tool with 84° left, of which a usual grind takes three quarters of a degree.
pub(super) fn circular_tool() -> ToolLife {
    ToolLife { height: mm(56.0), measure: Measure::of(&circular()), ..tool() }
}
