//! What form tools have left: one notch for each grind, worst first; of all designs, or of one.

use super::{
    drawn::Chart,
    frame::{Frame, page},
    numbers::three_figures,
    visit::Visit,
    wording::{Phrase, section},
};
use crate::{
    app::{
        life::outlook::{FewestGrinds, design_outlooks, edges_of, fewest_grinds, in_demand},
        registry::{FormTools, ToolDesigns, design_of, find},
    },
    drawing::{edges, grinds},
    extract::{Reference, Segments},
    principal::Read,
    problem::{Problem, ProblemCode},
    transport::tool_outlook::{DesignOutlookView, PiecesLeftView, ToolOutlookView},
};
use actix_web::HttpResponse;
use askama::Template;
use chrono::NaiveDate;
use dovetally_core::life::{edge::EdgeLives, left::Experience};
use dovetally_db::Connection;

section! {
    /// What form tools have left.
    ToolLifeWords {
        title, lead, open_worst, none, to_start, to_order, no_orders, runs_out, more, tool, design, condition, height,
        left, pieces_column, pieces_none, pieces_about, pieces_between, design_tools, design_kept, design_left,
        design_pieces, design_pieces_between, design_booked, design_runs_out, design_lasts, order_by, order_now,
        order_some_day, lead_time, all_tools, tools, no_tools
    }
}

impl ToolLifeWords {
    /// Pieces left, with their interval where there is one.
    pub(super) fn pieces_left(&self, pieces: &PiecesLeftView) -> String {
        match pieces.lower.zip(pieces.upper) {
            _ if pieces.expected == 0 => self.pieces_none.to_string(),
            Some((lower, upper)) => {
                let filled = self.pieces_between.with("pieces", three_figures(pieces.expected));
                filled.with("lower", three_figures(lower)).with("upper", three_figures(upper)).to_string()
            }
            None => self.pieces_about.with("pieces", three_figures(pieces.expected)).to_string(),
        }
    }

    /// When to order how many.
    pub(super) fn order(&self, frame: &Frame, design: &DesignOutlookView) -> Option<String> {
        let order = design.order.as_ref()?;
        let said = match (order.order_by, order.due) {
            (None, _) => self.order_some_day.with("count", order.tools),
            (Some(_), true) => self.order_now.with("count", order.tools),
            (Some(by), false) => self.order_by.with("count", order.tools).with("day", frame.day(&by)),
        };
        Some(said.with("design", &design.design).to_string())
    }
}

/// The tools that are drawn and listed: more are no picture.
const TOOLS: usize = 40;

/// Draws the grinds left in tools.
fn grinds_chart(frame: &Frame, found: &FewestGrinds) -> Chart {
    let tools: Vec<grinds::ToolGrinds<'_>> =
        found.tools.iter().map(|tool| grinds::ToolGrinds::of(tool, found.design_of(tool))).collect();
    Chart::of(frame, "grinds", |words, setting| grinds::draw(&tools, words, setting))
}

#[derive(Template)]
#[template(path = "pages/tool_life.html")]
struct ToolLifePage<'p> {
    frame: &'p Frame,
    found: &'p FewestGrinds,
    chart: Chart,
    /// The designs of which something is to be ordered.
    orders: Vec<(&'p DesignOutlookView, String)>,
}

impl ToolLifePage<'_> {
    fn condition(&self, tool: &ToolOutlookView) -> &Phrase {
        self.frame.words.names.condition(tool.condition)
    }

    fn degrees(&self, degrees: &f64) -> String {
        self.frame.words.tool.angle_of(self.frame, *degrees)
    }

    fn on_edge(&self, tool: &ToolOutlookView) -> String {
        self.frame.words.tool_life.pieces_left(&tool.pieces_left_on_edge)
    }
}

/// Shows all tools' lives, the worst first.
///
/// # Errors
/// A database error.
pub async fn show(visit: Visit<Read>) -> Result<HttpResponse, Problem> {
    let today = visit.guarded.database().now().date_naive();
    let (found, wanted) = visit
        .read(move |connection| Ok((fewest_grinds(connection, None, TOOLS, today)?, in_demand(connection, today)?)))
        .await?;
    let frame = &visit.frame;
    let orders = wanted.iter().filter_map(|design| Some((design, frame.words.tool_life.order(frame, design)?)));
    page(&ToolLifePage { frame, found: &found, chart: grinds_chart(frame, &found), orders: orders.collect() })
}

/// Leads from a code to the life of that tool or design.
///
/// # Errors
/// 404 for what is neither.
pub async fn of_code(visit: Visit<Read>, code: Segments<Reference>) -> Result<HttpResponse, Problem> {
    let reference = code.into_inner();
    let asked = reference.clone();
    let is_design = visit
        .read(move |connection| match find::<ToolDesigns>(connection, &asked) {
            Ok(_) => Ok(true),
            Err(problem) if problem.code() == ProblemCode::NotFound => {
                find::<FormTools>(connection, &asked).map(|_| false)
            }
            Err(problem) => Err(problem),
        })
        .await?;
    if is_design { design(&visit, reference).await } else { super::tool::show(&visit, reference).await }
}

/// What a design's edges did.
pub(super) struct Edges {
    pub(super) lives: EdgeLives,
    pub(super) experience: Experience,
}

impl Edges {
    /// Draws how long they lasted; nothing before one has cut a piece.
    pub(super) fn chart(&self, frame: &Frame, design: &DesignOutlookView) -> Option<Chart> {
        let drawn = || {
            Chart::of(frame, "edges", |words, setting| {
                edges::draw(&design.design, &self.lives, &self.experience, words, setting)
            })
        };
        (!(self.lives.failures.is_empty() && self.lives.suspensions.is_empty())).then(drawn)
    }
}

#[derive(Template)]
#[template(path = "pages/tool_design_life.html")]
struct DesignPage<'p> {
    frame: &'p Frame,
    design: &'p DesignOutlookView,
    found: &'p FewestGrinds,
    order: Option<String>,
    grinds: Chart,
    edges: Option<Chart>,
}

impl DesignPage<'_> {
    fn pieces(&self) -> String {
        let (words, pieces) = (&self.frame.words.tool_life, &self.design.pieces_left);
        match pieces.lower.zip(pieces.upper) {
            Some((lower, upper)) => {
                let filled = words.design_pieces_between.with("pieces", three_figures(pieces.expected));
                filled.with("lower", three_figures(lower)).with("upper", three_figures(upper)).to_string()
            }
            None => words.design_pieces.with("pieces", three_figures(pieces.expected)).to_string(),
        }
    }
}

async fn design(visit: &Visit<Read>, reference: Reference) -> Result<HttpResponse, Problem> {
    let today = visit.guarded.database().now().date_naive();
    let (outlook, edges, found) = visit
        .read(move |connection| {
            let design = find::<ToolDesigns>(connection, &reference)?;
            let (lives, experience) = edges_of(connection, &design)?;
            let found = fewest_grinds(connection, Some(design.id), TOOLS, today)?;
            let outlook = design_outlooks(connection, vec![design], today)?.pop();
            let outlook = outlook.ok_or_else(|| Problem::not_found("tool design", &reference))?;
            Ok((outlook, Edges { lives, experience }, found))
        })
        .await?;
    let frame = &visit.frame;
    page(&DesignPage {
        frame,
        design: &outlook,
        found: &found,
        order: frame.words.tool_life.order(frame, &outlook),
        grinds: grinds_chart(frame, &found),
        edges: edges.chart(frame, &outlook),
    })
}

/// What a tool's page asks of its design.
pub(super) fn of_the_design(
    connection: &mut Connection,
    tool: &Reference,
    today: NaiveDate,
) -> Result<(DesignOutlookView, Edges), Problem> {
    let tool = find::<FormTools>(connection, tool)?;
    let design = design_of(connection, &tool)?;
    let (lives, experience) = edges_of(connection, &design)?;
    let code = design.code.clone();
    let outlook = design_outlooks(connection, vec![design], today)?.pop();
    let outlook = outlook.ok_or_else(|| Problem::not_found("tool design", code))?;
    Ok((outlook, Edges { lives, experience }))
}
