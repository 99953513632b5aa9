//! A form tool whose grind or check is typed: what is left of it, in the measure of its design. A flat tool's height is
//! typed as a length, a circular one's usable angle in degrees.

use super::{
    forms::Reading,
    frame::Frame,
    numbers::ShownLength,
    read_back::ReadLength,
    wording::{Phrase, section},
};
use crate::{
    app::registry::{FormTools, design_of, find},
    extract::Reference,
    problem::Problem,
};
use dovetally_core::{
    length::Length,
    life::{
        facts::{GRINDS_AT_ONCE, MEASUREMENTS_DIFFER, falls_far},
        measure::Measure,
    },
    reading::Doubt,
    registry::{
        item::FormTool,
        tool_design::{ToolDesign, ToolDesignKind},
    },
};
use dovetally_db::Connection;

section! {
    /// What is left of a form tool, as an angle.
    LeftWords { degrees, arc, arc_left }
}

/// A tool with its design.
pub(super) struct ToolOnRecord {
    pub(super) tool: FormTool,
    pub(super) design: ToolDesign,
}

/// What is left of a tool, as it was typed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct TypedLeft {
    /// Of a tool that is measured by its height.
    pub(super) height: Option<Length>,
    /// Of one that is measured by its angle.
    pub(super) angle_deg: Option<f64>,
}

impl ToolOnRecord {
    pub(super) fn find(connection: &mut Connection, reference: &Reference) -> Result<Self, Problem> {
        let tool = find::<FormTools>(connection, reference)?;
        let design = design_of(connection, &tool)?;
        Ok(Self { tool, design })
    }

    pub(super) fn is_circular(&self) -> bool {
        self.design.fields.kind == ToolDesignKind::Circular
    }

    /// Whether what is left is measured as an angle.
    pub(super) const fn by_angle(&self) -> bool {
        Measure::of(&self.design.fields).is_angle()
    }

    /// The unit beside the box in which what is left is typed.
    pub(super) const fn sign(&self) -> &'static str {
        if self.by_angle() { "°" } else { self.tool.height.unit().sign() }
    }

    /// What is left on record: the height, or the angle with the arc behind it.
    pub(super) fn left(&self, frame: &Frame) -> ShownLength {
        let height = self.tool.height;
        if self.by_angle() {
            self.angle_left(frame, self.told_left(frame, height), height)
        } else {
            frame.length(&height)
        }
    }

    /// What a usual grind takes.
    pub(super) fn usual(&self, frame: &Frame) -> ShownLength {
        let stock = self.design.fields.grind_stock;
        if !self.by_angle() {
            return frame.length(&stock);
        }
        let told = |text: String| frame.mark().sentence(&text);
        let arc = frame.words.left.arc.with("arc", told(stock.read_off())).to_string();
        ShownLength { entered: told(Measure::of(&self.design.fields).part(stock)), other: arc }
    }

    /// Reads what was measured of what is left; an angle must have its arc.
    pub(super) fn typed(&self, reading: &mut Reading<'_>, field: &'static str) -> TypedLeft {
        if !self.by_angle() {
            let height = reading.length(field, self.tool.height.unit());
            return TypedLeft { height, angle_deg: None };
        }
        let angle_deg = reading.number(field);
        if let Some(Err(why)) = angle_deg.map(|angle| self.design.fields.arc_with_usable_angle(angle)) {
            reading.refuse(field, &why);
        }
        TypedLeft { height: None, angle_deg }
    }

    /// The same, where it may be left out.
    pub(super) fn typed_if_any(&self, reading: &mut Reading<'_>, field: &'static str) -> TypedLeft {
        if reading.is_empty(field) { TypedLeft::default() } else { self.typed(reading, field) }
    }

    /// The height of what was typed.
    pub(super) fn height(&self, typed: TypedLeft) -> Option<Length> {
        let arc = typed.angle_deg.and_then(|angle| self.design.fields.arc_with_usable_angle(angle).ok());
        typed.height.or(arc)
    }

    /// What was typed, read back beside what is expected; `from` is what it falls from.
    pub(super) fn read(
        &self,
        frame: &Frame,
        label: &Phrase,
        typed: TypedLeft,
        (from, expected): (Length, Length),
    ) -> Option<ReadLength> {
        let height = self.height(typed)?;
        let stock = self.design.fields.grind_stock;
        let Some(angle_deg) = typed.angle_deg else {
            // A tenth of what the rules take unasked: the doubt begins at ten widths.
            let width = Length::from_picometres(stock.picometres() * GRINDS_AT_ONCE / 10, stock.unit());
            let mut read = ReadLength::near(frame, label, height, (expected, width));
            // The rules look at the fall alone, and ask sooner where less was expected or the tool is high.
            if read.doubt.is_none() && falls_far(from, height, stock) {
                read.doubt = Some(frame.doubt(Doubt::Far, &height, &expected));
            }
            return Some(read);
        };
        let number = frame.mark().number(angle_deg);
        let far = falls_far(from, height, stock) || height.minus(from) > MEASUREMENTS_DIFFER;
        let doubt = || frame.words.common.far.with("target", self.told_left(frame, expected)).to_string();
        Some(ReadLength {
            label: label.to_string(),
            shown: self.angle_left(frame, frame.words.left.degrees.with("degrees", number).to_string(), height),
            doubt: far.then(doubt),
        })
    }

    fn told_left(&self, frame: &Frame, height: Length) -> String {
        frame.mark().sentence(&Measure::of(&self.design.fields).left(height))
    }

    /// The angle that is left, with its arc in place of the other unit.
    fn angle_left(&self, frame: &Frame, entered: String, arc: Length) -> ShownLength {
        let [arc, least] = [arc, self.design.fields.minimum_height].map(|arc| frame.mark().sentence(&arc.read_off()));
        ShownLength { entered, other: frame.words.left.arc_left.with("arc", arc).with("least", least).to_string() }
    }
}
