//! The life of one form tool: what is left in it and in its design, its grinds and its checks.

use super::{
    drawn::Chart,
    frame::{Frame, page},
    tool_life::of_the_design,
    visit::Visit,
    who::Names,
    wording::{Phrase, section},
};
use crate::{
    app::life::{checks, outlook::tool_outlook, regrinds},
    drawing::grinds,
    extract::Reference,
    principal::Read,
    problem::Problem,
    transport::{
        regrind::RegrindView, tool_check::ToolCheckView, tool_outlook::DesignOutlookView, tool_outlook::ToolOutlookView,
    },
};
use actix_web::HttpResponse;
use askama::Template;
use dovetally_core::{
    item::Condition,
    life::{check::ToolFinding, edge::EdgeEnd, regrind::GrindKind},
    people::Permission,
};

section! {
    /// The life of one form tool.
    ToolWords {
        of_design, grind, check, open_item, height, minimum, angle, pieces_on_edge, left_on_edge, left_in_tool,
        advice, grinds, no_grinds, checks, no_checks, number, when, kind, before, after, pieces, ended, by, seen,
        verdict, passed, not_passed, found, measured_height, rake, degrees, full, touch_up, partial, worn, early,
        damaged, retired, burn, dressed, wear, chip, crack, burn_found, profile_off, rake_off, face_offset_off,
        other
    }
}

impl ToolWords {
    /// An angle, to a hundredth of a degree.
    pub(super) fn angle_of(&self, frame: &Frame, degrees: f64) -> String {
        self.degrees.with("degrees", frame.mark().rounded(degrees, 2)).to_string()
    }

    /// How far a grind goes.
    pub(super) const fn grind_kind(&self, kind: GrindKind) -> &Phrase {
        match kind {
            GrindKind::Full => &self.full,
            GrindKind::TouchUp => &self.touch_up,
            GrindKind::Partial => &self.partial,
        }
    }

    /// How an edge ended.
    pub(super) const fn edge_end(&self, end: EdgeEnd) -> &Phrase {
        match end {
            EdgeEnd::Worn => &self.worn,
            EdgeEnd::Early => &self.early,
            EdgeEnd::Damaged => &self.damaged,
            EdgeEnd::Retired => &self.retired,
        }
    }

    /// What a check found.
    pub(super) const fn finding(&self, finding: ToolFinding) -> &Phrase {
        match finding {
            ToolFinding::Wear => &self.wear,
            ToolFinding::Chip => &self.chip,
            ToolFinding::Crack => &self.crack,
            ToolFinding::Burn => &self.burn_found,
            ToolFinding::ProfileOff => &self.profile_off,
            ToolFinding::RakeOff => &self.rake_off,
            ToolFinding::FaceOffsetOff => &self.face_offset_off,
            ToolFinding::Other => &self.other,
        }
    }
}

/// The grinds and checks that are shown.
const ROWS: i64 = 25;

struct Known {
    tool: ToolOutlookView,
    design: DesignOutlookView,
    edges: super::tool_life::Edges,
    grinds: Vec<RegrindView>,
    checks: Vec<ToolCheckView>,
}

/// What the main action is.
enum Next {
    Check,
    Grind,
    Open,
}

#[derive(Template)]
#[template(path = "pages/tool.html")]
struct ToolPage<'p> {
    frame: &'p Frame,
    known: &'p Known,
    grinds: Chart,
    edges: Option<Chart>,
    order: Option<String>,
    next: Next,
}

impl ToolPage<'_> {
    fn condition(&self) -> &Phrase {
        self.frame.words.names.condition(self.known.tool.condition)
    }

    fn grind_kind(&self, kind: &GrindKind) -> &Phrase {
        self.frame.words.tool.grind_kind(*kind)
    }

    fn edge_end(&self, end: &EdgeEnd) -> &Phrase {
        self.frame.words.tool.edge_end(*end)
    }

    fn finding(&self, finding: &ToolFinding) -> &Phrase {
        self.frame.words.tool.finding(*finding)
    }

    fn degrees(&self, degrees: &f64) -> String {
        self.frame.words.tool.angle_of(self.frame, *degrees)
    }

    fn may_grind(&self) -> bool {
        self.frame.may(Permission::Grind) || self.frame.may(Permission::MoveForAnyone)
    }
}

/// Shows it.
pub(super) async fn show(visit: &Visit<Read>, reference: Reference) -> Result<HttpResponse, Problem> {
    let today = visit.guarded.database().now().date_naive();
    let known = visit
        .read(move |connection| {
            let (design, edges) = of_the_design(connection, &reference, today)?;
            let grinds = regrinds::rows(connection, &reference, None, ROWS)?;
            let checks = checks::rows(connection, &reference, None, ROWS)?;
            let mut grinds: Vec<_> = grinds.into_iter().map(|(_, view)| view).collect();
            let mut checks: Vec<_> = checks.into_iter().map(|(_, view)| view).collect();
            let mut names = Names::default();
            let ground = grinds.iter_mut().filter_map(|grind| grind.ground_by.as_mut());
            let checked = checks.iter_mut().map(|check| &mut check.record.recorded_by);
            ground.chain(checked).try_for_each(|badge| names.put(connection, badge))?;
            Ok(Known { tool: tool_outlook(connection, &reference)?, design, edges, grinds, checks })
        })
        .await?;
    let frame = &visit.frame;
    let row = [grinds::ToolGrinds::of(&known.tool, Some(&known.design))];
    page(&ToolPage {
        frame,
        known: &known,
        grinds: Chart::of(frame, "grinds", |words, setting| grinds::draw(&row, words, setting)),
        edges: known.edges.chart(frame, &known.design),
        order: frame.words.tool_life.order(frame, &known.design),
        next: next(frame, known.tool.condition),
    })
}

fn next(frame: &Frame, condition: Condition) -> Next {
    let grinds = frame.may(Permission::Grind) || frame.may(Permission::MoveForAnyone);
    match condition {
        Condition::NeedsCheck if frame.may(Permission::CheckTools) => Next::Check,
        Condition::Retired => Next::Open,
        _ if grinds => Next::Grind,
        _ if frame.may(Permission::CheckTools) => Next::Check,
        _ => Next::Open,
    }
}
