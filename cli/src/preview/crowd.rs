//! Connections, so that those who do not know the token never keep out those who do.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::{Notify, OwnedSemaphorePermit, Semaphore};

/// Connections at once that have not shown the token; the oldest has to go for a new one.
const STRANGERS: usize = 100;
/// Connections at once that have: a browser opens six to a page.
const GUESTS: usize = 100;

/// All connections of a server.
#[derive(Debug)]
pub(super) struct Crowd {
    strangers: Mutex<VecDeque<Arc<Notify>>>,
    guests: Arc<Semaphore>,
}

/// One connection among them, as long as it lives.
#[derive(Debug)]
pub(super) struct Member {
    crowd: Arc<Crowd>,
    /// Told when it has to go.
    go: Arc<Notify>,
    guest: Mutex<Option<OwnedSemaphorePermit>>,
}

impl Crowd {
    pub(super) fn new() -> Arc<Self> {
        Arc::new(Self { strangers: Mutex::default(), guests: Arc::new(Semaphore::new(GUESTS)) })
    }

    /// A new connection, of which nothing is known yet.
    pub(super) fn join(self: &Arc<Self>) -> Member {
        let go = Arc::new(Notify::new());
        let mut strangers = self.strangers.lock().unwrap_or_else(PoisonError::into_inner);
        strangers.push_back(go.clone());
        if strangers.len() > STRANGERS
            && let Some(oldest) = strangers.pop_front()
        {
            oldest.notify_one();
        }
        Member { crowd: self.clone(), go, guest: Mutex::default() }
    }

    fn forget(&self, go: &Arc<Notify>) {
        self.strangers.lock().unwrap_or_else(PoisonError::into_inner).retain(|other| !Arc::ptr_eq(other, go));
    }
}

impl Member {
    /// It has shown the token; false where there are too many of those.
    pub(super) fn knows(&self) -> bool {
        let mut guest = self.guest.lock().unwrap_or_else(PoisonError::into_inner);
        if guest.is_none() {
            *guest = self.crowd.guests.clone().try_acquire_owned().ok();
            if guest.is_some() {
                self.crowd.forget(&self.go);
            }
        }
        guest.is_some()
    }

    /// Ends when the connection has to.
    pub(super) async fn has_to_go(&self) {
        self.go.notified().await;
    }
}

impl Drop for Member {
    fn drop(&mut self) {
        self.crowd.forget(&self.go);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn has_to_go(member: &Member) -> bool {
        let mut context = std::task::Context::from_waker(std::task::Waker::noop());
        std::pin::pin!(member.has_to_go()).poll(&mut context).is_ready()
    }

    #[test]
    fn strangers_go_for_new_ones_and_guests_stay() {
        let crowd = Crowd::new();
        let guest = crowd.join();
        assert!(guest.knows() && guest.knows());
        let strangers: Vec<Member> = (0..STRANGERS + 7).map(|_| crowd.join()).collect();
        assert!(!has_to_go(&guest));
        assert_eq!(strangers.iter().filter(|s| has_to_go(s)).count(), 7);
        // The last of them may still be let in.
        assert!(strangers[STRANGERS].knows());
        drop(strangers);
        assert!(crowd.strangers.lock().unwrap().is_empty());
        let guests: Vec<Member> = (1..GUESTS).map(|_| crowd.join()).collect();
        assert!(guests.iter().all(Member::knows));
        let late = crowd.join();
        assert!(!late.knows());
        drop(guest);
        assert!(late.knows());
    }
}
