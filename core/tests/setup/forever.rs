//! Random histories: whatever people try, in whatever order, what must hold holds at every step.

use crate::{ghost::Ghost, shop::*};
use dovetally_core::{
    adjuster::AdjusterKind,
    code::Code,
    ids::ItemId,
    item::Condition,
    machine::MachineMode,
    refusal::Rule,
    scan::Scanned,
    setup::{
        command::Command,
        decide::{Effect, tag_out as decide_tag_out},
        discard::pieces_to_discard,
        event::{Event, HeightPhase, HeightReading, HolderMove, Recorded, SeatAnswers},
        facts::Actor,
        next::next,
        permit::{PermitPurpose, run_permit},
        plan::{Plan, ProvisionalRelease},
        state::{Run, Setup},
        view::SetupView,
    },
};
use proptest::prelude::*;
use std::collections::BTreeSet;

const STATIONS: [&str; 2] = ["S1", "S3"];

/// With or without provisional releases, which here end after twenty pieces.
fn two_forms(night: bool) -> Plan {
    let mut plan = Plan { stations: vec![cross_slide("S1", 1, 1), cross_slide("S3", 3, 3)], ..plan() };
    plan.settings.provisional_release =
        night.then_some(ProvisionalRelease { most_pieces: MOST_PIECES, most_minutes: 480 });
    plan
}

const MOST_PIECES: u64 = 20;

/// Everything that anybody could try, with good and bad answers. `number` varies piece numbers and counts.
fn attempts(number: u64, hands: &Actor) -> Vec<(Actor, Command)> {
    let mut attempts = Vec::new();
    let no = SeatAnswers { seat_clean: false, ..good_seat() };
    let loose = HolderMove { holder_retightened: false, ..good_move() };
    let foreign = {
        let mut facts = gauge(SECOND_GAUGE, hands.person);
        facts.machine = OTHER_MACHINE;
        Scanned::Known(facts)
    };
    for who in [setter(), second_setter()] {
        let mut commands = vec![
            Command::FeedStock { stock: stock("A") },
            Command::FeedStock { stock: stock("B") },
            Command::ConfirmIndexClearance { confirmed: true },
            Command::ConfirmIndexClearance { confirmed: false },
            Command::BeginTrialCut,
            Command::ReleaseRun,
            stop(number),
            Command::HandOver { to: who.person },
        ];
        for name in STATIONS {
            commands.extend([
                seat(name),
                seat_with(name, no),
                insert(name),
                place(GAUGE, name, hands),
                Command::PlaceGauge { station: code(name), gauge: foreign.clone(), machine_stopped: true },
                clamp(name),
                unclamp(name),
                remove(GAUGE, name),
                remove_tool(if name == "S1" { 0x701 } else { 0x703 }, name),
                remove_holder(if name == "S1" { 0x601 } else { 0x603 }, name),
                approach(name),
                sizes(name, number),
                adjust(name, "HEIGHT", None),
                adjust(name, "TAPER", Some(good_move())),
                adjust(name, "SIDE", Some(loose)),
                adjust(name, "SLIDE", None),
                Command::ReportCrash { station: code(name) },
            ]);
            for phase in [HeightPhase::BeforeClamping, HeightPhase::AfterClamping] {
                let high = HeightReading::Deviation(mm(0.051));
                commands.extend([HeightReading::OnGauge, high].map(|reading| read(name, phase, reading)));
            }
        }
        attempts.extend(commands.into_iter().map(|command| (who.clone(), command)));
    }
    for who in [setter(), second_setter(), inspector()] {
        let mut readings = reading_all(None);
        readings.retain(|reading| reading.station != code("E2"));
        attempts.push((who.clone(), judge(false, vec![])));
        attempts.push((who, judge(true, readings.clone())));
        if number.is_multiple_of(4) {
            attempts.push((inspector(), judge_held(true, readings)));
            attempts.push((inspector(), judge_held(false, vec![])));
        }
    }
    attempts
}

/// A bench with somebody watching who knows neither fold nor rules.
struct Watched {
    bench: Bench,
    ghost: Ghost,
    hands: Actor,
    tools_pieces: u64,
    items: BTreeSet<(ItemId, Code)>,
}

impl Watched {
    fn new(night: bool) -> Self {
        let mut ghost = Ghost::new(&STATIONS.map(code), setter().person, &[item(GAUGE)]);
        ghost.inspectors = night.then(|| vec![inspector().person]);
        Self { bench: Bench::new(two_forms(night)), ghost, hands: setter(), tools_pieces: 0, items: BTreeSet::new() }
    }

    fn toggle_tag_out(&mut self) {
        if self.bench.facts.tag_outs.pop().is_none() {
            let decision = decide_tag_out(&self.bench.setup, tag_out().tag_out);
            self.bench.facts.tag_outs.push(tag_out());
            self.ghost.tagged_out = true;
            for event in &decision.events {
                assert_eq!(self.ghost.hear(inspector().person, event), None);
            }
            self.bench.store(&inspector(), &decision);
        } else {
            self.ghost.tagged_out = false;
        }
    }

    /// Somebody finds the gauge damaged, or an inspector finds it right.
    fn toggle_doubt(&mut self) {
        let facts = &mut self.bench.facts;
        let Some(own) = facts.gauge_standings.iter_mut().find(|standing| standing.gauge == item(GAUGE)) else { return };
        self.ghost.in_doubt = own.condition.is_usable();
        own.condition = if self.ghost.in_doubt { Condition::Damaged } else { Condition::Usable };
    }

    /// Tries a command; granted, it is stored and watched.
    fn try_it(&mut self, who: &Actor, command: &Command) {
        let before = self.bench.setup.clone();
        let asked = self.bench.ask(who, command);
        assert_eq!(asked, self.bench.ask(who, command), "the same question, the same answer");
        let Ok(decision) = asked else {
            assert!(!asked.unwrap_err().is_empty(), "a refusal says why");
            return;
        };
        let offered = next(&before, &self.bench.facts, self.bench.now);
        let station = decision.events[0].station().cloned();
        assert!(
            offered.iter().any(|step| step.kind == command.kind() && step.station == station),
            "{command:?} was taken and not offered"
        );
        for event in &decision.events {
            assert_eq!(self.ghost.hear(who.person, event), None, "{event:?}");
            if let Event::SizesRead { station, piece, .. } = event {
                assert!(*piece >= self.first_piece_by_hand(station), "piece {piece} was formed before");
            }
        }
        for effect in &decision.effects {
            match effect {
                Effect::GaugeOut { .. } => self.hands = who.clone(),
                Effect::AddPieces { items, pieces } => {
                    assert_eq!(items.len(), 2);
                    self.tools_pieces += pieces;
                }
                Effect::EnterSetup { item, station } => {
                    self.items.insert((*item, station.clone()));
                }
                Effect::LeaveSetup { item } => self.items.retain(|(inside, _)| inside != item),
                _ => {}
            }
        }
        self.bench.store(who, &decision);
    }

    /// The first piece that tells of a station, counted from the history alone: after each change there, those
    /// measured by then, and those on the way to the cut-off, are from before.
    fn first_piece_by_hand(&self, station: &Code) -> u64 {
        let index = self.bench.setup.plan.index_of(station).unwrap();
        let (mut first, mut measured, mut forming) = (1, 0, false);
        for Recorded { event, .. } in &self.bench.events {
            match event {
                Event::TrialCutBegun => forming = true,
                Event::SizesRead { piece, .. } => measured = measured.max(*piece),
                _ => {}
            }
            let changes = match event {
                Event::CrashReported { blocked, .. } => blocked.contains(station),
                Event::Adjusted { .. }
                | Event::ToolUnclamped { .. }
                | Event::ToolClamped { .. }
                | Event::HolderSeated { .. }
                | Event::ToolRemoved { .. }
                | Event::HolderRemoved { .. }
                | Event::ToolInserted { .. } => event.station() == Some(station),
                _ => false,
            };
            if changes && forming {
                first = measured + pieces_to_discard(&self.bench.setup.plan, index) + 1;
            }
        }
        first
    }

    fn holds(&self) {
        let Bench { setup, facts, events, .. } = &self.bench;
        let permitted = |purpose| run_permit(Some(setup), &code("M-1"), facts, purpose, self.bench.now).permitted;
        let claims = setup.trial || permitted(PermitPurpose::Trial) || permitted(PermitPurpose::Production);
        if claims || setup.is_released() {
            assert_eq!(self.ghost.forbids_turning(), None);
        }
        let doubtful = self.ghost.relies_on_a_doubtful_gauge();
        assert!(!doubtful || !permitted(PermitPurpose::Trial), "permitted with a height that nobody vouches for");
        assert_eq!(setup.is_released(), self.ghost.released);
        // A provisional release permits no more once its pieces are known to be made.
        let made = setup.highest_piece - setup.highest_before_run >= MOST_PIECES;
        let over = self.ghost.released && self.ghost.unjudged && made;
        assert_eq!(permitted(PermitPurpose::Production), setup.is_released() && !over && !doubtful);
        assert_eq!(setup.held.is_some(), self.ghost.unjudged);
        let blocked = !self.bench.blocked().is_empty();
        let refused = self.bench.against(&setter(), &Command::ReleaseRun);
        match setup.run {
            Run::None => assert_eq!(!refused.is_empty(), blocked),
            _ => assert!(refused.contains(&Rule::AlreadyReleased)),
        }
        let mut folded = Setup::new((*setup.plan).clone());
        for recorded in events {
            let event = Event::from_stored(recorded.event.to_stored().unwrap()).unwrap();
            folded.apply(&Recorded { event, ..recorded.clone() });
        }
        assert_eq!(folded, *setup, "the stored history folds to the same setup");
        let items: BTreeSet<_> = setup.items().into_iter().map(|(item, station)| (item, station.clone())).collect();
        assert_eq!(items, self.items, "the effects and the fold agree on what is in the setup");
        assert_eq!(setup.mode() == MachineMode::Gauge, !facts.gauges.is_empty());
        assert_eq!(setup.mode() == MachineMode::Running, setup.is_released());
        assert_eq!(setup.pieces, self.tools_pieces, "each booked piece counts once for each tool");
        serde_json::to_string(&SetupView::of(setup, facts, self.bench.now)).unwrap();
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// Half of the steps are what a setter would do next, so that histories get as far as runs; half are anything.
    #[test]
    fn whatever_people_try(night: bool, steps in prop::collection::vec((any::<prop::sample::Index>(), 0_u8..20, 0_u64..40), 40..120)) {
        let mut watched = Watched::new(night);
        for (pick, whim, number) in steps {
            if whim == 0 {
                watched.toggle_tag_out();
            } else if whim == 1 {
                watched.toggle_doubt();
            } else {
                let mut attempts = attempts(number, &watched.hands);
                if whim > 7 {
                    let bench = &watched.bench;
                    let wanted: Vec<_> = next(&bench.setup, &bench.facts, bench.now).into_iter().filter(|step| step.wanted).collect();
                    attempts.retain(|(who, command)| {
                        wanted.iter().any(|step| step.kind == command.kind()) && bench.ask(who, command).is_ok()
                    });
                }
                if let Some((who, command)) = attempts.get(pick.index(attempts.len().max(1))) {
                    watched.try_it(who, command);
                }
            }
            watched.holds();
        }
    }
}

/// The random histories do get as far as runs and beyond: a fixed one that takes only wanted steps does.
#[test]
fn wanted_steps_alone_lead_to_a_run() {
    let mut watched = Watched::new(false);
    for _ in 0..60 {
        let bench = &watched.bench;
        let wanted: Vec<_> =
            next(&bench.setup, &bench.facts, bench.now).into_iter().filter(|step| step.wanted).collect();
        let good = |command: &Command| match command {
            Command::SeatHolder { seat, .. } => seat.all(),
            Command::ReadHeight { reading, .. } => *reading == HeightReading::OnGauge,
            Command::JudgeFirstPiece { accepted, .. } => *accepted,
            Command::UnclampTool { .. } => false,
            _ => true,
        };
        let step = attempts(1, &watched.hands).into_iter().find(|(who, command)| {
            let fits = |step: &dovetally_core::setup::next::NextStep| step.kind == command.kind();
            good(command)
                && bench.ask(who, command).is_ok_and(|decision| {
                    let station = decision.events[0].station();
                    wanted.iter().any(|step| fits(step) && step.station.as_ref() == station)
                })
        });
        let Some((who, command)) = step else { break };
        watched.try_it(&who, &command);
        watched.holds();
    }
    assert!(watched.bench.setup.is_released());
    let turned = |event: &Event| matches!(event, Event::Adjusted { adjusts: AdjusterKind::Infeed, .. });
    assert!(!watched.bench.events.iter().any(|recorded| turned(&recorded.event)));
}
