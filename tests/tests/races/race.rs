//! Requests that begin at the same moment, and what must be true of their answers.

use dovetally_tests::client::Answer;
use serde_json::Value;
use std::{sync::Barrier, thread};

/// Something that must not be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Violation {
    /// What can hurt somebody or loses something: two where only one may be, or what must never be together.
    Together(String),
    /// The records are safe, but somebody was answered, or something recorded, in another way than promised.
    Promise(String),
}

/// What a round broke; empty when all is as it must be.
pub(crate) type Violations = Vec<Violation>;

/// Two where only one may be, or what must never be together.
pub(crate) fn together(what: impl Into<String>) -> Violation {
    Violation::Together(what.into())
}

/// Something else than promised.
pub(crate) fn promise(what: impl Into<String>) -> Violation {
    Violation::Promise(what.into())
}

/// Sends one request from each of `count` threads, none before all are there. The answers are in the threads' order.
pub(crate) fn at_once(count: usize, send: impl Fn(usize) -> Answer + Sync) -> Vec<Answer> {
    let start = Barrier::new(count);
    let (start, send) = (&start, &send);
    thread::scope(|scope| {
        let clients = (0..count).map(|number| {
            scope.spawn(move || {
                start.wait();
                send(number)
            })
        });
        // All of them first: a thread that is joined before the next is spawned would wait for it forever.
        let clients: Vec<_> = clients.collect();
        clients.into_iter().map(|client| client.join().expect("a client's thread")).collect()
    })
}

/// Which requests were taken.
pub(crate) fn winners(answers: &[Answer]) -> Vec<usize> {
    let taken = answers.iter().enumerate().filter(|(_, answer)| (200..300).contains(&answer.status));
    taken.map(|(number, _)| number).collect()
}

/// Exactly one request is taken with the status `won`, and every other is turned down as `lost` asks.
pub(crate) fn one_winner(answers: &[Answer], won: u16, lost: &Loss<'_>) -> Violations {
    let winners = winners(answers);
    let mut violations = Violations::new();
    if winners.len() != 1 {
        let what = format!("{} winners", winners.len());
        violations.push(if winners.is_empty() { promise(what) } else { together(what) });
    }
    for (number, answered) in answers.iter().enumerate() {
        if !winners.contains(&number) {
            violations.extend(lost.check(answered));
        } else if answered.status != won {
            violations.push(promise(format!("a winner with another status than {won}: {answered}")));
        }
    }
    violations
}

/// How a loser is answered.
pub(crate) enum Loss<'a> {
    /// 409, with refusals of these rules only.
    Refused(&'a [&'a str]),
    /// 412.
    Stale,
}

impl Loss<'_> {
    /// What is wrong with a loser's answer. 503 is wrong too: nothing here lasts long enough to be busy.
    pub(crate) fn check(&self, answered: &Answer) -> Option<Violation> {
        let status = match self {
            Self::Refused(_) => 409,
            Self::Stale => 412,
        };
        if answered.status != status || answered.header("content-type") != Some("application/problem+json") {
            return Some(promise(format!("expected a problem with status {status}: {answered}")));
        }
        let problem = answered.json();
        if problem["status"] != status {
            return Some(promise(format!("the problem says another status: {problem}")));
        }
        let Self::Refused(rules) = self else { return None };
        let known = |refusal: &Value| refusal["rule"].as_str().is_some_and(|rule| rules.contains(&rule));
        match problem["refusals"].as_array() {
            Some(refusals) if !refusals.is_empty() && refusals.iter().all(known) => None,
            _ => Some(promise(format!("expected refusals of {rules:?}: {problem}"))),
        }
    }
}
