//! Where the built `dovetally` is. Cargo builds no binary for another crate's tests, so this does, once a process.

use std::{
    env,
    path::{Path, PathBuf},
    process::Command,
    sync::OnceLock,
};

/// The environment variable with the path of a program to test in place of the one that is built for the tests: to
/// measure the optimised one that people run, without building the tests a second time.
pub const PROGRAM_VARIABLE: &str = "DOVETALLY_TEST_PROGRAM";

/// The path of a `dovetally` that is as new as the sources, or of the program that was named.
///
/// # Panics
/// When it cannot be built, or is not where it should be.
#[must_use]
pub fn dovetally() -> &'static Path {
    static PROGRAM: OnceLock<PathBuf> = OnceLock::new();
    PROGRAM.get_or_init(|| env::var_os(PROGRAM_VARIABLE).map_or_else(|| build("dovetally", &[]), PathBuf::from))
}

/// The path of the same program with pause points and removable locks, for the control arms of races.
///
/// # Panics
/// When it cannot be built, or is not where it should be.
#[must_use]
pub fn race_control() -> &'static Path {
    static PROGRAM: OnceLock<PathBuf> = OnceLock::new();
    PROGRAM.get_or_init(|| build("dovetally-race-control", &["--features", "race-control"]))
}

fn build(binary: &str, features: &[&str]) -> PathBuf {
    // The test runs from <target>/<profile>/deps; a program that is left from earlier there may be an old one.
    let test = env::current_exe().expect("the path of the running test");
    let profile_folder = test.parent().and_then(Path::parent).expect("a test runs from <target>/<profile>/deps");
    let target_folder = profile_folder.parent().expect("a profile's folder is in the target folder");
    let cargo = env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let mut command = Command::new(cargo);
    command.args(["build", "--quiet", "--package", "dovetally", "--bin", binary]).args(features);
    command.arg("--target-dir").arg(target_folder).current_dir(env!("CARGO_MANIFEST_DIR"));
    if profile_folder.ends_with("release") {
        command.arg("--release");
    }
    let status = command.status().unwrap_or_else(|error| panic!("cannot run {command:?}: {error}"));
    assert!(status.success(), "{command:?} failed: run `cargo build -p dovetally` to see why");
    let path = profile_folder.join(binary);
    assert!(path.is_file(), "{command:?} made no {}", path.display());
    path
}
