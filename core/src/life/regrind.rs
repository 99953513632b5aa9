//! Grinding a form tool: what a grind does to its record, or why it is not taken.

use super::{
    edge::{EdgeEnd, EndedEdge},
    facts::{MEASUREMENTS_DIFFER, ToolLife},
    geometry::check_measured,
};
use crate::{
    calc::{
        Calculation,
        regrind_outlook::{Kind, RegrindOutlook, Request},
    },
    field_error::{FieldError, FieldErrors},
    findings::{Findings, RuleSet},
    ids::PersonId,
    item::Condition,
    length::Length,
    names::named,
    refusal::{Refusal, Rule},
    registry::tool_design::ToolDesignFields,
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

/// Who ground a tool.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GroundBy {
    /// A person of the shop: they do not pass it afterwards.
    Person(PersonId),
    /// Somebody outside the shop: a person or a place, in words.
    Outside(String),
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
    /// Who did it.
    pub ground_by: GroundBy,
    /// Whether a height far below what is expected was measured again, and is so.
    pub confirmed: bool,
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
        if let GroundBy::Outside(words) = &self.ground_by {
            errors.require_text(words, 100, "/ground_outside");
        }
        errors.into_vec()
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
        let (loss, height) = (loss.read_off(), height.read_off());
        return Err(fault(format!("would take {loss} of the {height} that the tool has")));
    }
    Ok(Some(loss))
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
/// Everything that speaks against it: retired, in an open setup, pieces that are not booked, no consent, a height that is not
/// the record's, rises, or falls too far to be taken unconfirmed, a count that goes back.
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
    tool.all_booked(&mut findings);
    if let Some(refusal) = tool.ownership.grind_refused(&tool.code, on) {
        findings.add(refusal);
    }
    let about = |rule: Rule, sentence: String| Refusal::new(rule, sentence).about(tool.subject());
    let (code, record, measure) = (&tool.code, tool.height, tool.measure);
    let before = fields.height_before.unwrap_or(record);
    let apart = before.minus(record).abs();
    findings.add_if(apart > MEASUREMENTS_DIFFER, || {
        let [before, record] = measure.beside(before, record);
        let sentence = if measure.is_angle() {
            format!("Tool {code} has {before} left before the grind; on record is {record}.")
        } else {
            format!("Tool {code} measures {before} before the grind; on record is {record}.")
        };
        about(Rule::ToolHeightDiffers, sentence).saw(before)
    });
    let after = match (fields.removal, loss) {
        (Some(Removal::Down(after)), _) => after,
        (Some(_), Some(loss)) => before.minus(loss),
        _ => record,
    };
    let takes = fields.kind != GrindKind::TouchUp;
    // Against the record too: a measurement that came out high must not make the record rise.
    findings.add_if(takes && (after >= before || after > record), || {
        let [after, record] = measure.beside(after, record);
        let sentence = if measure.is_angle() {
            format!("Tool {code} would have {after} left after a grind; before, it has {record}.")
        } else {
            format!("Tool {code} would be {after} high after a grind that takes height; before, it is {record}.")
        };
        about(Rule::ToolHeightRises, sentence).saw(after)
    });
    tool.expected(before, after, fields.confirmed, &mut findings);
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
        let [before, record] = measure.beside(before, record);
        remarks.push(format!(
            "Before the grind {before} was measured; on record was {record}. That is within what two measurements may differ."
        ));
    }
    if let Some(said) = fields.regrind_count.filter(|said| *said > counted) {
        remarks.push(format!(
            "The tool carries the count {said}; the records knew of {counted}. The tool's count is taken."
        ));
    }
    if fields.confirmed {
        let confirmed = if measure.is_angle() { "usable angles" } else { "heights" };
        remarks.push(format!("The {confirmed} were confirmed by whoever recorded them."));
    }
    if fields.burn_seen {
        remarks.push("Burn was seen: the tool stays out of use until a check finds its edge sound.".to_owned());
    }
    let below = after < tool.minimum_height;
    let kept_for_owner = below && tool.ownership.retirement_refused(&tool.code, on).is_some();
    let retires = below && !kept_for_owner;
    if below {
        remarks.push(tool.below_minimum(after, kept_for_owner));
    }
    // An edge that is only touched up or partly ground when its tool retires ends with the tool.
    let ended = fields.edge_ended.or(retires.then_some(EdgeEnd::Retired)).map(|ended| EndedEdge {
        pieces: tool.pieces_since_grind,
        ended,
        partly_ground: tool.partly_ground,
        begun_before: tool.begun_before,
    });
    Ok(Ground {
        height_before: before,
        height_after: after,
        regrind_count: fields.regrind_count.unwrap_or(counted),
        pieces_since_grind: if fields.kind == GrindKind::Full { 0 } else { tool.pieces_since_grind },
        ended,
        condition: match (below, retires) {
            (false, _) => Condition::NeedsCheck,
            (true, true) => Condition::Retired,
            (true, false) => Condition::Damaged,
        },
        remarks,
    })
}

#[cfg(test)]
pub(crate) mod tests;
