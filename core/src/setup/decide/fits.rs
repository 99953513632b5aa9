//! Whether a tool or a holder can serve at a station at all: what it is, not how it is.

use crate::{
    findings::Findings,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    scan::Scanned,
    setup::{
        facts::{HolderFacts, ToolFacts},
        plan::{DesignRef, StationPlan},
    },
};

/// A scanned code is on record, as the kind that was asked for.
pub(super) fn on_record<T>(scanned: &Scanned<T>, kind: SubjectKind, findings: &mut Findings) {
    if let Some((code, what)) = scanned.mismatch() {
        findings.add(Refusal::new(Rule::ItemUnknown, format!("{what}.")).about(Subject::new(kind, code)));
    }
}

/// The style that the operation asks for.
pub(super) fn holder(holder: &HolderFacts, plan: &StationPlan, findings: &mut Findings) {
    let Some(style) = plan.operation.holder_style.as_ref().filter(|style| **style != holder.style) else { return };
    let (station, code) = (&plan.code, &holder.code);
    findings.add(
        Refusal::new(
            Rule::HolderStyleMismatch,
            format!("Station {station} needs a holder of style {style}; {code} is of style {}.", holder.style),
        )
        .saw(holder.style.clone())
        .about(Subject::coded(SubjectKind::Holder, code)),
    );
}

/// The operation's design, and the face direction of the station. A tool with a form has no business where the operation
/// asks for none.
pub(super) fn tool(tool: &ToolFacts, plan: &StationPlan, findings: &mut Findings) {
    let subject = Subject::coded(SubjectKind::FormTool, &tool.code);
    let has = tool.form.as_ref().map(|form| &form.design.design);
    let needs = plan.operation.tool_design.as_ref();
    findings.add_if(has.map(|design| design.id) != needs.map(|design| design.id), || {
        let name = |design: Option<&DesignRef>| {
            design.map_or_else(|| "a tool without a form".to_owned(), |design| format!("design {}", design.code))
        };
        Refusal::new(
            Rule::ToolDesignMismatch,
            format!("Station {} needs {}; tool {} is {}.", plan.code, name(needs), tool.code, name(has)),
        )
        .saw(name(has))
        .about(subject.clone())
    });
    let face = tool.form.as_ref().and_then(|form| form.design.tool_face);
    if let Some(face) = face.filter(|face| *face != plan.tool_face) {
        findings.add(
            Refusal::new(
                Rule::ToolHandMismatch,
                format!("Tool {} is made to face {face}; station {} faces {}.", tool.code, plan.code, plan.tool_face),
            )
            .saw(face.name())
            .about(subject),
        );
    }
}
