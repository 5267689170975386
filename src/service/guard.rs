//! What every request passes: a bound on how many there are at a time, a time limit, and a net under panics.

use std::convert::Infallible;
use std::future::{Future, poll_fn};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::{Duration, Instant};

use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tonic::body::Body;
use tonic::codegen::http::{HeaderMap, Request, Response};
use tonic::{Code, Status};
use tower::{Layer, Service};

use super::limits::Limits;
use super::status::{Refusal, of_transport};

/// The paths that are held to the number of requests at a time. Health and reflection answer under load too.
const COUNTED: &str = "/leadsman.v1.";

/// Holds every request to the limits.
#[derive(Clone, Debug)]
pub struct Guard {
    places: Arc<Semaphore>,
    time: Duration,
    bytes_in: usize,
}

impl Guard {
    /// The guard of these limits.
    pub fn new(limits: &Limits) -> Self {
        let places = Arc::new(Semaphore::new(limits.requests));
        Self { places, time: limits.request_time, bytes_in: limits.bytes_in }
    }
}

impl<S> Layer<S> for Guard {
    type Service = Guarded<S>;

    fn layer(&self, inner: S) -> Guarded<S> {
        Guarded { guard: self.clone(), inner }
    }
}

/// A service behind the guard.
#[derive(Clone, Debug)]
pub struct Guarded<S> {
    guard: Guard,
    inner: S,
}

impl<S> Service<Request<Body>> for Guarded<S>
where
    S: Service<Request<Body>, Response = Response<Body>, Error = Infallible> + Clone + Send + 'static,
    S::Future: Send,
{
    type Response = Response<Body>;
    type Error = Infallible;
    type Future = Pin<Box<dyn Future<Output = Result<Response<Body>, Infallible>> + Send>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, request: Request<Body>) -> Self::Future {
        // The one that was asked whether it is ready is the one to call.
        let ready = self.inner.clone();
        let mut inner = std::mem::replace(&mut self.inner, ready);
        let uri = request.uri().clone();
        let place = self.guard.place(uri.path());
        let answering = place.map(|place| (place, inner.call(request)));
        let (time, bytes_in) = (self.guard.time, self.guard.bytes_in);
        #[expect(clippy::disallowed_methods, reason = "the log says how long an answer took")]
        Box::pin(async move {
            let begun = Instant::now();
            let answer = match answering {
                Ok((_place, answering)) => hold(answering, time, bytes_in, uri.path()).await,
                Err(refusal) => Err(refusal),
            };
            let answer = answer.unwrap_or_else(|refusal| answer_of(refusal.into()));
            report(uri.path(), &answer, begun.elapsed());
            Ok(answer)
        })
    }
}

impl Guard {
    /// A place among the requests at a time; none for a path that takes none.
    fn place(&self, path: &str) -> Result<Option<OwnedSemaphorePermit>, Refusal> {
        if !path.starts_with(COUNTED) {
            return Ok(None);
        }
        let place = self.places.clone().try_acquire_owned();
        place.map(Some).map_err(|_| Refusal::Busy("the service answers as many requests as it can"))
    }
}

/// Holds an answer to its time, and a panic of whoever makes it back.
async fn hold(
    answering: impl Future<Output = Result<Response<Body>, Infallible>>,
    time: Duration,
    bytes_in: usize,
    path: &str,
) -> Result<Response<Body>, Refusal> {
    let mut answering = std::pin::pin!(answering);
    // A future that panicked is never polled again, so that nobody sees it half done.
    let caught = poll_fn(|context| match catch_unwind(AssertUnwindSafe(|| answering.as_mut().poll(context))) {
        Ok(Poll::Pending) => Poll::Pending,
        Ok(Poll::Ready(output)) => Poll::Ready(Some(output)),
        Err(_) => Poll::Ready(None),
    });
    match tokio::time::timeout(time, caught).await {
        Ok(Some(Ok(answer))) => of_transport(code_of(answer.headers()), bytes_in).map_or(Ok(answer), Err),
        Ok(Some(Err(never))) => match never {},
        Ok(None) => {
            tracing::error!(path, "a handler panicked");
            Err(Refusal::Fault)
        }
        Err(_) => Err(Refusal::TooSlow(time)),
    }
}

fn answer_of(status: Status) -> Response<Body> {
    status.into_http()
}

/// One line of the log for a request: never what was asked or answered, since that may hold positions.
fn report(path: &str, answer: &Response<Body>, took: Duration) {
    let code = code_of(answer.headers());
    let took = took.as_micros();
    match code {
        Code::Ok => tracing::debug!(path, micros = took, "answered"),
        Code::Internal | Code::Unknown | Code::DataLoss => tracing::error!(path, ?code, micros = took, "failed"),
        _ => tracing::info!(path, ?code, micros = took, "refused"),
    }
}

fn code_of(headers: &HeaderMap) -> Code {
    headers.get("grpc-status").map_or(Code::Ok, |value| Code::from_bytes(value.as_bytes()))
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test fails by panicking")]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_panic_is_an_internal_error_and_the_service_goes_on() {
        let panics = tower::service_fn(|request: Request<Body>| async move {
            assert!(request.uri().path() != "/leadsman.v1.LeadsmanService/Panic", "on purpose");
            Ok::<_, Infallible>(Response::new(Body::empty()))
        });
        let mut guarded = Guard::new(&Limits::default()).layer(panics);
        let ask = |method: &str| {
            let uri = format!("/leadsman.v1.LeadsmanService/{method}");
            Request::builder().uri(uri).body(Body::empty()).unwrap_or_default()
        };
        let failed = guarded.call(ask("Panic")).await.unwrap();
        assert_eq!(code_of(failed.headers()), Code::Internal);
        let fine = guarded.call(ask("Fine")).await.unwrap();
        assert_eq!(code_of(fine.headers()), Code::Ok);
    }
}
