//! Turns at one kind of work, and the queue for them: first come, first served, and whoever waits can be told their place.

use crate::error::ApiError;
use axum::extract::Request;
use axum::http::{HeaderName, HeaderValue};
use axum::middleware::Next;
use axum::response::Response;
use loamline_limits::Bound;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

/// How often whoever waits is told their place.
pub const TOLD_EVERY: Duration = Duration::from_millis(500);
/// Weight of the newest piece of work in what one usually takes.
const NEWEST: f64 = 0.2;

/// Turns at one kind of work.
#[derive(Debug)]
pub struct Lane {
    turns: Arc<Semaphore>,
    at_once: usize,
    /// None where whoever may wait is bounded elsewhere.
    most_waiting: Option<&'static Bound>,
    /// Those waiting by their number, the next one first, with the name they gave themselves.
    waiting: Mutex<BTreeMap<u64, Option<String>>>,
    /// What a piece of work usually takes, s.
    usual_s: Mutex<f64>,
}

impl Lane {
    /// So many turns at once; `usual_s` until it is known better.
    pub fn new(at_once: usize, most_waiting: Option<&'static Bound>, usual_s: f64) -> Self {
        let (turns, usual_s) = (Arc::new(Semaphore::new(at_once)), Mutex::new(usual_s));
        Self { turns, at_once, most_waiting, waiting: Mutex::default(), usual_s }
    }

    /// Turns there are.
    pub const fn at_once(&self) -> usize {
        self.at_once
    }

    /// Turns nobody has.
    pub fn free(&self) -> usize {
        self.turns.available_permits()
    }

    /// How many wait.
    pub fn waiting(&self) -> usize {
        self.queue().len()
    }

    /// What a piece of work usually takes, s.
    pub fn usual_s(&self) -> f64 {
        *self.usual_s.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Whole seconds until somebody at this place may have a turn.
    pub fn wait_s(&self, place: usize) -> u64 {
        (self.usual_s() * place as f64 / self.at_once as f64).ceil().clamp(1.0, 3600.0) as u64
    }

    /// Takes in how long a piece of work took.
    pub fn took(&self, s: f64) {
        let mut usual = self.usual_s.lock().unwrap_or_else(PoisonError::into_inner);
        *usual += NEWEST * (s - *usual);
    }

    /// The place of the one who waits under a name: 1 is next.
    pub fn place_of(&self, name: &str) -> Option<usize> {
        let at = self.queue().values().position(|waits| waits.as_deref() == Some(name))?;
        Some(at + 1)
    }

    /// A turn, once those before have had theirs. Tells now and then at which place it is; the place is given up once that
    /// answers false, or when what this gives is dropped.
    ///
    /// # Errors
    /// 503 with a time where too many wait; when the place was given up.
    pub async fn turn(
        &self,
        name: Option<String>,
        tell_place: impl Fn(usize) -> bool + Send,
    ) -> Result<OwnedSemaphorePermit, ApiError> {
        let since = Instant::now();
        let ticket = Ticket::draw(self, name)?;
        let asked = Arc::clone(&self.turns).acquire_owned();
        tokio::pin!(asked);
        let turn = loop {
            match tokio::time::timeout(TOLD_EVERY, &mut asked).await {
                Ok(Ok(turn)) => break turn,
                Ok(Err(_)) => return Err(ApiError::gave_up()),
                Err(_) if tell_place(ticket.place()) => {}
                Err(_) => return Err(ApiError::gave_up()),
            }
        };
        drop(ticket);
        waited_for(since.elapsed());
        Ok(turn)
    }

    fn queue(&self) -> MutexGuard<'_, BTreeMap<u64, Option<String>>> {
        // Nothing can give up half way through a look-up.
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A place in a queue, given up when it is dropped.
struct Ticket<'a> {
    lane: &'a Lane,
    number: u64,
}

impl<'a> Ticket<'a> {
    fn draw(lane: &'a Lane, name: Option<String>) -> Result<Self, ApiError> {
        let mut waiting = lane.queue();
        let length = waiting.len();
        if let Some(Err(more)) = lane.most_waiting.map(|most| most.check(length + 1)) {
            drop(waiting);
            return Err(ApiError::busy(&more, lane.wait_s(length)));
        }
        let number = waiting.last_key_value().map_or(0, |(last, _)| last + 1);
        waiting.insert(number, name);
        drop(waiting);
        Ok(Self { lane, number })
    }

    /// How many are before, and this one.
    fn place(&self) -> usize {
        self.lane.queue().range(..=self.number).count()
    }
}

impl Drop for Ticket<'_> {
    fn drop(&mut self) {
        self.lane.queue().remove(&self.number);
    }
}

tokio::task_local! {
    /// The longest that what a request asks for has waited for its turn, ms.
    static WAITED: Arc<AtomicU64>;
}

/// Takes in that what the request at hand asks for has waited; nothing outside a request.
pub fn waited_for(time: Duration) {
    let ms = u64::try_from(time.as_millis()).unwrap_or(u64::MAX);
    let _outside = WAITED.try_with(|waited| waited.fetch_max(ms, Ordering::Relaxed));
}

/// Writes on every answer that had to wait for its turn how long it did, where browsers look for such things
/// (`Server-Timing`, W3C): whoever finds an answer slow sees whether it was the work or the queue.
pub async fn tell_waits(request: Request, next: Next) -> Response {
    let waited = Arc::new(AtomicU64::new(0));
    let mut response = WAITED.scope(Arc::clone(&waited), next.run(request)).await;
    let ms = waited.load(Ordering::Relaxed);
    if ms > 0
        && let Ok(told) = HeaderValue::try_from(format!("queue;dur={ms}"))
    {
        response.headers_mut().insert(HeaderName::from_static("server-timing"), told);
    }
    response
}

/// Waits in a test until something is so.
#[cfg(test)]
pub async fn until(done: impl Fn() -> bool) {
    while !done() {
        tokio::time::sleep(Duration::from_millis(1)).await;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::StatusCode;
    use loamline_limits::WAITING_FOR_FOLDERS;

    #[tokio::test]
    async fn whoever_waits_under_a_name_finds_the_place_and_who_goes_away_gives_it_up() {
        let lane = Arc::new(Lane::new(1, Some(&WAITING_FOR_FOLDERS), 4.0));
        let held = lane.turn(None, |_| true).await.unwrap();
        let mut queue = Vec::new();
        for (before, name) in ["first", "second", "third"].into_iter().enumerate() {
            let lane = Arc::clone(&lane);
            let own = Arc::clone(&lane);
            queue.push(tokio::spawn(async move { own.turn(Some(name.to_owned()), |_| true).await }));
            until(|| lane.waiting() == before + 1).await;
        }
        assert_eq!(["first", "third", "nobody"].map(|n| lane.place_of(n)), [Some(1), Some(3), None]);
        queue.remove(0).abort();
        until(|| lane.waiting() == 2).await;
        assert_eq!(["first", "second", "third"].map(|n| lane.place_of(n)), [None, Some(1), Some(2)]);
        assert_eq!((lane.free(), lane.wait_s(2)), (0, 8));
        drop(held);
        for turn in queue {
            drop(turn.await.unwrap().unwrap());
        }
        assert_eq!((lane.free(), lane.waiting()), (1, 0));
    }

    #[tokio::test]
    async fn a_full_queue_says_how_many_wait_and_how_long_it_may_take() {
        let lane = Arc::new(Lane::new(2, Some(&WAITING_FOR_FOLDERS), 3.0));
        let _held = [lane.turn(None, |_| true).await.unwrap(), lane.turn(None, |_| true).await.unwrap()];
        let most = WAITING_FOR_FOLDERS.most();
        for _ in 0..most {
            let lane = Arc::clone(&lane);
            tokio::spawn(async move { lane.turn(None, |_| true).await });
        }
        until(|| lane.waiting() == most).await;
        let late = lane.turn(None, |_| true).await.unwrap_err();
        assert_eq!(late.status, StatusCode::SERVICE_UNAVAILABLE);
        let after_s = 3 * WAITING_FOR_FOLDERS.number / 2;
        assert_eq!(late.problem.retry_after_s, Some(after_s));
        let told = &late.problem.message;
        let both = [(most + 1).to_string(), format!("Try again in {after_s} s")];
        assert!(both.iter().all(|number| told.contains(number)), "{told}");
    }

    #[tokio::test]
    async fn what_a_request_waited_is_kept_for_it_alone() {
        let waited = Arc::new(AtomicU64::new(0));
        WAITED
            .scope(Arc::clone(&waited), async {
                waited_for(Duration::from_millis(40));
                waited_for(Duration::from_millis(7));
            })
            .await;
        waited_for(Duration::from_millis(90));
        assert_eq!(waited.load(Ordering::Relaxed), 40);
    }
}
