//! A connection that is given up when its other end takes nothing for too long: what waits to be sent takes memory.

use std::future::Future;
use std::io;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio::time::{Sleep, sleep};

/// How long nothing may be taken.
const PATIENCE: Duration = Duration::from_secs(30);

pub(super) struct Patient {
    stream: TcpStream,
    /// Runs while something waits to be sent.
    until: Option<Pin<Box<Sleep>>>,
}

impl Patient {
    pub(super) fn new(stream: TcpStream) -> Self {
        Self { stream, until: None }
    }

    /// What came of sending, or the end of patience.
    fn waited<T>(&mut self, sent: Poll<io::Result<T>>, context: &mut Context<'_>) -> Poll<io::Result<T>> {
        if sent.is_ready() {
            self.until = None;
            return sent;
        }
        let until = self.until.get_or_insert_with(|| Box::pin(sleep(PATIENCE)));
        until.as_mut().poll(context).map(|()| Err(io::ErrorKind::TimedOut.into()))
    }
}

impl AsyncRead for Patient {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(context, buffer)
    }
}

impl AsyncWrite for Patient {
    fn poll_write(mut self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        let sent = Pin::new(&mut self.stream).poll_write(context, bytes);
        self.waited(sent, context)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        parts: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let sent = Pin::new(&mut self.stream).poll_write_vectored(context, parts);
        self.waited(sent, context)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
