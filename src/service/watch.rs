//! Notices that the served folder changed, and has it read anew once it is quiet.

use std::sync::Arc;
use std::time::Duration;

use notify::event::{AccessKind, AccessMode};
use notify::{Event, EventKind, RecommendedWatcher, RecursiveMode, Watcher};
use tokio::sync::Notify;

use super::library::Library;

/// For how many quiet times at most a reload is put off while the folder goes on changing.
const MOST_PUT_OFF: u32 = 10;

/// Watches the folder of a library for as long as it lives.
pub struct Watch {
    _watcher: RecommendedWatcher,
    reloader: tokio::task::JoinHandle<()>,
}

impl Watch {
    /// Begins to watch. A change is acted on when nothing has changed for `quiet`: editors write in several steps.
    ///
    /// Errors: the system does not let the folder be watched.
    pub fn begin(library: Arc<Library>, quiet: Duration) -> notify::Result<Self> {
        let changed = Arc::new(Notify::new());
        let tell = changed.clone();
        let mut watcher = notify::recommended_watcher(move |event: notify::Result<Event>| {
            // An error may mean that events were lost, so that it counts as a change.
            if event.map_or(true, |event| is_change(event.kind)) {
                tell.notify_one();
            }
        })?;
        watcher.watch(library.folder(), RecursiveMode::Recursive)?;
        let reloader = tokio::spawn(async move {
            loop {
                changed.notified().await;
                settle(&changed, quiet).await;
                reload(library.clone()).await;
            }
        });
        Ok(Self { _watcher: watcher, reloader })
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        self.reloader.abort();
    }
}

/// Whether an event can mean other contents. Reading is none, or each reload would bring the next one on.
fn is_change(kind: EventKind) -> bool {
    match kind {
        EventKind::Access(AccessKind::Close(AccessMode::Write)) => true,
        EventKind::Access(_) => false,
        EventKind::Any | EventKind::Create(_) | EventKind::Modify(_) | EventKind::Remove(_) | EventKind::Other => true,
    }
}

async fn settle(changed: &Notify, quiet: Duration) {
    for _ in 0..MOST_PUT_OFF {
        if tokio::time::timeout(quiet, changed.notified()).await.is_err() {
            return;
        }
        tokio::time::sleep(quiet / 4).await;
    }
}

async fn reload(library: Arc<Library>) {
    match tokio::task::spawn_blocking(move || library.reload()).await {
        Ok(Ok(())) => {}
        Ok(Err(error)) => tracing::warn!(error, "the folder can't be read; everything stays in force as it was"),
        Err(error) => tracing::error!(%error, "reading the folder anew failed; everything stays in force as it was"),
    }
}
