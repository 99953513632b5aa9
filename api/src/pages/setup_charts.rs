//! The sizes of a setup, drawn: where each lies in its limits, spindle by spindle, and how they drift.

use super::{
    drawn::Chart,
    frame::{Frame, page},
    sizes,
    visit::Visit,
    wording::section,
};
use crate::{
    app::setups::{Loaded, load, wear_of},
    drawing::{
        pieces::{self, Measured, MeasuredFeature},
        sizes::draw,
    },
    extract::Segments,
    principal::Read,
    problem::Problem,
    transport::{
        setup_station::LastSizeView,
        wear::{FeatureWearView, WearView},
    },
};
use actix_web::HttpResponse;
use askama::Template;
use dovetally_core::{
    code::Code,
    ids::SetupId,
    setup::{plan::Feature, wear},
};

section! {
    /// The sizes of a setup, drawn.
    SetupChartsWords { title, lead, by_spindle, station, drift_note, nothing, measure, to_setup }
}

/// A feature's sizes while running.
struct Drawn {
    station: Code,
    chart: Chart,
    /// What is told of its drift.
    sentence: String,
}

#[derive(Template)]
#[template(path = "pages/setup_charts.html")]
struct ChartsPage<'p> {
    frame: &'p Frame,
    id: SetupId,
    loaded: &'p Loaded,
    by_spindle: Option<Chart>,
    drawn: Vec<Drawn>,
    notes: Vec<String>,
}

impl ChartsPage<'_> {
    fn measure(&self) -> String {
        sizes::address(self.id, &[])
    }

    fn title(&self) -> String {
        let plan = &self.loaded.setup.plan;
        self.frame
            .words
            .setup_charts
            .title
            .with("part", &plan.part_code)
            .with("machine", &plan.machine_code)
            .to_string()
    }
}

/// The page's address.
pub(crate) fn address(setup: SetupId) -> String {
    format!("/setups/{setup}/charts")
}

/// Shows them.
///
/// # Errors
/// 404 when there is no such setup.
pub async fn show(visit: Visit<Read>, id: Segments<SetupId>) -> Result<HttpResponse, Problem> {
    let id = id.into_inner();
    let reading = move |connection: &mut dovetally_db::Connection| {
        let loaded = load(connection, id)?;
        let wear = wear_of(connection, &loaded, None)?;
        Ok::<_, Problem>((loaded, wear))
    };
    let (loaded, wear) = visit.read(reading).await?;
    let frame = &visit.frame;
    page(&ChartsPage {
        frame,
        id,
        by_spindle: by_spindle(frame, &loaded),
        drawn: drawn(frame, &loaded, &wear),
        notes: wear.notes.iter().map(|note| frame.told(note)).collect(),
        loaded: &loaded,
    })
}

/// The last size of each feature from each spindle, all features alike; none before anything was measured.
fn by_spindle(frame: &Frame, loaded: &Loaded) -> Option<Chart> {
    let setup = &loaded.setup;
    let mut features = Vec::new();
    for (index, plan) in setup.plan.stations.iter().enumerate() {
        let known = setup.sizes_by_spindle(index);
        for feature in &plan.operation.features {
            let of = known.iter().find(|of| of.feature == feature.code);
            let sizes = of.map(|of| of.sizes.as_slice()).unwrap_or_default();
            let mut drawn = MeasuredFeature::of(&plan.code, feature, &[]);
            drawn.sizes = sizes.iter().map(|size| Measured { spindle: size.spindle, value: size.value }).collect();
            features.push(drawn);
        }
    }
    let measured = features.iter().any(|feature| !feature.sizes.is_empty());
    measured.then(|| Chart::of(frame, "by-spindle", |words, setting| pieces::draw(&features, words, setting)))
}

fn drawn(frame: &Frame, loaded: &Loaded, told: &WearView) -> Vec<Drawn> {
    let setup = &loaded.setup;
    let mut drawn = Vec::new();
    for (index, plan) in setup.plan.stations.iter().enumerate() {
        let told = told.stations.iter().find(|told| told.station == plan.code);
        for feature in told.map(|told| told.features.as_slice()).unwrap_or_default() {
            let Some(of_part) = plan.feature(&feature.feature) else { continue };
            let sizes = sizes_of(loaded, index, of_part);
            let name = format!("drift-{}", drawn.len() + 1);
            drawn.push(Drawn {
                station: plan.code.clone(),
                chart: Chart::of(frame, &name, |words, setting| draw(feature, &sizes, words, setting)),
                sentence: sentence(frame, feature),
            });
        }
    }
    drawn
}

/// What is told of a drift; the chart has the times, in the reader's own clock.
fn sentence(frame: &Frame, feature: &FeatureWearView) -> String {
    let first = feature.spindles.iter().find(|spindle| Some(spindle.spindle) == feature.first);
    let timed = first.is_some_and(|first| first.about.is_some());
    if timed { String::new() } else { frame.told(&feature.sentence) }
}

fn sizes_of(loaded: &Loaded, station: usize, feature: &Feature) -> Vec<LastSizeView> {
    let sizes = wear::sizes(&loaded.setup, &loaded.events, station, feature).into_iter();
    sizes
        .map(|size| LastSizeView { spindle: size.spindle, piece: size.piece, value: size.value, at: size.at })
        .collect()
}
