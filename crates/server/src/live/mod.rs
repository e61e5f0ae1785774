//! The live channel: a browser that looks at a job hears of every edit, and gets maps and figures that follow a drag.
//!
//! One task per browser reads and writes its socket; one more works out its maps. Only the newest wish for a map is
//! kept, so a browser that asks faster than maps can be made gets fewer of them and never an old one after a new one.

mod figures;
mod frame;
mod map;
mod message;
mod paint;

use crate::access::Asker;
use crate::api::extract::{Asked as Query, In, holds_little};
use crate::app::App;
use crate::background::{Work, blocking};
use crate::error::{ApiError, FieldProblem};
use crate::error_code::ErrorCode;
use crate::jobs::{Event, Jobs, OpenJob, person};
use crate::metrics::LIVE;
use crate::store::Entry;
use crate::told::Told as Shared;
use crate::web::VERSION;
use crate::without_prices::leave_out;
use axum::Extension;
use axum::extract::State;
use axum::extract::ws::{Message, WebSocket, WebSocketUpgrade};
use axum::response::Response;
use figures::{AskStored, stored_figures};
use futures_util::stream::{SplitSink, SplitStream};
use futures_util::{FutureExt as _, SinkExt as _, StreamExt as _};
use loamline_limits::{LIVE_BYTES, PINGS_UNANSWERED};
use message::{Asked, Told, text};
pub use paint::Painters;
use paint::{Wish, paint};
use serde::Deserialize;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::{broadcast, mpsc, watch};

/// A browser that says nothing is asked so often whether it is still there.
const PING: Duration = Duration::from_secs(20);

/// How often it is asked, while pictures and figures go out, whether a device still may look on.
const ASKED_EVERY: Duration = Duration::from_secs(1);

/// Who is looking.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LiveQuery {
    /// Their name, as others see it.
    #[serde(default)]
    client: String,
}

/// Opens the live channel of a job.
pub async fn live(
    State(app): State<App>,
    In(id): In<String>,
    Query(query): Query<LiveQuery>,
    Extension(asker): Extension<Asker>,
    upgrade: Result<WebSocketUpgrade, axum::extract::ws::rejection::WebSocketUpgradeRejection>,
) -> Result<Response, ApiError> {
    let upgrade = upgrade.map_err(|e| {
        ApiError::new(e.status(), ErrorCode::BadRequest, "The live channel is a WebSocket; open it as one.")
    })?;
    let name = person("?client", &query.client)?;
    let job = app.job(id, |job| Ok(Arc::clone(job))).await?;
    let painters = app.painters.clone();
    let stored = asks_stored(app.clone(), job.id().to_owned(), asker.sees_prices());
    let leave = Leave {
        jobs: app.jobs,
        asker,
        changed: app.sharing.as_ref().map(|s| s.changed.subscribe()),
        asked: Mutex::new(Instant::now()),
    };
    Ok(upgrade
        .max_message_size(LIVE_BYTES.most())
        .max_frame_size(LIVE_BYTES.most())
        .on_upgrade(move |socket| attend(socket, job, name, (painters, stored), leave)))
}

/// Figures of the stored job are findings, and asked for like those: pictures and drags give way to them.
fn asks_stored(app: App, id: String, prices: bool) -> AskStored {
    let what = if prices { "figures" } else { "figures without prices" };
    Arc::new(move || {
        let (app, id) = (app.clone(), id.clone());
        let asked = async move {
            let told = app.shared(Work::Results, what, id, move |job| Ok(stored_figures(job, prices)));
            // What is wrong with the job is told by the next request for findings.
            told.await.ok().map(Shared::into_bytes)
        };
        asked.boxed()
    })
}

/// What a browser's stay depends on.
struct Leave {
    jobs: Arc<Jobs>,
    asker: Asker,
    /// Tells of devices turned away, or in another role now; none where no device is let in.
    changed: Option<watch::Receiver<()>>,
    /// When it was last asked whether the device still may.
    asked: Mutex<Instant>,
}

impl Leave {
    /// Whether the device has been turned away meanwhile, or given another role, by what is known for at most so long. A store
    /// that cannot be read turns nobody away.
    async fn is_withdrawn(&self, known_for: Duration) -> bool {
        let Asker::Paired(device) = &self.asker else { return false };
        {
            let mut asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
            if asked.elapsed() < known_for {
                return false;
            }
            *asked = Instant::now();
        }
        let (jobs, id) = (Arc::clone(&self.jobs), device.id.clone());
        let found = blocking(move || Ok(jobs.store().device(&id)?)).await;
        found.is_ok_and(|now| now.is_none_or(|now| now.role != device.role))
    }
}

/// Ends when some device was turned away or given another role; never where none is let in.
async fn changed(told: &mut Option<watch::Receiver<()>>) {
    let is_told = match told {
        Some(receiver) => receiver.changed().await.is_ok(),
        None => false,
    };
    if !is_told {
        std::future::pending::<()>().await;
    }
}

/// A browser's stay.
async fn attend(
    socket: WebSocket,
    job: Arc<OpenJob>,
    name: String,
    (painters, stored): (Painters, AskStored),
    mut leave: Leave,
) {
    static NEXT: AtomicU64 = AtomicU64::new(1);
    let key = NEXT.fetch_add(1, Ordering::Relaxed);
    let _counted = LIVE.one();
    let events = job.listen();
    job.arrive(key, &name);
    let (wish, wished) = watch::channel::<Option<Wish>>(None);
    // One message under way, one ready: what waits longer would be old when it arrives.
    let (pictures, painted) = mpsc::channel(1);
    let painter = tokio::spawn(paint(Arc::clone(&job), wished, pictures, painters, stored));
    let (sink, stream) = socket.split();
    converse(&job, (sink, stream), events, &wish, painted, &mut leave).await;
    drop(wish);
    painter.abort();
    job.leave(key);
}

/// Reads and writes until one side ends it.
async fn converse(
    job: &OpenJob,
    (mut sink, mut stream): (SplitSink<WebSocket, Message>, SplitStream<WebSocket>),
    mut events: broadcast::Receiver<Event>,
    wish: &watch::Sender<Option<Wish>>,
    mut painted: mpsc::Receiver<Message>,
    leave: &mut Leave,
) {
    let mut told_of_changes = leave.changed.take();
    let mut ping = tokio::time::interval(PING);
    ping.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    let mut unanswered = 0;
    let hello = text(&Told::Hello { revision: job.now().revision, app: VERSION });
    if sink.send(hello).await.is_err() {
        return;
    }
    // Turned away by another program on the same folder, nobody is told here: it is asked.
    let mut look = tokio::time::interval(ASKED_EVERY);
    look.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    loop {
        let mut is_news = false;
        let message = tokio::select! {
            () = changed(&mut told_of_changes) => {
                if leave.is_withdrawn(Duration::ZERO).await {
                    return;
                }
                continue;
            }
            _ = look.tick(), if matches!(leave.asker, Asker::Paired(_)) => {
                if leave.is_withdrawn(ASKED_EVERY).await {
                    return;
                }
                continue;
            }
            read = stream.next() => match read {
                Some(Ok(Message::Text(asked))) => {
                    unanswered = 0;
                    match read_message(asked.as_str(), wish) {
                        Some(refusal) => refusal,
                        None => continue,
                    }
                }
                Some(Ok(Message::Close(_)) | Err(_)) | None => return,
                Some(Ok(_)) => {
                    unanswered = 0;
                    continue;
                }
            },
            event = events.recv() => match event {
                Ok(Event::Edited(entry)) => {
                    // The picture that stands is of an older job now.
                    wish.send_if_modified(|w| w.as_mut().map(|w| w.changes += 1).is_some());
                    is_news = true;
                    edited(&entry, leave.asker.sees_prices())
                }
                Ok(Event::People(names)) => text(&Told::People { names: &names }),
                // Proposals tell what they cost.
                Ok(Event::Message(_)) if !leave.asker.sees_prices() => continue,
                Ok(Event::Message(value)) => Message::text(value.to_string()),
                Ok(Event::Gone) => {
                    // Nothing more to say, whether or not it arrives.
                    let _sent = sink.send(text(&Told::Gone)).await;
                    return;
                }
                Err(RecvError::Lagged(_)) => text(&Told::Behind),
                Err(RecvError::Closed) => return,
            },
            Some(picture) = painted.recv() => picture,
            _ = ping.tick() => {
                unanswered += 1;
                if unanswered > PINGS_UNANSWERED.most() {
                    return;
                }
                Message::Ping(Vec::new().into())
            }
        };
        // Asked for every edit; what follows a hand is asked for now and then.
        let known_for = if is_news { Duration::ZERO } else { ASKED_EVERY };
        if leave.is_withdrawn(known_for).await || sink.send(message).await.is_err() {
            return;
        }
    }
}

/// Takes in what a browser says; what to answer when it cannot be understood.
fn read_message(asked: &str, wish: &watch::Sender<Option<Wish>>) -> Option<Message> {
    if let Err(more) = holds_little(asked.as_bytes()) {
        // Which request it was stands somewhere in it: it is not read.
        let problems = ApiError::too_large("", more).problem.problems;
        return Some(text(&Told::Refused { request: None, problems }));
    }
    match serde_json::from_str::<Asked>(asked) {
        Ok(Asked::Map(request)) => {
            wish.send_modify(|w| {
                let changes = w.as_ref().map_or(0, |w| w.changes);
                *w = Some(Wish { request, changes });
            });
            None
        }
        Ok(Asked::MapOff) => {
            wish.send_replace(None);
            None
        }
        Err(e) => {
            let request = serde_json::from_str::<serde_json::Value>(asked).ok();
            let request = request.and_then(|v| v.get("request")?.as_u64()?.try_into().ok());
            Some(text(&Told::Refused { request, problems: vec![FieldProblem::new("", format!("{e}."))] }))
        }
    }
}

fn edited(e: &Entry, with_prices: bool) -> Message {
    let told = Told::Edit {
        revision: e.revision,
        entry: e.kind.word(),
        edit_id: &e.edit_id,
        patch: &e.patch,
        who: &e.who,
        at: &e.at,
        note: &e.note,
    };
    if with_prices {
        return text(&told);
    }
    let mut told = serde_json::to_value(&told).unwrap_or_default();
    leave_out(&mut told);
    Message::text(told.to_string())
}
