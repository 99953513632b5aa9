//! Checking a form tool: what makes it usable again after a grind, a crash or a fall, or keeps it out of use.

use super::regrind::{MEASUREMENTS_DIFFER, ToolLife, check_measured};
use crate::{
    field_error::{FieldError, FieldErrors},
    findings::{Findings, RuleSet},
    ids::PersonId,
    item::Condition,
    length::Length,
    names::named,
    refusal::{Refusal, Rule},
    registry::tool_design::{ToolDesignFields, ToolDesignKind},
};

named! {
    /// What a check can find on a form tool.
    ToolFinding {
        /// A wear land.
        Wear = "wear",
        /// A chip at the edge.
        Chip = "chip",
        /// A crack.
        Crack = "crack",
        /// Burn from grinding.
        Burn = "burn",
        /// The profile is not the design's.
        ProfileOff = "profile_off",
        /// The rake is not the design's.
        RakeOff = "rake_off",
        /// A circular tool's face is not where the design has it.
        FaceOffsetOff = "face_offset_off",
        /// Something else, told in the note.
        Other = "other",
    }
}

impl ToolFinding {
    /// Whether a tool with it may be passed at all. A wear land or a chip off the form may be let go by who judges.
    #[must_use]
    pub const fn forbids_passing(self) -> bool {
        matches!(self, Self::Crack | Self::Burn | Self::ProfileOff | Self::RakeOff | Self::FaceOffsetOff)
    }
}

/// What is written about a check.
#[derive(Clone, Debug, PartialEq)]
pub struct ToolCheckFields {
    /// Whether the tool may be used.
    pub accepted: bool,
    /// Whether the profile was compared with the design's.
    pub profile_checked: bool,
    /// Whether the edge was tested for burn or cracks and found sound.
    pub edge_sound: bool,
    /// The height as measured; for a circular tool, the arc.
    pub height: Option<Length>,
    /// The rake as measured, in degrees.
    pub rake_deg: Option<f64>,
    /// Circular tools: the face's distance from the tool's centre, as measured.
    pub face_offset: Option<Length>,
    /// What was found.
    pub found: Vec<ToolFinding>,
    /// What a tool that is not accepted needs.
    pub condition: Option<Condition>,
    /// Anything else to know.
    pub note: Option<String>,
}

impl ToolCheckFields {
    /// Everything that cannot be, of a tool of this design.
    #[must_use]
    pub fn check(&self, design: &ToolDesignFields) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require(self.height.is_none_or(|h| h.picometres() > 0), "/height/value", "must be above zero");
        check_measured(self.rake_deg, self.face_offset, design, &mut errors);
        for (index, finding) in self.found.iter().enumerate() {
            let at = format!("/found/{index}");
            errors.require(!self.found[..index].contains(finding), at.clone(), "is named twice");
            let passed = self.accepted && finding.forbids_passing();
            errors.require(!passed, at, format!("a tool with {} is not accepted", finding.words()));
        }
        errors.require(
            !(self.edge_sound && self.found.iter().any(|f| matches!(f, ToolFinding::Burn | ToolFinding::Crack))),
            "/edge_sound",
            "an edge with burn or a crack is not sound",
        );
        match self.condition {
            None => errors.require(self.accepted, "/condition", "says what a tool that is not accepted needs"),
            Some(Condition::NeedsGrinding | Condition::Damaged) => {
                errors.require(!self.accepted, "/condition", "an accepted tool is usable; leave it out");
            }
            Some(_) => errors.add("/condition", "is needs_grinding or damaged"),
        }
        if let Some(note) = &self.note {
            errors.require_text(note, 1000, "/note");
        }
        let needs_note = self.found.contains(&ToolFinding::Other) && self.note.is_none();
        errors.require(!needs_note, "/note", "says what else was found");
        errors.into_vec()
    }
}

/// What happened to a tool since it was last passed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SincePassed {
    /// Who ground it.
    pub ground_by: Vec<PersonId>,
    /// Whether burn was seen and no check found the edge sound since.
    pub burn_open: bool,
    /// Whether its face offset was measured after its last grind.
    pub face_offset_measured: bool,
}

/// What a check did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Checked {
    /// Its condition from now on.
    pub condition: Condition,
    /// Whether it counts as checked after its last grind; as before when it was not accepted.
    pub passed: bool,
    /// The height from now on.
    pub height: Length,
    /// What there is to say beside it.
    pub remarks: Vec<String>,
}

/// Judges a check that was checked by [`ToolCheckFields::check`]. A height that it measured becomes the record's: that is
/// how a record that was wrong is set right, downward only.
///
/// # Errors
/// Everything that speaks against it: retired, in an open setup, a height that rises; and against passing it: one's own grind,
/// burn not cleared, a face offset that nobody measured, a height below the design's minimum.
pub fn check(
    tool: &ToolLife,
    design: ToolDesignKind,
    since: &SincePassed,
    fields: &ToolCheckFields,
    who: PersonId,
) -> Result<Checked, Vec<Refusal>> {
    check_under(RuleSet::ALL, tool, design, since, fields, who)
}

fn check_under(
    rules: RuleSet,
    tool: &ToolLife,
    design: ToolDesignKind,
    since: &SincePassed,
    fields: &ToolCheckFields,
    who: PersonId,
) -> Result<Checked, Vec<Refusal>> {
    let mut findings = Findings::under(rules);
    tool.at_rest(&mut findings);
    let (code, record) = (&tool.code, tool.height);
    let about = |rule: Rule, sentence: String| Refusal::new(rule, sentence).about(tool.subject());
    let measured = fields.height.unwrap_or(record);
    findings.add_if(measured.minus(record) > MEASUREMENTS_DIFFER, || {
        about(Rule::ToolHeightRises, format!("Tool {code} is on record with {record}; {measured} would be more."))
            .saw(measured.to_string())
    });
    let height = measured.min(record);
    let below = height < tool.minimum_height;
    if fields.accepted {
        findings.add_if(since.ground_by.contains(&who), || {
            about(Rule::OwnGrindNotPassed, format!("You ground tool {code} yourself since it was last passed."))
        });
        findings.add_if(since.burn_open && !fields.edge_sound, || {
            about(Rule::BurnNotCleared, format!("Burn was seen on tool {code}, and its edge is not found sound."))
        });
        let offset_open = design == ToolDesignKind::Circular
            && !since.ground_by.is_empty()
            && !since.face_offset_measured
            && fields.face_offset.is_none();
        findings.add_if(offset_open, || {
            about(
                Rule::FaceOffsetNotMeasured,
                format!("The face offset of tool {code} was not measured after its grind."),
            )
        });
        findings.add_if(below, || {
            let least = tool.minimum_height;
            about(Rule::ToolBelowMinimumHeight, format!("Tool {code} has {height} left; its design ends at {least}."))
                .saw(height.to_string())
                .clears("Record it as not accepted: it is retired then.")
        });
    }
    if !findings.is_empty() {
        return Err(findings.into_refusals());
    }
    let mut remarks = Vec::new();
    if measured > record {
        remarks.push(format!("{measured} was measured; the record's {record} stays, for a height only falls."));
    } else if measured < record {
        remarks.push(format!("The record said {record}; from now on it is {measured}."));
    }
    let condition = match (fields.accepted, below, fields.condition) {
        (_, true, _) => Condition::Retired,
        (true, ..) => Condition::Usable,
        (false, _, said) => said.unwrap_or(Condition::NeedsGrinding),
    };
    if below {
        remarks
            .push(format!("{height} is below the design's minimum of {}: the tool is retired.", tool.minimum_height));
    }
    Ok(Checked { condition, passed: fields.accepted, height, remarks })
}

#[cfg(test)]
mod tests;
