//! Refusals from stock to closing.

use crate::{Refused, shop::*};
use dovetally_core::{
    item::Purpose,
    refusal::Rule,
    setup::{
        command::Command,
        decide::take_out,
        event::{FirstPieceReading, HeightPhase, HeightReading, SizeReading},
    },
};

pub(crate) fn turning() -> Vec<Refused> {
    let feed = Command::FeedStock { stock: stock("A") };
    let index = |confirmed| Command::ConfirmIndexClearance { confirmed };
    let mut gauge_in = Bench::ready_for_stock();
    gauge_in.record(&place(GAUGE, "S3", &setter()));
    let mut gauge_on_record = Bench::ready_for_stock();
    gauge_on_record.facts.gauges = gauge_in.facts.gauges.clone();
    let mut loose = Bench::ready_for_stock();
    loose.record(&unclamp("S1"));
    let mut loose_drill = Bench::ready_for_stock();
    loose_drill.record(&unclamp("E2"));
    let mut unchecked = loose.clone();
    unchecked.record(&clamp("S1"));
    let mut high = unchecked.clone();
    high.record(&place(GAUGE, "S1", &setter()));
    high.record(&read("S1", HeightPhase::AfterClamping, HeightReading::Deviation(mm(-0.051))));
    high.record(&remove(GAUGE, "S1"));
    let mut bare = Bench::ready_for_stock();
    bare.record(&seat("S3"));
    let mut fed_gauged = Bench::ready_for_trial();
    fed_gauged.record(&place(GAUGE, "S1", &setter()));
    let mut tagged = Bench::ready_for_stock();
    tagged.facts.tag_outs.push(tag_out());
    let mut tagged_later = Bench::ready_for_trial();
    tagged_later.facts.tag_outs.push(tag_out());
    let mut struck = Bench::ready_for_trial();
    struck.record(&Command::ReportCrash { station: code("S1") });
    let mut bad_seat = Bench::new(plan());
    bad_seat.record(&seat_with("S1", dovetally_core::setup::event::SeatAnswers { seated_flush: false, ..good_seat() }));
    bad_seat.record(&insert("S1"));
    let mut fed_only = Bench::ready_for_stock();
    fed_only.record(&feed);
    let zero = Command::ReadApproach { station: code("S1"), gap: mm(0.0) };

    vec![
        Refused::new("stock, gauge in", &[Rule::GaugeStillInMachine], gauge_in.against(&setter(), &feed)),
        Refused::new("stock, gauge on record", &[Rule::GaugeStillInMachine], gauge_on_record.against(&setter(), &feed)),
        Refused::new("stock, loose", &[Rule::NotClamped, Rule::HeightNotRechecked], loose.against(&setter(), &feed)),
        Refused::new("stock, a loose drill", &[Rule::NotClamped], loose_drill.against(&setter(), &feed)),
        Refused::new("stock, unchecked", &[Rule::HeightNotRechecked], unchecked.against(&setter(), &feed)),
        Refused::new("stock, too low", &[Rule::HeightOutsideLimit], high.against(&setter(), &feed)),
        Refused::new(
            "stock, no tool",
            &[Rule::ToolNotInserted, Rule::HeightNotRead, Rule::NotClamped, Rule::HeightNotRechecked],
            bare.against(&setter(), &feed),
        ),
        Refused::new("stock, tagged out", &[Rule::MachineTaggedOut], tagged.against(&setter(), &feed)),
        Refused::new(
            "index without stock",
            &[Rule::StockNotFed],
            Bench::ready_for_stock().against(&setter(), &index(true)),
        ),
        Refused::new(
            "index not confirmed",
            &[Rule::IndexClearanceNotConfirmed],
            fed_only.against(&setter(), &index(false)),
        ),
        Refused::new("index, gauge in", &[Rule::GaugeStillInMachine], fed_gauged.against(&setter(), &index(true))),
        Refused::new("index, tagged out", &[Rule::MachineTaggedOut], tagged_later.against(&setter(), &index(true))),
        Refused::new(
            "approach before index",
            &[Rule::IndexClearanceNotConfirmed],
            fed_only.against(&setter(), &approach("S1")),
        ),
        Refused::new(
            "approach in contact",
            &[Rule::ApproachNotRead],
            Bench::ready_for_trial().against(&setter(), &zero),
        ),
        Refused::new(
            "trial before index",
            &[Rule::TrialNotClear, Rule::IndexClearanceNotConfirmed],
            fed_only.against(&setter(), &Command::BeginTrialCut),
        ),
        Refused::new(
            "trial before stock",
            &[Rule::TrialNotClear, Rule::StockNotFed, Rule::IndexClearanceNotConfirmed],
            Bench::ready_for_stock().against(&setter(), &Command::BeginTrialCut),
        ),
        Refused::new(
            "trial, gauge in",
            &[Rule::TrialNotClear, Rule::GaugeStillInMachine],
            fed_gauged.against(&setter(), &Command::BeginTrialCut),
        ),
        Refused::new(
            "trial, tagged out",
            &[Rule::TrialNotClear, Rule::MachineTaggedOut],
            tagged_later.against(&setter(), &Command::BeginTrialCut),
        ),
        Refused::new(
            "trial after a crash",
            &[
                Rule::TrialNotClear,
                Rule::CrashNotCleared,
                Rule::HolderNotSeated,
                Rule::ToolNotInserted,
                Rule::HeightNotRead,
                Rule::NotClamped,
                Rule::HeightNotRechecked,
                Rule::IndexClearanceNotConfirmed,
            ],
            struck.against(&setter(), &Command::BeginTrialCut),
        ),
        Refused::new(
            "trial on a bad seat and much more",
            &[
                Rule::TrialNotClear,
                Rule::SeatNotConfirmed,
                Rule::HolderNotSeated,
                Rule::ToolNotInserted,
                Rule::HeightNotRead,
                Rule::NotClamped,
                Rule::HeightNotRechecked,
                Rule::StockNotFed,
                Rule::IndexClearanceNotConfirmed,
            ],
            bad_seat.against(&setter(), &Command::BeginTrialCut),
        ),
    ]
}

pub(crate) fn pieces() -> Vec<Refused> {
    let trial = Bench::in_trial();
    let ready = Bench::ready_for_trial();
    let mut turned = trial.clone();
    turned.record(&sizes("S1", 2));
    turned.record(&adjust("S1", "SLIDE", None));
    let strange = |feature: &str, spindle| Command::ReadSizes {
        station: code("S1"),
        piece: 1,
        spindle: Some(spindle),
        readings: vec![SizeReading { feature: code(feature), value: mm(10.0) }],
        correction: None,
    };
    let mut every = plan();
    every.settings.first_piece_from_every_spindle = true;
    let every = Bench::in_trial_with(every);
    let mut five_spindles: Vec<FirstPieceReading> = (1..=5).flat_map(|spindle| reading_all(Some(spindle))).collect();
    let mut outside = on_target();
    outside[2].value = mm(10.020_001);
    let missing = on_target()[..2].to_vec();
    let mut unknown_spindle = on_target();
    unknown_spindle[0].spindle = Some(7);
    let mut strange_feature = on_target();
    strange_feature.push(FirstPieceReading { feature: code("D-S9"), ..strange_feature[0].clone() });
    let old_piece = Command::JudgeFirstPiece { accepted: true, piece: Some(7), readings: on_target() };
    let against = |bench: &Bench, command| bench.against(&setter(), &command);

    let cases = vec![
        Refused::new("sizes before a trial", &[Rule::TrialNotBegun], against(&ready, sizes("S1", 1))),
        Refused::new("depth before a trial", &[Rule::TrialNotBegun], against(&ready, depth(1))),
        Refused::new("piece zero", &[Rule::PieceBeforeAdjustment], against(&trial, sizes("S1", 0))),
        // S1 works five positions before the cut-off: 2 seen, 5 on the way, so 8 is the first.
        Refused::new("a slip in the number", &[Rule::PieceFarAhead], against(&trial, sizes("S1", 1_000_000_000))),
        Refused::new("a piece formed before", &[Rule::PieceBeforeAdjustment], against(&turned, sizes("S1", 7))),
        Refused::new("an unknown feature", &[Rule::FeatureUnknown], against(&trial, strange("D-S3", 1))),
        Refused::new("a spindle that does not run", &[Rule::SpindleUnknown], against(&trial, strange("D-S1", 7))),
        Refused::new("an unknown screw", &[Rule::AdjusterUnknown], against(&trial, adjust("S1", "DEPTH", None))),
        Refused::new("height screw, clamped", &[Rule::StillClamped], against(&trial, adjust("S1", "HEIGHT", None))),
        Refused::new("taper, no answers", &[Rule::SeatNotConfirmed], against(&trial, adjust("S1", "TAPER", None))),
        Refused::new("lateral, no answers", &[Rule::SeatNotConfirmed], against(&trial, adjust("S1", "SIDE", None))),
        Refused::new(
            "judged before a trial",
            &[Rule::TrialNotBegun],
            ready.against(&inspector(), &judge(false, vec![])),
        ),
        Refused::new("judged by who set it", &[Rule::FirstPieceSamePerson], against(&trial, judge(true, on_target()))),
        Refused::new("rejected by who set it", &[Rule::FirstPieceSamePerson], against(&trial, judge(false, vec![]))),
        Refused::new(
            "outside its limits",
            &[Rule::ReadingOutsideLimits],
            trial.against(&inspector(), &judge(true, outside)),
        ),
        Refused::new("not all read", &[Rule::ReadingOutsideLimits], trial.against(&inspector(), &judge(true, missing))),
        Refused::new(
            "from a spindle that does not run",
            &[Rule::SpindleUnknown],
            trial.against(&inspector(), &judge(true, unknown_spindle)),
        ),
        Refused::new(
            "judged on an old piece",
            &[Rule::PieceBeforeAdjustment],
            turned.against(&inspector(), &old_piece),
        ),
        Refused::new(
            "judged without a word which piece",
            &[Rule::PieceBeforeAdjustment],
            turned.against(&inspector(), &judge(true, on_target())),
        ),
        Refused::new("five of six spindles", &[Rule::FirstPieceSpindleMissing], {
            every.against(&inspector(), &judge(true, five_spindles.clone()))
        }),
    ];
    five_spindles.extend(reading_all(Some(6)));
    assert_eq!(every.against(&inspector(), &judge(true, five_spindles)), []);
    cases
}

pub(crate) fn run_and_close() -> Vec<Refused> {
    let released = Bench::released();
    let mut withdrawn = released.clone();
    withdrawn.store(&setter(), &dovetally_core::setup::decide::tag_out(&released.setup, tag_out().tag_out));
    let mut gauge_in = Bench::ready_for_release();
    gauge_in.record(&place(GAUGE, "S3", &setter()));
    let mut tagged = Bench::ready_for_release();
    tagged.facts.tag_outs.push(tag_out());
    let mut rejected = Bench::in_trial();
    rejected.record(&depth(1));
    rejected.record_by(&inspector(), &judge(false, vec![]));
    let mut closed = Bench::new(plan());
    closed.record(&close());
    let not_judged = Bench::in_trial();
    let mut slid = Bench::ready_for_release();
    slid.record(&adjust("S1", "SLIDE", None));
    let abandon = || Command::Abandon { reason: "part withdrawn".to_owned() };
    let release = Command::ReleaseRun;
    let taken = |bench: &Bench, number, purpose| {
        take_out(&bench.setup, item(number), purpose).err().map(|refusals| rules(&refusals)).unwrap_or_default()
    };

    let mut cases = vec![
        Refused::new("released twice", &[Rule::AlreadyReleased], released.against(&setter(), &release)),
        Refused::new("stopping nothing", &[Rule::NoReleaseInForce], not_judged.against(&setter(), &stop(1))),
        Refused::new("release, gauge in", &[Rule::GaugeStillInMachine, Rule::TrialNotBegun], {
            gauge_in.against(&setter(), &release)
        }),
        Refused::new("release, tagged out", &[Rule::MachineTaggedOut], tagged.against(&setter(), &release)),
        Refused::new("release, rejected", &[Rule::FirstPieceNotAccepted], rejected.against(&setter(), &release)),
        Refused::new("release, not judged", &[Rule::FirstPieceNotAccepted, Rule::DepthNotRead], {
            not_judged.against(&setter(), &release)
        }),
        Refused::new("release after the slide", &[Rule::FirstPieceNotAccepted, Rule::ApproachNotRead], {
            slid.against(&setter(), &release)
        }),
        Refused::new(
            "release with pieces to book",
            &[Rule::AlreadyReleased, Rule::TrialNotBegun],
            withdrawn.against(&setter(), &release),
        ),
        Refused::new("closing, gauge in", &[Rule::GaugeStillInMachine], gauge_in.against(&setter(), &close())),
        Refused::new("abandoning, gauge in", &[Rule::GaugeStillInMachine], gauge_in.against(&setter(), &abandon())),
        Refused::new("closing another's", &[Rule::NotYourSetup], not_judged.against(&second_setter(), &close())),
        Refused::new("abandoning another's", &[Rule::NotYourSetup], not_judged.against(&second_setter(), &abandon())),
        Refused::new("after closing", &[Rule::SetupClosed], closed.against(&setter(), &seat("S1"))),
        Refused::new("handed out of a run", &[Rule::MachineRunning], taken(&released, 0x701, Purpose::Grind)),
        Refused::new("handed out after closing", &[Rule::SetupClosed], taken(&closed, 0x701, Purpose::Grind)),
        Refused::new("a gauge handed out", &[Rule::ItemInSetup], taken(&gauge_in, GAUGE, Purpose::Check)),
    ];
    // While a release is in force, everything but six kinds waits for the stop.
    let not_taken = [
        seat("S1"),
        insert("S1"),
        place(GAUGE, "S1", &setter()),
        unclamp("S1"),
        clamp("S1"),
        Command::FeedStock { stock: stock("A") },
        Command::ConfirmIndexClearance { confirmed: true },
        approach("S1"),
        Command::BeginTrialCut,
        adjust("S1", "TAPER", Some(good_move())),
        adjust("S1", "SIDE", Some(good_move())),
        close(),
        abandon(),
    ];
    cases.extend(
        not_taken.map(|command| {
            Refused::new("while released", &[Rule::MachineRunning], released.against(&setter(), &command))
        }),
    );
    cases.push(Refused::new("judging while released", &[Rule::MachineRunning], {
        released.against(&inspector(), &judge(true, on_target()))
    }));
    cases.push(Refused::new("height screw while released", &[Rule::MachineRunning, Rule::StillClamped], {
        released.against(&setter(), &adjust("S1", "HEIGHT", None))
    }));
    cases
}
