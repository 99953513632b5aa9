//! Supplies: what is on hand, against its minimum.

use super::{
    frame::{Frame, page},
    visit::Visit,
    wording::section,
};
use crate::{
    app::registry::{Supplies, list_in},
    page::Paging,
    principal::Read,
    problem::Problem,
    transport::supply::{SupplyFilters, SupplyView},
};
use actix_web::HttpResponse;
use askama::Template;

section! {
    /// The list of supplies.
    SuppliesWords {
        title, lead, open_first, open_any, none, none_below, to_start, filters, all, only_below, code, name,
        on_hand, quantity, minimum, state, below, enough, retired
    }
}

#[derive(Template)]
#[template(path = "pages/supplies.html")]
struct SuppliesPage<'p> {
    frame: &'p Frame,
    only_below: bool,
    supplies: Vec<SupplyView>,
    next: Option<String>,
}

impl SuppliesPage<'_> {
    /// What is opened first: the first that runs low, else the first.
    fn first(&self) -> Option<&SupplyView> {
        self.supplies.iter().find(|supply| supply.below_minimum).or_else(|| self.supplies.first())
    }
}

/// Shows them.
///
/// # Errors
/// 400 for another list's cursor.
pub async fn show(visit: Visit<Read>, paging: Paging<SupplyFilters>) -> Result<HttpResponse, Problem> {
    let only_below = paging.filters.below_minimum;
    let (supplies, next) = visit
        .read(move |connection| {
            let page = list_in::<Supplies>(connection, &paging)?;
            let next = paging.next(&page)?;
            Ok((page.items, next))
        })
        .await?;
    page(&SuppliesPage { frame: &visit.frame, only_below, supplies, next })
}
