//! What was read at an instant is read again for that instant later: after some of the writes, and once more at the end.

use dovetally_tests::client::Client;
use serde_json::Value;
use std::sync::{
    Mutex,
    atomic::{AtomicUsize, Ordering},
};

/// One read and when it was made.
struct Seen {
    instant: String,
    path: String,
    answer: Value,
}

/// Every so many writes are looked back at: each takes some reads.
const EVERY: usize = 5;

/// What was seen on the way, and how many writes there were.
#[derive(Default)]
pub(crate) struct Past {
    writes: AtomicUsize,
    seen: Mutex<Vec<Seen>>,
}

impl Past {
    /// Remembers now and then how the records stand now: all items, the machine that most happens to, its open setup.
    pub(crate) fn remember(&self, reader: &Client) {
        if !self.writes.fetch_add(1, Ordering::Relaxed).is_multiple_of(EVERY) {
            return;
        }
        let instant = now();
        let read = |path: &str| reader.get(path).send().expect(200).json();
        let machine = read("/v1/machines/M-101");
        let mut answers = vec![("/v1/items?limit=200".to_owned(), read("/v1/items?limit=200"))];
        if let Some(setup) = machine["open_setup"].as_str() {
            let path = format!("/v1/setups/{setup}");
            answers.push((path.clone(), read(&path)));
        }
        answers.push(("/v1/machines/M-101".to_owned(), machine));
        let mut seen = self.seen.lock().expect("one thread");
        seen.extend(answers.into_iter().map(|(path, answer)| Seen { instant: instant.clone(), path, answer }));
    }

    /// The records say of every instant what they said then.
    pub(crate) fn is_as_it_was(&self, reader: &Client) {
        let seen = self.seen.lock().expect("one thread");
        assert!(seen.len() > 5, "little was remembered");
        for Seen { instant, path, answer } in &*seen {
            let join = if path.contains('?') { '&' } else { '?' };
            let again = reader.get(&format!("{path}{join}as_of={instant}")).send().expect(200).json();
            assert!(again == *answer, "{path} as of {instant}: {}", difference(&again, answer));
        }
    }
}

/// Where two answers part, in short.
fn difference(left: &Value, right: &Value) -> String {
    match (left, right) {
        (Value::Object(l), Value::Object(r)) => {
            let names = l.keys().chain(r.keys());
            let parted = names.filter(|name| l.get(*name) != r.get(*name));
            parted.map(|name| format!("{name}: {}", difference(&left[name], &right[name]))).collect()
        }
        (Value::Array(l), Value::Array(r)) if l.len() == r.len() => {
            let parted = l.iter().zip(r).filter(|(l, r)| l != r);
            parted.map(|(l, r)| format!("{}: {}; ", l["code"], difference(l, r))).collect()
        }
        _ => format!("{left} instead of {right} "),
    }
}

/// This instant, by this machine's clock.
pub(crate) fn now() -> String {
    #[expect(clippy::disallowed_methods, reason = "the instant that a person would name")]
    let now = std::time::SystemTime::now();
    let now = chrono::DateTime::<chrono::Utc>::from(now);
    now.to_rfc3339_opts(chrono::SecondsFormat::Micros, true)
}
