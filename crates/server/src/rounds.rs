//! One answer for all who ask the same of a job at once.
//!
//! While somebody's answer is worked out, whoever asks for the same gathers for the next round: it is worked out once, of the
//! job as it is when it begins, and given to all of them. So sixty-four who edit one job and ask for its findings after every
//! edit have it worked out two at a time and not sixty-four, and take one turn of the many jobs there are. A round whose last
//! asker goes away is left off; those who stay lose nothing by others' leaving.
//!
//! Questions about one job mostly wait for each other: findings, levels and neighbours are made of the same. So they have no
//! more than a share of the turns at once, and another job's findings find one.

use crate::error::ApiError;
use axum::body::Bytes;
use futures_util::FutureExt as _;
use futures_util::future::{BoxFuture, Shared, WeakShared};
use loamline_limits::QUESTIONS_REMEMBERED;
use std::collections::HashMap;
use std::future::Future;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;
use tokio::sync::Semaphore;

/// What comes of a round: the answer as it is sent and when the round began, or why there is none.
pub type Outcome = Result<(Bytes, Instant), ApiError>;

/// What is asked of which job.
type Question = (String, &'static str);

type Round = Shared<BoxFuture<'static, Outcome>>;

/// A round by its number; it lives as long as somebody waits for it.
type Gathering = Option<(u64, WeakShared<BoxFuture<'static, Outcome>>)>;

/// Rounds of all questions.
#[derive(Clone, Default)]
pub struct Rounds(Arc<Mutex<HashMap<Question, Arc<Rows>>>>);

/// Those who ask one question.
struct Rows {
    /// Held by the round that is worked out.
    turn: tokio::sync::Mutex<()>,
    /// Turns that the questions about one job have between them; none where they may have all there are.
    of_the_job: Option<Arc<Semaphore>>,
    /// The round whoever asks now gathers for.
    gathering: Mutex<Gathering>,
}

impl Rows {
    fn gathering(&self) -> MutexGuard<'_, Gathering> {
        // Only ever replaced as a whole.
        self.gathering.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Whoever asks from now on is too late for this round.
    fn begin(&self, number: u64) {
        let mut gathering = self.gathering();
        if gathering.as_ref().is_some_and(|(gathers, _)| *gathers == number) {
            *gathering = None;
        }
    }
}

/// Told by the work of a round before it looks at the job: what it then sees is what everybody in the round had seen, or newer.
pub struct Begins {
    rows: Arc<Rows>,
    number: u64,
}

impl Begins {
    /// The round begins; the moment it does.
    pub fn now(self) -> Instant {
        self.rows.begin(self.number);
        Instant::now()
    }
}

impl Rounds {
    /// The answer to a question about a job, by the next round; `make` makes it where this is the first to ask. Of questions
    /// with a `share`, no more of one job are worked out at once.
    ///
    /// # Errors
    /// Those of the round.
    pub async fn ask<F: Future<Output = Outcome> + Send + 'static>(
        &self,
        job: &str,
        what: &'static str,
        share: Option<usize>,
        make: impl FnOnce(Begins) -> F,
    ) -> Outcome {
        // A statement of its own: no lock is held while it is waited for.
        let round = self.join((job.to_owned(), what), share, make);
        round.await
    }

    fn join<F: Future<Output = Outcome> + Send + 'static>(
        &self,
        question: Question,
        share: Option<usize>,
        make: impl FnOnce(Begins) -> F,
    ) -> Round {
        static NEXT: AtomicU64 = AtomicU64::new(1);
        let rows = self.rows(question, share);
        let mut gathering = rows.gathering();
        if let Some(round) = gathering.as_ref().and_then(|(_, round)| round.upgrade()) {
            return round;
        }
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let made = make(Begins { rows: Arc::clone(&rows), number });
        let own = Arc::clone(&rows);
        let round = async move {
            let _turn = own.turn.lock().await;
            let _of_the_job = match &own.of_the_job {
                Some(turns) => turns.acquire().await.ok(),
                None => None,
            };
            made.await
        };
        let round = round.boxed().shared();
        *gathering = round.downgrade().map(|weak| (number, weak));
        round
    }

    fn rows(&self, question: Question, share: Option<usize>) -> Arc<Rows> {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if all.len() >= QUESTIONS_REMEMBERED.most() && !all.contains_key(&question) {
            // A round, gathering or worked out, holds its rows.
            all.retain(|_, rows| Arc::strong_count(rows) > 1);
        }
        if let Some(known) = all.get(&question) {
            return Arc::clone(known);
        }
        let of_the_job = share.map(|most| {
            let mut others = all.iter().filter(|((job, _), _)| *job == question.0);
            let known = others.find_map(|(_, rows)| rows.of_the_job.clone());
            known.unwrap_or_else(|| Arc::new(Semaphore::new(most)))
        });
        let rows =
            Arc::new(Rows { turn: tokio::sync::Mutex::default(), of_the_job, gathering: Mutex::default() });
        all.insert(question, Arc::clone(&rows));
        rows
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicBool;
    use std::time::Duration;

    /// A job that is edited while somebody works out what its revision is.
    #[derive(Clone)]
    struct Job {
        rounds: Rounds,
        revision: Arc<AtomicU64>,
        worked: Arc<AtomicU64>,
        /// One leave for each round.
        go_on: Arc<Semaphore>,
    }

    impl Job {
        fn new() -> Self {
            let (rounds, go_on) = (Rounds::default(), Arc::new(Semaphore::new(0)));
            Self { rounds, revision: Arc::default(), worked: Arc::default(), go_on }
        }

        async fn ask(&self) -> u64 {
            let job = self.clone();
            let told = self.rounds.ask("job", "revision", None, |begins| async move {
                let began = begins.now();
                let seen = job.revision.load(Ordering::SeqCst);
                job.worked.fetch_add(1, Ordering::SeqCst);
                job.go_on.acquire().await.unwrap().forget();
                Ok((Bytes::from(seen.to_string()), began))
            });
            let (told, _) = told.await.unwrap();
            String::from_utf8(told.to_vec()).unwrap().parse().unwrap()
        }

        fn asked(&self) -> tokio::task::JoinHandle<u64> {
            let job = self.clone();
            tokio::spawn(async move { job.ask().await })
        }

        async fn until_worked(&self, times: u64) {
            while self.worked.load(Ordering::SeqCst) < times {
                tokio::time::sleep(Duration::from_millis(1)).await;
            }
        }
    }

    #[tokio::test]
    async fn who_asks_while_one_is_worked_out_shares_the_next_which_sees_the_newest() {
        let job = Job::new();
        let first = job.asked();
        job.until_worked(1).await;
        job.revision.store(1, Ordering::SeqCst);
        let mut others: Vec<_> = (0..63).map(|_| job.asked()).collect();
        tokio::time::sleep(Duration::from_millis(20)).await;
        job.revision.store(2, Ordering::SeqCst);
        assert_eq!(job.worked.load(Ordering::SeqCst), 1, "one at a time");
        // Of those in the round one going away changes nothing, whoever asked first.
        others.remove(0).abort();
        job.go_on.add_permits(2);
        assert_eq!(first.await.unwrap(), 0);
        for other in others {
            assert_eq!(other.await.unwrap(), 2);
        }
        assert_eq!(job.worked.load(Ordering::SeqCst), 2);
    }

    /// Tells when it is dropped.
    struct Tells(Arc<AtomicBool>);

    impl Drop for Tells {
        fn drop(&mut self) {
            self.0.store(true, Ordering::SeqCst);
        }
    }

    #[tokio::test]
    async fn a_round_everybody_leaves_is_left_off_and_the_next_one_begins() {
        let (rounds, left_off) = (Rounds::default(), Arc::new(AtomicBool::new(false)));
        let (asks, tells) = (rounds.clone(), Tells(Arc::clone(&left_off)));
        let left = tokio::spawn(async move {
            let never = |begins: Begins| async move {
                let _tells = tells;
                begins.now();
                std::future::pending::<Outcome>().await
            };
            asks.ask("job", "findings", None, never).await
        });
        tokio::time::sleep(Duration::from_millis(20)).await;
        let next = rounds.ask("job", "findings", None, |begins| async move {
            let began = begins.now();
            Ok((Bytes::from_static(b"made"), began))
        });
        left.abort();
        assert_eq!(next.await.unwrap().0, Bytes::from_static(b"made"));
        assert!(left_off.load(Ordering::SeqCst));
    }

    #[tokio::test]
    async fn questions_about_one_job_leave_turns_to_others() {
        let (rounds, go_on) = (Rounds::default(), Arc::new(Semaphore::new(0)));
        let begun = Arc::new(Mutex::new(Vec::new()));
        let asked = |job: &'static str, what: &'static str, share: Option<usize>| {
            let (rounds, go_on, begun) = (rounds.clone(), Arc::clone(&go_on), Arc::clone(&begun));
            tokio::spawn(async move {
                let make = |begins: Begins| async move {
                    let began = begins.now();
                    begun.lock().unwrap().push((job, what));
                    go_on.acquire().await.unwrap().forget();
                    Ok((Bytes::new(), began))
                };
                rounds.ask(job, what, share, make).await.is_ok()
            })
        };
        let all = [
            asked("theirs", "levels", Some(2)),
            asked("theirs", "lines", Some(2)),
            asked("theirs", "findings", Some(2)),
            asked("theirs", "papers", None),
            asked("ours", "findings", Some(2)),
        ];
        tokio::time::sleep(Duration::from_millis(50)).await;
        let now = begun.lock().unwrap().clone();
        assert_eq!(now.iter().filter(|(job, _)| *job == "theirs").count(), 3, "{now:?}");
        assert!(now.contains(&("theirs", "papers")) && now.contains(&("ours", "findings")), "{now:?}");
        go_on.add_permits(all.len());
        for one in all {
            assert!(one.await.unwrap());
        }
        assert_eq!(begun.lock().unwrap().len(), 5);
    }

    #[tokio::test]
    async fn questions_nobody_asks_are_forgotten() {
        let rounds = Rounds::default();
        for n in 0..3 * QUESTIONS_REMEMBERED.most() {
            let job = n.to_string();
            let told = rounds
                .ask(&job, "findings", Some(1), |begins| async move { Ok((Bytes::new(), begins.now())) });
            assert!(told.await.is_ok());
        }
        assert!(rounds.0.lock().unwrap().len() <= QUESTIONS_REMEMBERED.most());
    }
}
