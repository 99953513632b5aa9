//! Releases that rest on a second setter's judgement: how far they go, what is held, what an inspector's word does.

use crate::{Refused, shop::*};
use chrono::TimeDelta;
use dovetally_core::{
    ids::PersonId,
    people::{Permission, Role},
    refusal::Rule,
    setup::{
        command::Command,
        decide::{Effect, decide_without, tag_out as decide_tag_out},
        event::{Event, EventKind, Withdrawal},
        facts::Actor,
        next::next,
        permit::{PermitPurpose, run_permit},
        plan::{Plan, ProvisionalRelease},
        state::{Run, SetupState},
        view::SetupView,
    },
};

fn second_inspector() -> Actor {
    Actor { person: person(5), roles: vec![Role::Inspector] }
}

/// A trial with the depth read, in a shop that knows provisional releases.
fn to_judge(plan: Plan) -> Bench {
    let mut bench = Bench::in_trial_with(plan);
    bench.record(&depth(1));
    bench
}

/// Released on a second setter's word.
pub(crate) fn at_night() -> Bench {
    let mut bench = to_judge(night_plan());
    bench.record_by(&second_setter(), &judge(true, on_target()));
    bench.record(&Command::ReleaseRun);
    bench
}

fn stopped(pieces: u64) -> Bench {
    let mut bench = at_night();
    bench.record(&stop(pieces));
    bench
}

fn permitted(bench: &Bench, purpose: PermitPurpose, after: TimeDelta) -> Vec<Rule> {
    rules(&run_permit(Some(&bench.setup), &code("M-1"), &bench.facts, purpose, bench.now + after).blockers)
}

pub(crate) fn refused() -> Vec<Refused> {
    let trial = to_judge(night_plan());
    let (running, over) = (at_night(), stopped(400));
    let mut outside = on_target();
    outside[0].value = mm(10.1);
    let mut strange = on_target();
    strange[0].spindle = Some(9);
    let mut every = night_plan();
    every.settings.first_piece_from_every_spindle = true;
    let mut every = to_judge(every);
    let all: Vec<_> = (1..=6).flat_map(|spindle| reading_all(Some(spindle))).collect();
    every.record_by(&second_setter(), &judge(true, all));
    every.record(&Command::ReleaseRun);
    // Whoever had a hand in it, or accepted its first piece, does not judge it, whatever they have become since.
    let became = |who: &Actor| Actor { roles: vec![Role::Inspector], ..who.clone() };
    let good = judge_held(true, on_target());
    let against = |bench: &Bench, command: &Command| bench.against(&inspector(), command);
    let setter_judges = |mut plan: Plan| {
        plan.settings.first_piece_by_another_person = false;
        to_judge(plan).against(&setter(), &judge(true, on_target()))
    };
    vec![
        Refused::new("nothing is held", &[Rule::NoPiecesHeld], against(&trial, &good)),
        Refused::new("released again", &[Rule::InspectionPending], over.against(&setter(), &Command::ReleaseRun)),
        Refused::new("closed", &[Rule::InspectionPending], over.against(&setter(), &close())),
        Refused::new("abandoned", &[Rule::InspectionPending], {
            over.against(&setter(), &Command::Abandon { reason: "withdrawn".to_owned() })
        }),
        Refused::new("not all read", &[Rule::ReadingOutsideLimits], against(&running, &judge_held(true, vec![]))),
        Refused::new("outside", &[Rule::ReadingOutsideLimits], against(&over, &judge_held(true, outside))),
        Refused::new("no such spindle", &[Rule::SpindleUnknown], against(&over, &judge_held(false, strange))),
        Refused::new("one spindle of six", &[Rule::FirstPieceSpindleMissing], {
            against(&every, &judge_held(true, reading_all(Some(1))))
        }),
        Refused::new("by who set it", &[Rule::FirstPieceSamePerson], over.against(&became(&setter()), &good)),
        Refused::new("by who accepted", &[Rule::FirstPieceSamePerson], over.against(&became(&second_setter()), &good)),
        // A provisional judgement is another person's even where the shop lets a setter judge alone.
        Refused::new("provisionally by who set it", &[Rule::FirstPieceSamePerson], setter_judges(night_plan())),
        Refused::new("first piece during the run", &[Rule::MachineRunning], {
            against(&running, &judge(true, on_target()))
        }),
    ]
}

#[test]
fn an_inspectors_word_carries_a_release_without_limits() {
    let mut bench = to_judge(night_plan());
    bench.record_by(&inspector(), &judge(true, on_target()));
    assert!(!bench.setup.first_piece.as_ref().unwrap().provisional);
    let released = bench.record(&Command::ReleaseRun);
    assert!(matches!(released.events[0], Event::RunReleased { provisional: None, .. }));
    assert_eq!((bench.setup.held, bench.setup.provisional()), (None, None));
    assert_eq!(permitted(&bench, PermitPurpose::Production, TimeDelta::days(3)), []);
    bench.record(&stop(5_000));
    assert_eq!(bench.against(&setter(), &Command::ReleaseRun), [], "nothing is held");
}

/// Off, as a shop starts: a second setter's word is as good as an inspector's, and nothing is held.
#[test]
fn where_the_shop_does_not_know_it_nothing_is_provisional() {
    let mut bench = to_judge(plan());
    bench.record_by(&second_setter(), &judge(true, on_target()));
    let released = bench.record(&Command::ReleaseRun);
    assert!(matches!(released.events[0], Event::RunReleased { provisional: None, .. }));
    bench.record(&stop(5_000));
    assert_eq!(bench.blocked(), []);
    let mut alone = plan();
    alone.settings.first_piece_by_another_person = false;
    assert_eq!(to_judge(alone).against(&setter(), &judge(true, on_target())), []);
}

#[test]
fn a_second_setters_word_carries_so_many_pieces_and_minutes() {
    let bench = at_night();
    let held = bench.setup.provisional().unwrap();
    let released_at = bench.events.last().unwrap().recorded_at;
    // The rules saw the second before it was stored.
    assert_eq!(held.end.until, released_at - TimeDelta::seconds(1) + TimeDelta::minutes(480));
    assert_eq!((held.end.most_pieces, held.accepted_by), (1_000, second_setter().person));
    let left = held.end.until - bench.now;
    for purpose in PermitPurpose::ALL {
        assert_eq!(permitted(&bench, *purpose, left - TimeDelta::microseconds(1)), []);
        assert_eq!(permitted(&bench, *purpose, left), [Rule::InspectionPending], "the end is not inside");
    }
    let permit = run_permit(Some(&bench.setup), &code("M-1"), &bench.facts, PermitPurpose::Production, bench.now);
    assert_eq!(permit.not_beyond, Some(held.end.until));

    let mut counted = bench.clone();
    counted.record(&sizes("S1", 1_000));
    assert_eq!(
        permitted(&counted, PermitPurpose::Production, TimeDelta::zero()),
        [],
        "one piece before the trial's one"
    );
    counted.record(&sizes("S1", 1_001));
    assert_eq!(permitted(&counted, PermitPurpose::Production, TimeDelta::zero()), [Rule::InspectionPending]);
    let wanted = |bench: &Bench| -> Vec<EventKind> {
        next(&bench.setup, &bench.facts, bench.now)
            .into_iter()
            .filter(|step| step.wanted)
            .map(|step| step.kind)
            .collect()
    };
    assert_eq!(wanted(&bench), [EventKind::HeldPiecesJudged]);
    assert_eq!(wanted(&counted), [EventKind::HeldPiecesJudged, EventKind::RunStopped]);
    // Stopped, a trial is no production: it may go on.
    counted.record(&stop(1_001));
    assert_eq!(permitted(&counted, PermitPurpose::Trial, left), []);
    let held = counted.setup.held.unwrap();
    assert_eq!((held.pieces, held.beyond()), (1_001, 1));
    let told = dovetally_core::setup::blockers::blockers(&counted.setup, &counted.facts);
    assert!(told[0].sentence.contains("1 more than it allowed"), "{told:?}");
}

#[test]
fn accepted_while_it_runs_it_runs_on_without_limits() {
    let mut bench = at_night();
    assert!(SetupView::of(&bench.setup, &bench.facts, bench.now).held.unwrap().in_force);
    let accepted = bench.record_by(&inspector(), &judge_held(true, on_target()));
    assert_eq!((accepted.events.len(), accepted.effects.len()), (1, 0));
    assert!(bench.setup.is_released() && bench.setup.held.is_none());
    assert_eq!(permitted(&bench, PermitPurpose::Production, TimeDelta::days(3)), []);
    let judged = bench.setup.first_piece.clone().unwrap();
    assert_eq!((judged.accepted, judged.provisional, judged.by), (true, false, inspector().person));
    bench.record(&stop(2_000));
    assert_eq!((bench.blocked(), bench.setup.pieces_rejected), (vec![], 0));
    let again = bench.record(&Command::ReleaseRun);
    assert!(matches!(again.events[0], Event::RunReleased { provisional: None, .. }), "it is an inspector's now");
}

#[test]
fn accepted_after_the_stop_it_may_be_released_again() {
    let mut bench = stopped(400);
    let view = SetupView::of(&bench.setup, &bench.facts, bench.now);
    let held = view.held.unwrap();
    assert_eq!((held.pieces, held.in_force, held.accepted_by), (400, false, second_setter().person));
    bench.record_by(&inspector(), &judge_held(true, on_target()));
    assert_eq!((bench.blocked(), bench.setup.pieces, bench.setup.pieces_rejected), (vec![], 400, 0));
    assert_eq!(bench.against(&inspector(), &judge_held(true, on_target())), [Rule::NoPiecesHeld], "judged once");
}

#[test]
fn rejected_while_it_runs_the_release_is_withdrawn_and_its_pieces_are_rejected() {
    let mut bench = at_night();
    let rejected = bench.record_by(&inspector(), &judge_held(false, vec![]));
    assert_eq!(rejected.events[1], Event::ReleaseWithdrawn { withdrawal: Withdrawal::HeldPiecesRejected });
    assert_eq!(rejected.effects, [Effect::ReleaseOff]);
    assert!(matches!(bench.setup.run, Run::ToBook { rejected: true, .. }));
    assert_eq!((bench.setup.state, bench.setup.trial), (SetupState::Stopped, false));
    bench.record(&stop(300));
    assert_eq!((bench.setup.pieces, bench.setup.pieces_rejected), (300, 300));
    let open = bench.blocked().into_iter().map(|(rule, _)| rule).collect::<Vec<_>>();
    assert_eq!(open, [Rule::TrialNotBegun, Rule::FirstPieceNotAccepted]);
    // Judged again, it may again be provisional: an inspector saw to what was held.
    bench.record(&Command::BeginTrialCut);
    bench.record_by(&second_setter(), &judge(true, on_target()));
    bench.record(&Command::ReleaseRun);
    bench.record(&stop(50));
    assert_eq!((bench.setup.held.unwrap().pieces, bench.setup.pieces_rejected), (50, 300));
    bench.record_by(&second_inspector(), &judge_held(false, vec![]));
    assert_eq!((bench.setup.held, bench.setup.pieces_rejected), (None, 350));
    assert!(matches!(bench.setup.run, Run::None));
}

#[test]
fn a_tag_out_does_not_free_what_is_held() {
    let mut bench = at_night();
    bench.store(&setter(), &decide_tag_out(&bench.setup, tag_out().tag_out));
    assert!(bench.setup.held.is_some() && bench.setup.provisional().is_none());
    bench.record(&stop(120));
    assert_eq!(bench.setup.held.unwrap().pieces, 120);
    assert!(bench.blocked().contains(&(Rule::InspectionPending, "M-1".to_owned())));
    // Rejected before the pieces were booked, they are rejected when they are.
    let mut unbooked = at_night();
    unbooked.store(&setter(), &decide_tag_out(&unbooked.setup, tag_out().tag_out));
    let rejected = unbooked.record_by(&inspector(), &judge_held(false, vec![]));
    assert_eq!(rejected.effects, [], "no release is in force any more");
    unbooked.record(&stop(120));
    assert_eq!(unbooked.setup.pieces_rejected, 120);
    // And accepted, they are free.
    let mut free = at_night();
    free.store(&setter(), &decide_tag_out(&free.setup, tag_out().tag_out));
    free.record_by(&inspector(), &judge_held(true, on_target()));
    free.record(&stop(120));
    assert_eq!((free.setup.pieces_rejected, free.setup.held), (0, None));
}

/// A slide turned in the run takes the first piece back; an inspector's word on what is held does not bring it again.
#[test]
fn a_first_piece_that_was_reopened_stays_open() {
    let mut bench = at_night();
    bench.record(&adjust("S1", "SLIDE", None));
    bench.record_by(&inspector(), &judge_held(true, on_target()));
    assert!(bench.setup.is_released() && bench.setup.first_piece.is_none());
}

/// A first piece judged after the held run is of another setting: an inspector's word on what that run made is not theirs on
/// the new piece.
#[test]
fn a_first_piece_judged_after_the_held_run_is_not_accepted_with_it() {
    let mut bench = stopped(50);
    bench.record(&adjust("S1", "SLIDE", None));
    bench.record(&approach("S1"));
    bench.record(&Command::BeginTrialCut);
    let anew =
        Command::JudgeFirstPiece { accepted: true, piece: Some(bench.setup.highest_piece + 20), readings: on_target() };
    bench.record_by(&second_setter(), &anew);
    let judged = bench.setup.first_piece.clone().unwrap();
    assert!(judged.provisional && bench.setup.held.is_some());
    bench.record_by(&inspector(), &judge_held(true, on_target()));
    assert_eq!(bench.setup.first_piece, Some(judged), "it is the second setter's word still");
    let released = bench.record(&Command::ReleaseRun);
    assert!(matches!(released.events[0], Event::RunReleased { provisional: Some(_), .. }));
    // The one that the held run rests on is the inspector's from then on.
    let mut same = stopped(50);
    same.record_by(&inspector(), &judge_held(true, on_target()));
    let judged = same.setup.first_piece.unwrap();
    assert!(!judged.provisional && judged.by == inspector().person);
}

#[test]
fn each_rule_of_the_night_is_missed() {
    let without = |rule, bench: &Bench, command: &Command, who: &Actor| {
        decide_without(rule, &bench.setup, &bench.facts, command, who, bench.now)
    };
    let over = stopped(1);
    let released = without(Rule::InspectionPending, &over, &Command::ReleaseRun, &setter());
    assert!(matches!(released.unwrap().events[0], Event::RunReleased { provisional: Some(_), .. }));
    assert!(without(Rule::InspectionPending, &over, &close(), &setter()).is_ok());
    let nothing = Bench::in_trial_with(night_plan());
    assert!(without(Rule::NoPiecesHeld, &nothing, &judge_held(false, vec![]), &inspector()).is_ok());
    let accepted_it = Actor { roles: vec![Role::Inspector], ..second_setter() };
    assert!(without(Rule::FirstPieceSamePerson, &over, &judge_held(true, on_target()), &accepted_it).is_ok());
    let outside = without(Rule::ReadingOutsideLimits, &over, &judge_held(true, vec![]), &inspector());
    assert!(outside.is_ok());
}

#[test]
fn judging_what_is_held_is_an_inspectors_and_is_no_work_on_the_setup() {
    assert_eq!(EventKind::HeldPiecesJudged.permissions(), [Permission::JudgeHeldPieces]);
    for role in Role::ALL {
        assert_eq!(role.may(Permission::JudgeHeldPieces), *role == Role::Inspector, "{role}");
    }
    let mut bench = stopped(1);
    let before: Vec<PersonId> = bench.setup.recorders.iter().copied().collect();
    bench.record_by(&inspector(), &judge_held(true, on_target()));
    assert_eq!(bench.setup.recorders.iter().copied().collect::<Vec<_>>(), before);
}

#[test]
fn a_shop_allows_at_least_one_piece_and_at_most_a_day() {
    let faults = |most_pieces, most_minutes| ProvisionalRelease { most_pieces, most_minutes }.check().len();
    assert_eq!([faults(1, 1), faults(1_000_000, 1_440)], [0, 0]);
    assert_eq!([faults(0, 1), faults(1, 0), faults(1_000_001, 1), faults(1, 1_441), faults(0, 0)], [1, 1, 1, 1, 2]);
}
