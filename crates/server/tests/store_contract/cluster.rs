//! A PostgreSQL of its own, for a test: in a temporary folder, on a socket there and no port, as an ordinary user, gone at the
//! end.

use std::os::unix::fs::chown;
use std::os::unix::process::CommandExt as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use tempfile::TempDir;

/// Oldest version that is served.
const OLDEST: u32 = 15;

/// A running PostgreSQL.
pub struct Cluster {
    folder: TempDir,
    programs: PathBuf,
    /// Whom it runs as, where the test itself is run by root: the database refuses root.
    user: Option<(u32, u32)>,
}

impl Cluster {
    /// Starts one; none where PostgreSQL is not installed. `LOAMLINE_POSTGRES=must` makes that a failure.
    pub fn start() -> Option<Self> {
        let Some(programs) = programs() else {
            let must = std::env::var("LOAMLINE_POSTGRES").is_ok_and(|v| v == "must");
            assert!(
                !must,
                "PostgreSQL {OLDEST} or newer is not installed, and LOAMLINE_POSTGRES=must asks for it"
            );
            return None;
        };
        let folder = tempfile::Builder::new().prefix("pg").tempdir_in("/tmp").unwrap();
        let user = other_than_root(folder.path());
        if let Some((uid, gid)) = user {
            chown(folder.path(), Some(uid), Some(gid)).unwrap();
        }
        let cluster = Self { folder, programs, user };
        // Nothing is kept, so nothing need reach the disk.
        cluster.run(
            "initdb",
            &["-D", "data", "-U", "loamline", "-A", "trust", "-E", "UTF8", "--locale=C", "-N"],
        );
        let socket = format!("-c listen_addresses='' -c fsync=off -k {}", cluster.folder.path().display());
        cluster.run("pg_ctl", &["-D", "data", "-w", "-t", "60", "-l", "log", "-o", &socket, "start"]);
        Some(cluster)
    }

    /// Address of an empty database of this name, made now.
    pub fn database(&self, name: &str) -> String {
        let host = self.folder.path().to_str().unwrap().to_owned();
        self.run("createdb", &["-h", &host, "-U", "loamline", "-E", "UTF8", "-T", "template0", name]);
        self.address(name, "loamline")
    }

    /// Address of a database for somebody.
    pub fn address(&self, name: &str, user: &str) -> String {
        format!("postgres:///{name}?host={}&user={user}", self.folder.path().display())
    }

    /// Stops it as the loss of power would, and starts it again.
    pub fn restart(&self) {
        self.run("pg_ctl", &["-D", "data", "-w", "-m", "immediate", "stop"]);
        let socket = format!("-c listen_addresses='' -c fsync=off -k {}", self.folder.path().display());
        self.run("pg_ctl", &["-D", "data", "-w", "-t", "60", "-l", "log", "-o", &socket, "start"]);
    }

    fn run(&self, program: &str, arguments: &[&str]) {
        let told = self.command(program, arguments).status().unwrap();
        let log = std::fs::read_to_string(self.folder.path().join("log")).unwrap_or_default();
        assert!(told.success(), "{program}: {told}\n{log}");
    }

    fn command(&self, program: &str, arguments: &[&str]) -> Command {
        let mut command = Command::new(self.programs.join(program));
        command.args(arguments).current_dir(self.folder.path()).env("LC_ALL", "C");
        // A server that is left running would hold an open pipe.
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        if let Some((uid, gid)) = self.user {
            command.uid(uid).gid(gid);
        }
        command
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        // The folder goes with what is in it, whether or not it stopped.
        let _stopped = self.command("pg_ctl", &["-D", "data", "-w", "-m", "immediate", "stop"]).status();
    }
}

/// The folder of the newest PostgreSQL that is installed.
fn programs() -> Option<PathBuf> {
    let of = |folder: PathBuf| {
        let version: u32 = folder.file_name()?.to_str()?.parse().ok()?;
        let programs = folder.join("bin");
        (version >= OLDEST && programs.join("initdb").exists()).then_some((version, programs))
    };
    let there = std::fs::read_dir("/usr/lib/postgresql").ok()?;
    there.flatten().filter_map(|entry| of(entry.path())).max().map(|(_, programs)| programs)
}

/// The user to run it as where this test runs as root, as the folder of the test tells; none where it does not.
fn other_than_root(own: &Path) -> Option<(u32, u32)> {
    use std::os::unix::fs::MetadataExt as _;
    if std::fs::metadata(own).unwrap().uid() != 0 {
        return None;
    }
    let users = std::fs::read_to_string("/etc/passwd").unwrap();
    let ids = |name: &str| {
        let line = users.lines().find(|l| l.split(':').next() == Some(name))?;
        let mut numbers = line.split(':').skip(2).map(str::parse::<u32>);
        Some((numbers.next()?.ok()?, numbers.next()?.ok()?))
    };
    Some(["postgres", "nobody"].iter().find_map(|name| ids(name)).expect("a user that is not root"))
}
