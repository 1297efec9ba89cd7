//! Findings solved by radius and depth while the page is idle, a run a slice: those of the picked tile, and once their tables are asked for all
//! of them. What is solved stands until an input moves; the card sets both sides beside each other.

use super::app::{App, now_ms};
use super::storage;
use crate::assess::damage::{Damage, Effort, Peaks, Subject};
use crate::assess::present::{self, Present};
use crate::report::damage::{Answer, damage_csv, present_csv};
use std::rc::Rc;

/// A finding's place and its answer, or why there is none.
pub type Answered = (usize, Result<Damage, String>);

/// How far the tables are is shown this often at most, ms.
const SHOW_MS: f64 = 400.0;

/// What stands of the picked tile.
#[derive(Clone, Default)]
pub struct Damaged {
    pub answers: Rc<Vec<Answered>>,
    /// The tile in its present condition, once all of its findings are solved.
    pub present: Option<Rc<Present>>,
}

/// The findings of one revision.
pub struct Damaging {
    revision: u64,
    /// Places of the findings that ask for a temperature.
    asked: Vec<usize>,
    /// By finding.
    answers: Vec<Answer>,
    /// The finding under way and its runs.
    runs: (usize, Vec<Option<Peaks>>),
    /// Tables that wait for all of them.
    wanted: Vec<&'static str>,
    shown_ms: f64,
    /// Of the tile that was picked when it was made.
    picked: Option<(usize, Damaged)>,
}

impl Damaging {
    fn stands(&self, place: usize) -> bool {
        self.answers.get(place).is_some_and(Option::is_some)
    }
}

impl App {
    fn damages_of(&mut self) -> &mut Damaging {
        let stale = self.damaging.as_ref().is_none_or(|damaging| damaging.revision != self.revision);
        if stale {
            self.damaging = None;
        }
        let (shield, prepared, findings, revision) = (&self.shield, &self.prepared, &self.findings, self.revision);
        self.damaging.get_or_insert_with(|| Damaging {
            revision,
            asked: present::asked(shield, prepared, findings),
            answers: vec![None; findings.len()],
            runs: (0, Vec::new()),
            wanted: Vec::new(),
            shown_ms: now_ms(),
            picked: None,
        })
    }

    /// The next finding to solve: the picked tile's before the others.
    fn next_damaged(&mut self) -> Option<usize> {
        let (picked, findings) = (self.picked, self.findings.clone());
        let damaging = self.damages_of();
        let mut open = damaging.asked.iter().copied().filter(|place| !damaging.stands(*place));
        let of_tile = |place: &usize| picked.is_some() && findings.get(*place).map(|finding| finding.tile) == picked;
        let first = open.clone().next();
        open.find(of_tile).or(first.filter(|_| !damaging.wanted.is_empty()))
    }

    /// Whether a finding is to be solved.
    pub(super) fn damages(&mut self) -> bool {
        self.next_damaged().is_some()
    }

    /// What stands of the picked tile.
    pub(super) fn damaged(&mut self) -> Damaged {
        let (Some(tile), findings) = (self.picked, self.findings.clone()) else { return Damaged::default() };
        let damaging = self.damages_of();
        let own = |place: &&usize| findings.get(**place).is_some_and(|finding| finding.tile == tile);
        let places: Vec<usize> = damaging.asked.iter().filter(own).copied().collect();
        let stand = places.iter().filter(|place| damaging.stands(**place)).count();
        if let Some((_, made)) = damaging.picked.as_ref().filter(|(of, made)| *of == tile && made.answers.len() == stand) {
            return made.clone();
        }
        let answers = places.iter().filter_map(|place| Some((*place, damaging.answers.get(*place)?.clone()?))).collect();
        let mut made = Damaged { answers: Rc::new(answers), present: None };
        if stand == places.len() && stand > 0 && self.is_full() {
            made.present = self.present_of(|place| places.contains(&place)).into_iter().next().map(Rc::new);
        }
        self.damages_of().picked = Some((tile, made.clone()));
        made
    }

    /// Present conditions by the answers that stand for `wanted` findings.
    fn present_of(&self, wanted: impl Fn(usize) -> bool) -> Vec<Present> {
        let (Some(results), Some(damaging)) = (&self.results, &self.damaging) else { return Vec::new() };
        let answer = |place: usize| damaging.answers.get(place)?.as_ref()?.as_ref().ok().filter(|_| wanted(place));
        present::present(&self.shield, &self.prepared, &self.findings, &results.assessment, answer)
    }

    /// Asks for a table that needs every finding's answer; it is saved once they stand.
    pub(super) fn want_damage(&mut self, name: &'static str) {
        let damaging = self.damages_of();
        if !damaging.wanted.contains(&name) {
            damaging.wanted.push(name);
        }
        self.save_damage();
    }

    /// Saves the tables that waited, if every answer stands.
    fn save_damage(&mut self) {
        let full = self.is_complete();
        let damaging = self.damages_of();
        if !full || damaging.asked.iter().any(|place| !damaging.stands(*place)) {
            return;
        }
        let wanted = std::mem::take(&mut damaging.wanted);
        let (Some(results), Some(damaging)) = (&self.results, &self.damaging) else { return };
        for name in wanted {
            let text = match name {
                "damage.csv" => damage_csv(&self.shield, &self.findings, &results.assessment, &damaging.answers),
                _ => present_csv(&self.shield, &self.findings, &results.assessment, &self.present_of(|_| true)),
            };
            storage::download(name, &text);
        }
    }

    /// How many findings are solved of all, while tables wait for them.
    pub(super) fn damaging_of(&self) -> Option<(usize, usize)> {
        let damaging = self.damaging.as_ref().filter(|damaging| damaging.revision == self.revision && !damaging.wanted.is_empty())?;
        Some((damaging.asked.iter().filter(|place| damaging.stands(**place)).count(), damaging.asked.len()))
    }

    /// Whether a frame should show how far the tables are.
    pub(super) fn shows_damaging(&mut self) -> bool {
        let now = now_ms();
        let late = self.damaging.as_mut().filter(|damaging| !damaging.wanted.is_empty() && now - damaging.shown_ms > SHOW_MS);
        late.map(|damaging| damaging.shown_ms = now).is_some()
    }

    /// One run; true when nothing of the picked tile and of the tables waits any more, or the picked tile has one more answer.
    pub(super) fn damage_slice(&mut self) -> bool {
        let Some(place) = self.next_damaged() else { return true };
        let damaging = self.damages_of();
        let mut runs = if damaging.runs.0 == place { std::mem::take(&mut damaging.runs.1) } else { Vec::new() };
        let answered = self.damage_run(place, &mut runs);
        let damaging = self.damages_of();
        damaging.runs = (place, runs);
        let Some(answer) = answered else { return false };
        damaging.runs.1.clear();
        if let Some(own) = damaging.answers.get_mut(place) {
            *own = Some(answer);
        }
        let of_picked = self.findings.get(place).map(|finding| finding.tile) == self.picked;
        self.save_damage();
        of_picked || self.next_damaged().is_none()
    }

    /// The next run of a finding; its answer with the last one.
    fn damage_run(&self, place: usize, runs: &mut Vec<Option<Peaks>>) -> Option<Result<Damage, String>> {
        let finding = self.findings.get(place)?;
        let subject = Subject::new(&self.shield, &self.scenario, &self.prepared, finding.tile);
        let effects = &self.prepared.effects;
        let Some(subject) = subject else { return Some(Err("nothing to solve".to_string())) };
        match subject.run(effects, finding, runs.len(), Effort::Plain) {
            Ok(run) => {
                runs.push(run);
                (runs.len() == subject.runs()).then(|| Ok(subject.gathered(effects, finding, runs)))
            }
            Err(error) => Some(Err(error.to_string())),
        }
    }
}
