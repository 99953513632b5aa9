//! From what a person sends to what the rules judge: scanned codes are looked up here, and nowhere else.

use crate::{
    app::{
        facts::{scanned_gauge, scanned_holder, scanned_id, scanned_tool},
        registry::no_faults,
    },
    problem::Problem,
    transport::setup_event::{EventBody, FirstPieceReadingBody},
};
use dovetally_core::{
    field_error::FieldErrors,
    ids::ItemId,
    people::Permission,
    scan::Scanned,
    setup::{
        command::{Command, Turns},
        event::{DepthReading, FirstPieceReading, HeightReading, HolderMove, SeatAnswers, SizeReading, Stock},
        state::Setup,
    },
};
use dovetally_db::{Connection, people};

/// The items that an event moves, in the order of their ids: the scanned one, if it is on record, and the tool that comes
/// off with its holder. Their custody rows are to be locked before anything is read of them.
///
/// # Errors
/// A database error.
pub(super) fn moving_items(
    connection: &mut Connection,
    body: &EventBody,
    setup: &Setup,
) -> Result<Vec<ItemId>, Problem> {
    let mut items: Vec<ItemId> = scanned_item(connection, body)?.into_iter().collect();
    if let EventBody::HolderRemoved { station, .. } = body {
        let here = setup.plan.index_of(station).and_then(|index| setup.stations.get(index));
        let tool = here.and_then(|state| state.tool.as_ref());
        items.extend(tool.map(|tool| tool.item));
    }
    items.sort_unstable();
    items.dedup();
    Ok(items)
}

fn scanned_item(connection: &mut Connection, body: &EventBody) -> Result<Option<ItemId>, Problem> {
    let (EventBody::HolderSeated { holder: text, .. }
    | EventBody::ToolInserted { form_tool: text, .. }
    | EventBody::ToolRemoved { form_tool: text, .. }
    | EventBody::HolderRemoved { holder: text, .. }
    | EventBody::GaugePlaced { gauge: text, .. }
    | EventBody::GaugeRemoved { gauge: text, .. }) = body
    else {
        return Ok(None);
    };
    scanned_id(connection, text)
}

/// The command that a body asks for.
///
/// # Errors
/// 422 for fields that contradict each other or name nobody.
pub(super) fn command(connection: &mut Connection, body: &EventBody) -> Result<Command, Problem> {
    Ok(match body.clone() {
        EventBody::HolderSeated { station, holder, seat_clean, seated_flush, side_screw_free, .. } => {
            Command::SeatHolder {
                station,
                holder: scanned_holder(connection, &holder)?,
                seat: SeatAnswers { seat_clean, seated_flush, side_screw_free },
            }
        }
        EventBody::ToolInserted { station, form_tool, .. } => {
            Command::InsertTool { station, tool: scanned_tool(connection, &form_tool)? }
        }
        EventBody::GaugePlaced { station, gauge, machine_stopped, .. } => {
            Command::PlaceGauge { station, gauge: scanned_gauge(connection, &gauge)?, machine_stopped }
        }
        EventBody::HeightRead { station, phase, deviation, on_gauge, .. } => {
            let reading = match (deviation, on_gauge) {
                (Some(deviation), None | Some(false)) => HeightReading::Deviation(deviation),
                (None, Some(true)) => HeightReading::OnGauge,
                _ => return Err(Problem::field("/deviation", "give either deviation, or on_gauge: true")),
            };
            Command::ReadHeight { station, phase, reading, correction: None }
        }
        EventBody::ToolClamped { station, .. } => Command::ClampTool { station },
        EventBody::ToolUnclamped { station, .. } => Command::UnclampTool { station },
        EventBody::ToolRemoved { station, form_tool, .. } => {
            let tool = id_of(scanned_tool(connection, &form_tool)?, |tool| tool.item);
            Command::RemoveTool { station, tool }
        }
        EventBody::HolderRemoved { station, holder, .. } => {
            let holder = id_of(scanned_holder(connection, &holder)?, |holder| holder.item);
            Command::RemoveHolder { station, holder }
        }
        EventBody::GaugeRemoved { station, gauge, .. } => {
            let gauge = id_of(scanned_gauge(connection, &gauge)?, |gauge| gauge.item);
            Command::RemoveGauge { station, gauge }
        }
        EventBody::StockFed { bar_diameter, bar_shape, heat, .. } => {
            positive(bar_diameter.picometres(), "/bar_diameter/value")?;
            let mut errors = FieldErrors::default();
            errors.require_text(&bar_shape, 50, "/bar_shape");
            if let Some(heat) = &heat {
                errors.require_text(heat, 100, "/heat");
            }
            no_faults(errors.into_vec())?;
            Command::FeedStock { stock: Stock { bar_diameter, bar_shape, heat } }
        }
        EventBody::IndexClearanceConfirmed { confirmed, .. } => Command::ConfirmIndexClearance { confirmed },
        EventBody::ApproachRead { station, gap, .. } => Command::ReadApproach { station, gap },
        EventBody::TrialCutBegun { .. } => Command::BeginTrialCut,
        EventBody::SizesRead { station, piece, spindle, readings, .. } => {
            if readings.is_empty() {
                return Err(Problem::field("/readings", "needs at least one reading"));
            }
            for (index, reading) in readings.iter().enumerate() {
                positive(reading.value.picometres(), &format!("/readings/{index}/value/value"))?;
                if readings[..index].iter().any(|before| before.feature == reading.feature) {
                    let detail = format!("{} is read twice in one piece", reading.feature);
                    return Err(Problem::field(format!("/readings/{index}/feature"), detail));
                }
            }
            let readings = readings.into_iter().map(|r| SizeReading { feature: r.feature, value: r.value }).collect();
            Command::ReadSizes { station, piece: counted(piece)?, spindle, readings, correction: None }
        }
        EventBody::DepthRead { station, piece, spindle, depth, mouth_diameter, .. } => {
            let reading = match (depth, mouth_diameter) {
                (Some(depth), None) => {
                    positive(depth.picometres(), "/depth/value")?;
                    DepthReading::Depth(depth)
                }
                (None, Some(mouth)) => {
                    positive(mouth.picometres(), "/mouth_diameter/value")?;
                    DepthReading::MouthDiameter(mouth)
                }
                _ => return Err(Problem::field("/depth", "give either depth or mouth_diameter")),
            };
            Command::ReadDepth { station, piece: counted(piece)?, spindle, reading, correction: None }
        }
        EventBody::Adjusted { station, adjuster, turns, direction, holder_retightened, side_screw_free, .. } => {
            let turns = Turns::new(turns).map_err(|error| Problem::field("/turns", error.to_string()))?;
            let holder_move = match (holder_retightened, side_screw_free) {
                (None, None) => None,
                (Some(holder_retightened), Some(side_screw_free)) => {
                    Some(HolderMove { holder_retightened, side_screw_free })
                }
                _ => {
                    return Err(Problem::field(
                        "/holder_retightened",
                        "goes together with side_screw_free: answer both",
                    ));
                }
            };
            Command::Adjust { station, adjuster, turns, direction, holder_move }
        }
        EventBody::FirstPieceJudged { accepted, piece, readings, .. } => {
            let piece = piece.map(counted).transpose()?;
            Command::JudgeFirstPiece { accepted, piece, readings: judged_readings(readings)? }
        }
        EventBody::HeldPiecesJudged { accepted, readings, .. } => {
            Command::JudgeHeldPieces { accepted, readings: judged_readings(readings)? }
        }
        EventBody::RunReleased { .. } => Command::ReleaseRun,
        EventBody::RunStopped { pieces, reason, confirmed, occurred_at } => {
            if pieces > 1_000_000_000 {
                return Err(Problem::field("/pieces", "must be at most 1000000000"));
            }
            Command::StopRun { pieces, reason: worded(reason)?, stopped_at: occurred_at, confirmed }
        }
        EventBody::CrashReported { station, .. } => Command::ReportCrash { station },
        EventBody::HandedOver { to, .. } => {
            let person = people::find_by_badge(connection, &to)?.filter(|person| !person.fields.disabled);
            let person = person.ok_or_else(|| Problem::field("/to", format!("nobody has the badge {to}")))?;
            if !person.fields.roles.iter().any(|role| role.may(Permission::RecordSetup)) {
                return Err(Problem::field("/to", format!("{to} may not record setups: hand it over to a setter")));
            }
            Command::HandOver { to: person.id }
        }
        EventBody::Closed { reason, .. } => Command::Close { reason: worded(reason)? },
        EventBody::Abandoned { reason, .. } => Command::Abandon { reason: worded(reason)? },
    })
}

fn id_of<T>(scanned: Scanned<T>, item: impl Fn(T) -> ItemId) -> Scanned<ItemId> {
    match scanned {
        Scanned::Known(known) => Scanned::Known(item(known)),
        Scanned::OtherKind { code, what } => Scanned::OtherKind { code, what },
        Scanned::Unknown { text } => Scanned::Unknown { text },
    }
}

fn judged_readings(readings: Vec<FirstPieceReadingBody>) -> Result<Vec<FirstPieceReading>, Problem> {
    for (index, reading) in readings.iter().enumerate() {
        positive(reading.value.picometres(), &format!("/readings/{index}/value/value"))?;
    }
    let readings = readings.into_iter().map(|r| FirstPieceReading {
        station: r.station,
        feature: r.feature,
        spindle: r.spindle,
        value: r.value,
    });
    Ok(readings.collect())
}

fn positive(picometres: i64, at: &str) -> Result<(), Problem> {
    if picometres > 0 { Ok(()) } else { Err(Problem::field(at, "must be above zero")) }
}

fn counted(piece: u64) -> Result<u64, Problem> {
    if (1..=1_000_000_000).contains(&piece) {
        Ok(piece)
    } else {
        Err(Problem::field("/piece", "pieces are counted from 1"))
    }
}

fn worded(reason: String) -> Result<String, Problem> {
    let mut errors = FieldErrors::default();
    errors.require_text(&reason, 1000, "/reason");
    no_faults(errors.into_vec()).map(|()| reason)
}
