//! Which look is which when the show has been read again: a look that is worked on follows its file, whatever the show calls
//! it now, and stands aside where the show has it no more.

use super::look::Session;
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

/// A name that no look has yet: the wanted one, or one with a number behind it.
pub(super) fn free_name(looks: &BTreeMap<String, Session>, wanted: &str) -> String {
    let numbered = (2..).map(|n| format!("{wanted} ({n})"));
    std::iter::once(wanted.to_owned()).chain(numbered).find(|name| !looks.contains_key(name)).unwrap_or_default()
}

/// The looks of a show that was read again, those that were there already as they are worked on; and the names of these, whose
/// files may have changed. `gone` are places where no file is any more.
pub(super) fn seat(
    old: BTreeMap<String, Session>,
    new: BTreeMap<String, Session>,
    gone: &BTreeSet<PathBuf>,
) -> (BTreeMap<String, Session>, Vec<String>) {
    let mut old: Vec<Session> = old.into_values().collect();
    let mut new: Vec<Session> = new.into_values().collect();
    let (mut looks, mut stay) = (BTreeMap::new(), Vec::new());
    type Same<'g> = Box<dyn Fn(&Session, &Session) -> bool + 'g>;
    let same: [Same<'_>; 3] = [
        Box::new(|a, b| a.name == b.name && a.place == b.place),
        // The show has another name for it.
        Box::new(|a, b| a.place == b.place),
        // Its file has another name.
        Box::new(|a, b| a.name == b.name && gone.contains(&a.place)),
    ];
    for same in same {
        for fresh in std::mem::take(&mut new) {
            let Some(at) = old.iter().position(|old| same(old, &fresh)) else {
                new.push(fresh);
                continue;
            };
            let worked_on = old.swap_remove(at);
            stay.push(fresh.name.clone());
            looks.insert(fresh.name.clone(), worked_on.seated(&fresh));
        }
    }
    looks.extend(new.into_iter().map(|fresh| (fresh.name.clone(), fresh)));
    for left in old.into_iter().filter(Session::is_wanted) {
        let name = free_name(&looks, &left.name);
        looks.insert(name.clone(), left.aside(name));
    }
    (looks, stay)
}
