//! Custody: who may be handed what, from where, and what may be taken back. All or nothing: one refused item refuses
//! the whole request, and every item's refusals are listed.

use crate::{
    code::Code,
    findings::{Findings, RuleSet},
    gauge::GaugeMachine,
    ids::{ItemId, PersonId},
    item::{Condition, ItemKind, Keeper, Purpose, Whereabouts},
    life::ownership::{Ownership, PartRef, not_for_part},
    refusal::{Refusal, Rule, Subject, SubjectKind},
    scan::Scanned,
    setup::facts::SetupPlace,
};
use chrono::NaiveDate;

/// What the records know of an item that is to be moved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ItemFacts {
    /// Its id.
    pub item: ItemId,
    /// Its code.
    pub code: Code,
    /// What it is.
    pub kind: ItemKind,
    /// The last judgement of it.
    pub condition: Condition,
    /// Where it is.
    pub whereabouts: Whereabouts,
    /// In which open setup it is: a tool, a holder, or a gauge that is placed.
    pub in_setup: Option<SetupPlace>,
    /// How often it had moved when this was read.
    pub movements: i64,
    /// What it was last handed out for, while it is out.
    pub purpose: Option<Purpose>,
    /// For a centre gauge, the machine it was cut for.
    pub gauge_of: Option<GaugeMachine>,
    /// Whose it is and what it is kept for: a form tool's. Nothing else is kept for a part.
    pub ownership: Ownership,
    /// Why it comes into nobody's hands for use: a gauge whose checks speak against it.
    pub not_to_use: Vec<Refusal>,
    /// Why it is not handed out to be ground: a customer's tool without the owner's consent to a grind.
    pub not_to_grind: Vec<Refusal>,
    /// Why it is not retired: a customer's tool without the owner's consent to scrap it, pieces that are not booked.
    pub not_to_retire: Vec<Refusal>,
    /// Why a word at the counter does not make it usable: a form tool that was ground, or whose edge is in doubt; a holder that
    /// its last check did not accept.
    pub not_to_pass: Vec<Refusal>,
}

/// One item's move, when granted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Move {
    /// The item.
    pub item: ItemId,
    /// Who or what had it.
    pub from: Keeper,
    /// Who or what has it from now on.
    pub to: Keeper,
    /// How often it had moved when this was granted: if it has moved since, the grant is void.
    pub movements: i64,
    /// Its condition from now on.
    pub condition: Condition,
    /// What it was handed out for.
    pub purpose: Option<Purpose>,
    /// Whether it leaves an open setup with this move: that setup has to record it ([`crate::setup::decide::take_out`]),
    /// and may refuse.
    pub leaves_setup: Option<SetupPlace>,
}

/// An item that is brought back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Return {
    /// The item, as scanned.
    pub item: Scanned<ItemFacts>,
    /// The place it goes to.
    pub place: Keeper,
    /// Its condition, as judged at the counter.
    pub condition: Condition,
}

/// What items are handed out for, as far as it was said.
#[derive(Clone, Copy, Debug, Default)]
pub struct MeantFor<'a> {
    /// The machine.
    pub machine: Option<&'a GaugeMachine>,
    /// The part of the job, and the day on which they go out for it.
    pub part: Option<(&'a PartRef, NaiveDate)>,
}

/// Hands items out to a person, for a machine or a job where one is named.
///
/// # Errors
/// Everything that speaks against any of the items: unknown, out already, in an open setup, condition, a gauge that was
/// cut for another machine, a customer's tool that is to be ground without the owner's consent; and for use, a gauge
/// whose checks speak against it and a tool that is kept for another part than the job's.
pub fn check_out(
    items: &[Scanned<ItemFacts>],
    to: PersonId,
    purpose: Purpose,
    meant: MeantFor<'_>,
) -> Result<Vec<Move>, Vec<Refusal>> {
    let mut hand = Hand::new(items.iter());
    let mut moves = Vec::with_capacity(items.len());
    for item in items.iter().filter_map(Scanned::known) {
        hand.not_out(item);
        // What is away is in nobody's hands to give, and what was out for grinding comes back as that.
        hand.held_elsewhere_if(item.whereabouts.outside, item, "is outside the shop, with");
        // A tool or holder may be taken out of a setup to be ground or checked; a placed gauge is removed there first.
        let may_leave = purpose != Purpose::Use && item.kind != ItemKind::CenterGauge;
        if !may_leave {
            hand.not_in_setup(item);
        }
        let allowed = match purpose {
            Purpose::Use => item.condition.is_usable(),
            Purpose::Grind | Purpose::Check => item.condition != Condition::Retired,
        };
        hand.findings.add_if(!allowed, || {
            let sentence = match purpose {
                Purpose::Use => format!("{} is not handed out for use: {}.", item.code, item.condition.words()),
                Purpose::Grind | Purpose::Check => format!("{} is retired and is not handed out again.", item.code),
            };
            let refusal = about(item, Rule::ItemNotUsable, sentence).saw(item.condition.name());
            if item.condition == Condition::Retired { refusal.clears("Hand out another item.") } else { refusal }
        });
        match purpose {
            Purpose::Use => {
                // What is outside is refused as that already.
                if !item.whereabouts.outside {
                    hand.not_unchecked(item);
                }
                hand.fit_for_use(item, meant);
            }
            Purpose::Grind => item.not_to_grind.iter().cloned().for_each(|refusal| hand.findings.add(refusal)),
            Purpose::Check => {}
        }
        if let (Some(machine), Some(own)) = (meant.machine, &item.gauge_of) {
            hand.findings.add_if(machine.machine != own.machine, || {
                let sentence =
                    format!("Gauge {} was cut for machine {}, not for {}.", item.code, own.code, machine.code);
                about(item, Rule::GaugeForOtherMachine, sentence).saw(format!("cut for {}", own.code))
            });
        }
        moves.push(Move {
            item: item.item,
            movements: item.movements,
            from: item.whereabouts.keeper,
            to: Keeper::Person(to),
            condition: item.condition,
            purpose: Some(purpose),
            leaves_setup: item.in_setup.clone(),
        });
    }
    hand.settle(moves)
}

/// What whoever takes an item back may say of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Judgement {
    /// Whether they may call it better than it is on record.
    pub may_improve: bool,
    /// Whether they may call it retired, which nobody takes back.
    pub may_retire: bool,
}

/// Takes items back from the person who has them, whoever brings them; and from a machine or an address outside, where
/// nobody has them.
///
/// # Errors
/// Everything that speaks against any of the items: unknown, with somebody else, in its place already, in an open setup;
/// nothing becomes better by being taken back, but by whoever may judge it; a gauge only by an accepted check; a tool that
/// comes back from grinding, or from outside, waits for its check; a customer's tool is retired only with the owner's consent, and any only with
/// its pieces booked; a ground tool, one whose edge is in doubt, and a holder that its last check did not accept are passed by
/// a check alone; and nothing retired comes back.
pub fn check_in(returns: &[Return], person: PersonId, judgement: Judgement) -> Result<Vec<Move>, Vec<Refusal>> {
    let mut hand = Hand::new(returns.iter().map(|back| &back.item));
    let mut moves = Vec::with_capacity(returns.len());
    for (item, back) in returns.iter().filter_map(|back| back.item.known().map(|item| (item, back))) {
        let place = &item.whereabouts;
        match place.keeper {
            Keeper::Person(holder) => hand.held_elsewhere_if(holder != person, item, "is with"),
            Keeper::Place(_) => hand.held_elsewhere_if(!place.outside, item, "is already in"),
            Keeper::Machine(_) => {}
        }
        hand.not_in_setup(item);
        let gauge_made_good =
            item.kind == ItemKind::CenterGauge && back.condition.is_usable() && !item.condition.is_usable();
        hand.findings.add_if(gauge_made_good, || {
            about(item, Rule::ItemNotUsable, format!("{} becomes usable again only by an accepted check.", item.code))
                .saw(item.condition.name())
                .clears("Take it back in the condition that it is in, and have an inspector check it.")
        });
        let better = !gauge_made_good && is_better(back.condition, item.condition) && !judgement.may_improve;
        hand.findings.add_if(better, || {
            let words = item.condition.words();
            about(
                item,
                Rule::ItemNotUsable,
                format!("{} is on record as {words}, and not better for being back.", item.code),
            )
            .saw(item.condition.name())
            .clears("Take it back in that condition; an inspector judges it after a check.")
        });
        let retires = back.condition == Condition::Retired && item.condition != Condition::Retired;
        hand.findings.add_if(retires && !judgement.may_retire, || {
            about(item, Rule::ItemNotUsable, format!("{} is retired by the crib only.", item.code))
                .clears("Take it back as damaged.")
        });
        if retires {
            item.not_to_retire.iter().cloned().for_each(|refusal| hand.findings.add(refusal));
        }
        if back.condition.is_usable() && !item.condition.is_usable() {
            item.not_to_pass.iter().cloned().for_each(|refusal| hand.findings.add(refusal));
        }
        if let Some(was) = away_unchecked(item).filter(|_| back.condition.is_usable()) {
            hand.findings.add(
                about(item, Rule::ItemNotUsable, format!("{} {was} and waits for its check.", item.code))
                    .saw(was)
                    .clears("Take it back as needs_check, and have it checked."),
            );
        }
        let revived = item.condition == Condition::Retired && back.condition != Condition::Retired;
        hand.findings.add_if(revived, || {
            about(item, Rule::ItemNotUsable, format!("{} is retired and stays so.", item.code))
                .saw(item.condition.name())
                .clears("Take it back as retired.")
        });
        moves.push(Move {
            item: item.item,
            movements: item.movements,
            from: place.keeper,
            to: back.place,
            condition: back.condition,
            purpose: None,
            leaves_setup: None,
        });
    }
    hand.settle(moves)
}

/// Whether a condition says more for an item than the one on record. Worn and waiting for a check are level: the grinder
/// makes the one of the other.
const fn is_better(said: Condition, on_record: Condition) -> bool {
    const fn rank(condition: Condition) -> u8 {
        match condition {
            Condition::Usable => 0,
            Condition::NeedsGrinding | Condition::NeedsCheck => 1,
            Condition::Damaged => 2,
            Condition::Retired => 3,
        }
    }
    rank(said) < rank(on_record)
}

/// Where items are moved to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Destination {
    /// A person, a place or a machine.
    pub keeper: Keeper,
    /// Whether it is a place outside the shop.
    pub outside: bool,
}

/// Moves items to a person, a place or a machine: shift change, rack, grinder. It is no way round the counter: what nobody
/// has comes into somebody's hands only if it is usable, and a tool that was out for grinding, or outside, goes neither into a
/// bin nor to a machine unchecked, nor from outside into somebody's hands.
///
/// `for_anyone`: whether the mover may move what others have; without it they move what they have themselves, and what
/// nobody has.
///
/// # Errors
/// Everything that speaks against any of the items: unknown, with somebody else, there already, in an open setup, not
/// usable, a gauge whose checks speak against using it, just ground.
pub fn transfer(
    items: &[Scanned<ItemFacts>],
    to: Destination,
    mover: PersonId,
    for_anyone: bool,
) -> Result<Vec<Move>, Vec<Refusal>> {
    let mut hand = Hand::new(items.iter());
    let mut moves = Vec::with_capacity(items.len());
    for item in items.iter().filter_map(Scanned::known) {
        if let Keeper::Person(holder) = item.whereabouts.keeper {
            hand.held_elsewhere_if(holder != mover && !for_anyone, item, "is with");
        }
        let to_person = matches!(to.keeper, Keeper::Person(_));
        let how = if to_person { "is already with" } else { "is already in" };
        hand.held_elsewhere_if(item.whereabouts.keeper == to.keeper, item, how);
        let from_person = matches!(item.whereabouts.keeper, Keeper::Person(_));
        hand.findings.add_if(to_person && !from_person && !item.condition.is_usable(), || {
            about(item, Rule::ItemNotUsable, format!("{} is {}.", item.code, item.condition.words()))
                .saw(item.condition.name())
        });
        if to_person && !from_person {
            item.not_to_use.iter().cloned().for_each(|refusal| hand.findings.add(refusal));
        }
        // At the grinder's it may pass from one to another; nowhere else without its check.
        let moved_on = match to.keeper {
            Keeper::Place(_) => !to.outside,
            Keeper::Machine(_) => true,
            Keeper::Person(_) => item.whereabouts.outside,
        };
        if moved_on {
            hand.not_unchecked(item);
        }
        hand.not_in_setup(item);
        moves.push(Move {
            item: item.item,
            movements: item.movements,
            from: item.whereabouts.keeper,
            to: to.keeper,
            condition: item.condition,
            purpose: item.purpose,
            leaves_setup: None,
        });
    }
    hand.settle(moves)
}

/// Where a form tool was, if nobody knows its edge since: with the grinder, or outside the shop for anything but a check.
fn away_unchecked(item: &ItemFacts) -> Option<&'static str> {
    if item.kind != ItemKind::FormTool {
        return None;
    }
    match item.purpose {
        Some(Purpose::Grind) => Some("was out for grinding"),
        Some(Purpose::Check) => None,
        Some(Purpose::Use) | None => item.whereabouts.outside.then_some("was outside the shop"),
    }
}

/// Several items under one judgement.
struct Hand {
    findings: Findings,
}

impl Hand {
    /// Begins with what every move asks for: each item on record.
    fn new<'a>(items: impl Iterator<Item = &'a Scanned<ItemFacts>>) -> Self {
        let mut findings = Findings::under(RuleSet::ALL);
        for item in items {
            if let Some((code, what)) = item.mismatch() {
                findings.add(
                    Refusal::new(Rule::ItemUnknown, format!("{what}.")).about(Subject::new(SubjectKind::Item, code)),
                );
            }
        }
        Self { findings }
    }

    /// What is out with a person is handed out to nobody, themselves included.
    fn not_out(&mut self, item: &ItemFacts) {
        let out = matches!(item.whereabouts.keeper, Keeper::Person(_));
        self.held_elsewhere_if(out, item, "is out with");
    }

    fn held_elsewhere_if(&mut self, broken: bool, item: &ItemFacts, how: &str) {
        self.findings.add_if(broken, || {
            about(item, Rule::ItemHeldElsewhere, format!("{} {how} {}.", item.code, item.whereabouts.name))
                .saw(item.whereabouts.name.clone())
        });
    }

    /// A tool that was handed out to be ground is taken back before it goes anywhere else: that is where its check is asked
    /// for.
    fn not_unchecked(&mut self, item: &ItemFacts) {
        if let Some(was) = away_unchecked(item) {
            self.findings.add(
                about(item, Rule::ItemNotUsable, format!("{} {was} and waits for its check.", item.code))
                    .clears("Take it back at the counter, as it is."),
            );
        }
    }

    /// What is used for a job serves its part. Where no job is named nobody knows the part, and the setup asks.
    fn fit_for_use(&mut self, item: &ItemFacts, meant: MeantFor<'_>) {
        let other_part =
            meant.part.and_then(|(part, on)| not_for_part(&item.code, &item.ownership, part.id, &part.code, on));
        item.not_to_use.iter().cloned().chain(other_part).for_each(|refusal| self.findings.add(refusal));
    }

    fn not_in_setup(&mut self, item: &ItemFacts) {
        if let Some(place) = &item.in_setup {
            let sentence =
                format!("{} is in the setup of machine {}, at station {}.", item.code, place.machine, place.station);
            let refusal = about(item, Rule::ItemInSetup, sentence);
            // A gauge is handed out of no setup: it is removed there, and that is on record.
            let gauge = item.kind == ItemKind::CenterGauge;
            self.findings.add(if gauge { refusal.clears("Remove it in the setup first.") } else { refusal });
        }
    }

    fn settle(self, moves: Vec<Move>) -> Result<Vec<Move>, Vec<Refusal>> {
        if self.findings.is_empty() { Ok(moves) } else { Err(self.findings.into_refusals()) }
    }
}

fn about(item: &ItemFacts, rule: Rule, sentence: String) -> Refusal {
    Refusal::new(rule, sentence).about(Subject::coded(SubjectKind::Item, &item.code))
}
