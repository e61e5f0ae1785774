//! Being asked to stop, and stopping without losing anything.

use axum_server::Handle;
use loamline_limits::{DRAINED_S, STOPPING_S};
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// Waits for whoever asks the process to stop, says so where it is asked about, and lets answers under way come to their end.
pub async fn stop_when_asked(handle: Handle<SocketAddr>, stopping: Arc<AtomicBool>, is_asked_about: bool) {
    stop_signal().await;
    stopping.store(true, Ordering::Relaxed);
    tracing::info!("stopping");
    if is_asked_about {
        // Whoever shares requests out among servers is told before a connection is refused.
        tokio::time::sleep(Duration::from_secs(DRAINED_S.number)).await;
    }
    // Long enough for an answer under way; the live channel does not hold up the end.
    handle.graceful_shutdown(Some(Duration::from_secs(STOPPING_S.number)));
}

/// Waits for whoever asks the process to stop.
pub async fn stop_signal() {
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
