//! Requests that begin at the same moment, and what must be true of their answers.

use dovetally_tests::client::Answer;
use serde_json::Value;
use std::{sync::Barrier, thread};

/// What a round broke, in words; empty when all is as it must be.
pub(crate) type Violations = Vec<String>;

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
        violations.push(format!("{} winners", winners.len()));
    }
    for (number, answer) in answers.iter().enumerate() {
        if !winners.contains(&number) {
            violations.extend(lost.check(answer));
        } else if answer.status != won {
            violations.push(format!("a winner with another status than {won}: {answer}"));
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
    pub(crate) fn check(&self, answer: &Answer) -> Option<String> {
        let status = match self {
            Self::Refused(_) => 409,
            Self::Stale => 412,
        };
        if answer.status != status || answer.header("content-type") != Some("application/problem+json") {
            return Some(format!("expected a problem with status {status}: {answer}"));
        }
        let problem = answer.json();
        if problem["status"] != status {
            return Some(format!("the problem says another status: {problem}"));
        }
        let Self::Refused(rules) = self else { return None };
        let known = |refusal: &Value| refusal["rule"].as_str().is_some_and(|rule| rules.contains(&rule));
        match problem["refusals"].as_array() {
            Some(refusals) if !refusals.is_empty() && refusals.iter().all(known) => None,
            _ => Some(format!("expected refusals of {rules:?}: {problem}")),
        }
    }
}
