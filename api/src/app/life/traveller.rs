//! The traveller that a form tool takes along to the grinder.

use crate::{
    app::{
        items::named,
        registry::{FormTools, design_of, find},
    },
    conditional::answer_fresh,
    extract::Reference,
    principal::{Guarded, Read},
    problem::Problem,
    transport::traveller::{GrindTarget, TravellerView},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::life::traveller::{CAUTIONS, ConsentState, checks, consent_to_grind, target};
use dovetally_db::{Connection, Error, custody, life::ownership};

/// Writes the traveller of a tool.
///
/// # Errors
/// 404 for what is no form tool.
pub async fn write(guarded: &Guarded<Read>, tool: Reference) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let view = guarded.database().read(move |connection| of_tool(connection, &tool, now)).await?;
    Ok(answer_fresh(&view))
}

/// The traveller of a tool, as it is now.
///
/// # Errors
/// 404 for what is no form tool.
pub(crate) fn of_tool(
    connection: &mut Connection,
    reference: &Reference,
    now: DateTime<Utc>,
) -> Result<TravellerView, Problem> {
    let tool = find::<FormTools>(connection, reference)?;
    let design = design_of(connection, &tool)?;
    let place = custody::find(connection, tool.item.id)?;
    let place = place.ok_or_else(|| Error::unreadable("an item that is nowhere"))?;
    let whereabouts = named(connection, place.keeper)?;
    let owned = ownership::of_tool(connection, tool.item.id, tool.belonging)?;
    let target = target(&design.fields, tool.height);
    let consent = consent_to_grind(&tool.item.code, &owned, now.date_naive());
    let mut cautions: Vec<String> = CAUTIONS.iter().map(|caution| (*caution).to_owned()).collect();
    if consent == ConsentState::Missing {
        cautions.insert(0, "Do not grind: the owner's consent is not on record.".to_owned());
    }
    if target.retires {
        cautions.push("One usual grind would take it below its design's minimum: it would be retired.".to_owned());
    }
    Ok(TravellerView {
        checks: checks(&design.fields, &target),
        tool: tool.item.code,
        name: tool.item.fields.name,
        design: design.code,
        kind: design.fields.kind,
        condition: tool.item.fields.condition,
        whereabouts,
        height: tool.height,
        minimum_height: design.fields.minimum_height,
        usable_angle_deg: design.fields.usable_angle_of(tool.height),
        regrind_count: tool.regrind_count,
        pieces_on_edge: tool.pieces_since_grind,
        rake_deg: design.fields.rake_deg,
        rake_tolerance_deg: design.fields.rake_tolerance_deg,
        clearance_deg: design.fields.clearance_deg,
        face_offset: target.face_offset,
        target: GrindTarget {
            height: Some(target.height).filter(|height| height.picometres() > 0),
            height_loss: target.height_loss,
            stock: target.stock,
            usable_angle_deg: target.usable_angle_deg,
            regrinds_left: target.grinds_left,
            retires: target.retires,
        },
        owner: owned.belonging.owner,
        reserved_for: owned.belonging.reserved_for.map(|part| part.code),
        consent: match consent {
            ConsentState::NotNeeded => "not_needed",
            ConsentState::Given => "given",
            ConsentState::Missing => "missing",
        },
        cautions,
        written_at: now,
    })
}
