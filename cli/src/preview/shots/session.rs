//! One shot as it is corrected: its versions with undo and redo, and what stands in its file.

use rushlight::step::cdl::CdlNumbers;
use serde::Serialize;

/// Versions that are kept of a shot; the oldest goes.
const MOST: usize = 200;

/// A correction, and how it came to be.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Version {
    pub(super) numbers: CdlNumbers,
    pub(super) words: String,
}

/// One shot.
#[derive(Debug, Clone)]
pub(super) struct Session {
    /// From the oldest; never empty.
    versions: Vec<Version>,
    /// Which of them holds.
    at: usize,
    /// What its file has, as last read or written.
    saved: CdlNumbers,
    /// Its file has changed under edits that are not saved.
    outside: bool,
    /// The show has the shot.
    pub(super) here: bool,
    /// The drag that the newest version is of.
    drag: Option<String>,
    /// Rises with every change.
    pub(super) version: u64,
}

/// What became of a shot by a change, as the journal has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Became {
    /// Nothing.
    Same,
    /// A new version.
    New,
    /// Another value of the drag that the newest version is of.
    Dragged,
    /// Another of its versions.
    Moved,
}

impl Session {
    pub(super) fn new(saved: CdlNumbers) -> Self {
        let first = Version { numbers: saved, words: "as its file has it".to_owned() };
        Self { versions: vec![first], at: 0, saved, outside: false, here: true, drag: None, version: 1 }
    }

    pub(super) fn numbers(&self) -> CdlNumbers {
        self.now().numbers
    }

    /// The version that holds.
    pub(super) fn now(&self) -> &Version {
        &self.versions[self.at]
    }

    pub(super) fn versions(&self) -> &[Version] {
        &self.versions
    }

    pub(super) const fn at(&self) -> usize {
        self.at
    }

    pub(super) const fn saved(&self) -> CdlNumbers {
        self.saved
    }

    pub(super) const fn is_outside(&self) -> bool {
        self.outside
    }

    pub(super) fn is_unsaved(&self) -> bool {
        self.numbers() != self.saved
    }

    pub(super) const fn can_undo(&self) -> bool {
        self.at > 0
    }

    pub(super) fn can_redo(&self) -> bool {
        self.at + 1 < self.versions.len()
    }

    /// Takes new numbers. `drag`: those of one drag are one version.
    pub(super) fn enter(&mut self, numbers: CdlNumbers, words: &str, drag: Option<&str>) -> Became {
        if numbers == self.numbers() {
            return Became::Same;
        }
        self.version += 1;
        let newest = self.at + 1 == self.versions.len();
        let same_drag = drag.is_some() && drag == self.drag.as_deref() && newest && self.at > 0;
        self.drag = drag.map(str::to_owned);
        if same_drag {
            self.replace(numbers, words);
            return Became::Dragged;
        }
        self.push(numbers, words);
        Became::New
    }

    /// A new version, in the place of all after the one that holds.
    pub(super) fn push(&mut self, numbers: CdlNumbers, words: &str) {
        self.versions.truncate(self.at + 1);
        self.versions.push(Version { numbers, words: words.to_owned() });
        self.versions.drain(..self.versions.len().saturating_sub(MOST));
        self.at = self.versions.len() - 1;
    }

    /// Takes another of its versions; none of a number that there is not.
    pub(super) fn go(&mut self, at: usize) -> Became {
        self.drag = None;
        if at >= self.versions.len() || at == self.at {
            return Became::Same;
        }
        self.at = at;
        self.version += 1;
        Became::Moved
    }

    /// Other numbers of the version that holds.
    pub(super) fn replace(&mut self, numbers: CdlNumbers, words: &str) {
        self.versions[self.at] = Version { numbers, words: words.to_owned() };
    }

    /// What its file has now. Edits that are not saved stay; whether they were made upon something else is noted.
    pub(super) fn found(&mut self, numbers: CdlNumbers) -> Became {
        self.here = true;
        if numbers == self.saved {
            return Became::Same;
        }
        let unsaved = self.is_unsaved();
        self.saved = numbers;
        self.version += 1;
        self.outside = unsaved && self.is_unsaved();
        if unsaved { Became::Same } else { self.enter(numbers, "as its file has it now", None) }
    }

    /// That it was written.
    pub(super) fn written(&mut self, numbers: CdlNumbers) {
        self.saved = numbers;
        self.outside = false;
        self.drag = None;
        self.version += 1;
    }

    /// Whether its file changed under edits that are not saved; not any more once the user has seen both.
    pub(super) const fn mark_outside(&mut self, is: bool) {
        self.outside = is;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slope(slope: f64) -> CdlNumbers {
        CdlNumbers { slope: [slope; 3], ..CdlNumbers::default() }
    }

    #[test]
    fn a_drag_is_one_version_and_versions_have_a_bound() {
        let mut shot = Session::new(slope(1.0));
        assert_eq!(shot.enter(slope(1.0), "same", None), Became::Same);
        for i in 1..=9 {
            let became = shot.enter(slope(1.0 + 0.01 * f64::from(i)), "slope", Some("d"));
            assert_eq!(became, if i == 1 { Became::New } else { Became::Dragged });
        }
        assert_eq!((shot.versions().len(), shot.is_unsaved()), (2, true));
        assert_eq!(shot.go(0), Became::Moved);
        assert!(!shot.is_unsaved() && shot.can_redo() && !shot.can_undo());
        assert_eq!((shot.go(0), shot.go(9)), (Became::Same, Became::Same));
        // What is entered after an undo takes the place of what was undone.
        shot.enter(slope(2.0), "slope", Some("d"));
        assert_eq!((shot.versions().len(), shot.numbers()), (2, slope(2.0)));
        for i in 0..2 * MOST {
            shot.enter(slope(3.0 + i as f64 / 1000.0), "slope", None);
        }
        assert_eq!((shot.versions().len(), shot.at()), (MOST, MOST - 1));
    }

    #[test]
    fn a_file_that_changes_under_edits_takes_none_of_them() {
        let mut shot = Session::new(slope(1.0));
        assert_eq!(shot.found(slope(1.1)), Became::New);
        assert_eq!((shot.numbers(), shot.is_outside()), (slope(1.1), false));
        shot.enter(slope(1.2), "slope", None);
        assert_eq!(shot.found(slope(1.3)), Became::Same);
        assert_eq!((shot.numbers(), shot.saved(), shot.is_outside()), (slope(1.2), slope(1.3), true));
        shot.written(slope(1.2));
        assert!(!shot.is_outside() && !shot.is_unsaved());
        // The file came to what was edited: nothing is to be asked.
        shot.enter(slope(1.4), "slope", None);
        shot.found(slope(1.4));
        assert!(!shot.is_outside() && !shot.is_unsaved());
    }
}
