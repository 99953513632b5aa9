//! The README's blocks are pasted as they stand, and print what it says they print.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use dovetally_tests::server::{Backend, Server};
use std::process::Command;

/// The fenced blocks with this info string, in order, joined.
fn blocks(text: &str, info: &str) -> String {
    let mut inside = false;
    let mut found = String::new();
    for line in text.lines() {
        match (inside, line) {
            (false, line) if line == format!("```{info}") => inside = true,
            (true, "```") => inside = false,
            (true, line) => {
                found.push_str(line);
                found.push('\n');
            }
            _ => {}
        }
    }
    found
}

#[test]
fn the_first_five_minutes_print_what_they_say() {
    let readme = include_str!("../../README.md");
    for backend in Backend::BOTH {
        let server = Server::on(backend).demo().start();
        let output = Command::new("bash")
            .args(["-eu", "-c", &blocks(readme, "sh")])
            .env("BASE", server.base())
            .env("LC_ALL", "C")
            .output()
            .expect("bash runs");
        let printed = String::from_utf8_lossy(&output.stdout);
        assert_eq!(printed, blocks(readme, "text"), "{backend:?}: {}", String::from_utf8_lossy(&output.stderr));
    }
}
