//! Tasks in the database: a row for each with what there is to tell of it, and beside it an entry of the queue (`hands`), which
//! says whose turn it is. The row alone decides who may deliver.

use super::PostgresStore;
use super::hands;
use super::rows::count;
use super::trouble::{Trouble, number, signed, text, texts, truth};
use crate::store::{Begun, Hand, NewTask, Outcome, StoreError, Task, TaskKind, Tasks};
use futures_util::future::BoxFuture;
use loamline_limits::{TASK_KEPT_S, UNWATCHED_S};
use postgres::Row;
use tokio::sync::watch;

/// Seconds for which servers that missed a call still find that a task is done.
const JUST_NOW_S: i64 = 10;

/// Columns of a task, as [`task`] reads them, of `loamline.tasks t`.
const TASK: &str = "
t.id, t.kind, t.job, t.wish, t.turn, t.said, t.progress, t.is_stopped, t.revision, t.outcome, t.status,
CASE WHEN t.turn = 0 AND t.ended_at IS NULL THEN (
  SELECT count(*) FROM loamline.tasks b WHERE b.ended_at IS NULL AND b.turn = 0
  AND (b.priority, b.asked_at, b.id) < (t.priority, t.asked_at, t.id)
) ELSE 0 END";

/// Whether somebody wants a task, where `$2` is how long nobody may.
const WANTED: &str = "NOT is_stopped AND (NOT is_waited_for OR wanted_at > now() - $2 * interval '1 second')";

fn kind(word: &str) -> Result<TaskKind, Trouble> {
    Ok(TaskKind::of(word).ok_or_else(|| StoreError::Damaged(format!("no task is called {word}")))?)
}

fn task(r: &Row) -> Result<Task, Trouble> {
    let status: i64 = r.try_get(10)?;
    let body: Option<String> = r.try_get(9)?;
    Ok(Task {
        id: r.try_get(0)?,
        kind: kind(r.try_get(1)?)?,
        job: r.try_get(2)?,
        wish: r.try_get(3)?,
        turn: count(r, 4)?,
        said: count(r, 5)?,
        progress: r.try_get(6)?,
        is_stopped: r.try_get(7)?,
        revision: count(r, 8)?,
        outcome: body.map(|body| Outcome { status: u16::try_from(status).unwrap_or(500), body }),
        before: count(r, 11)?,
    })
}

fn begun(r: &Row) -> Result<Begun, Trouble> {
    Ok(Begun {
        id: r.try_get(0)?,
        kind: kind(r.try_get(1)?)?,
        job: r.try_get(2)?,
        wish: r.try_get(3)?,
        turn: count(r, 4)?,
    })
}

impl PostgresStore {
    /// How many tasks of a kind have not ended of which something more is true.
    fn how_many(&self, kind: TaskKind, of_which: &str) -> Result<usize, StoreError> {
        let rows = self.rows(
            &format!(
                "SELECT count(*) FROM loamline.tasks WHERE ended_at IS NULL AND kind = $1 AND {of_which}"
            ),
            &[text(&kind.word())],
        )?;
        let found = rows.first().map(|r| count(r, 0)).transpose()?.unwrap_or_default();
        Ok(usize::try_from(found).unwrap_or(usize::MAX))
    }
}

impl Tasks for PostgresStore {
    fn ask_for(&self, new: &NewTask<'_>) -> Result<(), StoreError> {
        let (kind, priority) = (new.kind.word(), new.kind.priority());
        let (kept, is_waited_for) = (signed(TASK_KEPT_S.number), new.kind.is_waited_for());
        self.within(|t| {
            t.execute_typed(
                // What was never begun was lost with a queue that was not copied along.
                "DELETE FROM loamline.tasks
                 WHERE coalesce(ended_at, asked_at + interval '7 days') < now() - $1 * interval '1 second'",
                &[number(&kept)],
            )?;
            t.execute_typed(
                "UPDATE loamline.tasks
                 SET is_stopped = true, said = said + 1, ended_at = CASE WHEN turn = 0 THEN now() END
                 WHERE job = $1 AND kind = $2 AND ended_at IS NULL",
                &[text(&new.job), text(&kind)],
            )?;
            t.execute_typed(
                "INSERT INTO loamline.tasks (id, kind, job, wish, priority, is_waited_for)
                 VALUES ($1, $2, $3, $4, $5, $6)",
                &[
                    text(&new.id),
                    text(&kind),
                    text(&new.job),
                    text(&new.wish),
                    number(&priority),
                    truth(&is_waited_for),
                ],
            )?;
            t.query_typed(hands::ADD, &[text(&new.id), number(&priority)])?;
            Ok(())
        })?;
        self.calls.task_went_on(new.job);
        Ok(())
    }

    fn ask_for_all(&self, kind: TaskKind) -> Result<u64, StoreError> {
        let (word, priority, is_waited_for) = (kind.word(), kind.priority(), kind.is_waited_for());
        self.within(|t| {
            let rows =
                t.query_typed(hands::ADD_ALL, &[text(&word), number(&priority), truth(&is_waited_for)])?;
            rows.first().map_or(Ok(0), |r| count(r, 0))
        })
    }

    fn last_done(&self, kind: TaskKind) -> Result<Vec<Task>, StoreError> {
        let question = format!(
            "SELECT DISTINCT ON (t.job) {TASK} FROM loamline.tasks t
             WHERE t.kind = $1 AND t.outcome IS NOT NULL ORDER BY t.job, t.ended_at DESC"
        );
        let rows = self.rows(&question, &[text(&kind.word())])?;
        Ok(rows.iter().map(task).collect::<Result<Vec<_>, _>>()?)
    }

    fn waiting(&self, kind: TaskKind) -> Result<usize, StoreError> {
        self.how_many(kind, "turn = 0")
    }

    fn not_done(&self, kind: TaskKind) -> Result<usize, StoreError> {
        self.how_many(kind, "asked_at > now() - interval '1 day'")
    }

    fn task(&self, job: &str, id: &str) -> Result<Option<Task>, StoreError> {
        let question = format!("SELECT {TASK} FROM loamline.tasks t WHERE t.id = $1 AND t.job = $2");
        let rows = self.rows(&question, &[text(&id), text(&job)])?;
        Ok(rows.first().map(task).transpose()?)
    }

    fn tasks_of(&self, jobs: &[String]) -> Result<Vec<Task>, StoreError> {
        let question = format!(
            "SELECT {TASK} FROM loamline.tasks t WHERE t.job = ANY ($1)
             AND (t.ended_at IS NULL OR t.ended_at > now() - $2 * interval '1 second') ORDER BY t.asked_at, t.id"
        );
        let rows = self.rows(&question, &[texts(&jobs), number(&JUST_NOW_S)])?;
        Ok(rows.iter().map(task).collect::<Result<Vec<_>, _>>()?)
    }

    fn still_wanted(&self, ids: &[String]) -> Result<(), StoreError> {
        if ids.is_empty() {
            return Ok(());
        }
        self.execute(
            "UPDATE loamline.tasks SET wanted_at = now() WHERE id = ANY ($1) AND ended_at IS NULL",
            &[texts(&ids)],
        )?;
        Ok(())
    }

    fn stop(&self, job: &str, id: &str) -> Result<bool, StoreError> {
        let stopped = self.execute(
            "UPDATE loamline.tasks
             SET is_stopped = true, said = said + 1, ended_at = CASE WHEN turn = 0 THEN now() END
             WHERE id = $1 AND job = $2 AND ended_at IS NULL",
            &[text(&id), text(&job)],
        )?;
        if stopped > 0 {
            self.calls.task_went_on(job);
            return Ok(true);
        }
        Ok(self.task(job, id)?.is_some())
    }

    fn begin(&self, id: &str) -> Result<Option<Begun>, StoreError> {
        let unwatched = signed(UNWATCHED_S.number);
        let rows = self.rows(
            &format!(
                "UPDATE loamline.tasks SET turn = turn + 1, said = said + 1
                 WHERE id = $1 AND ended_at IS NULL AND {WANTED} RETURNING id, kind, job, wish, turn"
            ),
            &[text(&id), number(&unwatched)],
        )?;
        if let Some(row) = rows.first() {
            let turn = begun(row)?;
            self.calls.task_went_on(&turn.job);
            return Ok(Some(turn));
        }
        // Done, or what nobody wants: that is its end.
        let ended = self.rows(
            "UPDATE loamline.tasks SET is_stopped = true, said = said + 1, ended_at = now()
             WHERE id = $1 AND ended_at IS NULL RETURNING job",
            &[text(&id)],
        )?;
        for row in &ended {
            self.calls.task_went_on(row.try_get(0).map_err(Trouble::from)?);
        }
        Ok(None)
    }

    fn report(&self, turn: &Begun, progress: &str) -> Result<bool, StoreError> {
        let (unwatched, number_of) = (signed(UNWATCHED_S.number), signed(turn.turn));
        let rows = self.rows(
            &format!(
                "UPDATE loamline.tasks SET progress = $3, said = said + 1
                 WHERE id = $1 AND turn = $4 AND ended_at IS NULL RETURNING {WANTED}"
            ),
            &[text(&turn.id), number(&unwatched), text(&progress), number(&number_of)],
        )?;
        // None: somebody else is at it, or it is over.
        let Some(row) = rows.first() else { return Ok(false) };
        self.calls.task_went_on(&turn.job);
        Ok(row.try_get(0).map_err(Trouble::from)?)
    }

    fn deliver(&self, turn: &Begun, revision: u64, outcome: &Outcome) -> Result<bool, StoreError> {
        let [of, number_of] = [revision, turn.turn].map(signed);
        let status = i64::from(outcome.status);
        let taken = self.execute(
            "UPDATE loamline.tasks SET revision = $3, status = $4, outcome = $5, said = said + 1, ended_at = now()
             WHERE id = $1 AND turn = $2 AND ended_at IS NULL",
            &[text(&turn.id), number(&number_of), number(&of), number(&status), text(&outcome.body)],
        )?;
        if taken > 0 {
            self.calls.task_went_on(&turn.job);
        }
        Ok(taken > 0)
    }

    fn work(&self, hand: Hand, stop: watch::Receiver<bool>) -> BoxFuture<'_, ()> {
        Box::pin(hands::work(&self.pool, hand, stop))
    }
}
