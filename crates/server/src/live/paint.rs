//! One browser's maps, one after the other, always the newest wish.

use super::map::Canvas;
use super::message::{Figures, MapRequest, Told};
use super::text;
use crate::error::ApiError;
use crate::jobs::OpenJob;
use axum::extract::ws::Message;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::{Semaphore, mpsc, watch};
use tokio::task::{JoinHandle, spawn_blocking};

/// While pictures follow each other, figures come at least so often.
const FIGURES_EVERY: Duration = Duration::from_millis(120);

/// Turns at working out maps, for all browsers together: as many at once as there are cores, first come first served.
/// More would make each slower and none faster.
#[derive(Clone)]
pub struct Painters(Arc<Semaphore>);

impl Default for Painters {
    fn default() -> Self {
        let cores = std::thread::available_parallelism().map_or(2, usize::from);
        Self(Arc::new(Semaphore::new(cores)))
    }
}

/// A map somebody wants.
#[derive(Debug, Clone, PartialEq)]
pub struct Wish {
    /// The request.
    pub request: MapRequest,
    /// How often the job has changed: a map of before is no map of after.
    pub changes: u64,
}

/// Works out maps until nobody wants any.
pub async fn paint(
    job: Arc<OpenJob>,
    mut wished: watch::Receiver<Option<Wish>>,
    pictures: mpsc::Sender<Message>,
    painters: Painters,
) {
    let mut canvas = Canvas::default();
    let mut figures_at = Instant::now();
    // Figures of the stored job take as long as many maps: they are worked out beside them.
    let mut stored: Option<JoinHandle<Option<Figures>>> = None;
    loop {
        let ready = async {
            match stored.as_mut() {
                Some(task) => task.await,
                None => std::future::pending().await,
            }
        };
        tokio::select! {
            changed = wished.changed() => if changed.is_err() { return },
            figures = ready => {
                stored = None;
                // A job that gave up inside is told by the next request for its findings.
                if let Ok(Some(figures)) = figures
                    && pictures.send(text(&Told::Figures(figures))).await.is_err()
                {
                    return;
                }
                continue;
            }
        }
        let Ok(turn) = painters.0.acquire().await else { return };
        // The newest after waiting for a turn, not the one that woke us.
        let Some(wish) = wished.borrow_and_update().clone() else { continue };
        let (open, request) = (Arc::clone(&job), wish.request.clone());
        let worked = spawn_blocking(move || {
            let painted = canvas.paint(&open, &request);
            (canvas, painted)
        });
        let painted = match worked.await {
            Ok((back, painted)) => {
                canvas = back;
                painted
            }
            Err(_) => {
                canvas = Canvas::default();
                Err(ApiError::field(
                    "",
                    "This map could not be worked out: something inside the program gave up.",
                ))
            }
        };
        drop(turn);
        let is_picture = painted.is_ok();
        let message = match painted {
            Ok(frame) => Message::binary(frame),
            Err(e) => refused(wish.request.request, e),
        };
        if pictures.send(message).await.is_err() {
            return;
        }
        if !is_picture || !wish.request.figures {
            continue;
        }
        let open = Arc::clone(&job);
        if wish.request.preview.operations.is_empty() {
            let request = wish.request.request;
            stored = Some(spawn_blocking(move || Some(super::map::stored_figures(&open, request))));
            continue;
        }
        let newer = wished.has_changed().unwrap_or(false);
        if newer && figures_at.elapsed() < FIGURES_EVERY {
            continue;
        }
        let Ok(turn) = painters.0.acquire().await else { return };
        let worked = spawn_blocking(move || {
            let figures = canvas.preview_figures(&open);
            (canvas, figures)
        });
        let figures = match worked.await {
            Ok((back, figures)) => {
                canvas = back;
                figures
            }
            Err(_) => {
                canvas = Canvas::default();
                None
            }
        };
        drop(turn);
        figures_at = Instant::now();
        if let Some(figures) = figures
            && pictures.send(text(&Told::Figures(figures))).await.is_err()
        {
            return;
        }
    }
}

fn refused(request: u32, e: ApiError) -> Message {
    let mut problems = e.problem.problems;
    if problems.is_empty() {
        problems.push(crate::error::FieldProblem::new("", e.problem.message));
    }
    text(&Told::Refused { request: Some(request), problems })
}
