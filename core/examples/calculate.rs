//! Answers calculations from standard input, one JSON object a line: `{"calculation": "taper", "request": {…}}`. Each
//! line is answered by the answer, or by `{"refused": "…"}`. With `--list` it prints the names of all calculations instead.
//! What the program calculates from its own records, and offers no request for, is asked the same way: `gauge-drift`.
//! Made to be driven by other programs:
//!
//! ```text
//! cargo run --release --package dovetally-core --example calculate < requests.ndjson
//! ```

use dovetally_core::{
    calc::{ALL, find},
    gauge::drift,
};
use serde::Deserialize;
use serde_json::json;
use std::io::{BufRead, BufWriter, Write};

#[derive(Deserialize)]
struct Asked {
    calculation: String,
    request: serde_json::Value,
}

/// What is asked for by name besides the calculations.
const FROM_RECORDS: &[&str] = &["gauge-drift"];

fn gauge_drift(request: &serde_json::Value) -> Result<String, String> {
    let history: drift::History = serde_json::from_value(request.clone()).map_err(|error| error.to_string())?;
    match history.check().first() {
        Some(fault) => Err(format!("{}: {}", fault.pointer, fault.detail)),
        None => serde_json::to_string(&drift::follow(&history)).map_err(|error| error.to_string()),
    }
}

fn answer(line: &str) -> String {
    let refused = |why: String| json!({"refused": why}).to_string();
    let asked: Asked = match serde_json::from_str(line) {
        Ok(asked) => asked,
        Err(error) => return refused(error.to_string()),
    };
    if asked.calculation == "gauge-drift" {
        return gauge_drift(&asked.request).unwrap_or_else(refused);
    }
    match find(&asked.calculation) {
        Some(entry) => {
            (entry.calculate)(asked.request.to_string().as_bytes()).unwrap_or_else(|error| refused(error.to_string()))
        }
        None => refused(format!("no calculation is called {}", asked.calculation)),
    }
}

fn main() -> std::io::Result<()> {
    let mut out = BufWriter::new(std::io::stdout().lock());
    if std::env::args().nth(1).is_some_and(|argument| argument == "--list") {
        for name in ALL.iter().map(|entry| entry.name).chain(FROM_RECORDS.iter().copied()) {
            writeln!(out, "{name}")?;
        }
        return out.flush();
    }
    for line in std::io::stdin().lock().lines() {
        writeln!(out, "{}", answer(&line?))?;
    }
    out.flush()
}
