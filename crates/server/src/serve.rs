//! Listening, and stopping without losing anything.

use crate::access::{here, only_who_may};
use crate::api;
use crate::app::App;
use crate::background::Background;
use crate::connections::{Bounded, Places, Room, impatient, in_time};
use crate::error::ApiError;
use crate::give_way::let_parallel_work_give_way;
use crate::guard::{Door, guard};
use crate::jobs::Jobs;
use crate::live::Painters;
use crate::made_papers::MadePapers;
use crate::proposal_runs::ProposalRuns;
use crate::queue::tell_waits;
use crate::rounds::Rounds;
use crate::share::{Authority, CertificateError, Pairing, Sharing, addresses, explanation, gate};
use crate::store::{Role, SqliteStore, StoreError, for_its_owner};
use crate::web;
use axum::Router;
use axum_server::Handle;
use axum_server::accept::NoDelayAcceptor;
use axum_server::tls_rustls::{RustlsAcceptor, RustlsConfig};
use loamline_limits::{STOPPING_S, STOPPING_WORK_S};
use std::fs::{File, TryLockError};
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;

/// How to serve.
#[derive(Debug, Clone)]
pub struct ServeOptions {
    /// Folder the jobs are kept in; made when it is not there.
    pub data: PathBuf,
    /// Port on the loopback address; 0 takes a free one.
    pub port: u16,
    /// Whether devices on the same network are let in: by HTTPS on the next port, with the page that explains the
    /// warning on the one after it (free ones when `port` is 0).
    pub share: bool,
}

/// What people are told once the server answers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ready {
    /// Address of the app on this computer.
    pub address: String,
    /// Whether the web app is inside this program.
    pub app_built: bool,
    /// How other devices get in, if they do.
    pub shared: Option<Shared>,
    /// A sentence for each job that was damaged where it is kept, put right or not.
    pub put_right: Vec<String>,
}

/// How other devices get in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shared {
    /// Addresses of the app on the network, the likeliest first.
    pub addresses: Vec<String>,
    /// Address to open on a phone: the page that explains the warning, with the code to pair with.
    pub start_at: String,
    /// The same as a square to scan, rows of dark (true) and light modules.
    pub square: Vec<Vec<bool>>,
    /// The code to pair with.
    pub code: String,
    /// SHA-256 of the certificate phones take in.
    pub fingerprint: String,
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
    /// The example, or a code to pair with, cannot be made.
    #[error("{0}")]
    Example(String),
    /// There is no certificate for the network.
    #[error(transparent)]
    Certificate(#[from] CertificateError),
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
    guarded(at_this_computer(routes(at_hand(jobs, None))), door)
}

/// Whoever asks is at this computer.
fn at_this_computer(router: Router) -> Router {
    router.layer(axum::middleware::from_fn(here))
}

fn at_hand(jobs: Arc<Jobs>, sharing: Option<Arc<Sharing>>) -> App {
    App {
        jobs,
        painters: Painters::default(),
        background: Background::default(),
        rounds: Rounds::default(),
        papers: MadePapers::default(),
        runs: ProposalRuns::default(),
        sharing,
    }
}

fn routes(app: App) -> Router {
    let (routes, _) = api::routes();
    routes
        .fallback(web::app)
        .with_state(app)
        .layer(axum::middleware::from_fn(only_who_may))
        .layer(axum::middleware::from_fn(in_time))
        .layer(axum::middleware::from_fn(tell_waits))
}

fn guarded(router: Router, door: Door) -> Router {
    router.layer(axum::middleware::from_fn_with_state(Arc::new(door), guard))
}

/// The store in a folder, without the server: for looking after paired devices while it may be running.
///
/// # Errors
/// When it cannot be opened.
pub fn store_in(data: &Path) -> Result<SqliteStore, ServeError> {
    private_folder(data)?;
    Ok(SqliteStore::open(&data.join("jobs.sqlite"))?)
}

/// Serves until the process is asked to stop (interrupt, terminate). Calls `ready` once requests are answered.
///
/// # Errors
/// [`ServeError`].
pub fn serve(options: &ServeOptions, ready: impl FnOnce(&Ready)) -> Result<(), ServeError> {
    private_folder(&options.data)?;
    // Held until the end: two servers on one folder would not see each other's edits.
    let _lock = lock(&options.data)?;
    // Should that lock be taken away and a second server start, the first one is refused what it wants to write.
    let jobs = Arc::new(Jobs::new(Arc::new(store_in(&options.data)?.take_over()?)));
    let put_right = jobs.look_over()?;
    jobs.clear_away()?;
    api::open_example_first(&jobs)?;
    let own = listen(Ipv4Addr::LOCALHOST, options.port)?;
    let network = if options.share { Some(open_to_network(options)?) } else { None };
    let_parallel_work_give_way();
    let room = Room::asked_for();
    let runtime =
        tokio::runtime::Builder::new_multi_thread().enable_all().build().map_err(ServeError::Stopped)?;
    let served = runtime.block_on(async {
        let handle = Handle::new();
        let stopper = handle.clone();
        tokio::spawn(async move {
            stop_signal().await;
            // Long enough for an answer under way; the live channel does not hold up the end.
            stopper.graceful_shutdown(Some(Duration::from_secs(STOPPING_S.number)));
        });
        let sharing = network.as_ref().map(|n| Arc::clone(&n.sharing));
        let app = at_hand(Arc::clone(&jobs), sharing);
        tokio::spawn(app.clone().rest_now_and_then());
        let app = routes(app);
        if let Some(n) = network.as_ref() {
            n.serve(&app, &jobs, &handle, Places::network(room.network))?;
        }
        ready(&Ready {
            address: format!("http://127.0.0.1:{}/", own.port),
            app_built: web::BUILT,
            shared: network.as_ref().map(Network::shared).transpose()?,
            put_right,
        });
        let app = guarded(at_this_computer(app), Door::loopback(own.port)).into_make_service();
        let server = impatient(axum_server::from_tcp(own.listener).map_err(ServeError::Stopped)?);
        // Without this a short message waits 40 ms for the answer to the one before it.
        let acceptor = Bounded::new(NoDelayAcceptor::new(), Places::here(room.here));
        server.acceptor(acceptor).handle(handle).serve(app).await.map_err(ServeError::Stopped)
    });
    // A proposal being made is let go: nobody is left to hear it, and it has written nothing.
    runtime.shutdown_timeout(Duration::from_secs(STOPPING_WORK_S.number));
    served
}

/// A port being listened on.
struct Listening {
    port: u16,
    listener: TcpListener,
}

fn listen(address: Ipv4Addr, port: u16) -> Result<Listening, ServeError> {
    let open = || {
        let listener = TcpListener::bind(SocketAddr::from((address, port)))?;
        listener.set_nonblocking(true)?;
        Ok(Listening { port: listener.local_addr()?.port(), listener })
    };
    open().map_err(|source| ServeError::Port { port, source })
}

/// What other devices come in by.
struct Network {
    app: Listening,
    explanation: Listening,
    config: Arc<rustls::ServerConfig>,
    sharing: Arc<Sharing>,
}

fn open_to_network(options: &ServeOptions) -> Result<Network, ServeError> {
    let next = |n: u16| if options.port == 0 { 0 } else { options.port.saturating_add(n) };
    let app = listen(Ipv4Addr::UNSPECIFIED, next(1))?;
    let explanation = listen(Ipv4Addr::UNSPECIFIED, next(2))?;
    let authority = Authority::kept_in(&options.data)?;
    let own = addresses();
    let config = authority.server(&own)?;
    let at = |scheme: &str, port: u16| -> Vec<String> {
        own.iter()
            .filter(|a| a.is_ipv4())
            .map(|a| format!("{scheme}://{}/", SocketAddr::from((*a, port))))
            .collect()
    };
    let sharing = Sharing {
        pairing: Pairing::default(),
        authority,
        addresses: at("https", app.port),
        explained_at: at("http", explanation.port),
        changed: watch::channel(()).0,
    };
    Ok(Network { app, explanation, config, sharing: Arc::new(sharing) })
}

impl Network {
    /// Serves both in the background, until the handle stops them.
    fn serve(
        &self,
        app: &Router,
        jobs: &Arc<Jobs>,
        handle: &Handle<SocketAddr>,
        places: Places,
    ) -> Result<(), ServeError> {
        let door = |scheme, port| Door { scheme, port, names: vec!["localhost".into()], any_address: true };
        let gated = app.clone().layer(axum::middleware::from_fn_with_state(Arc::clone(jobs), gate));
        let app =
            guarded(gated, door("https", self.app.port)).into_make_service_with_connect_info::<SocketAddr>();
        let page = explanation(Arc::clone(&self.sharing), self.app.port);
        let page = guarded(page, door("http", self.explanation.port)).into_make_service();
        let server = |l: &TcpListener| Ok(impatient(axum_server::from_tcp(l.try_clone()?)?));
        let tls = RustlsAcceptor::new(RustlsConfig::from_config(Arc::clone(&self.config)))
            .acceptor(NoDelayAcceptor::new());
        let secure = server(&self.app.listener).map_err(ServeError::Stopped)?;
        let plain = server(&self.explanation.listener).map_err(ServeError::Stopped)?;
        // Both end with the handle; an error of one of them leaves the app on this computer running.
        let secure = secure.acceptor(Bounded::new(tls, places.clone())).handle(handle.clone()).serve(app);
        let plain = plain.acceptor(Bounded::new(NoDelayAcceptor::new(), places));
        let plain = plain.handle(handle.clone()).serve(page);
        tokio::spawn(async move { secure.await.is_ok() });
        tokio::spawn(async move { plain.await.is_ok() });
        Ok(())
    }

    fn shared(&self) -> Result<Shared, ServeError> {
        let s = &self.sharing;
        let code = s.pairing.code(Role::Designer).map_err(|e| ServeError::Example(e.to_string()))?;
        let start_at = s.explained_at.first().map(|a| api::with_code(a, &code)).unwrap_or_default();
        Ok(Shared {
            addresses: s.addresses.clone(),
            square: square(&start_at),
            start_at,
            code,
            fingerprint: s.authority.fingerprint(),
        })
    }
}

/// An address as a square to scan; empty when it is too long for one.
fn square(address: &str) -> Vec<Vec<bool>> {
    let Ok(code) = qrcode::QrCode::new(address.as_bytes()) else { return Vec::new() };
    let width = code.width().max(1);
    let dark: Vec<bool> = code.to_colors().into_iter().map(|c| c == qrcode::Color::Dark).collect();
    dark.chunks(width).map(<[bool]>::to_vec).collect()
}

/// The folder for data, made for its owner's eyes alone where it is not there.
fn private_folder(folder: &Path) -> Result<(), ServeError> {
    let mut made = std::fs::DirBuilder::new();
    made.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut made, 0o700);
    made.create(folder).map_err(|source| ServeError::Folder { path: folder.to_owned(), source })
}

fn lock(folder: &Path) -> Result<File, ServeError> {
    let unusable = |source| ServeError::Folder { path: folder.to_owned(), source };
    let path = folder.join("lock");
    // Not emptied: some systems refuse that while another holds the lock, and that it is held is to be told instead.
    let file = File::options().write(true).create(true).truncate(false).open(&path).map_err(unusable)?;
    for_its_owner(&path);
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
