//! What was found since: a gauge that was found wrong after a height was read on it, a holder that a check rejects while it is
//! seated. What that stands in the way of, and what clears it.

use crate::{Refused, shop::*};
use chrono::TimeDelta;
use dovetally_core::{
    gauge::{
        impact::Window,
        standing::{CheckFinding, doubts},
    },
    item::Condition,
    refusal::Rule,
    setup::{
        command::Command,
        event::{Event, EventKind, HeightPhase, HeightReading},
        next::next,
        permit::{PermitPurpose, run_permit},
        view::SetupView,
    },
};

const AFTER: HeightPhase = HeightPhase::AfterClamping;

/// The gauge with which everything was set is found outside its limits, now.
fn found_wrong(mut bench: Bench) -> Bench {
    let since = Some(start() - TimeDelta::days(30));
    bench.gauge_changes(GAUGE, |gauge| {
        gauge.condition = Condition::NeedsCheck;
        gauge.doubts = vec![Window { since, until: None }];
    });
    bench
}

/// The holder at S1 is checked where it sits, and not accepted.
fn holder_rejected(mut bench: Bench) -> Bench {
    bench.holder_is(0x601, Condition::NeedsCheck);
    bench
}

/// The same, and in the same check it was set right again.
fn set_right(bench: Bench) -> Bench {
    let (mut bench, since) = (bench, Some(start() - TimeDelta::days(30)));
    let now = bench.now;
    bench.gauge_changes(GAUGE, |gauge| {
        gauge.last_accepted_check_at = Some(now);
        gauge.doubts = vec![Window { since, until: Some(now) }];
    });
    bench
}

pub(crate) fn refused() -> Vec<Refused> {
    let against = |bench: &Bench, command| bench.against(&setter(), &command);
    let (doubt, trial) = ([Rule::HeightInDoubt], [Rule::TrialNotClear, Rule::HeightInDoubt]);
    let feed = || Command::FeedStock { stock: stock("A") };
    let (ready, clear) = (found_wrong(Bench::ready_for_trial()), set_right(Bench::ready_for_trial()));
    vec![
        Refused::new("stock, heights in doubt", &doubt, against(&found_wrong(Bench::ready_for_stock()), feed())),
        Refused::new("approach, height in doubt", &doubt, against(&ready, approach("S1"))),
        Refused::new("trial, heights in doubt", &trial, against(&ready, Command::BeginTrialCut)),
        Refused::new("trial, read before it was set right", &trial, against(&clear, Command::BeginTrialCut)),
        Refused::new("release, heights in doubt", &doubt, {
            against(&found_wrong(Bench::ready_for_release()), Command::ReleaseRun)
        }),
        Refused::new("trial, a holder rejected where it sits", &[Rule::TrialNotClear, Rule::HolderNotUsable], {
            against(&holder_rejected(Bench::ready_for_trial()), Command::BeginTrialCut)
        }),
        Refused::new("release, a holder rejected where it sits", &[Rule::HolderNotUsable], {
            against(&holder_rejected(Bench::ready_for_release()), Command::ReleaseRun)
        }),
        Refused::new("release, a holder of which nothing is known", &[Rule::HolderNotUsable], {
            let mut bench = Bench::ready_for_release();
            bench.facts.holder_standings.retain(|standing| standing.holder != item(0x601));
            against(&bench, Command::ReleaseRun)
        }),
    ]
}

/// The permit is gone at once; the release stays, for its pieces are still to be booked.
#[test]
fn a_holder_rejected_where_it_sits_ends_the_permit_and_is_asked_for_anew() {
    let bench = holder_rejected(Bench::released());
    for purpose in [PermitPurpose::Production, PermitPurpose::Trial] {
        let permit = run_permit(Some(&bench.setup), &code("M-1"), &bench.facts, purpose, bench.now);
        let [told] = permit.blockers.as_slice() else { panic!("{permit:?}") };
        assert_eq!((permit.permitted, told.rule), (false, Rule::HolderNotUsable));
        assert_eq!(told.sentence, "Holder H-1537 at station S1 may not be used: needs check.");
    }
    assert!(bench.setup.is_released() && bench.ask(&setter(), &stop(12)).is_ok());

    let mut bench = holder_rejected(Bench::ready_for_release());
    assert_eq!(bench.blocked(), [(Rule::HolderNotUsable, "H-1537".to_owned())]);
    let shown = SetupView::of(&bench.setup, &bench.facts, bench.now);
    let open: Vec<usize> = shown.stations.iter().map(|station| station.open.len()).collect();
    assert_eq!(open, [1, 0, 0], "it is open at its own station");
    let wanted: Vec<_> =
        shown.next.into_iter().filter(|step| step.wanted).map(|step| (step.kind, step.station)).collect();
    assert_eq!(wanted, [(EventKind::HolderSeated, Some(code("S1")))]);
    // An accepted check clears it, without taking it off and seating it again.
    bench.holder_is(0x601, Condition::Usable);
    assert_eq!(bench.against(&setter(), &Command::ReleaseRun), []);
}

#[test]
fn each_station_is_told_with_what_clears_it() {
    let bench = found_wrong(Bench::ready_for_release());
    let station = |name: &str| (Rule::HeightInDoubt, name.to_owned());
    assert_eq!(bench.blocked(), [station("S1"), station("S3")], "E2 is not set on a gauge");
    let told = bench.ask(&setter(), &Command::ReleaseRun).unwrap_err();
    assert_eq!(
        told[0].sentence,
        "The height at station S1 was read on gauge CG-1281, which may not be used: needs check."
    );
    assert_eq!(told[0].clears, "Read the height again on a gauge that may be used.");
}

#[test]
fn the_run_permit_is_gone_at_once_and_the_release_is_not() {
    let permitted = |bench: &Bench, purpose| {
        let permit = run_permit(Some(&bench.setup), &code("M-1"), &bench.facts, purpose, bench.now);
        (permit.permitted, rules(&permit.blockers))
    };
    let released = Bench::released();
    assert!(permitted(&released, PermitPurpose::Production).0);
    let doubtful = found_wrong(released);
    for purpose in [PermitPurpose::Production, PermitPurpose::Trial] {
        assert_eq!(permitted(&doubtful, purpose), (false, vec![Rule::HeightInDoubt; 2]));
    }
    assert!(doubtful.setup.is_released(), "its pieces are still to be booked");
    assert!(doubtful.ask(&setter(), &stop(12)).is_ok());
}

#[test]
fn a_height_read_again_on_a_gauge_that_is_right_clears_it() {
    for bench in [found_wrong(Bench::ready_for_stock()), set_right(Bench::ready_for_stock())] {
        let mut bench = bench;
        for name in ["S1", "S3"] {
            let wanted: Vec<EventKind> = next(&bench.setup, &bench.facts, bench.now)
                .into_iter()
                .filter(|step| step.wanted && step.station.as_ref() == Some(&code(name)))
                .map(|step| step.kind)
                .collect();
            assert!(wanted.contains(&EventKind::GaugePlaced), "{wanted:?}");
            bench.record(&place(SECOND_GAUGE, name, &setter()));
            bench.record(&read(name, AFTER, HeightReading::OnGauge));
            bench.record(&remove(SECOND_GAUGE, name));
        }
        assert!(bench.ask(&setter(), &Command::FeedStock { stock: stock("A") }).is_ok());
    }
}

#[test]
fn set_right_the_same_gauge_serves_again() {
    let mut bench = set_right(Bench::ready_for_stock());
    for name in ["S1", "S3"] {
        bench.record(&place(GAUGE, name, &setter()));
        bench.record(&read(name, AFTER, HeightReading::OnGauge));
        bench.record(&remove(GAUGE, name));
    }
    assert!(bench.ask(&setter(), &Command::FeedStock { stock: stock("A") }).is_ok());
}

/// A check against the machine clears a gauge that stands in it, without taking it out and placing it again.
#[test]
fn checked_after_the_centres_moved_a_placed_gauge_is_read_on() {
    let mut bench = Bench::new(plan());
    bench.record(&seat("S1"));
    bench.record(&insert("S1"));
    bench.record(&place(GAUGE, "S1", &setter()));
    bench.facts.centers_may_have_moved_at = Some(bench.now);
    let height = read("S1", HeightPhase::BeforeClamping, HeightReading::OnGauge);
    assert_eq!(bench.against(&setter(), &height), [Rule::GaugeStale]);
    let wants_it_out = |bench: &Bench| {
        next(&bench.setup, &bench.facts, bench.now)
            .iter()
            .any(|step| step.wanted && step.kind == EventKind::GaugeRemoved)
    };
    assert!(wants_it_out(&bench), "a gauge that is of no use makes room");
    let checked_at = bench.now + TimeDelta::seconds(1);
    bench.gauge_changes(GAUGE, |gauge| gauge.last_accepted_check_at = Some(checked_at));
    assert_eq!(bench.against(&setter(), &height), []);
    assert!(!wants_it_out(&bench));
}

#[test]
fn a_day_that_went_by_or_a_check_that_found_it_right_undoes_nothing() {
    let mut bench = Bench::ready_for_release();
    let read_at = bench.setup.stations[0].height_after.unwrap().at;
    bench.gauge_changes(GAUGE, |gauge| {
        gauge.next_check = Some(day("2020-01-01"));
        let performed_at = read_at + TimeDelta::seconds(1);
        // Found right, and spoilt while it was checked.
        gauge.doubts = doubts(&[CheckFinding { performed_at, found_right: true, accepted: false }]);
    });
    assert_eq!(bench.against(&setter(), &Command::ReleaseRun), []);
}

/// Which gauge a height was read on is in its event, and in those of the first version.
#[test]
fn what_a_setup_relies_on_follows_from_its_events() {
    let mut bench = Bench::ready_for_stock();
    assert_eq!(bench.setup.gauges_relied_on().into_keys().collect::<Vec<_>>(), [item(GAUGE)]);
    bench.record(&place(SECOND_GAUGE, "S1", &setter()));
    assert_eq!(bench.setup.gauges_relied_on().into_keys().collect::<Vec<_>>(), [item(GAUGE), item(SECOND_GAUGE)]);
    bench.record(&read("S1", AFTER, HeightReading::OnGauge));
    let first = bench.events.iter().find(|recorded| matches!(recorded.event, Event::HeightRead { .. })).unwrap();
    let since = bench.setup.gauges_relied_on()[&item(GAUGE)];
    assert_eq!(since, first.recorded_at, "unclamped, it would count again");
    for name in ["S1", "S3"] {
        bench.record(&unclamp(name));
    }
    bench.record(&adjust("S1", "HEIGHT", None));
    bench.record(&adjust("S3", "HEIGHT", None));
    assert_eq!(bench.setup.gauges_relied_on().into_keys().collect::<Vec<_>>(), [item(SECOND_GAUGE)], "still placed");
}

/// The day on which its check runs out passes while it stands in the machine.
#[test]
fn a_gauge_that_runs_out_in_the_machine_makes_room() {
    let mut bench = Bench::new(plan());
    bench.record(&seat("S1"));
    bench.record(&insert("S1"));
    bench.record(&place(GAUGE, "S1", &setter()));
    let today = bench.now.date_naive();
    bench.gauge_changes(GAUGE, |gauge| gauge.next_check = Some(today));
    let steps = |bench: &Bench| -> Vec<(EventKind, bool)> {
        next(&bench.setup, &bench.facts, bench.now).iter().map(|step| (step.kind, step.wanted)).collect()
    };
    assert!(steps(&bench).contains(&(EventKind::HeightRead, true)));
    assert!(steps(&bench).contains(&(EventKind::GaugeRemoved, false)));
    bench.now += TimeDelta::days(1);
    assert!(steps(&bench).iter().all(|(kind, _)| *kind != EventKind::HeightRead), "it would be refused");
    assert!(steps(&bench).contains(&(EventKind::GaugeRemoved, true)));
}
