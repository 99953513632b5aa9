//! Placing gauges, reading heights, taking gauges out.

use super::{Case, Decision, Effect, at, move_to};
use crate::{
    code::Code,
    gauge::{self, GaugeFacts, GaugeMachine},
    ids::ItemId,
    item::Keeper,
    refusal::{Refusal, Rule},
    scan::Scanned,
    setup::{
        event::{Event, HeightPhase, HeightReading},
        height_limit::HeightLimit,
    },
};
use serde_json::Value;

impl Case<'_> {
    pub(super) fn place_gauge(
        &mut self,
        station: &Code,
        gauge: &Scanned<GaugeFacts>,
        machine_stopped: bool,
    ) -> Option<Decision> {
        let here = self.station(station);
        self.no_tag_out();
        let code = self.setup.plan.machine_code.clone();
        self.findings.add_if(!machine_stopped, || {
            Refusal::new(Rule::MachineRunning, "A gauge is placed only in a machine that was confirmed as stopped.")
                .saw("machine_stopped: false")
                .clears("Stop the machine, make sure that it cannot start, and confirm it.")
        });
        if let Some(gauge) = gauge.known() {
            self.findings.add_if(!gauge.stations.is_empty() && !gauge.stations.contains(station), || {
                let sentence = format!("Gauge {} is not cut for station {station}.", gauge.code);
                Refusal::new(Rule::GaugeForOtherMachine, sentence)
                    .clears(format!("Fetch a gauge that is cut for station {station}."))
                    .about(gauge.subject())
            });
        }
        let machine = GaugeMachine { machine: self.setup.plan.machine, code };
        gauge::examine(&machine, gauge, self.who.person, self.now, &mut self.findings);
        let gauge = gauge.known()?;
        if !self.findings.includes(Rule::GaugeForOtherMachine) {
            self.gauge_in_hand(gauge);
        }
        let (_, _, state) = here?;
        if let Some(other) = state.gauge.as_ref().filter(|other| other.item != gauge.item) {
            let sentence = format!("Gauge {} is still at station {station}.", other.code);
            self.findings.add(Refusal::new(Rule::GaugeStillInMachine, sentence).about(at(station)));
        }
        let event = Event::GaugePlaced { station: station.clone(), gauge: gauge.item, code: gauge.code.clone() };
        Some(
            Decision::of(event)
                .with(move_to(gauge.item, gauge.whereabouts.keeper, Keeper::Machine(self.setup.plan.machine)))
                .with([Effect::GaugeIn { gauge: gauge.item, station: station.clone() }]),
        )
    }

    /// Whether a gauge that is for here is in hand.
    fn gauge_in_hand(&mut self, gauge: &GaugeFacts) {
        let about = |rule: Rule, sentence: String| {
            Refusal::new(rule, sentence).about(gauge.subject()).saw(gauge.whereabouts.name.clone())
        };
        // In its place it is the right gauge, but nobody has it in hand.
        self.findings
            .add_if(matches!(gauge.whereabouts.keeper, Keeper::Place(_)) && !gauge.whereabouts.outside, || {
                about(Rule::GaugeNotInHand, format!("Gauge {} is still in {}.", gauge.code, gauge.whereabouts.name))
            });
        let placed = gauge.placed.as_ref().map(|placed| (&placed.machine_code, &placed.station));
        let placed =
            placed.or_else(|| self.placed_at(gauge.item).map(|station| (&self.setup.plan.machine_code, station)));
        if let Some((machine, station)) = placed {
            let sentence = format!("Gauge {} is in machine {machine} at station {station}.", gauge.code);
            self.findings.add(about(Rule::GaugePlacedElsewhere, sentence));
        }
    }

    /// The station of this setup at which a gauge is placed.
    fn placed_at(&self, gauge: ItemId) -> Option<&Code> {
        let here =
            self.setup.stations.iter().position(|s| s.gauge.as_ref().is_some_and(|placed| placed.item == gauge))?;
        self.setup.plan.stations.get(here).map(|plan| &plan.code)
    }

    /// A height outside the limit is recorded and blocks later.
    pub(super) fn read_height(
        &mut self,
        station: &Code,
        phase: HeightPhase,
        reading: HeightReading,
        correction: Option<&Value>,
    ) -> Option<Decision> {
        let (_, _, state) = self.station(station)?;
        self.tool_is_in(station, state);
        match phase {
            HeightPhase::BeforeClamping => self.findings.add_if(state.clamped, || {
                Refusal::new(Rule::StillClamped, format!("The tool at station {station} is clamped."))
                    .clears("Record the reading as one after clamping, or the tool as unclamped first.")
                    .about(at(station))
            }),
            HeightPhase::AfterClamping => self.findings.add_if(!state.clamped, || {
                Refusal::new(Rule::NotClamped, format!("The tool at station {station} is not clamped."))
                    .about(at(station))
            }),
        }
        self.findings.add_if(state.gauge.is_none(), || {
            Refusal::new(Rule::GaugeNotPlaced, format!("No gauge is placed at station {station}.")).about(at(station))
        });
        if let Some(gauge) = &state.gauge {
            // It was right when it was placed; what was found since counts.
            match self.facts.standing(gauge.item) {
                Some(standing) => {
                    standing.examine(&self.setup.plan.machine_code, self.facts, self.now, &mut self.findings);
                }
                None => self.findings.add(
                    Refusal::new(Rule::GaugeUnknown, format!("Gauge {} is not on record.", gauge.code))
                        .about(at(station)),
                ),
            }
        }
        let HeightLimit { limit, spread, .. } = HeightLimit::at(self.setup, self.facts, station);
        let within_limit = reading.within(limit);
        // Without a gauge there is nothing to name as the source of the reading; only a proof comes here without one.
        let gauge = state.gauge.as_ref().map_or(ItemId::from_uuid(uuid::Uuid::nil()), |gauge| gauge.item);
        let (station, correction) = (station.clone(), correction.cloned());
        Some(Decision::of(Event::HeightRead {
            station,
            gauge,
            phase,
            reading,
            limit,
            spread,
            within_limit,
            correction,
        }))
    }

    pub(super) fn remove_gauge(&mut self, station: &Code, gauge: &Scanned<ItemId>) -> Option<Decision> {
        let (_, _, state) = self.station(station)?;
        if let Some((_, what)) = gauge.mismatch() {
            self.findings.add(
                Refusal::new(Rule::GaugeUnknown, format!("{what}: it is not known as a centre gauge."))
                    .about(at(station)),
            );
        }
        let scanned = gauge.known();
        let placed = state.gauge.as_ref();
        let it_is = placed.is_some() && placed.map(|placed| &placed.item) == scanned;
        let elsewhere = scanned.and_then(|gauge| self.placed_at(*gauge)).cloned();
        self.findings.add_if(!it_is, || {
            let refusal = match (placed, &elsewhere) {
                (_, Some(there)) => {
                    let sentence = format!("The gauge scanned is placed at station {there}, not at {station}.");
                    Refusal::new(Rule::GaugeNotPlaced, sentence).clears(format!("Take it out at station {there}."))
                }
                (Some(placed), None) => {
                    let sentence = format!("The gauge at station {station} is {}, not the one scanned.", placed.code);
                    Refusal::new(Rule::GaugeNotPlaced, sentence).clears(format!("Scan gauge {}.", placed.code))
                }
                (None, None) => {
                    let sentence = format!("No gauge is placed at station {station}.");
                    Refusal::new(Rule::GaugeNotPlaced, sentence).clears("There is nothing to take out here.")
                }
            };
            refusal.about(at(station))
        });
        let gauge = placed?;
        let event = Event::GaugeRemoved { station: station.clone(), gauge: gauge.item, code: gauge.code.clone() };
        Some(Decision::of(event).with([
            Effect::GaugeOut { gauge: gauge.item },
            Effect::MoveItem { item: gauge.item, to: Keeper::Person(self.who.person) },
        ]))
    }
}
