//! A worker without a server: it does what is asked for by way of a database, on a machine of its own.

use crate::follow::Following;
use crate::give_way::let_parallel_work_give_way;
use crate::jobs::Jobs;
use crate::serve::at_hand;
use crate::serve_error::ServeError;
use crate::stopping::stop_signal;
use crate::store::PostgresStore;
use crate::worker::Worker;
use loamline_limits::{STOPPING_S, STOPPING_WORK_S};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;

/// How to work.
#[derive(Debug, Clone)]
pub struct WorkOptions {
    /// Address of the database.
    pub database: String,
}

/// Works until the process is asked to stop (interrupt, terminate). Calls `ready` with the database in words once it works.
///
/// # Errors
/// [`ServeError`]: the database cannot be used, or the system gives no thread.
pub fn work(options: &WorkOptions, ready: impl FnOnce(&str)) -> Result<(), ServeError> {
    let store = PostgresStore::open(&options.database)?;
    let shown = store.shown().to_owned();
    let jobs = Arc::new(Jobs::new(Arc::new(store)));
    let_parallel_work_give_way();
    // Tells the servers how far it is.
    let following = Following::of(&jobs, None).map_err(ServeError::Stopped)?;
    let runtime =
        tokio::runtime::Builder::new_multi_thread().enable_all().build().map_err(ServeError::Stopped)?;
    runtime.block_on(async {
        let app = at_hand(Arc::clone(&jobs), None);
        tokio::spawn(app.clone().rest_now_and_then());
        let (end, ending) = watch::channel(false);
        let worker = Arc::new(Worker::new(Arc::clone(&jobs), app.background.clone()));
        let working = tokio::spawn(worker.run(ending));
        ready(&shown);
        stop_signal().await;
        tracing::info!("stopping");
        end.send_replace(true);
        // What is under way goes back to the queue; where there is no time for that, others take it over before long.
        let _in_time = tokio::time::timeout(Duration::from_secs(STOPPING_S.number), working).await;
    });
    runtime.shutdown_timeout(Duration::from_secs(STOPPING_WORK_S.number));
    drop(following);
    Ok(())
}
