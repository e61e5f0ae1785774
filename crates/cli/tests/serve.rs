//! The server as a process: what it has acknowledged survives `kill -9`.
#![cfg(all(feature = "serve", unix))]
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use serde_json::{Value, json};
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc;
use std::time::Duration;

/// A running server; killed when it is dropped.
struct Server {
    child: Child,
    address: String,
}

impl Server {
    fn start(data: &Path) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_loamline"))
            .args(["serve", "--json", "--port", "0", "--data"])
            .arg(data)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut said = String::new();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let told: Value = loop {
            assert!(out.read_line(&mut said).unwrap() > 0, "the server said {said:?} and ended");
            if let Ok(told) = serde_json::from_str(&said) {
                break told;
            }
        };
        let address = told["address"].as_str().unwrap();
        Self { child, address: address.trim_start_matches("http://").trim_end_matches('/').to_owned() }
    }

    fn ask(&self, method: &str, path: &str, body: Option<&Value>) -> std::io::Result<(u16, Value)> {
        let body = body.map(Value::to_string).unwrap_or_default();
        let mut stream = TcpStream::connect(&self.address)?;
        stream.set_read_timeout(Some(Duration::from_secs(30)))?;
        write!(
            stream,
            "{method} {path} HTTP/1.1\r\nhost: {}\r\nconnection: close\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n{body}",
            self.address,
            body.len()
        )?;
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer)?;
        let text = String::from_utf8_lossy(&answer);
        let broken = || std::io::Error::other("the answer did not arrive whole");
        let status = text.get(9..12).and_then(|s| s.parse().ok()).ok_or_else(broken)?;
        let (_, body) = text.split_once("\r\n\r\n").ok_or_else(broken)?;
        Ok((status, serde_json::from_str(body).map_err(|_| broken())?))
    }

    fn first_job(&self) -> String {
        self.ask("GET", "/api/jobs", None).unwrap().1[0]["id"].as_str().unwrap().to_owned()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        // SIGKILL; it may have ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Edits sent in a burst.
const BURST: u32 = 500;

#[test]
fn kill_9_in_a_burst_of_500_edits_loses_no_acknowledged_edit() {
    for round in 0..5u32 {
        let folder = tempfile::tempdir().unwrap();
        let server = Server::start(folder.path());
        let id = server.first_job();
        let (acknowledged, heard) = mpsc::channel();
        let killed = AtomicBool::new(false);
        // Killed after more and more edits, from several browsers at once.
        let enough = 40 + 90 * round;
        let mut kept = Vec::new();
        let mut server = server;
        let child_id = server.child.id();
        std::thread::scope(|threads| {
            for browser in 0..4u32 {
                let (acknowledged, server, id, killed) = (acknowledged.clone(), &server, &id, &killed);
                threads.spawn(move || {
                    for i in (browser..BURST).step_by(4) {
                        let mark = json!({ "name": "corner", "position": [f64::from(i) * 0.1, 1.0] });
                        let edit = json!({ "edit_id": format!("burst-{i:06}"), "base_revision": 0,
                            "patch": [{ "op": "add", "path": format!("/marks/K{i}"), "value": mark }] });
                        match server.ask("POST", &format!("/api/jobs/{id}/edits"), Some(&edit)) {
                            Ok((200, _)) => acknowledged.send(i).unwrap(),
                            Ok((status, e)) => panic!("edit {i}: {status} {e}"),
                            Err(_) if killed.load(Ordering::SeqCst) => return,
                            Err(e) => panic!("edit {i}: {e}"),
                        }
                    }
                });
            }
            drop(acknowledged);
            while let Ok(i) = heard.recv() {
                kept.push(i);
                if kept.len() == enough as usize {
                    killed.store(true, Ordering::SeqCst);
                    let kill = Command::new("kill").args(["-9", &child_id.to_string()]).status().unwrap();
                    assert!(kill.success());
                }
            }
        });
        assert!(server.child.wait().unwrap().code().is_none(), "it was to be killed, not to end by itself");
        assert!(kept.len() >= enough as usize && kept.len() < BURST as usize, "{} edits", kept.len());

        let server = Server::start(folder.path());
        let (_, job) = server.ask("GET", &format!("/api/jobs/{id}"), None).unwrap();
        for i in &kept {
            assert!(job["document"]["marks"][format!("K{i}")].is_object(), "round {round}: edit {i} is lost");
        }
        // Sent again, the last one acknowledged is not applied again.
        let marks = job["document"]["marks"].as_object().unwrap().len();
        let last = kept[kept.len() - 1];
        let again = json!({ "edit_id": format!("burst-{last:06}"), "base_revision": 0, "patch": [{ "op": "add",
            "path": format!("/marks/K{last}"), "value": { "name": "corner", "position": [f64::from(last) * 0.1, 1.0] } }] });
        assert_eq!(server.ask("POST", &format!("/api/jobs/{id}/edits"), Some(&again)).unwrap().0, 200);
        let (_, job) = server.ask("GET", &format!("/api/jobs/{id}"), None).unwrap();
        assert_eq!(job["document"]["marks"].as_object().unwrap().len(), marks);
    }
}

#[test]
fn two_servers_do_not_share_a_folder() {
    let folder = tempfile::tempdir().unwrap();
    let _first = Server::start(folder.path());
    let second = Command::new(env!("CARGO_BIN_EXE_loamline"))
        .args(["serve", "--port", "0", "--data"])
        .arg(folder.path())
        .output()
        .unwrap();
    assert_eq!(second.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&second.stderr).contains("in use by another loamline"));
}
