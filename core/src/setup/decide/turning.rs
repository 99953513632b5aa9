//! From stock to the first turn: feeding, the index by hand, the approach, the trial.

use super::{Case, Decision, at};
use crate::{
    code::Code,
    length::Length,
    refusal::{Refusal, Rule},
    setup::{
        blockers::{self, Readiness},
        event::{Event, Stock},
    },
};

impl Case<'_> {
    pub(super) fn feed_stock(&mut self, stock: &Stock) -> Option<Decision> {
        self.no_tag_out();
        blockers::examine(self.setup, self.facts, Readiness::Stock, &mut self.findings);
        Some(Decision::of(Event::StockFed { stock: stock.clone() }))
    }

    pub(super) fn confirm_index_clearance(&mut self, confirmed: bool) -> Option<Decision> {
        self.no_tag_out();
        let machine = self.machine();
        self.findings.add_if(!confirmed, || {
            Refusal::new(Rule::IndexClearanceNotConfirmed, "The full turn by hand was not confirmed.")
                .saw("confirmed: false")
                .about(machine.clone())
        });
        self.findings
            .add_if(self.setup.stock.is_none(), || Refusal::new(Rule::StockNotFed, "Stock is not fed.").about(machine));
        // A gauge in the way would be struck.
        blockers::gauges_out(self.setup, self.facts, &mut self.findings);
        Some(Decision::of(Event::IndexClearanceConfirmed))
    }

    pub(super) fn read_approach(&mut self, station: &Code, gap: Length) -> Option<Decision> {
        let (_, _, state) = self.station(station)?;
        self.tool_is_in(station, state);
        // Clamping moves the edge: a gap that was read before says nothing after.
        self.findings.add_if(state.tool.is_some() && !state.clamped, || {
            Refusal::new(Rule::NotClamped, format!("The tool at station {station} is not clamped.")).about(at(station))
        });
        self.findings.add_if(!self.setup.index_clear, || {
            Refusal::new(Rule::IndexClearanceNotConfirmed, "The index is not proven clear as the tools stand now.")
                .about(at(station))
        });
        // At another height the form meets the bar at another place.
        if let Some(taken) = state.height_after {
            blockers::in_doubt(self.facts, station, taken, &mut self.findings);
        }
        // The slide goes up to the bar for this reading, and whatever stands in the way is struck.
        blockers::gauges_out(self.setup, self.facts, &mut self.findings);
        self.findings.add_if(gap.picometres() <= 0, || {
            Refusal::new(Rule::ApproachNotRead, "A gap of zero or less is contact before the cut.")
                .saw(gap.to_string())
                .clears("Move the slide back until there is a small gap, and read it.")
                .about(at(station))
        });
        Some(Decision::of(Event::ApproachRead { station: station.clone(), gap }))
    }

    /// The machine turns for the first time: refused with the one rule for it, and beside it all that is open.
    pub(super) fn begin_trial_cut(&mut self) -> Option<Decision> {
        let mut open = crate::findings::Findings::under(self.findings.rules());
        blockers::examine(self.setup, self.facts, Readiness::Trial, &mut open);
        if self.findings.rules().has(Rule::TrialNotClear) && !open.is_empty() {
            let open = open.into_refusals();
            let steps = if open.len() == 1 { "one open step".to_owned() } else { format!("{} open steps", open.len()) };
            self.findings.add(
                Refusal::new(
                    Rule::TrialNotClear,
                    format!("Machine {} may not turn: {steps}.", self.setup.plan.machine_code),
                )
                .about(self.machine()),
            );
            open.into_iter().for_each(|step| self.findings.add(step));
        }
        Some(Decision::of(Event::TrialCutBegun))
    }
}
