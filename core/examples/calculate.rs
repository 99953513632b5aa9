//! Answers calculations from standard input, one JSON object a line: `{"calculation": "taper", "request": {…}}`. Each
//! line is answered by the answer, or by `{"refused": "…"}`. With `--list` it prints the names of all calculations instead.
//! What the program calculates from its own records, and offers no request for, is asked the same way: `gauge-drift`, `edges-left`.
//! Made to be driven by other programs:
//!
//! ```text
//! cargo run --release --package dovetally-core --example calculate < requests.ndjson
//! ```

use dovetally_core::{
    calc::{ALL, find},
    gauge::drift,
    life::{
        edge::EdgeLives,
        left::{Basis, EdgesLeft, Experience},
    },
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
const FROM_RECORDS: &[&str] = &["gauge-drift", EDGES_LEFT];

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
    if asked.calculation == EDGES_LEFT {
        return serde_json::from_value(asked.request).map_or_else(|error| refused(error.to_string()), edges_left);
    }
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

/// What form tools' edges have left, learned from others.
const EDGES_LEFT: &str = "edges-left";

#[derive(Deserialize)]
struct EdgesAsked {
    failures: Vec<f64>,
    suspensions: Vec<f64>,
    in_use: Vec<i64>,
    fresh: u64,
}

fn edges_left(asked: EdgesAsked) -> String {
    let lives = EdgeLives { failures: asked.failures, suspensions: asked.suspensions };
    let experience = Experience::of(&lives, 1);
    let left = experience.pieces_left(&EdgesLeft { in_use: asked.in_use, fresh: asked.fresh });
    let Basis::Learned(learned) = experience.basis else { return json!({"refused": experience.words()}).to_string() };
    let (lower, upper) = left.interval.unwrap_or_default();
    let shape = (learned.shape, learned.scale);
    json!({"result": {"shape": shape.0, "scale": shape.1, "expected": left.expected, "lower": lower, "upper": upper}})
        .to_string()
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
