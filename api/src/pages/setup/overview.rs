//! A setup at a glance: what is done at each station, what comes next, what still blocks the release.

use super::{
    Walk,
    lines::{self, Line},
    may, read,
};
use crate::{
    extract::Segments,
    pages::{
        frame::{Frame, page},
        visit::Visit,
        wording::ToldRefusal,
    },
    principal::Read,
    problem::Problem,
    transport::setup_station::StationView,
};
use actix_web::HttpResponse;
use askama::Template;
use dovetally_core::{ids::SetupId, setup::event::EventKind};

#[derive(Template)]
#[template(path = "pages/setup.html")]
struct OverviewPage<'p> {
    frame: &'p Frame,
    walk: &'p Walk,
    blockers: Vec<ToldRefusal>,
}

impl OverviewPage<'_> {
    fn heading(&self) -> String {
        let words = &self.frame.words.setup;
        words.heading.with("machine", &self.walk.view.machine).with("part", &self.walk.view.part).to_string()
    }

    /// Where the main action leads, and its words: to what is waited for, in a run to measuring, from the end to the next.
    fn main(&self) -> (String, String) {
        let words = &self.frame.words.setup;
        let (walk, view) = (self.walk, &self.walk.view);
        // Whoever runs it waits for the inspector, and measures meanwhile.
        let inspected = |kind: EventKind| kind == EventKind::HeldPiecesJudged && !may(self.frame, kind);
        if let Some(step) = walk.next().filter(|step| !inspected(step.kind)) {
            return (
                walk.step_address(step),
                words.next_title.with("step", walk.step_name(self.frame, step)).to_string(),
            );
        }
        match (walk.is_over(), walk.is_released()) {
            (true, _) => {
                let words = words.start_next.with("machine", &view.machine);
                (format!("/machines/{}/setups", view.machine), words.to_string())
            }
            (false, true) => (walk.sizes_address(None), words.measure.to_string()),
            (false, false) => (walk.address(), words.look_again.to_string()),
        }
    }

    /// How a station stands: a shape and a word.
    fn station_state(&self, station: &StationView) -> (&'static str, String) {
        let words = &self.frame.words.setup;
        if station.crashed {
            return ("stop", words.station_crashed.to_string());
        }
        if let Some(gauge) = &station.gauge {
            return ("wait", words.station_gauge.with("gauge", gauge).to_string());
        }
        match station.open.len() {
            0 => ("good", words.station_done.to_string()),
            1 => ("none", words.station_open_one.to_string()),
            count => ("none", words.station_open.with("count", count).to_string()),
        }
    }

    fn machine(&self) -> Vec<Line> {
        lines::machine(self.frame, self.walk)
    }

    fn last_time(&self) -> Vec<Line> {
        lines::of_last_time(self.frame, self.walk.then.as_ref())
    }

    fn left_out(&self) -> String {
        let codes: Vec<&str> = self.walk.view.left_out.iter().map(dovetally_core::code::Code::as_str).collect();
        codes.join(", ")
    }

    /// What else would be taken of the machine as a whole.
    fn others(&self) -> Vec<(String, String)> {
        let next = self.walk.next().map(|step| (step.kind, step.station.clone()));
        let whole = self.walk.view.next.iter().filter(|step| step.station.is_none());
        let others = whole.filter(|step| Some((step.kind, step.station.clone())) != next);
        others.map(|step| (self.walk.step_address(step), self.walk.step_name(self.frame, step))).collect()
    }
}

/// Shows a setup.
///
/// # Errors
/// 404 when there is none.
pub async fn show(visit: Visit<Read>, path: Segments<SetupId>) -> Result<HttpResponse, Problem> {
    let walk = read(&visit, path.into_inner()).await?;
    page(&OverviewPage { frame: &visit.frame, walk: &walk, blockers: walk.blockers(&visit.frame) })
}
