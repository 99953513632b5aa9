//! Checking a form tool: what makes it usable again after a grind, a crash or a fall, or keeps it out of use.

use super::{
    facts::{MEASUREMENTS_DIFFER, ToolLife},
    geometry::{check_measured, face_offset_holds, face_offset_limits, rake_holds},
};
use crate::{
    code::Code,
    field_error::{FieldError, FieldErrors},
    findings::{Findings, RuleSet},
    ids::PersonId,
    item::Condition,
    length::Length,
    names::named,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    registry::tool_design::{ToolDesignFields, ToolDesignKind},
};
use chrono::NaiveDate;

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
        self.doubts_edge() || matches!(self, Self::ProfileOff | Self::RakeOff | Self::FaceOffsetOff)
    }

    /// Whether it runs deeper than it is seen: it stays on record until the edge was found sound, whatever later checks
    /// look at.
    #[must_use]
    pub const fn doubts_edge(self) -> bool {
        matches!(self, Self::Crack | Self::Burn)
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
    /// Where a check had found burn or a crack and nothing was ground off since: what was done, that the edge is sound.
    pub edge_cleared: Option<String>,
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
    /// Whether a height far below what is expected was measured again, and is so.
    pub confirmed: bool,
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
            !(self.edge_sound && self.doubts_edge()),
            "/edge_sound",
            "an edge with burn or a crack is not sound",
        );
        if let Some(words) = &self.edge_cleared {
            errors.require_text(words, 1000, "/edge_cleared");
            errors.require(self.edge_sound, "/edge_cleared", "says what was done that the edge is found sound");
        }
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

    /// Whether burn or a crack was found.
    #[must_use]
    pub fn doubts_edge(&self) -> bool {
        self.found.iter().any(|finding| finding.doubts_edge())
    }
}

/// Burn or cracks on record that no check has found gone since.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum EdgeDoubt {
    /// None.
    #[default]
    None,
    /// Seen by the grinder, or found by a check before a grind that took height: it may have gone with what was ground off,
    /// and the edge is to be tested.
    Ground,
    /// Found by a check, and nothing was ground off since: it is still there unless somebody who may say so finds that it
    /// was something else.
    Found,
}

impl EdgeDoubt {
    /// Why a tool is not made usable by a word at the counter.
    #[must_use]
    pub fn refusal(self, tool: &Code) -> Option<Refusal> {
        let sentence = format!("Burn or a crack was seen on tool {tool}, and its edge is not found sound.");
        let about = Subject::coded(SubjectKind::FormTool, tool);
        (self != Self::None).then(|| Refusal::new(Rule::BurnNotCleared, sentence).about(about))
    }
}

/// What happened to a tool since it was last passed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SincePassed {
    /// Whether it was ground.
    pub ground: bool,
    /// Which people of the shop ground it.
    pub ground_by: Vec<PersonId>,
    /// Burn and cracks that are open.
    pub edge: EdgeDoubt,
}

/// Who checks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Checker {
    /// The person.
    pub person: PersonId,
    /// Whether they inspect: then they may say that what a check found was no burn and no crack.
    pub inspects: bool,
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
/// Everything that speaks against it: retired, in an open setup, a height that rises or falls too far to be taken
/// unconfirmed, a finding that is not this person's to clear, the edge of one's own grind found sound while it is in doubt;
/// pieces not booked where it retires the tool; and against passing it: a tool outside the shop, one's own grind, an edge
/// not found sound, a profile that was not compared, a height below the design's minimum, rake or face offset that are
/// off, and after a grind height, rake or face offset that nobody measured with this check.
pub fn check(
    tool: &ToolLife,
    design: &ToolDesignFields,
    since: &SincePassed,
    fields: &ToolCheckFields,
    who: Checker,
    on: NaiveDate,
) -> Result<Checked, Vec<Refusal>> {
    check_under(RuleSet::ALL, tool, design, since, fields, who, on)
}

fn check_under(
    rules: RuleSet,
    tool: &ToolLife,
    design: &ToolDesignFields,
    since: &SincePassed,
    fields: &ToolCheckFields,
    who: Checker,
    on: NaiveDate,
) -> Result<Checked, Vec<Refusal>> {
    let mut findings = Findings::under(rules);
    tool.at_rest(&mut findings);
    let (code, record, measure) = (&tool.code, tool.height, tool.measure);
    let about = |rule: Rule, sentence: String| Refusal::new(rule, sentence).about(tool.subject());
    let measured = fields.height.unwrap_or(record);
    findings.add_if(measured.minus(record) > MEASUREMENTS_DIFFER, || {
        let [measured, record] = measure.beside(measured, record);
        about(Rule::ToolHeightRises, format!("Tool {code} is on record with {record}; {measured} would be more."))
            .saw(measured)
    });
    tool.expected(record, measured, fields.confirmed, &mut findings);
    findings.add_if(
        fields.edge_sound && since.edge == EdgeDoubt::Found && !(who.inspects && fields.edge_cleared.is_some()),
        || {
            let sentence = format!("A check found burn or a crack on tool {code}, and nothing was ground off since.");
            about(Rule::FindingNotCleared, sentence)
        },
    );
    let height = measured.min(record);
    let below = height < tool.minimum_height;
    let kept_for_owner = below && tool.ownership.retirement_refused(code, on).is_some();
    if below && !kept_for_owner {
        tool.all_booked(&mut findings);
    }
    // Who ground ends a doubt of the edge as little as they pass the tool, even where they leave it out of use.
    let ends_doubt = fields.edge_sound && since.edge != EdgeDoubt::None;
    findings.add_if(since.ground_by.contains(&who.person) && (fields.accepted || ends_doubt), || {
        about(Rule::OwnGrindNotPassed, format!("You ground tool {code} yourself since it was last passed."))
    });
    if fields.accepted {
        not_to_pass(tool, design, since, fields, &mut findings);
        findings.add_if(below, || {
            let [left, least] = measure.beside(height, tool.minimum_height);
            let sentence = if measure.is_angle() {
                let beyond = measure.part(tool.minimum_height.minus(height));
                format!("The usable angle of tool {code} is used up, and {beyond} more.")
            } else {
                format!("Tool {code} has {left} left; its design ends at {least}.")
            };
            about(Rule::ToolBelowMinimumHeight, sentence)
                .saw(left)
                .clears("Record it as not accepted: it is retired then, or kept for its owner.")
        });
    }
    if !findings.is_empty() {
        return Err(findings.into_refusals());
    }
    let mut remarks = Vec::new();
    let [read, said] = measure.beside(measured, record);
    let [falls, confirmed] =
        if measure.is_angle() { ["the usable angle", "usable angle"] } else { ["a height", "height"] };
    if measured > record {
        remarks.push(format!("{read} was measured; the record's {said} stays, for {falls} only falls."));
    } else if measured < record {
        remarks.push(format!("The record said {said}; from now on it is {read}."));
    }
    if fields.confirmed {
        remarks.push(format!("The {confirmed} was confirmed by whoever recorded it."));
    }
    if fields.face_offset.is_some() && face_offset_limits(design).is_none() {
        remarks.push("The design has no tool_radius: the face offset could not be held against it.".to_owned());
    }
    let condition = match (fields.accepted, below, fields.condition) {
        (_, true, _) if kept_for_owner => Condition::Damaged,
        (_, true, _) => Condition::Retired,
        (true, ..) => Condition::Usable,
        (false, _, said) => said.unwrap_or(Condition::NeedsGrinding),
    };
    if below {
        remarks.push(tool.below_minimum(height, kept_for_owner));
    }
    Ok(Checked { condition, passed: fields.accepted, height, remarks })
}

/// What speaks against passing a tool. What makes a grind good is measured by whoever checks it: nobody's own figures pass
/// their own grind.
fn not_to_pass(
    tool: &ToolLife,
    design: &ToolDesignFields,
    since: &SincePassed,
    fields: &ToolCheckFields,
    findings: &mut Findings,
) {
    let code = &tool.code;
    let about = |rule: Rule, sentence: String| Refusal::new(rule, sentence).about(tool.subject());
    // It is passed for use here: whoever passes it has it in front of them.
    if let Some(place) = &tool.outside {
        let sentence = format!("Tool {code} is outside the shop, at {place}: nobody here has it at hand.");
        findings.add(
            about(Rule::ItemHeldElsewhere, sentence)
                .saw(place.clone())
                .clears("Take it back at the counter first, then check it."),
        );
    }
    if let Some(refusal) = since.edge.refusal(code).filter(|_| !fields.edge_sound) {
        findings.add(refusal);
    }
    findings.add_if(!fields.profile_checked, || {
        about(Rule::ProfileNotChecked, format!("The profile of tool {code} was not compared with its design's."))
    });
    let not_measured = |what: &str| format!("The {what} of tool {code} was not measured after its grind.");
    let circular = design.kind == ToolDesignKind::Circular;
    findings.add_if(since.ground && fields.height.is_none(), || {
        about(Rule::HeightNotMeasured, not_measured(tool.measure.name()))
    });
    findings.add_if(since.ground && fields.rake_deg.is_none(), || about(Rule::RakeNotMeasured, not_measured("rake")));
    findings.add_if(since.ground && circular && fields.face_offset.is_none(), || {
        about(Rule::FaceOffsetNotMeasured, not_measured("face offset"))
    });
    if let Some(rake) = fields.rake_deg {
        findings.add_if(!rake_holds(design, rake), || {
            let (asked, tolerance) = (design.rake_deg, design.rake_tolerance_deg);
            let sentence = format!(
                "Tool {code} has {rake} degrees of rake; its design asks for {asked}, and {tolerance} more or less."
            );
            about(Rule::RakeOff, sentence).saw(format!("{rake} degrees"))
        });
    }
    if let (Some(offset), Some((least, most))) = (fields.face_offset, face_offset_limits(design)) {
        findings.add_if(!face_offset_holds(design, offset), || {
            let [offset, least, most] = [offset, least, most].map(Length::read_off);
            let sentence =
                format!("The face of tool {code} stands {offset} from its centre, not from {least} to {most}.");
            about(Rule::FaceOffsetOff, sentence).saw(offset)
        });
    }
}

#[cfg(test)]
pub(crate) mod tests;
