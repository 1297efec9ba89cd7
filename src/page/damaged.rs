//! The picked tile's findings solved by radius and depth while the page is idle, a run a slice; the card sets both sides beside each other.

use super::app::App;
use crate::assess::damage::{Damage, Effort, Peaks, Subject};
use crate::assess::present;
use std::rc::Rc;

/// A finding's place and its answer, or why there is none.
pub type Answered = (usize, Result<Damage, String>);

/// The findings of one tile of one revision.
pub struct Damaging {
    key: (u64, usize),
    /// Findings still to be solved, and the runs of the first of them.
    left: Vec<usize>,
    runs: Vec<Option<Peaks>>,
    pub done: Rc<Vec<Answered>>,
}

impl App {
    fn damage_key(&self) -> Option<(u64, usize)> {
        Some((self.revision, self.picked?))
    }

    /// What stands of the picked tile.
    pub(super) fn damaged(&self) -> Option<Rc<Vec<Answered>>> {
        self.damaging.as_ref().filter(|damaging| Some(damaging.key) == self.damage_key()).map(|damaging| damaging.done.clone())
    }

    /// Whether the picked tile has findings to solve.
    pub(super) fn damages(&mut self) -> bool {
        let Some(key) = self.damage_key() else { return false };
        if self.damaging.as_ref().is_none_or(|damaging| damaging.key != key) {
            let mut left = present::asked(&self.shield, &self.prepared, &self.findings);
            left.retain(|place| self.findings.get(*place).is_some_and(|finding| finding.tile == key.1));
            self.damaging = Some(Damaging { key, left, runs: Vec::new(), done: Rc::default() });
        }
        self.damaging.as_ref().is_some_and(|damaging| !damaging.left.is_empty())
    }

    /// One run; true when a finding's answer came to stand.
    pub(super) fn damage_slice(&mut self) -> bool {
        let Some(damaging) = self.damaging.as_mut() else { return false };
        let Some(place) = damaging.left.first().copied() else { return false };
        let answered = {
            let subject = Subject::new(&self.shield, &self.scenario, &self.prepared, damaging.key.1);
            let effects = &self.prepared.effects;
            match (subject, self.findings.get(place)) {
                (Some(subject), Some(finding)) => match subject.run(effects, finding, damaging.runs.len(), Effort::Plain) {
                    Ok(run) => {
                        damaging.runs.push(run);
                        (damaging.runs.len() == subject.runs()).then(|| Ok(subject.gathered(effects, finding, &damaging.runs)))
                    }
                    Err(error) => Some(Err(error.to_string())),
                },
                _ => Some(Err("nothing to solve".to_string())),
            }
        };
        let Some(answer) = answered else { return false };
        damaging.left.remove(0);
        damaging.runs.clear();
        Rc::make_mut(&mut damaging.done).push((place, answer));
        true
    }
}
