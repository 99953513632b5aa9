//! Answers calculations from standard input, one JSON object a line: `{"calculation": "taper", "request": {…}}`. Each
//! line is answered by the answer, or by `{"refused": "…"}`. With `--list` it prints the names of all calculations instead.
//! Made to be driven by other programs:
//!
//! ```text
//! cargo run --release --package dovetally-core --example calculate < requests.ndjson
//! ```

use dovetally_core::calc::{ALL, find};
use serde::Deserialize;
use serde_json::json;
use std::io::{BufRead, BufWriter, Write};

#[derive(Deserialize)]
struct Asked {
    calculation: String,
    request: serde_json::Value,
}

fn answer(line: &str) -> String {
    let refused = |why: String| json!({"refused": why}).to_string();
    let asked: Asked = match serde_json::from_str(line) {
        Ok(asked) => asked,
        Err(error) => return refused(error.to_string()),
    };
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
        for entry in ALL {
            writeln!(out, "{}", entry.name)?;
        }
        return out.flush();
    }
    for line in std::io::stdin().lock().lines() {
        writeln!(out, "{}", answer(&line?))?;
    }
    out.flush()
}
