//! Writes what the fuzzing starts from, `corpus/<calculation>/…`, beside this file, and names every calculation.

#[path = "../../core/tests/requests/mod.rs"]
mod requests;

use dovetally_core::calc::ALL;
use std::{fs, io, path::Path};

fn main() -> io::Result<()> {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus");
    let write = |name: &str, seed: &str, body: &str| {
        let directory = corpus.join(name);
        fs::create_dir_all(&directory)?;
        fs::write(directory.join(seed), body)
    };
    for entry in ALL {
        write(entry.name, "example", entry.example)?;
        println!("{}", entry.name);
    }
    for (number, (name, request)) in requests::requests().iter().enumerate() {
        write(name, &format!("request-{number}"), &request.to_string())?;
    }
    Ok(())
}
