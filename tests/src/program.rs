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
    PROGRAM.get_or_init(|| env::var_os(PROGRAM_VARIABLE).map_or_else(|| built().join("dovetally"), PathBuf::from))
}

/// The path of the same program with pause points and removable locks, for the control arms of races.
///
/// # Panics
/// When it cannot be built, or is not where it should be.
#[must_use]
pub fn race_control() -> &'static Path {
    static PROGRAM: OnceLock<PathBuf> = OnceLock::new();
    PROGRAM.get_or_init(|| built().join("examples/race_control"))
}

/// The folder in which both programs are, as new as the sources.
fn built() -> &'static Path {
    static FOLDER: OnceLock<PathBuf> = OnceLock::new();
    FOLDER.get_or_init(|| {
        // The test runs from <target>/<profile>/deps; a program that is left from earlier there may be an old one.
        let test = env::current_exe().expect("the path of the running test");
        let profile_folder = test.parent().and_then(Path::parent).expect("a test runs from <target>/<profile>/deps");
        let target_folder = profile_folder.parent().expect("a profile's folder is in the target folder");
        let cargo = env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
        let mut command = Command::new(cargo);
        // An example beside it makes cargo choose the dependencies' features as for tests: what is built then serves both.
        command.args(["build", "--quiet", "--workspace", "--bin", "dovetally", "--example", "race_control"]);
        command.arg("--target-dir").arg(target_folder).current_dir(env!("CARGO_MANIFEST_DIR"));
        if profile_folder.ends_with("release") {
            command.arg("--release");
        }
        let status = command.status().unwrap_or_else(|error| panic!("cannot run {command:?}: {error}"));
        assert!(status.success(), "{command:?} failed: run it by hand to see why");
        for made in ["dovetally", "examples/race_control"] {
            assert!(profile_folder.join(made).is_file(), "{command:?} made no {made} in {}", profile_folder.display());
        }
        profile_folder.to_path_buf()
    })
}
