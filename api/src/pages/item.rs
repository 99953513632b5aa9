//! One item: where it is, whether it may be used and why not, what it has left, where it was.

use super::{
    frame::{Frame, page},
    visit::Visit,
    wording::{Phrase, ToldRefusal, section},
};
use crate::{
    app::{
        counter::is_out,
        facts::{scanned_item, stale_gauge},
        holder_checks::last_check,
        items,
        ledger::last_moves,
        registry::{AnyItem, FormTools, find},
    },
    extract::{Reference, Segments},
    principal::Read,
    problem::Problem,
    transport::{holder_check::HolderCheckView, item::ItemView, movement::MovementView},
};
use actix_web::HttpResponse;
use askama::Template;
use chrono::NaiveDate;
use dovetally_core::{
    code::Code,
    custody::{self as rules, MeantFor},
    item::{HolderOfRecord, ItemKind, Purpose},
    length::Length,
    life::ownership::Belonging,
    people::Permission,
    scan::Scanned,
};
use dovetally_db::{Connection, center_gauges, holders};
use std::collections::BTreeSet;

section! {
    /// One item.
    ItemWords {
        whereabouts, with, in_place, at_machine, outside, in_setup, for_machine, for_job, due, purpose, condition, may_be_used,
        not_to_be_used, life, height, grinds, pieces, next_check, no_check, belongs, history, hand_out, take_back, take_it,
        bring_it, not_from_here, open_setup, open_life, open_drift, open_check, last_check, open_label, owner, kept_for
    }
}

/// The moves that are shown.
const MOVES: i64 = 20;

/// What is particular to the item's kind.
enum Particular {
    Tool { height: Length, grinds: u32, pieces: i64, belonging: Belonging },
    Holder { next_check: Option<NaiveDate>, last: Option<HolderCheckView> },
    Gauge { machine: Code, next_check: Option<NaiveDate>, stale: bool },
    Other,
}

impl Particular {
    const fn next_check(&self) -> Option<NaiveDate> {
        match self {
            Self::Holder { next_check, .. } | Self::Gauge { next_check, .. } => *next_check,
            Self::Tool { .. } | Self::Other => None,
        }
    }
}

struct Known {
    item: ItemView,
    why_not: Vec<dovetally_core::refusal::Refusal>,
    out: bool,
    particular: Particular,
    moves: Vec<MovementView>,
}

#[derive(Template)]
#[template(path = "pages/item.html")]
struct ItemPage<'p> {
    frame: &'p Frame,
    item: &'p ItemView,
    particular: &'p Particular,
    why_not: Vec<ToldRefusal>,
    /// That its check is overdue, where it is.
    overdue: Option<String>,
    /// What the main action does; nothing for an item that is in a setup, or that only others bring back.
    action: Option<String>,
    whereabouts: String,
    moves: &'p [MovementView],
}

impl ItemPage<'_> {
    fn kind(&self) -> &Phrase {
        self.frame.words.names.item_kind(self.item.kind)
    }

    fn state(&self) -> (&'static str, &Phrase) {
        let stale = matches!(self.particular, Particular::Gauge { stale: true, .. });
        self.frame.words.names.state(self.item.condition, stale)
    }

    /// Whose a tool is and what it is kept for, where there is anything to say of it.
    fn belonging(&self) -> Option<&Belonging> {
        match self.particular {
            Particular::Tool { belonging, .. } => Some(belonging),
            _ => None,
        }
    }

    /// The machines that the page names, each once.
    fn machines(&self) -> BTreeSet<&str> {
        let item = self.item;
        let at = (item.whereabouts.kind == HolderOfRecord::Machine).then_some(item.whereabouts.key.as_str());
        let cut_for = if let Particular::Gauge { machine, .. } = self.particular { Some(machine) } else { None };
        let in_setup = item.in_setup.as_ref().map(|at| &at.machine);
        let coded = [in_setup, item.for_machine.as_ref(), cut_for].into_iter().flatten().map(Code::as_str);
        at.into_iter().chain(coded).collect()
    }

    /// What a holder's last check made of it, and when.
    fn last_check(&self, check: &HolderCheckView) -> String {
        let words = &self.frame.words;
        let day = self.frame.day_of(&check.performed_at);
        words.item.last_check.with("condition", words.names.condition(check.condition)).with("day", day).to_string()
    }

    fn purpose(&self, purpose: &Purpose) -> &Phrase {
        self.frame.words.names.purpose(*purpose)
    }
}

/// Shows it.
///
/// # Errors
/// 404 when there is no such item.
pub async fn show(visit: Visit<Read>, item: Segments<Reference>) -> Result<HttpResponse, Problem> {
    let (reference, who) = (item.into_inner(), visit.who().person);
    let today = visit.guarded.database().now().date_naive();
    let known = visit
        .read(move |connection| {
            let found = find::<AnyItem>(connection, &reference)?;
            let facts = match scanned_item(connection, found.code.as_str(), today)? {
                Scanned::Known(facts) => facts,
                _ => return Err(Problem::not_found("item", &found.code)),
            };
            Ok(Known {
                item: items::show(connection, &found)?,
                out: is_out(&facts),
                why_not: rules::check_out(&[Scanned::Known(facts)], who, Purpose::Use, MeantFor::default())
                    .err()
                    .unwrap_or_default(),
                particular: particular(connection, found.id, found.fields.kind)?,
                moves: last_moves(connection, Some(found.id), MOVES)?,
            })
        })
        .await?;
    let frame = &visit.frame;
    page(&ItemPage {
        frame,
        item: &known.item,
        particular: &known.particular,
        why_not: frame.refusals(&known.why_not),
        overdue: frame.overdue(known.particular.next_check(), today),
        action: action(frame, &known),
        whereabouts: whereabouts(frame, &known.item),
        moves: &known.moves,
    })
}

fn particular(
    connection: &mut Connection,
    id: dovetally_core::ids::ItemId,
    kind: ItemKind,
) -> Result<Particular, Problem> {
    Ok(match kind {
        ItemKind::FormTool => {
            let tool = find::<FormTools>(connection, &Reference::Id(id.uuid()))?;
            Particular::Tool {
                height: tool.height,
                grinds: tool.regrind_count,
                pieces: tool.pieces_since_grind,
                belonging: tool.belonging,
            }
        }
        ItemKind::Holder => Particular::Holder {
            next_check: holders::find(connection, id)?.and_then(|holder| holder.next_check),
            last: last_check(connection, id)?,
        },
        ItemKind::CenterGauge => match center_gauges::find(connection, id)? {
            Some(gauge) => {
                let stale = stale_gauge(&gauge).is_some();
                Particular::Gauge { machine: gauge.machine_code, next_check: gauge.next_check, stale }
            }
            None => Particular::Other,
        },
        ItemKind::Other => Particular::Other,
    })
}

fn action(frame: &Frame, known: &Known) -> Option<String> {
    let words = &frame.words.item;
    let crib = frame.may(Permission::MoveForAnyone);
    if known.item.in_setup.is_some() || !(crib || frame.may(Permission::MoveForOneself)) {
        return None;
    }
    let at = &known.item.whereabouts;
    // Whoever has it brings it back, or the crib takes it.
    if !crib && at.kind == HolderOfRecord::Person && at.key != frame.badge() {
        return None;
    }
    let phrase = match (known.out, crib) {
        (false, true) => &words.hand_out,
        (true, true) => &words.take_back,
        (false, false) => &words.take_it,
        (true, false) => &words.bring_it,
    };
    Some(phrase.with("code", &known.item.code).to_string())
}

fn whereabouts(frame: &Frame, item: &ItemView) -> String {
    let words = &frame.words.item;
    let phrase = match (item.whereabouts.kind, item.whereabouts.outside) {
        (_, true) => &words.outside,
        (HolderOfRecord::Place, false) => &words.in_place,
        (HolderOfRecord::Person, false) => &words.with,
        (HolderOfRecord::Machine, false) => &words.at_machine,
    };
    phrase.with("name", &item.whereabouts.name).with("since", frame.day_of(&item.since)).to_string()
}
