//! A server to time: a built program in a folder of its own with one job in it, asked over loopback.

use std::io::{BufRead, BufReader, Cursor, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};
use tungstenite::client::IntoClientRequest as _;
use tungstenite::{Message, WebSocket};

/// Why a benchmark stopped.
#[derive(Debug, thiserror::Error)]
pub enum BenchError {
    /// Files, processes, sockets.
    #[error(transparent)]
    Io(#[from] std::io::Error),
    /// An answer that is none.
    #[error("{0}")]
    Answer(String),
    /// The live channel.
    #[error(transparent)]
    Channel(#[from] tungstenite::Error),
}

/// A running server and its live channel.
pub struct Server {
    child: Child,
    port: u16,
    job: String,
    channel: WebSocket<TcpStream>,
    request: u32,
    revision: u64,
    _folder: tempfile::TempDir,
}

impl Drop for Server {
    fn drop(&mut self) {
        // One that ended by itself is no fault.
        let _ended = self.child.kill();
        let _gone = self.child.wait();
    }
}

/// Everything else about the job being asked for over and over, until this is dropped.
pub struct Busy {
    stop: Arc<AtomicBool>,
    threads: Vec<JoinHandle<()>>,
}

impl Drop for Busy {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        for thread in self.threads.drain(..) {
            let _ended = thread.join();
        }
    }
}

impl Server {
    /// Starts a program on a job folder.
    ///
    /// # Errors
    /// When it does not start or does not take the job.
    pub fn start(program: &Path, job: &Path) -> Result<Self, BenchError> {
        let folder = tempfile::tempdir()?;
        let mut child = Command::new(program)
            .args(["serve", "--port", "0", "--data"])
            .arg(folder.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()?;
        let told = child.stdout.take().ok_or_else(|| BenchError::Answer("no output".into()))?;
        let complained = child.stderr.take().ok_or_else(|| BenchError::Answer("no output".into()))?;
        let port = port_in(told).or_else(|_| port_in(complained))?;
        let zipped = zip(job)?;
        let made = ask(port, "POST", "/api/jobs/import", "application/zip", &zipped)?;
        let id = made["id"].as_str().ok_or_else(|| BenchError::Answer(made.to_string()))?.to_owned();
        let mut request =
            format!("ws://127.0.0.1:{port}/api/jobs/{id}/live?client=bench").into_client_request()?;
        let origin = format!("http://127.0.0.1:{port}").parse();
        request.headers_mut().insert("origin", origin.map_err(|_| BenchError::Answer("no origin".into()))?);
        let stream = TcpStream::connect(("127.0.0.1", port))?;
        stream.set_nodelay(true)?;
        stream.set_read_timeout(Some(Duration::from_secs(120)))?;
        let (channel, _) =
            tungstenite::client(request, stream).map_err(|e| BenchError::Answer(e.to_string()))?;
        Ok(Self { child, port, job: id, channel, request: 0, revision: 0, _folder: folder })
    }

    /// Asks for a map and waits for it.
    ///
    /// # Errors
    /// When it is refused.
    pub fn map(&mut self, spacing_m: f64) -> Result<(), BenchError> {
        self.request += 1;
        let asked = serde_json::json!({ "kind": "map", "request": self.request, "quantity": "LAeq",
            "spacing_m": spacing_m, "figures": true });
        self.channel.send(Message::text(asked.to_string()))?;
        self.frame_of(self.revision)
    }

    /// Moves a loudspeaker and waits for the map that shows it: the time from the edit's answer to the map.
    ///
    /// # Errors
    /// When the edit or the map is refused.
    pub fn edit_to_map(&mut self, tag: &str, turn: usize, spacing_m: f64) -> Result<Duration, BenchError> {
        // To and fro, so that it stays where it may stand.
        let done = self.move_by(tag, turn, if turn.is_multiple_of(2) { 0.1 } else { -0.1 })?;
        let acknowledged = Instant::now();
        self.revision = done["revision"].as_u64().ok_or_else(|| BenchError::Answer(done.to_string()))?;
        self.map(spacing_m)?;
        Ok(acknowledged.elapsed())
    }

    /// Moves a loudspeaker eastwards; gives what the edit was answered.
    fn move_by(&self, tag: &str, turn: usize, east_m: f64) -> Result<serde_json::Value, BenchError> {
        let job = ask(self.port, "GET", &format!("/api/jobs/{}", self.job), "", &[])?;
        let at = &job["resolved"]["loudspeakers"][tag]["position"];
        let of = |i: usize, key: &str| at[i].as_f64().or_else(|| at[key].as_f64());
        let (Some(x), Some(y)) = (of(0, "x"), of(1, "y")) else {
            return Err(BenchError::Answer(format!("there is no {tag}")));
        };
        let revision = job["revision"].as_u64().unwrap_or(0);
        let edit = serde_json::json!({ "edit_id": format!("bench-{turn}-{revision}"), "base_revision": revision,
            "who": "bench", "note": "", "patch": [{ "op": "replace",
                "path": format!("/loudspeakers/{tag}/position"), "value": [x + east_m, y] }] });
        let path = format!("/api/jobs/{}/edits", self.job);
        ask(self.port, "POST", &path, "application/json", edit.to_string().as_bytes())
    }

    /// Reads until a map of a revision arrives.
    fn frame_of(&mut self, revision: u64) -> Result<(), BenchError> {
        loop {
            match self.channel.read()? {
                Message::Binary(bytes) => {
                    let word = |i: usize| {
                        let bytes = bytes.get(4 * i..4 * i + 4).and_then(|b| b.try_into().ok());
                        bytes.map_or(0, u32::from_le_bytes)
                    };
                    let (columns, rows) = (word(3) as usize, word(4) as usize);
                    if bytes.len() != 40 + columns * rows || columns * rows < 1000 {
                        return Err(BenchError::Answer(format!("a map of {columns} by {rows} places")));
                    }
                    if u64::from(word(2)) >= revision && word(1) == self.request {
                        return Ok(());
                    }
                }
                Message::Text(told) if told.contains("\"kind\":\"refused\"") => {
                    return Err(BenchError::Answer(told.to_string()));
                }
                _ => {}
            }
        }
    }

    /// Asks for papers, findings, processing and the visit pack, each over and over, until what comes back is dropped.
    pub fn keep_busy(&self) -> Busy {
        let stop = Arc::new(AtomicBool::new(false));
        let ask_on = |what: &str| {
            let (stop, port) = (Arc::clone(&stop), self.port);
            let path = format!("/api/jobs/{}/{what}", self.job);
            thread::spawn(move || {
                while !stop.load(Ordering::Relaxed) {
                    // Refused or not: it is the load that counts.
                    let _answer = ask(port, "GET", &path, "", &[]);
                }
            })
        };
        let threads = ["papers", "findings", "processing", "visit-pack"].map(ask_on).into();
        Busy { stop, threads }
    }
}

/// Places in [`RESULTS`], each with the time from question to answer.
type Waits = Vec<(usize, Duration)>;

/// What readers got while somebody edited.
#[derive(Debug, Clone)]
pub struct Reads {
    /// What was asked for.
    pub what: &'static str,
    /// Answers, over all readers.
    pub answers: usize,
    /// Times from question to answer, shortest first.
    pub waits: Vec<Duration>,
}

/// Every result of a job that is read over HTTP.
pub const RESULTS: [&str; 12] = [
    "",
    "/history",
    "/catalogue",
    "/findings",
    "/levels",
    "/neighbours",
    "/bass",
    "/lines",
    "/expect",
    "/processing",
    "/visit-pack",
    "/papers",
];

impl Server {
    /// Readers that ask for every result over and over, each beginning with another one, while a loudspeaker is moved so
    /// many times a second. Gives what they got by result, and how many edits were made.
    ///
    /// # Errors
    /// The first answer that is none.
    pub fn readers(
        &self,
        tag: &str,
        readers: usize,
        edits_per_s: f64,
        lasts: Duration,
    ) -> Result<(Vec<Reads>, usize), BenchError> {
        let (port, until) = (self.port, Instant::now() + lasts);
        let each: Vec<JoinHandle<Result<Waits, BenchError>>> = (0..readers)
            .map(|reader| {
                let job = format!("/api/jobs/{}", self.job);
                thread::spawn(move || {
                    let mut got = Vec::new();
                    for what in (reader..).map(|n| n % RESULTS.len()) {
                        let asked = Instant::now();
                        if asked >= until {
                            return Ok(got);
                        }
                        ask(port, "GET", &format!("{job}{}", RESULTS[what]), "", &[])?;
                        got.push((what, asked.elapsed()));
                    }
                    Ok(got)
                })
            })
            .collect();
        let mut edits = 0;
        let begun = Instant::now();
        while Instant::now() < until {
            self.move_by(tag, edits, if edits.is_multiple_of(2) { 0.1 } else { -0.1 })?;
            edits += 1;
            let next = begun + Duration::from_secs_f64(edits as f64 / edits_per_s);
            thread::sleep(next.saturating_duration_since(Instant::now()));
        }
        let mut reads: Vec<Reads> =
            RESULTS.iter().map(|what| Reads { what, answers: 0, waits: Vec::new() }).collect();
        for reader in each {
            let got = reader.join().map_err(|_| BenchError::Answer("a reader gave up".into()))??;
            for (what, wait) in got {
                reads[what].answers += 1;
                reads[what].waits.push(wait);
            }
        }
        reads.iter_mut().for_each(|r| r.waits.sort());
        Ok((reads, edits))
    }
}

/// The port in what a server says when it is ready.
fn port_in(told: impl Read + Send + 'static) -> Result<u16, BenchError> {
    let mut lines = BufReader::new(told).lines();
    for line in lines.by_ref() {
        let line = line?;
        if let Some(at) = line.split("http://127.0.0.1:").nth(1) {
            let digits: String = at.chars().take_while(char::is_ascii_digit).collect();
            // What it says later is read, so that it never waits for a reader.
            thread::spawn(move || lines.for_each(drop));
            return digits.parse().map_err(|_| BenchError::Answer(line));
        }
    }
    Err(BenchError::Answer("the server did not say where it is".into()))
}

/// A folder's own files as a zip.
fn zip(folder: &Path) -> Result<Vec<u8>, BenchError> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let bad = |e: zip::result::ZipError| BenchError::Answer(e.to_string());
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let Some(name) = path.file_name().and_then(|n| n.to_str()).filter(|n| n.ends_with(".toml")) else {
            continue;
        };
        zip.start_file(name, zip::write::SimpleFileOptions::default()).map_err(bad)?;
        zip.write_all(&std::fs::read(&path)?)?;
    }
    Ok(zip.finish().map_err(bad)?.into_inner())
}

/// One request, one answer.
fn ask(
    port: u16,
    method: &str,
    path: &str,
    kind: &str,
    body: &[u8],
) -> Result<serde_json::Value, BenchError> {
    let mut stream = TcpStream::connect(("127.0.0.1", port))?;
    stream.set_nodelay(true)?;
    let kind = if kind.is_empty() { String::new() } else { format!("content-type: {kind}\r\n") };
    let head = format!(
        "{method} {path} HTTP/1.1\r\nhost: 127.0.0.1:{port}\r\n{kind}content-length: {}\r\nconnection: close\r\n\r\n",
        body.len()
    );
    stream.write_all(&[head.as_bytes(), body].concat())?;
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer)?;
    let at = answer.windows(4).position(|w| w == b"\r\n\r\n").map_or(answer.len(), |i| i + 4);
    let (head, body) = answer.split_at(at);
    let head = String::from_utf8_lossy(head);
    let body = if head.to_ascii_lowercase().contains("transfer-encoding: chunked") {
        unchunked(body)
    } else {
        body.to_vec()
    };
    if !head.starts_with("HTTP/1.1 2") {
        return Err(BenchError::Answer(String::from_utf8_lossy(&body).into_owned()));
    }
    Ok(serde_json::from_slice(&body).unwrap_or_default())
}

fn unchunked(mut body: &[u8]) -> Vec<u8> {
    let mut whole = Vec::new();
    while let Some(end) = body.windows(2).position(|w| w == b"\r\n") {
        let size =
            std::str::from_utf8(&body[..end]).ok().and_then(|s| usize::from_str_radix(s.trim(), 16).ok());
        match size {
            Some(n) if n > 0 && body.len() >= end + 2 + n => {
                whole.extend_from_slice(&body[end + 2..end + 2 + n]);
                body = body.get(end + 4 + n..).unwrap_or_default();
            }
            _ => break,
        }
    }
    whole
}
