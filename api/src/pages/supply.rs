//! One supply: what is on hand over time, when to order, and withdrawing, receiving and counting it.

use super::{
    drawn::Chart,
    forms::{NotTaken, Reading, Typed},
    frame::{Frame, go_to, page, page_with},
    visit::{Faults, Sent, Visit},
    wording::{Phrase, section},
};
use crate::{
    app::{
        registry::{Supplies, find},
        supplies::{count_in, movements_of, receive_in, reorder_of, withdraw_in},
    },
    drawing::supply,
    extract::{Reference, Segments},
    principal::{KeepSupplies, Principal, Read, WithdrawSupplies},
    problem::Problem,
    transport::supply::{
        NewCount, NewReceipt, NewWithdrawal, ReorderQuery, ReorderView, SupplyMovementView, SupplyView,
    },
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use chrono::{DateTime, Utc};
use dovetally_core::{code::Code, people::Permission, supply::SupplyMovementKind};
use dovetally_db::{Connection, Tx};

section! {
    /// One supply.
    SupplyWords {
        kept_at, on_hand, low, enough, retired, withdraw, withdraw_go, receive, receive_go, count, count_lead,
        count_go, quantity, counted, machine, machine_odd, note, advice, order_now, no_order, reorder_point,
        expected_per_week, service, assumed, movements, no_movements, when, what, change, left, by, said, withdrawn,
        received, counted_kind, all
    }
}

impl SupplyWords {
    const fn kind(&self, kind: SupplyMovementKind) -> &Phrase {
        match kind {
            SupplyMovementKind::Withdrawn => &self.withdrawn,
            SupplyMovementKind::Received => &self.received,
            SupplyMovementKind::Counted => &self.counted_kind,
        }
    }
}

/// The movements that are drawn.
const MOVEMENTS: i64 = 100;
/// The movements that are listed with all that is known of them.
const LISTED: usize = 25;

struct Known {
    supply: SupplyView,
    movements: Vec<SupplyMovementView>,
    advice: ReorderView,
    now: DateTime<Utc>,
}

fn known(connection: &mut Connection, supply: &Reference, now: DateTime<Utc>) -> Result<Known, Problem> {
    let supply = find::<Supplies>(connection, supply)?;
    Ok(Known {
        movements: movements_of(connection, &supply, None, MOVEMENTS)?,
        advice: reorder_of(connection, &supply, ReorderQuery::default(), now)?,
        supply: (&supply).into(),
        now,
    })
}

/// Which of the forms was sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    Withdraw,
    Receive,
    Count,
}

impl Form {
    /// The boxes for how many, and for what is said.
    const fn boxes(self) -> (&'static str, &'static str) {
        match self {
            Self::Withdraw => ("quantity", "withdrawal-note"),
            Self::Receive => ("received", "receipt-note"),
            Self::Count => ("counted", "count-note"),
        }
    }
}

#[derive(Template)]
#[template(path = "pages/supply.html")]
struct SupplyPage<'p> {
    frame: &'p Frame,
    supply: &'p SupplyView,
    advice: &'p ReorderView,
    movements: &'p [SupplyMovementView],
    chart: Chart,
    /// The form that was not taken, with what was typed in it.
    refused: Option<(Form, Typed)>,
    not_taken: NotTaken,
}

impl<'p> SupplyPage<'p> {
    fn of(frame: &'p Frame, known: &'p Known, refused: Option<(Form, Typed)>, not_taken: NotTaken) -> Self {
        let chart = Chart::of(frame, "on-hand", |words, setting| {
            supply::draw(&known.supply, &known.movements, known.now, words, setting)
        });
        let Known { supply, movements, advice, .. } = known;
        let movements = movements.get(..LISTED).unwrap_or(movements);
        Self { frame, supply, advice, movements, chart, refused, not_taken }
    }

    fn may_withdraw(&self) -> bool {
        self.may_keep() || self.frame.may(Permission::Maintain)
    }

    fn may_keep(&self) -> bool {
        self.frame.may(Permission::KeepSupplies)
    }

    fn typed(&self, form: Form, name: &str) -> &str {
        self.refused.as_ref().filter(|(sent, _)| *sent == form).map_or("", |(_, typed)| typed.of(name))
    }

    fn kind(&self, kind: &SupplyMovementKind) -> &Phrase {
        self.frame.words.supply.kind(*kind)
    }

    /// A change with its sign.
    fn change(&self, change: &i64) -> String {
        if *change > 0 { format!("+{change}") } else { change.to_string().replace('-', "\u{2212}") }
    }

    fn number(&self, value: &f64) -> String {
        self.frame.mark().rounded(*value, 1)
    }

    /// A reorder point as it is counted: at 11 or fewer, where it is 11.4.
    fn whole(&self, value: &f64) -> String {
        self.frame.mark().rounded(value.floor(), 0)
    }

    fn percent(&self, share: &f64) -> String {
        self.frame.mark().rounded(share * 100.0, 1)
    }
}

/// Shows it.
///
/// # Errors
/// 404 when there is no such supply.
pub async fn show(visit: Visit<Read>, supply: Segments<Reference>) -> Result<HttpResponse, Problem> {
    let (supply, now) = (supply.into_inner(), visit.guarded.database().now());
    let known = visit.read(move |connection| known(connection, &supply, now)).await?;
    page(&SupplyPage::of(&visit.frame, &known, None, NotTaken::default()))
}

/// Leads from where the forms are sent to where they are.
pub async fn form(supply: Segments<Reference>) -> HttpResponse {
    go_to(&format!("/supplies/{}", supply.into_inner()))
}

/// Withdraws some.
///
/// # Errors
/// 404 when there is no such supply.
pub async fn withdraw(
    visit: Visit<WithdrawSupplies>,
    supply: Segments<Reference>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    sent.form.only(|name| ["quantity", "machine", "note"].contains(&name))?;
    let mut reading = Reading::of(&visit.frame, &sent.form);
    let quantity = reading.whole("quantity");
    let machine = sent.form.text("machine").map(|text| Code::parse(&text));
    let machine = machine.transpose().map_err(|_| &visit.frame.words.supply.machine_odd);
    let machine = reading.faults.read("machine", machine, ToString::to_string).flatten();
    let faults = reading.faults;
    let body =
        quantity.map(|quantity| NewWithdrawal { quantity, work_order: None, machine, note: sent.form.text("note") });
    moved(visit, supply, sent, Form::Withdraw, (body, faults), withdraw_in).await
}

/// Takes a delivery in.
///
/// # Errors
/// 404 when there is no such supply.
pub async fn receive(
    visit: Visit<KeepSupplies>,
    supply: Segments<Reference>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    sent.form.only(|name| ["received", "note"].contains(&name))?;
    let mut reading = Reading::of(&visit.frame, &sent.form);
    let quantity = reading.whole("received");
    let body = quantity.map(|quantity| NewReceipt { quantity, note: sent.form.text("note") });
    let faults = reading.faults;
    moved(visit, supply, sent, Form::Receive, (body, faults), receive_in).await
}

/// Records a count.
///
/// # Errors
/// 404 when there is no such supply.
pub async fn count(
    visit: Visit<KeepSupplies>,
    supply: Segments<Reference>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    sent.form.only(|name| ["counted", "note"].contains(&name))?;
    let mut reading = Reading::of(&visit.frame, &sent.form);
    let counted = reading.whole("counted");
    let body = counted.map(|counted| NewCount { counted, counted_at: None, note: sent.form.text("note") });
    let faults = reading.faults;
    moved(visit, supply, sent, Form::Count, (body, faults), count_in).await
}

/// Records a movement, and leads to the supply; or shows why not.
async fn moved<A, B>(
    visit: Visit<A>,
    supply: Segments<Reference>,
    sent: Sent<Typed>,
    form: Form,
    (body, faults): (Option<B>, Faults),
    record: fn(&mut Tx<'_>, &Principal, &Reference, &B) -> Result<crate::app::perform::Done, Problem>,
) -> Result<HttpResponse, Problem>
where
    B: Send + Sync + 'static,
{
    let supply = supply.into_inner();
    let not_taken = match body.filter(|_| faults.is_empty()) {
        None => faults.into(),
        Some(body) => {
            let of = supply.clone();
            let done: Result<(), Problem> =
                visit.perform(&sent, move |tx, who| record(tx, who, &of, &body).map(drop)).await;
            let words = &visit.frame.words.supply;
            // The same field stands in several forms; each has its own box.
            let (quantity, note) = form.boxes();
            let fields = [
                ("quantity", quantity, &words.quantity),
                ("counted", quantity, &words.counted),
                ("machine", "machine", &words.machine),
                ("note", note, &words.note),
            ];
            match done {
                Ok(()) => return Ok(go_to(&format!("/supplies/{supply}"))),
                Err(problem) => NotTaken::of(&visit.frame, problem, &fields)?,
            }
        }
    };
    let now = visit.guarded.database().now();
    let known = visit.read(move |connection| known(connection, &supply, now)).await?;
    let shown = SupplyPage::of(&visit.frame, &known, Some((form, sent.form)), not_taken);
    page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown)
}
