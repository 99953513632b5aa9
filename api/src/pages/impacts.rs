//! Documents of what a gauge found wrong has touched: those to be worked through, and those that were.

use super::{
    frame::{Frame, page},
    visit::Visit,
    wording::section,
};
use crate::{
    app::impacts::list_in,
    page::Paging,
    principal::Read,
    problem::Problem,
    transport::impact::{ImpactFilters, ImpactView},
};
use actix_web::HttpResponse;
use askama::Template;

section! {
    /// The list of impact documents.
    ImpactsWords {
        title, lead, open_newest, none_open, none, to_due, filters, only_open, all, closed, still_open, of_gauge,
        touched, judged, without_outcome, raised
    }
}

#[derive(Template)]
#[template(path = "pages/impacts.html")]
struct ImpactsPage<'p> {
    frame: &'p Frame,
    filters: ImpactFilters,
    documents: Vec<ImpactView>,
    next: Option<String>,
}

impl ImpactsPage<'_> {
    fn newest_open(&self) -> Option<&ImpactView> {
        self.documents.iter().find(|document| document.open)
    }
}

/// Shows them, newest first.
///
/// # Errors
/// 400 for a filter that names nothing, or another list's cursor.
pub async fn show(visit: Visit<Read>, paging: Paging<ImpactFilters>) -> Result<HttpResponse, Problem> {
    let filters = paging.filters.clone();
    let (documents, next) = visit
        .read(move |connection| {
            let page = list_in(connection, &paging)?;
            let next = paging.next(&page)?;
            Ok((page.items, next))
        })
        .await?;
    page(&ImpactsPage { frame: &visit.frame, filters, documents, next })
}
