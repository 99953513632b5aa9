//! Taking a tool out of its station, or a holder off it, without putting another in its place.

use super::{
    Case, Decision, Effect, at,
    holder_and_tool::{leaving_holder, leaving_tool},
};
use crate::{
    code::Code,
    ids::ItemId,
    item::Keeper,
    refusal::{Refusal, Rule, SubjectKind},
    scan::Scanned,
    setup::event::Event,
};

impl Case<'_> {
    /// It may be done on a machine that is tagged out: emptying a station is often part of the work.
    pub(super) fn remove_tool(&mut self, station: &Code, tool: &Scanned<ItemId>) -> Option<Decision> {
        let (_, _, state) = self.station(station)?;
        self.on_record(tool, SubjectKind::FormTool);
        let inside = state.tool.as_ref();
        self.findings.add_if(inside.map(|inside| &inside.item) != tool.known(), || {
            let refusal = match inside {
                Some(inside) => {
                    let sentence = format!("The tool at station {station} is {}, not the one scanned.", inside.code);
                    Refusal::new(Rule::ToolNotInserted, sentence).clears(format!("Scan tool {}.", inside.code))
                }
                None => Refusal::new(Rule::ToolNotInserted, format!("No tool is inserted at station {station}."))
                    .clears("There is nothing to take out here."),
            };
            refusal.about(at(station))
        });
        let inside = inside?;
        let event = Event::ToolRemoved { station: station.clone(), tool: inside.item, code: inside.code.clone() };
        Some(Decision::of(event).with(leaving_tool(state)).with([self.to_hand(inside.item)]))
    }

    /// A holder that comes off brings its tool with it.
    pub(super) fn remove_holder(&mut self, station: &Code, holder: &Scanned<ItemId>) -> Option<Decision> {
        let (_, _, state) = self.station(station)?;
        self.on_record(holder, SubjectKind::Holder);
        let seated = state.holder.as_ref();
        self.findings.add_if(seated.map(|seated| &seated.item) != holder.known(), || {
            let refusal = match seated {
                Some(seated) => {
                    let sentence = format!("The holder at station {station} is {}, not the one scanned.", seated.code);
                    Refusal::new(Rule::HolderNotSeated, sentence).clears(format!("Scan holder {}.", seated.code))
                }
                None => Refusal::new(Rule::HolderNotSeated, format!("No holder is seated at station {station}."))
                    .clears("There is nothing to take off here."),
            };
            refusal.about(at(station))
        });
        let seated = seated?;
        let event = Event::HolderRemoved { station: station.clone(), holder: seated.item, code: seated.code.clone() };
        let tool = state.tool.as_ref().map(|tool| self.to_hand(tool.item));
        Some(
            Decision::of(event)
                .with(leaving_tool(state).into_iter().chain(leaving_holder(state)))
                .with(tool)
                .with([self.to_hand(seated.item)]),
        )
    }

    const fn to_hand(&self, item: ItemId) -> Effect {
        Effect::MoveItem { item, to: Keeper::Person(self.who.person) }
    }
}
