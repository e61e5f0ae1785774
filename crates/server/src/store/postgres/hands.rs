//! Whose turn at a task it is: the queue of `graphile_worker` in the same database, in a schema of its own. It hands out each
//! entry once, the least priority first, and hands out again what a worker held that gives no sign of life.
//!
//! Left out of it: its own notices (a look every half a second costs less than another connection that listens), its retries of
//! what a task answers (an outcome is an answer, also where it is a refusal), timetables.

use super::pool::Pool;
use super::trouble::{Trouble, number};
use crate::store::{Hand, StoreError};
use deadpool_postgres::Pool as Connections;
use graphile_worker::{IntoTaskHandlerResult, TaskHandler, WorkerContext, WorkerOptions, WorkerUtils};
use loamline_limits::{WORKER_HEARD_S, WORKER_LOST_S};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::time::Duration;
use tokio::sync::watch;

/// The schema of the queue's own tables.
const SCHEMA: &str = "loamline_queue";

/// Adds an entry to the queue: the task's id and its priority.
pub const ADD: &str = "SELECT (loamline_queue.add_job(
    'task', json_build_object('task', $1), NULL, NULL, NULL, $1, $2::int)).id";

/// Writes a task of a kind (`$1`, with its priority and whether it is waited for) for every job that none waits for, and adds
/// them to the queue; how many they are.
pub const ADD_ALL: &str = "
WITH asked AS (
  INSERT INTO loamline.tasks (id, kind, job, wish, priority, is_waited_for)
  SELECT gen_random_uuid()::text, $1, j.id, '{}', $2, $3 FROM loamline.jobs j
  WHERE j.deleted_at IS NULL AND NOT j.template AND NOT EXISTS (
    SELECT 1 FROM loamline.tasks t WHERE t.job = j.id AND t.kind = $1 AND t.ended_at IS NULL AND t.turn = 0
    AND t.asked_at > now() - interval '1 day'
  )
  RETURNING id
)
SELECT count((loamline_queue.add_job(
  'task', json_build_object('task', id), NULL, NULL, NULL, id, $2::int)).id) FROM asked";

/// Taken by whoever brings the queue's tables up to date, so that of servers that start together one does. Any number; nobody
/// else's.
const LOCK: i64 = 0x6c6f_616d_7175_6575;

/// Connections of one worker: for its looks, its signs of life, its look for others that are lost.
const CONNECTIONS: usize = 4;

/// How often the queue is looked at.
const LOOKED_EVERY: Duration = Duration::from_millis(500);

/// How long after the database went away it is tried again.
const AGAIN: Duration = Duration::from_secs(1);

/// How long a task under way may go on once the worker is to stop: it is begun anew elsewhere, and nothing of it is kept.
const GRACE: Duration = Duration::from_secs(1);

/// An entry of the queue.
#[derive(Serialize, Deserialize)]
struct Turn {
    task: String,
}

/// The hand of a worker, where its turns find it.
#[derive(Clone)]
struct Held(Hand);

impl fmt::Debug for Held {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Held")
    }
}

impl TaskHandler for Turn {
    const IDENTIFIER: &'static str = "task";

    async fn run(self, context: WorkerContext) -> impl IntoTaskHandlerResult {
        let held = context.get_ext::<Held>().cloned();
        drop(context);
        match held {
            Some(Held(hand)) => hand(self.task).await,
            None => Err(StoreError::Refused("a worker has no hand".into())),
        }
    }
}

/// Connections of a worker's own.
fn connections(pool: &Pool) -> Result<Connections, StoreError> {
    let made = Connections::builder(pool.address().manager()).max_size(CONNECTIONS).build();
    made.map_err(|e| StoreError::Refused(e.to_string()))
}

/// Brings the queue's tables to the version this program knows. Waits: not on a thread that serves.
///
/// # Errors
/// When the database cannot be reached or does not allow it.
pub fn prepare(pool: &Pool) -> Result<(), Trouble> {
    let mut client = pool.connect()?;
    // Given back with the connection.
    client.query_typed("SELECT pg_advisory_lock($1)", &[number(&LOCK)])?;
    let refused = |why: String| Trouble::from(StoreError::Refused(why));
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.map_err(|e| refused(e.to_string()))?;
    runtime.block_on(async {
        let queue = WorkerUtils::new(connections(pool)?, SCHEMA);
        queue.migrate().await.map_err(|e| refused(format!("its queue of work cannot be made: {e}")))
    })
}

/// Works off the queue until it is told to stop; where the database goes away, until it is back.
pub async fn work(pool: &Pool, hand: Hand, stop: watch::Receiver<bool>) {
    while !*stop.borrow() {
        if let Err(why) = works(pool, &hand, stop.clone()).await {
            tracing::warn!(%why, "the queue of work cannot be reached");
            tokio::time::sleep(AGAIN).await;
        }
    }
}

async fn works(pool: &Pool, hand: &Hand, mut stop: watch::Receiver<bool>) -> Result<(), StoreError> {
    let away = |why: String| StoreError::Away(why);
    let [heard, lost] = [&WORKER_HEARD_S, &WORKER_LOST_S].map(|bound| Duration::from_secs(bound.number));
    let worker = WorkerOptions::default()
        .database(connections(pool)?)
        .schema(SCHEMA)
        .concurrency(1)
        .poll_interval(LOOKED_EVERY)
        .use_notification_delivery(false)
        .heartbeat_interval(heard)
        .sweep_interval(heard)
        .sweep_threshold(lost)
        .recovery_delay(Duration::ZERO)
        .listen_os_shutdown_signals(false)
        .shutdown_grace_period(GRACE)
        .shutdown_interrupted_job_retry_delay(Duration::ZERO)
        .shutdown_signal(async move {
            // Whoever would say so is gone: that is an end too.
            let _told = stop.wait_for(|stop| *stop).await;
        })
        .add_extension(Held(hand.clone()))
        .define_job::<Turn>()
        .init()
        .await
        .map_err(|e| away(e.to_string()))?;
    worker.run().await.map_err(|e| away(e.to_string()))
}
