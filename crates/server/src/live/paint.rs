//! One browser's maps, one after the other, always the newest wish.

use super::figures::{drag_figures, stored_figures, warm};
use super::map::{Canvas, Dragged, Room, ShownMap};
use super::message::{Figures, MapRequest, Told, text};
use crate::background::{Queue, StopsWhenDropped};
use crate::error::ApiError;
use crate::jobs::OpenJob;
use crate::queue::Lane;
use axum::extract::ws::Message;
use loamline_limits::{Exceeded, Leave, MAP_S, RESULTS_S};
use loamline_study::DragFigures;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::{OwnedSemaphorePermit, mpsc, watch};
use tokio::task::{JoinHandle, spawn_blocking};

/// Turns at working out maps, for all browsers together: as many at once as there are cores, first come first served.
/// More would make each slower and none faster. Whoever waits is told how many are before; a browser has one map and one set
/// of figures in it at most, so the queue is as long as there are channels.
#[derive(Clone)]
pub struct Painters {
    lane: Arc<Lane>,
    dragged: Dragged,
}

impl Default for Painters {
    fn default() -> Self {
        let cores = std::thread::available_parallelism().map_or(2, usize::from);
        Self { lane: Arc::new(Lane::new(cores, None, 0.1)), dragged: Dragged::default() }
    }
}

impl Painters {
    /// The maps under way and waiting, those with figures too.
    pub fn queue(&self) -> Queue {
        Queue::of("maps", &self.lane)
    }

    /// A turn for the newest wish; its place is told to the browser while it waits. None once the channel is closed.
    async fn turn(
        &self,
        wished: &watch::Receiver<Option<Wish>>,
        pictures: &mpsc::Sender<Message>,
    ) -> Option<OwnedSemaphorePermit> {
        let tell = |place: usize| {
            let request = wished.borrow().as_ref().map(|wish| wish.request.request);
            let Some(request) = request else { return true };
            let before = place.saturating_sub(1);
            // One that is not taken at once is old when it arrives.
            let told = pictures.try_send(text(&Told::Waiting { request, before }));
            !matches!(told, Err(TrySendError::Closed(_)))
        };
        self.lane.turn(None, tell).await.ok()
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

/// Works out maps until nobody wants any. What is under way when the channel closes (this is dropped) is left off.
pub async fn paint(
    job: Arc<OpenJob>,
    mut wished: watch::Receiver<Option<Wish>>,
    pictures: mpsc::Sender<Message>,
    painters: Painters,
) {
    let leave = Leave::unbounded();
    let _stops = StopsWhenDropped::new(&leave);
    let mut canvas = Canvas::default();
    let mut figures = Beside::new(&job, &painters, &leave);
    loop {
        tokio::select! {
            changed = wished.changed() => if changed.is_err() { return },
            told = figures.next() => {
                if let Some(told) = told && pictures.send(text(&Told::Figures(told))).await.is_err() {
                    return;
                }
                continue;
            }
        }
        let Some(turn) = painters.turn(&wished, &pictures).await else { return };
        let started = Instant::now();
        // The newest after waiting for a turn, not the one that woke us.
        let Some(wish) = wished.borrow_and_update().clone() else { continue };
        let (open, request, dragged) = (Arc::clone(&job), wish.request.clone(), painters.dragged.clone());
        let under = leave.clone();
        let worked = spawn_blocking(move || {
            under.scope(|| {
                let in_time = Leave::within(Duration::from_secs(MAP_S.number));
                match in_time.scope(|| canvas.paint(&open, &request, &dragged)) {
                    Ok(painted) => (canvas, painted),
                    // What it was worked out from may be half changed.
                    Err(_) => (Canvas::default(), Err(took_too_long())),
                }
            })
        });
        let painted = match worked.await {
            // Nobody is left to look at it.
            Ok(Err(_)) => return,
            Ok(Ok((back, painted))) => {
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
        painters.lane.took(started.elapsed().as_secs_f64());
        drop(turn);
        let is_picture = painted.is_ok();
        let message = match painted {
            Ok(frame) => Message::binary(frame),
            Err(e) => refused(wish.request.request, e),
        };
        if pictures.send(message).await.is_err() {
            return;
        }
        if is_picture && wish.request.figures {
            figures.want(canvas.shown());
        }
    }
}

/// Figures under way beside the maps: one set at a time, then those wanted last.
struct Beside<'a> {
    job: &'a Arc<OpenJob>,
    painters: &'a Painters,
    leave: &'a Leave,
    kept: DragFigures,
    /// What is kept takes.
    room: Option<Room>,
    task: Option<JoinHandle<(DragFigures, Option<Figures>)>>,
    wanted: Option<Arc<ShownMap>>,
    /// The stored job, when what a drag needs first is not laid out for it yet.
    cold: Option<Arc<ShownMap>>,
    /// Whether somebody looks at figures already; before that they may have every core.
    looked_at: bool,
}

impl<'a> Beside<'a> {
    fn new(job: &'a Arc<OpenJob>, painters: &'a Painters, leave: &'a Leave) -> Self {
        let kept = DragFigures::default();
        Self {
            job,
            painters,
            leave,
            kept,
            room: None,
            task: None,
            wanted: None,
            cold: None,
            looked_at: false,
        }
    }

    /// Wants the figures of what a map showed; what was wanted before and is not under way is forgotten.
    fn want(&mut self, shown: Option<Arc<ShownMap>>) {
        self.wanted = shown;
        self.start();
    }

    fn start(&mut self) {
        if self.task.is_some() {
            return;
        }
        let kept = std::mem::take(&mut self.kept);
        let (wanted, cold) = (self.wanted.take(), self.cold.take());
        let alone = !std::mem::replace(&mut self.looked_at, true);
        self.task = match (wanted, cold) {
            (Some(shown), _) if shown.preview.is_some() => {
                Some(self.run(kept, move |kept, _| drag_figures(kept, &shown)))
            }
            (Some(shown), _) => {
                self.cold = Some(Arc::clone(&shown));
                Some(self.run(kept, move |_, job| Some(stored_figures(job, shown.request, alone))))
            }
            (None, Some(shown)) => Some(self.run(kept, move |kept, _| {
                warm(kept, &shown);
                None
            })),
            (None, None) => {
                self.kept = kept;
                None
            }
        };
    }

    fn run(
        &self,
        mut kept: DragFigures,
        work: impl FnOnce(&mut DragFigures, &OpenJob) -> Option<Figures> + Send + 'static,
    ) -> JoinHandle<(DragFigures, Option<Figures>)> {
        let (job, painters, leave) = (Arc::clone(self.job), self.painters.clone(), self.leave.clone());
        tokio::spawn(async move {
            // A turn like a map's: many browsers share few cores.
            let _turn = painters.lane.turn(None, |_| true).await;
            let worked = spawn_blocking(move || {
                let in_time = Leave::within(Duration::from_secs(RESULTS_S.number));
                leave.scope(|| {
                    in_time.scope(|| {
                        let figures = work(&mut kept, &job);
                        (kept, figures)
                    })
                })
            });
            // What gave up inside is told by the next request for findings.
            worked.await.ok().and_then(|left| left.ok()?.ok()).unwrap_or_default()
        })
    }

    /// The next set of figures; never, while none is under way.
    async fn next(&mut self) -> Option<Figures> {
        let Some(task) = self.task.as_mut() else { return std::future::pending().await };
        let done = task.await;
        self.task = None;
        let figures;
        (self.kept, figures) = done.unwrap_or_default();
        self.room = None;
        self.room = self.painters.dragged.keep(self.kept.bytes());
        if self.room.is_none() {
            // Made anew for each step of the drag, more slowly.
            self.kept = DragFigures::default();
        }
        self.start();
        figures
    }
}

fn took_too_long() -> ApiError {
    ApiError::took_too_long(&Exceeded { bound: &MAP_S, found: MAP_S.number })
}

fn refused(request: u32, e: ApiError) -> Message {
    let mut problems = e.problem.problems;
    if problems.is_empty() {
        problems.push(crate::error::FieldProblem::new("", e.problem.message));
    }
    text(&Told::Refused { request: Some(request), problems })
}
