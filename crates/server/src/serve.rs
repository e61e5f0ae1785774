//! Listening, and stopping without losing anything.

use crate::api::{self, App};
use crate::error::ApiError;
use crate::guard::{Door, guard};
use crate::jobs::Jobs;
use crate::live::Painters;
use crate::store::{SqliteStore, StoreError};
use crate::web;
use axum::Router;
use axum_server::accept::NoDelayAcceptor;
use std::fs::{File, TryLockError};
use std::net::{Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// How to serve.
#[derive(Debug, Clone)]
pub struct ServeOptions {
    /// Folder the jobs are kept in; made when it is not there.
    pub data: PathBuf,
    /// Port on the loopback address; 0 takes a free one.
    pub port: u16,
}

/// What people are told once the server answers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ready {
    /// Address of the app on this computer.
    pub address: String,
    /// Whether the web app is inside this program.
    pub app_built: bool,
}

/// Why there is no server.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The folder cannot be used.
    #[error("{} cannot be used to keep jobs in: {source}", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// Another server uses the folder.
    #[error("{} is in use by another loamline; stop that one, or choose another folder with --data", path.display())]
    InUse {
        /// The folder.
        path: PathBuf,
    },
    /// The store cannot be opened.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The example cannot be kept.
    #[error("{0}")]
    Example(String),
    /// The port is taken.
    #[error("port {port} cannot be listened on: {source}; choose another with --port")]
    Port {
        /// The port.
        port: u16,
        /// Why.
        source: std::io::Error,
    },
    /// The run-time cannot be started, or listening ended.
    #[error("the server stopped: {0}")]
    Stopped(std::io::Error),
}

impl From<ApiError> for ServeError {
    fn from(e: ApiError) -> Self {
        Self::Example(e.problem.message)
    }
}

/// Everything the server answers, behind its guard.
pub fn application(jobs: Arc<Jobs>, door: Door) -> Router {
    let (routes, _) = api::routes();
    routes
        .fallback(web::app)
        .with_state(App { jobs, painters: Painters::default(), papers: api::Made::default() })
        .layer(axum::middleware::from_fn_with_state(Arc::new(door), guard))
}

/// Serves until the process is asked to stop (interrupt, terminate). Calls `ready` once requests are answered.
///
/// # Errors
/// [`ServeError`].
pub fn serve(options: &ServeOptions, ready: impl FnOnce(&Ready)) -> Result<(), ServeError> {
    // Held until the end: two servers on one folder would not see each other's edits.
    let _lock = lock(&options.data)?;
    let store = Arc::new(SqliteStore::open(&options.data.join("jobs.sqlite"))?);
    let jobs = Arc::new(Jobs::new(store));
    api::open_example_first(&jobs)?;
    let runtime =
        tokio::runtime::Builder::new_multi_thread().enable_all().build().map_err(ServeError::Stopped)?;
    runtime.block_on(async {
        let address = SocketAddr::from((Ipv4Addr::LOCALHOST, options.port));
        let listen = || {
            let listener = std::net::TcpListener::bind(address)?;
            listener.set_nonblocking(true)?;
            Ok((listener.local_addr()?.port(), listener))
        };
        let (port, listener) = listen().map_err(|source| ServeError::Port { port: options.port, source })?;
        let handle = axum_server::Handle::new();
        let app = application(jobs, Door::loopback(port)).into_make_service();
        let stopper = handle.clone();
        tokio::spawn(async move {
            stop_signal().await;
            // Long enough for an answer under way; the live channel does not hold up the end.
            stopper.graceful_shutdown(Some(Duration::from_secs(2)));
        });
        ready(&Ready { address: format!("http://127.0.0.1:{port}/"), app_built: web::BUILT });
        let server = axum_server::from_tcp(listener).map_err(ServeError::Stopped)?;
        // Without this a short message waits 40 ms for the answer to the one before it.
        server.acceptor(NoDelayAcceptor::new()).handle(handle).serve(app).await.map_err(ServeError::Stopped)
    })
}

fn lock(folder: &Path) -> Result<File, ServeError> {
    let unusable = |source| ServeError::Folder { path: folder.to_owned(), source };
    std::fs::create_dir_all(folder).map_err(unusable)?;
    let file = File::create(folder.join("lock")).map_err(unusable)?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(ServeError::InUse { path: folder.to_owned() }),
        Err(TryLockError::Error(source)) => Err(unusable(source)),
    }
}

async fn stop_signal() {
    let interrupt = async {
        // Without a signal there is nothing to wait for: run until killed.
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        let terminate = async {
            match signal(SignalKind::terminate()) {
                Ok(mut s) => {
                    s.recv().await;
                }
                Err(_) => std::future::pending().await,
            }
        };
        tokio::select! {
            () = interrupt => {}
            () = terminate => {}
        }
    }
    #[cfg(not(unix))]
    interrupt.await;
}
