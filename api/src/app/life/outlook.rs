//! What form tools and designs have left.

use super::taught::{self, Asked, Taught};
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
    Connection, form_tools,
    life::{
        edges,
        supply::{self as stock, ToolInStock},
    },
    tool_designs,
};
use std::collections::{BTreeMap, BTreeSet};

/// What one tool has left.
///
/// # Errors
/// 404 for what is no form tool.
pub async fn of_tool(guarded: &Guarded<Read>, tool: Reference) -> Result<HttpResponse, Problem> {
    let view = guarded.database().read(move |connection| tool_outlook(connection, &tool)).await?;
    Ok(answer_fresh(&view))
}

/// The same from a connection.
///
/// # Errors
/// 404 for what is no form tool.
pub(crate) fn tool_outlook(connection: &mut Connection, reference: &Reference) -> Result<ToolOutlookView, Problem> {
    let tool = find::<FormTools>(connection, reference)?;
    let design = design_of(connection, &tool)?;
    let experience = taught::of_design(connection, design.id, design.fields.expected_pieces_per_grind)?;
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

/// Tools of a design that are to be ordered.
pub struct OrderDue {
    /// The design.
    pub design: Code,
    /// By when; none where the design has no lead time on record.
    pub by: Option<NaiveDate>,
    /// What runs out, and what to order.
    pub sentence: String,
}

/// What is to be ordered for the jobs that are booked: tools of designs that are not retired.
///
/// # Errors
/// A database error.
pub fn orders(connection: &mut Connection, today: NaiveDate) -> Result<Vec<OrderDue>, Problem> {
    let due = in_demand(connection, today)?.into_iter().filter_map(|view| {
        view.order.map(|order| OrderDue { design: view.design, by: order.order_by, sentence: view.sentence })
    });
    Ok(due.collect())
}

/// What the designs have left that booked jobs ask for, those without a tool too, by code.
///
/// # Errors
/// A database error.
pub(crate) fn in_demand(connection: &mut Connection, today: NaiveDate) -> Result<Vec<DesignOutlookView>, Problem> {
    let designs = tool_designs::in_demand(connection)?;
    design_outlooks(connection, designs, today)
}

/// What these designs have left.
///
/// # Errors
/// A database error.
pub(crate) fn design_outlooks(
    connection: &mut Connection,
    designs: Vec<ToolDesign>,
    today: NaiveDate,
) -> Result<Vec<DesignOutlookView>, Problem> {
    let ids: Vec<ToolDesignId> = designs.iter().map(|design| design.id).collect();
    let mut tools: BTreeMap<ToolDesignId, Vec<ToolInStock>> = BTreeMap::new();
    for tool in stock::tools(connection, &ids)? {
        tools.entry(tool.design).or_default().push(tool);
    }
    let asked = designs.iter().map(|design| Asked {
        design: design.id,
        expected: design.fields.expected_pieces_per_grind,
        in_use: tools.get(&design.id).into_iter().flatten().map(|tool| tool.pieces_since_grind).collect(),
    });
    let taught = taught::taught(connection, asked.collect())?;
    let mut demand = stock::demand(connection, &ids)?;
    let view = |design: ToolDesign| {
        let taught = taught.get(&design.id).ok_or_else(|| Problem::not_found("tool design", design.id))?;
        let own = tools.remove(&design.id).unwrap_or_default();
        let own: Vec<ToolLeft> = own
            .into_iter()
            .filter(|tool| tool.condition != Condition::Damaged)
            .map(|tool| ToolLeft {
                edges: edges_left(&design.fields, tool.height, tool.condition, tool.pieces_since_grind),
                kept_for: tool.kept_for,
            })
            .filter(|tool| !tool.edges.is_empty())
            .collect();
        let demand = demand.remove(&design.id).unwrap_or_default();
        Ok(design_outlook(design, taught, &own, &demand, today))
    };
    designs.into_iter().map(view).collect()
}

/// How long the edges of a design lasted, those in use among them, and what that taught.
///
/// # Errors
/// A database error.
pub(crate) fn edges_of(connection: &mut Connection, design: &ToolDesign) -> Result<(EdgeLives, Experience), Problem> {
    let mut lives = edges::ended(connection, design.id)?;
    edges::in_use(connection, design.id)?.into_iter().for_each(|pieces| lives.add_in_use(pieces));
    let experience = taught::of_design(connection, design.id, design.fields.expected_pieces_per_grind)?;
    Ok((lives, experience))
}

/// The tools with the fewest grinds left, of one design or of all.
#[derive(Debug)]
pub(crate) struct FewestGrinds {
    /// The tools, those with the fewest first.
    pub(crate) tools: Vec<ToolOutlookView>,
    /// Their designs.
    pub(crate) designs: Vec<DesignOutlookView>,
    /// Whether there are more tools.
    pub(crate) more: bool,
}

impl FewestGrinds {
    /// The design of a tool.
    pub(crate) fn design_of(&self, tool: &ToolOutlookView) -> Option<&DesignOutlookView> {
        self.designs.iter().find(|design| design.design == tool.design)
    }
}

/// The tools with the fewest grinds left, at most so many.
///
/// # Errors
/// A database error.
pub(crate) fn fewest_grinds(
    connection: &mut Connection,
    design: Option<ToolDesignId>,
    most: usize,
    today: NaiveDate,
) -> Result<FewestGrinds, Problem> {
    let limit = i64::try_from(most).map_err(Problem::internal)?;
    let mut found = form_tools::fewest_grinds(connection, design, limit + 1)?;
    let more = found.len() > most;
    found.truncate(most);
    let mut tools = Vec::with_capacity(found.len());
    let mut ids = BTreeSet::new();
    for (code, design) in found {
        tools.push(tool_outlook(connection, &Reference::Code(code))?);
        ids.insert(design);
    }
    let mut designs = Vec::with_capacity(ids.len());
    for id in ids {
        designs.extend(tool_designs::find(connection, id)?);
    }
    Ok(FewestGrinds { tools, designs: design_outlooks(connection, designs, today)?, more })
}

fn design_outlook(
    design: ToolDesign,
    taught: &Taught,
    tools: &[ToolLeft],
    demand: &[Demand],
    today: NaiveDate,
) -> DesignOutlookView {
    let found = supply(&SupplyFacts {
        experience: taught,
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
        basis: BasisView::from(&taught.experience),
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
