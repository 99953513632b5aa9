//! What is due: overdue, today, this week; each line leads to where it is done.

use super::{
    frame::{Frame, page},
    visit::Visit,
    wording::{Phrase, section},
};
use crate::{
    app::due::list_in,
    principal::Read,
    problem::Problem,
    transport::due::{DueList, DueRow},
};
use actix_web::{HttpResponse, web::Query};
use askama::Template;
use dovetally_core::{
    due::{DueKind, Urgency},
    people::Permission,
};
use serde::Deserialize;

section! {
    /// What is due.
    DueWords {
        title, open_top, nothing, to_start, filters, all, of_kind, only_one, overdue, today, this_week, no_day, more_of,
        gauge_check, holder_check, maintenance_plan, item_return, last_grind, tool_check, tool_grind, tool_damaged,
        holder_blocked, tool_order, supply_low, work_order, held_pieces, impact
    }
}

impl DueWords {
    const fn kind(&self, kind: DueKind) -> &Phrase {
        match kind {
            DueKind::GaugeCheck => &self.gauge_check,
            DueKind::HolderCheck => &self.holder_check,
            DueKind::MaintenancePlan => &self.maintenance_plan,
            DueKind::ItemReturn => &self.item_return,
            DueKind::LastGrind => &self.last_grind,
            DueKind::ToolCheck => &self.tool_check,
            DueKind::ToolGrind => &self.tool_grind,
            DueKind::ToolDamaged => &self.tool_damaged,
            DueKind::HolderBlocked => &self.holder_blocked,
            DueKind::ToolOrder => &self.tool_order,
            DueKind::SupplyLow => &self.supply_low,
            DueKind::WorkOrder => &self.work_order,
            DueKind::HeldPieces => &self.held_pieces,
            DueKind::Impact => &self.impact,
        }
    }
}

/// How far ahead it looks: this week is seven days.
const DAYS: u16 = 7;

/// What is asked for.
#[derive(Debug, Deserialize)]
pub struct Asked {
    #[serde(default)]
    kind: String,
}

/// One kind to narrow the list to.
struct Filter {
    kind: DueKind,
    count: usize,
}

/// What shares an urgency.
struct Group<'p> {
    mark: &'static str,
    title: &'p Phrase,
    rows: Vec<&'p DueRow>,
}

#[derive(Template)]
#[template(path = "pages/due.html")]
struct DuePage<'p> {
    frame: &'p Frame,
    only: Option<DueKind>,
    all: usize,
    filters: Vec<Filter>,
    groups: Vec<Group<'p>>,
    top: Option<&'p DueRow>,
    more_of: Vec<DueKind>,
}

impl DuePage<'_> {
    fn kind(&self, kind: &DueKind) -> &Phrase {
        self.frame.words.due.kind(*kind)
    }

    fn is_only(&self, kind: &DueKind) -> bool {
        self.only == Some(*kind)
    }

    /// What the list is narrowed to.
    fn chosen(&self) -> String {
        let words = &self.frame.words.due;
        let Some(only) = self.only else { return words.all.with("count", self.all).to_string() };
        let count = self.filters.iter().find(|filter| filter.kind == only).map_or(0, |filter| filter.count);
        words.of_kind.with("kind", words.kind(only)).with("count", count).to_string()
    }

    /// What it is about, by its code; by its kind where it has none.
    fn code(&self, row: &DueRow) -> String {
        row.code.as_ref().map_or_else(|| self.kind(&row.kind).to_string(), ToString::to_string)
    }

    /// Where it is done, by whom it is asked; where they may not, where it is looked at.
    fn address(&self, row: &DueRow) -> String {
        let code = self.code(row);
        let record = row.record.unwrap_or_default();
        let may = |permission| self.frame.may(permission);
        match row.kind {
            DueKind::GaugeCheck if may(Permission::ControlGauges) => format!("/center-gauges/{code}/checks"),
            DueKind::GaugeCheck => format!("/center-gauges/{code}"),
            DueKind::MaintenancePlan => format!("/maintenance#plan-{code}"),
            DueKind::ToolCheck if may(Permission::CheckTools) => format!("/form-tools/{code}/checks"),
            DueKind::ToolGrind | DueKind::ToolDamaged if may(Permission::Grind) => {
                format!("/form-tools/{code}/regrinds")
            }
            DueKind::LastGrind | DueKind::ToolCheck | DueKind::ToolGrind | DueKind::ToolDamaged => {
                format!("/tool-life/{code}")
            }
            DueKind::ToolOrder => format!("/tool-life/{code}"),
            DueKind::WorkOrder => format!("/work-orders/{record}"),
            DueKind::HeldPieces if may(Permission::JudgeHeldPieces) => {
                format!("/setups/{record}/steps/held_pieces_judged")
            }
            DueKind::HeldPieces => format!("/setups/{record}"),
            DueKind::Impact => format!("/impacts/{record}"),
            DueKind::SupplyLow => format!("/supplies/{code}"),
            DueKind::HolderCheck | DueKind::HolderBlocked if may(Permission::CheckHolders) => {
                format!("/holders/{code}/checks")
            }
            DueKind::HolderCheck | DueKind::ItemReturn | DueKind::HolderBlocked => format!("/items/{code}"),
        }
    }
}

/// Shows it.
///
/// # Errors
/// A database error.
pub async fn show(visit: Visit<Read>, asked: Query<Asked>) -> Result<HttpResponse, Problem> {
    let now = visit.guarded.database().now();
    let list = visit.read(move |connection| list_in(connection, now, DAYS, None)).await?;
    page(&due_page(&visit.frame, &list, DueKind::from_name(&asked.kind)))
}

fn due_page<'p>(frame: &'p Frame, list: &'p DueList, only: Option<DueKind>) -> DuePage<'p> {
    let words = &frame.words.due;
    let of = |kind: DueKind| list.items.iter().filter(move |row| row.kind == kind);
    let filters = DueKind::ALL.iter().map(|kind| Filter { kind: *kind, count: of(*kind).count() });
    let shown = || list.items.iter().filter(|row| only.is_none_or(|only| only == row.kind));
    let group = |urgency: Urgency, mark, title| Group {
        mark,
        title,
        rows: shown().filter(|row| row.urgency == urgency).collect(),
    };
    let groups = [
        group(Urgency::Overdue, "stop", &words.overdue),
        group(Urgency::Today, "wait", &words.today),
        group(Urgency::ThisWeek, "none", &words.this_week),
    ];
    DuePage {
        frame,
        only,
        all: list.items.len(),
        filters: filters.filter(|filter| filter.count > 0 || only == Some(filter.kind)).collect(),
        groups: groups.into_iter().filter(|group| !group.rows.is_empty()).collect(),
        top: shown().next(),
        more_of: list.more_of.iter().copied().filter(|kind| only.is_none_or(|only| only == *kind)).collect(),
    }
}
