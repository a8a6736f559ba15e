//! Connections let in: so many at once, and none that stands in the door without a word.

use std::io;
use std::net::SocketAddr;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::{Instant, Sleep, sleep};

/// Connections at once; more wait until one ends.
const MOST_CONNECTIONS: usize = 400;

/// A connection on which nothing moves for so long is closed. Pages that listen for progress hear something every 15 s.
const PATIENCE: Duration = Duration::from_secs(60);

/// A listening socket with a limit.
pub(crate) struct Door {
    listener: TcpListener,
    places: Arc<Semaphore>,
}

impl Door {
    pub(crate) fn new(listener: TcpListener) -> Self {
        Self {
            listener,
            places: Arc::new(Semaphore::new(MOST_CONNECTIONS)),
        }
    }
}

impl axum::serve::Listener for Door {
    type Io = Visitor;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Visitor, SocketAddr) {
        loop {
            let Ok(place) = Arc::clone(&self.places).acquire_owned().await else {
                // The semaphore is never closed; were it, nobody is let in any more.
                std::future::pending::<()>().await;
                continue;
            };
            match self.listener.accept().await {
                Ok((stream, address)) => {
                    let _ = stream.set_nodelay(true);
                    return (Visitor::new(stream, place), address);
                }
                // Such as too many open files: those that are open end sooner or later.
                Err(_) => sleep(Duration::from_millis(100)).await,
            }
        }
    }

    fn local_addr(&self) -> io::Result<SocketAddr> {
        self.listener.local_addr()
    }
}

/// One connection, which ends when nothing moves on it.
pub(crate) struct Visitor {
    stream: TcpStream,
    silence: Pin<Box<Sleep>>,
    _place: OwnedSemaphorePermit,
}

impl Visitor {
    fn new(stream: TcpStream, place: OwnedSemaphorePermit) -> Self {
        Self {
            stream,
            silence: Box::pin(sleep(PATIENCE)),
            _place: place,
        }
    }

    /// Passes a result on; while there is none, watches the clock.
    fn heard<T>(
        &mut self,
        context: &mut Context<'_>,
        result: Poll<io::Result<T>>,
    ) -> Poll<io::Result<T>> {
        if result.is_ready() {
            self.silence.as_mut().reset(Instant::now() + PATIENCE);
            return result;
        }
        match self.silence.as_mut().poll(context) {
            Poll::Ready(()) => Poll::Ready(Err(io::ErrorKind::TimedOut.into())),
            Poll::Pending => Poll::Pending,
        }
    }
}

impl AsyncRead for Visitor {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let result = Pin::new(&mut self.stream).poll_read(context, buffer);
        self.heard(context, result)
    }
}

impl AsyncWrite for Visitor {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let result = Pin::new(&mut self.stream).poll_write(context, bytes);
        self.heard(context, result)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        let result = Pin::new(&mut self.stream).poll_flush(context);
        self.heard(context, result)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        let result = Pin::new(&mut self.stream).poll_shutdown(context);
        self.heard(context, result)
    }
}
