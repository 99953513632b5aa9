//! The README's blocks, pasted as they stand.

use crate::server::Server;
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

/// Pastes them on a demo shop's server, and holds what is printed against what the README says.
///
/// # Panics
/// When something else is printed.
pub fn paste(server: &Server) {
    let readme = include_str!("../../README.md");
    let output = Command::new("bash")
        .args(["-eu", "-c", &blocks(readme, "sh")])
        .env("BASE", server.base())
        .env("LC_ALL", "C")
        .output()
        .expect("bash runs");
    let printed = String::from_utf8_lossy(&output.stdout);
    assert_eq!(printed, blocks(readme, "text"), "{}", String::from_utf8_lossy(&output.stderr));
}
