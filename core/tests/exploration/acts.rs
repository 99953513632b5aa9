//! What anybody could do.

use crate::{
    shop::*,
    world::{GaugeIs, Shop, World},
};
use dovetally_core::{
    ids::PersonId,
    item::Condition,
    scan::Scanned,
    setup::{
        command::Command,
        event::{FirstPieceReading, HeightPhase, HeightReading, HolderMove, SeatAnswers},
        facts::Actor,
    },
};
use std::{borrow::Cow, fmt};

/// One thing that somebody does.
#[derive(Clone, Debug)]
pub(crate) enum Act {
    Record(Actor, Box<Command>),
    PlaceTagOut,
    ClearTagOut,
    LetHoursPass,
    GaugeIsSaidToBe { damaged: bool },
    HandGaugeTo(PersonId),
    TakeOutTool(usize),
}

/// How much anybody could do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Breadth {
    /// Without false answers about seats.
    Usual,
    /// With them, and with sizes outside their limits: ten times the states.
    Wide,
}

/// Everything that anybody could do. What cannot be done now, the rules refuse.
pub(crate) fn acts(shop: Shop, breadth: Breadth) -> Vec<Act> {
    let bad_seat = SeatAnswers { seated_flush: false, ..good_seat() };
    let bad_move = HolderMove { holder_retightened: false, side_screw_free: true };
    let high = HeightReading::Deviation(mm(0.06));
    let other_machines = || {
        let mut facts = gauge(SECOND_GAUGE, setter().person);
        facts.machine = OTHER_MACHINE;
        facts
    };
    let stations = shop.stations();
    let mut acts = vec![Act::PlaceTagOut, Act::ClearTagOut];
    acts.extend([setter(), second_setter()].map(|who| Act::HandGaugeTo(who.person)));
    acts.extend((0..stations.len()).map(Act::TakeOutTool));
    for who in [setter(), second_setter()] {
        let mut commands = vec![
            Command::FeedStock { stock: stock("A") },
            Command::FeedStock { stock: stock("B") },
            Command::ConfirmIndexClearance { confirmed: true },
            Command::BeginTrialCut,
            Command::ReleaseRun,
            stop(1),
            close(),
        ];
        for name in stations.iter().copied() {
            let foreign = Scanned::Known(other_machines());
            commands.extend([
                seat(name),
                insert(name),
                place(GAUGE, name, &who),
                Command::PlaceGauge { station: code(name), gauge: foreign, machine_stopped: true },
                clamp(name),
                unclamp(name),
                remove(GAUGE, name),
                approach(name),
                adjust(name, "HEIGHT", None),
                adjust(name, "TAPER", Some(good_move())),
                adjust(name, "SLIDE", None),
                Command::ReportCrash { station: code(name) },
            ]);
            if breadth == Breadth::Wide {
                commands.extend([seat_with(name, bad_seat), adjust(name, "TAPER", Some(bad_move))]);
            }
            for phase in [HeightPhase::BeforeClamping, HeightPhase::AfterClamping] {
                commands.extend([HeightReading::OnGauge, high].map(|reading| read(name, phase, reading)));
            }
        }
        acts.extend(commands.into_iter().map(|command| Act::record(&who, command)));
    }
    for (name, tool, holder) in [("S1", 0x701, 0x601), ("S3", 0x703, 0x603)].into_iter().take(stations.len()) {
        acts.extend([remove_tool(tool, name), remove_holder(holder, name)].map(|act| Act::record(&setter(), act)));
    }
    if shop == Shop::OneStationAtNight {
        acts.push(Act::LetHoursPass);
        acts.extend([true, false].map(|damaged| Act::GaugeIsSaidToBe { damaged }));
        for (accepted, readings) in [(true, sizes_of(shop, 10.0)), (false, vec![])] {
            acts.push(Act::record(&inspector(), judge_held(accepted, readings)));
        }
    }
    for who in [setter(), second_setter(), inspector()] {
        for accepted in [true, false] {
            acts.push(Act::record(&who, judge(accepted, sizes_of(shop, 10.0))));
        }
        if breadth == Breadth::Wide {
            acts.push(Act::record(&who, judge(true, sizes_of(shop, 10.1))));
        }
    }
    acts
}

/// One size of each station, the last of them this.
pub(crate) fn sizes_of(shop: Shop, last: f64) -> Vec<FirstPieceReading> {
    let mut readings = reading_all(None);
    readings.retain(|reading| shop.stations().contains(&reading.station.as_str()));
    if let Some(reading) = readings.last_mut() {
        reading.value = mm(last);
    }
    readings
}

/// A gauge is scanned with what custody knows of it now.
pub(crate) fn as_custody_knows<'a>(act: &'a Act, world: &World) -> Cow<'a, Act> {
    let Act::Record(who, command) = act else { return Cow::Borrowed(act) };
    let Command::PlaceGauge { station, gauge: Scanned::Known(facts), machine_stopped } = &**command else {
        return Cow::Borrowed(act);
    };
    let mut facts = facts.clone();
    if facts.item == item(GAUGE) {
        facts.whereabouts = match world.gauge {
            GaugeIs::With(person) => with(person),
            GaugeIs::In => at_machine(MACHINE),
        };
        if world.gauge_damaged {
            facts.condition = Condition::Damaged;
        }
    }
    let gauge = Scanned::Known(facts);
    let command = Command::PlaceGauge { station: station.clone(), gauge, machine_stopped: *machine_stopped };
    Cow::Owned(Act::record(who, command))
}

impl Act {
    pub(crate) fn record(who: &Actor, command: Command) -> Self {
        Self::Record(who.clone(), Box::new(command))
    }
}

impl fmt::Display for Act {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Record(who, command) => {
                write!(f, "{} {}", who.roles[0], command.kind())?;
                match &**command {
                    Command::SeatHolder { station, .. }
                    | Command::InsertTool { station, .. }
                    | Command::PlaceGauge { station, .. }
                    | Command::RemoveTool { station, .. }
                    | Command::RemoveHolder { station, .. }
                    | Command::ClampTool { station }
                    | Command::UnclampTool { station }
                    | Command::RemoveGauge { station, .. }
                    | Command::ReadApproach { station, .. }
                    | Command::ReportCrash { station } => write!(f, " {station}"),
                    Command::ReadHeight { station, phase, reading: HeightReading::OnGauge, .. } => {
                        write!(f, " {station} {phase}")
                    }
                    Command::ReadHeight { station, phase, .. } => write!(f, " {station} {phase} outside"),
                    Command::Adjust { station, adjuster, .. } => write!(f, " {station} {adjuster}"),
                    Command::JudgeFirstPiece { accepted, .. } | Command::JudgeHeldPieces { accepted, .. } => {
                        write!(f, " {accepted}")
                    }
                    _ => Ok(()),
                }
            }
            other => write!(f, "{other:?}"),
        }
    }
}
