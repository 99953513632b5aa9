//! Races on one machine: releases, gauges, tag-outs, setups. Each function is one round.

use crate::{
    race::{Loss, Violations, at_once, one_winner, promise, together, winners},
    shop::{Shop, text},
};
use serde_json::{Value, json};

/// The machine of the demo shop that runs; its setup has two stations, and its gauge lies in [`SETTER`]'s hands.
pub(crate) const RUNNING: &str = "M-102";
/// Who set it.
pub(crate) const SETTER: &str = "setter-2";
/// A machine without a setup.
pub(crate) const FREE: &str = "M-101";

const CLIENTS: usize = 8;

fn setter(number: usize) -> &'static str {
    if number.is_multiple_of(2) { SETTER } else { "setter" }
}

fn release() -> Value {
    json!({"kind": "run_released"})
}

/// Eight releases at once: one is in force afterwards, and recorded once.
pub(crate) fn releases(shop: &Shop, setup: &str) -> Violations {
    shop.make_releasable(setup, SETTER);
    let before = shop.events(setup).len();
    let answers = at_once(CLIENTS, |number| shop.record(setter(number), setup, &release()));
    let mut violations = one_winner(&answers, 201, &Loss::Refused(&["already-released"]));
    let recorded = shop.events(setup);
    if recorded[before..] != ["run_released"] {
        violations.push(promise(format!("recorded {:?}", &recorded[before..])));
    }
    if shop.setup(setup)["state"] != "released" {
        violations.push(promise("no release is in force"));
    }
    violations
}

/// Four releases, and four placements of the gauge at either station: a gauge is in the machine or a release in force.
pub(crate) fn release_and_gauge(shop: &Shop, setup: &str) -> Violations {
    shop.make_releasable(setup, SETTER);
    let before = shop.events(setup).len();
    let answers = at_once(CLIENTS, |number| match number % 4 {
        0 | 2 => shop.record(setter(number / 2), setup, &release()),
        at => {
            let station = if at == 1 { "S1" } else { "CUT" };
            let placed =
                json!({"kind": "gauge_placed", "station": station, "gauge": "CG-102", "machine_stopped": true});
            shop.record(SETTER, setup, &placed)
        }
    });
    let rules = ["already-released", "machine-running", "gauge-still-in-machine", "gauge-placed-elsewhere"];
    // A gauge in the machine ended the trial too.
    let rules = [&rules[..], &["trial-not-begun"]].concat();
    let mut violations = one_winner(&answers, 201, &Loss::Refused(&rules));
    let recorded = shop.events(setup).split_off(before);
    if recorded != ["run_released"] && recorded != ["gauge_placed"] {
        violations.push(promise(format!("recorded {recorded:?}")));
    }
    let now = shop.setup(setup);
    let gauges = now["stations"].as_array().expect("stations").iter().filter(|station| station["gauge"].is_string());
    let (gauges, released) = (gauges.count(), now["state"] == "released");
    if gauges + usize::from(released) != 1 {
        let what = format!("{gauges} gauges in the machine, released: {released}");
        violations.push(if gauges == 0 { promise(what) } else { together(what) });
    }
    violations
}

/// Which of the two is sent first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Order {
    Together,
    ReleaseFirst,
    TagOutFirst,
}

/// A release against tag-outs, which always succeed: the machine ends tagged out and without a release. Whether the
/// release was taken for a moment is up to the order.
pub(crate) fn release_and_tag_out(shop: &Shop, setup: &str, order: Order) -> Violations {
    shop.make_releasable(setup, SETTER);
    let before = shop.events(setup).len();
    let tag_out = || {
        let body = json!({"machine": RUNNING, "reason": "Coolant leaks onto the floor"});
        shop.person("clerk").post("/v1/tag-outs").json(&body).send()
    };
    let (releases, tag_outs) = match order {
        Order::ReleaseFirst => {
            let released = shop.record(SETTER, setup, &release());
            (vec![released], vec![tag_out()])
        }
        Order::TagOutFirst => {
            let tagged_out = tag_out();
            (vec![shop.record(SETTER, setup, &release())], vec![tagged_out])
        }
        Order::Together => {
            let answers = at_once(CLIENTS, |number| match number % 4 {
                3 => tag_out(),
                _ => shop.record(setter(number), setup, &release()),
            });
            let (mut releases, mut tag_outs) = (Vec::new(), Vec::new());
            for (number, answer) in answers.into_iter().enumerate() {
                if number % 4 == 3 { tag_outs.push(answer) } else { releases.push(answer) }
            }
            (releases, tag_outs)
        }
    };

    let mut violations = Violations::new();
    let refused = tag_outs.iter().filter(|answer| answer.status != 201);
    violations.extend(refused.map(|refused| promise(format!("a tag-out was not taken: {refused}"))));
    let released = winners(&releases);
    let expected = match order {
        Order::Together => 0..=1,
        Order::ReleaseFirst => 1..=1,
        Order::TagOutFirst => 0..=0,
    };
    if !expected.contains(&released.len()) {
        let what = format!("{} releases were taken, {order:?}", released.len());
        violations.push(if released.len() > 1 { together(what) } else { promise(what) });
    }
    let lost = Loss::Refused(&["machine-tagged-out", "already-released", "trial-not-begun"]);
    let losers = releases.iter().enumerate().filter(|(number, _)| !released.contains(number));
    violations.extend(losers.filter_map(|(_, answer)| lost.check(answer)));

    // A tag-out takes back what the record holds for ready: the release, or else the trial.
    let recorded = shop.events(setup).split_off(before);
    let expected: &[&str] =
        if released.is_empty() { &["trial_withdrawn"] } else { &["run_released", "release_withdrawn"] };
    if recorded != expected {
        violations.push(promise(format!("recorded {recorded:?}")));
    }
    let now = shop.setup(setup);
    let machine = shop.read(&format!("/v1/machines/{RUNNING}"));
    let permit = shop.read(&format!("/v1/machines/{RUNNING}/run-permit?purpose=production"));
    let released = now["state"] == "released";
    if machine["state"] == "tagged_out" && (released || permit["permitted"] != false) {
        violations
            .push(together(format!("tagged out, the setup is {}, permitted: {}", now["state"], permit["permitted"])));
    }
    if machine["state"] != "tagged_out" {
        violations.push(promise(format!("the machine is {}", machine["state"])));
    }
    if released || now["pieces_to_book"] != !winners(&releases).is_empty() {
        violations.push(promise(format!("the setup is {}, pieces to book: {}", now["state"], now["pieces_to_book"])));
    }
    if violations.is_empty() {
        for answer in tag_outs {
            let path = format!("/v1/tag-outs/{}/clear", text(&answer.json()["id"]));
            let _ = shop.person("maintainer").post(&path).json(&json!({"note": "Seal replaced"})).send().expect(200);
        }
    }
    violations
}

/// Eight setups opened on one machine at once: one is.
pub(crate) fn openings(shop: &Shop) -> Violations {
    let body = json!({"machine": FREE, "part": "P-2001", "stations": [{"station": "S1"}, {"station": "S2"}]});
    let answers = at_once(CLIENTS, |number| shop.person(setter(number)).post("/v1/setups").json(&body).send());
    let mut violations = one_winner(&answers, 201, &Loss::Refused(&["setup-already-open"]));
    let open = shop.count(&format!("/v1/setups?machine={FREE}&open=true"));
    if open != 1 {
        let what = format!("{open} setups are open");
        violations.push(if open > 1 { together(what) } else { promise(what) });
    }
    if let ([winner], true) = (&winners(&answers)[..], violations.is_empty()) {
        let setup = text(&answers[*winner].json()["id"]);
        let abandoned = json!({"kind": "abandoned", "reason": "end of the round"});
        shop.step(setter(*winner), &setup, &abandoned);
    }
    violations
}
