//! One browser's maps, one after the other, always the newest wish.

use super::figures::{AskStored, drag_figures, warm};
use super::map::{Canvas, Dragged, Room, ShownMap};
use super::message::{MapRequest, Told, figures, text};
use crate::background::{Queue, StopsWhenDropped};
use crate::error::ApiError;
use crate::give_way::{Behind, on_a_thread};
use crate::jobs::OpenJob;
use crate::queue::Lane;
use axum::extract::ws::Message;
use loamline_limits::{DRAG_RESTS_S, Exceeded, Leave, MAP_S, PICTURE_WAITS_S, RESULTS_S};
use loamline_study::DragFigures;
use loamline_terms::say;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::{OwnedSemaphorePermit, mpsc, watch};
use tokio::task::{JoinHandle, spawn_blocking};
use tokio::time::{sleep_until, timeout};

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
///
/// What a drag is worked out from is kept from one picture to the next while a hand moves and its pictures are taken. Once the
/// hand rests, or a picture waits for a browser that does not read, it is let go: the next picture is made from the map of the
/// stored job, which is everybody's.
pub async fn paint(
    job: Arc<OpenJob>,
    mut wished: watch::Receiver<Option<Wish>>,
    pictures: mpsc::Sender<Message>,
    painters: Painters,
    stored: AskStored,
) {
    let leave = Leave::unbounded();
    let _stops = StopsWhenDropped::new(&leave);
    let mut canvas = Canvas::default();
    let mut beside = Beside::new(&painters, &leave, stored);
    let mut rests = tokio::time::Instant::now();
    loop {
        let keeps = canvas.keeps_a_map() || beside.keeps_fields();
        tokio::select! {
            changed = wished.changed() => if changed.is_err() { return },
            told = beside.next() => {
                if let Some(told) = told && !hand_over(&pictures, told, (&mut canvas, &mut beside)).await {
                    return;
                }
                continue;
            }
            () = sleep_until(rests), if keeps => {
                canvas.let_go();
                beside.let_go();
                continue;
            }
        }
        let Some(turn) = painters.turn(&wished, &pictures).await else { return };
        let started = Instant::now();
        // The newest after waiting for a turn, not the one that woke us.
        let Some(wish) = wished.borrow_and_update().clone() else { continue };
        let painted = match worked(canvas, &job, &wish.request, &painters.dragged, &leave).await {
            // Nobody is left to look at it.
            Some(None) => return,
            Some(Some((back, painted))) => {
                canvas = back;
                painted
            }
            None => {
                canvas = Canvas::default();
                Err(ApiError::field(
                    "",
                    say!("This map could not be worked out: something inside the program gave up."),
                ))
            }
        };
        painters.lane.took(started.elapsed().as_secs_f64());
        drop(turn);
        let (message, shown) = match painted {
            Ok((frame, shown)) => (Message::binary(frame), Some(shown)),
            Err(e) => (refused(wish.request.request, e), None),
        };
        if !hand_over(&pictures, message, (&mut canvas, &mut beside)).await {
            return;
        }
        rests = tokio::time::Instant::now() + Duration::from_secs(DRAG_RESTS_S.number);
        if let Some(shown) = shown.filter(|_| wish.request.figures) {
            beside.want(Arc::new(shown));
        }
    }
}

/// Hands a message over; while it waits for the one before to be taken, nothing is kept for the next. Whether anybody is left
/// to take it.
async fn hand_over(
    pictures: &mpsc::Sender<Message>,
    message: Message,
    (canvas, beside): (&mut Canvas, &mut Beside<'_>),
) -> bool {
    match timeout(Duration::from_secs(PICTURE_WAITS_S.number), pictures.reserve()).await {
        Ok(Ok(room)) => {
            room.send(message);
            true
        }
        Ok(Err(_)) => false,
        Err(_) => {
            canvas.let_go();
            beside.let_go();
            pictures.send(message).await.is_ok()
        }
    }
}

/// A canvas with the picture made on it, and what the picture shows.
type Painted = (Canvas, Result<(Vec<u8>, ShownMap), ApiError>);

/// Makes a picture behind whoever edits or waits for findings. None within where the leave is over; none at all where
/// something gave up.
async fn worked(
    mut canvas: Canvas,
    job: &Arc<OpenJob>,
    request: &MapRequest,
    dragged: &Dragged,
    leave: &Leave,
) -> Option<Option<Painted>> {
    let (open, request, dragged, leave) = (Arc::clone(job), request.clone(), dragged.clone(), leave.clone());
    let paint = move || {
        let in_time = Leave::within(Duration::from_secs(MAP_S.number));
        let painted = in_time.scope(|| {
            // Findings start from it as well: whoever waits for those does not wait for what stands behind them.
            let _scene = open.now().study.sound();
            Behind::Findings.stand();
            canvas.paint(&open, &request, &dragged)
        });
        match painted {
            Ok(painted) => (canvas, painted),
            // What it was worked out from may be half changed.
            Err(_) => (Canvas::default(), Err(took_too_long())),
        }
    };
    on_a_thread("map", move || leave.scope(paint).ok()).await
}

/// Figures under way beside the maps: one set at a time, then those wanted last.
struct Beside<'a> {
    painters: &'a Painters,
    leave: &'a Leave,
    stored: AskStored,
    kept: Kept,
    task: Option<JoinHandle<(Kept, Option<Message>)>>,
    wanted: Option<Arc<ShownMap>>,
    /// The stored job, when what a drag needs first is not laid out for it yet.
    cold: Option<Arc<ShownMap>>,
}

/// What the figures of drags are worked out from, with the room it takes.
#[derive(Default)]
struct Kept {
    figures: DragFigures,
    room: Option<Room>,
}

impl<'a> Beside<'a> {
    fn new(painters: &'a Painters, leave: &'a Leave, stored: AskStored) -> Self {
        Self { painters, leave, stored, kept: Kept::default(), task: None, wanted: None, cold: None }
    }

    /// Whether it keeps the fields of a drag.
    const fn keeps_fields(&self) -> bool {
        self.kept.room.is_some()
    }

    /// Lets go of the fields of a drag.
    fn let_go(&mut self) {
        self.kept.figures.let_go();
        self.kept.room = None;
    }

    /// Wants the figures of what a map showed; what was wanted before and is not under way is forgotten.
    fn want(&mut self, shown: Arc<ShownMap>) {
        self.wanted = Some(shown);
        self.start();
    }

    fn start(&mut self) {
        if self.task.is_some() {
            return;
        }
        self.task = match (self.wanted.take(), self.cold.take()) {
            (Some(shown), _) if shown.preview.is_some() => {
                let made = move |kept: &mut DragFigures| {
                    let made = serde_json::to_vec(&drag_figures(kept, &shown)?).ok()?;
                    figures(shown.request, &made)
                };
                Some(self.run(made))
            }
            (Some(shown), _) => {
                let (request, kept) = (shown.request, std::mem::take(&mut self.kept));
                self.cold = Some(shown);
                let told = (self.stored)();
                Some(tokio::spawn(async move { (kept, told.await.and_then(|made| figures(request, &made))) }))
            }
            (None, Some(shown)) => Some(self.run(move |kept| {
                warm(kept, &shown);
                None
            })),
            (None, None) => None,
        };
    }

    fn run(
        &mut self,
        work: impl FnOnce(&mut DragFigures) -> Option<Message> + Send + 'static,
    ) -> JoinHandle<(Kept, Option<Message>)> {
        let Kept { figures: mut kept, room } = std::mem::take(&mut self.kept);
        let (painters, leave) = (self.painters.clone(), self.leave.clone());
        tokio::spawn(async move {
            // A turn like a map's: many browsers share few cores.
            let _turn = painters.lane.turn(None, |_| true).await;
            let worked = spawn_blocking(move || {
                let in_time = Leave::within(Duration::from_secs(RESULTS_S.number));
                leave.scope(|| {
                    in_time.scope(|| {
                        let told = work(&mut kept);
                        (kept, told)
                    })
                })
            });
            // What gave up inside is told by the next request for findings.
            let done = worked.await.ok().and_then(|left| left.ok()?.ok());
            // Taken anew by what it now is, and here: whoever does not read leaves what is done lying.
            drop(room);
            let Some((figures, told)) = done else { return (Kept::default(), None) };
            match painters.dragged.keep(figures.bytes()) {
                Some(room) => (Kept { figures, room: Some(room) }, told),
                // Made anew for each step of the drag, more slowly.
                None => (Kept::default(), told),
            }
        })
    }

    /// The next set of figures; never, while none is under way.
    async fn next(&mut self) -> Option<Message> {
        let Some(task) = self.task.as_mut() else { return std::future::pending().await };
        let done = task.await;
        self.task = None;
        let told;
        (self.kept, told) = done.unwrap_or_default();
        self.start();
        told
    }
}

impl Drop for Beside<'_> {
    fn drop(&mut self) {
        // Nobody is left to hear it.
        if let Some(task) = &self.task {
            task.abort();
        }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::Jobs;
    use crate::queue::until;
    use crate::store::SqliteStore;
    use futures_util::FutureExt as _;
    use serde_json::json;

    const EXAMPLE: &str = include_str!("../../../../examples/guesthouse-garden/job.toml");

    /// Somebody who drags a loudspeaker about.
    struct Dragging {
        wish: watch::Sender<Option<Wish>>,
        pictures: mpsc::Receiver<Message>,
        painters: Painters,
    }

    impl Dragging {
        fn at(job: &Arc<OpenJob>) -> Self {
            let ((wish, wished), (sent, pictures)) = (watch::channel(None), mpsc::channel(1));
            let painters = Painters::default();
            let none: AskStored = Arc::new(|| std::future::ready(None).boxed());
            tokio::spawn(paint(Arc::clone(job), wished, sent, painters.clone(), none));
            Self { wish, pictures, painters }
        }

        fn moves(&self, request: u32, figures: bool) {
            let place = json!([3.0 + 0.1 * f64::from(request), 2.0]);
            let preview = json!([{ "op": "replace", "path": "/loudspeakers/L1/position", "value": place }]);
            let wanted = json!({ "request": request, "quantity": "LAeq", "spacing_m": 2.0, "figures": figures,
                "preview": preview });
            let request = serde_json::from_value(wanted).unwrap();
            self.wish.send_replace(Some(Wish { request, changes: 0 }));
        }

        fn keeps(&self) -> bool {
            self.painters.dragged.taken() > 0
        }
    }

    #[tokio::test(flavor = "multi_thread")]
    async fn what_a_drag_is_made_from_is_let_go_once_the_hand_rests_or_nobody_reads() {
        let jobs = Jobs::new(Arc::new(SqliteStore::in_memory().unwrap()));
        let job = jobs.open(&jobs.create(EXAMPLE, &[], &[]).unwrap()).unwrap();
        let mut hand = Dragging::at(&job);
        for n in 0..3 {
            hand.moves(n, true);
            while !matches!(hand.pictures.recv().await, Some(Message::Binary(_))) {}
            assert!(hand.keeps(), "kept from one picture to the next");
        }
        // It rests, and whatever comes is read.
        let mut read = hand.pictures;
        let reads = tokio::spawn(async move { while read.recv().await.is_some() {} });
        let dragged = hand.painters.dragged.clone();
        let rested = tokio::time::timeout(Duration::from_secs(60), until(|| dragged.taken() == 0)).await;
        assert!(rested.is_ok(), "{} bytes are kept for a hand that rests", dragged.taken());
        reads.abort();
        // The first picture is ready to be taken, the second waits for it.
        let deaf = Dragging::at(&job);
        deaf.moves(1, false);
        until(|| deaf.keeps()).await;
        deaf.moves(2, false);
        let asked = Instant::now();
        let let_go = tokio::time::timeout(Duration::from_secs(60), until(|| !deaf.keeps())).await;
        assert!(let_go.is_ok(), "kept for somebody who does not read");
        assert!(asked.elapsed() >= Duration::from_secs(PICTURE_WAITS_S.number), "{:?}", asked.elapsed());
    }
}
