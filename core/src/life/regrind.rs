//! Grinding a form tool: what a grind does to its record, or why it is not taken.

use super::{
    edge::{EdgeEnd, EndedEdge},
    ownership::Ownership,
};
use crate::{
    calc::{
        Calculation,
        regrind_outlook::{Kind, RegrindOutlook, Request},
    },
    code::Code,
    field_error::{FieldError, FieldErrors},
    findings::{Findings, RuleSet},
    item::Condition,
    length::{Length, LengthUnit},
    names::named,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    registry::tool_design::{ToolDesignFields, ToolDesignKind},
    setup::facts::SetupPlace,
};
use chrono::NaiveDate;

named! {
    /// How far a grind goes.
    GrindKind {
        /// A new edge: all the wear is ground off.
        Full = "full",
        /// No height is taken: the pieces on the edge keep counting, and the count of grinds stays.
        TouchUp = "touch_up",
        /// Height is taken and the count rises, but some of the wear stays: the pieces on the edge keep counting.
        Partial = "partial",
    }
}

/// How far two measurements of one tool's height may differ: 0.05 mm. Common practice with a height gauge or calliper over a
/// ground edge, no published source.
pub const MEASUREMENTS_DIFFER: Length = Length::from_picometres(50_000_000, LengthUnit::Millimetre);

/// What a grind took, as it was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Removal {
    /// The height after it.
    Down(Length),
    /// Stock, normal to the cutting face.
    Stock(Length),
    /// The widest wear land, along the relief face, and what was ground beyond it, normal to the cutting face.
    WearLand {
        /// The wear land.
        width: Length,
        /// Stock beyond it.
        clean_up: Length,
    },
}

/// What is written about a grind.
#[derive(Clone, Debug, PartialEq)]
pub struct RegrindFields {
    /// How far it went.
    pub kind: GrindKind,
    /// The height as measured before it; the record's when it was not measured. For a circular tool, the arc.
    pub height_before: Option<Length>,
    /// What it took; none for a touch-up.
    pub removal: Option<Removal>,
    /// The count of grinds that the tool itself carries, this one included.
    pub regrind_count: Option<u32>,
    /// The wheel.
    pub wheel: Option<String>,
    /// Whether the wheel was dressed for it.
    pub dressed: bool,
    /// Whether burn was seen on the face.
    pub burn_seen: bool,
    /// The rake as measured afterwards, in degrees.
    pub rake_deg: Option<f64>,
    /// Circular tools: the face's distance from the tool's centre, as measured afterwards.
    pub face_offset: Option<Length>,
    /// Whether the grinder looked at the profile afterwards.
    pub profile_checked: bool,
    /// Why the edge ended; of a full grind, and only of one.
    pub edge_ended: Option<EdgeEnd>,
    /// Anything else to know.
    pub note: Option<String>,
}

impl RegrindFields {
    /// Everything that cannot be, of a tool of this design.
    #[must_use]
    pub fn check(&self, design: &ToolDesignFields) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        let positive = |errors: &mut FieldErrors, length: Option<Length>, at: &str| {
            errors.require(length.is_none_or(|length| length.picometres() > 0), at, "must be above zero");
        };
        positive(&mut errors, self.height_before, "/height_before/value");
        match self.removal {
            Some(Removal::Down(after)) => positive(&mut errors, Some(after), "/height_after/value"),
            Some(Removal::Stock(stock)) => positive(&mut errors, Some(stock), "/stock/value"),
            Some(Removal::WearLand { width, clean_up }) => {
                positive(&mut errors, Some(width), "/wear_land/value");
                errors.require(clean_up.picometres() >= 0, "/clean_up/value", "must not be negative");
            }
            None => {}
        }
        if self.kind == GrindKind::TouchUp {
            errors.require(self.height_before.is_none(), "/height_before", "a touch-up takes no height");
            errors.require(self.removal.is_none(), "/height_after", "a touch-up takes no height");
        } else {
            errors.require(
                self.removal.is_some(),
                "/height_after",
                "give one of height_after, stock and wear_land: this grind takes height",
            );
        }
        let full = self.kind == GrindKind::Full;
        errors.require(
            self.edge_ended.is_some() == full,
            "/edge_ended",
            "says why the edge ended, of a full grind and only of one",
        );
        errors.require(
            self.edge_ended.is_none_or(EdgeEnd::ends_by_grinding),
            "/edge_ended",
            "a grind ends an edge that is worn, early or damaged",
        );
        check_measured(self.rake_deg, self.face_offset, design, &mut errors);
        for (text, longest, at) in [(&self.wheel, 100, "/wheel"), (&self.note, 1000, "/note")] {
            if let Some(text) = text {
                errors.require_text(text, longest, at);
            }
        }
        errors.into_vec()
    }
}

/// What a grind and a check may both measure: rake, and a circular tool's face offset.
pub(super) fn check_measured(
    rake_deg: Option<f64>,
    face_offset: Option<Length>,
    design: &ToolDesignFields,
    errors: &mut FieldErrors,
) {
    errors.require(
        rake_deg.is_none_or(|rake| rake.is_finite() && rake.abs() < 45.0),
        "/rake_deg",
        "must lie between -45 and 45 degrees",
    );
    if let Some(offset) = face_offset {
        errors.require(design.kind == ToolDesignKind::Circular, "/face_offset", "belongs to circular tools");
        let within = design.tool_radius.is_none_or(|radius| offset.abs() < radius);
        errors.require(within, "/face_offset/value", "must be less than the tool's radius");
    }
}

/// What a grind of a tool of so much height costs along the relief face, by the design's clearance and rake; none where the
/// height afterwards was measured.
///
/// # Errors
/// Fields that cannot be, as the calculation `regrind-outlook` finds them, and more than the tool has.
pub fn height_loss(
    design: &ToolDesignFields,
    removal: Removal,
    height: Length,
) -> Result<Option<Length>, Vec<FieldError>> {
    let (unit, stock, land, clean_up) = match removal {
        Removal::Down(_) => return Ok(None),
        Removal::Stock(stock) => (stock.unit(), Some(stock.value()), None, None),
        Removal::WearLand { width, clean_up } => {
            (width.unit(), None, Some(width.value()), Some(clean_up.value_in(width.unit())))
        }
    };
    // Height and arc both run along the relief face: for the loss alone, a circular tool is as a flat one.
    let request = Request {
        unit,
        kind: Kind::Flat,
        height: Some(design.new_height.value_in(unit)),
        minimum_height: Some(design.minimum_height.value_in(unit)),
        tool_radius: None,
        usable_angle_deg: None,
        grind_stock: stock,
        stock_per_grind: None,
        wear_land: land,
        clearance_deg: Some(design.clearance_deg),
        rake_deg: Some(design.rake_deg),
        clean_up,
        pieces_per_grind: None,
        pieces_left_on_edge: None,
    };
    let named = |pointer: &str| if pointer == "/grind_stock" { "/stock".to_owned() } else { pointer.to_owned() };
    let answer = RegrindOutlook::calculate(&request).map_err(|error| {
        let fields = error.fields().iter();
        fields
            .map(|field| FieldError { pointer: named(&field.pointer), detail: field.detail.clone() })
            .collect::<Vec<_>>()
    })?;
    let at = if stock.is_some() { "/stock" } else { "/wear_land" };
    let fault = |detail: String| vec![FieldError { pointer: at.to_owned(), detail }];
    let loss = Length::new(answer.result.height_loss, unit).map_err(|error| fault(error.to_string()))?;
    if loss >= height {
        return Err(fault(format!("would take {loss} of the {height} that the tool has")));
    }
    Ok(Some(loss))
}

/// What the records know of a tool that is ground or checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToolLife {
    /// Its code.
    pub code: Code,
    /// The last judgement of it.
    pub condition: Condition,
    /// The height left.
    pub height: Length,
    /// The height below which its design is not used.
    pub minimum_height: Length,
    /// Grinds so far.
    pub regrind_count: u32,
    /// Pieces cut on the edge in use.
    pub pieces_since_grind: i64,
    /// Whether the edge in use was partly ground.
    pub partly_ground: bool,
    /// In which open setup it is.
    pub in_setup: Option<SetupPlace>,
    /// Whose it is.
    pub ownership: Ownership,
}

impl ToolLife {
    pub(super) fn subject(&self) -> Subject {
        Subject::coded(SubjectKind::FormTool, &self.code)
    }

    pub(super) fn at_rest(&self, findings: &mut Findings) {
        findings.add_if(self.condition == Condition::Retired, || {
            Refusal::new(Rule::ToolRetired, format!("Tool {} is retired.", self.code)).about(self.subject())
        });
        if let Some(place) = &self.in_setup {
            let sentence =
                format!("{} is in the setup of machine {}, at station {}.", self.code, place.machine, place.station);
            findings.add(Refusal::new(Rule::ItemInSetup, sentence).about(self.subject()));
        }
    }
}

/// What a grind did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ground {
    /// The height before it, as it counts.
    pub height_before: Length,
    /// The height after it.
    pub height_after: Length,
    /// Grinds so far, this one included.
    pub regrind_count: u32,
    /// Pieces on the edge in use from now on.
    pub pieces_since_grind: i64,
    /// The edge that ended.
    pub ended: Option<EndedEdge>,
    /// Its condition from now on: it waits for a check, or is retired.
    pub condition: Condition,
    /// What there is to say beside it.
    pub remarks: Vec<String>,
}

/// Judges a grind that was checked by [`RegrindFields::check`].
///
/// `loss` is what it cost along the relief face, where stock or a wear land was given ([`height_loss`]).
///
/// # Errors
/// Everything that speaks against it: retired, in an open setup, no consent, a height that is not the record's or rises, a
/// count that goes back.
pub fn grind(
    tool: &ToolLife,
    fields: &RegrindFields,
    loss: Option<Length>,
    on: NaiveDate,
) -> Result<Ground, Vec<Refusal>> {
    grind_under(RuleSet::ALL, tool, fields, loss, on)
}

fn grind_under(
    rules: RuleSet,
    tool: &ToolLife,
    fields: &RegrindFields,
    loss: Option<Length>,
    on: NaiveDate,
) -> Result<Ground, Vec<Refusal>> {
    let mut findings = Findings::under(rules);
    tool.at_rest(&mut findings);
    if let Some(refusal) = tool.ownership.grind_refused(&tool.code, on) {
        findings.add(refusal);
    }
    let about = |rule: Rule, sentence: String| Refusal::new(rule, sentence).about(tool.subject());
    let (code, record) = (&tool.code, tool.height);
    let before = fields.height_before.unwrap_or(record);
    let apart = before.minus(record).abs();
    findings.add_if(apart > MEASUREMENTS_DIFFER, || {
        about(
            Rule::ToolHeightDiffers,
            format!("Tool {code} measures {before} before the grind; on record is {record}."),
        )
        .saw(before.to_string())
    });
    let after = match (fields.removal, loss) {
        (Some(Removal::Down(after)), _) => after,
        (Some(_), Some(loss)) => before.minus(loss),
        _ => record,
    };
    let takes = fields.kind != GrindKind::TouchUp;
    // Against the record too: a measurement that came out high must not make the record rise.
    findings.add_if(takes && (after >= before || after > record), || {
        let sentence =
            format!("Tool {code} would be {after} high after a grind that takes height; before, it is {record}.");
        about(Rule::ToolHeightRises, sentence).saw(after.to_string())
    });
    let counted = tool.regrind_count + u32::from(takes);
    findings.add_if(fields.regrind_count.is_some_and(|said| said < counted), || {
        let said = fields.regrind_count.unwrap_or_default();
        about(Rule::GrindCountGoesBack, format!("Tool {code} has {counted} grinds with this one, not {said}."))
            .saw(said.to_string())
    });
    if !findings.is_empty() {
        return Err(findings.into_refusals());
    }

    let mut remarks = Vec::new();
    if apart.picometres() > 0 {
        remarks.push(format!(
            "Before the grind {before} was measured; on record was {record}. That is within what two measurements may differ."
        ));
    }
    if let Some(said) = fields.regrind_count.filter(|said| *said > counted) {
        remarks.push(format!(
            "The tool carries the count {said}; the records knew of {counted}. The tool's count is taken."
        ));
    }
    if fields.burn_seen {
        remarks.push("Burn was seen: the tool stays out of use until a check finds its edge sound.".to_owned());
    }
    let retires = after < tool.minimum_height;
    if retires {
        remarks.push(format!(
            "{after} is below the design's minimum of {}: the tool is retired with this grind.",
            tool.minimum_height
        ));
        if let Some(owner) = tool
            .ownership
            .belonging
            .owner
            .as_ref()
            .filter(|_| tool.ownership.retirement_refused(&tool.code, on).is_some())
        {
            remarks.push(format!("It belongs to {owner}, who has not consented to scrapping it: keep it for them."));
        }
    }
    let ended = fields.edge_ended.map(|ended| EndedEdge {
        pieces: tool.pieces_since_grind,
        ended,
        partly_ground: tool.partly_ground,
    });
    // An edge that is only touched up or partly ground when its tool retires ends with the tool.
    let ended = ended.or_else(|| {
        retires.then_some(EndedEdge {
            pieces: tool.pieces_since_grind,
            ended: EdgeEnd::Retired,
            partly_ground: tool.partly_ground,
        })
    });
    Ok(Ground {
        height_before: before,
        height_after: after,
        regrind_count: fields.regrind_count.unwrap_or(counted),
        pieces_since_grind: if fields.kind == GrindKind::Full { 0 } else { tool.pieces_since_grind },
        ended,
        condition: if retires { Condition::Retired } else { Condition::NeedsCheck },
        remarks,
    })
}

#[cfg(test)]
mod tests;
