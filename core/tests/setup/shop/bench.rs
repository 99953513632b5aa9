//! A setup being recorded.

use super::{records::*, steps::*};
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::{
    gauge::standing::GaugeStanding,
    item::Condition,
    refusal::{Refusal, Rule},
    setup::{
        command::Command,
        decide::{Decision, Effect, decide},
        event::{HeightPhase, HeightReading, Recorded},
        facts::{Actor, GaugeInMachine, MachineFacts},
        plan::Plan,
        state::Setup,
    },
};

pub(crate) fn rules(refusals: &[Refusal]) -> Vec<Rule> {
    refusals.iter().map(|refusal| refusal.rule).collect()
}

/// A setup being recorded: asks the rules, folds what they grant, and keeps the machine's facts as the effects say.
#[derive(Clone)]
pub(crate) struct Bench {
    pub(crate) setup: Setup,
    pub(crate) facts: MachineFacts,
    pub(crate) events: Vec<Recorded>,
    pub(crate) effects: Vec<Effect>,
    pub(crate) now: DateTime<Utc>,
}

impl Bench {
    pub(crate) fn new(plan: Plan) -> Self {
        let now = plan.opened_at;
        Self { setup: Setup::new(plan), facts: MachineFacts::default(), events: Vec::new(), effects: Vec::new(), now }
    }

    pub(crate) fn ask(&self, who: &Actor, command: &Command) -> Result<Decision, Vec<Refusal>> {
        decide(&self.setup, &self.facts, command, who, self.now)
    }

    /// The rules that speak against a command; none when it is granted.
    pub(crate) fn against(&self, who: &Actor, command: &Command) -> Vec<Rule> {
        self.ask(who, command).err().map(|refusals| rules(&refusals)).unwrap_or_default()
    }

    pub(crate) fn record_by(&mut self, who: &Actor, command: &Command) -> Decision {
        let decision = self.ask(who, command).unwrap_or_else(|refusals| panic!("{command:?}: {refusals:#?}"));
        self.store(who, &decision);
        decision
    }

    pub(crate) fn record(&mut self, command: &Command) -> Decision {
        self.record_by(&setter(), command)
    }

    pub(crate) fn store(&mut self, who: &Actor, decision: &Decision) {
        for event in &decision.events {
            self.now += TimeDelta::seconds(1);
            let recorded = Recorded {
                sequence: self.setup.last_sequence + 1,
                by: who.person,
                recorded_at: self.now,
                occurred_at: self.now,
                event: event.clone(),
            };
            self.setup.apply(&recorded);
            self.events.push(recorded);
        }
        for effect in &decision.effects {
            match effect {
                Effect::GaugeIn { gauge, station } => {
                    self.facts.gauges.push(GaugeInMachine {
                        gauge: *gauge,
                        code: code(&format!("CG-{}", gauge.uuid().as_u128())),
                        setup: SETUP,
                        station: station.clone(),
                    });
                    if self.facts.standing(*gauge).is_none() {
                        self.facts.gauge_standings.push(standing(*gauge));
                    }
                }
                // Holders are numbered from 0x600, tools from 0x700.
                Effect::EnterSetup { item: holder, .. }
                    if holder.uuid().as_u128() < 0x700 && self.facts.holder_condition(*holder).is_none() =>
                {
                    self.facts.holder_standings.push(usable_holder(*holder));
                }
                Effect::GaugeOut { gauge } => self.facts.gauges.retain(|placed| placed.gauge != *gauge),
                Effect::MakeGaugesStale => self.facts.centers_may_have_moved_at = Some(self.now),
                _ => {}
            }
        }
        self.effects.extend(decision.effects.iter().cloned());
    }

    /// What the records say of a gauge changes.
    pub(crate) fn gauge_changes(&mut self, number: u128, change: impl FnOnce(&mut GaugeStanding)) {
        let standing = self.facts.gauge_standings.iter_mut().find(|standing| standing.gauge == item(number));
        change(standing.unwrap());
    }

    /// What the records say of a seated holder's condition changes.
    pub(crate) fn holder_is(&mut self, number: u128, condition: Condition) {
        let standing = self.facts.holder_standings.iter_mut().find(|standing| standing.holder == item(number));
        standing.unwrap().condition = condition;
    }

    /// The rules that block a release, with the code of what each concerns.
    pub(crate) fn blocked(&self) -> Vec<(Rule, String)> {
        dovetally_core::setup::blockers::blockers(&self.setup, &self.facts)
            .into_iter()
            .map(|refusal| (refusal.rule, refusal.subject.map(|subject| subject.code).unwrap_or_default()))
            .collect()
    }

    /// Seats, inserts, reads, clamps and rechecks a cross slide with holder and tool of its own, gauge out again.
    pub(crate) fn set_cross_slide(&mut self, name: &str) {
        self.record(&seat(name));
        self.record(&insert(name));
        self.record(&place(GAUGE, name, &setter()));
        self.record(&read(name, HeightPhase::BeforeClamping, HeightReading::OnGauge));
        self.record(&clamp(name));
        self.record(&read(name, HeightPhase::AfterClamping, HeightReading::OnGauge));
        self.record(&remove(GAUGE, name));
    }

    /// Every station set, every gauge out.
    pub(crate) fn ready_for_stock() -> Self {
        Self::ready_for_stock_with(plan())
    }

    pub(crate) fn ready_for_stock_with(plan: Plan) -> Self {
        let mut bench = Self::new(plan);
        bench.set_cross_slide("S1");
        bench.set_cross_slide("S3");
        bench.record(&insert("E2"));
        bench.record(&clamp("E2"));
        bench
    }

    /// Stock fed, index proven, approaches read.
    pub(crate) fn ready_for_trial() -> Self {
        Self::ready_for_trial_with(plan())
    }

    pub(crate) fn ready_for_trial_with(plan: Plan) -> Self {
        let mut bench = Self::ready_for_stock_with(plan);
        bench.record(&Command::FeedStock { stock: stock("A") });
        bench.record(&Command::ConfirmIndexClearance { confirmed: true });
        for name in ["S1", "S3"] {
            bench.record(&approach(name));
        }
        bench
    }

    pub(crate) fn in_trial() -> Self {
        Self::in_trial_with(plan())
    }

    pub(crate) fn in_trial_with(plan: Plan) -> Self {
        let mut bench = Self::ready_for_trial_with(plan);
        bench.record(&Command::BeginTrialCut);
        bench
    }

    /// Depth read and first piece accepted by an inspector.
    pub(crate) fn ready_for_release() -> Self {
        let mut bench = Self::in_trial();
        bench.record(&depth(1));
        bench.record_by(&inspector(), &judge(true, on_target()));
        bench
    }

    pub(crate) fn released() -> Self {
        let mut bench = Self::ready_for_release();
        bench.record(&Command::ReleaseRun);
        bench
    }
}
