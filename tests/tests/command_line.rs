//! The command line beside a running server: backups that are backups, a verification that does not pass for nothing,
//! words for whoever typed.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use dovetally_tests::{
    program,
    server::{Backend, Server},
};
use serde_json::json;
use std::{
    path::Path,
    process::{Command, Output},
};

fn dovetally(arguments: &[&str]) -> Output {
    let mut command = Command::new(program::dovetally());
    for (name, _) in std::env::vars_os() {
        if name == "DATABASE_URL" || name.to_string_lossy().starts_with("DOVETALLY_") {
            command.env_remove(name);
        }
    }
    command.env("DOVETALLY_LOG", "error").args(arguments).output().expect("the program runs")
}

#[track_caller]
fn done(output: &Output) -> String {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// What the program says when it could not.
#[track_caller]
fn failed(output: &Output) -> String {
    assert!(!output.status.success(), "it passed: {}", String::from_utf8_lossy(&output.stdout));
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn text(path: &Path) -> &str {
    path.to_str().expect("a path in UTF-8")
}

#[test]
fn a_backup_is_taken_of_a_running_database_and_verifies() {
    let server = Server::on(Backend::Sqlite).demo().start();
    let folder = server.data_folder();
    let file = folder.join("backup.sqlite");
    let said = done(&dovetally(&["backup", text(&file), "--data-folder", text(&folder)]));
    assert!(said.contains("backed up to"), "{said}");
    let again = failed(&dovetally(&["backup", text(&file), "--data-folder", text(&folder)]));
    assert!(again.contains("is there already"), "{again}");

    let database = format!("sqlite:{}", file.display());
    let verify = || dovetally(&["verify", "--database", &database, "--data-folder", text(&folder)]);
    let sound = done(&verify());
    let live = server.person("supervisor").get("/v1/movements/verify").send().expect(200).json();
    assert!(sound.contains(live["chain_hash"].as_str().expect("a hash")), "{sound} {live}");

    // A copy that somebody changed does not.
    let copy = std::fs::read(&file).expect("the backup");
    let changed = replaced(&copy, b"dovetally.place.created", b"dovetally.place.Created");
    std::fs::write(&file, changed).expect("the changed backup");
    let fault = dovetally(&["verify", "--database", &database, "--data-folder", text(&folder)]);
    assert!(failed(&fault).contains("do not verify"), "{}", String::from_utf8_lossy(&fault.stdout));
}

/// The first place where a text stands, written over.
fn replaced(bytes: &[u8], from: &[u8], to: &[u8]) -> Vec<u8> {
    let at = bytes.windows(from.len()).position(|window| window == from).expect("the text is in the file");
    let mut bytes = bytes.to_vec();
    bytes[at..at + to.len()].copy_from_slice(to);
    bytes
}

#[test]
fn what_is_not_there_is_not_sound() {
    let folder = tempfile::tempdir().expect("a folder");
    let missing = folder.path().join("nowhere");
    let said = failed(&dovetally(&["verify", "--data-folder", text(&missing)]));
    assert!(said.contains("there is no database at"), "{said}");
    assert!(!missing.exists(), "it was created");
    let empty = folder.path().join("empty.sqlite");
    std::fs::write(&empty, "").expect("an empty file");
    let database = format!("sqlite:{}", empty.display());
    let said = failed(&dovetally(&["verify", "--database", &database, "--data-folder", text(folder.path())]));
    assert!(said.contains("there is no database at"), "{said}");
    let file = folder.path().join("backup.sqlite");
    let said = failed(&dovetally(&["backup", text(&file), "--data-folder", text(&missing)]));
    assert!(said.contains("there is no database at") && !file.exists(), "{said}");
}

fn records_that_go_leave_the_rest_sound(backend: Backend) {
    let mut server = Server::on(backend).demo().start();
    let supervisor = server.person("supervisor");
    let made = json!({"code": "FT-900", "design": "TD-11", "place": "BIN-A1"});
    let _ = supervisor.post("/v1/form-tools").json(&made).send().expect(201);
    let read = supervisor.get("/v1/form-tools/FT-900").send().expect(200);
    let tag = read.header("etag").expect("a tag").to_owned();
    let _ = supervisor.delete("/v1/form-tools/FT-900").header("If-Match", &tag).send().expect(204);
    let found = supervisor.get("/v1/movements/verify").send().expect(200).json();
    assert_eq!(found["sound"], true, "{found}");
    let _ = server.stop();
    let folder = server.data_folder();
    let url = server.postgres().map(|database| database.url().to_owned());
    let url = url.unwrap_or_else(|| format!("sqlite:{}", folder.join("dovetally.sqlite").display()));
    let _ = done(&dovetally(&["verify", "--database", &url, "--data-folder", text(&folder)]));
}

#[test]
fn a_record_that_was_taken_off_leaves_the_rest_sound_on_sqlite() {
    records_that_go_leave_the_rest_sound(Backend::Sqlite);
}

#[test]
fn a_record_that_was_taken_off_leaves_the_rest_sound_on_postgresql() {
    records_that_go_leave_the_rest_sound(Backend::Postgres);
}

#[test]
fn whoever_types_is_told_what_to_do() {
    let folder = tempfile::tempdir().expect("a folder");
    let add = || {
        let arguments = ["person", "add", "first", "--name", "First", "--role", "administrator", "--data-folder"];
        dovetally(&[&arguments[..], &[text(folder.path())]].concat())
    };
    assert!(done(&add()).contains("may sign in with the secret"));
    let said = failed(&add());
    assert!(said.contains("the badge first is somebody's") && !said.contains("trace"), "{said}");

    let said = failed(&dovetally(&["check-config", "--database", "mysql://x"]));
    assert!(said.contains("postgres://"), "{said}");
    let said = done(&dovetally(&["check-config", "--data-folder", text(folder.path())]));
    assert!(said.contains("DOVETALLY_LISTEN=127.0.0.1:8080") && !said.contains('{'), "{said}");

    let taken = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = taken.local_addr().expect("an address").to_string();
    let said = failed(&dovetally(&["serve", "--listen", &address, "--data-folder", text(folder.path())]));
    assert!(said.contains(&address), "{said}");
}
