//! The set of entries as a list that is edited: added, copied, renamed, removed, moved. Pure: each gives the changed scenario or says why not.
//!
//! Names are the set's keys (`governing_entry`, `view.entry`), so they stay distinct; a set keeps one entry at least.

use crate::flight::Course;
use crate::scenario::{NamedEntry, Scenario};

/// Longest name, characters.
const LONGEST: usize = 60;

/// A name that the set does not have yet: the wanted one, or it with the first free number.
pub fn free_name(scenario: &Scenario, wanted: &str) -> String {
    let wanted = if wanted.trim().is_empty() { "entry" } else { wanted.trim() };
    let wanted: String = wanted.chars().take(LONGEST).collect();
    let taken = |name: &str| scenario.entries.iter().any(|entry| entry.name == name);
    if !taken(&wanted) {
        return wanted;
    }
    // One more than there are entries: some number is free.
    (2..=scenario.entries.len() + 2).map(|number| format!("{wanted} {number}")).find(|name| !taken(name)).unwrap_or(wanted)
}

/// One more entry at the end of the set, which becomes the one shown.
pub fn added(scenario: &Scenario, name: &str, course: Course) -> Scenario {
    let mut next = scenario.clone();
    let name = free_name(scenario, name);
    next.entries.push(NamedEntry { name: name.clone(), course, transition: None });
    next.view.entry = Some(name);
    next
}

/// A copy of one entry right after it, transition included, which becomes the one shown.
pub fn copied(scenario: &Scenario, entry: usize) -> Option<Scenario> {
    let mut next = scenario.clone();
    let mut copy = scenario.entries.get(entry)?.clone();
    copy.name = free_name(scenario, &copy.name);
    next.view.entry = Some(copy.name.clone());
    next.entries.insert(entry + 1, copy);
    Some(next)
}

/// The entry under another name.
///
/// Errors, as a sentence to show: an empty name, one that is too long, or one that the set has already.
pub fn renamed(scenario: &Scenario, entry: usize, name: &str) -> Result<Scenario, String> {
    let name = name.trim();
    if name.is_empty() || name.chars().count() > LONGEST {
        return Err(format!("{name:?} is no name; accepted: 1 to {LONGEST} characters"));
    }
    if scenario.entries.iter().enumerate().any(|(i, other)| i != entry && other.name == name) {
        return Err(format!("the set has an entry {name:?} already; accepted: a name of its own"));
    }
    let mut next = scenario.clone();
    let Some(named) = next.entries.get_mut(entry) else { return Err("the set has no such entry".to_string()) };
    let before = std::mem::replace(&mut named.name, name.to_string());
    if next.view.entry.as_ref() == Some(&before) {
        next.view.entry = Some(name.to_string());
    }
    Ok(next)
}

/// The set without one entry; `None` for the last one that is left.
pub fn removed(scenario: &Scenario, entry: usize) -> Option<Scenario> {
    if scenario.entries.len() < 2 || entry >= scenario.entries.len() {
        return None;
    }
    let mut next = scenario.clone();
    next.entries.remove(entry);
    next.view.entry = next.entries.get(entry.min(next.entries.len() - 1)).map(|entry| entry.name.clone());
    Some(next)
}

/// The entry moved by places (negative to the front); `None` where it already stands at that end.
pub fn moved(scenario: &Scenario, entry: usize, by: isize) -> Option<Scenario> {
    let to = entry.checked_add_signed(by).filter(|to| *to < scenario.entries.len() && *to != entry)?;
    let mut next = scenario.clone();
    if entry >= next.entries.len() {
        return None;
    }
    let named = next.entries.remove(entry);
    next.view.entry = Some(named.name.clone());
    next.entries.insert(to, named);
    Some(next)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shield::demo;

    fn scenario() -> Scenario {
        Scenario::read("scenario.json", &demo::scenario_json(), &[]).unwrap()
    }

    fn names(scenario: &Scenario) -> Vec<&str> {
        scenario.entries.iter().map(|entry| entry.name.as_str()).collect()
    }

    #[test]
    fn verif_the_set_is_edited_and_names_stay_distinct() {
        let start = scenario();
        let copy = copied(&start, 1).unwrap();
        assert_eq!(names(&copy), ["nominal", "steep", "steep 2", "shallow", "heavy", "abort"]);
        assert_eq!(copied(&copy, 1).unwrap().entries[2].name, "steep 3");
        assert_eq!((copy.view.entry.as_deref(), &copy.entries[2].course), (Some("steep 2"), &start.entries[1].course));
        let added = added(&copy, "flown elsewhere", start.entries[0].course.clone());
        assert_eq!(names(&added).last(), Some(&"flown elsewhere"));
        let renamed_set = renamed(&added, 6, " tunnel ").unwrap();
        assert_eq!((names(&renamed_set)[6], renamed_set.view.entry.as_deref()), ("tunnel", Some("tunnel")));
        let front = moved(&renamed_set, 6, -6).unwrap();
        assert_eq!(names(&front)[..2], ["tunnel", "nominal"]);
        let less = removed(&front, 0).unwrap();
        assert_eq!((names(&less).len(), less.view.entry.as_deref()), (6, Some("nominal")));
    }

    #[test]
    fn verif_what_cannot_be_is_refused() {
        let start = scenario();
        for (entry, name, part) in [(0, "steep", "already"), (0, "  ", "no name"), (9, "x", "no such"), (0, &*"x".repeat(61), "no name")] {
            assert!(renamed(&start, entry, name).unwrap_err().contains(part));
        }
        assert!(moved(&start, 0, -1).is_none() && moved(&start, 4, 1).is_none() && moved(&start, 9, -1).is_none());
        let mut one = start.clone();
        one.entries.truncate(1);
        assert!(removed(&one, 0).is_none() && removed(&start, 5).is_none() && copied(&start, 5).is_none());
    }
}
