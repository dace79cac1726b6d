//! Connections: a long queue at the door, not too many inside at a time, and none that stays for ever.

use std::future::{Future, poll_fn};
use std::net::SocketAddr;
use std::pin::{Pin, pin};
use std::sync::Arc;
use std::task::Poll;
use std::time::Duration;

use axum::Router;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpSocket, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, watch};
use tokio::time::{sleep, timeout};

use super::patience::Patience;

/// Connections that the system holds until they are let in; the usual 128 overflow when a thousand come at once, and then
/// the system drops some after their client was told that it got through.
const QUEUE: u32 = 1024;

/// Connections inside at a time, far below the open files that systems allow a program (1024 and more).
const MOST: u32 = 400;

/// How long to wait when the system has no connection to give, as when its files run out.
const BREATH: Duration = Duration::from_millis(100);

/// A listener with a long queue.
pub(super) fn open(at: SocketAddr) -> std::io::Result<TcpListener> {
    let socket = if at.is_ipv4() { TcpSocket::new_v4() } else { TcpSocket::new_v6() }?;
    // Elsewhere this would let another program take the same port.
    #[cfg(unix)]
    socket.set_reuseaddr(true)?;
    socket.bind(at)?;
    socket.listen(QUEUE)
}

/// Serves `routes` until `stop` ends; requests under way are then answered.
pub(super) async fn serve(listener: TcpListener, routes: Router, patience: Patience, stop: impl Future) {
    let places = Arc::new(Semaphore::new(MOST as usize));
    let (close, closing) = watch::channel(());
    let letting_in = tokio::spawn(let_in(listener, routes, patience, Arc::clone(&places), closing));
    stop.await;
    letting_in.abort();
    drop(close);
    let _late = timeout(patience.last_word, places.acquire_many(MOST)).await;
}

async fn let_in(
    listener: TcpListener,
    routes: Router,
    patience: Patience,
    places: Arc<Semaphore>,
    closing: watch::Receiver<()>,
) {
    while let Ok(place) = Arc::clone(&places).acquire_owned().await {
        match listener.accept().await {
            Ok((stream, _)) => {
                tokio::spawn(one(stream, routes.clone(), patience, place, closing.clone()));
            }
            Err(_) => sleep(BREATH).await,
        }
    }
}

/// One connection: it ends by itself, is asked to end after its time or when the page closes, and is dropped where it does
/// not.
async fn one(
    stream: TcpStream,
    routes: Router,
    patience: Patience,
    place: OwnedSemaphorePermit,
    mut closing: watch::Receiver<()>,
) {
    let mut connection = pin!(
        http1::Builder::new()
            .timer(TokioTimer::new())
            .header_read_timeout(patience.head)
            .serve_connection(TokioIo::new(stream), TowerToHyperService::new(routes))
    );
    // Nothing is ever sent: it changes when the sender is dropped.
    let over = timeout(patience.connection, closing.changed());
    if !ends_before(connection.as_mut(), over).await {
        connection.as_mut().graceful_shutdown();
        let _dropped = timeout(patience.last_word, connection).await;
    }
    drop(place);
}

/// Whether `work` ends before `limit`; it goes on where it was otherwise.
async fn ends_before(mut work: Pin<&mut impl Future>, limit: impl Future) -> bool {
    let mut limit = pin!(limit);
    poll_fn(|cx| match work.as_mut().poll(cx) {
        Poll::Ready(_) => Poll::Ready(true),
        Poll::Pending => limit.as_mut().poll(cx).map(|_| false),
    })
    .await
}
