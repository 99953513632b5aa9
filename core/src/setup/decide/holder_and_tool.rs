//! Seating holders; inserting, clamping and loosening tools.

use super::{Case, Decision, Effect, at, fits, move_to};
use crate::{
    code::Code,
    item::{Keeper, Purpose},
    life::ownership::not_for_part,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    scan::Scanned,
    setup::{
        blockers,
        event::{Event, SeatAnswers},
        facts::{FormFacts, HolderFacts, SetupPlace, ToolFacts},
        height_limit::HeightLimit,
        state::StationState,
    },
};

impl Case<'_> {
    /// A false seat answer is recorded and blocks later; everything else here is refused.
    pub(super) fn seat_holder(
        &mut self,
        station: &Code,
        holder: &Scanned<HolderFacts>,
        seat: SeatAnswers,
    ) -> Option<Decision> {
        let here = self.station(station);
        self.no_tag_out();
        self.on_record(holder, SubjectKind::Holder);
        let holder = holder.known()?;
        let subject = Subject::coded(SubjectKind::Holder, &holder.code);
        let code = &holder.code;
        self.findings.add_if(!holder.condition.is_usable(), || {
            Refusal::new(Rule::HolderNotUsable, format!("Holder {code} may not be used: {}.", holder.condition.words()))
                .saw(holder.condition.name())
                .about(subject.clone())
        });
        let today = self.now.date_naive();
        if let Some(day) = holder.next_check.filter(|day| today > *day) {
            self.findings.add(
                Refusal::new(Rule::HolderNotUsable, format!("The check of holder {code} ran out on {day}."))
                    .saw(format!("next check {day}"))
                    .about(subject.clone()),
            );
        }
        self.not_in_another_setup(holder.in_setup.as_ref(), station, &subject);
        let (_, plan, state) = here?;
        fits::holder(holder, plan, &mut self.findings);
        let event = Event::HolderSeated {
            station: station.clone(),
            holder: holder.item,
            code: code.clone(),
            adjusters: holder.adjusters.clone(),
            seat,
        };
        // A holder that comes out brings its tool with it.
        let leaving = leaving_tool(state).into_iter().chain(leaving_holder(state));
        Some(
            Decision::of(event)
                .with(leaving)
                .with(move_to(holder.item, holder.whereabouts.keeper, Keeper::Machine(self.setup.plan.machine)))
                .with([Effect::EnterSetup { item: holder.item, station: station.clone() }]),
        )
    }

    pub(super) fn insert_tool(&mut self, station: &Code, tool: &Scanned<ToolFacts>) -> Option<Decision> {
        let here = self.station(station);
        self.no_tag_out();
        if let Some((_, plan, state)) = here {
            self.findings.add_if(plan.needs_holder() && state.holder.is_none(), || {
                Refusal::new(Rule::HolderNotSeated, format!("No holder is seated at station {station}."))
                    .about(at(station))
            });
        }
        self.on_record(tool, SubjectKind::FormTool);
        let tool = tool.known()?;
        let subject = Subject::coded(SubjectKind::FormTool, &tool.code);
        self.findings.add_if(!tool.condition.is_usable(), || {
            Refusal::new(
                Rule::ToolNotUsable,
                format!("Tool {} may not be used: {}.", tool.code, tool.condition.words()),
            )
            .saw(tool.condition.name())
            .about(subject.clone())
        });
        self.not_in_another_setup(tool.in_setup.as_ref(), station, &subject);
        if let Some(form) = &tool.form {
            self.form_left(tool, form, &subject);
        }
        let plan = &self.setup.plan;
        let kept = not_for_part(&tool.code, &tool.ownership, plan.part, &plan.part_code, self.now.date_naive());
        kept.into_iter().for_each(|refusal| self.findings.add(refusal));
        let (_, plan, state) = here?;
        fits::tool(tool, plan, &mut self.findings);
        let event = Event::ToolInserted {
            station: station.clone(),
            tool: tool.item,
            code: tool.code.clone(),
            design: tool.form.as_ref().map(|form| form.design.design.clone()),
            height: tool.form.as_ref().map(|form| form.height),
        };
        Some(
            Decision::of(event)
                .with(leaving_tool(state))
                .with(move_to(tool.item, tool.whereabouts.keeper, Keeper::Machine(self.setup.plan.machine)))
                .with([Effect::EnterSetup { item: tool.item, station: station.clone() }]),
        )
    }

    fn form_left(&mut self, tool: &ToolFacts, form: &FormFacts, subject: &Subject) {
        self.findings.add_if(form.height < form.design.minimum_height, || {
            Refusal::new(
                Rule::ToolBelowMinimumHeight,
                format!(
                    "Tool {} has {} left; its design ends at {}.",
                    tool.code, form.height, form.design.minimum_height
                ),
            )
            .saw(form.height.to_string())
            .about(subject.clone())
        });
        self.findings.add_if(!form.checked_after_grind, || {
            Refusal::new(
                Rule::NotCheckedAfterGrind,
                format!("Tool {} was not checked after its last grind.", tool.code),
            )
            .about(subject.clone())
        });
        let was = match tool.purpose {
            Some(Purpose::Grind) => Some("was out for grinding".to_owned()),
            _ => tool.whereabouts.outside.then(|| format!("is outside the shop, at {},", tool.whereabouts.name)),
        };
        if let Some(was) = was {
            self.findings.add(
                Refusal::new(Rule::NotCheckedAfterGrind, format!("Tool {} {was} and waits for its check.", tool.code))
                    .clears("Take it back at the counter, and have it checked.")
                    .about(subject.clone()),
            );
        }
    }

    pub(super) fn clamp_tool(&mut self, station: &Code) -> Option<Decision> {
        let (_, plan, state) = self.station(station)?;
        self.tool_is_in(station, state);
        if plan.is_set_on_gauge() {
            match state.height_before {
                None => self.findings.add(
                    Refusal::new(
                        Rule::HeightNotRead,
                        format!("The height at station {station} is not read on the gauge."),
                    )
                    .about(at(station)),
                ),
                Some(taken) => {
                    self.findings.add_if(!taken.within_limit, || {
                        let limit = HeightLimit::of_taken(self.setup.plan.settings.height_limit, taken);
                        let sentence = format!("The height at station {station} is outside the limit.");
                        limit.explain(Refusal::new(Rule::HeightOutsideLimit, sentence).about(at(station)))
                    });
                    blockers::in_doubt(self.facts, station, taken, &mut self.findings);
                }
            }
        }
        Some(Decision::of(Event::ToolClamped { station: station.clone() }))
    }

    pub(super) fn unclamp_tool(&mut self, station: &Code) -> Option<Decision> {
        let (_, _, state) = self.station(station)?;
        self.tool_is_in(station, state);
        Some(Decision::of(Event::ToolUnclamped { station: station.clone() }))
    }

    pub(super) fn tool_is_in(&mut self, station: &Code, state: &StationState) {
        self.findings.add_if(state.tool.is_none(), || {
            Refusal::new(Rule::ToolNotInserted, format!("No tool is inserted at station {station}.")).about(at(station))
        });
    }

    pub(super) fn on_record<T>(&mut self, scanned: &Scanned<T>, kind: SubjectKind) {
        fits::on_record(scanned, kind, &mut self.findings);
    }

    /// An item is at one station of one open setup. At its own station it may be put in anew.
    fn not_in_another_setup(&mut self, place: Option<&SetupPlace>, station: &Code, subject: &Subject) {
        let ours = self.setup.plan.setup;
        if let Some(place) = place.filter(|place| place.setup != ours || place.station != *station) {
            self.findings.add(
                Refusal::new(
                    Rule::ItemInSetup,
                    format!(
                        "{} is in the setup of machine {}, at station {}.",
                        subject.code, place.machine, place.station
                    ),
                )
                .about(subject.clone()),
            );
        }
    }
}

pub(super) fn leaving_tool(state: &StationState) -> Option<Effect> {
    state.tool.as_ref().map(|tool| Effect::LeaveSetup { item: tool.item })
}

pub(super) fn leaving_holder(state: &StationState) -> Option<Effect> {
    state.holder.as_ref().map(|holder| Effect::LeaveSetup { item: holder.item })
}
