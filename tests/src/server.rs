//! A running `dovetally` of a test's own: its process, its database, its data folder, its output.

use crate::{client::Client, postgres::PostgresDatabase, program};
use std::{
    env, fs,
    fs::File,
    io::{BufRead, BufReader},
    net::SocketAddr,
    path::{Path, PathBuf},
    process::{Child, ChildStdout, Command, ExitStatus, Stdio},
    sync::{Arc, Mutex, PoisonError, mpsc},
    thread,
    time::{Duration, Instant},
};
use tempfile::TempDir;

/// The secret that every person and client of the demo shop has on a test's server.
pub const DEMO_SECRET: &str = "bar-stock-and-cutting-oil";

/// How long a server may take until it listens, migrations and the demo shop included, on a busy machine.
const START_LIMIT: Duration = Duration::from_secs(60);
/// How long it may take with the demo shop's year: a program that is built unoptimised lives through it slowly.
const YEAR_LIMIT: Duration = Duration::from_secs(900);
/// How long a server may take to end after it was asked to.
const STOP_LIMIT: Duration = Duration::from_secs(30);

/// Which database a server keeps its records in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Backend {
    /// The file in the server's own data folder.
    Sqlite,
    /// A database of its own on the server that `tests/run` started.
    Postgres,
}

impl Backend {
    /// Both, for tests that must pass on each.
    pub const BOTH: [Self; 2] = [Self::Sqlite, Self::Postgres];
}

/// How a server is to be started. Made by [`Server::on`].
#[derive(Debug)]
#[must_use = "nothing runs until it is started"]
pub struct ServerBuilder {
    backend: Backend,
    demo: bool,
    history: bool,
    program: Option<PathBuf>,
    environment: Vec<(String, String)>,
}

impl ServerBuilder {
    /// Loads the demo shop without its year of history into the empty database; everyone's secret is [`DEMO_SECRET`].
    pub fn demo(mut self) -> Self {
        self.demo = true;
        self
    }

    /// Loads the demo shop with its year of history.
    pub fn demo_with_history(mut self) -> Self {
        self.history = true;
        self.demo()
    }

    /// Starts this program in place of the one that is shipped: a control arm's test-only build.
    pub fn program(mut self, path: impl Into<PathBuf>) -> Self {
        self.program = Some(path.into());
        self
    }

    /// Sets an environment variable of the server.
    pub fn variable(mut self, name: &str, value: &str) -> Self {
        self.environment.push((name.to_owned(), value.to_owned()));
        self
    }

    /// Starts the server and waits until it listens.
    ///
    /// # Panics
    /// When it does not come to listen; the message shows what it wrote.
    #[must_use]
    pub fn start(self) -> Server {
        let database = (self.backend == Backend::Postgres).then(PostgresDatabase::create);
        let folder = tempfile::Builder::new().prefix("dovetally-").tempdir().expect("a folder for the server");
        let program = self.program.unwrap_or_else(|| program::dovetally().to_owned());
        let launch = Launch { program, demo: self.demo, history: self.history, environment: self.environment };
        let running = Running::start(&launch, folder.path(), database.as_ref());
        Server { running: Some(running), launch, database, folder }
    }
}

/// A running server. Dropping it kills it and removes its database and folder; if the test is failing, what the
/// server wrote is printed first.
#[derive(Debug)]
pub struct Server {
    // Fields are dropped in this order: the process before the database and the folder that it uses.
    running: Option<Running>,
    launch: Launch,
    database: Option<PostgresDatabase>,
    folder: TempDir,
}

impl Server {
    /// Begins a server on an empty database of this kind.
    pub fn on(backend: Backend) -> ServerBuilder {
        ServerBuilder { backend, demo: false, history: false, program: None, environment: Vec::new() }
    }

    /// The address that it listens on, without a slash at the end.
    ///
    /// # Panics
    /// When the server was stopped.
    #[must_use]
    pub fn base(&self) -> &str {
        &self.running().base
    }

    /// A client that is signed in as nobody.
    #[must_use]
    pub fn anonymous(&self) -> Client {
        Client::new(self.base())
    }

    /// A client that is signed in as this person of the demo shop. Most badges there are the names of roles.
    #[must_use]
    pub fn person(&self, badge: &str) -> Client {
        self.anonymous().sign_in(badge, DEMO_SECRET)
    }

    /// The server's own database, if it is on PostgreSQL.
    #[must_use]
    pub const fn postgres(&self) -> Option<&PostgresDatabase> {
        self.database.as_ref()
    }

    /// The server's data folder, with the database file if it is on SQLite.
    #[must_use]
    pub fn data_folder(&self) -> PathBuf {
        data_folder(self.folder.path())
    }

    /// The process id.
    ///
    /// # Panics
    /// When the server was stopped.
    #[must_use]
    pub fn process_id(&self) -> u32 {
        self.running().child.id()
    }

    /// The lines that it has written to standard output so far in this run.
    ///
    /// # Panics
    /// When the server was stopped.
    #[must_use]
    pub fn output(&self) -> Vec<String> {
        self.running().output.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// What all its runs have written to standard error: the log.
    #[must_use]
    pub fn log(&self) -> String {
        log(self.folder.path())
    }

    /// Ends the server at once, as a power cut or `kill -9` would. Its database and folder stay.
    pub fn kill(&mut self) {
        self.running = None;
    }

    /// Asks the server to end (SIGTERM) and waits until it has. Its database and folder stay.
    ///
    /// # Panics
    /// When the server was stopped before, or does not end.
    pub fn stop(&mut self) -> ExitStatus {
        self.running.take().expect("the server was stopped before").stop()
    }

    /// Starts the server again on the same database and folder, on another port.
    ///
    /// # Panics
    /// When it still runs, or does not come to listen.
    pub fn start_again(&mut self) {
        assert!(self.running.is_none(), "the server still runs");
        // The demo shop is for an empty database, and this one has been used.
        self.launch.demo = false;
        self.running = Some(Running::start(&self.launch, self.folder.path(), self.database.as_ref()));
    }

    fn running(&self) -> &Running {
        self.running.as_ref().expect("the server was stopped")
    }
}

impl Drop for Server {
    #[expect(clippy::print_stderr, reason = "shown by the test runner with the failed test")]
    fn drop(&mut self) {
        self.running = None;
        if thread::panicking() {
            // Statements that were traced for their plans are no reading matter.
            let log = self.log();
            let told = log.lines().filter(|line| !line.contains("TRACE")).map(|line| format!("{line}\n"));
            eprintln!("--- what the server wrote\n{}--- end", told.collect::<String>());
        }
    }
}

#[derive(Debug)]
struct Launch {
    program: PathBuf,
    demo: bool,
    history: bool,
    environment: Vec<(String, String)>,
}

/// One process, killed when dropped.
#[derive(Debug)]
struct Running {
    child: Child,
    base: String,
    output: Arc<Mutex<Vec<String>>>,
}

impl Running {
    fn start(launch: &Launch, folder: &Path, database: Option<&PostgresDatabase>) -> Self {
        let log_file = File::options().create(true).append(true).open(folder.join("log")).expect("the log file");
        let mut command = Command::new(&launch.program);
        command.args(["serve", "--listen", "127.0.0.1:0", "--data-folder"]).arg(data_folder(folder));
        if let Some(database) = database {
            command.args(["--database", database.url()]);
        }
        if launch.demo {
            command.arg("--demo");
        }
        // The server refuses settings that it does not know, and these name the tests' own.
        for (name, _) in env::vars_os() {
            if name == "DATABASE_URL" || name.to_string_lossy().starts_with("DOVETALLY_") {
                command.env_remove(name);
            }
        }
        command
            .env("DOVETALLY_DEMO_SECRET", DEMO_SECRET)
            .env("DOVETALLY_HASHING", "cheap-for-tests")
            .env("DOVETALLY_DEMO_HISTORY", if launch.history { "year" } else { "none" });
        command.envs(launch.environment.iter().map(|(name, value)| (name, value)));
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(log_file);

        let mut child = command.spawn().unwrap_or_else(|error| panic!("cannot start {command:?}: {error}"));
        let stdout = child.stdout.take().expect("standard output is a pipe");
        let output = Arc::new(Mutex::new(Vec::new()));
        let first_line =
            collect(stdout, Arc::clone(&output)).recv_timeout(if launch.history { YEAR_LIMIT } else { START_LIMIT });
        // From here on, dropping it kills the process, also when what follows panics.
        let mut running = Self { child, base: String::new(), output };
        match first_line.as_deref().ok().and_then(listening_on) {
            Some(base) => running.base = base,
            None => panic!("{command:?} said {first_line:?}, not where it listens; it wrote\n{}", log(folder)),
        }
        running
    }

    fn stop(mut self) -> ExitStatus {
        // The shell's own kill: a small Debian has no program of that name.
        let asked = Command::new("sh").args(["-c", "kill -TERM \"$1\"", "sh", &self.child.id().to_string()]).status();
        assert!(asked.is_ok_and(|status| status.success()), "cannot send SIGTERM to {}", self.child.id());
        let asked_at = Instant::now();
        while asked_at.elapsed() < STOP_LIMIT {
            if let Some(status) = self.child.try_wait().expect("the server's exit status") {
                return status;
            }
            thread::sleep(Duration::from_millis(10));
        }
        panic!("the server did not end within {STOP_LIMIT:?} of SIGTERM");
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Reads standard output to its end, so that the server never blocks on it; hands over the first line.
fn collect(stdout: ChildStdout, output: Arc<Mutex<Vec<String>>>) -> mpsc::Receiver<String> {
    let (first_line, receiver) = mpsc::channel();
    thread::spawn(move || {
        for line in BufReader::new(stdout).lines().map_while(Result::ok) {
            // Nobody listens for the later ones.
            let _ = first_line.send(line.clone());
            output.lock().unwrap_or_else(PoisonError::into_inner).push(line);
        }
    });
    receiver
}

fn listening_on(line: &str) -> Option<String> {
    let base = line.strip_prefix("listening on ")?;
    let address: SocketAddr = base.strip_prefix("http://")?.parse().ok()?;
    (address.port() != 0).then(|| base.to_owned())
}

fn data_folder(folder: &Path) -> PathBuf {
    folder.join("data")
}

fn log(folder: &Path) -> String {
    fs::read_to_string(folder.join("log")).unwrap_or_else(|error| format!("(no log: {error})\n"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_address_is_read_from_the_first_line() {
        assert_eq!(listening_on("listening on http://127.0.0.1:40123").as_deref(), Some("http://127.0.0.1:40123"));
        assert_eq!(listening_on("listening on http://127.0.0.1:0"), None);
        assert_eq!(listening_on("listening on http://127.0.0.1"), None);
        assert_eq!(listening_on("ready"), None);
    }

    /// Stands in for the program: says what it was given, then runs until it is ended.
    fn stand_in(folder: &Path, first_line: &str) -> PathBuf {
        use std::os::unix::fs::PermissionsExt;
        let path = folder.join("stand-in");
        let script = format!("#!/bin/sh\necho \"{first_line}\"\necho \"$@\"\nenv >&2\nexec sleep 600\n");
        fs::write(&path, script).unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o755)).unwrap();
        path
    }

    fn wait_until(what: &str, done: impl Fn() -> bool) {
        let begun = Instant::now();
        while !done() {
            assert!(begun.elapsed() < STOP_LIMIT, "not within {STOP_LIMIT:?}: {what}");
            thread::sleep(Duration::from_millis(10));
        }
    }

    #[test]
    fn a_server_is_given_its_own_settings_only_and_can_be_ended_both_ways() {
        let folder = tempfile::tempdir().unwrap();
        let program = stand_in(folder.path(), "listening on http://127.0.0.1:40123");
        let mut server =
            Server::on(Backend::Postgres).demo().program(program).variable("DOVETALLY_EXAMPLE", "1").start();
        assert_eq!(server.base(), "http://127.0.0.1:40123");
        wait_until("the arguments and the environment are written", || {
            server.output().len() > 1 && server.log().contains("DOVETALLY_EXAMPLE=1")
        });
        let url = server.postgres().unwrap().url().to_owned();
        let data_folder = server.data_folder();
        let arguments = &server.output()[1];
        assert!(arguments.starts_with("serve --listen 127.0.0.1:0 --data-folder "), "{arguments}");
        assert!(arguments.contains(data_folder.to_str().unwrap()), "{arguments}");
        assert!(arguments.ends_with(&format!("--database {url} --demo")), "{arguments}");
        assert!(server.log().contains(&format!("DOVETALLY_DEMO_SECRET={DEMO_SECRET}")), "{}", server.log());
        assert!(!server.log().contains("DOVETALLY_TEST"), "{}", server.log());

        let first = server.process_id();
        assert!(!server.stop().success(), "the stand-in is ended by the signal itself");
        server.start_again();
        assert_ne!(server.process_id(), first);
        wait_until("the second run's arguments are written", || server.output().len() > 1);
        assert!(server.output()[1].ends_with(&url), "the second run must not load the demo shop again");

        let second = PathBuf::from(format!("/proc/{}", server.process_id()));
        assert!(second.exists());
        drop(server);
        assert!(!second.exists(), "dropping a server must end its process");
        assert!(!data_folder.parent().unwrap().exists(), "dropping a server must remove its folder");
    }

    #[test]
    #[should_panic(expected = "not where it listens")]
    fn a_server_that_says_something_else_first_fails_the_test() {
        let folder = tempfile::tempdir().unwrap();
        let program = stand_in(folder.path(), "ready");
        let _ = Server::on(Backend::Sqlite).program(program).start();
    }
}
