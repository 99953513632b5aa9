//! What people record, with good answers unless it says otherwise.

use super::records::*;
use chrono::{DateTime, Utc};
use dovetally_core::{
    adjuster::Turn,
    scan::Scanned,
    setup::{
        command::{Command, Turns},
        event::{DepthReading, FirstPieceReading, HeightPhase, HeightReading, HolderMove, SeatAnswers, SizeReading},
        facts::Actor,
    },
};

pub(crate) fn on_target() -> Vec<FirstPieceReading> {
    reading_all(None)
}

pub(crate) fn reading_all(spindle: Option<u8>) -> Vec<FirstPieceReading> {
    [("S1", "D-S1", 10.0), ("E2", "L-E2", 12.0), ("S3", "D-S3", 10.0)]
        .map(|(station, feature, value)| FirstPieceReading {
            station: code(station),
            feature: code(feature),
            spindle,
            value: mm(value),
        })
        .to_vec()
}

pub(crate) fn seat(name: &str) -> Command {
    seat_with(name, good_seat())
}

pub(crate) fn seat_with(name: &str, answers: SeatAnswers) -> Command {
    let number = if name == "S1" { 0x601 } else { 0x603 };
    Command::SeatHolder { station: code(name), holder: Scanned::Known(holder(number)), seat: answers }
}

pub(crate) fn insert(name: &str) -> Command {
    let tool = match name {
        "S1" => form_tool(0x701, 1),
        "S3" => form_tool(0x703, 3),
        _ => drill(0x702),
    };
    Command::InsertTool { station: code(name), tool: Scanned::Known(tool) }
}

pub(crate) fn place(number: u128, name: &str, who: &Actor) -> Command {
    let gauge = Scanned::Known(gauge(number, who.person));
    Command::PlaceGauge { station: code(name), gauge, machine_stopped: true }
}

pub(crate) fn remove(number: u128, name: &str) -> Command {
    Command::RemoveGauge { station: code(name), gauge: Scanned::Known(item(number)) }
}

pub(crate) fn read(name: &str, phase: HeightPhase, reading: HeightReading) -> Command {
    Command::ReadHeight { station: code(name), phase, reading, correction: None }
}

pub(crate) fn clamp(name: &str) -> Command {
    Command::ClampTool { station: code(name) }
}

pub(crate) fn unclamp(name: &str) -> Command {
    Command::UnclampTool { station: code(name) }
}

pub(crate) fn approach(name: &str) -> Command {
    Command::ReadApproach { station: code(name), gap: mm(0.25) }
}

pub(crate) fn sizes(name: &str, piece: u64) -> Command {
    let readings = vec![SizeReading { feature: code(&format!("D-{name}")), value: mm(10.05) }];
    Command::ReadSizes { station: code(name), piece, spindle: Some(1), readings, correction: None }
}

pub(crate) fn depth(piece: u64) -> Command {
    let reading = DepthReading::Depth(mm(12.0));
    Command::ReadDepth { station: code("E2"), piece, spindle: Some(2), reading, correction: None }
}

pub(crate) fn adjust(name: &str, adjuster: &str, holder_move: Option<HolderMove>) -> Command {
    Command::Adjust {
        station: code(name),
        adjuster: code(adjuster),
        turns: Turns::new(0.25).unwrap(),
        direction: Turn::Clockwise,
        holder_move,
    }
}

pub(crate) fn judge(accepted: bool, readings: Vec<FirstPieceReading>) -> Command {
    Command::JudgeFirstPiece { accepted, piece: None, readings }
}

pub(crate) fn judge_held(accepted: bool, readings: Vec<FirstPieceReading>) -> Command {
    Command::JudgeHeldPieces { accepted, readings }
}

pub(crate) fn remove_tool(number: u128, name: &str) -> Command {
    Command::RemoveTool { station: code(name), tool: Scanned::Known(item(number)) }
}

pub(crate) fn remove_holder(number: u128, name: &str) -> Command {
    Command::RemoveHolder { station: code(name), holder: Scanned::Known(item(number)) }
}

/// However short the run was: the count is confirmed.
pub(crate) fn stop(pieces: u64) -> Command {
    stop_at(pieces, None, true)
}

pub(crate) fn stop_at(pieces: u64, stopped_at: Option<DateTime<Utc>>, confirmed: bool) -> Command {
    Command::StopRun { pieces, reason: "lot done".to_owned(), stopped_at, confirmed }
}

pub(crate) fn close() -> Command {
    Command::Close { reason: "lot done".to_owned() }
}
