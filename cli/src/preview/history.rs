//! What can be undone and done again: a bounded number of entries, of a bounded size.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::SystemTime;

/// Entries that can be undone.
const MOST: usize = 500;
/// Bytes of text that the entries of one look may take.
const MOST_BYTES: usize = 16 << 20;

/// The number of the next state.
static NEXT: AtomicU64 = AtomicU64::new(1);

/// A look's document at one moment.
#[derive(Debug, Clone)]
pub(super) struct State {
    pub(super) text: String,
    /// Steps that are bypassed: they are in the document, and not in the picture.
    pub(super) bypassed: Vec<bool>,
    /// What no other state is called.
    pub(super) id: u64,
    pub(super) when: SystemTime,
    /// The revision that was saved then, and the note on it.
    pub(super) saved: Option<(u32, String)>,
}

impl State {
    pub(super) fn new(text: String, bypassed: Vec<bool>) -> Self {
        Self { text, bypassed, id: NEXT.fetch_add(1, Ordering::Relaxed), when: SystemTime::now(), saved: None }
    }

    pub(super) fn saved(self, revision: u32, note: &str) -> Self {
        Self { saved: Some((revision, note.to_owned())), ..self }
    }
}

/// By what they are, whenever that was.
impl PartialEq for State {
    fn eq(&self, other: &Self) -> bool {
        self.text == other.text && self.bypassed == other.bypassed
    }
}

/// States before and after the one that holds.
#[derive(Debug, Clone, Default)]
pub(super) struct History {
    undo: Vec<Arc<State>>,
    redo: Vec<Arc<State>>,
}

impl History {
    pub(super) const fn can_undo(&self) -> bool {
        !self.undo.is_empty()
    }

    pub(super) const fn can_redo(&self) -> bool {
        !self.redo.is_empty()
    }

    /// Takes note of a state that another takes the place of. What was undone is forgotten, unless it was saved: then it stays
    /// before this one, and the way back to it with it.
    pub(super) fn enter(&mut self, before: Arc<State>) {
        if self.redo.iter().any(|state| state.saved.is_some()) {
            let back = State::new(before.text.clone(), before.bypassed.clone());
            self.undo.push(before);
            self.undo.extend(self.redo.drain(..).rev());
            self.undo.push(Arc::new(back));
        } else {
            self.undo.push(before);
            self.redo.clear();
        }
        let mut bytes = 0;
        let kept = self.undo.iter().rev().take(MOST).take_while(|state| {
            bytes += state.text.len();
            bytes <= MOST_BYTES
        });
        // The newest can always be undone.
        let kept = kept.count().max(1);
        self.undo.drain(..self.undo.len() - kept);
    }

    /// Every state from the first that is remembered, and the place of `now` among them.
    pub(super) fn all(&self, now: &Arc<State>) -> (Vec<Arc<State>>, usize) {
        let all = self.undo.iter().chain(std::iter::once(now)).chain(self.redo.iter().rev());
        (all.cloned().collect(), self.undo.len())
    }

    /// Nothing can be done again any more.
    pub(super) fn forget_redo(&mut self) {
        self.redo.clear();
    }

    /// The state before `now`, which can be done again.
    pub(super) fn undo(&mut self, now: &Arc<State>) -> Option<Arc<State>> {
        let before = self.undo.pop()?;
        self.redo.push(now.clone());
        Some(before)
    }

    /// The state that was undone last, for `now`.
    pub(super) fn redo(&mut self, now: &Arc<State>) -> Option<Arc<State>> {
        let after = self.redo.pop()?;
        self.undo.push(now.clone());
        Some(after)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_saved_stays_where_it_was_undone() {
        let mut history = History::default();
        let [first, saved, next] = ["a", "bb", "ccc"].map(|text| State::new(text.into(), Vec::new()));
        let saved = Arc::new(saved.saved(2, "a note"));
        history.enter(Arc::new(first));
        let back = history.undo(&saved).unwrap();
        history.enter(back);
        let (all, now) = history.all(&Arc::new(next));
        assert_eq!(all.iter().map(|state| state.text.as_str()).collect::<Vec<_>>(), ["a", "bb", "a", "ccc"]);
        assert!(now == 3 && all[1].saved.is_some() && !history.can_redo());
    }

    #[test]
    fn what_can_be_undone_has_a_bound() {
        let state = |bytes: usize| Arc::new(State::new("a".repeat(bytes), Vec::new()));
        let mut history = History::default();
        (0..MOST + 9).for_each(|n| history.enter(state(n)));
        assert_eq!(history.undo.len(), MOST);
        for _ in 0..40 {
            history.enter(state(MOST_BYTES / 8));
        }
        assert_eq!(history.undo.len(), 8);
        history.enter(state(MOST_BYTES + 1));
        assert_eq!(history.undo.len(), 1);
        let before = history.undo(&state(3)).unwrap();
        assert_eq!(before.text.len(), MOST_BYTES + 1);
        assert_eq!(history.redo(&before).unwrap().text.len(), 3);
    }
}
