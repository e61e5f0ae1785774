//! Listening, and stopping without losing anything.

use crate::access::{here, only_who_may};
use crate::api;
use crate::app::App;
use crate::background::Background;
use crate::checked::Checked;
use crate::connections::{Bounded, Places, Room, impatient, in_time};
use crate::data_folder::{lock, private_folder, store_in};
use crate::follow::Following;
use crate::give_way::let_parallel_work_give_way;
use crate::guard::{Door, guard};
use crate::jobs::Jobs;
use crate::live::Painters;
use crate::made_papers::MadePapers;
use crate::metrics::observed;
use crate::operations::{Operated, operations as operations_of};
use crate::proposal_runs::ProposalRuns;
use crate::queue::tell_waits;
use crate::rounds::Rounds;
use crate::serve_error::ServeError;
use crate::share::{Authority, Named, Pairing, Sharing, addresses, certificate, explanation, gate};
use crate::sign_in::{Accounts, Provider, SignIn};
use crate::stopping::stop_when_asked;
use crate::store::{PostgresStore, Role};
use crate::web;
use crate::worker::Worker;
use axum::Router;
use axum_server::Handle;
use axum_server::accept::NoDelayAcceptor;
use axum_server::tls_rustls::{RustlsAcceptor, RustlsConfig};
use loamline_limits::{OPERATIONS_CONNECTIONS, STOPPING_S, STOPPING_WORK_S};
use std::fs::File;
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Duration;
use tokio::sync::watch;

/// How to serve.
#[derive(Debug, Clone)]
pub struct ServeOptions {
    /// Folder the jobs are kept in, and certificates; made when it is not there.
    pub data: PathBuf,
    /// Address of a database that keeps the jobs in place of the folder, for several servers.
    pub database: Option<String>,
    /// Whether work that is asked for by way of the database is done here too, and not only by workers of its own.
    pub works: bool,
    /// Where `/health` and `/metrics` are answered; nowhere when absent.
    pub operations: Option<SocketAddr>,
    /// Port on the loopback address; 0 takes a free one.
    pub port: u16,
    /// Whether devices on the same network are let in: by HTTPS on the next port, with the page that explains the
    /// warning on the one after it (free ones when `port` is 0).
    pub share: bool,
    /// How people sign in on the network, beside pairing by a code.
    pub sign_in: SignInOptions,
}

/// How people sign in on the network.
#[derive(Debug, Clone, Default)]
pub struct SignInOptions {
    /// The address they open the app by, `https://NAME`, beside those by number: passkeys and providers want a name.
    pub address: Option<String>,
    /// The firm's own certificate for that name, and its key, PEM; without, whoever stands in front has it.
    pub certificate: Option<(PathBuf, PathBuf)>,
    /// The file that names the firm's identity provider.
    pub provider: Option<PathBuf>,
}

/// What people are told once the server answers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ready {
    /// Address of the app on this computer.
    pub address: String,
    /// Whether the web app is inside this program.
    pub app_built: bool,
    /// Where the jobs are kept, in words.
    pub kept_in: String,
    /// Address of `/health` and `/metrics`, if they are answered.
    pub operations: Option<String>,
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
    /// The address by name, where there is one.
    pub named: Option<String>,
    /// Address to open on a phone: the page that explains the warning, with the code to pair with.
    pub start_at: String,
    /// The same as a square to scan, rows of dark (true) and light modules.
    pub square: Vec<Vec<bool>>,
    /// The code to pair with.
    pub code: String,
    /// SHA-256 of the certificate phones take in.
    pub fingerprint: String,
}

/// Everything the server answers, behind its guard.
pub fn application(jobs: Arc<Jobs>, door: Door) -> Router {
    guarded(at_this_computer(routes(at_hand(jobs, None))), door)
}

/// Whoever asks is at this computer.
fn at_this_computer(router: Router) -> Router {
    router.layer(axum::middleware::from_fn(here))
}

/// What there is at hand for these jobs.
pub fn at_hand(jobs: Arc<Jobs>, sharing: Option<Arc<Sharing>>) -> App {
    App {
        jobs,
        painters: Painters::default(),
        background: Background::default(),
        rounds: Rounds::default(),
        papers: MadePapers::default(),
        runs: ProposalRuns::default(),
        checked: Checked::default(),
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
        .layer(axum::middleware::from_fn(observed))
}

fn guarded(router: Router, door: Door) -> Router {
    router.layer(axum::middleware::from_fn_with_state(Arc::new(door), guard))
}

/// Serves until the process is asked to stop (interrupt, terminate). Calls `ready` once requests are answered.
///
/// # Errors
/// [`ServeError`].
pub fn serve(options: &ServeOptions, ready: impl FnOnce(&Ready)) -> Result<(), ServeError> {
    let Kept { jobs, shown, _lock } = kept(options)?;
    // Damage is looked for in a file; of a database every job is looked over when it is opened, and there may be thousands.
    let put_right = if jobs.are_shared() { Vec::new() } else { jobs.look_over()? };
    jobs.clear_away()?;
    api::open_example_first(&jobs)?;
    let own = listen(SocketAddr::from((Ipv4Addr::LOCALHOST, options.port)), "--port")?;
    let network = if options.share { Some(open_to_network(options)?) } else { None };
    let operations = options.operations.map(|at| listen(at, "--metrics-listen")).transpose()?;
    let_parallel_work_give_way();
    let room = Room::asked_for();
    let sharing = network.as_ref().map(|n| Arc::clone(&n.sharing));
    let following = Following::of(&jobs, sharing.clone()).map_err(ServeError::Stopped)?;
    let runtime =
        tokio::runtime::Builder::new_multi_thread().enable_all().build().map_err(ServeError::Stopped)?;
    let served = runtime.block_on(async {
        let handle = Handle::new();
        let stopping = Arc::new(AtomicBool::new(false));
        tokio::spawn(stop_when_asked(handle.clone(), Arc::clone(&stopping), operations.is_some()));
        let app = at_hand(Arc::clone(&jobs), sharing);
        tokio::spawn(app.clone().rest_now_and_then());
        let (end, ending) = watch::channel(false);
        let worker = Arc::new(Worker::new(Arc::clone(&app.jobs), app.background.clone()));
        let working = options.works.then(|| tokio::spawn(worker.run(ending)));
        let app = routes(app);
        if let Some(n) = network.as_ref() {
            n.serve(&app, &jobs, &handle, Places::network(room.network))?;
        }
        let asked_at = operations.as_ref().map(|o| format!("http://{}/", o.address));
        if let Some(o) = operations {
            let about = operations_of(Operated { jobs: Arc::clone(&jobs), stopping });
            tokio::spawn(in_background(o.listener, about, handle.clone())?);
        }
        ready(&Ready {
            address: format!("http://127.0.0.1:{}/", own.address.port()),
            app_built: web::BUILT,
            kept_in: shown,
            operations: asked_at,
            shared: network.as_ref().map(Network::shared).transpose()?,
            put_right,
        });
        let app = guarded(at_this_computer(app), Door::loopback(own.address.port())).into_make_service();
        let server = impatient(axum_server::from_tcp(own.listener).map_err(ServeError::Stopped)?);
        // Without this a short message waits 40 ms for the answer to the one before it.
        let acceptor = Bounded::new(NoDelayAcceptor::new(), Places::here(room.here));
        let served = server.acceptor(acceptor).handle(handle).serve(app).await.map_err(ServeError::Stopped);
        end.send_replace(true);
        if let Some(working) = working {
            // What is under way goes back to the queue; where there is no time for that, others take it over before long.
            let _in_time = tokio::time::timeout(Duration::from_secs(STOPPING_S.number), working).await;
        }
        served
    });
    // A proposal being made is let go: nobody is left to hear it, and it has written nothing.
    runtime.shutdown_timeout(Duration::from_secs(STOPPING_WORK_S.number));
    // After the last edit, so that the others are told of it.
    drop(following);
    served
}

/// Where jobs are kept while they are served.
struct Kept {
    jobs: Arc<Jobs>,
    shown: String,
    /// Held until the end.
    _lock: Option<File>,
}

fn kept(options: &ServeOptions) -> Result<Kept, ServeError> {
    if let Some(address) = &options.database {
        if options.share {
            private_folder(&options.data)?;
        }
        let store = PostgresStore::open(address)?;
        let shown = store.shown().to_owned();
        return Ok(Kept { jobs: Arc::new(Jobs::new(Arc::new(store))), shown, _lock: None });
    }
    private_folder(&options.data)?;
    let lock = lock(&options.data)?;
    // Should that lock be taken away and a second server start, the first one is refused what it wants to write.
    let store = store_in(&options.data)?.take_over()?;
    let shown = options.data.display().to_string();
    Ok(Kept { jobs: Arc::new(Jobs::new(Arc::new(store))), shown, _lock: Some(lock) })
}

/// Answers on a port of its own until the handle stops it; an end of it leaves the app running.
fn in_background(
    listener: TcpListener,
    router: Router,
    handle: Handle<SocketAddr>,
) -> Result<impl Future<Output = bool> + use<>, ServeError> {
    let server = impatient(axum_server::from_tcp(listener).map_err(ServeError::Stopped)?);
    let acceptor = Bounded::new(NoDelayAcceptor::new(), Places::here(OPERATIONS_CONNECTIONS.most()));
    let served = server.acceptor(acceptor).handle(handle).serve(router.into_make_service());
    Ok(async move { served.await.is_ok() })
}

/// A port being listened on.
struct Listening {
    address: SocketAddr,
    listener: TcpListener,
}

fn listen(at: SocketAddr, option: &'static str) -> Result<Listening, ServeError> {
    let open = || {
        let listener = TcpListener::bind(at)?;
        listener.set_nonblocking(true)?;
        Ok(Listening { address: listener.local_addr()?, listener })
    };
    open().map_err(|source| ServeError::Port { port: at.port(), option, source })
}

/// What other devices come in by.
struct Network {
    app: Listening,
    named: Option<Named>,
    explanation: Listening,
    config: Arc<rustls::ServerConfig>,
    sharing: Arc<Sharing>,
}

fn open_to_network(options: &ServeOptions) -> Result<Network, ServeError> {
    let next = |n: u16| if options.port == 0 { 0 } else { options.port.saturating_add(n) };
    let any = |port: u16| listen(SocketAddr::from((Ipv4Addr::UNSPECIFIED, port)), "--port");
    let (app, explanation) = (any(next(1))?, any(next(2))?);
    let authority = Authority::kept_in(&options.data)?;
    let own = addresses();
    let SignInOptions { address, certificate: firm, provider } = &options.sign_in;
    let named = address.as_deref().map(Named::read).transpose()?;
    let firm = match (&named, firm) {
        (Some(named), Some((chain, key))) => {
            Some((named.name.clone(), certificate(&named.name, chain, key)?))
        }
        _ => None,
    };
    let config = authority.server(&own, firm)?;
    let accounts = match provider {
        Some(file) => Some(Accounts::of(Provider::read(file)?)?),
        None => None,
    };
    let at = |scheme: &str, port: u16| -> Vec<String> {
        own.iter()
            .filter(|a| a.is_ipv4())
            .map(|a| format!("{scheme}://{}/", SocketAddr::from((*a, port))))
            .collect()
    };
    let sharing = Sharing {
        pairing: Pairing::default(),
        authority,
        addresses: at("https", app.address.port()),
        explained_at: at("http", explanation.address.port()),
        changed: watch::channel(()).0,
        sign_in: SignIn::with(accounts),
    };
    Ok(Network { app, named, explanation, config, sharing: Arc::new(sharing) })
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
        let door = |scheme, port| {
            let host = self.named.as_ref().map(|n| n.host.clone());
            Door { scheme, port, names: vec!["localhost".into()], any_address: true, host }
        };
        let gated = app.clone().layer(axum::middleware::from_fn_with_state(Arc::clone(jobs), gate));
        let app = guarded(gated, door("https", self.app.address.port()))
            .into_make_service_with_connect_info::<SocketAddr>();
        let page = explanation(Arc::clone(&self.sharing), self.app.address.port());
        let page = guarded(page, door("http", self.explanation.address.port())).into_make_service();
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
            named: self.named.as_ref().map(|n| format!("https://{}/", n.host)),
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
