//! How many may be connected, and how long one may keep a connection without getting on.
//!
//! Every connection takes a handle of the system's, of which a program has few. Devices of the network may have half of
//! them together and each address a few dozen, so that whoever sits at this computer always gets in.

use axum::body::{Body, Bytes, HttpBody as _};
use axum::extract::Request;
use axum::middleware::Next;
use axum::response::Response;
use axum_server::Server;
use axum_server::accept::Accept;
use futures_util::StreamExt as _;
use hyper_util::rt::{TokioExecutor, TokioTimer};
use hyper_util::server::conn::auto::Builder;
use loamline_limits::{
    CONNECTIONS_PER_ADDRESS, HEADER_S, NETWORK_CONNECTIONS, OWN_HANDLES, SENDING_SPEED, STALLED_S,
    TAKING_SPEED,
};
use std::collections::HashMap;
use std::future::Future;
use std::io;
use std::net::{IpAddr, Ipv6Addr, SocketAddr};
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio::time::{Instant, Sleep, sleep, timeout_at};

/// How many connections there may be, by how many files this program may have open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Room {
    /// From this computer.
    pub here: usize,
    /// From the network.
    pub network: usize,
}

impl Room {
    /// Asks the system for as many handles as are wanted, and shares out what there are.
    pub fn asked_for() -> Self {
        Self::of(usize::try_from(handles()).unwrap_or(usize::MAX))
    }

    fn of(handles: usize) -> Self {
        let left = handles.saturating_sub(OWN_HANDLES.most()).max(handles / 2);
        let network = (left / 2).min(NETWORK_CONNECTIONS.most());
        Self { here: left - network, network }
    }
}

/// Handles this program may have, after asking for more.
fn handles() -> u64 {
    #[cfg(target_os = "linux")]
    {
        use loamline_limits::HANDLES;
        use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
        let now = getrlimit(Resource::Nofile);
        let most = now.maximum.unwrap_or(u64::MAX).min(HANDLES.number);
        let has = now.current.unwrap_or(u64::MAX);
        if has >= most || setrlimit(Resource::Nofile, Rlimit { current: Some(most), ..now }).is_err() {
            return has.min(HANDLES.number);
        }
        most
    }
    #[cfg(not(target_os = "linux"))]
    256
}

/// Places for connections, all told and for each address.
#[derive(Debug, Clone)]
pub struct Places(Arc<Taken>);

#[derive(Debug)]
struct Taken {
    most: usize,
    most_per_address: usize,
    by_address: Mutex<HashMap<IpAddr, usize>>,
}

impl Places {
    /// So many for this computer itself, to one address or several.
    pub fn here(most: usize) -> Self {
        Self::new(most, most)
    }

    /// So many for the network.
    pub fn network(most: usize) -> Self {
        Self::new(most, CONNECTIONS_PER_ADDRESS.most())
    }

    fn new(most: usize, most_per_address: usize) -> Self {
        Self(Arc::new(Taken { most, most_per_address, by_address: Mutex::default() }))
    }

    /// A place for an address; none where it or all have as many as they may.
    fn take(&self, address: IpAddr) -> Option<Place> {
        let address = neighbourhood(address);
        let mut taken = self.0.by_address.lock().unwrap_or_else(PoisonError::into_inner);
        let own = taken.get(&address).copied().unwrap_or(0);
        if own >= self.0.most_per_address || taken.values().sum::<usize>() >= self.0.most {
            return None;
        }
        taken.insert(address, own + 1);
        drop(taken);
        Some(Place { taken: Arc::clone(&self.0), address })
    }
}

/// What counts as one address: with IPv6 a device has as many as it likes in its network of 64 bits.
pub fn neighbourhood(address: IpAddr) -> IpAddr {
    match address {
        IpAddr::V6(a) => match a.to_ipv4_mapped() {
            Some(v4) => v4.into(),
            None => Ipv6Addr::from_bits(a.to_bits() & !u128::from(u64::MAX)).into(),
        },
        v4 @ IpAddr::V4(_) => v4,
    }
}

/// A place taken, given back when it is dropped.
#[derive(Debug)]
struct Place {
    taken: Arc<Taken>,
    address: IpAddr,
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut taken = self.taken.by_address.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(own) = taken.get_mut(&self.address) {
            *own -= 1;
            if *own == 0 {
                taken.remove(&self.address);
            }
        }
    }
}

/// Lets in as many as there are places for; what is too many is closed at once.
#[derive(Debug, Clone)]
pub struct Bounded<A> {
    inner: A,
    places: Places,
}

impl<A> Bounded<A> {
    /// Lets in by `inner` what finds a place.
    pub fn new(inner: A, places: Places) -> Self {
        Self { inner, places }
    }
}

impl<S, A> Accept<TcpStream, S> for Bounded<A>
where
    S: Send + 'static,
    A: Accept<TcpStream, S> + Clone + Send + 'static,
    A::Stream: Send,
    A::Service: Send,
    A::Future: Send,
{
    type Stream = Watched<A::Stream>;
    type Service = A::Service;
    type Future = Pin<Box<dyn Future<Output = io::Result<(Self::Stream, Self::Service)>> + Send>>;

    fn accept(&self, stream: TcpStream, service: S) -> Self::Future {
        let place = stream.peer_addr().map(|peer| self.places.take(peer.ip()));
        let inner = self.inner.clone();
        Box::pin(async move {
            let place = place?.ok_or(io::ErrorKind::ConnectionRefused)?;
            let (stream, service) = inner.accept(stream, service).await?;
            let silent = Some(Box::pin(sleep(Duration::from_secs(HEADER_S.number))));
            Ok((Watched { stream, silent, taking: Taking::default(), _place: place }, service))
        })
    }
}

/// A connection that ends when it never says anything, or when nobody takes what it is told.
#[derive(Debug)]
pub struct Watched<S> {
    stream: S,
    /// Until the first word: the clock for the head of a request starts with it.
    silent: Option<Pin<Box<Sleep>>>,
    taking: Taking,
    _place: Place,
}

/// How what is told is taken. The other side has some time in hand. Keeping us waiting spends it, what is taken earns it back
/// at [`TAKING_SPEED`], and never more than there was at first: so one that takes nothing ends after that time, and one that
/// takes ever so little ends a little later. What comes in and how long an answer takes to be worked out count nothing, and a
/// picture of the live channel is taken like any answer.
#[derive(Debug)]
struct Taking {
    in_hand: Duration,
    /// Since when we are kept waiting, and until when at most.
    waits: Option<(Instant, Pin<Box<Sleep>>)>,
}

impl Default for Taking {
    fn default() -> Self {
        Self { in_hand: Self::most(), waits: None }
    }
}

impl Taking {
    fn most() -> Duration {
        Duration::from_secs(STALLED_S.number)
    }

    fn spends(&mut self, waited: Duration) {
        self.in_hand = self.in_hand.saturating_sub(waited);
    }

    fn earns(&mut self, bytes: usize) {
        let earned = Duration::from_secs_f64(bytes as f64 / TAKING_SPEED.number as f64);
        self.in_hand = self.in_hand.saturating_add(earned).min(Self::most());
    }

    /// Watches a step of writing; `bytes` tells how much it got rid of.
    fn watched<T>(
        &mut self,
        cx: &mut Context<'_>,
        written: Poll<io::Result<T>>,
        bytes: impl Fn(&T) -> usize,
    ) -> Poll<io::Result<T>> {
        match written {
            Poll::Ready(done) => {
                if let Some((since, _)) = self.waits.take() {
                    self.spends(since.elapsed());
                }
                if let Ok(done) = &done {
                    self.earns(bytes(done));
                }
                Poll::Ready(done)
            }
            Poll::Pending => {
                let in_hand = self.in_hand;
                let (_, end) = self.waits.get_or_insert_with(|| (Instant::now(), Box::pin(sleep(in_hand))));
                end.as_mut().poll(cx).map(|()| Err(io::ErrorKind::TimedOut.into()))
            }
        }
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Watched<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let me = &mut *self;
        let read = Pin::new(&mut me.stream).poll_read(cx, buf);
        if read.is_ready() {
            me.silent = None;
        } else if let Some(silent) = me.silent.as_mut()
            && silent.as_mut().poll(cx).is_ready()
        {
            return Poll::Ready(Err(io::ErrorKind::TimedOut.into()));
        }
        read
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Watched<S> {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, buf: &[u8]) -> Poll<io::Result<usize>> {
        let me = &mut *self;
        let written = Pin::new(&mut me.stream).poll_write(cx, buf);
        me.taking.watched(cx, written, |bytes| *bytes)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bufs: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let me = &mut *self;
        let written = Pin::new(&mut me.stream).poll_write_vectored(cx, bufs);
        me.taking.watched(cx, written, |bytes| *bytes)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let me = &mut *self;
        let flushed = Pin::new(&mut me.stream).poll_flush(cx);
        me.taking.watched(cx, flushed, |()| 0)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let me = &mut *self;
        let shut = Pin::new(&mut me.stream).poll_shutdown(cx);
        me.taking.watched(cx, shut, |()| 0)
    }
}

/// A server that waits for a request's head no longer than it may take; a connection nobody asks anything on ends too.
pub fn impatient<A>(mut server: Server<SocketAddr, A>) -> Server<SocketAddr, A> {
    // Not the server's own HTTP/1-only setting, which knows no live channel.
    let mut builder = Builder::new(TokioExecutor::new()).http1_only();
    builder.http1().timer(TokioTimer::new()).header_read_timeout(Duration::from_secs(HEADER_S.number));
    *server.http_builder() = builder;
    server
}

/// Ends what is sent ever more slowly.
pub async fn in_time(request: Request, next: Next) -> Response {
    let (parts, body) = request.into_parts();
    if body.is_end_stream() {
        return next.run(Request::from_parts(parts, body)).await;
    }
    let until = Instant::now() + Duration::from_secs(HEADER_S.number);
    let pieces = futures_util::stream::unfold(Some((body.into_data_stream(), until)), |left| async {
        let (mut body, until) = left?;
        match timeout_at(until, body.next()).await {
            Ok(None) => None,
            Ok(Some(Ok(piece))) => {
                let until = until + Duration::from_secs_f64(piece.len() as f64 / SENDING_SPEED.number as f64);
                Some((Ok::<Bytes, axum::Error>(piece), Some((body, until))))
            }
            Ok(Some(Err(e))) => Some((Err(e), None)),
            Err(_) => Some((Err(axum::Error::new(io::Error::from(io::ErrorKind::TimedOut))), None)),
        }
    });
    next.run(Request::from_parts(parts, Body::from_stream(pieces))).await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_has_its_share_and_gives_it_back() {
        let places = Places::new(5, 2);
        let [a, b, c] = ["10.0.0.1", "10.0.0.2", "10.0.0.3"].map(|x| x.parse::<IpAddr>().unwrap());
        let held = [places.take(a).unwrap(), places.take(a).unwrap()];
        assert!(places.take(a).is_none());
        let others = [places.take(b).unwrap(), places.take(b).unwrap(), places.take(c).unwrap()];
        assert!(places.take(c).is_none(), "all five are taken");
        drop(held);
        assert!(places.take(c).is_some() && places.take(a).is_some());
        drop(others);
        assert!(places.0.by_address.lock().unwrap().is_empty());
    }

    #[test]
    fn one_device_with_many_addresses_is_one_and_one_in_two_notations_too() {
        let of = |x: &str| neighbourhood(x.parse().unwrap());
        assert_eq!(of("fd00::1:2:3:4"), of("fd00::ffff:0:0:1"));
        assert_ne!(of("fd00:0:0:1::1"), of("fd00:0:0:2::1"));
        assert_eq!(of("::ffff:192.168.0.7"), of("192.168.0.7"));
    }

    /// Seconds until one ends that takes so many bytes every so many seconds; none within an hour.
    fn ends_after(bytes: usize, every_s: f64) -> Option<f64> {
        let mut taking = Taking::default();
        let mut s = 0.0;
        while s < 3600.0 {
            // The clock that runs while we are kept waiting ends after what is in hand.
            if taking.in_hand.as_secs_f64() <= every_s {
                return Some(s + taking.in_hand.as_secs_f64());
            }
            s += every_s;
            taking.spends(Duration::from_secs_f64(every_s));
            taking.earns(bytes);
        }
        None
    }

    /// A piece now and then used to be enough to go on for ever.
    #[test]
    fn who_takes_ever_so_little_ends_and_who_takes_it_slowly_does_not() {
        let stalled_s = STALLED_S.number as f64;
        assert_eq!(ends_after(0, stalled_s), Some(stalled_s));
        // Twenty kilobytes just before it would count as stalled.
        assert!(ends_after(20_000, 0.97 * stalled_s).unwrap() < 4.0 * stalled_s);
        assert!(ends_after(1_000, 1.0).unwrap() < 3.0 * stalled_s);
        for (bytes, every_s) in [(2_100, 1.0), (30_000, 10.0), (400, 0.1), (1 << 20, 25.0)] {
            assert_eq!(ends_after(bytes, every_s), None, "{bytes} bytes every {every_s} s");
        }
    }

    #[tokio::test]
    async fn a_step_of_writing_that_comes_to_nothing_ends_when_the_time_in_hand_is_over() {
        let mut taking = Taking { in_hand: Duration::from_millis(50), waits: None };
        let started = Instant::now();
        let waits = std::future::poll_fn(|cx| taking.watched(cx, Poll::<io::Result<()>>::Pending, |()| 0));
        assert_eq!(waits.await.unwrap_err().kind(), io::ErrorKind::TimedOut);
        assert!(started.elapsed() >= Duration::from_millis(50));
        // One that comes to something spends what it took and earns what it got rid of.
        let mut taking = Taking { in_hand: Duration::from_secs(2), waits: None };
        let once = std::future::poll_fn(|cx| {
            assert!(taking.watched(cx, Poll::<io::Result<usize>>::Pending, |n| *n).is_pending());
            taking.watched(cx, Poll::Ready(Ok(2000)), |n| *n)
        });
        assert_eq!(once.await.unwrap(), 2000);
        let in_hand = taking.in_hand.as_secs_f64();
        assert!(in_hand > 2.5 && in_hand <= 3.0 && taking.waits.is_none(), "{in_hand}");
    }

    #[test]
    fn this_computer_has_its_own_share_however_few_handles_there_are() {
        for handles in [16, 64, 256, 1024, 8192] {
            let room = Room::of(handles);
            assert!(room.here >= 4 && room.here >= room.network, "{handles}: {room:?}");
            assert!(room.here + room.network <= handles);
        }
        assert_eq!(Room::of(8192).network, NETWORK_CONNECTIONS.most());
    }
}
