//! A check of an item against a release of the setup that rests on it: one comes first, and the other knows it.
//!
//! The program under test holds each of the two at the point between reading and writing, so that the order is certain.

use crate::{
    machine::{RUNNING, SETTER},
    shop::{Shop, text},
};
use dovetally_tests::{client::Answer, server::Backend};
use serde_json::json;
use std::{thread, time::Duration};

/// How long requests are held between reading and writing: a release for longer than a check.
const HELD: &str = "setup-read=1200,check-read=500";
/// Until the first of two requests is where it is held.
pub(crate) const FIRST: Duration = Duration::from_millis(150);

fn release(shop: &Shop, setup: &str) -> Answer {
    shop.record(SETTER, setup, &json!({"kind": "run_released"}))
}

fn rules(answer: &Answer) -> Vec<String> {
    let problem = answer.json();
    let refusals = problem["refusals"].as_array().unwrap_or_else(|| panic!("not refused: {problem}")).iter();
    refusals.map(|refusal| text(&refusal["rule"])).collect()
}

/// A check that finds bad what the setup of the machine that runs rests on.
#[derive(Clone, Copy)]
pub(crate) struct Check {
    pub(crate) send: fn(&Shop) -> Answer,
    /// The rule by which a release is refused that knows of it.
    pub(crate) rule: &'static str,
}

impl Check {
    /// A release is under way when the check comes. Whether the check, once it is on record, came after the release.
    fn waits(self, shop: &Shop, setup: &str) -> bool {
        shop.make_releasable(setup, SETTER);
        shop.hold(HELD);
        thread::scope(|scope| {
            let released = scope.spawn(|| release(shop, setup));
            thread::sleep(FIRST);
            let _ = (self.send)(shop).expect(201);
            let in_force = shop.setup(setup)["state"] == "released";
            let _ = released.join().expect("the release").expect(201);
            in_force
        })
    }

    /// A check is under way when the release comes. Whether the release knew what the check had found.
    fn is_known_to_the_release(self, shop: &Shop, setup: &str) -> bool {
        shop.make_releasable(setup, SETTER);
        shop.hold(HELD);
        thread::scope(|scope| {
            let checked = scope.spawn(|| (self.send)(shop));
            thread::sleep(FIRST);
            let released = release(shop, setup);
            let _ = checked.join().expect("the check").expect(201);
            released.status == 409 && rules(&released).iter().all(|rule| rule == self.rule)
        })
    }

    /// Whichever comes first, the other knows it, and the records are sound.
    pub(crate) fn has_one_order_with_a_release(self, backend: Backend) {
        let first = Shop::controlled(backend, "");
        let setup = first.open_setup(RUNNING);
        assert!(self.waits(&first, &setup), "a check was on record before a release that did not know of it");
        let permit = first.read(&format!("/v1/machines/{RUNNING}/run-permit?purpose=production"));
        assert_eq!(permit["permitted"], false, "the permit shows at once what the check found: {permit}");
        let second = Shop::controlled(backend, "");
        let setup = second.open_setup(RUNNING);
        assert!(self.is_known_to_the_release(&second, &setup), "released on what a check had found bad");
        for shop in [first, second] {
            let faults = shop.records().faults;
            assert!(faults.is_empty(), "{faults:#?}");
        }
    }

    /// Both begin with the item's custody row. Without that lock neither knows of the other.
    pub(crate) fn has_none_without_the_custody_row(self) {
        let first = Shop::controlled(Backend::Postgres, "custody-lock");
        let setup = first.open_setup(RUNNING);
        assert!(!self.waits(&first, &setup), "the race sees nothing");
        let second = Shop::controlled(Backend::Postgres, "custody-lock");
        let setup = second.open_setup(RUNNING);
        assert!(!self.is_known_to_the_release(&second, &setup), "the race sees nothing");
    }
}
