//! What happens, as a stream of events (WHATWG HTML, server-sent events): every page follows every other.

use axum::body::{Body, Bytes, HttpBody};
use hyper::body::Frame;
use std::convert::Infallible;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::sync::broadcast::{Receiver, error::RecvError};
use tokio::sync::mpsc;

/// How often something is said when nothing happens, so that a page knows that the server lives.
const BEAT: Duration = Duration::from_secs(15);
/// Events on their way to one page.
const QUEUE: usize = 16;

/// A body that goes on as long as the page listens.
pub(super) fn body(mut events: Receiver<Arc<str>>) -> Body {
    let (sender, receiver) = mpsc::channel(QUEUE);
    tokio::spawn(async move {
        let mut text = "retry: 1000\n\n".to_owned();
        // Ends when the page has gone.
        while sender.send(Bytes::from(text)).await.is_ok() {
            text = match tokio::time::timeout(BEAT, events.recv()).await {
                Err(_) => ":\n\n".to_owned(),
                Ok(Ok(event)) => format!("data: {event}\n\n"),
                // Too slow to hear it all: it has to ask for everything again.
                Ok(Err(RecvError::Lagged(_))) => "data: {\"kind\":\"all\"}\n\n".to_owned(),
                Ok(Err(RecvError::Closed)) => break,
            };
        }
    });
    Body::new(Stream(receiver))
}

struct Stream(mpsc::Receiver<Bytes>);

impl HttpBody for Stream {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Self::Data>, Self::Error>>> {
        self.0.poll_recv(context).map(|next| next.map(|bytes| Ok(Frame::data(bytes))))
    }
}
