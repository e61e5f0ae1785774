//! What is counted while the server runs, and the page a firm's monitoring reads it from.
//!
//! Counted by the process, since there is one server in one. Text as Prometheus reads it (its exposition format, version
//! 0.0.4): every series with what it is and what it counts.

use axum::extract::{MatchedPath, Request};
use axum::http::Method;
use axum::middleware::Next;
use axum::response::Response;
use std::fmt::Write as _;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Something that is counted and only ever grows.
pub struct Counter(AtomicU64);

impl Counter {
    const fn new() -> Self {
        Self(AtomicU64::new(0))
    }

    /// So many more.
    pub fn add(&self, more: usize) {
        self.0.fetch_add(u64::try_from(more).unwrap_or(u64::MAX), Ordering::Relaxed);
    }

    fn read(&self) -> u64 {
        self.0.load(Ordering::Relaxed)
    }
}

/// How many there are of something now.
pub struct Gauge(AtomicI64);

impl Gauge {
    /// One more until it is dropped.
    pub fn one(&'static self) -> One {
        self.0.fetch_add(1, Ordering::Relaxed);
        One(self)
    }
}

/// One of those that are counted now.
pub struct One(&'static Gauge);

impl Drop for One {
    fn drop(&mut self) {
        self.0.0.fetch_sub(1, Ordering::Relaxed);
    }
}

/// Edits that took effect by way of this server.
pub static EDITS: Counter = Counter::new();
/// Edits that met a newer revision of another server and were tried again.
pub static EDITS_BEHIND: Counter = Counter::new();
/// Calls made to other servers.
pub static CALLS_MADE: Counter = Counter::new();
/// Calls of other servers heard.
pub static CALLS_HEARD: Counter = Counter::new();
/// Jobs brought up to what other servers made of them.
pub static CAUGHT_UP: Counter = Counter::new();
/// Browsers on the live channel.
pub static LIVE: Gauge = Gauge(AtomicI64::new(0));
static REQUESTS: Requests = Requests::new();

/// Upper ends of the classes of time an answer took, s: from what feels at once to the longest work over the network.
const WITHIN_S: [f64; 10] = [0.005, 0.02, 0.05, 0.1, 0.25, 0.5, 1.0, 5.0, 20.0, 120.0];

/// Answers by their kind and by how long they took.
struct Requests {
    /// By the first digit of the status, 1 to 5.
    answered: [Counter; 5],
    /// Each with those of all shorter classes left out.
    within: [Counter; WITHIN_S.len()],
    micros: Counter,
}

impl Requests {
    const fn new() -> Self {
        Self {
            answered: [const { Counter::new() }; 5],
            within: [const { Counter::new() }; WITHIN_S.len()],
            micros: Counter::new(),
        }
    }

    fn saw(&self, status: u16, took: Duration) {
        if let Some(kind) = usize::from(status / 100).checked_sub(1).and_then(|k| self.answered.get(k)) {
            kind.add(1);
        }
        let class = WITHIN_S.iter().position(|most| took.as_secs_f64() <= *most);
        if let Some(class) = class.and_then(|c| self.within.get(c)) {
            class.add(1);
        }
        self.micros.add(usize::try_from(took.as_micros()).unwrap_or(usize::MAX));
    }

    fn write(&self, page: &mut Page) {
        page.head("http_requests_total", "counter", "Answers, by the first digit of their status");
        for (kind, count) in (1..).zip(&self.answered) {
            page.line("http_requests_total", &format!("{{status=\"{kind}xx\"}}"), count.read());
        }
        let name = "http_request_seconds";
        page.head(name, "histogram", "Time from the head of a request to the head of its answer");
        let mut so_far = 0;
        for (most, count) in WITHIN_S.iter().zip(&self.within) {
            so_far += count.read();
            page.line("http_request_seconds_bucket", &format!("{{le=\"{most}\"}}"), so_far);
        }
        let all: u64 = self.answered.iter().map(Counter::read).sum();
        page.line("http_request_seconds_bucket", "{le=\"+Inf\"}", all);
        page.line("http_request_seconds_sum", "", self.micros.read() as f64 / 1e6);
        page.line("http_request_seconds_count", "", all);
    }
}

/// Counts an answer and tells of it in one line: by its route, never by its address, which may hold names and codes.
pub async fn observed(request: Request, next: Next) -> Response {
    let began = Instant::now();
    let method: Method = request.method().clone();
    let route = request.extensions().get::<MatchedPath>().cloned();
    let answer = next.run(request).await;
    let (took, status) = (began.elapsed(), answer.status().as_u16());
    REQUESTS.saw(status, took);
    let route = route.as_ref().map_or("the app", MatchedPath::as_str);
    let ms = took.as_secs_f64() * 1e3;
    if status >= 500 {
        tracing::warn!(%method, route, status, ms, "answered");
    } else {
        tracing::info!(%method, route, status, ms, "answered");
    }
    answer
}

/// What is told beside what is counted.
#[derive(Debug, Clone, Copy)]
pub struct Now {
    /// Jobs held in memory.
    pub jobs_held: usize,
    /// Pieces of work under way off the threads that serve.
    pub background_work: usize,
    /// Whether the store answers.
    pub store_ready: bool,
}

/// The page as it now is.
pub fn page(now: Now) -> String {
    let mut page = Page(String::new());
    REQUESTS.write(&mut page);
    for (name, what, counter) in [
        ("edits_total", "Edits that took effect by way of this server", &EDITS),
        ("edits_behind_total", "Edits tried again since another server was first", &EDITS_BEHIND),
        ("calls_made_total", "Calls made to other servers on the store", &CALLS_MADE),
        ("calls_heard_total", "Calls of other servers heard", &CALLS_HEARD),
        ("jobs_caught_up_total", "Jobs brought up to what other servers made of them", &CAUGHT_UP),
    ] {
        page.head(name, "counter", what);
        page.line(name, "", counter.read());
    }
    let count = |n: usize| i64::try_from(n).unwrap_or(i64::MAX);
    for (name, what, value) in [
        ("live_channels", "Browsers on the live channel", LIVE.0.load(Ordering::Relaxed)),
        ("jobs_held", "Jobs held in memory", count(now.jobs_held)),
        (
            "background_work",
            "Pieces of work under way off the threads that serve",
            count(now.background_work),
        ),
        ("store_ready", "Whether the store answers: 1 or 0", i64::from(now.store_ready)),
    ] {
        page.head(name, "gauge", what);
        page.line(name, "", value);
    }
    page.0
}

/// A page being written.
struct Page(String);

impl Page {
    fn head(&mut self, name: &str, kind: &str, what: &str) {
        // Writing into a text never fails.
        let _written = writeln!(self.0, "# HELP loamline_{name} {what}.\n# TYPE loamline_{name} {kind}");
    }

    fn line(&mut self, name: &str, labels: &str, value: impl std::fmt::Display) {
        let _written = writeln!(self.0, "loamline_{name}{labels} {value}");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn classes_of_time_hold_all_that_is_shorter_and_end_with_all_there_is() {
        let requests = Requests::new();
        for (status, ms) in [(200, 1), (200, 30), (404, 300), (500, 400_000)] {
            requests.saw(status, Duration::from_millis(ms));
        }
        let mut page = Page(String::new());
        requests.write(&mut page);
        for line in [
            "loamline_http_requests_total{status=\"2xx\"} 2",
            "loamline_http_requests_total{status=\"4xx\"} 1",
            "loamline_http_request_seconds_bucket{le=\"0.005\"} 1",
            "loamline_http_request_seconds_bucket{le=\"0.05\"} 2",
            "loamline_http_request_seconds_bucket{le=\"0.5\"} 3",
            "loamline_http_request_seconds_bucket{le=\"120\"} 3",
            "loamline_http_request_seconds_bucket{le=\"+Inf\"} 4",
            "loamline_http_request_seconds_count 4",
        ] {
            assert!(page.0.lines().any(|l| l == line), "{line} is not in\n{}", page.0);
        }
    }

    #[test]
    fn every_series_says_what_it_is_before_its_values() {
        let page = page(Now { jobs_held: 3, background_work: 0, store_ready: true });
        let mut known = Vec::new();
        for line in page.lines() {
            if let Some(rest) = line.strip_prefix("# TYPE ") {
                known.push(rest.split(' ').next().unwrap_or_default().to_owned());
            } else if !line.starts_with('#') {
                let name = line.split(['{', ' ']).next().unwrap_or_default();
                assert!(known.last().is_some_and(|k| name.starts_with(k.as_str())), "{line}");
            }
        }
        assert!(page.contains("loamline_jobs_held 3\n") && page.contains("loamline_store_ready 1\n"));
    }

    #[test]
    fn what_is_counted_now_is_given_back() {
        static THERE: Gauge = Gauge(AtomicI64::new(0));
        let two = (THERE.one(), THERE.one());
        assert_eq!(THERE.0.load(Ordering::Relaxed), 2);
        drop(two);
        assert_eq!(THERE.0.load(Ordering::Relaxed), 0);
    }
}
