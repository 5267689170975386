//! What every stream of a client's messages needs: a task that owns it, a bounded way for its answers, and an end.
//!
//! A task owns the stream and reads the client's messages; what it answers goes through a bounded channel, so that a client
//! that does not read is not written to without end. The task's own end is the stream's: a panic is an error to the
//! client, and a client that goes away ends the task.

use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use tokio::sync::{OwnedSemaphorePermit, mpsc, watch};
use tokio::task::JoinHandle;
use tokio::time::timeout;
use tokio_stream::{Stream, StreamExt};
use tonic::Status;

use super::library::Library;
use super::limits::{Limits, Workers};
use super::status::{Follows, Refusal, of_transport};

/// Answers that wait to be read, at most.
const WAITING: usize = 4;

/// What a stream needs of the service.
pub struct Surroundings {
    /// The served folder.
    pub library: Arc<Library>,
    /// The bounds.
    pub limits: Arc<Limits>,
    /// Who computes.
    pub workers: Workers,
    /// Turns true when the service ends.
    pub ending: watch::Receiver<bool>,
}

/// The client's messages.
pub type Messages<M> = Pin<Box<dyn Stream<Item = Result<M, Status>> + Send>>;

/// The one end of a stream that the task which owns it holds.
pub struct Line<Q, A> {
    /// What is around.
    pub around: Surroundings,
    follows: Follows,
    messages: Messages<Q>,
    answers: mpsc::Sender<A>,
}

/// Begins a stream that `follow` takes to its end, in so much time. It keeps its place among its like until then.
pub fn begin<Q, A, F>(
    around: Surroundings,
    follows: Follows,
    messages: Messages<Q>,
    place: OwnedSemaphorePermit,
    longest: Duration,
    follow: impl FnOnce(Line<Q, A>) -> F + Send + 'static,
) -> Answers<A>
where
    Q: Send + 'static,
    A: Send + 'static,
    F: Future<Output = Result<(), Status>> + Send,
{
    let (sender, answers) = mpsc::channel(WAITING);
    let task = tokio::spawn(async move {
        let _place = place;
        let line = Line { around, follows, messages, answers: sender };
        let ended = timeout(longest, follow(line)).await;
        ended.unwrap_or_else(|_| Err(Refusal::OpenTooLong(follows, longest).into()))
    });
    Answers { answers, follows, task: Some(task) }
}

/// What a stream answers, and in the end the reason why it ended, where there is one.
pub struct Answers<A> {
    answers: mpsc::Receiver<A>,
    follows: Follows,
    task: Option<JoinHandle<Result<(), Status>>>,
}

impl<A> Stream for Answers<A> {
    type Item = Result<A, Status>;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        if let Some(answer) = std::task::ready!(self.answers.poll_recv(context)) {
            return Poll::Ready(Some(Ok(answer)));
        }
        let Some(task) = &mut self.task else { return Poll::Ready(None) };
        let ended = std::task::ready!(Pin::new(task).poll(context));
        self.task = None;
        let follows = self.follows;
        let ended = ended.unwrap_or_else(|error| {
            tracing::error!(?follows, %error, "a stream failed");
            Err(Refusal::Fault.into())
        });
        Poll::Ready(ended.err().map(|status| {
            tracing::info!(?follows, code = ?status.code(), "a stream ended");
            Err(status)
        }))
    }
}

impl<A> Drop for Answers<A> {
    fn drop(&mut self) {
        if let Some(task) = &self.task {
            task.abort();
        }
    }
}

impl<Q, A> Line<Q, A> {
    /// The client's next message; none where it has no more to say.
    pub async fn next(&mut self) -> Result<Option<Q>, Status> {
        let limits = &self.around.limits;
        tokio::select! {
            biased;
            () = ended(&mut self.around.ending) => Err(Refusal::ShuttingDown.into()),
            message = timeout(limits.silence, self.messages.next()) => match message {
                Ok(message) => message.transpose().map_err(|status| {
                    of_transport(status.code(), limits.bytes_in).map_or(status, Status::from)
                }),
                Err(_) => Err(Refusal::Silent(self.follows, limits.silence).into()),
            },
        }
    }

    /// Answers, as soon as there is room.
    pub async fn send(&mut self, answer: A) -> Result<(), Status> {
        let patience = self.around.limits.silence;
        tokio::select! {
            biased;
            sent = timeout(patience, self.answers.send(answer)) => match sent {
                // Where nobody is left to read there is nobody to tell either.
                Ok(_) => Ok(()),
                Err(_) => Err(Refusal::Unread(self.follows, patience).into()),
            },
            () = ended(&mut self.around.ending) => Err(Refusal::ShuttingDown.into()),
        }
    }
}

async fn ended(ending: &mut watch::Receiver<bool>) {
    // Where the one who would say so is gone, the service has ended too.
    let _ = ending.wait_for(|ending| *ending).await;
}
