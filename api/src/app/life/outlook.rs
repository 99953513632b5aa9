//! What form tools and designs have left.

use crate::{
    app::registry::{FormTools, design_of, find},
    conditional::answer_fresh,
    extract::Reference,
    page::Paging,
    principal::{Guarded, Read},
    problem::Problem,
    transport::tool_outlook::{BasisView, DesignOutlookView, RunsOutView, ToolOrderView, ToolOutlookView, whole},
};
use actix_web::{
    HttpResponse,
    http::header::{CACHE_CONTROL, HeaderValue},
};
use chrono::NaiveDate;
use dovetally_core::{
    code::Code,
    ids::ToolDesignId,
    item::Condition,
    life::{
        edge::EdgeLives,
        grinds::{edges_left, edges_of_a_new_tool},
        left::{EdgesLeft, Experience},
        supply::{Demand, Supply, SupplyFacts, ToolLeft, supply},
    },
    registry::tool_design::ToolDesign,
};
use dovetally_db::{
    Connection,
    life::{edges, supply as stock},
    tool_designs,
};

/// What one tool has left.
///
/// # Errors
/// 404 for what is no form tool.
pub async fn of_tool(guarded: &Guarded<Read>, tool: Reference) -> Result<HttpResponse, Problem> {
    let view = guarded.database().read(move |connection| tool_outlook(connection, &tool)).await?;
    Ok(answer_fresh(&view))
}

fn tool_outlook(connection: &mut Connection, reference: &Reference) -> Result<ToolOutlookView, Problem> {
    let tool = find::<FormTools>(connection, reference)?;
    let design = design_of(connection, &tool)?;
    let lives = edges::lives(connection, &[design.id])?.remove(&design.id).unwrap_or_default();
    let experience = Experience::of(&lives, design.fields.expected_pieces_per_grind);
    let condition = tool.item.fields.condition;
    let all = edges_left(&design.fields, tool.height, condition, tool.pieces_since_grind);
    let on_edge = EdgesLeft { in_use: all.in_use.clone(), fresh: 0 };
    let mut cautions = Vec::new();
    match condition {
        Condition::Retired => cautions.push("The tool is retired: it has nothing more to give.".to_owned()),
        Condition::Damaged => {
            cautions.push("The tool is damaged: what is left counts only if a grind mends it.".to_owned())
        }
        _ if all.fresh == 0 => {
            cautions.push("This is the last edge: have the next tool ready before it is dull.".to_owned());
        }
        _ => {}
    }
    cautions.push("Advice from records: look at the edge and at the pieces before you trust either.".to_owned());
    Ok(ToolOutlookView {
        tool: tool.item.code,
        design: design.code,
        condition,
        height: tool.height,
        minimum_height: design.fields.minimum_height,
        usable_angle_deg: design.fields.usable_angle_of(tool.height),
        regrinds_left: all.fresh,
        pieces_on_edge: tool.pieces_since_grind,
        pieces_left_on_edge: experience.pieces_left(&on_edge).into(),
        pieces_left: experience.pieces_left(&all).into(),
        basis: BasisView::from(&experience),
        cautions,
    })
}

/// What designs have left, by code.
///
/// # Errors
/// 400 for another list's cursor.
pub async fn of_designs(guarded: &Guarded<Read>, paging: Paging) -> Result<HttpResponse, Problem> {
    let today = guarded.database().now().date_naive();
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let after: Option<Code> = paging.after()?;
            let designs = tool_designs::page(connection, after.as_ref(), paging.rows_to_fetch())?;
            let rows = design_outlooks(connection, designs, today)?;
            let page = paging.page(rows, |view| view.design.clone(), |view| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    let mut answer = paging.answer(&page)?;
    // It changes with every piece and every day.
    answer.headers_mut().insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    Ok(answer)
}

fn design_outlooks(
    connection: &mut Connection,
    designs: Vec<ToolDesign>,
    today: NaiveDate,
) -> Result<Vec<DesignOutlookView>, Problem> {
    let ids: Vec<ToolDesignId> = designs.iter().map(|design| design.id).collect();
    let mut lives = edges::lives(connection, &ids)?;
    let tools = stock::tools(connection, &ids)?;
    let mut demand = stock::demand(connection, &ids)?;
    let view = |design: ToolDesign| {
        let own = tools.iter().filter(|tool| tool.design == design.id);
        let own: Vec<ToolLeft> = own
            .map(|tool| ToolLeft {
                edges: edges_left(&design.fields, tool.height, tool.condition, tool.pieces_since_grind),
                kept_for: tool.kept_for,
            })
            .filter(|tool| !tool.edges.is_empty())
            .collect();
        let lives = lives.remove(&design.id).unwrap_or_default();
        let demand = demand.remove(&design.id).unwrap_or_default();
        design_outlook(design, &lives, &own, &demand, today)
    };
    Ok(designs.into_iter().map(view).collect())
}

fn design_outlook(
    design: ToolDesign,
    lives: &EdgeLives,
    tools: &[ToolLeft],
    demand: &[Demand],
    today: NaiveDate,
) -> DesignOutlookView {
    let experience = Experience::of(lives, design.fields.expected_pieces_per_grind);
    let found = supply(&SupplyFacts {
        experience,
        tools,
        demand,
        new_tool: edges_of_a_new_tool(&design.fields),
        lead_time_days: design.fields.lead_time_days,
        today,
    });
    let sentence = sentence(&design, &found);
    let retired = design.fields.retired;
    DesignOutlookView {
        design: design.code,
        name: design.fields.name,
        tools: found.tools,
        tools_kept_for_a_part: found.kept_for_a_part,
        regrinds_left: found.grinds_left,
        pieces_left: found.pieces_left.into(),
        booked_pieces: found.booked,
        runs_out: found.runs_out.map(|runs_out| RunsOutView {
            job: runs_out.job,
            on: runs_out.on,
            missing_pieces: whole(runs_out.short.ceil()),
        }),
        order: found.order.filter(|_| !retired).map(|order| ToolOrderView {
            tools: order.tools,
            order_by: order.by,
            due: order.due,
        }),
        lead_time_days: design.fields.lead_time_days,
        basis: BasisView::from(&experience),
        sentence,
    }
}

fn sentence(design: &ToolDesign, found: &Supply) -> String {
    let code = &design.code;
    let Some((runs_out, order)) = found.runs_out.as_ref().zip(found.order.as_ref()) else {
        return format!("The tools of {code} last for all that is booked.");
    };
    let out = format!("The tools of {code} run out in job {}, which starts on {}", runs_out.job, runs_out.on);
    if design.fields.retired {
        return format!("{out}; the design is retired, so none is to be ordered.");
    }
    let count = if order.tools == 1 { "1 tool".to_owned() } else { format!("{} tools", order.tools) };
    match (order.by, order.due) {
        (None, _) => format!("{out}: order {count}; by when is not known, for the design has no lead time on record."),
        (Some(_), true) => format!("{out}: order {count} now."),
        (Some(by), false) => format!("{out}: order {count} by {by}."),
    }
}
