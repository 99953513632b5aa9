//! The machine, its setup, who watches, and what an act makes of them.

use crate::{
    acts::Act,
    ghost::{Ghost, Seen},
    shop::*,
};
use chrono::TimeDelta;
use dovetally_core::{
    ids::PersonId,
    item::{Condition, Purpose},
    refusal::Rule,
    setup::{
        decide::{Decision, Effect, decide, decide_without, tag_out as decide_tag_out, take_out},
        event::{EventKind, HolderMove, Recorded},
        facts::MachineFacts,
        permit::{PermitPurpose, run_permit},
        plan::{HolderMoveRecheck, Plan},
        state::{HeightTaken, Run, Setup, SetupState, StationState},
    },
};
use std::hash::{DefaultHasher, Hash, Hasher};

/// Where the machine's own gauge is: with a person, or in the machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum GaugeIs {
    With(PersonId),
    In,
}

#[derive(Clone)]
pub(crate) struct World {
    pub(crate) setup: Setup,
    pub(crate) ghost: Ghost,
    pub(crate) gauge: GaugeIs,
    pub(crate) tagged_out: bool,
    /// Somebody says that the machine's own gauge is damaged, and nobody has found it right since.
    pub(crate) gauge_damaged: bool,
    /// Hours went by: a provisional release is past its end.
    pub(crate) late: bool,
}

/// What is taken out of the rules or of the fold, to see that it is missed.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Fault {
    None,
    WithoutRule(Rule),
    Unheard(EventKind),
}

/// Which shop is searched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shop {
    /// Two stations, as a shop starts.
    TwoStations,
    /// One station, in a shop that knows provisional releases. What a release rests on and what is held concern the
    /// machine as a whole: a second station would only multiply the states.
    OneStationAtNight,
}

impl Shop {
    pub(crate) const fn stations(self) -> &'static [&'static str] {
        match self {
            Self::TwoStations => &["S1", "S3"],
            Self::OneStationAtNight => &["S1"],
        }
    }

    fn plan(self) -> Plan {
        let mut plan = match self {
            Self::TwoStations => plan(),
            Self::OneStationAtNight => night_plan(),
        };
        plan.stations = vec![cross_slide("S1", 1, 1), cross_slide("S3", 3, 3)];
        plan.stations.truncate(self.stations().len());
        plan.settings.recheck_after_holder_move = HolderMoveRecheck::Required;
        plan
    }
}

pub(crate) fn begin(shop: Shop) -> World {
    let stations: Vec<_> = shop.stations().iter().map(|name| code(name)).collect();
    let mut ghost = Ghost::new(&stations, setter().person, &[item(GAUGE)]);
    ghost.inspectors = (shop == Shop::OneStationAtNight).then(|| vec![inspector().person]);
    World {
        setup: Setup::new(shop.plan()),
        ghost,
        late: false,
        gauge: GaugeIs::With(setter().person),
        tagged_out: false,
        gauge_damaged: false,
    }
}

impl World {
    fn facts(&self) -> MachineFacts {
        // The machine's own record of its gauges is left empty: the setup's history alone has to protect it.
        let mut own = standing(item(GAUGE));
        if self.gauge_damaged {
            own.condition = Condition::Damaged;
        }
        // Without the rule that keeps it out, another machine's gauge is read on.
        MachineFacts {
            tag_outs: if self.tagged_out { vec![tag_out()] } else { Vec::new() },
            gauge_standings: vec![own, standing(item(SECOND_GAUGE))],
            holder_standings: self.setup.holders().into_iter().map(usable_holder).collect(),
            ..MachineFacts::default()
        }
    }

    /// What the world is after an act, and what went wrong; nothing when it is refused.
    pub(crate) fn after(&self, act: &Act, fault: Fault) -> Option<(Self, Option<&'static str>)> {
        let (by, decision) = match act {
            Act::HandGaugeTo(person) => {
                (self.gauge != GaugeIs::In && self.gauge != GaugeIs::With(*person)).then_some(())?;
                return Some((Self { gauge: GaugeIs::With(*person), ..self.clone() }, None));
            }
            Act::LetHoursPass => {
                (!self.late && self.setup.provisional().is_some()).then_some(())?;
                return Some((Self { late: true, ..self.clone() }, None));
            }
            Act::GaugeIsSaidToBe { damaged } => {
                (self.gauge_damaged != *damaged).then_some(())?;
                let mut world = Self { gauge_damaged: *damaged, ..self.clone() };
                world.ghost.in_doubt = *damaged;
                return Some((world, None));
            }
            Act::ClearTagOut => {
                self.tagged_out.then_some(())?;
                let mut world = Self { tagged_out: false, ..self.clone() };
                world.ghost.tagged_out = false;
                return Some((world, None));
            }
            Act::PlaceTagOut => {
                (!self.tagged_out).then_some(())?;
                (inspector().person, decide_tag_out(&self.setup, tag_out().tag_out))
            }
            Act::TakeOutTool(station) => {
                let tool = self.setup.stations[*station].tool.as_ref()?.item;
                (inspector().person, take_out(&self.setup, tool, Purpose::Grind).ok()?)
            }
            Act::Record(who, command) => {
                let facts = self.facts();
                let decision = match fault {
                    Fault::WithoutRule(rule) => decide_without(rule, &self.setup, &facts, command, who, start()),
                    _ => decide(&self.setup, &facts, command, who, start()),
                };
                (who.person, decision.ok()?)
            }
        };
        let mut world = self.clone();
        if matches!(act, Act::PlaceTagOut) {
            world.tagged_out = true;
            world.ghost.tagged_out = true;
        }
        let wrong = world.store(by, decision, fault);
        Some((world, wrong))
    }

    fn store(&mut self, by: PersonId, decision: Decision, fault: Fault) -> Option<&'static str> {
        let mut wrong = None;
        for event in decision.events {
            wrong = wrong.or(self.ghost.hear(by, &event));
            let unheard = matches!(fault, Fault::Unheard(kind) if kind == event.kind());
            if !unheard {
                self.setup.apply(&Recorded { sequence: 0, by, recorded_at: start(), occurred_at: start(), event });
            }
        }
        for effect in decision.effects {
            match effect {
                Effect::GaugeIn { .. } => self.gauge = GaugeIs::In,
                Effect::GaugeOut { .. } => self.gauge = GaugeIs::With(by),
                _ => {}
            }
        }
        // Only a provisional release in force knows the time.
        self.late &= self.setup.provisional().is_some();
        self.forget_what_decides_nothing();
        wrong
    }

    /// Without measured pieces, their numbers decide nothing, nor does the time of a release whose count is confirmed;
    /// nor do the list of adjustments and the words of the state. And which of two heats is the first one is all the
    /// same.
    fn forget_what_decides_nothing(&mut self) {
        for station in &mut self.setup.stations {
            station.adjustments.clear();
            station.sizes.clear();
            station.first_good_piece = 1;
        }
        self.setup.pieces = 0;
        self.setup.pieces_rejected = 0;
        if let Some(held) = &mut self.setup.held {
            held.pieces = 0;
            held.number_beyond = None;
        }
        self.setup.highest_piece = 0;
        self.setup.highest_before_run = 0;
        self.setup.released_at = None;
        self.setup.pieces_formed = false;
        if self.setup.state == SetupState::Stopped {
            self.setup.state = SetupState::Setting;
        }
        if let Some(fed) = &mut self.setup.stock {
            *fed = stock("A");
        }
        self.ghost.heat = self.ghost.stock.then(|| "A".to_owned());
    }

    /// Whether the setup or a permit says that the machine may turn when the history forbids it.
    pub(crate) fn claims_wrongly(&self) -> Option<&'static str> {
        let facts = self.facts();
        let now = if self.late { start() + TimeDelta::days(1) } else { start() };
        let permitted = |purpose| run_permit(Some(&self.setup), &code("M-1"), &facts, purpose, now).permitted;
        if self.late && (permitted(PermitPurpose::Trial) || permitted(PermitPurpose::Production)) {
            return Some("it may run on past the end of a provisional release");
        }
        let permits = permitted(PermitPurpose::Trial) || permitted(PermitPurpose::Production);
        if permits && self.ghost.relies_on_a_doubtful_gauge() {
            return Some("it may turn with a height that was read on a gauge in doubt");
        }
        let claims = self.setup.trial || self.setup.is_released() || permits;
        if self.setup.is_released() != self.ghost.released {
            return Some("the setup and its history disagree about a release");
        }
        if claims { self.ghost.forbids_turning() } else { None }
    }

    /// Everything that can make a difference later. Fields are named without `..`, so that a new one has to be thought
    /// of here.
    pub(crate) fn key(&self) -> u128 {
        let Setup {
            plan: _,
            state,
            stations,
            // Told, and asked by no rule.
            gauge_codes: _,
            stock,
            index_clear,
            trial,
            pieces_formed,
            highest_piece,
            highest_before_run,
            released_at,
            first_piece,
            run,
            pieces,
            held,
            pieces_rejected,
            recorders,
            in_charge,
            last_sequence: _,
        } = &self.setup;
        let Ghost { stations: seen, tagged_out, stock: in_spindles, heat, index, trial: begun, accepted, .. } =
            &self.ghost;
        let night =
            (held.map(|held| (held.end, held.accepted_by)), self.ghost.provisionally, self.ghost.unjudged, self.late);
        let mut of_stations: Vec<u64> =
            stations.iter().zip(seen).map(|(station, seen)| hash_of(&(station_key(station), seen_key(seen)))).collect();
        // Which station is which is all the same: they differ in nothing but their names.
        of_stations.sort_unstable();
        let run = match run {
            Run::None => 0,
            Run::InForce { .. } => 1,
            Run::ToBook { rejected: false, .. } => 2,
            Run::ToBook { rejected: true, .. } => 3,
        };
        let first_piece = first_piece.as_ref().map(|judged| (judged.accepted, judged.provisional));
        let setup = (state, stock.as_ref().map(|stock| &stock.heat), index_clear, trial, first_piece, run);
        let numbers = (highest_piece, highest_before_run, released_at);
        let rest = (pieces_formed, numbers, pieces, pieces_rejected, recorders, in_charge, night);
        let ghost = (tagged_out, in_spindles, heat, index, begun, accepted);
        let ghost = (ghost, self.ghost.released, self.ghost.closed, &self.ghost.workers);
        let key = (of_stations, setup, rest, ghost, self.gauge, (self.tagged_out, self.gauge_damaged));
        // Two hashes, so that no two states are taken for one.
        let mut hasher = DefaultHasher::new();
        key.hash(&mut hasher);
        let first = hasher.finish();
        hasher.write_u64(0x9e37_79b9);
        u128::from(first) << 64 | u128::from(hasher.finish())
    }
}

fn hash_of(value: &impl Hash) -> u64 {
    let mut hasher = DefaultHasher::new();
    value.hash(&mut hasher);
    hasher.finish()
}

fn station_key(station: &StationState) -> impl Hash + use<> {
    let StationState {
        holder,
        tool,
        gauge,
        height_before,
        clamped,
        height_after,
        recheck_advised,
        approach,
        depth,
        first_good_piece,
        sizes: _,
        adjustments: _,
        advice: _,
        crashed,
    } = station;
    let holder = holder.as_ref().map(|holder| (holder.seat, holder.moved.is_none_or(HolderMove::all)));
    let height = |taken: &Option<HeightTaken>| taken.map(|taken| taken.within_limit);
    let put_in = (holder, tool.is_some(), gauge.is_some(), *crashed);
    (
        put_in,
        height(height_before),
        *clamped,
        height(height_after),
        *recheck_advised,
        approach.is_some(),
        *depth,
        *first_good_piece,
    )
}

fn seen_key(seen: &Seen) -> impl Hash + use<> {
    let Seen { code: _, holder, seat_good, moved_well, tool, height_good, tight, proven, approach, gauges } = seen;
    (*holder, *seat_good, *moved_well, *tool, *height_good, *tight, *proven, *approach, gauges.clone())
}
