//! Connections: so many at a time, none that stays silent from the start, none for ever.

use std::future::Future;
use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::{Instant, Sleep, sleep};
use tokio_stream::Stream;
use tonic::transport::server::{Connected, TcpConnectInfo};

use super::limits::Limits;

/// The connections that a listener takes in.
pub struct Incoming {
    listener: TcpListener,
    places: Arc<Semaphore>,
    first_byte: Duration,
    lifetime: Duration,
}

impl Incoming {
    /// The connections of a listener, within limits.
    pub fn new(listener: TcpListener, limits: &Limits) -> Self {
        Self {
            listener,
            places: Arc::new(Semaphore::new(limits.connections)),
            first_byte: limits.first_byte,
            lifetime: limits.connection_age + limits.connection_grace,
        }
    }
}

impl Stream for Incoming {
    type Item = io::Result<Connection>;

    fn poll_next(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        loop {
            let stream = match self.listener.poll_accept(context) {
                Poll::Pending => return Poll::Pending,
                Poll::Ready(Err(error)) => return Poll::Ready(Some(Err(error))),
                Poll::Ready(Ok((stream, _))) => stream,
            };
            let Ok(place) = self.places.clone().try_acquire_owned() else {
                tracing::warn!("a connection was turned away: there are as many as there may be");
                continue;
            };
            // Small answers should not wait for more to send; where that can't be had they do.
            let _ = stream.set_nodelay(true);
            return Poll::Ready(Some(Ok(Connection {
                stream,
                silent: true,
                gathers: Gathers::No,
                ends: Box::pin(sleep(self.first_byte)),
                lifetime: self.lifetime,
                _place: place,
            })));
        }
    }
}

/// One connection.
pub struct Connection {
    stream: TcpStream,
    /// Nothing has been read yet.
    silent: bool,
    gathers: Gathers,
    /// When it ends: soon while it is silent, else at the end of its life.
    ends: Pin<Box<Sleep>>,
    lifetime: Duration,
    _place: OwnedSemaphorePermit,
}

/// Whether a connection waits with a write until all that is ready to run has run once. Answers that are ready by then go
/// out together, in one write instead of one each: under load that is most of them, and without it nothing is waited for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Gathers {
    /// Nothing is to be written.
    No,
    /// It waits.
    Waits,
    /// It has waited.
    Waited,
}

impl Connected for Connection {
    type ConnectInfo = TcpConnectInfo;

    fn connect_info(&self) -> TcpConnectInfo {
        self.stream.connect_info()
    }
}

impl AsyncRead for Connection {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        if self.ends.as_mut().poll(context).is_ready() {
            return Poll::Ready(Err(io::ErrorKind::TimedOut.into()));
        }
        if self.gathers == Gathers::Waited {
            self.gathers = Gathers::No;
        }
        let read = Pin::new(&mut self.stream).poll_read(context, buffer);
        if self.silent && read.is_ready() {
            self.silent = false;
            let end = Instant::now() + self.lifetime;
            self.ends.as_mut().reset(end);
            // The new end has to be asked once to be heard of.
            let _ = self.ends.as_mut().poll(context);
        }
        read
    }
}

impl AsyncWrite for Connection {
    fn poll_write(mut self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        match self.gathers {
            Gathers::No => {
                self.gathers = Gathers::Waits;
                context.waker().wake_by_ref();
                return Poll::Pending;
            }
            Gathers::Waits => self.gathers = Gathers::Waited,
            Gathers::Waited => {}
        }
        Pin::new(&mut self.stream).poll_write(context, bytes)
    }

    // No writes of several slices: without them answers of up to 1 KiB are put together and go out in one write, where
    // with them each of over 256 bytes has its own (h2, `CHAIN_THRESHOLD_WITHOUT_VECTORED_IO`).

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
